"""Tool pulses: a steel tool pulled off a pole piece (lift) or brought to it (touch).

Task: the pulses of a take, the signed comparison of two, and from the shape whether it was a lift or a touch.
Shapes: signal (frames,) at the analysis rate; a pulse is a low-passed stretch of it, largest magnitude 1.
Units: seconds, Hz, nats. Sign: a comparison is positive for "the same sign"; a lift and a touch of one pickup
are opposite (sources P4). Nothing here calls a pulse "up".

Clicks at contact last under a millisecond and the pulse 5 to 50 ms: what is above ``LOW_PASS_HZ`` is dropped.
AC coupling adds a second lobe of the other sign (sources P6): the first lobe is the sign.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from dsp.signal.mains import without_mains
from dsp.signal.samples import ANALYSIS_RATE, band

Array = NDArray[np.float64]

LOW_PASS_HZ = 250.0
BEFORE_S = 0.06
AFTER_S = 0.14
LAG_S = 0.05
APART_S = 0.25
LEAST_OF_LARGEST = 0.35
"""A pulse smaller than this part of the largest in the take is the tool coming back, not a pulse."""
LEAST_SNR = 6.0
"""A pulse's peak over the noise before it (RMS, hum taken out), at least."""
LEAST_OVER_HUM = 2.5
"""And over all that was there before it, the hand's hum too."""
BUZZ_PERIODS = 3
BUZZ_RETURNS, BUZZ_BETWEEN = 0.7, 0.3
"""The hand's hum has a peak each period: one that stood as high for so many periods before it, or stands so
after it, and fell off in between each time, is no pulse. A lift starts abruptly and fades, once."""
FIRST_LOBE = 0.25
FIRST_EDGE = 0.5
FIRST_LOBE_NATS = 2.0
EDGE = 0.15
"""A lobe begins and ends where it passes this part of its peak."""
MOST_SHAPE_NATS = 3.0
"""The most that shape alone can say, in nats."""


@dataclass(frozen=True, eq=False)
class Pulse:
    """One pulse: ``values`` from ``BEFORE_S`` before to ``AFTER_S`` after its peak, peak magnitude 1.

    ``abrupt_start`` is positive where it starts abruptly and fades (a lift), negative where it grows
    and breaks off (a touch), in nats; ``clearness`` is the peak over the noise before it; ``peak`` is its
    magnitude, full scale 1.
    """

    sample: int
    values: Array
    abrupt_start: float
    clearness: float
    peak: float = 1.0


def pulses_of(x: Array, *, mains_hz: int | None = None) -> tuple[Pulse, ...]:
    """All clear pulses of one channel, in order; empty where there are none."""
    if not np.any(x):
        return ()
    slow = band(x, low_hz=None, high_hz=LOW_PASS_HZ)
    size = np.abs(slow)
    if size.max() == 0:
        return ()
    peaks = _separate_peaks(size)
    return tuple(pulse for at in peaks if (pulse := _pulse_at(slow, at, mains_hz=mains_hz)) is not None)


def pulse_correlation(a: Pulse, b: Pulse) -> float:
    """Best positive less best negative correlation of two pulses within ``LAG_S``, from -1 to 1."""
    _, curve = correlation_curve(a.values, b.values, longest_lag_s=LAG_S)
    return float(max(curve.max(), 0.0) + min(curve.min(), 0.0))


def correlation_curve(
    a: Array, b: Array, *, longest_lag_s: float, rate: int = ANALYSIS_RATE
) -> tuple[Array, Array]:
    """Normalised signed cross-correlation: (lags in s, values from -1 to 1).

    A positive lag means that ``b`` comes later than ``a``. Same sign and normalisation as
    obspy.signal.cross_correlation.correlate with its shift turned over.
    """
    scale = float(np.sqrt(np.sum(np.square(a)) * np.sum(np.square(b))))
    size = 1 << int(np.ceil(np.log2(len(a) + len(b))))
    spectrum = np.conj(np.fft.rfft(a, size)) * np.fft.rfft(b, size)
    whole = np.fft.irfft(spectrum, size)
    reach = min(int(longest_lag_s * rate), len(a) - 1, len(b) - 1)
    lags = np.arange(-reach, reach + 1)
    values = whole[lags % size] / scale if scale > 0 else np.zeros(len(lags))
    return lags / rate, values


def lobe_area(pulse: Pulse) -> float:
    """The area of a pulse's largest lobe, full scale times seconds: its flux, however quick the hand was."""
    at = int(BEFORE_S * ANALYSIS_RATE)
    same = pulse.values * np.sign(pulse.values[at]) > 0
    begins = at - int(np.argmin(same[at::-1])) + 1 if not same[: at + 1].all() else 0
    ends = at + int(np.argmin(same[at:])) if not same[at:].all() else len(same)
    return pulse.peak * float(np.abs(np.sum(pulse.values[begins:ends]))) / ANALYSIS_RATE


def _separate_peaks(size: Array) -> list[int]:
    left, floor = size.copy(), LEAST_OF_LARGEST * float(size.max())
    found: list[int] = []
    while True:
        at = int(np.argmax(left))
        if left[at] < floor:
            return sorted(found)
        found.append(at)
        left[max(0, at - int(APART_S * ANALYSIS_RATE)) : at + int(APART_S * ANALYSIS_RATE)] = 0.0


def _pulse_at(slow: Array, at: int, *, mains_hz: int | None) -> Pulse | None:
    start, stop = at - int(BEFORE_S * ANALYSIS_RATE), at + int(AFTER_S * ANALYSIS_RATE)
    quiet = slow[max(0, start - int(0.4 * ANALYSIS_RATE)) : max(0, start - int(0.01 * ANALYSIS_RATE))]
    if start < 0 or stop > len(slow) or len(quiet) < 0.03 * ANALYSIS_RATE:
        return None
    hum = _rms(quiet)
    noise = _rms(without_mains(quiet, quiet=quiet, mains_hz=mains_hz))
    peak = float(abs(slow[at]))
    clearness = peak / noise if noise > 0 else np.inf
    if clearness < LEAST_SNR or peak < LEAST_OVER_HUM * hum or is_buzz(slow, at, mains_hz=mains_hz):
        return None
    values = slow[start:stop] / peak
    return Pulse(at, values, _abrupt_start(values, at - start), float(clearness), peak)


def is_buzz(x: Array, at: int, *, mains_hz: int | None) -> bool:
    """Whether the peak at ``at`` is one of the hand's hum, which a tool that is just laid down brings too."""
    size = np.sign(x[at]) * x / abs(x[at])
    slack = ANALYSIS_RATE // 1000
    for hz, way in product((50, 60) if mains_hz is None else (mains_hz,), (-1, 1)):
        ends = [at + way * round(k * ANALYSIS_RATE / hz) for k in range(BUZZ_PERIODS + 1)]
        if not slack <= ends[-1] < len(x) - slack:
            continue
        returns = min(np.max(size[e - slack : e + slack + 1]) for e in ends)
        between = max(np.min(size[min(a, b) : max(a, b)]) for a, b in pairwise(ends))
        if returns > BUZZ_RETURNS and between < BUZZ_BETWEEN:
            return True
    return False


def _rms(x: Array) -> float:
    return float(np.sqrt(np.mean(np.square(x - np.mean(x)))))


def _abrupt_start(values: Array, peak: int) -> float:
    """Log of fading time over rising time, of the largest lobe and of the first clear one.

    The largest lobe of a lift always starts abruptly. A touch bounces, and its largest lobe may come
    after the contact; then the first lobe, which creeps up, tells, less surely.
    """
    largest = _fading_over_rising(values, peak, edge=EDGE)
    if largest < 0:
        return float(max(largest, -MOST_SHAPE_NATS))
    begins = int(np.argmax(np.abs(values) > FIRST_LOBE))
    lobe = values * np.sign(values[begins])
    ends = begins + int(np.argmax(lobe[begins:] <= 0)) if np.any(lobe[begins:] <= 0) else len(lobe)
    first = begins + int(np.argmax(lobe[begins:ends]))
    return float(
        np.clip(_fading_over_rising(values, first, edge=FIRST_EDGE), -FIRST_LOBE_NATS, FIRST_LOBE_NATS)
    )


def _fading_over_rising(values: Array, peak: int, *, edge: float) -> float:
    lobe = values * np.sign(values[peak]) / abs(values[peak])
    rising = lobe[:peak][::-1] < edge
    fading = lobe[peak:] < edge
    rise = int(np.argmax(rising)) if rising.any() else peak
    fade = int(np.argmax(fading)) if fading.any() else len(values) - peak
    return float(2.0 * np.log((fade + 1) / (rise + 1)))
