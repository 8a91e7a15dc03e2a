"""Waves on evenly spaced samples, sums with them and sums of them, as small matrix products.

Task: waves exp(turn k), k = 0 .. count - 1, for some turns; the sums over a signal times each of them; the
signal that is a sum of them; least squares on a basis of few columns. Shapes: turns (waves,), complex, of one
sample (`turns_of`: 2 pi i hz over the rate, less a decay); signals (frames,); waves (waves, frames).
Sign: exp(+turn k); who wants the Fourier sum at a frequency passes the negative turn.

A wave at k = row * width + column is the product of one over the rows and one over the columns, so that few
exponentials are worked out and the rest is products; a sum over a signal is one matrix product.
"""

from __future__ import annotations

import math

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.signal.samples import ANALYSIS_RATE

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

WELL_POSED = 1e-3
"""Ratio of the smallest to the largest pivot down to which normal equations give what least squares give."""


def turns_of(hz: Array, *, decay: Array | float = 0.0, rate: float = ANALYSIS_RATE) -> ComplexArray:
    """What waves at ``hz`` that decay (1/s) turn by in one sample, (waves,)."""
    return np.asarray((2j * np.pi * hz - decay) / rate)


def waves(turns: ComplexArray, count: int) -> ComplexArray:
    """Waves over ``count`` samples from sample 0 on, (waves, count)."""
    rows, columns = _factors(turns, count)
    return np.asarray((rows[:, :, np.newaxis] * columns[:, np.newaxis]).reshape(len(turns), -1)[:, :count])


def sums_with(x: Array, turns: ComplexArray) -> ComplexArray:
    """The sum of ``x``, (frames,) or several, times each wave, (waves,); sample 0 is the first of ``x``."""
    frames = x.shape[-1]
    rows, columns = _factors(turns, frames)
    width = columns.shape[1]
    whole = frames // width * width
    across = np.ascontiguousarray(columns.T).view(np.float64)
    rough = (x[..., :whole].reshape(*x.shape[:-1], -1, width) @ across).view(np.complex128)
    total = np.sum(rows.T[: rough.shape[-2]] * rough, axis=-2)
    if whole < frames:
        left = (x[..., whole:] @ across[: frames - whole]).view(np.complex128)
        total = total + rows[:, -1] * left
    return np.asarray(total)


def sum_of(amplitudes: ComplexArray, turns: ComplexArray, count: int) -> Array:
    """The real part of the sum of the waves with these amplitudes at sample 0, (count,)."""
    rows, columns = _factors(turns, count)
    rows = rows * amplitudes[:, np.newaxis]
    parts = np.concatenate([rows.real, -rows.imag]).T
    return np.asarray((parts @ np.concatenate([columns.real, columns.imag])).reshape(-1)[:count])


def framed_sums(x: Array, turns: ComplexArray, *, window: Array, hop: int) -> ComplexArray:
    """The same of each stretch under ``window`` that begins ``hop`` samples later, (stretches, waves).

    Phases count from the start of each stretch.
    """
    if len(x) < len(window):
        return np.zeros((0, len(turns)), dtype=np.complex128)
    frames = np.ascontiguousarray(np.lib.stride_tricks.sliding_window_view(x, len(window))[::hop])
    kernel = np.ascontiguousarray((waves(turns, len(window)) * window).T)
    return np.asarray((frames @ kernel.view(np.float64)).view(np.complex128))


def least_squares(basis: Array, x: Array, *, rcond: float) -> Array:
    """Weights of the columns of ``basis``, (frames, columns), that leave least of ``x``; ``rcond`` cuts.

    By normal equations where these are well posed, else by singular values.
    """
    factor, fails = scipy.linalg.lapack.dpotrf(basis.T @ basis, lower=True)
    pivots = np.diagonal(factor)
    if fails or pivots.min(initial=1.0) < WELL_POSED * pivots.max(initial=0.0):
        return np.asarray(np.linalg.lstsq(basis, x, rcond=rcond)[0])
    weights: Array = scipy.linalg.lapack.dpotrs(factor, basis.T @ x, lower=True)[0]
    return weights


def _factors(turns: ComplexArray, count: int) -> tuple[ComplexArray, ComplexArray]:
    """Waves at the starts of the rows, (waves, rows), and along one row, (waves, width)."""
    width = max(1, math.isqrt(count))
    starts = width * np.arange(-(-count // width))
    return np.exp(np.multiply.outer(turns, starts)), np.exp(np.multiply.outer(turns, np.arange(width)))
