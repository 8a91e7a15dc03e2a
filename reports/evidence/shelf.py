"""What another job found of a pickup and the bench's reference coil: whether it still stands, how surely.

Task: from the checks of kind ``shelf`` in a log and the takes of the job to a `ShelfRelation` for each that
counts, and a note to say so. Both jobs lift the same tool off the coil and off their own pickups, so what
lies on the way of each job (a box, a cable, an input that inverts) cancels within it, and nothing is carried
over but a relation between two things that lie on the shelf. What may break it: the coil is another one or
was rewired, the pickup's leads are not what they were, both the likelier the longer ago; and whatever is
another one than on that day counts a little more, for causes that nobody thought of. Doubts are
probabilities that the relation is the other way round. Sign: ``opposed`` is about the leads by their names.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from capture.job import Job
from capture.log import AnyEntry, Check
from reports.evidence.boxes import days_between
from reports.evidence.results import TakeResult
from reports.model.gestures import PULSED
from reports.model.rig_notes import ShelfNote

FRESH = 0.0005
"""On the same day: the wrong coil taken off the shelf, one of several like things (sources H1, 0.003), where
it has a plug and a name on it. A guess."""
PER_DAY = 0.00005
"""So much it grows each day: nobody writes down that a coil on the shelf was repaired. A guess."""
ANOTHER = 0.001
"""More where tool or box is another one than on that day. The lifts of each job cancel both; a guess, for a
tool that is magnetised or a lead made up wrongly in one job alone, beyond what that job counted for it."""
MOST_DAYS = 365
"""Older than this it is not used: lift anew."""


@dataclass(frozen=True)
class ShelfRelation:
    """A relation that counts: of the log entry ``entry``, with the probability that it does not hold."""

    entry: Check
    coil: str
    """The reference coil's name as a pickup of this job."""
    doubt: float


def shelf_doubt(days: int, *, brought: float, other: Sequence[str] = ()) -> float | None:
    """Return the doubt about a relation so many days old; None where it is too old.

    ``brought``: what the other job left open; ``other``: what is another one here than there.
    """
    if not 0 <= days <= MOST_DAYS:
        return None
    return min(brought + FRESH + PER_DAY * days + ANOTHER * len(other), 0.499)


def standing_relations(
    job: Job, takes: Sequence[TakeResult], entries: Iterable[AnyEntry]
) -> tuple[tuple[ShelfRelation, ...], tuple[ShelfNote, ...]]:
    """Return the relations that count, the latest of each pickup and coil, and what to say of each."""
    relations, notes = [], []
    latest = {(e.pickup, e.shelf): e for e in entries if isinstance(e, Check) and e.what == "shelf"}
    for (name, shelf), entry in latest.items():
        coil = next((p for p in job.pickups if p.shelf == shelf), None)
        days = days_between(entry)
        if coil is None or name is None or days is None or entry.doubt is None:
            continue
        lifts = [t for t in takes if t.pulses and any(s.pickup == coil.name for s in t.sources)]
        used = lifts or [t for t in takes if t.entry.gesture in PULSED]
        other: list[Literal["tool", "box"]] = []
        if entry.tool and any(t.entry.tool != entry.tool for t in used):
            other.append("tool")
        if entry.rig and any(t.entry.rig != entry.rig for t in used):
            other.append("box")
        doubt = shelf_doubt(days, brought=entry.doubt, other=other)
        if doubt is not None:
            relations.append(ShelfRelation(entry, coil.name, doubt))
        why: Literal["old", "not lifted"] | None = "old" if doubt is None else None if lifts else "not lifted"
        notes.append(ShelfNote(name, str(shelf), str(entry.seen), days, doubt, why, tuple(other)))
    return tuple(relations), tuple(notes)
