"""All evidence of a job, or of a part of its log, gathered and summed.

Task: from heard takes and log entries to one `Case`: the belief, what was read from the jack besides, and
what could not be placed. Signs: as in dsp/signs.py, relative to how the pickups are wired at the latest entry
of the given wires.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from capture.bench_log import AnyEntry
from capture.job import Job
from reports.belief.jacked import JackReading, read_jack
from reports.belief.ledger import Ledger
from reports.belief.listened import listen
from reports.belief.metered import read_compass, read_meter
from reports.belief.summing import Belief
from reports.findings import Found, not_a_phase_matter
from reports.heard import HeardTake
from reports.jack import measured_kohm
from reports.wires import Wires, follow


@dataclass(frozen=True, eq=False)
class Case:
    """Everything that some entries of the log say.

    ``unplaced``: remarks by take id; ``left_out``: reasons by entry id.
    """

    wires: Wires
    belief: Belief
    jack: JackReading
    found: Found
    unplaced: dict[str, str]
    left_out: dict[str, str]


def gather(job: Job, wires: Wires, entries: Sequence[AnyEntry], heard: Sequence[HeardTake]) -> Case:
    """Sum up the evidence of ``heard`` and ``entries`` on the leads of ``wires``."""
    ledger = Ledger(wires)
    found = not_a_phase_matter(job, heard)
    trusted = [found.without_unsound(take) for take in heard]
    unplaced = found.remarks | listen(ledger, trusted, alike=found.alike)
    jack = read_jack(ledger, trusted, kohm=measured_kohm(job, entries), unsound=found.unsound)
    left_out = read_meter(ledger, entries)
    read_compass(ledger, entries)
    return Case(wires, Belief(ledger), jack, found, unplaced, left_out)


def as_found(job: Job, entries: Sequence[AnyEntry], heard: Sequence[HeardTake]) -> Case:
    """What was known before the work, by itself."""
    before = [e for e in entries if e.stage == "found" and e.kind != "change"]
    ids = {e.id for e in before}
    return gather(job, follow(job, before), before, [h for h in heard if h.entry.id in ids])


def after_alone(job: Job, wires: Wires, entries: Sequence[AnyEntry], heard: Sequence[HeardTake]) -> Case:
    """What the takes and readings made after the work say without those from before."""
    later = [e for e in entries if e.stage == "after"]
    return gather(job, wires, later, [h for h in heard if h.entry.stage == "after"])
