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
from capture.log.entries import TAKES
from capture.log.writing import utc_now

Recorder = Literal["terminal", "page"]

LOCK, HOLDER = ".recording", ".recording.json"
UNKNOWN = "another program"


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
        takes.mkdir(exist_ok=True)
        stream = (takes / LOCK).open("ab")
    except OSError as error:
        raise RecordingError(f"{takes}: cannot be written ({error.strerror})") from None
    with stream, locked(stream, takes / LOCK) as held:
        if not held:
            raise AlreadyRecordingError(folder, holder_of(folder))
        with suppress(OSError):
            told = {"who": who, "process": os.getpid(), "since": utc_now()}
            (takes / HOLDER).write_text(json.dumps(told), encoding="utf-8")
        try:
            yield
        finally:
            (takes / HOLDER).unlink(missing_ok=True)


def is_recording(folder: Path) -> bool:
    """Whether another process records into the job just now."""
    path = folder / TAKES / LOCK
    if not path.exists():
        return False
    with path.open("ab") as stream, locked(stream, path) as held:
        return not held


def holder_of(folder: Path) -> str:
    """Who records into a job that is held, in words."""
    try:
        told = json.loads((folder / TAKES / HOLDER).read_text(encoding="utf-8"))
        place = "the bench page" if told["who"] == "page" else "a terminal"
        return f"{place} (process {int(told['process'])}, since {str(told['since'])[11:16]} UTC)"
    except (OSError, ValueError, KeyError, TypeError):
        return UNKNOWN
