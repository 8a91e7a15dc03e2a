"""Onsets of plucks: roughly, all of a take; then one of them to a fraction of a period.

Shapes: signal (frames,) at the analysis rate. Units: samples at that rate, seconds, Hz, dB.
Sign: turning the signal over changes nothing.

Rough: spectral flux in mel bands and its peaks, defined as librosa 0.11's onset_strength and onset_detect
(Slaney's mel scale and bands of equal area), with which tests/dsp compares every place; librosa itself is not
loaded, since its compiler takes 130 MB. Then the level has to rise there. Fine: the change point at which
"energy before" and "misfit of the partials after" together are least (sources T3).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.signal.pitch import Partials, Pitch, decays, fitted_partials
from dsp.signal.samples import ANALYSIS_RATE, band, band_within

Array = NDArray[np.float64]

HOP = 64
FRAME = 512
STEP_S = 0.03
"""Length of the two stretches whose levels are compared across a rough onset."""
RISE_DB = 6.0
"""A pluck over the ringing of the last one rises at least this much."""
AUDIBLE_DB = -26.0
"""An onset whose level stays this far below the loudest in the take is no pluck."""
APART_S = 0.12
BRIGHT_HZ = 1200.0
BRIGHT_S = 0.01
BRIGHT_RISE_DB = 9.0
BRIGHT_AUDIBLE_DB = -15.0
"""What a pick adds above ``BRIGHT_HZ``: 14 dB and more for a second pluck on the simulated bench, at most
3 dB anywhere else in the real plucks of tests/dsp."""
STEADY_RATIO = 1.5
NEAR_S = 0.06
LEAST_BEFORE_S = 0.005
"""Where less than this lies before an onset, nothing can be said of what came before."""
FIT_PARTIALS = 10
HIGHEST_PARTIAL_HZ = 3500.0
SEARCH_PERIODS = 1.6
FIT_PERIODS = 7.0
ROUNDS = 3
SETTLES_PERIODS = 16.0
"""Of the pitch: so far from its ends a filter from half the pitch on gives what it gives on the whole."""
RINGS_FOR_S = 0.5
"""After an onset, the level of its partials is looked at for less than this."""
BANDS = 40
BAND_HZ = (35.0, 4000.0)
"""Mel bands of the spectral flux, and where they lie."""
MEL_BREAK_HZ, MEL_BREAK = 1000.0, 15.0
LEAST_POWER = 1e-10
DEEPEST_DB = 80.0
AT_ONCE = 512
"""Frames transformed together, for memory."""
DELTA = 0.06
PEAK_S = 0.03
MEAN_S = 0.1


@dataclass(frozen=True, eq=False)
class Onset:
    """A pluck's fine onset (fractional samples are not resolved) and its partials referred to it."""

    sample: int
    partials: Partials


def rough_onsets(x: Array, *, audible_db: float = AUDIBLE_DB) -> list[int]:
    """Samples at which something begins to sound, in order; empty where nothing does.

    ``audible_db``: how far below the loudest an onset may lie. Candidates are where the spectrum changes
    (`flux_places`), where the level jumps most, and the start of the take.
    """
    if len(x) < 4 * FRAME or not np.any(x):
        return []
    banded = onset_band(x)
    places = flux_places(banded)
    power = _power_up_to(banded)
    steepest = [_steepest(power, place) for place in places]
    risen = _risen(banded, sorted({0, _steepest(power, None), *steepest}), audible_db=audible_db)
    picked = _bright_onsets(x, places)
    apart = [at for at in picked if all(abs(at - other) > APART_S * ANALYSIS_RATE for other in risen)]
    return sorted([*risen, *apart]) if risen else []


def onset_band(x: Array) -> Array:
    """``x`` within ``BAND_HZ``, where onsets are looked for."""
    return band(x, low_hz=BAND_HZ[0], high_hz=BAND_HZ[1])


def flux_places(banded: Array) -> list[int]:
    """Samples at which the spectrum of ``banded`` (frames,), at the analysis rate, changes most; in order.

    As librosa's onset_strength and onset_detect have it: half a frame after the centre of the frame that
    differs most from the one before it.
    """
    levels = _mel_levels(banded)
    flux = np.maximum(np.diff(levels, axis=0, prepend=levels[:1]), 0.0).mean(axis=1)
    flux -= flux.min()
    if flux.max() <= 0:
        return []
    flux /= flux.max()
    per_s = ANALYSIS_RATE / HOP
    before, around = int(PEAK_S * per_s), int(MEAN_S * per_s)
    largest = scipy.ndimage.maximum_filter1d(flux, before + 1, origin=before // 2, mode="nearest")
    ends = np.arange(len(flux))
    low, high = np.maximum(ends - around, 0), np.minimum(ends + around + 1, len(flux))
    sums = np.concatenate([[0.0], np.cumsum(flux)])
    mean = (sums[high] - sums[low]) / (high - low)
    peaks = np.flatnonzero((flux >= largest) & (flux >= mean + DELTA))
    places: list[int] = []
    for frame in peaks:
        at = int(frame) * HOP + FRAME // 2
        if not places or at - places[-1] > APART_S * ANALYSIS_RATE:
            places.append(at)
    return [at for at in places if at < len(banded)]


def _mel_levels(banded: Array) -> Array:
    """Level in each mel band, dB, (frames, BANDS); the frames are centred at multiples of ``HOP``."""
    padded = np.pad(banded, FRAME // 2)
    frames = np.lib.stride_tricks.sliding_window_view(padded, FRAME)[::HOP]
    window = np.hanning(FRAME + 1)[:-1]
    parts = []
    for start in range(0, len(frames), AT_ONCE):
        spectrum = scipy.fft.rfft(frames[start : start + AT_ONCE] * window, axis=1)
        heard = spectrum[:, : len(_mel_bands())]
        parts.append((np.square(heard.real) + np.square(heard.imag)) @ _mel_bands())
    levels: Array = 10 * np.log10(np.maximum(np.concatenate(parts), LEAST_POWER))
    floored: Array = np.maximum(levels, levels.max() - DEEPEST_DB)
    return floored


@cache
def _mel_bands() -> Array:
    """Triangles of equal area, evenly spaced in mel: (bins up to the highest, BANDS)."""
    low, high = (_mel(hz) for hz in BAND_HZ)
    edges = np.array([_hz(mel) for mel in np.linspace(low, high, BANDS + 2)])
    hz = np.fft.rfftfreq(FRAME, 1 / ANALYSIS_RATE)[:, np.newaxis]
    hz = hz[hz[:, 0] < edges[-1]]
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


def fine_onset(x: Array, *, rough: int, pitch: Pitch) -> Onset | None:
    """Change-point onset of the pluck near sample ``rough``; None where too little rings after it.

    Needs nine periods of ringing after ``rough``.
    """
    period = ANALYSIS_RATE / pitch.f0_hz
    if rough + (FIT_PERIODS + 2) * period > len(x):
        return None
    low, high = _around(rough, period=period, length=len(x))
    banded = band(x[low:high], low_hz=0.5 * pitch.f0_hz, high_hz=min(12 * pitch.f0_hz, 5000.0))
    rough -= low
    hz = np.array([pitch.partial_hz(n) for n in range(1, FIT_PARTIALS + 1)])
    hz = hz[hz < HIGHEST_PARTIAL_HZ]
    decay = decays(banded, start=int(rough + period), hz=hz, period_s=1 / pitch.f0_hz)
    at = rough
    for _ in range(ROUNDS):
        start = int(at + period / 4) if at != rough else int(at + period)
        stop = int(at + (FIT_PERIODS + 0.25) * period)
        partials = fitted_partials(banded, start=start, stop=stop, hz=hz, decay=decay)
        candidates = _change_point(banded, partials, centre=at, until=start, period=period)
        if candidates == at:
            break
        at = candidates
    start = int(at + period / 4)
    partials = fitted_partials(
        banded, start=start, stop=int(at + (FIT_PERIODS + 0.25) * period), hz=hz, decay=decay
    )
    return Onset(at + low, partials.referred_to(float(at)))


def _around(at: int, *, period: float, length: int) -> tuple[int, int]:
    """The stretch that an onset is found in, with room for a filter to settle; a take may hold many."""
    before = (ROUNDS * SEARCH_PERIODS + SETTLES_PERIODS) * period
    after = (ROUNDS * SEARCH_PERIODS + FIT_PERIODS + SETTLES_PERIODS) * period + RINGS_FOR_S * ANALYSIS_RATE
    return max(0, int(at - before)), min(length, int(at + after))


def _change_point(banded: Array, partials: Partials, *, centre: int, until: int, period: float) -> int:
    low = max(0, int(centre - SEARCH_PERIODS * period))
    high = min(int(centre + SEARCH_PERIODS * period), len(banded))
    end = max(until, high)
    piece = banded[low:end]
    before = np.concatenate([[0.0], np.cumsum(np.square(piece))])
    misfit = np.square(piece - partials.waveform(low, end))
    after = np.concatenate([np.cumsum(misfit[::-1])[::-1], [0.0]])
    cost = (before + after)[: high - low]
    return low + int(np.argmin(cost))


def steepest_rise(x: Array) -> int:
    """The sample at which the level jumps most: where a pluck begins, if there is one."""
    return _steepest(_power_up_to(onset_band(x)), None)


def _power_up_to(x: Array) -> Array:
    """Power of all samples of ``x`` before each, and of all, (frames + 1,)."""
    return np.concatenate([[0.0], np.cumsum(np.square(x))])


def _steepest(power: Array, near: int | None) -> int:
    """The sample of the largest jump in level: over the whole take, or near a rough place.

    ``power`` (frames + 1,) is that up to each sample.
    """
    width, soon = int(STEP_S / 2 * ANALYSIS_RATE), int(STEP_S / 6 * ANALYSIS_RATE)
    reach, frames = int(NEAR_S * ANALYSIS_RATE), len(power) - 1
    low, high = (0, frames) if near is None else (near - reach, near + reach)
    low, high = max(int(LEAST_BEFORE_S * ANALYSIS_RATE), low), min(frames, max(high, width))
    if high <= low:
        return 0
    here = power[low:high]
    after = (_from(power, low + soon, high + soon) - here) / soon
    before = (here - _from(power, low - width, high - width)) / np.minimum(np.arange(low, high), width)
    floor = 1e-4 * float(np.max(after)) + 1e-20
    return low + int(np.argmax((after + floor) / (before + floor) * np.minimum(1.0, after / (100 * floor))))


def _from(power: Array, start: int, stop: int) -> Array:
    """``power`` from ``start`` to ``stop``, its ends standing for what lies beyond them."""
    if start >= 0 and stop <= len(power):
        return power[start:stop]
    return power[np.clip(np.arange(start, stop), 0, len(power) - 1)]


def _risen(banded: Array, candidates: list[int], *, audible_db: float) -> list[int]:
    """Candidates that rise out of what came before and are loud enough, the steepest of each group.

    The start of a take counts where nothing that rises later is as loud: then the take begins in sound.
    """
    width, guard = int(STEP_S * ANALYSIS_RATE), int(0.002 * ANALYSIS_RATE)
    loudness = {
        at: float(np.mean(np.square(banded[at : at + 3 * width]))) for at in candidates if at < len(banded)
    }
    floor = max(loudness.values(), default=0.0) * 1e-6 + 1e-30
    rise: dict[int, float] = {}
    for at in loudness:
        before = banded[max(0, at - width - guard) : max(0, at - guard)]
        after = float(np.mean(np.square(banded[at : at + width])))
        if len(before) >= LEAST_BEFORE_S * ANALYSIS_RATE and at + width <= len(banded):
            rise[at] = (after + floor) / (float(np.mean(np.square(before))) + floor)
    rising = [at for at, ratio in rise.items() if ratio > 10 ** (RISE_DB / 10)]
    loudest = max((loudness[at] for at in rising), default=0.0)
    audible = [at for at in rising if loudness[at] > loudest * 10 ** (audible_db / 10)]
    if loudness.get(0, 0.0) > loudest:
        begins = [] if not np.any(banded) or _steady(banded) else [0]
        audible = [at for at in audible if at > APART_S * ANALYSIS_RATE] if begins else audible
        return [*begins, *_steepest_of_each(audible, rise)]
    return _steepest_of_each(audible, rise)


def _bright_onsets(x: Array, candidates: list[int]) -> list[int]:
    """Those of ``candidates`` at which the bright part of the sound jumps: a pick over a string that rings.

    A second pluck of one strength with the first hardly moves the level, but it is bright, and the
    ringing no longer is.
    """
    after_n, gap, before_n = (
        int(BRIGHT_S * ANALYSIS_RATE),
        int(BRIGHT_S * ANALYSIS_RATE / 5),
        int(2 * BRIGHT_S * ANALYSIS_RATE),
    )
    levels: dict[int, float] = {}
    rises: dict[int, float] = {}
    for near in candidates:
        low, high = near - int(NEAR_S * ANALYSIS_RATE), near + int(NEAR_S * ANALYSIS_RATE)
        at = np.arange(max(gap + before_n, low), min(len(x) - after_n, high))
        if not len(at):
            continue
        first = int(at[0]) - gap - before_n
        last = int(at[-1]) + after_n
        power = _power_up_to(band_within(x, first, last, low_hz=BRIGHT_HZ, high_hz=4 * BRIGHT_HZ))
        here = at - first
        after = (power[here + after_n] - power[here]) / after_n
        before = (power[here - gap] - power[here - gap - before_n]) / before_n
        ratio = after / (before + 1e-6 * float(after.max()) + 1e-30)
        best = int(np.argmax(ratio))
        levels[int(at[best])], rises[int(at[best])] = float(after[best]), float(ratio[best])
    loudest = max(levels.values(), default=0.0)
    return [
        at
        for at in levels
        if rises[at] > 10 ** (BRIGHT_RISE_DB / 10) and levels[at] > loudest * 10 ** (BRIGHT_AUDIBLE_DB / 10)
    ]


def _steepest_of_each(candidates: list[int], rise: dict[int, float]) -> list[int]:
    kept: list[int] = []
    for at in sorted(candidates, key=lambda at: -rise[at]):
        if all(abs(at - other) > APART_S * ANALYSIS_RATE for other in kept):
            kept.append(at)
    return sorted(kept)


def _steady(banded: Array) -> bool:
    """Whether the level does not fall through the take: noise or hum, not a string that dies away."""
    part = min(len(banded) // 3, int(0.3 * ANALYSIS_RATE))
    first, last = banded[:part], banded[-part:]
    return bool(np.mean(np.square(first)) < STEADY_RATIO * np.mean(np.square(last)))
