"""One take recorded with both hands on the guitar: waited for, kept from before its onset, ended by itself.

`record_gesture` reads a stream until one gesture has come and rung out, writes it as it comes, and logs it.
`record_driven_coil` gives the person time to hold the coil, plays the waveform of dsp.methods.driven_coil and
logs what came back. Blocks are (frames, channels), full scale 1; `columns` are the channels that are kept.

Before it listens, whatever waited in the stream is passed by: it was played before it was asked for. Then the
strings are damped: it is "ready" once what sounds has fallen to the bench's own floor and stays there
(dsp.live.quiet), and what begins before has to stand out of what still rings. Hands that move a plug, clips
or a selector are waited for by `await_move`. What is heard and is no gesture becomes no take, no file and no
line of the log; the session's sound is in a spool all the same (capture.takes.spool). Whatever ends it early
(Ctrl-C, a lost input, a full disk) leaves what was recorded as an unfinished take (capture.takes.recorder).
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
from capture.takes.spool import Spool
from dsp.live.gestures import WatchPlan, plan_for, plan_of
from dsp.live.quiet import MoveWatch, QuietWatch
from dsp.live.watching import EventKind, Watcher, WatchEvent
from dsp.methods.driven_coil import drive_waveform

Samples = npt.NDArray[np.float32]
ProgressCode = Literal[
    "moving",
    "not moved",
    "waiting",
    "level",
    "ready",
    "onset",
    "too loud",
    "nothing heard",
    "passed over",
    "still ringing",
    "ended",
]
Request = Literal["stop", "void", "skip", "tag", "yes", "no", "keep", "moved", "mine"]
"""What a person asks for: "keep", make a take of what was passed over; "moved", the plug is where it is to
be; "mine", a take of the person's own choice comes next."""

RING_S = 2.5
"""Kept in memory while waiting: more than any gesture's time before the onset."""
LEVEL_EVERY_S = 0.05
LOWEST_DB = -99.0
PATIENCE = 10
"""So many times a plan's waiting time without an onset, and it gives up: the person has gone."""
NOT_MOVED_S = 6.0
"""Nothing that is moved so long after the first step was shown, or after what was heard last: it is plugged
in as it should be."""
ONE_PLUG_S = 3.0
"""The same after a bang where one cable alone is plugged in: it bangs once."""
MOVES_WITHIN_S = 600.0
SAY_AGAIN_S = 20.0


class BlockStream(Protocol):
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
class Progress:
    """Something to show while it listens; ``peaks_db`` of each kept channel since the last one."""

    what: ProgressCode
    peaks_db: tuple[float, ...] = ()


@dataclass(frozen=True)
class CaptureResult:
    """What came of waiting: a take, or a request of the person, or neither (nobody played).

    ``span`` is where in the stream the take lies, to ask later whether samples were lost; ``onset`` is the
    frame of the take at which its gesture was heard to begin.
    """

    take: TakeFile | None
    request: Request | None = None
    span: tuple[int, int] = (0, 0)
    onset: int | None = None
    floor_db: tuple[float, ...] | None = None


def record_gesture(
    stream: BlockStream,
    folder: Path,
    fields: TakeFields,
    *,
    columns: Sequence[int],
    rests_s: float = 0.0,
    comes_s: float = 0.0,
    moves: int | None = None,
    floor_db: Sequence[float] | None = None,
    spool: Spool | None = None,
    on_progress: Callable[[Progress], None],
    next_request: Callable[[], Request | None] = lambda: None,
) -> CaptureResult:
    """Wait for quiet, then for one gesture, and log it.

    ``rests_s``: a tool is brought to its place before it, so nothing is to be heard for so long first;
    ``comes_s``: and at least so long where nothing was heard yet of hands that are still to come.
    ``moves``: how often a selector is to move while the string rings; the take ends soon after the last.
    ``floor_db``: noise and hum of each kept channel, as an earlier take on the same setting found them.

    ``next_request`` is called with every block, and a request ends it; of a take that has begun, what was
    recorded is kept.

    Raises
    ------
    InputLostError
        The input has stopped; what was recorded stays, unfinished.
    RecordingError, LogError
        The folder cannot be written; what was recorded stays, unfinished.

    """
    plan = plan_for(fields.gesture)
    blocks = _KeptBlocks(stream, columns, on_progress, next_request, spool)
    blocks.skip_waiting()
    on_progress(Progress("waiting"))
    if rests_s > 0:
        watcher_floor = _until_rested(
            blocks, plan, rests_s=rests_s, comes_s=comes_s, quiet=_quiet(blocks, floor_db)
        )
    elif plan.steady or plan.timed:
        watcher_floor = None
        quiet = _quiet(blocks, floor_db)
        for _, samples, _ in blocks:
            quiet.feed(samples)
            if quiet.rests:
                break
    else:
        return _record_onset(blocks, folder, fields, plan, moves=moves, quiet=_quiet(blocks, floor_db))
    if blocks.request is not None:
        return CaptureResult(None, blocks.request)
    on_progress(Progress("ready"))
    return _record_onset(blocks, folder, fields, plan, watcher_floor=watcher_floor)


def await_move(
    stream: BlockStream,
    *,
    columns: Sequence[int],
    known: bool,
    spool: Spool | None = None,
    on_progress: Callable[[Progress], None],
    next_request: Callable[[], Request | None] = lambda: None,
) -> Request | Literal["gave up"] | None:
    """Wait until hands have moved a plug, clips or the selector, or tapped twice; a request ends it too.

    ``known``: what was plugged in before is known, so it does have to be moved; where it is not, nothing may
    have to be. "moved" is the person's word that it is done. Where it does have to be moved, quiet alone
    never ends it, since the next take would be called by what is not plugged in yet; how to go on is said.
    Where it may not have to be, quiet ends it after a while: a cable that was in already does not bang.

    Raises
    ------
    InputLostError
        The input has stopped.

    """
    blocks = _KeptBlocks(stream, columns, on_progress, next_request, spool)
    blocks.skip_waiting()
    on_progress(Progress("moving"))
    watch = MoveWatch(rate=stream.rate, channels=len(columns))
    frames = said = 0
    for _, samples, _ in blocks:
        watch.feed(samples)
        frames += len(samples)
        enough_s = ONE_PLUG_S if watch.disturbed and len(columns) == 1 else NOT_MOVED_S
        if watch.moved or (not known and watch.quiet_s >= enough_s):
            return None
        if frames - said >= SAY_AGAIN_S * stream.rate:
            said = frames
            on_progress(Progress("not moved"))
        if frames >= MOVES_WITHIN_S * stream.rate:
            return "gave up"
    return blocks.request


@dataclass
class _KeptBlocks:
    """The kept channels of a stream, block by block; levels are told on the way, and requests taken."""

    stream: BlockStream
    columns: Sequence[int]
    on_progress: Callable[[Progress], None]
    next_request: Callable[[], Request | None]
    spool: Spool | None = None
    request: Request | None = None
    _peak: npt.NDArray[np.float64] | None = None
    _since: int = 0

    def skip_waiting(self) -> None:
        """Pass by what came before now."""
        while self.stream.waiting:
            self._spooled(self.stream.read())

    def _spooled(self, block: Block | None) -> None:
        if self.spool is not None and block is not None:
            self.spool.add(block.start, block.samples, block.dropped)

    def __iter__(self) -> Iterator[tuple[int, Samples, bool]]:
        """(start, samples, dropped) until there is a request."""
        while self.request is None:
            block = self.stream.read()
            self.request = self.next_request()
            if block is None:
                continue
            self._spooled(block)
            samples = np.ascontiguousarray(block.samples[:, list(self.columns)])
            self._show(samples)
            yield block.start, samples, block.dropped

    def _show(self, samples: Samples) -> None:
        peak = np.abs(samples).max(axis=0, initial=0.0).astype(np.float64)
        self._peak = peak if self._peak is None else np.maximum(self._peak, peak)
        self._since += len(samples)
        if self._since >= LEVEL_EVERY_S * self.stream.rate:
            self.on_progress(Progress("level", tuple(_db(x) for x in self._peak)))
            self._peak, self._since = None, 0


def _quiet(blocks: _KeptBlocks, floor_db: Sequence[float] | None) -> QuietWatch:
    return QuietWatch(rate=blocks.stream.rate, channels=len(blocks.columns), floor_db=floor_db)


def _until_rested(
    blocks: _KeptBlocks, plan: WatchPlan, *, rests_s: float, comes_s: float, quiet: QuietWatch
) -> tuple[float, ...] | None:
    """Read until strings are damped and no bump has come for a while; return the level of noise and hum.

    While a string still rings the hand that stops it is yet to come, and its thump is like a lift.
    """
    rate = blocks.stream.rate
    watcher = Watcher(plan_of("lift"), rate=rate, channels=len(blocks.columns))
    last, begun = None, None
    for start, samples, _ in blocks:
        begun = start if begun is None else begun
        if any(e.kind in ("onset", "ended") for e in watcher.feed(samples)):
            last = start
        quiet.feed(samples)
        since, still_s = (begun, max(rests_s, comes_s)) if last is None else (last, rests_s)
        if quiet.rests and start + len(samples) - since >= still_s * rate:
            break
    return None if plan.steady or plan.timed else watcher.floor_db


SAID: dict[EventKind, ProgressCode] = {
    "too loud": "too loud",
    "timed out": "nothing heard",
    "passed over": "passed over",
    "still ringing": "still ringing",
}


def _record_onset(
    blocks: _KeptBlocks,
    folder: Path,
    fields: TakeFields,
    plan: WatchPlan,
    *,
    moves: int | None = None,
    quiet: QuietWatch | None = None,
    watcher_floor: Sequence[float] | None = None,
) -> CaptureResult:
    """Wait for the gesture; with ``quiet``, while the strings are being damped, and then in quiet."""
    rate, channels = blocks.stream.rate, len(blocks.columns)
    watcher = Watcher(plan, rate=rate, channels=channels, floor_db=watcher_floor, moves=moves)
    patience = PATIENCE
    floor_db: tuple[float, ...] | None = None
    if quiet is not None:
        watcher.damping()
    with closing(_TakeBuffer(blocks, folder, fields)) as recording:
        for start, samples, dropped in blocks:
            recording.take_in(start, samples, dropped)
            for event in watcher.feed(samples):
                if event.kind == "ended" and recording.writer is not None:
                    blocks.on_progress(Progress("ended"))
                    return replace(recording.finish(event), floor_db=floor_db)
                if event.kind == "onset":
                    recording.begin(event)
                    recording.begun_at(event)
                    continue
                recording.passed_over(event)
                if event.kind != "passed over" or floor_db is not None or quiet is None:
                    blocks.on_progress(Progress(SAID[event.kind]))
                patience -= event.kind == "timed out"
            if quiet is not None and floor_db is None and recording.writer is None:
                quiet.feed(samples)
                if quiet.rests:
                    floor_db = quiet.floor_db
                    watcher.rest(quiet.rests_since_s)
                    blocks.on_progress(Progress("ready"))
            if not patience:
                break
        # A request in the middle of a take: what was recorded becomes one, and is judged like any other.
        return recording.finish() if recording.writer is not None else CaptureResult(None, blocks.request)


@dataclass
class _TakeBuffer:
    """Blocks on their way into a take: kept in memory until something begins, written from then on."""

    blocks: _KeptBlocks
    folder: Path
    fields: TakeFields
    writer: TakeWriter | None = None
    _before: deque[tuple[int, Samples, bool]] = field(default_factory=deque)
    _origin: int | None = None
    _first: int = 0
    _onset: int | None = None

    def take_in(self, start: int, samples: Samples, dropped: bool) -> None:
        """Keep or write the next block."""
        self._origin = start if self._origin is None else self._origin
        if self.writer is not None:
            self.writer.write(samples, dropped=dropped)
            return
        self._before.append((start, samples, dropped))
        while self._before[-1][0] - self._before[0][0] > RING_S * self.blocks.stream.rate:
            self._before.popleft()

    def begin(self, event: WatchEvent) -> None:
        """Something begins; another onset within a take changes nothing here."""
        if self.writer is not None:
            return
        self._first = max(event.keep_from + (self._origin or 0), self._before[0][0])
        self.writer = TakeWriter(
            self.folder, rate=self.blocks.stream.rate, channels=len(self.blocks.columns), planned=self.fields
        )
        for start, samples, dropped in self._before:
            if start + len(samples) > self._first:
                part = samples[max(0, self._first - start) :]
                self.writer.write(part, dropped=dropped and start >= self._first)
        self.blocks.on_progress(Progress("onset"))

    def passed_over(self, event: WatchEvent) -> None:
        """Remember where something was heard that is no gesture: the person may know better."""
        if self.blocks.spool is not None and event.kind in ("passed over", "still ringing"):
            self.blocks.spool.mark(event.at + (self._origin or 0))

    def begun_at(self, event: WatchEvent) -> None:
        """Remember the latest onset: what came before it was a bump."""
        self._onset = event.at + (self._origin or 0) - self._first

    def finish(self, event: WatchEvent | None = None) -> CaptureResult:
        """Name and log it, as far as the event says, or all that there is."""
        if self.writer is None:
            raise AssertionError("a take is finished after it was begun")
        keep = self.writer.frames
        if event is not None:
            keep = min(event.keep_to + (self._origin or 0) - self._first, keep)
        span = (self._first, self._first + keep)
        if any(self.blocks.stream.lost_between(*span)):
            self.writer.mark_dropped()
        if self.blocks.spool is not None:
            self.blocks.spool.taken(span[1])
        return CaptureResult(
            self.writer.finish(self.fields, keep_to=keep), self.blocks.request, span, self._onset
        )

    def close(self) -> None:
        """Let go of a take that was begun; what is not finished is offered later."""
        if self.writer is not None:
            self.writer.close()


def _db(peak: float) -> float:
    return max(LOWEST_DB, 20 * float(np.log10(max(peak, 1e-9))))


HOLD_S = 4.0
"""To bring the coil over the pickup before it sounds."""


def record_driven_coil(
    stream: InputStream,
    folder: Path,
    fields: TakeFields,
    *,
    columns: Sequence[int],
    output: OutputDevice,
    hold_s: float = HOLD_S,
    on_progress: Callable[[Progress], None],
    next_request: Callable[[], Request | None] = lambda: None,
) -> CaptureResult:
    """Wait, play, record, log.

    Raises
    ------
    InputLostError, DeviceError
        The input has stopped, or the output cannot play; what was recorded stays, unfinished.
    RecordingError, LogError
        The folder cannot be written; likewise.

    """
    on_progress(Progress("waiting"))
    ends = time.monotonic() + hold_s
    while time.monotonic() < ends:
        stream.read()
        if (request := next_request()) is not None:
            return CaptureResult(None, request)
    while stream.waiting:
        stream.read()
    on_progress(Progress("ready"))
    wave = drive_waveform(rate=output.rate_hz)
    first = None
    with closing(TakeWriter(folder, rate=stream.rate, channels=len(columns), planned=fields)) as writer:
        for block in play_and_record(stream, wave, rate=output.rate_hz, output=output):
            first = block.start if first is None else first
            writer.write(np.ascontiguousarray(block.samples[:, list(columns)]), dropped=block.dropped)
        begun = first or 0
        span = (begun, begun + writer.frames)
        return CaptureResult(writer.finish(fields), None, span)
