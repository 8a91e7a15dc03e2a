"""Appending to bench.jsonl: one line at a time, under a lock, flushed to the disk; nothing is rewritten.

Where the last line is torn, the new one starts on a line of its own and says ``"after_torn": true``, so
the torn piece stays where it is and the log stays readable. Nothing is appended to a log that would be
refused when it is read. A lock is on the open file itself, between the processes of one machine, and ends
when the file is closed.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from os import PathLike
from pathlib import Path
from typing import IO, TypeVar, cast

from capture import LOG_FILE, LogError
from capture.disk.locks import PATIENCE_S, locked
from capture.disk.reading import too_large
from capture.disk.writing import flush, open_appending
from capture.job.model import Job
from capture.job.reading import read_job
from capture.log.entries import ID_LETTERS, AnyEntry, Check, Take, Void, path_inside
from capture.log.reading import MOST_BYTES, log_from
from capture.log.requirements import check_new_entry, require_earlier, require_takes

MOST_DIGITS = 9
"""An id with a longer number was not given here, and is no number to count on from."""

Written = TypeVar("Written", bound=AnyEntry)


@dataclass
class OpenLog:
    """A log that is locked for appending; `entries` are those of its lines, in time order."""

    folder: Path
    job: Job
    stream: IO[bytes]
    entries: list[AnyEntry]
    torn: bool = False
    unended: bool = False
    ids: set[str] = field(default_factory=set)
    """All that are taken."""

    def __post_init__(self) -> None:
        self.ids |= {entry.id for entry in self.entries}

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
            require_earlier(entry, self.entries, self.job)

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
            flush(self.stream.fileno())
        except OSError as error:
            self._take_back(whole)
            raise LogError(f"{self.folder / LOG_FILE}: cannot be written ({error.strerror})") from None
        self.ids.add(entry.id)
        self.entries.append(entry)
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
    job, path = read_job(home), Path(folder) / LOG_FILE
    try:
        stream = open_appending(path)
    except OSError as error:
        raise LogError(f"{path}: cannot be written ({error.strerror})") from None
    with stream, ExitStack() as stack:
        try:
            held = stack.enter_context(locked(stream, path, wait_s=PATIENCE_S))
        except OSError as error:
            raise LogError(f"{path}: {error.strerror}") from None
        if not held:
            raise LogError(
                f"{path}: another program has held it for {PATIENCE_S:g} s;"
                " wait for that one or end it, then try again"
            )
        stream.seek(0)
        raw = stream.read(MOST_BYTES + 1)
        if len(raw) > MOST_BYTES:
            raise LogError(f"{path}: {too_large(MOST_BYTES)}")
        read = log_from(raw, folder=home, job=job)
        last = max((e.line for e in read.entries), default=0)
        torn = any(line.strip() for line in raw.split(b"\n")[last:])
        yield OpenLog(
            home,
            job,
            stream,
            [e.entry for e in read.entries],
            torn=torn,
            unended=bool(raw) and not raw.endswith(b"\n"),
        )


def utc_now() -> str:
    """Return the time as log lines have it, in UTC."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def append_entries(folder: str | PathLike[str], entries: Sequence[AnyEntry]) -> list[AnyEntry]:
    """Append several entries to the log of `folder`, all of them or none, and return them with their ids.

    Raises
    ------
    JobError
        The folder is no job.
    LogError
        An entry does not fit the job, or the log cannot be written.

    """
    with open_log(folder) as log:
        for entry in entries:
            log.check(entry)
        return [log.append(entry) for entry in entries]


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
