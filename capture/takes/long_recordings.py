"""A take that is longer than any gesture: a stop button was forgotten. Which part of it is heard.

The file is read block by block, so that memory does not grow with its length, and searched in pieces as long
as what is heard. Heard is what begins a little before the first onset of a gesture, in a piece that is not
far softer than the loudest; where there is none, and for gestures that have no onset, the beginning. Seconds
and frames of the file.
"""

from __future__ import annotations

from os import PathLike

import numpy as np

from capture.audio.files import Audio, AudioHeader, audio_blocks, read_part
from capture.audio.problems import UnreadableError
from capture.log.entries import Take
from dsp.live.gestures import LONGEST_TAKE_S, WITH_ONSET
from dsp.live.onset_stream import OnsetStream

BEFORE_S = 2.0
"""Before the onset: quiet, in which noise and hum are measured."""
FAR_SOFTER = 0.1
"""Of the loudest: a gesture is not softer than that, and noise that begins often is."""


def read_gesture(path: str | PathLike[str], header: AudioHeader, entry: Take) -> Audio:
    """Return the part of a long recording that holds the gesture of `entry`.

    Raises
    ------
    UnreadableError
        The file cannot be read.

    """
    try:
        start = _beginning(path, header, entry)
    except UnreadableError:  # cut short: what there is of its beginning
        start = 0
    return read_part(path, start=start, frames=int(LONGEST_TAKE_S * header.rate))


def _beginning(path: str | PathLike[str], header: AudioHeader, entry: Take) -> int:
    plugged = [column for column, item in enumerate(entry.inputs) if item is not None]
    if entry.gesture not in WITH_ONSET or not plugged:
        return 0
    piece = int(LONGEST_TAKE_S * header.rate)
    peaks = [0.0] * (header.frames // piece + 1)
    read = 0
    for block in audio_blocks(path):
        here = min(read // piece, len(peaks) - 1)
        peaks[here] = max(peaks[here], float(np.abs(block[:, plugged]).max()))
        read += len(block)
    for number, peak in enumerate(peaks):
        if peak < FAR_SOFTER * max(peaks):
            continue
        stream = OnsetStream(gesture=entry.gesture, rate=header.rate, channels=plugged)
        stream.feed(read_part(path, start=number * piece, frames=piece).samples)
        onsets = [o.frame for o in stream.finish() if o.doubt is None]
        if onsets:
            return max(0, number * piece + onsets[0] - int(BEFORE_S * header.rate))
    return 0
