"""What is said of how sources are let through, and of a magnetic pickup beside a piezo or a microphone.

Of the latter where they add and where they do not; never "in phase" of such a pair, whose angle goes with
frequency.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from reports.messages.wording import plain
from reports.model.build_notes import BlendNote, BlendRemedy, BlendRun

if TYPE_CHECKING:
    from capture.job import Member
    from reports.model.verdict import BlendRow

HEAD: Final = (
    "A {source} and a magnetic pickup stand at another angle at each frequency, so no one word holds for the "
    "two. At equal loudness {runs}."
)
NOTHING_HEARD: Final = (
    "A {source} and a magnetic pickup stand at another angle at each frequency, and nothing stood out of the "
    "noise on both at once."
)
PAIR_IN_SHORT: Final = "{a} and {b} (no one word holds): {said}."
IN_SHORT: Final = {"add": "add", "take away": "take from each other", "neither": "neither"}
NOT_TOLD_YET: Final = "not told yet, pluck two strings twice each"
SENSES: Final = {
    "add": "they add {range} (up to {level})",
    "take away": "they take from each other {range} (down to {level})",
    "neither": "they neither add nor take away {range}",
    "not clear": "it is not clear {range}, since plucks differ or are too few",
}
REMEDIES: Final = {
    "more plucks": (
        "Pluck two strings, twice each, on both inputs at once; one pluck alone says nothing here."
    ),
    "split check": (
        "The inputs were not compared: one pickup into both at once (split check) says whether this is the "
        "right way round, or add and take away change places."
    ),
    "exchange": (
        "Exchanging hot and ground of the magnetic pickup, or the phase switch of the other one's preamp, "
        "makes add and take away change places, and leaves what is neither. Choose by ear which range "
        "matters; {or_turn}"
    ),
}
OR_TURN: Final = "a delay or an equaliser changes the range, and no wiring does."


def blend_sentence(note: BlendNote | BlendRemedy) -> str:
    """How such a pair adds, or what to do about it."""
    if isinstance(note, BlendRemedy):
        return REMEDIES[note.code].format(or_turn=OR_TURN)
    if not note.runs:
        return NOTHING_HEARD.format(source=note.source)
    return HEAD.format(source=note.source, runs="; ".join(map(_run, note.runs)))


def blend_headline(row: BlendRow) -> str:
    """Where a pair of unlike sources adds and where not, in few words."""
    found: dict[str, list[str]] = {}
    for band in row.bands:
        found.setdefault(band.sense, []).append(f"{band.low_hz:.0f} to {band.high_hz:.0f}")
    said = [f"{word} {', '.join(found[sense])} Hz" for sense, word in IN_SHORT.items() if sense in found]
    return PAIR_IN_SHORT.format(a=plain(row.a), b=plain(row.b), said="; ".join(said) or NOT_TOLD_YET)


def _run(run: BlendRun) -> str:
    between = f"from {run.low_hz:.0f} to {run.high_hz:.0f} Hz"
    return SENSES[run.sense].format(range=between, level=f"{run.level_db:+.0f} dB")


def network_label(member: Member) -> str:
    """How a member stands in a network, behind its name; nothing where all is joined as usual."""
    circuit = "" if member.circuit is None else f" as {plain(member.circuit)}"
    group = "" if member.group is None else f" (in {plain(member.group)})"
    return f"{circuit}{group}" if member.share is None else f"{circuit}{group} at {100 * member.share:.0f} %"
