"""Playing something once while an input records: for a small coil that is driven over a pickup.

Task: `play_and_record` yields the blocks of the input while a waveform (dsp.driving) goes out. Shapes: a
waveform (frames,) or (frames, channels), full scale 1.0, at most `LEVEL` and with its own fades; one channel
comes out of both of a pair. The sign is kept. Output and input need not share a clock.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from capture.audio_system import OpenStream, library
from capture.inputs import BOX_INPUTS, OutputDevice, shown
from capture.sound import LATENCY_S, InputStream, choose_output
from capture.watchdog import Block
from dsp.driving import LEVEL
from dsp.errors import SignalError

TAIL_S = 0.3
"""Recorded after the end, so that the fade is whole."""
SILENCE_S = 0.2
"""Played after the end: some outputs drop what is still in their buffers when a stream ends."""
_ROUNDING = 1e-6


class Playing(OpenStream):
    """Something that plays once through an output; `done` when it was played. Ends with the `with` block."""

    def __init__(self, samples: npt.NDArray[np.floating], *, rate: int, output: OutputDevice) -> None:
        wave = _playable(samples, output, silence=round(SILENCE_S * rate))
        self._left, self._over = wave, False
        sd = library()
        self._stopped = sd.CallbackStop
        super().__init__(
            sd.OutputStream,
            f"{shown(output)}: cannot play at {rate} Hz",
            sd,
            device=output.number,
            channels=wave.shape[1],
            samplerate=rate,
            dtype="float32",
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


def play(samples: npt.NDArray[np.floating], *, rate: int, output: OutputDevice | None = None) -> Playing:
    """Play (frames,) or (frames, channels) once; one channel comes out of both of a pair.

    Raises
    ------
    SoundMissingError
        There is no PortAudio.
    NoSuchInputError
        There is no such output, or it does not run at that rate.
    SignalError
        Louder than `LEVEL`, or no finite numbers.

    """
    return Playing(samples, rate=rate, output=output or choose_output())


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
    longest = len(samples) / rate + SILENCE_S + 2 * (tail_s + LATENCY_S) + 1.0
    with play(samples, rate=rate, output=output) as playing:
        give_up = time.monotonic() + longest
        end = give_up
        while time.monotonic() < min(end, give_up):
            block = stream.read()
            if block is not None:
                yield block
            if playing.done and end == give_up:
                end = time.monotonic() + tail_s


def _playable(
    samples: npt.NDArray[np.floating], output: OutputDevice, *, silence: int
) -> npt.NDArray[np.float32]:
    wave = np.asarray(samples, dtype=np.float32)
    wave = wave[:, np.newaxis] if wave.ndim == 1 else wave
    if not np.isfinite(wave).all() or np.max(np.abs(wave), initial=0.0) > LEVEL + _ROUNDING:
        raise SignalError(f"what is played has finite samples, at most {LEVEL} of full scale")
    wave = np.pad(wave, ((0, silence), (0, 0)))
    return np.repeat(wave, min(BOX_INPUTS, output.channels), axis=1) if wave.shape[1] == 1 else wave
