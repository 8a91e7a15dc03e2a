"""A recording while it is being made: a WAV under a hidden name that can be read at any moment.

Task: `PartFile` appends samples to ``takes/.<time>-<hex>.part.wav``. Each block is handed to the system at
once, and then the sizes in the head are set, so that whoever kills the program loses at most the block under
way. A note beside it (``….part.json``) says when it began, what was to be recorded, and whether samples were
lost. The file is locked while it is written, so that no other process takes it for left over.

Shapes: (frames, channels), full scale 1.0, stored as 24-bit whole numbers with the sign they have; float32
samples of a converter of up to 24 bits come back exactly, and what is beyond full scale is cut at it.
"""

from __future__ import annotations

import hashlib
import json
import os
import struct
import time
from collections.abc import Mapping
from contextlib import ExitStack, suppress
from datetime import UTC, datetime
from io import FileIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import numpy as np
import numpy.typing as npt

from capture import RecordingError
from capture.disk.locks import PATIENCE_S, locked
from capture.disk.reading import IS_LINK, TWO_NAMES, is_link, open_plain, read_plain, refused
from capture.disk.writing import create, flush, make_folder, replace_whole, write_all

PART = ".part.wav"
NOTE = ".part.json"
BITS = 24
_SAMPLE_BYTES = BITS // 8
_FULL = 1 << (BITS - 1)
_HEAD = struct.Struct("<4sI4s4sIHHIIHH4sI")
MOST_NOTE_BYTES = 100_000
_PAD = b"\0"
"""Chunks have an even size."""
_MOST_BYTES = (1 << 32) - 2 - _HEAD.size
"""A WAV has no room for larger sizes: two hours of two channels at 96 kHz."""


class PartFile:
    """A part file that is open for writing and locked.

    Raises
    ------
    RecordingError
        It cannot be made or written: the disk is full, the folder is read-only.

    """

    def __init__(self, takes: Path, *, rate: int, channels: int, note: Mapping[str, Any]) -> None:
        self.rate, self.channels, self.frames = rate, channels, 0
        began = datetime.now(UTC).strftime("%Y-%m-%dT%H-%M-%SZ")
        self.path = takes / f".{began}-{uuid4().hex[:8]}{PART}"
        self._note = dict(note)
        self._held = ExitStack()
        try:
            make_folder(takes.parent, takes.name)
            self._stream: FileIO = create(self.path)
            self._held.enter_context(locked(self._stream, self.path, wait_s=PATIENCE_S))
            self._write_head()
            self._write_note()
        except OSError as error:
            self.remove()
            raise RecordingError(_unwritable(self.path, error, 0.0)) from None

    def write(self, samples: npt.NDArray[np.floating]) -> None:
        """Append samples; after an error the file holds all whole frames that there was room for.

        Raises
        ------
        RecordingError
            The disk is full or gone, the file would be too large, or the samples are not finite.

        """
        if samples.shape[1:] != (self.channels,):
            raise RecordingError(f"{self.channels} channels are recorded, not an array of {samples.shape}")
        if not np.isfinite(samples).all():
            raise RecordingError("the input gives what are no numbers (NaN or infinity); restart it")
        data = _pcm24(samples)
        if self._bytes + len(data) > _MOST_BYTES:
            raise RecordingError("the take has grown too long for one file; finish it and begin another")
        try:
            self._stream.seek(_HEAD.size + self._bytes)
            write_all(self._stream, data)
            self.frames += len(samples)
            self._write_head()
        except OSError as error:
            self._keep_whole_frames()
            raise RecordingError(_unwritable(self.path, error, self.frames / self.rate)) from None

    def mark(self, **keys: Any) -> None:
        """Add to the note."""
        self._note |= keys
        try:
            self._write_note()
        except OSError as error:
            raise RecordingError(_unwritable(self.path, error, self.frames / self.rate)) from None

    def cut(self, frames: int) -> None:
        """Keep only the first frames."""
        self.frames = min(frames, self.frames)
        self._stream.truncate(_HEAD.size + self._bytes)
        self._write_head()

    def complete(self) -> str:
        """Flush all to the disk and return the SHA-256 of the file.

        It is read through the handle that holds the lock: on Windows no other may read a locked file.

        Raises
        ------
        RecordingError
            The disk refuses.

        """
        try:
            self._stream.seek(_HEAD.size + self._bytes)
            self._stream.write(_PAD[: self._bytes % 2])
            flush(self._stream.fileno())
            self._stream.seek(0)
            return hashlib.file_digest(self._stream, "sha256").hexdigest()
        except OSError as error:
            raise RecordingError(_unwritable(self.path, error, self.frames / self.rate)) from None

    def close(self) -> None:
        """Let go of the file; it stays where it is."""
        self._held.close()
        self._stream.close()

    def remove(self) -> None:
        """Let go of the file and take away its hidden name and its note."""
        if hasattr(self, "_stream"):
            self.close()
        remove_part(self.path)

    @property
    def _bytes(self) -> int:
        return self.frames * self.channels * _SAMPLE_BYTES

    def _write_head(self) -> None:
        self._stream.seek(0)
        self._stream.write(_head(self.rate, self.channels, self._bytes))

    def _write_note(self) -> None:
        replace_whole(note_of(self.path), json.dumps(self._note, ensure_ascii=False).encode())

    def _keep_whole_frames(self) -> None:
        try:
            size = os.fstat(self._stream.fileno()).st_size - _HEAD.size
            self.frames = max(self.frames, size // (self.channels * _SAMPLE_BYTES))
            self.cut(self.frames)
        except OSError:
            return


class AbandonedPart:
    """A part file that its program left behind; `frames` as many as are whole.

    Raises
    ------
    RecordingError
        It is being written just now, or is no part file, or cannot be read.

    """

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            with open_plain(path) as stream, locked(stream, path) as held:
                if not held:
                    raise RecordingError(f"{path}: is being recorded just now; wait until that is done")
                head, size = stream.read(_HEAD.size), os.fstat(stream.fileno()).st_size
        except OSError as error:
            raise RecordingError(f"{path}: cannot be read ({error.strerror})") from None
        if len(head) < _HEAD.size or head[:4] != b"RIFF":
            raise RecordingError(f"{path}: holds no sound")
        values = _HEAD.unpack(head)
        self.channels, self.rate = int(values[6]), int(values[7])
        frame_bytes = self.channels * _SAMPLE_BYTES
        self.frames = (size - _HEAD.size) // frame_bytes if frame_bytes else 0

    def note(self) -> dict[str, Any]:
        """Return what the note beside it says; nothing where it is missing or torn."""
        try:
            note = json.loads(read_plain(note_of(self.path), most_bytes=MOST_NOTE_BYTES))
        except (OSError, ValueError):
            return {}
        return note if isinstance(note, dict) else {}

    def mend(self) -> None:
        """Set the head to what is there, and flush it to the disk.

        One that was completed, and may have its second name already, is whole and not touched.

        Raises
        ------
        RecordingError
            The disk refuses, or the file has another name, under which it would change too.

        """
        held = self.frames * self.channels * _SAMPLE_BYTES
        try:
            if is_link(self.path):
                raise refused(self.path, IS_LINK)
            with self.path.open("r+b") as stream:
                head, whole = _head(self.rate, self.channels, held), _HEAD.size + held + held % 2
                seen = os.fstat(stream.fileno())
                if seen.st_size == whole and stream.read(_HEAD.size) == head:
                    return
                if seen.st_nlink > 1:
                    raise refused(self.path, TWO_NAMES)
                stream.seek(0)
                stream.write(head)
                stream.truncate(_HEAD.size + held)
                stream.seek(_HEAD.size + held)
                stream.write(_PAD[: held % 2])
                stream.flush()
                flush(stream.fileno())
        except OSError as error:
            raise RecordingError(_unwritable(self.path, error, self.frames / self.rate)) from None


def note_of(part: Path) -> Path:
    """Return where the note of a part file lies."""
    return part.with_name(part.name.removesuffix(PART) + NOTE)


_BEGINNING_S = 60.0
"""A part file is locked a moment after it is made."""


def remove_empty(takes: Path) -> None:
    """Take away the part files in a folder that hold no sound and are not being written, and lonely notes."""
    for path in takes.glob(f".*{PART}"):
        with suppress(OSError):
            with open_plain(path) as stream, locked(stream, path) as held:
                seen = os.fstat(stream.fileno())
                empty = held and seen.st_size <= _HEAD.size and seen.st_mtime < time.time() - _BEGINNING_S
            if empty:
                remove_part(path)
    for note in takes.glob(f".*{NOTE}"):
        with suppress(OSError):
            alone = not note.with_name(note.name.removesuffix(NOTE) + PART).exists()
            if alone and note.stat().st_mtime < time.time() - _BEGINNING_S:
                note.unlink()


def remove_part(part: Path) -> None:
    """Take away the hidden name of a recording, which has another by now, and its note."""
    part.unlink(missing_ok=True)
    note_of(part).unlink(missing_ok=True)


def _pcm24(samples: npt.NDArray[np.floating]) -> bytes:
    scaled = np.clip(np.rint(samples.astype(np.float64) * _FULL), -_FULL, _FULL - 1)
    each = np.ascontiguousarray(scaled.astype("<i4")).reshape(-1, 1).view(np.uint8)
    return each[:, :_SAMPLE_BYTES].tobytes()


def _head(rate: int, channels: int, held: int) -> bytes:
    frame_bytes = channels * _SAMPLE_BYTES
    pcm, fmt_bytes = 1, 16
    return _HEAD.pack(
        *(b"RIFF", _HEAD.size - 8 + held + held % 2, b"WAVE", b"fmt ", fmt_bytes, pcm, channels, rate),
        *(rate * frame_bytes, frame_bytes, BITS, b"data", held),
    )


def _unwritable(path: Path, error: OSError, seconds: float) -> str:
    kept = f"; {seconds:.1f} s were recorded and stay" if seconds else ""
    return f"{path.parent}: cannot be written ({error.strerror}){kept}; free some space, then go on"
