"""The partials of a ringing string as complex envelopes in short cells.

Task: from a signal to one complex number a partial and cell, in a frame that turns with the partial.
Shapes: a signal (frames,) at the analysis rate in; envelopes (partials, cells) complex out. Units: Hz,
samples, full scale 1.0. Signs: turning the signal over turns every envelope by half a turn.

A cell is a Hann window of an even number of periods: it has its nulls at all other harmonics, so the
partials do not leak into each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.conditioning import ANALYSIS_RATE
from dsp.mains import MainsLines
from dsp.pitch import Pitch

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Integers = NDArray[np.int64]

PARTIALS = 8
"""Higher ones may not vote: the places are not known well enough (dsp.places)."""
HIGHEST_HZ = 2600.0
SHORTEST_HOP_S = 0.0075
"""Cells of high strings take several periods, so that noise and cost stay small."""
HUM_RISE = 2.0
"""Hum may be so much stronger (power) on another setting than before the pluck (assumed)."""
SLOPE_CELLS = (1, 4, 12)
"""Lags in cells over which a partial's frequency is refined, coarse to fine."""
REFINE_S = (0.08, 0.60)
"""What part of the ringing it is refined on, counted from the onset."""
FEWEST_CELLS = 3
FLOOR_QUANTILE = 0.2
"""The partial that is weakest this often shows the noise while the string rings."""
DEEPEST = 1e-7
"""What lies 70 dB under the loudest partial is noise, whatever it is."""


@dataclass(frozen=True, eq=False)
class Hum:
    """One mains line as it comes through a partial's cells: offset in Hz and power there."""

    offset_hz: float
    power: float


@dataclass(frozen=True, eq=False)
class Envelopes:
    """``values`` (partials, cells) turn with ``hz`` (partials,), phase counted from sample 0.

    ``centres`` (cells,) in samples; a cell covers ``reach`` samples to either side. ``noise``
    (partials,) is the mean power of noise in a cell; ``hum`` has the mains lines of each partial.
    """

    numbers: tuple[int, ...]
    hz: Array
    centres: Integers
    reach: int
    values: ComplexArray
    noise: Array
    hum: tuple[tuple[Hum, ...], ...]

    @property
    def seconds(self) -> Array:
        """Time of each cell, (cells,)."""
        return np.asarray(self.centres / ANALYSIS_RATE)

    @property
    def noise_with_hum(self) -> Array:
        """Mean power in a cell where no string rings, (partials,)."""
        return np.asarray(self.noise + np.array([sum(line.power for line in lines) for lines in self.hum]))

    def retuned(self, hz: Array) -> Envelopes:
        """The same envelopes in frames that turn with ``hz``."""
        turn = np.exp(-2j * np.pi * np.outer(hz - self.hz, self.seconds))
        hum = tuple(
            tuple(Hum(line.offset_hz + float(old - new), line.power) for line in lines)
            for lines, old, new in zip(self.hum, self.hz, hz, strict=True)
        )
        return replace(self, hz=hz, values=self.values * turn, hum=hum)


def envelopes_of(x: Array, *, onset: int, end: int, pitch: Pitch, mains: MainsLines | None) -> Envelopes:
    """The partials of the string that rings from ``onset`` to ``end`` (samples of ``x``)."""
    numbers = tuple(n for n in range(1, PARTIALS + 1) if pitch.partial_hz(n) < HIGHEST_HZ)
    hz = np.array([pitch.partial_hz(n) for n in numbers])
    periods = max(1, round(SHORTEST_HOP_S * pitch.f0_hz))
    reach = round(periods * ANALYSIS_RATE / pitch.f0_hz)
    centres = np.arange(onset + 2 * reach, end - reach, reach)
    still = x if mains is None else x - mains.waveform(len(x))
    before = np.arange(reach, onset - 2 * reach, reach)
    values = _cells(x, centres, reach=reach, hz=hz)
    power = np.square(np.abs(values))
    floor = np.quantile(power, FLOOR_QUANTILE, axis=1).min() if len(centres) else 0.0
    floor = max(float(floor), DEEPEST * float(power.max(initial=0.0)))
    noise = np.full(len(hz), floor)
    if len(before) >= FEWEST_CELLS:
        quiet = np.square(np.abs(_cells(still, before, reach=reach, hz=hz)))
        noise = np.maximum(quiet.mean(axis=1), floor)
    hum = tuple(_hum_near(f, reach=reach, mains=mains) for f in hz)
    found = Envelopes(numbers, hz, centres, reach, values, noise, hum)
    low, high = (onset + s * ANALYSIS_RATE for s in REFINE_S)
    early = np.flatnonzero((centres >= low) & (centres <= high))
    return recentred(found, [(int(early[0]), int(early[-1]) + 1)]) if len(early) else found


def _cells(x: Array, centres: Integers, *, reach: int, hz: Array) -> ComplexArray:
    window = np.hanning(2 * reach + 1)
    window *= 2 / window.sum()
    offsets = np.arange(-reach, reach + 1)
    pieces = x[centres[:, np.newaxis].astype(int) + offsets] * window
    turned = pieces @ np.exp(-2j * np.pi * np.outer(offsets / ANALYSIS_RATE, hz))
    absolute = np.exp(-2j * np.pi * np.outer(hz, centres / ANALYSIS_RATE))
    return np.asarray(turned.T * absolute)


def _hum_near(hz: float, *, reach: int, mains: MainsLines | None) -> tuple[Hum, ...]:
    """The mains lines that come through the cells of a partial, at their level before the pluck."""
    if mains is None:
        return ()
    window = np.hanning(2 * reach + 1)
    t = np.arange(-reach, reach + 1) / ANALYSIS_RATE
    lines = []
    for n, amplitude in mains.amplitudes.items():
        offset = n * mains.fundamental_hz - hz
        if abs(offset) * reach < ANALYSIS_RATE:
            passed = float(np.sum(window * np.cos(2 * np.pi * offset * t)) / window.sum())
            lines.append(Hum(offset, HUM_RISE * (abs(amplitude) * passed) ** 2))
    return tuple(lines)


def recentred(found: Envelopes, pieces: Sequence[tuple[int, int]]) -> Envelopes:
    """The same envelopes in frames that turn as the partials do on ``pieces``.

    Each piece counts alike, however strong the partial is there.
    """
    for lag in SLOPE_CELLS:
        turned = np.zeros(len(found.hz), dtype=complex)
        for a, b in pieces:
            z = found.values[:, a:b]
            if b - a >= lag + FEWEST_CELLS:
                power = np.sum(np.square(np.abs(z)), axis=1) + 1e-30
                turned += np.sum(z[:, lag:] * np.conj(z[:, :-lag]), axis=1) / power
        step = np.angle(turned) / (2 * np.pi) * ANALYSIS_RATE / (lag * found.reach)
        found = found.retuned(found.hz + np.where(np.abs(turned) > 0, step, 0.0))
    return found
