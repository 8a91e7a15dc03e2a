"""What a box gives with a guitar on it, by formula: noise of each input, hum, and a string struck once."""

from __future__ import annotations

from functools import cache

import numpy as np

RATE = 48_000
NOISE = 1e-4
"""RMS: -80 dB."""
HUM = 2e-3
"""Amplitude: -57 dB."""
SCALE_MM, PLACES_MM = 648.0, (162.0, 41.0)
D3_HZ = 146.83


def quiet(seconds: float, *, mains_hz: float = 60.0, hum=(HUM, HUM), seed: int = 1) -> np.ndarray:
    """(frames, 2): hum of these amplitudes and each input's own noise."""
    frames = round(seconds * RATE)
    t = np.arange(frames) / RATE
    noise = NOISE * np.random.default_rng(seed).standard_normal((frames, 2))
    return noise + np.sin(2 * np.pi * mains_hz * t)[:, None] * np.asarray(hum)


def pluck(seconds: float = 2.0, *, peak: float = 0.3) -> np.ndarray:
    """(frames, 2): a D3 over two pickups; each partial as strong as its swing above the pickup."""
    t = np.arange(round(seconds * RATE)) / RATE
    out = np.zeros((len(t), 2))
    for n in range(1, 25):
        partial = np.exp(-t * (1 + 0.2 * n)) * np.sin(2 * np.pi * n * D3_HZ * t) / n
        out += partial[:, None] * [np.sin(n * np.pi * x / SCALE_MM) for x in PLACES_MM]
    return out * peak / np.abs(out).max(axis=0)


@cache
def played(*, lead_in_s: float = 3.5, seconds: float = 7.0, peak: float = 0.3, **said) -> np.ndarray:
    """(frames, 2): quiet, with one pluck after `lead_in_s`; made once, and not to be written to."""
    out = quiet(seconds, **said)
    start = round(lead_in_s * RATE)
    struck = pluck(seconds - lead_in_s, peak=peak)
    out[start : start + len(struck)] += struck
    out.flags.writeable = False
    return out
