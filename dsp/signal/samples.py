"""Samples as recorded to samples as analysed.

Task: refuse what cannot be worked on, remove the offset, resample to the analysis rate, cut a band.
Shapes: recording (frames, channels), signal (frames,). Units: full scale 1.0, Hz.
Sign: kept; every filter is zero-phase.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp import SignalError

Array = NDArray[np.float64]

ANALYSIS_RATE = 16_000
LOWEST_RATE = 16_000
HIGHEST_RATE = 192_000
THINNED_AT_ONCE = 16
FORGOTTEN = 1e-17
"""A filter has forgotten what came before where so much is left of it."""


def checked(samples: Array, *, rate: int) -> Array:
    """Return ``samples`` as float64 of shape (frames, channels).

    Raises
    ------
    SignalError
        If the array is not one- or two-dimensional, is empty, or holds NaN or infinity.
    SignalError
        If the rate is outside 16 000 to 192 000 Hz.

    """
    array = np.asarray(samples, dtype=np.float64)
    if array.ndim == 1:
        array = array[:, np.newaxis]
    if array.ndim != 2 or array.size == 0:
        raise SignalError(f"the recording has shape {np.shape(samples)}; (frames, channels) is needed")
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise SignalError(
            f"the recording has {rate} samples a second; {LOWEST_RATE} to {HIGHEST_RATE} can be read"
        )
    if not np.isfinite(array).all():
        raise SignalError("the recording holds values that are no numbers (NaN or infinity)")
    return array


def at_analysis_rate(channel: Array, *, rate: int) -> Array:
    """Return one channel, shape (frames,), without its offset and at ``ANALYSIS_RATE``.

    Source of the resampler: scipy.signal.resample_poly (polyphase FIR, linear phase, delay removed).
    """
    centred = channel - float(np.mean(channel))
    if rate == ANALYSIS_RATE:
        return centred
    common = math.gcd(rate, ANALYSIS_RATE)
    return resampled(centred, up=ANALYSIS_RATE // common, down=rate // common)


def resampled(x: Array, *, up: int, down: int) -> Array:
    """Return ``x`` at ``up`` / ``down`` times its rate, as scipy's resample_poly has it."""
    if up > 1:
        window = _low_pass(max(up, down))
        # coefficients are as good as a window's name, which the stubs want
        filtered: Array = scipy.signal.resample_poly(x, up, down, window=window)  # type: ignore[call-overload]
        return filtered
    weights = _thinning(down)
    count = -(-len(x) // down)
    rows, reach = -(-count // THINNED_AT_ONCE), 10 * down
    carried = np.zeros((rows - 1) * THINNED_AT_ONCE * down + len(weights))
    carried[reach : reach + len(x)] = x[: len(carried) - reach]
    pieces = np.lib.stride_tricks.sliding_window_view(carried, len(weights))[:: THINNED_AT_ONCE * down]
    return np.asarray((np.ascontiguousarray(pieces) @ weights).reshape(-1)[:count])


@lru_cache(maxsize=64)
def _low_pass(ratio: int) -> Array:
    """The filter with which resample_poly resamples by default, designed once."""
    return np.asarray(scipy.signal.firwin(20 * ratio + 1, 1 / ratio, window=("kaiser", 5.0)))


@lru_cache(maxsize=16)
def _thinning(down: int) -> Array:
    """That filter as a matrix from a stretch of samples to ``THINNED_AT_ONCE`` of every ``down``-th."""
    low_pass = _low_pass(down)
    weights = np.zeros((down * (THINNED_AT_ONCE - 1) + len(low_pass), THINNED_AT_ONCE))
    for k, column in enumerate(weights.T):
        column[down * k : down * k + len(low_pass)] = low_pass
    return weights


def band(x: Array, *, low_hz: float | None, high_hz: float | None, rate: int = ANALYSIS_RATE) -> Array:
    """Return ``x`` within a band, zero-phase (second-order Butterworth sections run both ways)."""
    design = _filter(low_hz, high_hz, rate)
    return x if design is None else _both_ways(design, x, reach=min(len(x) - 1, 3 * rate // 100))


def band_within(x: Array, start: int, stop: int, *, low_hz: float | None, high_hz: float | None) -> Array:
    """Samples ``start`` to ``stop`` of `band` of ``x``, at the analysis rate, from what lies around them."""
    design = _filter(low_hz, high_hz, ANALYSIS_RATE)
    room = 0 if design is None else design.settles
    first = max(0, start - room)
    near = band(x[first : max(0, stop) + room], low_hz=low_hz, high_hz=high_hz)
    return near[max(0, start) - first : max(0, stop) - first]


@dataclass(frozen=True, eq=False)
class _Filter:
    """Second-order sections, their state after an endless one, and how long they remember, in samples."""

    sections: Array
    steady: Array
    settles: int


@lru_cache(maxsize=256)
def _filter(low_hz: float | None, high_hz: float | None, rate: int) -> _Filter | None:
    """The filter for a band, designed once; None where the band is all there is."""
    if high_hz is not None and high_hz >= 0.95 * rate / 2:
        high_hz = None
    edges = [hz for hz in (low_hz, high_hz) if hz is not None]
    if not edges:
        return None
    kind = "bandpass" if len(edges) > 1 else "lowpass" if low_hz is None else "highpass"
    design = partial(scipy.signal.butter, 2, edges if len(edges) > 1 else edges[0], kind, fs=rate)
    sections = np.asarray(design(output="sos"))
    slowest = float(np.max(np.abs(design(output="zpk")[1])))
    settles = math.ceil(math.log(FORGOTTEN) / math.log(slowest))
    return _Filter(sections, np.asarray(scipy.signal.sosfilt_zi(sections)), settles)


def _both_ways(design: _Filter, x: Array, *, reach: int) -> Array:
    """``x`` filtered onwards and backwards, carried on by its own turned over; as scipy's sosfiltfilt.

    ``reach``: how far the signal is carried on.
    """
    carried = np.concatenate([2 * x[0] - x[reach:0:-1], x, 2 * x[-1] - x[-2 : -reach - 2 : -1]])
    onwards, _ = scipy.signal.sosfilt(design.sections, carried, zi=design.steady * carried[0])
    backwards, _ = scipy.signal.sosfilt(design.sections, onwards[::-1], zi=design.steady * onwards[-1])
    return np.asarray(backwards[::-1][reach : reach + len(x)])


def level_db(x: Array) -> float:
    """RMS level in dB re full scale; minus infinity for nothing."""
    power = float(np.mean(np.square(x))) if len(x) else 0.0
    return 10 * math.log10(power) if power > 0 else -math.inf
