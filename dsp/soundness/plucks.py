"""One pluck on one setting, as `dsp.soundness` judges it, and what it may find.

Task: the contract. Shapes: levels (harmonics,), harmonic n at index n - 1. Units: dB of a partial's
amplitude re full scale, Hz, places in mm. Signs: none; levels carry no polarity.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from dsp.errors import SignalError
from dsp.mixes import Mix

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

Code = Literal[
    "fundamental missing",
    "open coil",
    "shorted coil",
    "far weaker",
    "dull",
    "twin settings",
    "hums although it has two coils",
]


@dataclass(frozen=True, eq=False)
class SoundPluck:
    """One pluck: its setting, its levels, and what is known of the string over that setting's pickup.

    ``levels_db`` where not ``usable``: no more than this (what noise leaves there), or NaN. ``mix``: the
    pickups the setting should hold, the sounding length of its places with the fret taken into account;
    ``string`` None: not named. The gain of the input is the same for all.
    """

    setting: str
    levels_db: Array
    usable: Flags
    f0_hz: float
    mix: Mix
    string: str | None = None
    fret: int = 0

    def __post_init__(self) -> None:
        if self.levels_db.ndim != 1 or self.levels_db.shape != self.usable.shape:
            raise SignalError("a pluck needs one level and one flag a harmonic")
        if not self.f0_hz > 0:
            raise SignalError(f"a pluck of {self.f0_hz} Hz has no pitch")
        if not np.isfinite(self.levels_db[self.usable]).all():
            raise SignalError("a level that is usable must be a number")


@dataclass(frozen=True)
class Finding:
    """What is not as it should be with a setting, beyond phase.

    ``setting`` None: with all settings of one pickup alike. ``other``: the setting it was compared with, or
    cannot be told from. ``detail_db``: how much weaker (fundamental, treble or the whole, as the code says;
    for twins how far their levels lie apart; for hum how far over the quiet setting). ``sure``: 0 to 1.
    """

    code: Code
    setting: str | None
    other: str | None
    detail_db: float
    sure: float
