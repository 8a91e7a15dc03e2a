"""What is said of the bench's reference coil: what a job brought from another one, and the row of a batch."""

from __future__ import annotations

from typing import Final

from reports.messages.boxes import days_ago
from reports.messages.wording import kohm, plain
from reports.model.notes import Phase
from reports.model.rig_notes import Misfit, MisfitCode, ShelfNote

BROUGHT: Final = (
    '{pickup} counts as compared with the reference coil "{shelf}" in another job ({seen}, {age}). A '
    "doubt of {doubt:.2g} % stays: what that job left open, and that the coil or the leads are not what "
    "they were, which grows with each day{other}. Box and cable cancel, since the coil is lifted in both "
    "jobs."
)
OTHER: Final = {"tool": "the tool", "box": "the box"}
NOT_USED: Final = {
    "old": (
        'What another job found of {pickup} and the reference coil "{shelf}" ({seen}, {age}) is not used: '
        "it is too old. Lift the tool off both in this job."
    ),
    "not lifted": (
        '{pickup} was compared with the reference coil "{shelf}" in another job ({seen}, {age}). It says '
        "something here once the same tool is lifted off the coil and off a pickup of this job too, three "
        "times each."
    ),
}

NO_SUCH_PICKUP: Final = '"{name}" is no pickup of {title}; "coilwise list" shows what that job has'
NO_COIL: Final = (
    'the job "{title}" has no reference coil "{shelf}"; only a job in which the same coil was lifted says '
    "something here"
)
NO_COIL_AT_ALL: Final = (
    'the job "{title}" has no reference coil; add one to job.toml as a [[pickup]] with shelf = "its name", '
    "or begin a row with coilwise batch NAME --count 12 --shelf ITS-NAME"
)
NOTHING_FOUND: Final = (
    'the job "{title}" does not tell how {name} stands to the reference coil {shelf}; lift the tool off both '
    "there, three times each"
)
LEADS_WITHOUT_NAMES: Final = (
    'the job "{title}" has no names for the leads of {name}, so nothing says which was hot; name their '
    "colours in its job.toml, or put a tag on before the clips come off (coilwise tag)"
)
MISFITS: dict[MisfitCode, str] = {
    "opposed to the row": "goes the other way than most of the row",
    "resistance": ("{value}, where the row has {usual}: another wire, shorted turns, or turns left out"),
    "weak": (
        "its lifts are {less:.0f} dB weaker than the row's: a weak magnet, or shorted turns; or the tool "
        "rested beside the pole"
    ),
    "lifts disagree": "its lifts do not tell; lift again, briskly, off the same pole",
    "faulty takes": "a lift did not count; coilwise verdict says why",
}
LABELS_HEAD: Final = "Labels: {title}"
LABELS_SAY: Final = (
    'Each pickup against the reference coil "{shelf}", lifted with {tools}{days}. A label goes on the '
    "pickup; in phase is said of hot and ground as named on it. Only relations are known: two pickups that "
    "are both in phase with the coil are in phase with each other."
)
SOLDER_RULE: Final = "Likely is not settled: do what is asked for first, then solder."
TOOL_NOT_SAID: Final = "a tool that was not named"
TOOL_CHECKED: Final = "{} (tried with a staple)"
TOOL_NOT_CHECKED: Final = "{} (not tried with a staple: a magnet would turn pickups over)"
NONE_HOT: Final = "leads not named: as it hung on the clips"
NOT_TOLD: Final = "NOT TOLD"
FITS: Final = "fits the row"


def relation_words(phase: Phase | None, shelf: str) -> str:
    """How a pickup stands to the coil, in capitals where it opposes it."""
    if phase is None:
        return NOT_TOLD
    return f"{'in phase with' if phase == 'in phase' else 'OPPOSES'} {plain(shelf)}"


def misfit_words(misfit: Misfit) -> str:
    """What a pickup has otherwise than the row."""
    value, usual = misfit.value or 0.0, misfit.usual or 0.0
    return MISFITS[misfit.code].format(value=kohm(value), usual=kohm(usual), less=usual - value)


def brought_relation(note: ShelfNote) -> str:
    """What a job counts on, or why it does not."""
    said = {
        "pickup": plain(note.pickup),
        "shelf": plain(note.shelf),
        "seen": note.seen,
        "age": days_ago(note.days),
    }
    if note.why is not None or note.doubt is None:
        return NOT_USED[note.why or "old"].format(**said)
    other = " and ".join(OTHER[one] for one in note.other)
    more = f", and that {other} is another one here" if other else ""
    return BROUGHT.format(**said, doubt=100 * note.doubt, other=more)
