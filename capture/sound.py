"""Recording from the sound card: which inputs there are, and a stream from one of them.

Task: `list_inputs`, `choose_input`, `open_input`; capture.playing plays. Shapes: (frames, channels) float32,
full scale 1.0, with the sign and the rate of the device; nothing is mixed, resampled or turned here. What can
go wrong is a `CoilwiseError` with what to do: `SoundMissingError` (no PortAudio), `NoSuchInputError` (device,
channels, rate), `InputLostError` (it stopped: capture.watchdog).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from capture.audio_system import OpenStream, SoundMissingError, hushed, library, listed
from capture.inputs import BOX_INPUTS, InputDevice, NoSuchInputError, OutputDevice, chosen, shown
from capture.watchdog import Block, Feed, InputLostError, Loss

__all__ = [
    "Block",
    "InputDevice",
    "InputLostError",
    "InputStream",
    "Loss",
    "NoSuchInputError",
    "OutputDevice",
    "SoundMissingError",
    "choose_input",
    "choose_output",
    "list_inputs",
    "list_outputs",
    "look_again",
    "open_input",
    "shown",
]

BLOCKS_A_SECOND = 100
LATENCY_S = 0.5
"""Of buffer between the hardware and us, for a busy computer; blocks come as soon as they are full."""
READ_S = 0.2


def list_inputs() -> tuple[InputDevice, ...]:
    """Return all inputs as the audio system had them when it was first asked (`look_again` asks anew).

    Raises
    ------
    SoundMissingError
        There is no PortAudio.

    """
    return tuple(InputDevice(*said) for said in listed("input"))


def list_outputs() -> tuple[OutputDevice, ...]:
    """Return all outputs, likewise."""
    return tuple(OutputDevice(*said) for said in listed("output"))


def choose_input(word: str | None = None) -> InputDevice:
    """Return the input that a number, a name or a part of one means; without a word, a two-input box.

    Raises
    ------
    SoundMissingError
        There is no PortAudio.
    NoSuchInputError
        None fits, or several do.

    """
    return chosen(list_inputs(), word)


def choose_output(word: str | None = None) -> OutputDevice:
    """Return the output that is meant; without a word, the system's own."""
    outputs = list_outputs()
    default = next((d for d in outputs if d.is_default), None)
    return default if word is None and default is not None else chosen(outputs, word, kind="output")


def look_again() -> None:
    """Let the audio system look for devices anew, after something was plugged in; ends open streams."""
    sd = library()
    with hushed():
        sd._terminate()
        sd._initialize()


class InputStream(OpenStream):
    """An input that is recording, until the `with` block ends. Blocks wait in a queue until they are read."""

    def __init__(self, device: InputDevice, *, channels: int, rate: int) -> None:
        self.device, self.channels, self.rate = device, channels, rate
        self._feed = Feed(rate, device.name)
        sd = library()
        super().__init__(
            sd.InputStream,
            f"{shown(device)}: cannot record {channels} channels at {rate} Hz",
            sd,
            device=device.number,
            channels=channels,
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
    def lost(self) -> tuple[Loss, ...]:
        """Where samples were lost so far, by flag and by clock; the clock needs up to 1.5 s to be sure."""
        return tuple(self._feed.losses)

    @property
    def waiting(self) -> int:
        """How many frames have come and were not read yet."""
        return self._feed.waiting

    def lost_between(self, start: int, stop: int) -> tuple[Loss, ...]:
        """Return the losses that may lie between two frames, counted since the stream began."""
        return self._feed.lost_between(start, stop)

    def _came(self, samples: npt.NDArray[np.float32], frames: int, when: Any, status: Any) -> None:
        self._feed.take(samples, bool(status) and bool(status.input_overflow))


def open_input(device: InputDevice, *, channels: int | None = None, rate: int | None = None) -> InputStream:
    """Open an input: two channels where it has them, at its own rate, unless said otherwise.

    Raises
    ------
    SoundMissingError
        There is no PortAudio.
    NoSuchInputError
        The device is gone or in use, or has no such rate or channels.

    """
    wanted = min(device.channels, BOX_INPUTS) if channels is None else channels
    return InputStream(device, channels=wanted, rate=rate or device.rate_hz)
