"""A stretch of a long recording as a WAV file of its own, with the samples as they were.

`wav_bytes(stretch)` gives the whole file: whole numbers of up to 24 bits become 24-bit WAV, of 32 bits 32-bit
WAV, floats stay the floats they were, and what came out of a compression with loss is rounded to 24 bits. The
same stretch always gives the same bytes (libsndfile would write the time into float files), so that a
stretch brought in twice is known by its hash. Layout: RIFF/WAVE with "fmt ", for floats "fact", and "data".
"""

from __future__ import annotations

import struct

import numpy as np
import numpy.typing as npt

from capture.audio_files import Stretch

_WHOLE, _FLOAT = 1, 3  # format tags of the fmt chunk
_BITS_24 = 24
_BITS_32 = 32


def wav_bytes(stretch: Stretch) -> bytes:
    """Return the WAV file that holds `stretch`."""
    samples = stretch.samples
    frames, channels = samples.shape
    if samples.dtype.kind == "i":
        tag, bits = _WHOLE, _BITS_32 if stretch.subtype.endswith("_32") else _BITS_24
        data = _whole(samples.astype(np.int32), bits)
    elif stretch.subtype in ("FLOAT", "DOUBLE"):
        tag, bits = _FLOAT, 8 * samples.dtype.itemsize
        data = samples.astype(samples.dtype.newbyteorder("<")).tobytes()
    else:
        tag, bits = _WHOLE, _BITS_24
        full = 1 << 23
        rounded = np.clip(np.round(samples.astype(np.float64) * full), -full, full - 1)
        data = _whole(rounded.astype(np.int32) << 8, bits)
    frame_bytes = channels * bits // 8
    head = struct.pack("<HHIIHH", tag, channels, stretch.rate, stretch.rate * frame_bytes, frame_bytes, bits)
    chunks = _chunk(b"fmt ", head if tag == _WHOLE else head + struct.pack("<H", 0))
    if tag == _FLOAT:
        chunks += _chunk(b"fact", struct.pack("<I", frames))
    return _chunk(b"RIFF", b"WAVE" + chunks + _chunk(b"data", data))


def _whole(samples: npt.NDArray[np.int32], bits: int) -> bytes:
    """Little-endian whole numbers; the stored bits stand uppermost in `samples`."""
    if bits == _BITS_32:
        return samples.astype("<i4").tobytes()
    each = (samples >> 8).astype("<i4").reshape(-1, 1).view(np.uint8)
    return each[:, :3].tobytes()


def _chunk(name: bytes, held: bytes) -> bytes:
    return name + struct.pack("<I", len(held)) + held + b"\0" * (len(held) % 2)
