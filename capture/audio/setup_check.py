"""A check of the inputs before anything is recorded: a stretch of quiet, then one loud pluck.

`run_setup_check` reads an open stream, reports the peak of each input all the while, and returns what is
wrong as data. Nothing is kept on disk. Blocks are (frames, channels) float32; seconds are those of the sound,
not of the clock; levels are dB re full scale.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
import numpy.typing as npt

from capture.audio.streams import Block, LostSamples
from dsp.health.inputs import QuietLevels, SetupFinding, check_setup, quiet_levels
from dsp.signal.mains import NOMINAL_HZ
from dsp.signal.samples import checked

Part = Literal["quiet", "pluck"]

QUIET_S = 2.5
"""Long enough to see a gain that climbs, short enough to keep still."""
PLUCK_S = 3.5
"""The person reads that it is time, reaches for the string, and lets it ring."""
SETTLE_S = 0.3
"""Left out at the start: inputs begin with zeros or a thump of their own."""
TELL_S = 0.1
HUM_TELLS_DB = -8.0
"""Lines this far under the noise may be the noise itself: of 200 stretches of white noise none came above
-28, of 200 of pink noise none above -14."""

Samples = npt.NDArray[np.float32]


class BlockSource(Protocol):
    """What is needed of a capture.audio.streams.InputStream."""

    channels: int
    rate: int

    def read(self) -> Block | None:
        """Return the next block, or None if none came in time."""

    def lost_between(self, start: int, stop: int) -> tuple[LostSamples, ...]:
        """Return the losses between two frames."""


@dataclass(frozen=True)
class SetupProgress:
    """How it stands while listening: what is to be done, for how long yet, the peak of each input in dB."""

    part: Part
    left_s: float
    peaks_db: tuple[float, ...]


@dataclass(frozen=True)
class SetupResult:
    """What was heard on the inputs; `levels` and `peaks_db` have one item an input.

    `mains_hz` is what the job says, if it does. `other_mains_hz` is the nominal frequency of the hum that was
    heard, where that is another one.
    """

    findings: tuple[SetupFinding, ...]
    levels: tuple[QuietLevels, ...]
    peaks_db: tuple[float, ...]
    lost: tuple[LostSamples, ...]
    rate: int
    mains_hz: int | None = None

    @property
    def channels(self) -> int:
        """How many inputs were listened to."""
        return len(self.levels)

    @property
    def other_mains_hz(self) -> int | None:
        """The mains frequency of the hum, where the job says another one."""
        heard = [level for level in self.levels if is_hum_clear(level)]
        if self.mains_hz is None or not heard:
            return None
        loudest = max(heard, key=lambda level: level.hum_db or -math.inf)
        nominal = min(NOMINAL_HZ, key=lambda hz: abs(hz - (loudest.mains_hz or 0.0)))
        return None if nominal == self.mains_hz else nominal

    @property
    def clear(self) -> bool:
        """Whether nothing is wrong."""
        return not self.findings and not self.lost and self.other_mains_hz is None


def is_hum_clear(level: QuietLevels) -> bool:
    """Whether hum was heard that is surely more than noise."""
    return level.hum_db is not None and level.hum_db > level.noise_db + HUM_TELLS_DB


def run_setup_check(
    stream: BlockSource,
    *,
    quiet_s: float = QUIET_S,
    pluck_s: float = PLUCK_S,
    mains_hz: int | None = None,
    on_progress: Callable[[SetupProgress], None] = lambda moment: None,
) -> SetupResult:
    """Listen to quiet, then to one pluck that `on_progress` asks for, and say what is wrong with the inputs.

    With `pluck_s` 0 no pluck is asked for, and quiet alone tells.
    `on_progress` is called at the start of each part and some times a second.

    Raises
    ------
    InputLostError
        The input stopped.
    SignalError
        The rate cannot be worked with (said before listening), or the samples are no numbers.

    """
    checked(np.zeros((1, stream.channels)), rate=stream.rate)
    start = round(SETTLE_S * stream.rate)
    quiet = _read_part(stream, "quiet", SETTLE_S + quiet_s, on_progress)[start:]
    plucked = pluck_s > 0
    pluck = [_read_part(stream, "pluck", pluck_s, on_progress)] if plucked else []
    samples = np.concatenate([quiet, *pluck])
    lost = stream.lost_between(start, start + len(samples))
    return setup_heard(samples, rate=stream.rate, plucked=plucked, lost=lost, mains_hz=mains_hz)


def setup_heard(
    samples: Samples,
    *,
    rate: int,
    plucked: bool = False,
    lost: tuple[LostSamples, ...] = (),
    mains_hz: int | None = None,
) -> SetupResult:
    """Say what is wrong with the inputs, from quiet (frames, channels); ``plucked``: with a pluck in it."""
    heard = samples.astype(np.float64)
    return SetupResult(
        findings=check_setup(heard, rate=rate, plucked=plucked),
        levels=quiet_levels(heard, rate=rate),
        peaks_db=peaks_db(heard),
        lost=lost,
        rate=rate,
        mains_hz=mains_hz,
    )


def _read_part(
    stream: BlockSource, part: Part, seconds: float, on_progress: Callable[[SetupProgress], None]
) -> Samples:
    """Read whole blocks until the seconds are over; shape (frames, channels)."""
    wanted, tell = round(seconds * stream.rate), round(TELL_S * stream.rate)
    blocks: list[Samples] = []
    frames, told_at, untold = 0, 0, 0
    on_progress(SetupProgress(part, seconds, (-math.inf,) * stream.channels))
    while frames < wanted:
        block = stream.read()
        if block is None:
            continue
        blocks.append(block.samples)
        frames += len(block.samples)
        if frames - told_at >= tell:
            peaks = peaks_db(np.concatenate(blocks[untold:]))
            on_progress(SetupProgress(part, max(0.0, seconds - frames / stream.rate), peaks))
            told_at, untold = frames, len(blocks)
    return np.concatenate(blocks)


def peaks_db(samples: npt.NDArray[np.floating]) -> tuple[float, ...]:
    """The largest magnitude of each input in dB re full scale; (frames, channels)."""
    largest = np.abs(samples).max(axis=0)
    return tuple(20 * math.log10(peak) if peak > 0 else -math.inf for peak in map(float, largest))
