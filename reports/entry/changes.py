"""Leads as they were entered: their colours so far, and what a change was understood as, told at once.

In: the job, the log as it stands with the change in it, and the change; out: one sentence, which says how the
change is taken back. A change tells leads by name, so of a pickup whose leads had no names before it cannot
say by itself whether hot and ground were exchanged; that is decided in reports.evidence.leads, and said here.
Sign: an exchange turns the pickup over.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from capture.job import Job
from capture.log import AnyEntry, Change, LeadsInput, Meter, Ohms, Take, in_fixed_order
from capture.log.entries import TAG_WORDS
from reports.evidence.leads import lead_history
from reports.messages.commands import voids
from reports.messages.entering import CHANGED
from reports.messages.wording import plain

ChangeMeaning = Literal["exchanged", "taken for an exchange", "as it was", "not carried"]


def change_meaning(job: Job, entries: Sequence[AnyEntry], change: Change) -> ChangeMeaning:
    """What a change among the standing entries of the log did to the leads of its pickup."""
    others = [e for e in entries if e.id != change.id]
    before = lead_history(job, in_fixed_order(others)).at_entry
    walked = in_fixed_order([*others, change])
    place = next(k for k, e in enumerate(walked) if e.id == change.id)
    now = lead_history(job, walked).at_entry[change.id][change.pickup]
    first = lead_history(job, ()).leads_now(change.pickup)
    then = before[walked[place - 1].id][change.pickup] if place else first
    if now.era != then.era:
        return "not carried"
    if now.turned == then.turned:
        return "as it was"
    return "taken for an exchange" if now.unnamed and not then.unnamed else "exchanged"


def lead_colours(job: Job, entries: Iterable[AnyEntry], *, pickup: str | None = None) -> tuple[str, ...]:
    """The colours that leads have so far in the job and its log, each once; ``pickup``: of that one alone."""
    found = [c for p in job.pickups if pickup in (None, p.name) for c in p.leads]
    for entry in entries:
        match entry:
            case Ohms():
                said = [(entry.pickup, lead) for lead in entry.between]
            case Change():
                said = [(entry.pickup, lead) for lead in entry.leads]
            case Meter():
                said = [(entry.pickup, lead) for lead in (entry.red, entry.black) if lead]
            case Take():
                clipped = (i for i in entry.inputs if isinstance(i, LeadsInput))
                said = [(item.pickup, lead) for item in clipped for lead in (item.hot, item.ground)]
            case _:
                said = []
        found += [lead for name, lead in said if pickup in (None, name)]
    return tuple(c for c in dict.fromkeys(found) if c not in NO_COLOURS)


NO_COLOURS = frozenset(("hot", "ground", "shield", *TAG_WORDS))
"""What may stand for a lead and is no colour of it."""


def change_understood(job: Job, entries: Sequence[AnyEntry], change: Change) -> str:
    """What the change was understood as, and how it is taken back, in a sentence or two."""
    roles = {role: plain(lead) for lead, role in change.leads.items()}
    return CHANGED[change_meaning(job, entries, change)].format(
        pickup=plain(change.pickup), hot=roles["hot"], ground=roles["ground"], back=voids((change.id,))
    )
