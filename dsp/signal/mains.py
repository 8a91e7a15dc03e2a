"""The mains frequency, and mains lines fitted where nothing moves and taken out of the whole take.

Task: (1) the one mains frequency of one or several stretches, with the partials of a ringing string set
aside; (2) amplitudes of lines 1 to 10 on the quiet before an onset, and the take without those that stand
out. Shapes: signal (frames,) at the analysis rate; thinned stretches (samples,) at ``THIN_RATE``. Units: Hz,
full scale 1.0. Sign: subtraction only; turning the signal over turns every amplitude by half a turn.
Source: F2 (50 Hz within 1 % for 99.5 % of a year); over seconds some hundredths of a hertz (common practice).

(1) is maximum likelihood in white noise: the power that all lines of one fundamental hold, fitted together
with amplitudes of their own in each stretch, over a grid of fundamentals. The inner products come from a zoom
FFT, the Gram matrix of the lines in closed form.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.signal.samples import ANALYSIS_RATE

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

NOMINAL_HZ = (50, 60)
LINES = 10
USUAL_OFFSET = 0.002
"""A mains frequency is usually no further from the nominal one than this part of it."""
MOST_OFFSET = 0.0105
"""F2's 1 %, and a little."""
RARE_NATS = 12.0
"""A frequency beyond ``USUAL_OFFSET`` has to explain the stretches better than any within by so much: below
that it may be noise, and hum that is taken out at a wrong frequency comes back later in the take."""
STEP_TURNS = 0.25
"""From step to step of the grid line 10 turns by so much over the longest stretch, at most."""
FEWEST_STEPS = 106
"""A step of two hundredths of a per cent at most."""
FINE_STEPS = 31
"""On either side of the best step, the same again."""
THIN_RATE = 1600
"""Enough for line 10 of 60 Hz."""
SHORTEST_S = 0.10
LINE_SNR = 3.0
PARTIAL_REACH = 2.5
"""A line that may lie so near to a string's partial, in units of one over the length, is left out."""


@dataclass(frozen=True)
class MainsLines:
    """The lines that stand out: their common fundamental and complex amplitudes at sample 0."""

    fundamental_hz: float
    amplitudes: dict[int, complex]

    def waveform(self, frames: int) -> Array:
        """The hum itself over ``frames`` samples, shape (frames,)."""
        turn = np.exp(2j * np.pi * self.fundamental_hz / ANALYSIS_RATE * np.arange(frames))
        out, power = np.zeros(frames, dtype=complex), np.ones(frames, dtype=complex)
        for n in range(1, max(self.amplitudes) + 1):  # each line is a power of the first
            power *= turn
            if n in self.amplitudes:
                out += self.amplitudes[n] * power
        return np.asarray(out.real)


def mains_lines(quiet: Array, *, mains_hz: int | None = None) -> MainsLines | None:
    """Fit mains lines on a stretch where nothing moves; None where none stand out.

    ``quiet`` begins at sample 0 of the take. ``mains_hz`` None tries both 50 and 60.
    """
    if len(quiet) < SHORTEST_S * ANALYSIS_RATE:
        return None
    x = quiet - np.mean(quiet)
    fundamental = mains_frequency([thinned(x)], NOMINAL_HZ if mains_hz is None else (mains_hz,))
    basis = _basis(len(x), fundamental=fundamental)
    weights = np.linalg.lstsq(basis, x, rcond=None)[0]
    misfit = float(np.sum(np.square(x - basis @ weights)))
    freedom = max(1, len(x) - len(weights))
    error = np.sqrt(2 * misfit / freedom / len(x) * 2)
    pairs = weights.reshape(-1, 2)
    amplitudes = {
        n: complex(c, -s)
        for n, (c, s) in enumerate(pairs, start=1)
        if np.hypot(c, s) > LINE_SNR * error and n * fundamental < ANALYSIS_RATE / 2
    }
    return MainsLines(fundamental, amplitudes) if amplitudes else None


def without_mains(x: Array, *, quiet: Array, mains_hz: int | None = None) -> Array:
    """Return ``x`` less the mains lines that stand out on ``quiet`` (the first samples of ``x``)."""
    lines = mains_lines(quiet, mains_hz=mains_hz)
    return x if lines is None else x - lines.waveform(len(x))


def thinned(x: Array) -> Array:
    """``x``, at the analysis rate, at ``THIN_RATE``."""
    return np.asarray(scipy.signal.resample_poly(x, 1, ANALYSIS_RATE // THIN_RATE))


def mains_frequency(
    stretches: Sequence[Array], nominal: tuple[int, ...], *, partials_hz: Sequence[float] = ()
) -> float:
    """The mains frequency, near one of ``nominal``, of thinned stretches that share it.

    ``partials_hz``: partials of a string that rings in them.
    """
    pieces = [_without_partials(x, partials_hz) for x in stretches]
    longest_s = max(len(x) for x in pieces) / THIN_RATE

    def explained(grid: Array) -> Array:
        return np.asarray(np.sum([_explained_nats(x, grid, partials_hz) for x in pieces], axis=0))

    usual, rare = (-np.inf, 0.0, 0.0), (-np.inf, 0.0, 0.0)
    for hz in nominal:
        steps = max(FEWEST_STEPS, int(2 * MOST_OFFSET * LINES * hz * longest_s / STEP_TURNS))
        grid = hz * (1 + np.linspace(-MOST_OFFSET, MOST_OFFSET, steps | 1))
        nats = explained(grid)
        near = np.abs(grid / hz - 1) <= USUAL_OFFSET
        step = float(grid[1] - grid[0])
        rare = max(rare, (float(nats.max()), float(grid[np.argmax(nats)]), step))
        usual = max(usual, (float(nats[near].max()), float(grid[near][np.argmax(nats[near])]), step))
    _, best, step = rare if rare[0] > usual[0] + RARE_NATS else usual
    fine = np.linspace(best - step, best + step, FINE_STEPS)
    return _peak(fine, explained(fine))


def _explained_nats(x: Array, grid: Array, partials_hz: Sequence[float]) -> Array:
    """How much likelier ``x`` is with the lines of each fundamental than without any, (len(grid),), nats."""
    total = float(x @ x)
    reach = PARTIAL_REACH * THIN_RATE / len(x)
    numbers = [
        n
        for n in range(1, LINES + 1)
        if all(not n * grid[0] - reach < hz < n * grid[-1] + reach for hz in partials_hz)
    ]
    if total == 0 or not numbers:
        return np.zeros(len(grid))
    along = np.stack(
        [
            scipy.signal.zoom_fft(x, [n * grid[0], n * grid[-1]], len(grid), fs=THIN_RATE, endpoint=True)
            for n in numbers
        ],
        axis=1,
    )
    both = np.concatenate([along, np.conj(along)], axis=1)
    turning = np.concatenate([numbers, [-n for n in numbers]])
    apart, which = np.unique(turning[np.newaxis, :] - turning[:, np.newaxis], return_inverse=True)
    gram = _sum_of_turns(2 * np.pi / THIN_RATE * np.outer(grid, apart), len(x))[:, which]
    weights = np.linalg.solve(gram, both[:, :, np.newaxis])[:, :, 0]
    held = np.real(np.sum(np.conj(both) * weights, axis=1))
    return np.asarray(-0.5 * len(x) * np.log(np.maximum(1 - held / total, 1e-12)))


def _sum_of_turns(angle: Array, count: int) -> ComplexArray:
    """Sum of exp(i angle t) over t = 0 .. count - 1."""
    half = np.sin(angle / 2)
    near = np.abs(half) < 1e-12
    ratio = np.where(near, count, np.sin(count * angle / 2) / np.where(near, 1.0, half))
    return np.asarray(ratio * np.exp(0.5j * (count - 1) * angle))


def _without_partials(x: Array, partials_hz: Sequence[float]) -> Array:
    """``x`` without a string's partials, each with a level that grows or falls evenly."""
    below = [hz for hz in partials_hz if hz < 0.45 * THIN_RATE]
    if not below:
        return x
    t = np.arange(len(x)) / THIN_RATE
    angles = 2 * np.pi * np.outer(t, below)
    waves = np.concatenate([np.cos(angles), np.sin(angles)], axis=1)
    basis = np.concatenate([waves, waves * np.linspace(-1, 1, len(x))[:, np.newaxis]], axis=1)
    return np.asarray(x - basis @ np.linalg.lstsq(basis, x, rcond=1e-9)[0])


def _peak(grid: Array, nats: Array) -> float:
    """Place of the largest of ``nats``, between the steps by a parabola."""
    k = int(np.clip(np.argmax(nats), 1, len(grid) - 2))
    left, middle, right = nats[k - 1 : k + 2]
    bend = left - 2 * middle + right
    shift = float(np.clip(0.5 * (left - right) / bend, -1, 1)) if bend < 0 else 0.0
    return float(grid[k] + shift * (grid[1] - grid[0]))


def _basis(frames: int, *, fundamental: float) -> Array:
    """Cosine and sine of every line, (frames, 2 * lines): each line is a power of the first."""
    turn = np.exp(2j * np.pi * fundamental / ANALYSIS_RATE * np.arange(frames))
    power = turn.copy()
    rows = np.empty((LINES, 2, frames))
    for row in rows:
        row[0], row[1] = power.real, power.imag
        power *= turn
    return rows.reshape(2 * LINES, frames).T
