"""What is said of the care that this machine remembers: whether, from how many jobs, what it makes of it."""

from __future__ import annotations

from collections.abc import Mapping

from reports.messages.wording import checked_jobs, percent
from reports.model.notes import CareLevel

CARE_BROKEN = (
    "{}: this is no memory of care that coilwise wrote, and it is not used; coilwise care --forget removes it"
)
CARE_NEWER = (
    "{}: a newer coilwise wrote this memory of care, and it is not used; take that one, or remove it with "
    "coilwise care --forget"
)
CARE_UNREADABLE = "{}: {}; the memory of care cannot be used, check permissions and free space"
CARE_SWITCHED_OFF = "COILWISE_CARE=off: nothing is remembered of care; take the variable away first"
CARE_EITHER = "--remember and --forget: say one of them"
CARE_NOT_REMEMBERED = (
    "Nothing is remembered of care. coilwise care --remember lets this machine learn from jobs that are "
    "checked after soldering; what it learns stays on this machine."
)
CARE_BEGUN = (
    "From now on each job that is checked after soldering is remembered on this machine: how well it agrees "
    "with itself, no title and no name. coilwise care --forget ends it."
)
CARE_REMEMBERED_ALREADY = "It is remembered already."
CARE_FORGOTTEN = "Forgotten: the file is removed, and nothing is remembered any more."
CARE_NONE_TO_FORGET = "Nothing was remembered."
CARE_KNOWN_FROM = "Care is remembered on this machine, from {}, in {}."
CARE_HEADS = ("care", "careful", "usual", "careless")
CARE_ROWS = ("nothing known", "these jobs say", "a new job begins with")


def care_known_from(jobs: int, place: str) -> str:
    """Say that care is remembered, from how many jobs, and in which file."""
    return CARE_KNOWN_FROM.format(checked_jobs(jobs), place)


def care_cells(*priors: Mapping[CareLevel, float]) -> list[tuple[str, ...]]:
    """Rows of the table: the usual prior, what the jobs make of it, and the prior in use."""
    return [
        (name, percent(p["careful"]), percent(p["usual"]), percent(p["careless"]))
        for name, p in zip(CARE_ROWS, priors, strict=False)
    ]
