"""Wording inside and under the drawings of what the jack told; pure functions, no layout.

Units: dB. Signs: a step of the selector as in dsp/exhibits.py. What several faces use is in reports/words.py.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from reports import words

STEPS = {1: "no turn: same sign", -1: "half a turn: opposed", 0: "not told"}
IF_ADDING = "if they add"
IF_OPPOSED = "if they oppose"
MEASURED = "measured"
WOULD_HUM = "wound alike: would hum"
WOULD_CANCEL = "wound against each other: would cancel"
WOULD_HUM_SHORT = "would hum"
WOULD_CANCEL_SHORT = "would cancel"
NOISE = "noise"
IN_NOISE = "in the noise"

CAPTIONS = {
    "switch": "the phase of each partial of a string that rings on while the selector moves; no turn at a "
    "step is the same sign, half a turn is opposed. Behind a setting of several pickups, a label tells how "
    "the new pickup stands to the last single one.",
    "profile": "the points are what the setting gave, harmonic by harmonic; see which of the two curves they "
    "follow, that of pickups that add up or that of pickups that take from each other.",
    "hum": "the dot is the hum of a setting; near the one mark its pickups are wound alike and hum together, "
    "near the other they are wound against each other and cancel it.",
}


def decibels(value: float | None) -> str:
    """Level with its unit; a number that could not be had is said not to be measured."""
    if value is None or not math.isfinite(value):
        return words.NOT_MEASURED
    return f"{value:.1f} dB".replace("-", "−")


def turned_by_place(partials: Sequence[int]) -> str:
    """Which partials turn over because of where the pickups lie: "partial 5 turns by its place"."""
    if len(partials) == 1:
        return f"partial {partials[0]} turns by its place"
    listed = ", ".join(map(str, partials[:-1]))
    return f"partials {listed} and {partials[-1]} turn by their places"


def nearer_curve(adding_db: float | None, opposed_db: float | None, *, by: float) -> str:
    """Which predicted curve the measured points lie nearer to, in one sentence."""
    if adding_db is None or opposed_db is None:
        return "Too few harmonics were measured to tell the curves apart."
    off = f"{decibels(min(adding_db, opposed_db))} off against {decibels(max(adding_db, opposed_db))}"
    if abs(adding_db - opposed_db) < by:
        return f"The points lie about as near to one curve as to the other: {off}."
    return f'The points lie nearer to "{IF_ADDING if adding_db < opposed_db else IF_OPPOSED}": {off}.'


def hum_axis(mains_hz: float, *, shaded: bool = False) -> str:
    """What the hum of settings is drawn against, and what is shaded there."""
    mains = f"{mains_hz:.0f} Hz mains" if math.isfinite(mains_hz) else "mains"
    return f"hum of the {mains} (dB, full scale = 0)" + (f"; shaded: {NOISE}" if shaded else "")
