"""What is on the bench and what was done, as rows of text: pickups, settings, log, onsets of a recording.

Each ``*_cells`` gives rows of strings in the order of its ``*_HEADS``; where a job says nothing stands
``UNKNOWN``. Each ``*_label`` names one thing in a few words. Importing this loads neither numpy nor
matplotlib.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, assert_never

from capture.log import Change, Check, Meter, Ohms, Pole, Tag, Take
from reports.messages.blends import network_label
from reports.messages.wording import NOTHING, kohm

if TYPE_CHECKING:
    from pathlib import Path

    from capture.job import Job, Member, Pickup
    from capture.log import AnyEntry, BenchLog, Input, TakeFields
    from capture.takes.imported import Cut, ImportedTake, NumberedOnset

UNKNOWN = "-"

PICKUP_HEADS = ("name", "centre mm", "coils", "fitted", "leads", "shield")

SETTING_HEADS = ("name", "on", "join", "aim", "quiet")

LOG_HEADS = ("id", "kind", "what", "stage", "remark")


def pickup_cells(job: Job) -> list[tuple[str, ...]]:
    """Return what stands in the rows of the pickups."""
    return [
        (
            p.name,
            "..".join(f"{mm:g}" for mm in p.centres_mm or (p.centre_mm,) if mm is not None) or UNKNOWN,
            _coils_label(p),
            "on the shelf" if p.shelf else "yes" if p.fitted else "loose",
            _leads_label(p),
            p.shield or UNKNOWN,
        )
        for p in job.pickups
    ]


def _coils_label(pickup: Pickup) -> str:
    """How many coils, and how they are built where that is not as usual."""
    poles = "" if pickup.poles in (None, "alike") else "poles differ"
    said = ", ".join(word for word in (pickup.build or "", poles) if word)
    return f"{pickup.coils} ({said})" if said else str(pickup.coils)


def pickup_place(pickup: Pickup) -> str:
    """Return a pickup with what was said of it: "neck (168 mm, 2 coils, loose)"."""
    said = [] if pickup.centre_mm is None else [f"{pickup.centre_mm:g} mm"]
    said += [f"{pickup.coils} coils"] if pickup.coils > 1 else []
    said += [] if pickup.fitted else ["loose"]
    return f"{pickup.name} ({', '.join(said)})" if said else pickup.name


def setting_cells(job: Job) -> list[tuple[str, ...]]:
    """Return what stands in the rows of the listed settings."""
    return [
        (s.name, " + ".join(_member_label(m) for m in s.on), s.join, s.aim, "yes" if s.quiet else "no")
        for s in job.settings
    ]


def log_cells(log: BenchLog, remarks: dict[str, str]) -> list[tuple[str, ...]]:
    """Return the entries in time order; a voided one says so in the last column."""
    return [
        (
            e.entry.id,
            e.entry.kind,
            entry_label(e.entry),
            e.entry.stage if e.entry.kind != "void" else "",
            "VOIDED" if e.voided else remarks.get(e.entry.id, ""),
        )
        for e in log.entries
    ]


def entry_label(entry: AnyEntry) -> str:
    """Return what an entry says, in one line."""
    if isinstance(entry, Take):
        fret = f" fret {entry.fret}" if entry.fret else ""
        played = f"{entry.gesture} {entry.string}{fret}" if entry.string else entry.gesture
        coil = f", coil {entry.coil}" if entry.coil else ""
        if entry.tapped is not None:
            played += f" on {entry.tapped}{coil}"
            coil = ""
        return f"{played}: {' | '.join(input_label(i) for i in entry.inputs)}{coil}"
    if isinstance(entry, Meter | Ohms | Pole):
        return f"{entry.pickup}: {_reading_label(entry)}"
    if isinstance(entry, Change):
        late = f" (made before {entry.before})" if entry.before else ""
        return f"{entry.pickup}: {', '.join(f'{lead} is {role}' for lead, role in entry.leads.items())}{late}"
    if isinstance(entry, Tag):
        return f"{entry.pickup}: tag on the lead under the tip's clip in {entry.take}"
    if isinstance(entry, Check):
        return _check_label(entry)
    return f"{entry.entry}{': ' if entry.why else ''}{entry.why}"


MOVES = {"away": "tool pulled away", "toward": "tool brought to the pole"}


def _reading_label(entry: Meter | Ohms | Pole) -> str:
    if isinstance(entry, Meter):
        black = f", black on {entry.black}" if entry.black else ""
        at_rest = "" if entry.kohm is None else f", {kohm(entry.kohm)} at rest"
        tool = f" ({entry.tool})" if entry.tool else ""
        return f"{MOVES[entry.move]}{tool}: {entry.reading}; red on {entry.red}{black}{at_rest}"
    if isinstance(entry, Ohms):
        value = "open" if entry.kohm is None else kohm(entry.kohm)
        return f"{entry.between[0]} to {entry.between[1]}: {value}"
    coil = f", coil {entry.coil}" if entry.coil else ""
    return f"{entry.facing} faces the strings{coil}"


def _check_label(entry: Check) -> str:
    """Return what was verified on the bench, in one line."""
    match entry.what:
        case "clip lead":
            which = "every input" if entry.input is None else f"input {entry.input}"
            rig = f" of {entry.rig}" if entry.rig else ""
            said = f"clip lead, {which}{rig}: the tip leads to {entry.tip}"
        case "tool":
            said = f"{entry.tool}: a staple is {entry.staple}"
        case "same path":
            said = f"{', '.join(entry.takes or ())}: one and the same recorder"
        case "held":
            said = f"{entry.pickup}: held {entry.side} the strings"
        case "box":
            inputs = "oppose each other" if entry.opposed else "are in step"
            said = f"{entry.rig}: its inputs {inputs}, as remembered from {entry.seen}"
        case "shelf":
            how = "opposes" if entry.opposed else "is in phase with"
            there = f" in {entry.job}" if entry.job else ""
            said = f"{entry.pickup} {how} the reference coil {entry.shelf}, as lifted on {entry.seen}{there}"
        case "bypass":
            said = f"{entry.pickup}: its active stage {'inverts' if entry.inverts else 'does not invert'}"
        case _:
            assert_never(entry.what)
    return said


def _leads_label(pickup: Pickup) -> str:
    link = " + ".join(pickup.link or ())
    said = {"hot": pickup.hot, "ground": pickup.ground, "link": link or None}
    return ", ".join(f"{role} {colour}" for role, colour in said.items() if colour) or UNKNOWN


def _member_label(member: Member) -> str:
    coil = f" coil {member.coil}" if member.coil else ""
    return f"{member.pickup}{coil}{' reversed' if member.reversed else ''}{network_label(member)}"


def input_label(item: Input) -> str:
    """Return what one channel had plugged in."""
    if item is None:
        return NOTHING
    if isinstance(item, str):
        return item
    return ", ".join(item) if isinstance(item, tuple) else f"{item.pickup} {item.hot}/{item.ground}"


CUT_HEADS = ("onset", "file", "at s", "level dB", "take s", "taken for")

DOUBTS = {
    "soft": "too soft to count",
    "still ringing": "over a string that rang on",
    "other gesture": "looks like the other gesture",
}

LEFT_OUT = "left out"

NOT_SHARED_OUT = "an onset"


def cut_cells(onsets: Sequence[NumberedOnset], cuts: Sequence[Cut]) -> list[tuple[str, ...]]:
    """Return the cells under `CUT_HEADS`, one row an onset."""
    by_number = {c.onset.number: c for c in cuts}
    return [_onset_cells(onset, by_number.get(onset.number)) for onset in onsets]


def _onset_cells(onset: NumberedOnset, one: Cut | None) -> tuple[str, ...]:
    rate = onset.file.header.rate
    return (
        str(onset.number),
        onset.file.path.name,
        f"{onset.at_s:.2f}",
        f"{onset.level_db:.0f}",
        f"{one.start / rate:.2f}-{one.stop / rate:.2f}" if one else "-",
        cut_label(onset, one),
    )


def cut_label(onset: NumberedOnset, one: Cut | None) -> str:
    """Return what an onset was taken for: what was played, or why it is no take."""
    if onset.left_out:
        return LEFT_OUT
    if onset.doubt is not None:
        return DOUBTS[onset.doubt]
    return played_label(one.take) if one else NOT_SHARED_OUT


def played_label(take: TakeFields) -> str:
    """Return what was played in a few words: inputs, string and fret."""
    inputs = " | ".join(input_label(item) for item in take.inputs)
    fret = f" fret {take.fret}" if take.fret else ""
    return f"{inputs}, {take.string}{fret}" if take.string else inputs


def named_cells(path: Path, take: TakeFields, unread: Sequence[str]) -> tuple[str, ...]:
    """Return what a recording is by its name, under the heads of such a list."""
    fret = f" fret {take.fret}" if take.fret else ""
    on = " | ".join(input_label(item) for item in take.inputs)
    return path.name, take.gesture, on, f"{take.string or UNKNOWN}{fret}", take.stage, " ".join(unread)


def import_line(one: ImportedTake) -> str:
    """Return what became of a cut, as one line with its id."""
    from reports.messages.imported import source_notes

    notes = source_notes(one)
    if one.before is not None:
        return f"{one.before.id}: {notes[0]}"
    if one.take is None:
        raise AssertionError("a cut is brought in, or was in before")
    marked = "".join(f" Note: {note}" for note in notes)
    return f"{one.take.entry.id}: {played_label(one.cut.take)}, {one.cut.source}.{marked}"
