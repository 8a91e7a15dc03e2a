"""Taps of a steel tool on the poles of a pickup: how loud they are at the jack, or that nothing is heard.

Task: the level of a few taps on one channel, over the noise; whether the pickup is on follows from comparing
that level with the same pole's in other positions of the selector (reports.inference.taps). Shapes: signal
(frames,) at its own rate. Units: dB re full scale, seconds. Sign: none; turning the signal over changes
nothing.

A tap is a pulse of 1 to 50 ms. Steady hum is taken out by what was there a tenth of a second before, which
is five periods of 50 Hz and six of 60 Hz; so a tap comes twice, and both count as one. Each is compared by
its second largest tap, so that one knock on the bench is none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.signal.codes import Fault
from dsp.signal.faults import recording_faults, refusals_and_remarks
from dsp.signal.samples import ANALYSIS_RATE, at_analysis_rate, band

Array = NDArray[np.float64]

LOW_PASS_HZ = 250.0
"""A tap is a low thump: contact clicks and most of an input's noise lie above."""
HUM_S = 0.1
SETTLES_S = 0.05
"""At either end the filter has not settled on the hum."""
APART_S = 0.16
"""Taps are at least so far apart; a tap and what the hum's removal makes of it lie closer."""
OF_LARGEST_DB = 12.0
"""Taps of one hand differ by less than this."""
CLEAR_DB = 20.0
"""A tap stands so far over the RMS of the noise; noise alone peaks at 13 dB in some seconds."""
FEWEST_TAPS = 2
FRAME_S = 0.02
QUIET_SHARE = 0.25
"""The noise is what this share of the frames stays below; taps cover less than the rest."""
STILL_LOUD = 0.3
MOST_LOUD = 0.42
"""From the first tap to the last, no more than this share of the frames peaks over that part of a tap, and
over the noise. Taps twice a second take up a fifth (simulated: 12 to 20 %, with what the hum's removal makes
of them), plucks of a string 32 to 100 % but for a high one that is soon gone."""
OVER_NOISE_DB = 15.0
"""The noise's RMS lies so far below its peaks."""
LEAST_S = 1.0
LEAST_DB = -140.0


@dataclass(frozen=True)
class TapLevel:
    """The taps of one channel: level of the second largest, and the RMS of the noise, dB re full scale.

    ``count``: taps that stand clearly over the noise; with none, ``level_db`` is what they stay below.
    """

    level_db: float
    noise_db: float
    count: int

    @property
    def heard(self) -> bool:
        """Whether anything stands clearly over the noise."""
        return self.count >= FEWEST_TAPS


@dataclass(frozen=True)
class TapAnalysis:
    """The taps of one channel of a take, and its faults; ``level`` is None with a fault."""

    level: TapLevel | None
    faults: tuple[Fault, ...]
    remarks: tuple[Fault, ...] = ()


def analyse_taps(samples: Array, *, rate: int, channel: int) -> TapAnalysis:
    """The taps on column ``channel`` (from 0) of a recording (frames, channels).

    Neither clipping nor silence says anything against a take: what is too loud is heard, and of a pickup that
    is not on nothing is. Exact zeros are a fault all the same.
    """
    found = recording_faults(samples, rate=rate, inputs_differ=False, channels=(channel,))
    faults, remarks = refusals_and_remarks(tuple(f for f in found if f.code not in ("clipped", "silent")))
    if faults:
        return TapAnalysis(None, faults, remarks)
    x = at_analysis_rate(samples[:, channel], rate=rate)
    if len(x) < LEAST_S * ANALYSIS_RATE:
        return TapAnalysis(None, (Fault("cut off at the end", channel + 1),), remarks)
    lag, edge = int(HUM_S * ANALYSIS_RATE), int(SETTLES_S * ANALYSIS_RATE)
    slow = band(x, low_hz=None, high_hz=LOW_PASS_HZ)[edge:-edge]
    still = slow[lag:] - slow[:-lag]
    peaks = _peaks(np.abs(still))
    sizes = np.sort(np.abs(still)[peaks])[::-1]
    noise = _noise(still)
    clear, alike = noise * 10 ** (CLEAR_DB / 20), float(sizes[0]) * 10 ** (-OF_LARGEST_DB / 20)
    if sizes[0] > clear and sizes[1] < alike:
        return TapAnalysis(None, (Fault("one tap alone", channel + 1),), remarks)
    count = int(np.count_nonzero(sizes > max(clear, alike)))
    if count >= FEWEST_TAPS and _rings_on(
        still, [p for p in peaks if abs(still[p]) >= sizes[count - 1]], noise=noise
    ):
        return TapAnalysis(None, (Fault("taps ring on", channel + 1),), remarks)
    return TapAnalysis(TapLevel(_db(float(sizes[1])), _db(noise), count), (), remarks)


def _peaks(size: Array) -> list[int]:
    """The largest places, each at least ``APART_S`` from those before it; two at least."""
    apart = int(APART_S * ANALYSIS_RATE)
    left = size.copy()
    found: list[int] = []
    for _ in range(max(FEWEST_TAPS, len(size) // apart)):
        at = int(np.argmax(left))
        if left[at] <= 0.0 and len(found) >= FEWEST_TAPS:
            break
        found.append(at)
        left[max(0, at - apart) : at + apart] = 0.0
    return found


def _noise(x: Array) -> float:
    """RMS of the quieter frames."""
    hop = int(FRAME_S * ANALYSIS_RATE)
    frames = x[: len(x) // hop * hop].reshape(-1, hop)
    return float(np.sqrt(np.quantile(np.mean(np.square(frames), axis=1), QUIET_SHARE)))


def _rings_on(x: Array, taps: list[int], *, noise: float) -> bool:
    """Whether it sounds on between most taps, as a string does."""
    hop = int(FRAME_S * ANALYSIS_RATE)
    between = np.abs(x[min(taps) : max(taps) + int(APART_S * ANALYSIS_RATE)])
    frames = between[: len(between) // hop * hop].reshape(-1, hop).max(axis=1)
    loud = max(STILL_LOUD * min(abs(float(x[at])) for at in taps), noise * 10 ** (OVER_NOISE_DB / 20))
    return bool(np.mean(frames > loud) > MOST_LOUD)


def _db(size: float) -> float:
    return max(LEAST_DB, 20 * float(np.log10(max(size, 1e-12))))
