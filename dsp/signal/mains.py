"""The mains frequency, and mains lines fitted where nothing moves and taken out of the whole take.

Task: (1) the one mains frequency of one or several stretches, with the partials of a ringing string set
aside; (2) amplitudes of lines 1 to 10 on the quiet before an onset, and the take without those that stand
out. Shapes: signal (frames,) at the analysis rate; thinned stretches (samples,) at ``THIN_RATE``. Units: Hz,
full scale 1.0. Sign: subtraction only; turning the signal over turns every amplitude by half a turn.
Source: F2 (50 Hz within 1 % for 99.5 % of a year); over seconds some hundredths of a hertz (common practice).

(1) is maximum likelihood in white noise: the power that all lines of one fundamental hold, fitted together
with amplitudes of their own in each stretch, over a grid of fundamentals. The inner products come from a
chirp transform, near the best from a power series, the Gram matrices of the lines in closed form.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.signal.samples import ANALYSIS_RATE, resampled
from dsp.signal.waves import least_squares, sum_of, sums_with, turns_of, waves

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
IntArray = NDArray[np.int64]

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
SERIES = 18
"""Terms of a series in an angle of at most pi / 4: the first that is left out is below 1e-17."""
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
        hz = self.fundamental_hz * np.array(list(self.amplitudes), dtype=np.float64)
        return sum_of(np.array(list(self.amplitudes.values())), turns_of(hz), frames)


def mains_lines(quiet: Array, *, mains_hz: int | None = None) -> MainsLines | None:
    """Fit mains lines on a stretch where nothing moves; None where none stand out.

    ``quiet`` begins at sample 0 of the take. ``mains_hz`` None tries both 50 and 60.
    """
    if len(quiet) < SHORTEST_S * ANALYSIS_RATE:
        return None
    x = quiet - np.mean(quiet)
    fundamental = mains_frequency([thinned(x)], NOMINAL_HZ if mains_hz is None else (mains_hz,))
    numbers = np.arange(1, LINES + 1)
    turn = turns_of(np.asarray(fundamental * numbers, dtype=np.float64))
    to_middle = np.exp(turn * (len(x) - 1) / 2)
    fit = _fitted_lines((sums_with(x, -turn) * to_middle)[np.newaxis], numbers, turn.imag[:1], len(x))
    misfit = max(0.0, float(x @ x) - float(fit.held[0]))
    freedom = max(1, len(x) - 2 * LINES)
    error = np.sqrt(2 * misfit / freedom / len(x) * 2)
    amplitudes = {
        int(n): complex(a)
        for n, a in zip(numbers, fit.amplitudes[0] / to_middle, strict=True)
        if abs(a) > LINE_SNR * error and n * fundamental < ANALYSIS_RATE / 2
    }
    return MainsLines(fundamental, amplitudes) if amplitudes else None


def without_mains(x: Array, *, quiet: Array, mains_hz: int | None = None) -> Array:
    """Return ``x`` less the mains lines that stand out on ``quiet`` (the first samples of ``x``)."""
    lines = mains_lines(quiet, mains_hz=mains_hz)
    return x if lines is None else x - lines.waveform(len(x))


def thinned(x: Array) -> Array:
    """``x``, at the analysis rate, at ``THIN_RATE``."""
    return resampled(x, up=1, down=ANALYSIS_RATE // THIN_RATE)


def mains_frequency(
    stretches: Sequence[Array], nominal: tuple[int, ...], *, partials_hz: Sequence[float] = ()
) -> float:
    """The mains frequency, near one of ``nominal``, of thinned stretches that share it.

    ``partials_hz``: partials of a string that rings in them.
    """
    pieces = [_without_partials(x, partials_hz) for x in stretches]
    longest_s = max(len(x) for x in pieces) / THIN_RATE

    def explained(grid: Array, sums: Callable[[Array, IntArray, Array], ComplexArray]) -> Array:
        return np.asarray(np.sum([_explained_nats(x, grid, partials_hz, sums) for x in pieces], axis=0))

    usual, rare = (-np.inf, 0.0, 0.0), (-np.inf, 0.0, 0.0)
    for hz in nominal:
        steps = max(FEWEST_STEPS, int(2 * MOST_OFFSET * LINES * hz * longest_s / STEP_TURNS))
        grid = hz * (1 + np.linspace(-MOST_OFFSET, MOST_OFFSET, steps | 1))
        nats = explained(grid, _sums_on_grid)
        near = np.abs(grid / hz - 1) <= USUAL_OFFSET
        step = float(grid[1] - grid[0])
        rare = max(rare, (float(nats.max()), float(grid[np.argmax(nats)]), step))
        usual = max(usual, (float(nats[near].max()), float(grid[near][np.argmax(nats[near])]), step))
    _, best, step = rare if rare[0] > usual[0] + RARE_NATS else usual
    fine = np.linspace(best - step, best + step, FINE_STEPS)
    return _peak(fine, explained(fine, _sums_nearby))


def _explained_nats(
    x: Array,
    grid: Array,
    partials_hz: Sequence[float],
    sums: Callable[[Array, IntArray, Array], ComplexArray],
) -> Array:
    """How much likelier ``x`` is with the lines of each fundamental than without any, (len(grid),), nats.

    ``sums`` takes ``x``, the numbers of the lines and the grid.
    """
    total = float(x @ x)
    reach = PARTIAL_REACH * THIN_RATE / len(x)
    numbers = np.array(
        [
            n
            for n in range(1, LINES + 1)
            if all(not n * grid[0] - reach < hz < n * grid[-1] + reach for hz in partials_hz)
        ]
    )
    if total == 0 or not len(numbers):
        return np.zeros(len(grid))
    turn = 2 * np.pi / THIN_RATE * grid
    held = _fitted_lines(sums(x, numbers, turn), numbers, turn, len(x)).held
    return np.asarray(-0.5 * len(x) * np.log(np.maximum(1 - held / total, 1e-12)))


def _sums_on_grid(x: Array, numbers: IntArray, turn: Array) -> ComplexArray:
    """Fourier sums of ``x`` at the lines of fundamentals that are evenly spaced, (fundamentals, lines).

    ``turn`` (fundamentals,): radians a sample. Phases count from the middle of ``x``. A chirp transform
    (Bluestein) for all lines at once.
    """
    before, between, after = _chirps(len(x), len(turn), float(turn[0]), float(turn[1] - turn[0]))
    rows = slice(None) if len(numbers) == LINES else numbers - 1
    turned = scipy.fft.fft(before[rows] * x, between.shape[1]) * between[rows]
    folded = scipy.fft.ifft(turned, overwrite_x=True)[:, len(x) - 1 : len(x) - 1 + len(turn)]
    return np.asarray((folded * after[rows]).T)


@lru_cache(maxsize=4)
def _chirps(length: int, count: int, first: float, step: float) -> tuple[ComplexArray, ...]:
    """The chirps of all lines, (LINES, samples): before and after a transform, and its own spectrum.

    Those of line n are the n-th powers of those of line 1. The channels of a take have them in common.
    """
    at = np.arange(length) - (length - 1) / 2
    before = np.exp(-1j * at * (first + 0.5 * step * at))
    between = np.exp(0.5j * step * np.square(np.arange(length + count - 1) - at[-1]))
    after = np.exp(-0.5j * step * np.square(np.arange(count)))
    size = scipy.fft.next_fast_len(length + count - 1)
    numbers = np.arange(1, LINES + 1)
    return (
        _powers(before, numbers),
        np.asarray(scipy.fft.fft(_powers(between, numbers), size)),
        _powers(after, numbers),
    )


def _sums_nearby(x: Array, numbers: IntArray, turn: Array) -> ComplexArray:
    """The same at fundamentals so near to each other that line 10 turns by a quarter, by a power series."""
    middle = 0.5 * (turn[0] + turn[-1])
    half = (len(x) - 1) / 2
    place = np.linspace(-1, 1, len(x))
    line = waves(np.array([-1j * middle]), len(x))[0] * np.exp(1j * middle * half)
    turned = _powers(line, numbers) * x
    moments = np.concatenate([turned.real, turned.imag]) @ np.vander(place, SERIES, increasing=True)
    complex_moments = moments[: len(numbers)] + 1j * moments[len(numbers) :]
    angle = -half * np.multiply.outer(turn - middle, numbers)
    terms = np.cumprod(
        [np.ones(angle.shape, dtype=complex), *(1j * angle / k for k in range(1, SERIES))], axis=0
    )
    return np.asarray(np.einsum("kgn,nk->gn", terms, complex_moments))


def _powers(wave: ComplexArray, numbers: IntArray) -> ComplexArray:
    """Rising powers of a wave, (numbers, samples)."""
    power = np.empty((int(numbers[-1]), len(wave)), dtype=np.complex128)
    power[0] = wave
    for n in range(1, len(power)):
        np.multiply(power[n - 1], wave, out=power[n])
    return power if len(numbers) == len(power) else power[numbers - 1]


@dataclass(frozen=True, eq=False)
class _FittedLines:
    """For each fundamental: amplitudes (fundamentals, lines) at the middle, and the power that they hold."""

    amplitudes: ComplexArray
    held: Array


def _fitted_lines(sums: ComplexArray, numbers: IntArray, turn: Array, count: int) -> _FittedLines:
    """Least squares from Fourier sums (fundamentals, lines) over ``count`` samples, phases from the middle.

    Counted from the middle, cosines and sines have nothing in common, and each has its Gram matrix.
    """
    alike = _sum_of_turns(np.multiply.outer(turn, np.arange(2 * int(numbers[-1]) + 1)), count)
    less = alike[:, np.abs(np.subtract.outer(numbers, numbers))]
    more = alike[:, np.add.outer(numbers, numbers)]
    grams = np.stack([less + more, less - more])
    along = np.stack([sums.real, -sums.imag])
    weights = np.linalg.solve(0.5 * grams, along[..., np.newaxis])[..., 0]
    return _FittedLines(weights[0] - 1j * weights[1], np.sum(along * weights, axis=(0, 2)))


def _sum_of_turns(angle: Array, count: int) -> Array:
    """Sum of cos(angle t) over ``count`` samples around 0."""
    half = np.sin(angle / 2)
    near = np.abs(half) < 1e-12
    return np.asarray(np.where(near, count, np.sin(count * angle / 2) / np.where(near, 1.0, half)))


def _without_partials(x: Array, partials_hz: Sequence[float]) -> Array:
    """``x`` without a string's partials, each with a level that grows or falls evenly."""
    below = [hz for hz in partials_hz if hz < 0.45 * THIN_RATE]
    if not below:
        return x
    turning = waves(turns_of(np.array(below), rate=THIN_RATE), len(x))
    steady = np.concatenate([turning.real, turning.imag])
    basis = np.concatenate([steady, steady * np.linspace(-1, 1, len(x))]).T
    return np.asarray(x - basis @ least_squares(basis, x, rcond=1e-9))


def _peak(grid: Array, nats: Array) -> float:
    """Place of the largest of ``nats``, between the steps by a parabola."""
    k = int(np.clip(np.argmax(nats), 1, len(grid) - 2))
    left, middle, right = nats[k - 1 : k + 2]
    bend = left - 2 * middle + right
    shift = float(np.clip(0.5 * (left - right) / bend, -1, 1)) if bend < 0 else 0.0
    return float(grid[k] + shift * (grid[1] - grid[0]))
