"""What is drawn of the evidence: arrays with their labels, no drawing.

Shapes: one array a trace, as named in each class. Units: ms, s, dB.
Sign: a trace keeps its own sign, ``Trace.sign`` is relative to the first trace of the exhibit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Trace:
    """One take as measured at one pickup: ``values`` of shape (samples,), largest magnitude 1."""

    take: str
    pickup: str
    values: Array
    sign: int


@dataclass(frozen=True, eq=False)
class PairExhibit:
    """Aligned takes of two pickups; ``time_ms`` has the shape of each trace's ``values``."""

    a: str
    b: str
    method: str
    time_ms: Array
    traces: tuple[Trace, ...]


@dataclass(frozen=True, eq=False)
class PhaseLine:
    """One partial of a string that rings through a switching.

    ``turns`` (points,): its phase in turns, -0.5 to 0.5, against its own course on the first stretch; NaN
    where it was not measured. ``place_signs``: for each step, +1 or -1 as the places of the pickups turn
    this partial by themselves, 0 where that is not known.
    """

    n: int
    turns: Array
    place_signs: tuple[int, ...]


@dataclass(frozen=True)
class PartialTurn:
    """How far partial ``n`` turned, 0 to 0.5 turns either way round, as heard.

    ``place_sign``: -1 where the places of the two pickups alone turn it by half, 0 where that is not known.
    """

    n: int
    turned: float
    place_sign: int


@dataclass(frozen=True)
class SwitchJump:
    """From one sound of a switch take to a later one: what each partial did, and what that tells.

    ``step``: +1 (the same sign), -1 (opposed) or 0 (not told), places taken into account.
    """

    before: str
    after: str
    partials: tuple[PartialTurn, ...]
    step: int


@dataclass(frozen=True)
class SwitchExhibit:
    """The jumps of a switch take: from one single pickup to the next, over sums where these lie between."""

    take: str
    string: str
    jumps: tuple[SwitchJump, ...]


@dataclass(frozen=True, eq=False)
class ProfileExhibit:
    """The harmonic profile of a setting of several pickups, with what adding and opposing would give.

    All (harmonics,), in dB, with the level left free: ``measured_db`` with ``scatter_db`` (one standard
    deviation); ``adding_db`` and ``opposed_db`` are predicted from the pickups alone.
    """

    setting: str
    pickups: tuple[str, ...]
    takes: tuple[str, ...]
    string: str
    harmonics: Array
    measured_db: Array
    scatter_db: Array
    adding_db: Array
    opposed_db: Array


@dataclass(frozen=True, eq=False)
class HumExhibit:
    """Hum levels of settings, in dB re full scale, (settings,).

    ``same_db`` and ``opposed_db``: for settings of several pickups, what the levels of the single ones
    predict if they are wound alike or against each other; NaN for settings of one pickup. ``noise_db``:
    where hum would drown in noise.
    """

    settings: tuple[str, ...]
    takes: tuple[str, ...]
    level_db: Array
    same_db: Array
    opposed_db: Array
    noise_db: Array
    mains_hz: float
