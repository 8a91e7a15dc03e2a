"""Set-up check of the inputs from a few seconds of nothing, or of one loud pluck.

Task: noise, hum, exact zeros, offset, automatic gain, a gate, noise suppression, one signal on both inputs,
clipping, nothing plugged in; each as a `SetupFinding` with a code. Shapes: recording (frames, channels).
Units: dB re full scale (RMS), Hz, seconds, full scale 1.0.
Sign: turning a channel over changes nothing, except that one signal on both inputs has to be the same way up
(sources D3; turned over it may come from a balanced adapter).

A recorder's own gain shows in the noise, in bands near the top, where a string rings least: it climbs, shuts,
or leaves holes. The power of Gaussian noise in one cell of a spectrogram is exponential, and its natural
logarithm has the standard deviation pi / sqrt 6, 5.57 dB, whatever the spectrum. Limits are set from a usual
pluck at a usual gain, -30 to -16 dB; ordinary benches of the simulator stay below them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.signal.codes import SetupCode
from dsp.signal.faults import clipped_share, offset_of, same_signal
from dsp.signal.mains import mains_lines
from dsp.signal.samples import at_analysis_rate, band, checked, level_db

Array = NDArray[np.float64]

STEP_S = 0.1
HIGH_PARTS = ((0.28, 0.34), (0.34, 0.40), (0.40, 0.46))
"""Bands, as parts of the rate, where little is but noise."""
CLIMB_S = 1.0
STEP_DB = 6.0
"""A climb has no step in it: a string that is struck is none."""
SHELF_S = 0.5
LEVEL_DB = 1.5
"""A shelf: the noise of a band so wide strays by a few tenths of a dB from step to step."""
NOTHING_DB = -130.0
"""Below the last bit of any converter: there is no noise to compare."""
FRAME = 512
LEAST_HZ = 500.0
"""Below, hum and what still rings would count as noise."""


def climb_db(x: Array, *, rate: int) -> float:
    """How much the noise climbs at most within `CLIMB_S`, in all the bands alike, without a step, dB."""
    levels = np.stack([_band_levels(x, part, rate=rate) for part in HIGH_PARTS])
    span = round(CLIMB_S / STEP_S)
    most = 0.0
    for start in range(levels.shape[1] - span):
        piece = levels[:, start : start + span + 1]
        if np.abs(np.diff(piece, axis=1)).max() < STEP_DB:
            slopes = np.polyfit(np.arange(span + 1), piece.T, 1)[0]
            most = max(most, float(slopes.min()) * span)
    return most


def shelves_apart_db(x: Array, *, rate: int) -> float:
    """How far apart the levels are at which the noise stays for a while, dB: 0 but for a gate."""
    levels = _band_levels(x, (HIGH_PARTS[0][0], HIGH_PARTS[-1][1]), rate=rate)
    width = round(SHELF_S / STEP_S)
    pieces = [levels[start : start + width] for start in range(len(levels) - width + 1)]
    shelves = [float(piece.mean()) for piece in pieces if np.ptp(piece) < LEVEL_DB]
    return max(shelves) - min(shelves) if shelves else 0.0


def raggedness_db(quiet: Array, *, rate: int) -> float:
    """Standard deviation of the cells of the spectrogram of a quiet stretch about their bin and frame, dB.

    Noise has 5.57 whatever its spectrum; where a suppressor let some cells through and others not, far more.
    A crackle, which is all frequencies at once, is left out with its frame. 0 where the stretch is too short
    or there is nothing in it.
    """
    x = at_analysis_rate(quiet, rate=rate)
    if len(x) < 4 * FRAME:
        return 0.0
    frames = np.lib.stride_tricks.sliding_window_view(x, FRAME)[:: FRAME // 2]
    power = np.abs(np.fft.rfft(frames * np.hanning(FRAME), axis=1)) ** 2 / FRAME**2
    lowest = int(LEAST_HZ * FRAME / 16_000)
    cells = power[:, lowest:-2]
    if np.median(cells) < 10 ** (NOTHING_DB / 10) / FRAME:
        return 0.0
    levels = 10 * np.log10(np.maximum(cells, 1e-30))
    levels -= levels.mean(axis=0)
    return float(np.std(levels - levels.mean(axis=1, keepdims=True)))


def _band_levels(x: Array, part: tuple[float, float], *, rate: int) -> Array:
    """Level of a band in each `STEP_S`, dB, without the ends, where the filter settles."""
    heard = band(x, low_hz=part[0] * rate, high_hz=part[1] * rate, rate=rate)
    step = round(STEP_S * rate)
    blocks = heard[: len(heard) // step * step].reshape(-1, step)
    power = np.mean(np.square(blocks), axis=1)
    return np.asarray(10 * np.log10(np.maximum(power, 10 ** (NOTHING_DB / 10))))[1:-1]


QUIET_S = 0.8
NOISE_DB = -50.0
"""Some 20 dB under a soft pluck at a usual gain, 35 dB under a loud one: no ordinary bench is worse."""
HUM_DB = -38.0
"""Ordinary benches stay 8 dB below. As loud as this it hides the quieter harmonics of a pluck."""
OFFSET = 0.02
"""Converters are off by some thousandths; what dsp.signal.faults remarks on in a take matters only there."""
EMPTY_DB = -96.0
"""One step of 16 bits: hum and noise of a pickup at a gain fit for it lie above."""
PLUCK_DB = 10.0
"""A pluck rises so far over the quiet: an input that does not rise while another does has no pickup on it."""
PLUCK_S = 0.3
"""For so long at least; a bump on one input is shorter."""
LOUD_PLUCK_DB = 20.0
"""So far over the quiet, a pluck alone tells whether two inputs carry one signal."""
NOT_RISEN_DB = 3.0
NEAR_FULL_SCALE = 0.89
"""1 dB below full scale: plucks of one hand differ by more, so the next one clips."""
SAME_SIGNAL = 0.95
"""Two preamplifiers have noise of their own: their correlation lies near 0."""
CLIMB_DB = 2.5
"""Ordinary benches stay below 0.8, recorded at 16 kHz, and below 0.2 at 48 kHz."""
SHELVES_DB = 6.0
"""And here below 0.9; a gate takes away 10 dB and more."""
RAGGED_DB = 7.0
"""Noise has 5.6, see dsp.health.inputs; a simulated suppressor leaves 8.7 and more."""
DEAD_S = 0.05
"""A converter with a pickup on it never repeats one value for so long."""


@dataclass(frozen=True)
class SetupFinding:
    """One thing that is wrong; ``channel`` counts from 1 (the second of the two where both are meant).

    ``detail``: dB for noise, hum and what is not plugged in; full scale for the offset; the largest magnitude
    for clipping; dB a second for the gain; seconds for noise that is cut off to nothing, None where some of
    it is left; the number of the first channel for one signal on both.
    """

    code: SetupCode
    channel: int
    detail: float | None = None


@dataclass(frozen=True)
class QuietLevels:
    """The quietest stretch of one channel: noise less hum; hum and its frequency where a line stands out."""

    channel: int
    noise_db: float
    hum_db: float | None
    mains_hz: float | None


def check_setup(
    samples: Array, *, rate: int, mains_hz: int | None = None, plucked: bool = False
) -> tuple[SetupFinding, ...]:
    """What is wrong with the inputs; empty where nothing is.

    Where it was asked for a pluck (``plucked``), an input on which nothing rises has nothing plugged in; else
    only where another input hears one.

    Raises
    ------
    SignalError
        The samples or the rate cannot be read.

    """
    recording = checked(samples, rate=rate)
    found: list[SetupFinding] = []
    rises = [_rise_db(x) for x in _all_step_levels(recording, rate=rate)]
    for column, x in enumerate(recording.T):
        deaf = rises[column] < NOT_RISEN_DB and (plucked or max(rises) > PLUCK_DB)
        found += _channel_findings(x, column + 1, rate=rate, mains_hz=mains_hz, deaf=deaf)
    dead = {f.channel for f in found if f.code in ("exact zeros", "nothing plugged in")}
    heard = [column for column in range(recording.shape[1]) if column + 1 not in dead]
    for i, a in enumerate(heard):
        for b in heard[i + 1 :]:
            if _carry_one_signal(recording[:, a], recording[:, b], rate=rate, mains_hz=mains_hz):
                found.append(SetupFinding("one signal on both", b + 1, float(a + 1)))
    return tuple(found)


def quiet_levels(samples: Array, *, rate: int, mains_hz: int | None = None) -> tuple[QuietLevels, ...]:
    """Noise, hum and mains frequency of each channel, where it is quietest.

    Raises
    ------
    SignalError
        The samples or the rate cannot be read.

    """
    recording = checked(samples, rate=rate)
    return tuple(
        _quiet_levels(x, k, rate=rate, mains_hz=mains_hz) for k, x in enumerate(recording.T, start=1)
    )


def _channel_findings(
    x: Array, number: int, *, rate: int, mains_hz: int | None, deaf: bool
) -> list[SetupFinding]:
    if not np.any(x):
        return [SetupFinding("exact zeros", number)]
    found: list[SetupFinding] = []
    offset, _ = offset_of(x)
    if abs(offset) > OFFSET:
        found.append(SetupFinding("offset", number, abs(offset)))
    peak = float(np.abs(x).max())
    if peak > NEAR_FULL_SCALE or clipped_share(x - offset, rate=rate) > 0:
        found.append(SetupFinding("clips", number, peak))
    cut = _cut_off_s(x, rate=rate)
    if cut > 0:
        return [*found, SetupFinding("noise is cut off", number, cut)]
    whole = level_db(x - offset)
    if whole < EMPTY_DB or deaf:
        return [*found, SetupFinding("nothing plugged in", number, whole)]
    levels = _quiet_levels(x, number, rate=rate, mains_hz=mains_hz)
    if levels.noise_db > NOISE_DB:
        found.append(SetupFinding("loud noise", number, levels.noise_db))
    if levels.hum_db is not None and levels.hum_db > HUM_DB:
        found.append(SetupFinding("much hum", number, levels.hum_db))
    return found + _gain_findings(x, number, rate=rate)


def _gain_findings(x: Array, number: int, *, rate: int) -> list[SetupFinding]:
    """What the recorder does to the gain. One that rides up also goes from one shelf to another."""
    if raggedness_db(x[_quietest(x, rate=rate)], rate=rate) > RAGGED_DB:
        return [SetupFinding("noise is cut off", number)]
    climb = climb_db(x, rate=rate)
    if climb > CLIMB_DB:
        return [SetupFinding("gain rides", number, climb)]
    shut = shelves_apart_db(x, rate=rate) > SHELVES_DB
    return [SetupFinding("noise is cut off", number)] if shut else []


def _all_step_levels(recording: Array, *, rate: int) -> list[Array]:
    return [_step_levels(x, rate=rate) for x in recording.T]


def _step_levels(x: Array, *, rate: int) -> Array:
    """Level less its mean in each `STEP_S`, dB."""
    step = round(STEP_S * rate)
    blocks = x[: len(x) // step * step].reshape(-1, step)
    return np.asarray(10 * np.log10(np.maximum(np.var(blocks, axis=1), 1e-30)))


def _rise_db(levels: Array) -> float:
    """How far the loudest `PLUCK_S` rise over the quiet, dB."""
    steps = round(PLUCK_S / STEP_S)
    return float(np.sort(levels)[-steps] - np.quantile(levels, 0.1)) if len(levels) >= steps else 0.0


def _quietest(x: Array, *, rate: int) -> slice:
    """The quietest `QUIET_S`."""
    length = min(len(x), round(QUIET_S * rate))
    power = np.concatenate([[0.0], np.cumsum(np.square(x - np.mean(x)))])
    start = int(np.argmin(power[length:] - power[: len(power) - length]))
    return slice(start, start + length)


def _quiet_levels(x: Array, number: int, *, rate: int, mains_hz: int | None) -> QuietLevels:
    quiet = at_analysis_rate(x[_quietest(x, rate=rate)], rate=rate)
    lines = mains_lines(quiet, mains_hz=mains_hz) if np.any(quiet) else None
    if lines is None:
        return QuietLevels(number, level_db(quiet), None, None)
    hum = lines.waveform(len(quiet))
    return QuietLevels(number, level_db(quiet - hum), level_db(hum), lines.fundamental_hz)


def _carry_one_signal(a: Array, b: Array, *, rate: int, mains_hz: int | None) -> bool:
    """By the noise of both inputs, or by all that is heard on them where that is far over the noise."""
    quiet = _quietest(a, rate=rate)
    left = []
    for x in (a[quiet], b[quiet]):
        one = at_analysis_rate(x, rate=rate)
        lines = mains_lines(one, mains_hz=mains_hz) if np.any(one) else None
        left.append(one if lines is None else one - lines.waveform(len(one)))
    size = math.sqrt(float(left[0] @ left[0]) * float(left[1] @ left[1]))
    if size > 0 and float(left[0] @ left[1]) > SAME_SIGNAL * size:
        return True
    plucked = min(_rise_db(levels) for levels in _all_step_levels(np.stack([a, b], axis=1), rate=rate))
    return plucked > LOUD_PLUCK_DB and same_signal(a, b)


def _cut_off_s(x: Array, *, rate: int) -> float:
    """How long there is nothing at all, seconds."""
    changes = np.flatnonzero(np.diff(x))
    runs = np.diff(np.concatenate([[-1], changes, [len(x) - 1]]))
    return float(np.sum(runs[runs >= DEAD_S * rate])) / rate
