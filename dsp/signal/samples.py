"""Samples as recorded to samples as analysed.

Task: refuse what cannot be worked on, remove the offset, resample to the analysis rate, cut a band.
Shapes: recording (frames, channels), signal (frames,). Units: full scale 1.0, Hz.
Sign: kept; every filter is zero-phase.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Literal

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp import SignalError

Array = NDArray[np.float64]

ANALYSIS_RATE = 16_000
LOWEST_RATE = 16_000
HIGHEST_RATE = 192_000


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
    filtered: Array = scipy.signal.resample_poly(x, up, down, window=_low_pass(max(up, down)))  # type: ignore[call-overload]
    return filtered


@lru_cache(maxsize=64)
def _low_pass(ratio: int) -> Array:
    """The filter with which resample_poly resamples by default, designed once."""
    return np.asarray(scipy.signal.firwin(20 * ratio + 1, 1 / ratio, window=("kaiser", 5.0)))


def band(x: Array, *, low_hz: float | None, high_hz: float | None, rate: int = ANALYSIS_RATE) -> Array:
    """Return ``x`` within a band, zero-phase (second-order Butterworth sections run both ways)."""
    if high_hz is not None and high_hz >= 0.95 * rate / 2:
        high_hz = None
    if low_hz is not None and high_hz is not None:
        sos = _sections((low_hz, high_hz), "bandpass", rate)
    elif high_hz is not None:
        sos = _sections((high_hz,), "lowpass", rate)
    elif low_hz is not None:
        sos = _sections((low_hz,), "highpass", rate)
    else:
        return x
    return _both_ways(*sos, x, reach=min(len(x) - 1, 3 * rate // 100))


def _both_ways(sections: Array, steady: Array, x: Array, *, reach: int) -> Array:
    """``x`` filtered onwards and backwards, carried on by its own turned over; as scipy's sosfiltfilt.

    ``steady``: the sections' state after an endless one; ``reach``: how far the signal is carried on.
    """
    carried = np.concatenate([2 * x[0] - x[reach:0:-1], x, 2 * x[-1] - x[-2 : -reach - 2 : -1]])
    onwards, _ = scipy.signal.sosfilt(sections, carried, zi=steady * carried[0])
    backwards, _ = scipy.signal.sosfilt(sections, onwards[::-1], zi=steady * onwards[-1])
    return np.asarray(backwards[::-1][reach : reach + len(x)])


@lru_cache(maxsize=256)
def _sections(
    edges_hz: tuple[float, ...], kind: Literal["bandpass", "lowpass", "highpass"], rate: int
) -> tuple[Array, Array]:
    """The second-order sections of a filter and their steady state, designed once."""
    edges = edges_hz if len(edges_hz) > 1 else edges_hz[0]
    sections = np.asarray(scipy.signal.butter(2, edges, kind, fs=rate, output="sos"))
    return sections, np.asarray(scipy.signal.sosfilt_zi(sections))


def level_db(x: Array) -> float:
    """RMS level in dB re full scale; minus infinity for nothing."""
    power = float(np.mean(np.square(x))) if len(x) else 0.0
    return 10 * math.log10(power) if power > 0 else -math.inf
