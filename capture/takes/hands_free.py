"""One take recorded with both hands on the guitar: waited for, kept from before its onset, ended by itself.

Task: `catch` reads a stream until one gesture has come and rung out, writes it as it comes, and logs it. What
is kept is some of the channels (`columns`). Shapes: blocks (frames, channels), full scale 1.0, with sign.
Units: frames of the stream, seconds, dB re full scale.

Before it listens, whatever waited in the stream is thrown away: it was played before it was asked for. Where
hands had to move a plug or a selector, it first waits until it was quiet for a while. Whatever ends it early
(Ctrl-C, a lost input, a full disk) leaves what was recorded as an unfinished take (capture.takes.recorder).

One take of a driven coil: the waveform goes out while the input records, with no key between.

Task: `drive_once` gives the person time to hold the coil, plays the waveform of dsp.methods.driven_coil
(level limited, faded in and out) and logs what came back. Shapes: (frames, channels), full scale 1.0, with
their sign. Units: seconds.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal, Protocol

import numpy as np
import numpy.typing as npt

from capture.audio.devices import OutputDevice
from capture.audio.streams import Block, InputStream, LostSamples, play_and_record
from capture.log.entries import TakeFields
from capture.takes.folder import TakeFile
from capture.takes.recorder import TakeWriter
from dsp.live.gestures import WatchPlan, plan_for, plan_of
from dsp.live.watching import Watcher, WatchEvent
from dsp.methods.driven_coil import drive_waveform

Samples = npt.NDArray[np.float32]
What = Literal["waiting", "level", "ready", "onset", "too loud", "nothing heard", "ended"]
Wish = Literal["stop", "void", "skip"]

RING_S = 2.5
"""Kept in memory while waiting: more than any gesture's time before the onset."""
LEVEL_EVERY_S = 0.05
LOWEST_DB = -99.0
PATIENCE = 10
"""So many times a plan's waiting time without an onset, and it gives up: the person has gone."""


class Stream(Protocol):
    """What is recorded from: capture.audio.streams.InputStream, or a stand-in."""

    rate: int
    channels: int

    def read(self, *, timeout_s: float = ...) -> Block | None:
        """The next block, or None if none came in time."""

    @property
    def waiting(self) -> int:
        """Frames that have come and were not read."""

    def lost_between(self, start: int, stop: int) -> tuple[LostSamples, ...]:
        """Where samples are missing."""


@dataclass(frozen=True)
class Notice:
    """Something to show while it listens; ``peaks_db`` of each kept channel since the last one."""

    what: What
    peaks_db: tuple[float, ...] = ()


@dataclass(frozen=True)
class Caught:
    """What came of waiting: a take, or a wish of the person, or neither (nobody played).

    ``span`` is where in the stream the take lies, to ask later whether samples were lost; ``onset`` is the
    frame of the take at which its gesture was heard to begin.
    """

    take: TakeFile | None
    wish: Wish | None = None
    span: tuple[int, int] = (0, 0)
    onset: int | None = None
    floor_db: tuple[float, ...] | None = None


def catch(
    stream: Stream,
    folder: Path,
    said: TakeFields,
    *,
    columns: Sequence[int],
    settle_s: float = 0.0,
    floor_db: Sequence[float] | None = None,
    told: Callable[[Notice], None],
    asked: Callable[[], Wish | None] = lambda: None,
) -> Caught:
    """Wait for one gesture and log it.

    ``settle_s``: hands have to change something before it, so it is to be quiet for so long first.

    ``asked`` is called with every block, and a wish ends the waiting; of a take that has begun, what was
    recorded is kept.

    Raises
    ------
    InputLostError
        The input has stopped; what was recorded stays, unfinished.
    RecordingError, LogError
        The folder cannot be written; what was recorded stays, unfinished.

    """
    plan = plan_for(said.gesture)
    blocks = _Blocks(stream, columns, told, asked)
    blocks.skip_waiting()
    if settle_s > 0:
        told(Notice("waiting"))
        floor_db = _until_quiet(blocks, plan, settle_s=settle_s)
        if blocks.wish is not None:
            return Caught(None, blocks.wish)
    told(Notice("ready"))
    return _gesture(blocks, folder, said, plan, floor_db)


@dataclass
class _Blocks:
    """The kept channels of a stream, block by block; levels are told on the way, and wishes heard."""

    stream: Stream
    columns: Sequence[int]
    told: Callable[[Notice], None]
    asked: Callable[[], Wish | None]
    wish: Wish | None = None
    _peak: npt.NDArray[np.float64] | None = None
    _since: int = 0

    def skip_waiting(self) -> None:
        """Throw away what came before now."""
        while self.stream.waiting:
            self.stream.read()

    def __iter__(self) -> Iterator[tuple[int, Samples, bool]]:
        """(start, samples, dropped) until there is a wish."""
        while self.wish is None:
            block = self.stream.read()
            self.wish = self.asked()
            if block is None:
                continue
            kept = np.ascontiguousarray(block.samples[:, list(self.columns)])
            self._show(kept)
            yield block.start, kept, block.dropped

    def _show(self, kept: Samples) -> None:
        peak = np.abs(kept).max(axis=0, initial=0.0).astype(np.float64)
        self._peak = peak if self._peak is None else np.maximum(self._peak, peak)
        self._since += len(kept)
        if self._since >= LEVEL_EVERY_S * self.stream.rate:
            self.told(Notice("level", tuple(_db(x) for x in self._peak)))
            self._peak, self._since = None, 0


def _until_quiet(blocks: _Blocks, plan: WatchPlan, *, settle_s: float) -> tuple[float, ...] | None:
    """Read until no bump has come for a while; return the level of noise and hum then."""
    rate = blocks.stream.rate
    watcher = Watcher(plan_of("pluck"), rate=rate, channels=len(blocks.columns))
    last, begun = None, None
    for start, kept, _ in blocks:
        begun = start if begun is None else begun
        if any(e.kind in ("onset", "ended") for e in watcher.feed(kept)):
            last = start
        since = begun if last is None else last
        if start + len(kept) - since >= settle_s * rate:
            break
    return None if plan.steady else watcher.floor_db


def _gesture(
    blocks: _Blocks, folder: Path, said: TakeFields, plan: WatchPlan, floor_db: Sequence[float] | None
) -> Caught:
    rate, channels = blocks.stream.rate, len(blocks.columns)
    watcher = Watcher(plan, rate=rate, channels=channels, floor_db=floor_db)
    patience = PATIENCE
    with closing(_Recording(blocks, folder, said)) as recording:
        for start, kept, dropped in blocks:
            recording.take_in(start, kept, dropped)
            for event in watcher.feed(kept):
                if event.kind == "ended" and recording.writer is not None:
                    blocks.told(Notice("ended"))
                    return replace(recording.finish(event), floor_db=watcher.floor_db)
                if event.kind == "onset":
                    recording.begin(event)
                    recording.begun_at(event)
                elif event.kind == "too loud":
                    blocks.told(Notice("too loud"))
                elif event.kind == "timed out":
                    blocks.told(Notice("nothing heard"))
                    patience -= 1
            if not patience:
                break
        # A wish in the middle of a take: what was recorded becomes one, and is judged like any other.
        return recording.finish() if recording.writer is not None else Caught(None, blocks.wish)


@dataclass
class _Recording:
    """Blocks on their way into a take: kept in memory until something begins, written from then on."""

    blocks: _Blocks
    folder: Path
    said: TakeFields
    writer: TakeWriter | None = None
    _before: deque[tuple[int, Samples, bool]] = field(default_factory=deque)
    _origin: int | None = None
    _first: int = 0
    _onset: int | None = None

    def take_in(self, start: int, kept: Samples, dropped: bool) -> None:
        """Keep or write the next block."""
        self._origin = start if self._origin is None else self._origin
        if self.writer is not None:
            self.writer.write(kept, dropped=dropped)
            return
        self._before.append((start, kept, dropped))
        while self._before[-1][0] - self._before[0][0] > RING_S * self.blocks.stream.rate:
            self._before.popleft()

    def begin(self, event: WatchEvent) -> None:
        """Something begins; another onset within a take changes nothing here."""
        if self.writer is not None:
            return
        self._first = max(event.keep_from + (self._origin or 0), self._before[0][0])
        self.writer = TakeWriter(
            self.folder, rate=self.blocks.stream.rate, channels=len(self.blocks.columns), planned=self.said
        )
        for start, kept, dropped in self._before:
            if start + len(kept) > self._first:
                part = kept[max(0, self._first - start) :]
                self.writer.write(part, dropped=dropped and start >= self._first)
        self.blocks.told(Notice("onset"))

    def begun_at(self, event: WatchEvent) -> None:
        """Remember the latest onset: what came before it was a bump."""
        self._onset = event.at + (self._origin or 0) - self._first

    def finish(self, event: WatchEvent | None = None) -> Caught:
        """Name and log it, as far as the event says, or all that there is."""
        if self.writer is None:
            raise AssertionError("a take is finished after it was begun")
        keep = self.writer.frames
        if event is not None:
            keep = min(event.keep_to + (self._origin or 0) - self._first, keep)
        span = (self._first, self._first + keep)
        if any(self.blocks.stream.lost_between(*span)):
            self.writer.mark_dropped()
        return Caught(self.writer.finish(self.said, keep_to=keep), self.blocks.wish, span, self._onset)

    def close(self) -> None:
        """Let go of a take that was begun; what is not finished is offered later."""
        if self.writer is not None:
            self.writer.close()


def _db(peak: float) -> float:
    return max(LOWEST_DB, 20 * float(np.log10(max(peak, 1e-9))))


HOLD_S = 4.0
"""To bring the coil over the pickup before it sounds."""


def drive_once(
    stream: InputStream,
    folder: Path,
    said: TakeFields,
    *,
    columns: Sequence[int],
    output: OutputDevice,
    hold_s: float = HOLD_S,
    told: Callable[[Notice], None],
    asked: Callable[[], Wish | None] = lambda: None,
) -> Caught:
    """Wait, play, record, log.

    Raises
    ------
    InputLostError, NoSuchInputError
        The input has stopped, or the output cannot play; what was recorded stays, unfinished.
    RecordingError, LogError
        The folder cannot be written; likewise.

    """
    told(Notice("waiting"))
    ends = time.monotonic() + hold_s
    while time.monotonic() < ends:
        stream.read()
        if (wish := asked()) is not None:
            return Caught(None, wish)
    while stream.waiting:
        stream.read()
    told(Notice("ready"))
    wave = drive_waveform(rate=output.rate_hz)
    first = None
    with closing(TakeWriter(folder, rate=stream.rate, channels=len(columns), planned=said)) as writer:
        for block in play_and_record(stream, wave, rate=output.rate_hz, output=output):
            first = block.start if first is None else first
            writer.write(np.ascontiguousarray(block.samples[:, list(columns)]), dropped=block.dropped)
        begun = first or 0
        span = (begun, begun + writer.frames)
        return Caught(writer.finish(said), None, span)
