"""Appending to bench.jsonl: one line at a time, under a lock, flushed to the disk; nothing is rewritten.

Where the last line is torn, the new one starts on a line of its own and says ``"after_torn": true``, so
the torn piece stays where it is and the log stays readable. A lock is on the open file itself, between the
processes of one machine, and ends when the file is closed.
"""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from os import PathLike
from pathlib import Path
from typing import IO, Any, TypeVar, cast

import portalocker

from capture import LogError
from capture.job.model import Job
from capture.job.reading import read_job
from capture.log.entries import (
    ID_LETTERS,
    AnyEntry,
    Check,
    Take,
    Void,
    check_new_entry,
    path_inside,
    require_earlier,
    require_takes,
)
from capture.log.reading import LOG_FILE, entry_from, parse_line


def lock(stream: IO[Any], *, wait: bool = True) -> bool:
    """Hold an open file until it is closed; return whether it is held, which is False only without `wait`.

    Raises
    ------
    OSError
        The file system has no locks.

    """
    flags = portalocker.LockFlags.EXCLUSIVE
    try:
        portalocker.lock(stream, flags if wait else flags | portalocker.LockFlags.NON_BLOCKING)
    except portalocker.AlreadyLocked:
        return False
    except portalocker.LockException as error:
        raise OSError(errno.ENOLCK, f"cannot be locked: {error}") from None
    return True


MOST_DIGITS = 9
"""An id with a longer number was not given here, and is no number to count on from."""

Written = TypeVar("Written", bound=AnyEntry)


@dataclass
class OpenLog:
    """A log that is locked for appending; `ids` are all that are taken, `lines` the objects of its lines."""

    folder: Path
    job: Job
    stream: IO[bytes]
    ids: set[str] = field(default_factory=set)
    lines: list[dict[str, Any]] = field(default_factory=list)
    torn: bool = False
    unended: bool = False

    def free_id(self, kind: str) -> str:
        """Return the next id of that kind: one beyond the highest number in use."""
        letter = ID_LETTERS[kind]
        numbers = [i[1:] for i in self.ids if i.startswith(letter) and i[1:].isascii() and i[1:].isdigit()]
        highest = max((int(n) for n in numbers if len(n) <= MOST_DIGITS), default=0)
        return f"{letter}{highest + 1:03d}"

    def check(self, entry: AnyEntry) -> None:
        """Refuse what a reader would refuse, and what would only be doubtful there.

        Raises
        ------
        LogError
            Says what is wrong with the entry.

        """
        if isinstance(entry, Take):
            path_inside(self.folder, entry.file)
        if isinstance(entry, Void) and entry.entry not in self.ids:
            raise LogError(f'there is no entry "{entry.entry}" to void; "coilwise list" shows the ids')
        if isinstance(entry, Check):
            require_takes(entry, self.ids)
        check_new_entry(entry, self.job)
        if not isinstance(entry, Void):
            require_earlier(entry, self._earlier(), self.job)

    def _earlier(self) -> Iterator[AnyEntry]:
        """The entries of the lines before; one that a reader refuses is left to the reader."""
        for line in self.lines:
            with suppress(LogError):
                yield entry_from(line)

    def append(self, entry: Written) -> Written:
        """Write `entry` as the last line, with the next free id if it has none, and return it as written."""
        update = {"id": entry.id or self.free_id(entry.kind), **({"after_torn": True} if self.torn else {})}
        entry = cast("Written", entry.model_copy(update=update))
        if entry.id in self.ids:
            raise LogError(f'the id "{entry.id}" is taken; leave it out, and the next free one is given')
        self.check(entry)
        try:
            line = json.dumps(entry.line(), ensure_ascii=False, allow_nan=False).encode() + b"\n"
        except (ValueError, TypeError):
            raise LogError(f'entry "{entry.id}" holds something that is neither text nor number') from None
        whole = self.stream.seek(0, os.SEEK_END)
        try:
            left = memoryview(b"\n" + line if self.unended else line)
            while left:
                left = left[self.stream.write(left) :]
            os.fsync(self.stream.fileno())
        except OSError as error:
            self._take_back(whole)
            raise LogError(f"{self.folder / LOG_FILE}: cannot be written ({error.strerror})") from None
        self.ids.add(entry.id)
        self.lines.append(entry.line())
        self.torn = self.unended = False
        return entry

    def _take_back(self, whole: int) -> None:
        """Cut off what was written of a line that could not be written: nobody else has seen it."""
        with suppress(OSError):
            self.stream.truncate(whole)


@contextmanager
def open_log(folder: str | PathLike[str]) -> Iterator[OpenLog]:
    """Open the log of a job folder for appending and hold the lock until the block ends.

    Raises
    ------
    JobError
        The folder is no job.
    LogError
        The log cannot be written.

    """
    home = Path(folder)
    job = read_job(home)
    try:
        stream = (home / LOG_FILE).open("a+b", buffering=0)
    except OSError as error:
        raise LogError(f"{home / LOG_FILE}: cannot be written ({error.strerror})") from None
    with stream:
        lock(stream)
        stream.seek(0)
        raw = stream.read()
        opened = OpenLog(home, job, stream, unended=bool(raw) and not raw.endswith(b"\n"))
        for line in filter(bytes.strip, raw.split(b"\n")):
            try:
                record = parse_line(line)
            except LogError:
                record = {}
            opened.torn = record is None
            if record is not None and isinstance(record.get("id"), str):
                opened.ids.add(record["id"])
                opened.lines.append(record)
        yield opened


def utc_now() -> str:
    """Return the time as log lines have it, in UTC."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def append_entry(folder: str | PathLike[str], entry: Written) -> Written:
    """Append one entry to the log of `folder` and return it with its id.

    Raises
    ------
    JobError
        The folder is no job.
    LogError
        The entry does not fit the job, or the log cannot be written.

    """
    with open_log(folder) as log:
        return log.append(entry)
