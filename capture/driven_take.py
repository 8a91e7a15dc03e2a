"""One take of a driven coil: the waveform goes out while the input records, with no key between.

Task: `drive_once` gives the person time to hold the coil, plays the waveform of dsp.driving (level limited,
faded in and out) and logs what came back. Shapes: (frames, channels), full scale 1.0, with their sign. Units:
seconds.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from capture.hands_free import Caught, Notice, Wish
from capture.inputs import OutputDevice
from capture.playing import play_and_record
from capture.recorder import TakeWriter
from capture.said import Said
from capture.sound import InputStream
from dsp.driving import drive_waveform

HOLD_S = 4.0
"""To bring the coil over the pickup before it sounds."""


def drive_once(
    stream: InputStream,
    folder: Path,
    said: Said,
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
    with TakeWriter(folder, rate=stream.rate, channels=len(columns), planned=said) as writer:
        for block in play_and_record(stream, wave, rate=output.rate_hz, output=output):
            first = block.start if first is None else first
            writer.write(np.ascontiguousarray(block.samples[:, list(columns)]), dropped=block.dropped)
        begun = first or 0
        span = (begun, begun + writer.frames)
        return Caught(writer.finish(said), None, span)
