"""What is said of the boxes that this machine remembers, and of a job that counts on one."""

from __future__ import annotations

from typing import Final

from reports.messages.wording import plain
from reports.model.rig_notes import RememberedBoxNote

IN_STEP, OPPOSED = "in step", "opposed to each other"
COUNTED_ON: Final = (
    "The two inputs of {rig} count as {how}: a split check of {seen} in another job found them so, {age}. "
    "Nobody hears that an invert button was pressed since, so a doubt of {doubt:.1f} % stays; it grows with "
    "each day, and a split check here takes its place. It says nothing of clip leads."
)
NOT_COUNTED: Final = (
    "What is remembered of {rig} (split check of {seen}, {age}) is not used: it is too old, or the rate is "
    "another one here. Make the split check anew."
)
BOX_BROKEN: Final = (
    "{}: this is no memory of boxes that coilwise wrote, and it is not used; coilwise box --forget removes it"
)
BOX_UNREADABLE: Final = "{}: {}; the memory of boxes cannot be used, check permissions and free space"
BOX_HEAD: Final = "What is remembered of this bench"
BOX_NONE: Final = (
    "No box is remembered. Once a split check was recorded, the next job begins with what it found of the "
    "two inputs."
)
BOX_LINE: Final = "{rig}, {khz:g} kHz: its two inputs are {how}, split check of {seen}"
BOX_OLD: Final = "{line}; too old to be counted on, so the next job asks again"
MAINS_LINE: Final = "Mains of {hz} Hz, as said for the last job: a new job begins with it"
INPUT_LINE: Final = "{source}: the input that was chosen last; it is taken where none is named"
BOX_KEPT_IN: Final = "Kept in {}, on this machine alone; it covers the inputs, never clip leads."
BOX_FORGET: Final = "Forget all of them"
BOX_FORGOTTEN: Final = "Forgotten: the next job asks for a split check again."


def days_ago(days: int) -> str:
    """How long ago something was, from the job's point of view."""
    return "on the same day" if not days else f"{days} day{'s' if days > 1 else ''} before this"


def remembered_box(note: RememberedBoxNote) -> str:
    """What a job counts on, or why it does not."""
    age = days_ago(note.days)
    if note.doubt is None:
        return NOT_COUNTED.format(rig=plain(note.rig), seen=note.seen, age=age)
    how = OPPOSED if note.opposed else IN_STEP
    return COUNTED_ON.format(rig=plain(note.rig), how=how, seen=note.seen, age=age, doubt=100 * note.doubt)


def box_line(*, rig: str, rate: int, opposed: bool, seen: str, counts: bool) -> str:
    """One remembered box in one line."""
    line = BOX_LINE.format(rig=plain(rig), khz=rate / 1000, how=OPPOSED if opposed else IN_STEP, seen=seen)
    return line if counts else BOX_OLD.format(line=line)
