"""What a recorder does by itself to the gain, heard in the noise: it rides, it shuts, it leaves holes.

Task: tell automatic gain, a gate and noise suppression from an input that is left alone. The noise of an
input is steady at all frequencies; a string rings least at the top of the band, and there each partial goes
its own way. Shapes: one channel (frames,). Units: dB, seconds. Signs: none; turning the channel over changes
nothing.

Source: the power of Gaussian noise in one cell of a spectrogram is exponential, and the natural logarithm of
that has the standard deviation pi / sqrt 6 (the Gumbel distribution's): 5.57 dB, whatever the spectrum.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dsp.conditioning import at_analysis_rate, band

Array = NDArray[np.float64]

STEP_S = 0.1
HIGH_PARTS = ((0.28, 0.34), (0.34, 0.40), (0.40, 0.46))
"""Bands, as parts of the rate, where little is but noise."""
CLIMB_S = 1.0
STEP_DB = 6.0
"""A climb has no step in it: a string that is struck is none."""
SHELF_S = 0.5
LEVEL_DB = 1.5
"""A shelf: the noise of a band so wide strays by a few tenths of a dB from step to step."""
NOTHING_DB = -130.0
"""Below the last bit of any converter: there is no noise to compare."""
FRAME = 512
LEAST_HZ = 500.0
"""Below, hum and what still rings would count as noise."""


def climb_db(x: Array, *, rate: int) -> float:
    """How much the noise climbs at most within `CLIMB_S`, in all the bands alike, without a step, dB."""
    levels = np.stack([_levels(x, part, rate=rate) for part in HIGH_PARTS])
    span = round(CLIMB_S / STEP_S)
    most = 0.0
    for start in range(levels.shape[1] - span):
        piece = levels[:, start : start + span + 1]
        if np.abs(np.diff(piece, axis=1)).max() < STEP_DB:
            slopes = np.polyfit(np.arange(span + 1), piece.T, 1)[0]
            most = max(most, float(slopes.min()) * span)
    return most


def shelves_apart_db(x: Array, *, rate: int) -> float:
    """How far apart the levels are at which the noise stays for a while, dB: 0 but for a gate."""
    levels = _levels(x, (HIGH_PARTS[0][0], HIGH_PARTS[-1][1]), rate=rate)
    width = round(SHELF_S / STEP_S)
    pieces = [levels[start : start + width] for start in range(len(levels) - width + 1)]
    shelves = [float(piece.mean()) for piece in pieces if np.ptp(piece) < LEVEL_DB]
    return max(shelves) - min(shelves) if shelves else 0.0


def raggedness_db(quiet: Array, *, rate: int) -> float:
    """Standard deviation of the cells of the spectrogram of a quiet stretch about their bin and frame, dB.

    Noise has 5.57 whatever its spectrum; where a suppressor let some cells through and others not, far more.
    A crackle, which is all frequencies at once, is left out with its frame. 0 where the stretch is too short
    or there is nothing in it.
    """
    x = at_analysis_rate(quiet, rate=rate)
    if len(x) < 4 * FRAME:
        return 0.0
    frames = np.lib.stride_tricks.sliding_window_view(x, FRAME)[:: FRAME // 2]
    power = np.abs(np.fft.rfft(frames * np.hanning(FRAME), axis=1)) ** 2 / FRAME**2
    lowest = int(LEAST_HZ * FRAME / 16_000)
    cells = power[:, lowest:-2]
    if np.median(cells) < 10 ** (NOTHING_DB / 10) / FRAME:
        return 0.0
    levels = 10 * np.log10(np.maximum(cells, 1e-30))
    levels -= levels.mean(axis=0)
    return float(np.std(levels - levels.mean(axis=1, keepdims=True)))


def _levels(x: Array, part: tuple[float, float], *, rate: int) -> Array:
    """Level of a band in each `STEP_S`, dB, without the ends, where the filter settles."""
    heard = band(x, low_hz=part[0] * rate, high_hz=part[1] * rate, rate=rate)
    step = round(STEP_S * rate)
    blocks = heard[: len(heard) // step * step].reshape(-1, step)
    power = np.mean(np.square(blocks), axis=1)
    return np.asarray(10 * np.log10(np.maximum(power, 10 ** (NOTHING_DB / 10))))[1:-1]
