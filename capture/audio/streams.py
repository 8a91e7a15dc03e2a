"""Recording from an input and playing through an output.

`open_input` begins to record at once: the audio callback only copies into a queue (`BlockQueue`), and
`InputStream.read` gives the blocks in order, (frames, channels) float32, full scale 1. It raises
`InputLostError` when blocks stop: at once where the stream ended by itself, after `STALLED_S` of waiting
where it only stalls.

Lost samples are found in two ways: by the overflow flag of a block, and by the clock (`_LagWatch`), since
after a blockage some drivers lose samples without a flag. Blocks may come late and catch up; what is still
missing in the best of two windows of `WINDOW_S` in a row is lost.

`play` plays a waveform (frames,) or (frames, channels) of at most `LEVEL` once; one channel goes to both of a
pair. `play_and_record` yields the blocks of an input meanwhile. Input and output need not share a clock.
"""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from capture.audio.devices import (
    BOX_INPUTS,
    InputDevice,
    OpenStream,
    OutputDevice,
    device_entries,
    device_label,
    library,
    pick_device,
)
from dsp import CoilwiseError, SignalError
from dsp.methods.driven_coil import LEVEL

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
class LostSamples:
    """Samples that never came; `start` to `stop` are the frames between which they are missing.

    `frames` is how many, as the clock has it; 0 where only a flag speaks of it.
    """

    start: int
    stop: int
    frames: int


@dataclass
class _LagWatch:
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

    def find_loss(self, frames: int, at: float) -> LostSamples | None:
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
        return LostSamples(start, frames, round(missing * self.rate)) if missing >= LOST_S else None


@dataclass
class BlockQueue:
    """The queue between the audio thread (`take`, `ended`) and the reader (`read`)."""

    rate: int
    name: str
    clock: Callable[[], float] = time.monotonic
    losses: list[LostSamples] = field(default_factory=list)
    read_frames: int = 0
    _queue: queue.SimpleQueue[tuple[Samples, bool, float] | None] = field(default_factory=queue.SimpleQueue)
    _put: int = 0
    _overrun: bool = False
    _waited: float = 0.0
    _looked: float = field(init=False)
    _watch: _LagWatch = field(init=False)

    def __post_init__(self) -> None:
        self._looked = self.clock()
        self._watch = _LagWatch(self.rate)

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
                self._raise_if_stalled()
                if now >= end:
                    return None
                continue
            self._looked, self._waited = self.clock(), 0.0
            if item is None:
                self._queue.put(None)
                raise InputLostError(self._message("has ended by itself"))
            return self._block(*item)

    @property
    def waiting(self) -> int:
        """Frames that came and were not read yet."""
        return self._put - self.read_frames

    def lost_between(self, start: int, stop: int) -> tuple[LostSamples, ...]:
        """Return the losses that may lie between two frames."""
        return tuple(loss for loss in self.losses if loss.start < stop and loss.stop >= start)

    def _block(self, samples: Samples, overflowed: bool, at: float) -> Block:
        start = self.read_frames
        self.read_frames += len(samples)
        late = self._watch.find_loss(self.read_frames, at)
        if overflowed:
            self.losses.append(LostSamples(start, start, 0))
        if late is not None:
            self.losses.append(late)
        return Block(samples, start, overflowed or late is not None)

    def _raise_if_stalled(self) -> None:
        if self._waited < (STALLED_S if self.read_frames else STARTS_WITHIN_S):
            return
        no_sound = "gives no more sound" if self.read_frames else "gives no sound at all"
        raise InputLostError(self._message(no_sound))

    def _message(self, what: str) -> str:
        return (
            f'the input "{self.name}" {what}; check its cable and power and that no other program took it,'
            " then start again: what was recorded before is kept"
        )


BLOCKS_A_SECOND = 100
LATENCY_S = 0.5
"""Of buffer between the hardware and us, for a busy computer; blocks come as soon as they are full."""
READ_S = 0.2


def list_inputs() -> tuple[InputDevice, ...]:
    """Return all inputs as the audio system had them when it was first asked.

    Raises
    ------
    SoundMissingError
        There is no PortAudio.

    """
    return tuple(InputDevice(*row) for row in device_entries("input"))


def list_outputs() -> tuple[OutputDevice, ...]:
    """Return all outputs, likewise."""
    return tuple(OutputDevice(*row) for row in device_entries("output"))


def choose_input(word: str | None = None) -> InputDevice:
    """Return the input that a number, a name or a part of one means; without a word, a two-input box.

    Raises
    ------
    SoundMissingError
        There is no PortAudio.
    DeviceError
        None fits, or several do.

    """
    return pick_device(list_inputs(), word)


def choose_output(word: str | None = None) -> OutputDevice:
    """Return the output that is meant; without a word, the system's own."""
    outputs = list_outputs()
    default = next((d for d in outputs if d.is_default), None)
    return default if word is None and default is not None else pick_device(outputs, word, kind="output")


class InputStream(OpenStream):
    """An input that is recording, until it is closed. Blocks wait in a queue until they are read.

    Of a box, both inputs are opened also where one is wanted: many audio systems would give the mean of both
    as one, and what buzzes in the other socket with it.
    """

    def __init__(self, device: InputDevice, *, channels: int, rate: int) -> None:
        self.device, self.channels, self.rate = device, channels, rate
        self._feed = BlockQueue(rate, device.name)
        opened = max(channels, min(device.channels, BOX_INPUTS))
        sd = library()
        super().__init__(
            sd.InputStream,
            f"{device_label(device)}: cannot record {channels} channels at {rate} Hz",
            sd,
            device=device.number,
            channels=opened,
            samplerate=rate,
            dtype="float32",
            blocksize=max(1, rate // BLOCKS_A_SECOND),
            latency=LATENCY_S,
            callback=self._came,
            finished_callback=self._feed.ended,
        )

    def read(self, *, timeout_s: float = READ_S) -> Block | None:
        """Return the next block, or None if none came in time.

        Raises
        ------
        InputLostError
            The input has stopped. All blocks that came before have been read.

        """
        try:
            return self._feed.read(timeout_s=timeout_s)
        except InputLostError:
            self.close()
            raise

    @property
    def lost(self) -> tuple[LostSamples, ...]:
        """Where samples were lost so far, by flag and by clock; the clock needs up to 1.5 s to be sure."""
        return tuple(self._feed.losses)

    @property
    def waiting(self) -> int:
        """How many frames have come and were not read yet."""
        return self._feed.waiting

    def lost_between(self, start: int, stop: int) -> tuple[LostSamples, ...]:
        """Return the losses that may lie between two frames, counted since the stream began."""
        return self._feed.lost_between(start, stop)

    def _came(self, samples: npt.NDArray[np.float32], frames: int, when: Any, status: Any) -> None:
        self._feed.take(samples[:, : self.channels], bool(status) and bool(status.input_overflow))


def open_input(device: InputDevice, *, channels: int | None = None, rate: int | None = None) -> InputStream:
    """Open an input: two channels where it has them, at its own rate, unless said otherwise.

    Raises
    ------
    SoundMissingError
        There is no PortAudio.
    DeviceError
        The device is gone or in use, or has no such rate or channels.

    """
    wanted = min(device.channels, BOX_INPUTS) if channels is None else channels
    return InputStream(device, channels=wanted, rate=rate or device.rate_hz)


TAIL_S = 0.3
"""Recorded after the end, so that the fade is whole."""
PLAY_BUFFER_S = 0.3
"""Of buffer before the output, so that a busy computer leaves no gap in what is played."""
SILENCE_OF_BUFFER = 2.5
"""Silence played after the end, in buffers: some outputs drop what is still in theirs when a stream ends."""
_ROUNDING = 1e-6


class Playback(OpenStream):
    """Something that plays once through an output; `done` when it was played."""

    def __init__(
        self, samples: npt.NDArray[np.floating], *, rate: int, output: OutputDevice, buffer_s: float
    ) -> None:
        wave = _output_samples(samples, output, silence=round(SILENCE_OF_BUFFER * buffer_s * rate))
        self._left, self._over = wave, False
        sd = library()
        self._stopped = sd.CallbackStop
        super().__init__(
            sd.OutputStream,
            f"{device_label(output)}: cannot play at {rate} Hz",
            sd,
            device=output.number,
            channels=wave.shape[1],
            samplerate=rate,
            dtype="float32",
            latency=buffer_s,
            callback=self._wanted,
            finished_callback=self._ended,
        )

    @property
    def done(self) -> bool:
        """Whether all was played, or the output has ended."""
        return self._over

    def _wanted(self, room: npt.NDArray[np.float32], frames: int, when: Any, status: Any) -> None:
        part, self._left = self._left[:frames], self._left[frames:]
        room[: len(part)] = part
        room[len(part) :] = 0.0
        if len(part) < frames:
            raise self._stopped

    def _ended(self) -> None:
        self._over = True


def play(
    samples: npt.NDArray[np.floating],
    *,
    rate: int,
    output: OutputDevice | None = None,
    buffer_s: float = PLAY_BUFFER_S,
) -> Playback:
    """Play (frames,) or (frames, channels) once; one channel comes out of both of a pair.

    It is heard about `buffer_s` seconds later.

    Raises
    ------
    SoundMissingError
        There is no PortAudio.
    DeviceError
        There is no such output, or it does not run at that rate.
    SignalError
        Louder than `LEVEL`, or no finite numbers.

    """
    return Playback(samples, rate=rate, output=output or choose_output(), buffer_s=buffer_s)


def play_and_record(
    stream: InputStream,
    samples: npt.NDArray[np.floating],
    *,
    rate: int,
    output: OutputDevice | None = None,
    tail_s: float = TAIL_S,
) -> Iterator[Block]:
    """Play once while `stream` records, and yield what it records until `tail_s` after the end.

    Raises
    ------
    InputLostError
        The input has stopped; and whatever `play` raises.

    """
    longest = len(samples) / rate + (2 + SILENCE_OF_BUFFER) * PLAY_BUFFER_S + 2 * tail_s + LATENCY_S + 1.0
    with closing(play(samples, rate=rate, output=output)) as playing:
        give_up = time.monotonic() + longest
        end = give_up
        while time.monotonic() < min(end, give_up):
            block = stream.read()
            if block is not None:
                yield block
            if playing.done and end == give_up:
                end = time.monotonic() + tail_s


def _output_samples(
    samples: npt.NDArray[np.floating], output: OutputDevice, *, silence: int
) -> npt.NDArray[np.float32]:
    wave = np.asarray(samples, dtype=np.float32)
    wave = wave[:, np.newaxis] if wave.ndim == 1 else wave
    if not np.isfinite(wave).all() or np.max(np.abs(wave), initial=0.0) > LEVEL + _ROUNDING:
        raise SignalError(f"what is played has finite samples, at most {LEVEL} of full scale")
    wave = np.pad(wave, ((0, silence), (0, 0)))
    return np.repeat(wave, min(BOX_INPUTS, output.channels), axis=1) if wave.shape[1] == 1 else wave
