"""The gestures of the bench, and how each is waited for while it is recorded.

Task: one closed list, and for each gesture the figures that dsp.live.watching works with. Units: seconds, dB,
Hz. Without numpy, so that a help text can name the gestures.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal, assert_never, get_args

from dsp import SignalError

Gesture = Literal["pluck", "press", "lift", "touch", "switch", "hum", "drive", "tap"]
ALL_GESTURES: Final[tuple[Gesture, ...]] = get_args(Gesture)


@dataclass(frozen=True)
class CutMargins:
    """How much of a recording belongs to a take: before its onset, and after it at least and at most."""

    before_s: float
    least_s: float
    longest_s: float


@dataclass(frozen=True)
class WatchPlan:
    """How one gesture is waited for, and cut out of a long recording."""

    gesture: Gesture
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
    timed: bool = False
    """Whether it is kept for a fixed time, whatever is heard: nothing heard is an answer too."""
    pulse: bool = False
    """Whether its onset is the pulse of a tool, and no string's."""
    cut: CutMargins | None = None
    """None where there is no onset to cut at: a hum has none, a driven coil begins faded in, and of a pickup
    that is not on no tap is heard."""


def plan_of(gesture: Gesture) -> WatchPlan:
    """How ``gesture`` is waited for."""
    match gesture:
        # half a second of quiet to measure noise and hum in, and by how much a soft onset is heard late;
        # pressing a string is heard up to 0.3 s before it is let go; a cut needs less quiet, and a second
        # pluck within 0.4 s spoils a take (dsp.methods.plucks)
        case "pluck":
            plan = WatchPlan(gesture, 0.55, 0.9, 4.0, cut=CutMargins(0.5, 0.45, 4.0))
        case "press":
            plan = WatchPlan(gesture, 0.85, 1.3, 4.0, cut=CutMargins(0.5, 0.45, 4.0))
        case "switch":
            plan = WatchPlan(gesture, 0.55, 5.0, 10.0, dies=True, cut=CutMargins(0.5, 1.0, 10.0))
        # dsp.methods.tool_pulse wants 0.46 s before a pulse and 0.14 s after it; the tool comes back soon
        case "lift" | "touch":
            cut = CutMargins(0.6, 0.2, 1.0)
            plan = WatchPlan(gesture, 0.6, 0.8, 4.0, low_pass_hz=1000.0, pulse=True, cut=cut)
        case "hum":
            plan = WatchPlan(gesture, 0.0, 3.0, 3.0, waits_s=30.0, rise_db=-math.inf, steady=True)
        case "drive":
            plan = WatchPlan(gesture, 0.5, 3.0, 3.0, waits_s=15.0, rise_db=3.0, steady=True, may_sway=True)
        # three to five taps in a hurry or at leisure
        case "tap":
            plan = WatchPlan(gesture, 0.3, 4.0, 4.0, low_pass_hz=1000.0, timed=True)
        case _:
            assert_never(gesture)
    return plan


def plan_for(name: str) -> WatchPlan:
    """How the gesture of that name is waited for.

    Raises
    ------
    SignalError
        There is no such gesture.

    """
    for gesture in ALL_GESTURES:
        if gesture == name:
            return plan_of(gesture)
    raise SignalError(f"there is no gesture {name!r} to wait for; there are {', '.join(ALL_GESTURES)}")


LONGEST_TAKE_S: Final = 120.0
"""Several gestures with pauses between them; of a longer recording a part is heard."""
WITH_ONSET: Final = tuple(gesture for gesture in ALL_GESTURES if plan_of(gesture).cut is not None)
"""Gestures that can be found in a long recording."""
