"""What a report draws of the evidence: arrays with their labels, no drawing.

Signs: a trace's ``sign`` is its sign relative to the first trace of the exhibit; every trace is
normalised to a largest magnitude of 1 and NOT turned over. A positive correlation means "the same
sign", a negative one "opposed".
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
    """Aligned takes of two pickups and their signed correlation against lag.

    ``time_ms`` has the shape of each trace's ``values``; ``lags_ms`` that of ``correlation``;
    ``best_positive`` and ``best_negative`` are (lag in ms, signed value) of the two best peaks, None
    where the curve has no peak of that sign.
    """

    a: str
    b: str
    method: str
    time_ms: Array
    traces: tuple[Trace, ...]
    lags_ms: Array
    correlation: Array
    best_positive: tuple[float, float] | None
    best_negative: tuple[float, float] | None
