"""One recorder a job, across processes: whoever records holds the job, and others are told who that is.

Two that listen to one bench would count one pluck twice. `recording` holds a file of the job open and locked
while the block lasts; it ends with the process, however that ends. Beside it lies who it is, since a locked
file cannot be read everywhere. Reading, judging and typing readings go on as ever.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Literal

from capture import RecordingError
from capture.disk.locks import locked
from capture.disk.reading import open_plain, read_plain, require_own
from capture.disk.writing import make_folder, open_appending, replace_whole
from capture.log.entries import TAKES
from capture.log.writing import utc_now

Recorder = Literal["terminal", "page"]

LOCK, HOLDER = ".recording", ".recording.json"
UNKNOWN = "another program"
_MOST_BYTES = 1000
_LOOKED_AT_S = 0.5
"""Whoever looks whether somebody records holds the file for a moment."""


class AlreadyRecordingError(RecordingError):
    """Another process records into this job; ``holder`` says which and since when."""

    def __init__(self, folder: Path, holder: str) -> None:
        super().__init__(
            f"{folder}: {holder} records into this job just now, and two would count each pluck twice; go on "
            "there, or end it there first"
        )
        self.holder = holder


@contextmanager
def recording(folder: Path, *, who: Recorder) -> Iterator[None]:
    """Hold the job for recording while the block lasts.

    Raises
    ------
    AlreadyRecordingError
        Another process holds it.
    RecordingError
        The folder cannot be written.

    """
    takes = folder / TAKES
    try:
        make_folder(folder, TAKES)
        stream = open_appending(takes / LOCK)
    except OSError as error:
        raise RecordingError(f"{error.filename or takes}: cannot be written ({error.strerror})") from None
    with stream, locked(stream, takes / LOCK, wait_s=_LOOKED_AT_S) as held:
        if not held:
            raise AlreadyRecordingError(folder, holder_of(folder))
        with suppress(OSError):
            told = {"who": who, "process": os.getpid(), "since": utc_now()}
            replace_whole(takes / HOLDER, json.dumps(told).encode())
        try:
            yield
        finally:
            with suppress(OSError):
                (takes / HOLDER).unlink(missing_ok=True)


def is_recording(folder: Path) -> bool:
    """Whether another process records into the job just now."""
    try:
        path = require_own(folder, TAKES, LOCK)
        with open_plain(path) as stream, locked(stream, path) as held:
            return not held
    except OSError:  # there is none, or what is there is none of ours
        return False


def holder_of(folder: Path) -> str:
    """Who records into a job that is held, in words."""
    try:
        told = json.loads(read_plain(require_own(folder, TAKES, HOLDER), most_bytes=_MOST_BYTES))
        place = "the bench page" if told["who"] == "page" else "a terminal"
        return f"{place} (process {int(told['process'])}, since {str(told['since'])[11:16]} UTC)"
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return UNKNOWN
