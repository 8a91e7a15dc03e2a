"""What was remembered of a box as a job began: whether it still stands for its two inputs, and how surely.

Task: from the checks of kind ``box`` in a log and the takes of the job to a doubt for each that counts,
and a note to say so. A box covers its inputs alone, of one rig at one rate: never a clip lead, which is
proved in its own job. Where the job has a split check of that rig, that one counts and the memory does not;
where anything differs, neither does it. Doubts are probabilities that the inputs are the other way round.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from capture.log import AnyEntry, Check
from reports.evidence.results import TakeResult
from reports.model.rig_notes import RememberedBoxNote

FRESH = 0.003
"""On the same day: a guess. A button was pressed, or another cable or adapter is in use."""
PER_DAY = 0.001
"""So much it grows each day: nobody hears that an invert button was pressed. A guess."""
MOST_DAYS = 21
"""Older than this it says little more than that few boxes invert, and is not used."""


def box_doubt(days: int) -> float | None:
    """Return the doubt about a box whose split check is so many days old; None where it is too old."""
    return FRESH + PER_DAY * days if 0 <= days <= MOST_DAYS else None


def days_between(entry: Check) -> int | None:
    """Return how old the split check was when the job began; None where the entry has no time."""
    if entry.at is None or entry.seen is None:
        return None
    try:
        return (date.fromisoformat(entry.at[:10]) - date.fromisoformat(entry.seen)).days
    except ValueError:
        return None


def standing_boxes(
    takes: Sequence[TakeResult], entries: Iterable[AnyEntry]
) -> tuple[dict[str, float], tuple[RememberedBoxNote, ...]]:
    """Return the doubt of each remembered box that counts, by its entry's id, and what to say of each."""
    doubts: dict[str, float] = {}
    notes: list[RememberedBoxNote] = []
    latest = {e.rig: e for e in entries if isinstance(e, Check) and e.what == "box"}
    for rig, entry in latest.items():
        mine = [t for t in takes if t.entry.rig == rig and len(t.entry.inputs) > 1]
        days = days_between(entry)
        doubt = None if days is None else box_doubt(days)
        if days is None or any(counts_as_split(t) for t in mine):
            continue
        same = doubt is not None and all(t.made is None or t.made.rate == entry.rate for t in mine)
        if same and doubt is not None:
            doubts[entry.id] = doubt
        if mine:
            notes.append(
                RememberedBoxNote(
                    str(rig), bool(entry.opposed), str(entry.seen), days, doubt if same else None
                )
            )
    return doubts, tuple(notes)


def counts_as_split(take: TakeResult) -> bool:
    """Whether a take is a split check that tells something of the inputs."""
    return take.entry.is_split_check and not take.faults and bool(take.paired)
