"""How long each gesture is waited for, how much is kept around it, and what a watcher says.

Task: one place for these numbers, and the events. Shapes: none. Units: seconds, dB, Hz, frames. Signs: none.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from dsp.errors import SignalError

Watched = Literal["pluck", "press", "lift", "touch", "switch", "hum", "drive"]
EventKind = Literal["onset", "ended", "too loud", "timed out"]


@dataclass(frozen=True)
class WatchPlan:
    """How one gesture is waited for."""

    gesture: Watched
    preroll_s: float
    """Kept before the onset."""
    rings_s: float
    """Kept after the last onset, or of what is steady."""
    longest_s: float
    """Kept after the first onset at most."""
    waits_s: float = 60.0
    """Nothing that counts for so long is an event of its own."""
    rise_db: float = 8.0
    """What begins is so much over the level before."""
    low_pass_hz: float = 4000.0
    """A string says little above, a tool nothing; noise goes on."""
    dies: bool = False
    """Whether it ends as soon as the string has died away."""
    steady: bool = False
    """Whether it is waited for a level that stays, not for an onset."""
    may_sway: bool = False
    """Whether that level may change again once it has stayed a while."""


PLANS: Mapping[str, WatchPlan] = MappingProxyType(
    {
        # half a second of quiet to measure noise and hum in, and by how much a soft onset is heard late;
        # pressing a string is heard up to 0.3 s before it is let go; dsp.pulses wants 0.46 s before a pulse
        "pluck": WatchPlan("pluck", 0.55, 0.9, 4.0),
        "press": WatchPlan("press", 0.85, 1.3, 4.0),
        "switch": WatchPlan("switch", 0.55, 5.0, 10.0, dies=True),
        "lift": WatchPlan("lift", 0.6, 0.8, 4.0, low_pass_hz=1000.0),
        "touch": WatchPlan("touch", 0.6, 0.8, 4.0, low_pass_hz=1000.0),
        "hum": WatchPlan("hum", 0.0, 3.0, 3.0, waits_s=30.0, rise_db=-math.inf, steady=True),
        "drive": WatchPlan("drive", 0.5, 3.0, 3.0, waits_s=15.0, rise_db=3.0, steady=True, may_sway=True),
    }
)


@dataclass(frozen=True)
class WatchEvent:
    """Something that happened at frame ``at`` of the stream.

    A second "onset" before "ended" changes the bounds of the same take. ``keep_from`` and ``keep_to`` bound
    the take as far as it is known then; for "timed out" nothing is kept and both are ``at``.
    """

    kind: EventKind
    at: int
    keep_from: int
    keep_to: int


def plan_for(gesture: str) -> WatchPlan:
    """How ``gesture`` is waited for.

    Raises
    ------
    SignalError
        There is no such gesture.

    """
    if gesture not in PLANS:
        raise SignalError(f"there is no gesture {gesture!r} to wait for; there are {', '.join(PLANS)}")
    return PLANS[gesture]
