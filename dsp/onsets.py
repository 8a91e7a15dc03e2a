"""Where plucks begin.

Task: first roughly, all the plucks of a take; then to a fraction of a period, one pluck. Shapes: a
signal (frames,) at the analysis rate. Units: samples at that rate, seconds, Hz. Signs: none; turning
the signal over changes nothing here.

Sources: librosa.onset for the rough places (spectral flux); the fine place is the change point at which
"energy before" and "misfit of the partials after" together are least.
"""

from __future__ import annotations

from dataclasses import dataclass

import librosa
import numpy as np
from numpy.typing import NDArray

from dsp.conditioning import ANALYSIS_RATE, band
from dsp.partials import Partials, decays, fitted_partials
from dsp.pitch import Pitch

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
FIT_PARTIALS = 10
HIGHEST_PARTIAL_HZ = 3500.0
SEARCH_PERIODS = 1.6
FIT_PERIODS = 7.0
ROUNDS = 3


@dataclass(frozen=True, eq=False)
class Onset:
    """A pluck's fine onset (fractional samples are not resolved) and its partials referred to it."""

    sample: int
    partials: Partials


def rough_onsets(x: Array, *, rate: int = ANALYSIS_RATE) -> list[int]:
    """Samples at which something begins to sound, in order; empty where nothing does."""
    if len(x) < 4 * FRAME or not np.any(x):
        return []
    heard = band(x, low_hz=35.0, high_hz=4000.0, rate=rate)
    strength = librosa.onset.onset_strength(
        y=heard.astype(np.float32), sr=rate, hop_length=HOP, n_fft=FRAME, n_mels=40, fmin=35.0, fmax=4000.0
    )
    frames = librosa.onset.onset_detect(
        onset_envelope=strength, sr=rate, hop_length=HOP, delta=0.06, wait=int(APART_S * rate / HOP)
    )
    found = [_steepest(heard, int(frame) * HOP, rate=rate) for frame in frames]
    steepest = _steepest(heard, None, rate=rate)
    if all(abs(steepest - other) > APART_S * rate for other in found):
        found.append(steepest)
    return _confirmed(heard, sorted(found), rate=rate)


def fine_onset(x: Array, *, rough: int, pitch: Pitch, rate: int = ANALYSIS_RATE) -> Onset | None:
    """Change-point onset of the pluck near sample ``rough``; None where too little rings after it.

    Needs nine periods of ringing after ``rough``.
    """
    period = rate / pitch.f0_hz
    if rough + (FIT_PERIODS + 2) * period > len(x):
        return None
    heard = band(x, low_hz=0.5 * pitch.f0_hz, high_hz=min(12 * pitch.f0_hz, 5000.0), rate=rate)
    hz = np.array([pitch.partial_hz(n) for n in range(1, FIT_PARTIALS + 1)])
    hz = hz[hz < HIGHEST_PARTIAL_HZ]
    decay = decays(heard, start=int(rough + period), hz=hz, period_s=1 / pitch.f0_hz, rate=rate)
    at = rough
    for _ in range(ROUNDS):
        start = int(at + period / 4) if at != rough else int(at + period)
        stop = int(at + (FIT_PERIODS + 0.25) * period)
        partials = fitted_partials(heard, start=start, stop=stop, hz=hz, decay=decay, rate=rate)
        found = _change_point(heard, partials, centre=at, until=start, period=period)
        if found == at:
            break
        at = found
    start = int(at + period / 4)
    partials = fitted_partials(
        heard, start=start, stop=int(at + (FIT_PERIODS + 0.25) * period), hz=hz, decay=decay, rate=rate
    )
    return Onset(at, partials.referred_to(float(at), rate=rate))


def _change_point(heard: Array, partials: Partials, *, centre: int, until: int, period: float) -> int:
    low = max(0, int(centre - SEARCH_PERIODS * period))
    high = min(int(centre + SEARCH_PERIODS * period), len(heard))
    end = max(until, high)
    piece = heard[low:end]
    before = np.concatenate([[0.0], np.cumsum(np.square(piece))])
    misfit = np.square(piece - partials.waveform(low, end))
    after = np.concatenate([np.cumsum(misfit[::-1])[::-1], [0.0]])
    cost = (before + after)[: high - low]
    return low + int(np.argmin(cost))


def _steepest(heard: Array, near: int | None, *, rate: int) -> int:
    """The sample of the largest jump in level: over the whole take, or near a rough place."""
    width = int(STEP_S / 2 * rate)
    power = np.concatenate([[0.0], np.cumsum(np.square(heard))])
    if near is None:
        low, high = 0, len(heard)
    else:
        low, high = max(0, near - int(0.06 * rate)), min(len(heard), near + int(0.06 * rate))
    at = np.arange(low, high)
    after = power[np.minimum(at + width, len(heard))] - power[at]
    before = power[at] - power[np.maximum(at - width, 0)]
    floor = 1e-4 * float(np.max(after)) + 1e-20
    return int(at[np.argmax((after + floor) / (before + floor) * np.minimum(1.0, after / (100 * floor)))])


def _confirmed(heard: Array, found: list[int], *, rate: int) -> list[int]:
    width, guard = int(STEP_S * rate), int(0.002 * rate)
    loudness = [float(np.mean(np.square(heard[at : at + 3 * width]))) if at < len(heard) else 0.0 for at in found]
    loudest = max(loudness, default=0.0)
    kept: list[int] = []
    for at, loud in zip(found, loudness, strict=True):
        before = heard[max(0, at - width - guard) : max(0, at - guard)]
        quiet = float(np.mean(np.square(before))) if len(before) else 0.0
        after = float(np.mean(np.square(heard[at : at + width]))) if at < len(heard) else 0.0
        rises = after > quiet * 10 ** (RISE_DB / 10)
        audible = loud > loudest * 10 ** (AUDIBLE_DB / 10)
        if rises and audible and (not kept or at - kept[-1] > APART_S * rate):
            kept.append(at)
    return kept
