"""A pickup of two coils that hums: one of them may be split off by accident.

Task: from the levels of hum on settings, a hint. Shapes: one level a setting. Units: dB. Signs: none; the two
coils of a sound pickup are wound against each other, so that magnetic hum cancels in it (sources P1, P2).

Buzz that comes in by capacitance is the same on every setting and says nothing. So a two-coil pickup is
suspected only where something on the same guitar is much quieter: that rules the buzz out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from dsp.soundness.expectation import place_db
from dsp.soundness.plucks import Finding, SoundPluck

LOUDER_DB = 10.0
"""A coil alone hums 12 to 20 dB more than two whose areas differ by a tenth to a quarter."""
FULL_DB = 15.0
"""So much louder than the quietest setting, it is as sure as this gets."""
LIKE_SINGLE_DB = 6.0
"""Where single coils are there to compare with: no further below them than this."""
WEAKER_DB = 3.0
"""Where there are none: so much weaker on the strings than the quiet pickup; half of two coils loses 6 dB."""
LOWEST_HARMONICS = 3
"""No pickup lies near a node of these."""
MOST_SURE = 0.9
"""Hum differs with how the guitar is held from take to take: a hint, no more."""


def humming(plucks: Sequence[SoundPluck], *, hum_db: Mapping[str, float]) -> tuple[Finding, ...]:
    """Settings of one two-coil pickup that hum like a single coil; ``hum_db``: level by setting."""
    coils = {p.setting: p.mix.sources[0].coils for p in plucks if p.mix.alone and p.setting in hum_db}
    singles = sorted(hum_db[s] for s, count in coils.items() if count == 1)
    quietest = min(hum_db, key=lambda s: hum_db[s], default=None)
    found = []
    for setting, count in coils.items():
        if count == 1 or quietest is None or hum_db[setting] - hum_db[quietest] < LOUDER_DB:
            continue
        if singles:
            suspect = hum_db[setting] > singles[len(singles) // 2] - LIKE_SINGLE_DB
        else:
            suspect = _level_db(plucks, setting) < _level_db(plucks, quietest) - WEAKER_DB
        if suspect:
            louder = hum_db[setting] - hum_db[quietest]
            sure = MOST_SURE * min(1.0, 0.5 + 0.5 * (louder - LOUDER_DB) / (FULL_DB - LOUDER_DB))
            found.append(Finding("hums although it has two coils", setting, quietest, round(louder, 1), sure))
    return tuple(found)


def _level_db(plucks: Sequence[SoundPluck], setting: str) -> float:
    """Median level of the lowest harmonics at an antinode; minus infinity where it was not heard alone."""
    levels = [
        (p.levels_db - place_db(p, np.arange(1.0, len(p.levels_db) + 1)).mean(axis=0))[:LOWEST_HARMONICS]
        for p in plucks
        if p.setting == setting and p.mix.alone and p.usable[:LOWEST_HARMONICS].all()
    ]
    return float(np.median(levels)) if levels else -math.inf
