"""What comes in, on its way from the audio thread to whoever reads it, and whether it still comes.

Task: `Feed.take` is all that the audio callback does: it copies into a queue. `Feed.read` gives the blocks in
order and raises `InputLostError` when they stop: at once where the stream said that it ended, and after
`STALLED_S` of waiting where it says nothing, for an input can stall while it calls itself active.

Lost samples are seen two ways: by the flag that the audio system sets, and by the clock, for a long
blockage loses samples without a flag. Against the clock, blocks may come late and catch up; what is still
missing in the best of every `WINDOW_S`, twice in a row, is lost. Shapes: (frames, channels) float32, full
scale 1; times in seconds of a clock that never goes back.
"""

from __future__ import annotations

import queue
import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from dsp.errors import CoilwiseError

Samples = npt.NDArray[np.float32]

STALLED_S = 0.8
"""Longer than the latest block of a busy computer (sound comes every hundredth of a second), and still soon
enough for the person not to go on playing."""
STARTS_WITHIN_S = 3.0
"""Inputs take up to a second or two until the first block."""
SLICE_S = 0.05
"""Only waiting counts, slice by slice: a computer that slept, or was busy elsewhere, is no lost input."""
MOST_WAITING_S = 60.0
"""Of sound that nobody fetched; beyond that it is dropped, and the next block says so."""
WINDOW_S = 0.5
LOST_S = 0.1
"""Smaller losses come with a flag; without one, half a second of buffer has run over. A process whose threads
compete was late by 0.03 s in the best of two windows and had lost nothing."""


class InputLostError(CoilwiseError):
    """The input stopped in the middle: cable, power, or the audio system itself."""


@dataclass(frozen=True, eq=False)
class Block:
    """Samples (frames, channels); `start` counts frames since the stream began.

    `dropped`: samples were lost before this block, or found to be lost just now.
    """

    samples: Samples
    start: int
    dropped: bool


@dataclass(frozen=True)
class Loss:
    """Samples that never came; `start` to `stop` are the frames between which they are missing.

    `frames` is how many, as the clock has it; 0 where only a flag speaks of it.
    """

    start: int
    stop: int
    frames: int


@dataclass
class _Clock:
    """How far the frames that came lag behind the clock: the least of each window.

    `windows`: the frames at which the last window and this one began.
    """

    rate: int
    began: float | None = None
    window_ends: float = 0.0
    least: float = np.inf
    windows: tuple[int, int] = (0, 0)
    before: float | None = None
    suspected: tuple[float, int] | None = None

    def heard(self, frames: int, at: float) -> Loss | None:
        """`frames` have come by `at`; return what is found to be lost."""
        if self.began is None:
            self.began = at - frames / self.rate
            self.window_ends = at + WINDOW_S
        self.least = min(self.least, at - self.began - frames / self.rate)
        if at < self.window_ends:
            return None
        lag, since = self.least, self.windows[0]
        self.least, self.window_ends = np.inf, at + WINDOW_S
        self.windows = (self.windows[1], frames)
        if self.before is None or lag - self.before < LOST_S:
            self.before, self.suspected = lag, None
            return None
        if self.suspected is None:
            self.suspected = (lag, since)
            return None
        missing, start = min(lag, self.suspected[0]) - self.before, self.suspected[1]
        self.before, self.suspected = lag, None
        return Loss(start, frames, round(missing * self.rate)) if missing >= LOST_S else None


@dataclass
class Feed:
    """The queue between the audio thread (`take`, `ended`) and the reader (`read`)."""

    rate: int
    name: str
    clock: Callable[[], float] = time.monotonic
    losses: list[Loss] = field(default_factory=list)
    flagged: int = 0
    came: int = 0
    _queue: queue.SimpleQueue[tuple[Samples, bool, float] | None] = field(default_factory=queue.SimpleQueue)
    _put: int = 0
    _overrun: bool = False
    _waited: float = 0.0
    _looked: float = field(init=False)
    _watch: _Clock = field(init=False)

    def __post_init__(self) -> None:
        self._looked = self.clock()
        self._watch = _Clock(self.rate)

    def take(self, samples: Samples, overflowed: bool) -> None:
        """Copy a block into the queue: called by the audio thread, and never waits."""
        if self.waiting > MOST_WAITING_S * self.rate:
            self._overrun = True
            return
        self._put += len(samples)
        self._queue.put((samples.copy(), overflowed or self._overrun, self.clock()))
        self._overrun = False

    def ended(self) -> None:
        """The stream ended, by itself or because it was closed: called by the audio thread."""
        self._queue.put(None)

    def read(self, *, timeout_s: float) -> Block | None:
        """Return the next block, or None if none came within `timeout_s`.

        Raises
        ------
        InputLostError
            No block comes any more; all that had come was read before.

        """
        end = self.clock() + timeout_s
        while True:
            try:
                item = self._queue.get(timeout=max(0.0, min(SLICE_S, end - self.clock())))
            except queue.Empty:
                now = self.clock()
                self._waited += min(SLICE_S, now - self._looked)
                self._looked = now
                self._bark()
                if now >= end:
                    return None
                continue
            self._looked, self._waited = self.clock(), 0.0
            if item is None:
                self._queue.put(None)
                raise InputLostError(self._words("has ended by itself"))
            return self._block(*item)

    @property
    def waiting(self) -> int:
        """Frames that came and were not read yet."""
        return self._put - self.came

    def lost_between(self, start: int, stop: int) -> tuple[Loss, ...]:
        """Return the losses that may lie between two frames."""
        return tuple(loss for loss in self.losses if loss.start < stop and loss.stop >= start)

    def _block(self, samples: Samples, overflowed: bool, at: float) -> Block:
        start = self.came
        self.came += len(samples)
        late = self._watch.heard(self.came, at)
        if overflowed:
            self.flagged += 1
            self.losses.append(Loss(start, start, 0))
        if late is not None:
            self.losses.append(late)
        return Block(samples, start, overflowed or late is not None)

    def _bark(self) -> None:
        if self._waited < (STALLED_S if self.came else STARTS_WITHIN_S):
            return
        raise InputLostError(self._words("gives no more sound" if self.came else "gives no sound at all"))

    def _words(self, what: str) -> str:
        return (
            f'the input "{self.name}" {what}; check its cable and power and that no other program took it,'
            " then start again: what was recorded before is kept"
        )
