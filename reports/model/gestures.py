"""The gesture table: what each gesture needs, how it is waited for, analysed, and used as evidence.

Whatever depends on the gesture of a take asks here; what a person reads of a gesture is in
reports.messages.gestures. Nothing heavy is imported, since the help of a command lists gestures.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, assert_never

from dsp.live.gestures import ALL_GESTURES, Gesture, WatchPlan, plan_of

Analysis = Literal["plucks", "pulses", "selector", "hum", "driven coil", "taps"]
"""How a take is analysed: dsp.methods.plucks (plucks and tool pulses), switch, hum, driven_coil, taps."""
SignLetter = Literal["s", "w"]
"""Which sign of a pickup: ``s``, what a string or a tool shows; ``w``, of the winding (dsp.model.signs)."""

PAIRED: Final = "paired pluck"
SPLIT: Final = "split check"
PROFILE: Final = "harmonic profile"
SWITCH: Final = "switch, string"
SWITCH_HUM: Final = "switch, hum"
HUM_PHASE: Final = "hum, two inputs"
HUM_LEVEL: Final = "hum level"
TAPS: Final = "taps"
PLACES: Final = "place heard"
OF_PLUCKS: Final = (PAIRED, SPLIT, PROFILE)

MOST_TAKES: Final = 12
"""Takes after which a session pauses, whatever is open: nine in ten simulated guitars with three pickups are
settled by then, and the others have takes that contradict each other or a string that hardly tells."""
MORE_FOR_A_PAIR: Final = 6
"""So many more for each pair that shares a setting beyond two."""


def most_takes(pairs: int) -> int:
    """Takes after which a session pauses where so many pairs are wanted."""
    return MOST_TAKES + MORE_FOR_A_PAIR * max(0, pairs - 2)


@dataclass(frozen=True)
class GestureRow:
    """What is particular to one gesture."""

    gesture: Gesture
    analysis: Analysis
    evidence: tuple[str, ...]
    """The methods that takes of it are evidence by, besides ``in_turn``."""
    in_turn: str | None = None
    """The method by which separate takes on one rig are compared with each other."""
    letter: SignLetter = "s"
    """The sign that ``in_turn`` is about."""
    needs_list: bool = False
    """Whether an input has to name the list of settings that the selector goes through."""
    sounds_string: bool = False
    """Whether a string is played, whose note the entry can name."""
    at_poles: bool = False
    """Whether a tool or a coil is held to the poles of a pickup."""
    session_rank: int | None = None
    """Its place among the gestures that a guided session may ask for; None where it asks for none."""

    @property
    def watch(self) -> WatchPlan:
        """How it is waited for, and how long."""
        return plan_of(self.gesture)


def gesture_row(gesture: Gesture) -> GestureRow:
    """The row of one gesture."""
    match gesture:
        case "pluck":
            row = GestureRow(
                gesture, "plucks", OF_PLUCKS, "plucks in turn", sounds_string=True, session_rank=1
            )
        case "press":
            row = GestureRow(
                gesture, "plucks", OF_PLUCKS, "presses in turn", sounds_string=True, session_rank=3
            )
        case "lift":
            row = GestureRow(gesture, "pulses", (), "lift", at_poles=True, session_rank=4)
        case "touch":
            row = GestureRow(gesture, "pulses", (), "touch", at_poles=True)
        case "switch":
            both = (SWITCH, SWITCH_HUM)
            row = GestureRow(gesture, "selector", both, needs_list=True, sounds_string=True, session_rank=2)
        case "hum":
            row = GestureRow(gesture, "hum", (HUM_PHASE, HUM_LEVEL), letter="w", session_rank=5)
        case "drive":
            row = GestureRow(gesture, "driven coil", (), "driven coil", letter="w", at_poles=True)
        case "tap":
            row = GestureRow(gesture, "taps", (TAPS,), at_poles=True, session_rank=6)
        case _:
            assert_never(gesture)
    return row


ROWS: Final = tuple(map(gesture_row, ALL_GESTURES))
PLUCKED: Final = tuple(row.gesture for row in ROWS if row.analysis == "plucks")
PULSED: Final = tuple(row.gesture for row in ROWS if row.analysis == "pulses")
WITH_TOOL: Final = tuple(row.gesture for row in ROWS if row.analysis in ("pulses", "taps"))
"""Gestures in which a steel tool meets a pole: the thump is loud."""
SESSION_GESTURES: Final = tuple(
    row.gesture for row in sorted(ROWS, key=lambda row: row.session_rank or 0) if row.session_rank
)
"""What a guided session may ask for, in the order in which a help text lists them."""
