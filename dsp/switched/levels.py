"""How strong each partial is on each setting, as if all were heard at one instant.

Task: levels across the steps of a selector, the string's own decay taken out. Shapes: envelopes (partials,
cells) and K stretches in; (partials, K) out. Units: full scale 1.0, dB, 1/s. Signs: none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dsp.conditioning import ANALYSIS_RATE
from dsp.switched.envelopes import Envelopes
from dsp.switched.instants import Piece, carried

Array = NDArray[np.float64]

LEAST_HEARD = 1.5
"""Power over its own variance at which a partial's level is measured at all."""
FASTEST_DECAY = 12.0
LEAST_CELLS = 6
TRIED_S = 0.5
MOST_DB = 12.0


@dataclass(frozen=True, eq=False)
class Levels:
    """Amplitudes (partials, K) referred to the first step, and their scatter in dB (NaN: not measured)."""

    amplitude: Array
    scatter_db: Array


def levels_of(found: Envelopes, stretches: Sequence[Piece]) -> Levels:
    """Level of every partial on every stretch, from one step to the next."""
    amplitude = np.zeros((len(found.numbers), len(stretches)))
    variance = np.zeros(amplitude.shape)
    lost = np.zeros(amplitude.shape, dtype=bool)
    for k, (left, right) in enumerate(pairwise(stretches)):
        middle = 0.5 * (found.seconds[left[1] - 1] + found.seconds[right[0]])
        before, before_var = carried(found, left, at_s=middle, last=True)
        after, after_var = carried(found, right, at_s=middle, last=False)
        if k == 0:
            amplitude[:, 0] = np.abs(before)
        ratio = np.maximum(np.abs(after), 1e-12) / np.maximum(np.abs(before), 1e-12)
        amplitude[:, k + 1] = amplitude[:, k] * np.clip(ratio, 1e-4, 1e4)
        here = before_var / np.maximum(np.square(np.abs(before)), 1e-24)
        there = after_var / np.maximum(np.square(np.abs(after)), 1e-24)
        variance[:, k + 1] = variance[:, k] + np.minimum(here, 1.0) + np.minimum(there, 1.0)
        lost[:, k] |= here > 1 / LEAST_HEARD
        lost[:, k + 1] |= there > 1 / LEAST_HEARD
    scatter = np.minimum(20 / np.log(10) * np.sqrt(0.5 * variance), MOST_DB)
    return Levels(amplitude, np.where(lost, np.nan, scatter))


def decays_of(found: Envelopes, stretches: Sequence[Piece]) -> Array:
    """Decay of each partial, 1/s, (partials,): the common slope of its level within the stretches."""
    out = np.zeros(len(found.numbers))
    for row in range(len(out)):
        above, below = 0.0, 0.0
        for a, b in stretches:
            count = min(b - a, round(TRIED_S * ANALYSIS_RATE / found.reach))
            power = np.square(np.abs(found.values[row, a : a + count]))
            t = found.seconds[a : a + count]
            if count < LEAST_CELLS or np.mean(power) < 2 * found.noise_with_hum[row]:
                continue
            t = t - np.mean(t)
            slope = np.log(power + 0.1 * np.mean(power))
            above += float(-0.5 * np.sum(t * slope))
            below += float(np.sum(t * t))
        out[row] = above / below if below > 0 else 0.0
    return np.asarray(np.clip(out, 0.0, FASTEST_DECAY))
