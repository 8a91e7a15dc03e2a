"""Where the spectrum changes: spectral flux in mel bands, without librosa.

Task: the places that librosa's onset_strength and onset_detect give with the settings of
dsp.onsets.rough_onsets, for who cannot afford to load librosa: its compiler alone takes 130 MB. Shapes: a
signal (frames,) at the analysis rate. Units: samples at that rate, Hz, dB. Signs: none.

Sources: the definitions of librosa 0.11 (mel scale and bands of equal area: Slaney), with which tests/dsp
compares every place.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.conditioning import ANALYSIS_RATE
from dsp.onsets import APART_S, FRAME, HOP

Array = NDArray[np.float64]

BANDS = 40
LOWEST_HZ, HIGHEST_HZ = 35.0, 4000.0
MEL_BREAK_HZ, MEL_BREAK = 1000.0, 15.0
LEAST_POWER = 1e-10
DEEPEST_DB = 80.0
AT_ONCE = 512
"""Frames transformed together, for memory."""
DELTA = 0.06
PEAK_S = 0.03
MEAN_S = 0.1


def flux_places(heard: Array) -> list[int]:
    """Samples at which the spectrum of ``heard`` (frames,), at the analysis rate, changes most; in order.

    As librosa's onset_strength and onset_detect have it: half a frame after the centre of the frame that
    differs most from the one before it.
    """
    levels = _mel_levels(heard)
    flux = np.maximum(np.diff(levels, axis=0, prepend=levels[:1]), 0.0).mean(axis=1)
    flux -= flux.min()
    if flux.max() <= 0:
        return []
    flux /= flux.max()
    per_s = ANALYSIS_RATE / HOP
    before, around = int(PEAK_S * per_s), int(MEAN_S * per_s)
    largest = scipy.ndimage.maximum_filter1d(flux, before + 1, origin=before // 2, mode="nearest")
    mean = scipy.ndimage.uniform_filter1d(flux, 2 * around + 1, mode="nearest")
    peaks = np.flatnonzero((flux >= largest) & (flux >= mean + DELTA))
    places: list[int] = []
    for frame in peaks:
        at = int(frame) * HOP + FRAME // 2
        if not places or at - places[-1] > APART_S * ANALYSIS_RATE:
            places.append(at)
    return [at for at in places if at < len(heard)]


def _mel_levels(heard: Array) -> Array:
    """Level in each mel band, dB, (frames, BANDS); the frames are centred at multiples of ``HOP``."""
    padded = np.pad(heard, FRAME // 2)
    frames = np.lib.stride_tricks.sliding_window_view(padded, FRAME)[::HOP]
    window = np.hanning(FRAME + 1)[:-1]
    parts = []
    for start in range(0, len(frames), AT_ONCE):
        spectrum = np.abs(np.fft.rfft(frames[start : start + AT_ONCE] * window, axis=1)) ** 2
        parts.append(spectrum @ _mel_bands())
    levels: Array = 10 * np.log10(np.maximum(np.concatenate(parts), LEAST_POWER))
    floored: Array = np.maximum(levels, levels.max() - DEEPEST_DB)
    return floored


@cache
def _mel_bands() -> Array:
    """Triangles of equal area, evenly spaced in mel: (FRAME // 2 + 1, BANDS)."""
    low, high = _mel(LOWEST_HZ), _mel(HIGHEST_HZ)
    edges = np.array([_hz(mel) for mel in np.linspace(low, high, BANDS + 2)])
    hz = np.fft.rfftfreq(FRAME, 1 / ANALYSIS_RATE)[:, np.newaxis]
    rising = (hz - edges[:-2]) / (edges[1:-1] - edges[:-2])
    falling = (edges[2:] - hz) / (edges[2:] - edges[1:-1])
    shapes: Array = np.maximum(0.0, np.minimum(rising, falling)) * 2.0 / (edges[2:] - edges[:-2])
    return shapes


def _mel(hz: float) -> float:
    """Slaney's scale: even up to 1000 Hz, logarithmic above."""
    if hz < MEL_BREAK_HZ:
        return hz * 3 / 200
    return MEL_BREAK + 27 * math.log(hz / MEL_BREAK_HZ) / math.log(6.4)


def _hz(mel: float) -> float:
    return mel * 200 / 3 if mel < MEL_BREAK else MEL_BREAK_HZ * 6.4 ** ((mel - MEL_BREAK) / 27)
