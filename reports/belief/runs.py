"""Clip-ups: which recordings, and which meter readings, were made without taking the clips off.

Task: number the clip-ups of each pickup as the log says them. A new clip-up is what a person said (an entry
with ``anew``, from ``--clips-anew`` or from a session that asked for it); the order of entries says nothing,
since at a bench the clips stay on and the plug is moved. Recordings and meter readings have clips of their
own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from capture.bench_log import LeadsInput, Meter, Take
from capture.job import Job


@dataclass(eq=False)
class ClipRuns:
    """Walks the takes in order; ``of`` numbers the clip-ups of each pickup up to a take."""

    job: Job
    _counts: Counter[str] = field(default_factory=Counter)

    def of(self, take: Take) -> Mapping[str, int]:
        """The number of the clip-up that each pickup is in at this take; 0 where it was never put on anew."""
        if take.anew:
            self._counts.update({name for item in take.inputs for name in _pickups_of(self.job, item)})
        return Counter(self._counts)


@dataclass(eq=False)
class MeterRuns:
    """Walks the meter readings in order; ``of`` names the clip-up of each."""

    _counts: Counter[str] = field(default_factory=Counter)

    def of(self, reading: Meter) -> str:
        """The clip-up of a reading: the leads under the clips, and how often they were put on anew."""
        self._counts[reading.pickup] += reading.anew
        return f"{reading.red} {reading.black or ''} {self._counts[reading.pickup]}"


def _pickups_of(job: Job, item: object) -> frozenset[str]:
    if isinstance(item, LeadsInput):
        return frozenset((item.pickup,))
    names = item if isinstance(item, tuple) else (item,)
    settings = (job.setting(name) for name in names if isinstance(name, str))
    return frozenset(m.pickup for s in settings if s is not None for m in s.on)
