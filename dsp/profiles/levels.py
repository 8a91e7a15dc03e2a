"""The levels of a pluck's harmonics.

Task: one pluck to the level of each of its harmonics and to what noise and hum leave there. Shapes: a
signal (frames,) at the analysis rate, hum taken out or left in: the floor is measured in either case;
better taken out. Levels (harmonics,), harmonic n at index n - 1. Units: dB of a partial's amplitude re full
scale, Hz. Signs: none; turning the signal over changes no level.

A level is the mean in dB of three readings: a 150 ms Hann window, a 500 ms one, and the least-squares
amplitude over the first periods. One reading alone meets a beat of the two polarisations at its worst; the
three meet it at three times. Amplitudes are referred to no onset: decay belongs to string and harmonic.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.conditioning import ANALYSIS_RATE
from dsp.mains import NOMINAL_HZ
from dsp.partials import decays, fitted_partials
from dsp.pitch import Pitch

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

HARMONICS = 12
HIGHEST_HZ = 2500.0
"""Above this the resonance of coils and cable decides the level, and it moves with every setting."""
ATTACK_PERIODS = 1.0
"""Left out at the start: the pick itself."""
WINDOWS_S = (0.15, 0.5)
FIT_PERIODS = 7.25
LEAST_WINDOW_S = 0.06
"""A window that the end of the signal leaves shorter than this is not read."""
CLEAR_DB = 10.0
"""A level this far over the floor is off by 3 dB at most."""
CLEAR_NEAR_MAINS_DB = 16.0
"""Near a mains line: hum drifts between the quiet and the ringing."""
NEAR_MAINS_HZ = 6.0
"""Closer than this a line falls into the longer window's lobe."""
MAINS_LINES = 15
LEAST_QUIET_S = 0.04
SILENCE_DB = -200.0


@dataclass(frozen=True, eq=False)
class PluckLevels:
    """Levels of harmonics 1 to ``HARMONICS`` of one pluck, each (harmonics,).

    ``floor_db``: what noise and hum leave at the harmonic's place. ``usable``: stands clear of it; where it
    does not, or where the signal has no such harmonic, ``levels_db`` is no more than the floor's word.
    """

    levels_db: Array
    floor_db: Array
    usable: Flags
    f0_hz: float


def pluck_levels(
    x: Array,
    *,
    onset: int,
    quiet: int,
    pitch: Pitch,
    mains_hz: float | None = None,
    rate: int = ANALYSIS_RATE,
) -> PluckLevels:
    """Levels of the pluck that begins at sample ``onset``; nothing moves before sample ``quiet``.

    ``x`` ends where the pluck does: a following pluck is the caller's to cut off. ``mains_hz`` None: lines
    of 50 and of 60 Hz are looked out for. Where ``quiet`` is too short to tell a floor, what lies
    between the harmonics stands in for it.
    """
    numbers = np.arange(1, HARMONICS + 1)
    hz = np.array([pitch.partial_hz(int(n)) for n in numbers])
    within = hz < min(HIGHEST_HZ, 0.45 * rate)
    start = onset + int(ATTACK_PERIODS * rate / pitch.f0_hz)
    readings = [
        _windowed(x[start : start + int(seconds * rate)], hz, rate=rate)
        for seconds in WINDOWS_S
        if min(len(x) - start, int(seconds * rate)) >= LEAST_WINDOW_S * rate
    ]
    fitted = _fitted(x, start=start, hz=hz[within], pitch=pitch, rate=rate)
    if fitted is not None:
        readings.append(np.concatenate([fitted, np.full(HARMONICS - len(fitted), SILENCE_DB)]))
    if not readings:
        nothing = np.full(HARMONICS, SILENCE_DB)
        return PluckLevels(nothing, nothing, np.zeros(HARMONICS, dtype=np.bool_), pitch.f0_hz)
    levels = np.mean(readings, axis=0)
    floor = _floor(x, quiet=min(quiet, onset), start=start, hz=hz, f0_hz=pitch.f0_hz, rate=rate)
    nominal = NOMINAL_HZ if mains_hz is None else (mains_hz,)
    lines = np.array([k * one for one in nominal for k in range(1, MAINS_LINES + 1)])
    near = np.min(np.abs(hz[:, np.newaxis] - lines), axis=1) < NEAR_MAINS_HZ
    clear = levels > floor + np.where(near, CLEAR_NEAR_MAINS_DB, CLEAR_DB)
    return PluckLevels(levels, floor, np.asarray(within & clear), pitch.f0_hz)


def _windowed(piece: Array, hz: Array, *, rate: int) -> Array:
    """Level at each of ``hz`` in a Hann window over ``piece``, dB of amplitude."""
    window = np.hanning(len(piece))
    angle = -2 * np.pi * np.outer(hz, np.arange(len(piece)) / rate)
    size = np.abs(np.exp(1j * angle) @ (piece * window)) * 2 / window.sum()
    return _db(size)


def _fitted(x: Array, *, start: int, hz: Array, pitch: Pitch, rate: int) -> Array | None:
    stop = start + int(FIT_PERIODS * rate / pitch.f0_hz)
    if stop > len(x) or not len(hz):
        return None
    decay = decays(x, start=start, hz=hz, period_s=1 / pitch.f0_hz, rate=rate)
    return _db(np.abs(fitted_partials(x, start=start, stop=stop, hz=hz, decay=decay, rate=rate).amplitudes))


def _floor(x: Array, *, quiet: int, start: int, hz: Array, f0_hz: float, rate: int) -> Array:
    """What would be read at each of ``hz`` if no string rang, (harmonics,) in dB."""
    length = int(WINDOWS_S[0] * rate)
    before = x[max(0, quiet - length) : quiet]
    if len(before) < LEAST_QUIET_S * rate:
        after = x[start : start + int(WINDOWS_S[1] * rate)]
        return np.maximum(
            _windowed(after, hz - f0_hz / 2, rate=rate), _windowed(after, hz + f0_hz / 2, rate=rate)
        )
    step = rate / len(before)
    readings = np.stack([_windowed(before - before.mean(), hz + k * step, rate=rate) for k in (-1, 0, 1)])
    return np.asarray(10 * np.log10(np.mean(10 ** (readings / 10), axis=0)))


def _db(size: Array) -> Array:
    return np.asarray(np.maximum(20 * np.log10(np.maximum(size, 1e-30)), SILENCE_DB))
