"""Clip-ups: which entries were made without taking the clips off.

Task: name the run of clips an entry belongs to. A run goes on while consecutive recordings (or readings)
are of the same pickup the same way round on the same rig; coming back to a pickup after another one
means that it was clipped anew, and so does a take that says so. Line order is time order.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from capture.bench_log import LeadsInput, Meter, Take


@dataclass(eq=False)
class ClipRuns:
    """Walks the takes in order; ``of`` names the run of each."""

    _last: str = ""
    _number: int = 0
    _pickups: frozenset[str] = field(default_factory=frozenset)

    def of(self, take: Take) -> str:
        """The run a take belongs to: it goes on while some input of the last take is still plugged in."""
        plugged = frozenset(_told(i) for i in take.inputs if i is not None)
        if (
            take.anew
            or take.is_split_check
            or not (plugged & self._pickups)
            or (take.rig or "") != self._last
        ):
            self._number += 1
        self._pickups, self._last = plugged, take.rig or ""
        return str(self._number)


@dataclass(eq=False)
class MeterRuns:
    """Walks the meter readings in order; ``of`` names the run of each."""

    _last: tuple[str, str] = ("", "")
    _number: int = 0

    def of(self, reading: Meter) -> str:
        """The run a reading belongs to: same pickup, same lead under the red clip, nothing between."""
        key = (reading.pickup, reading.red)
        if key != self._last:
            self._number += 1
        self._last = key
        return str(self._number)


def _told(item: object) -> str:
    if isinstance(item, LeadsInput):
        return f"{item.pickup} {item.hot} {item.ground}"
    return str(item)
