"""Where gestures begin in a recording too long to hold: block by block, in bounded memory.

Task: take in a recording as a stream; give the frames at which plucks, presses, lifts, touches or switch
takes begin, with their levels, and a coarse envelope to draw. Shapes: blocks (frames, channels) at the
stream's own rate, of any length. Units: frames at that rate, seconds, dB re full scale.
Sign: turning a channel over changes nothing.

Strings by `dsp.signal.onsets`, in windows that overlap; tools by `dsp.methods.tool_pulse`. Between windows
nothing is kept but what was found, and one number each 20 ms to draw. What counts depends on the onsets
around it, and so can only be said at the end: `with_doubts` does, and again after some were left out.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from dsp import SignalError
from dsp.live.gestures import WITH_ONSET, Gesture, plan_of
from dsp.methods.tool_pulse import APART_S as PULSES_APART_S
from dsp.methods.tool_pulse import LOW_PASS_HZ, pulses_of
from dsp.signal.onsets import APART_S, FRAME, STEP_S, onset_band, rough_onsets
from dsp.signal.samples import ANALYSIS_RATE, at_analysis_rate, band, checked, level_db

Array = NDArray[np.float64]

Single = NDArray[np.float32]
Doubt = Literal["soft", "still ringing", "other gesture"]

WINDOW_S = 12.0
"""Heard at once: short enough for memory, long enough that a window seldom holds nothing but noise."""
MARGIN_S = 0.5
"""Either end of a window is left to its neighbour: filters settle, and the level before an onset is there."""
PULSE_WINDOW_S = 3.0
"""Pulses are compared with the largest in a window, so tool takes get short ones: a weak pickup's lift
is not to be measured against a strong one's."""
PULSE_MARGIN_S = 1.0
LEAST_ONSET_DB = -36.0
"""An onset this far below the loudest near it is no gesture. dsp.signal.onsets has -26 dB within a take; but
here one setting follows another, and two pickups that oppose each other lie 26 dB below one alone on the
simulated bench."""
NEAR_S = 10.0
FAINT_DB = -60.0
"""Further below the loudest than this, an onset is not even listed."""
SWITCHED_S = 2.5
"""For so long after the pluck of a switch take, whatever begins is the selector. Where two settings cancel,
what it does rises by 35 dB on the simulated bench, as much as a pluck: the level does not tell them apart."""
OUT_OF_QUIET_DB = 10.0
"""And later, what rises less than this over the string that rings on."""
DAMPED_DB = -6.0
"""What begins this much softer than the string rang before is the hand that stops it."""
QUIET_S = 0.3
OTHER_GESTURE_NATS = 1.3
"""Nats of shape beyond which a pulse is the other gesture: lifts of the simulated bench stay within 1.1."""
HUM_S = 0.1
"""Five periods of 50 Hz, six of 60 Hz."""
FEWEST_BLOCKS = 8
PULSE_OVER_QUIET = 2.0
"""Peak of a tenth of a second over that of the quiet quarter: noise alone stays below 1.9, and a pulse that
dsp.methods.tool_pulse finds clear has 2.0 and more."""
PULSE_OVER_LARGEST = 0.5
"""And where no more than this is left of the largest, the largest is hum, and any pulse far below it."""
BIN_S = 0.02


@dataclass(frozen=True)
class StreamedOnset:
    """Something that begins: ``frame`` of the stream, level of its first 0.09 s on the loudest channel.

    For tools the level is that of the pulse's peak. ``rise_db`` is over the ``QUIET_S`` before. ``doubt``
    says why it does not count as a gesture of its own, None where it does.
    """

    frame: int
    level_db: float
    rise_db: float
    channel: int
    doubt: Doubt | None = None


@dataclass(frozen=True, eq=False)
class Envelope:
    """Largest magnitude in each stretch of ``bin_s``; ``peaks`` (bins, channels)."""

    bin_s: float
    peaks: Single


def with_doubts(
    onsets: Sequence[StreamedOnset], *, gesture: Gesture, rate: int, left_out: Collection[int] = ()
) -> tuple[StreamedOnset, ...]:
    """The onsets with those doubts renewed that depend on the others.

    "soft": against the loudest near it. "still ringing": softer than the string rang before; in a switch
    take also so soon after a pluck that counts, or so little over what rings, that it is the selector's.
    ``left_out`` are indices; those stay as they are and are no measure for others.
    """
    measures = [o for i, o in enumerate(onsets) if i not in left_out and o.doubt != "other gesture"]
    renewed: list[StreamedOnset] = []
    plucked = -math.inf
    for i, onset in enumerate(onsets):
        if i in left_out or onset.doubt == "other gesture":
            renewed.append(onset)
            continue
        near = (o.level_db for o in measures if abs(o.frame - onset.frame) <= NEAR_S * rate)
        doubt: Doubt | None = "soft" if onset.level_db <= max(near) + LEAST_ONSET_DB else None
        if doubt is None and gesture == "switch":
            over = onset.rise_db < OUT_OF_QUIET_DB or onset.frame - plucked < SWITCHED_S * rate
            doubt = "still ringing" if over else None
        elif doubt is None and not plan_of(gesture).pulse:
            doubt = "still ringing" if onset.rise_db < DAMPED_DB else None
        plucked = onset.frame if doubt is None else plucked
        renewed.append(replace(onset, doubt=doubt))
    return tuple(renewed)


class OnsetStream:
    """Takes blocks by `feed`, then `finish`; ``channels``: columns that carry a pickup, from 0."""

    def __init__(
        self, *, gesture: Gesture, rate: int, channels: Sequence[int], mains_hz: int | None = None
    ) -> None:
        """Begin a stream.

        Raises
        ------
        SignalError
            The gesture has no onset, or no channel is named.

        """
        if gesture not in WITH_ONSET:
            raise SignalError(f"a {gesture} has no onset to find; only {', '.join(WITH_ONSET)} have")
        if not channels:
            raise SignalError("no channel is named, so there is nothing to hear")
        self.gesture: Gesture = gesture
        self.rate = rate
        self.channels = tuple(channels)
        self.mains_hz = mains_hz
        self._pulses_alone = plan_of(gesture).pulse
        self._margin = int((PULSE_MARGIN_S if self._pulses_alone else MARGIN_S) * rate)
        self._waiting: list[Single] = []
        self._waiting_frames = 0
        self._begins = 0
        self._found: list[StreamedOnset] = []
        self._bin = max(1, int(BIN_S * rate))
        self._peaks: list[Single] = []
        self._rest: Single = np.zeros((0, 0), dtype=np.float32)

    def feed(self, samples: NDArray[np.floating]) -> None:
        """Take in the next block, (frames, channels).

        Raises
        ------
        SignalError
            The block is not (frames, channels) or holds NaN or infinity, or the rate cannot be read.

        """
        if not len(samples):
            return
        checked(np.asarray(samples[:1], dtype=np.float64), rate=self.rate)
        block = np.asarray(samples, dtype=np.float32).reshape(len(samples), -1)
        if not np.isfinite(block).all():
            raise SignalError("the recording holds values that are no numbers (NaN or infinity)")
        self._extend_envelope(block)
        window = int(WINDOW_S * self.rate)
        kept = np.ascontiguousarray(block[:, self.channels])
        while len(kept):
            piece = kept[: window - self._waiting_frames]
            kept = kept[len(piece) :]
            self._waiting.append(piece.copy())
            self._waiting_frames += len(piece)
            if self._waiting_frames >= window:
                self._analyse_window(last=False)

    def finish(self) -> tuple[StreamedOnset, ...]:
        """All onsets of the stream in order, those that do not count included."""
        if self._waiting_frames:
            self._analyse_window(last=True)
        apart = (PULSES_APART_S if self._pulses_alone else APART_S) * self.rate
        merged = with_doubts(
            _one_of_each_group(self._found, apart=apart), gesture=self.gesture, rate=self.rate
        )
        loudest = max((o.level_db for o in merged), default=-math.inf)
        return tuple(o for o in merged if o.level_db > loudest + FAINT_DB)

    @property
    def envelope(self) -> Envelope:
        """What was fed so far, coarsely, all channels of it."""
        rest = [np.abs(self._rest).max(axis=0, keepdims=True)] if len(self._rest) else []
        parts = [*self._peaks, *rest]
        return Envelope(self._bin / self.rate, np.concatenate(parts) if parts else self._rest)

    def _extend_envelope(self, block: Single) -> None:
        whole = np.concatenate([self._rest, block]) if len(self._rest) else block
        bins = len(whole) // self._bin
        if bins:
            used = np.ascontiguousarray(whole[: bins * self._bin].T).reshape(whole.shape[1], bins, self._bin)
            self._peaks.append(np.maximum(used.max(axis=2), -used.min(axis=2)).T)
        self._rest = whole[bins * self._bin :].copy()

    def _analyse_window(self, *, last: bool) -> None:
        window = np.concatenate(self._waiting)
        self._waiting = []
        first = self._begins == 0
        half = (0 if self._pulses_alone else int(APART_S * self.rate)) // 2
        low = 0 if first else self._margin - half
        high = len(window) if last else len(window) - self._margin + half
        for place, channel in enumerate(self.channels):
            x = at_analysis_rate(window[:, place].astype(np.float64), rate=self.rate)
            banded = self._pulses(x, channel) if self._pulses_alone else self._strings(x, channel)
            self._found += [replace(o, frame=o.frame + self._begins) for o in banded if low <= o.frame < high]
        kept = window[max(0, len(window) - 2 * self._margin) :].copy()
        self._begins += len(window) - len(kept)
        self._waiting, self._waiting_frames = [kept], len(kept)

    def _strings(self, x: Array, channel: int) -> list[StreamedOnset]:
        onsets = rough_onsets(x, audible_db=LEAST_ONSET_DB)
        banded = onset_band(x) if onsets else x
        found = []
        for at in onsets:
            level = level_db(banded[at : at + int(3 * STEP_S * ANALYSIS_RATE)])
            found.append(StreamedOnset(self._frame(at), level, level - _level_before(banded, at), channel))
        return found

    def _pulses(self, x: Array, channel: int) -> list[StreamedOnset]:
        """Pulses in short stretches of ``x``; each answers for its middle, the first also for its start."""
        length = int(PULSE_WINDOW_S * ANALYSIS_RATE)
        step = length - 2 * int(PULSE_MARGIN_S * ANALYSIS_RATE)
        found = []
        for start in range(0, max(1, len(x) - length + step), step):
            piece = x[start : start + length]
            piece = piece - float(np.mean(piece))
            slow = band(piece, low_hz=None, high_hz=LOW_PASS_HZ) if len(piece) > FRAME else piece
            if not _may_hold_pulse(slow):
                continue
            low = 0 if start == 0 else (length - step) // 2
            high = length if start + length >= len(x) else (length + step) // 2
            for pulse in pulses_of(piece, mains_hz=self.mains_hz):
                if not low <= pulse.sample < high:
                    continue
                level = 20 * math.log10(max(abs(float(slow[pulse.sample])), 1e-12))
                rise = level - _level_before(slow, pulse.sample)
                towards = 1.0 if self.gesture == "lift" else -1.0
                other = pulse.abrupt_start * towards < -OTHER_GESTURE_NATS
                at = self._frame(start + pulse.sample)
                found.append(StreamedOnset(at, level, rise, channel, "other gesture" if other else None))
        return found

    def _frame(self, sample: int) -> int:
        return round(sample * self.rate / ANALYSIS_RATE)


def _may_hold_pulse(slow: Array) -> bool:
    """Whether a pulse can be in a stretch, seen cheaply: noise and steady hum are spared the look at mains.

    The difference over ``HUM_S`` takes hum away, and leaves a pulse as it is.
    """
    lag = int(HUM_S * ANALYSIS_RATE)
    blocks = (len(slow) - lag) // lag
    if blocks < FEWEST_BLOCKS:
        return True
    size = np.abs(slow[lag:] - slow[:-lag])[: blocks * lag].reshape(blocks, lag).max(axis=1)
    least = max(
        PULSE_OVER_QUIET * float(np.quantile(size, 0.25)), PULSE_OVER_LARGEST * float(np.abs(slow).max())
    )
    return bool(size.max() > least)


def _level_before(banded: Array, at: int) -> float:
    before = banded[max(0, at - int(QUIET_S * ANALYSIS_RATE)) : max(0, at - int(0.02 * ANALYSIS_RATE))]
    return level_db(before) if len(before) else -math.inf


def _one_of_each_group(found: Sequence[StreamedOnset], *, apart: float) -> list[StreamedOnset]:
    """One of each group that lies within ``apart`` frames of its first: the loudest."""
    groups: list[list[StreamedOnset]] = []
    for onset in sorted(found, key=lambda o: (o.frame, o.channel)):
        if groups and onset.frame - groups[-1][0].frame <= apart:
            groups[-1].append(onset)
        else:
            groups.append([onset])
    return [max(group, key=lambda o: (o.doubt is None, o.level_db)) for group in groups]
