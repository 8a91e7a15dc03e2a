"""Files written so that no other file is touched, and so that what is there is whole.

A new file is made under a name that nothing has, a link included; a file that is replaced is written beside
its place under a name that nobody can foresee, and takes the name at once. Every error names the file.
"""

from __future__ import annotations

import errno
import importlib
import os
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from io import FileIO
from pathlib import Path
from uuid import uuid4

from capture.disk.reading import IS_LINK, NO_FILE, TWO_NAMES, is_link, patiently, refused, require_own

_MADE = (
    os.O_RDWR
    | os.O_CREAT
    | getattr(os, "O_NOFOLLOW", 0)
    | getattr(os, "O_BINARY", 0)
    | getattr(os, "O_CLOEXEC", 0)
)
_NEW = _MADE | os.O_EXCL
_APPEND = _MADE | os.O_APPEND | getattr(os, "O_NONBLOCK", 0)
PART = ".part"
"""How the names of files end that are not whole yet."""


@contextmanager
def naming(path: Path) -> Iterator[None]:
    """Let an error of the system that names no file, as that of a full disk, name `path`."""
    try:
        yield
    except OSError as error:
        raise OSError(error.errno, error.strerror or str(error), str(path)) from None


def create(path: Path, *, mode: int = 0o666) -> FileIO:
    """Make a file that was not there and open it for reading and writing, without a buffer.

    Raises
    ------
    OSError
        There is something of that name, or the folder cannot be written.

    """
    number = os.open(path, _NEW, mode)
    return FileIO(number, "r+", closefd=True)


def open_appending(path: Path) -> FileIO:
    """Open an ordinary file for appending and reading, without a buffer; make it where it was not there.

    Raises
    ------
    OSError
        It is a link or no ordinary file, has another name elsewhere, or cannot be written.

    """
    if is_link(path):
        raise refused(path, IS_LINK, errno.ELOOP)
    stream = FileIO(os.open(path, _APPEND, 0o666), "r+", closefd=True)
    seen = os.fstat(stream.fileno())
    if not stat.S_ISREG(seen.st_mode) or seen.st_nlink > 1:
        stream.close()
        raise refused(path, TWO_NAMES if stat.S_ISREG(seen.st_mode) else NO_FILE)
    return stream


def make_folder(home: Path, *parts: str) -> Path:
    """Make ``home / parts`` where it is not there, not through a link below `home`, and return it.

    Raises
    ------
    OSError
        It leads through a link, or cannot be made.

    """
    path = require_own(home, *parts)
    path.mkdir(parents=True, exist_ok=True)
    return path


def flush(number: int) -> None:
    """Have what was written to an open file on the disk, and not in the memory of the drive.

    Raises
    ------
    OSError
        The disk refuses.

    """
    with suppress(ImportError, AttributeError, OSError):  # a network drive has no such order
        fcntl = importlib.import_module("fcntl")
        fcntl.fcntl(number, fcntl.F_FULLFSYNC)  # macOS, whose fsync does not reach the disk
        return
    os.fsync(number)


def flush_names(folder: Path) -> None:
    """Have the names in a folder on the disk, where the system can."""
    with suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def replace_whole(path: Path, raw: bytes, *, mode: int = 0o666) -> None:
    """Put `raw` in the place of the file `path`, or make it: whoever reads it sees the old one or the new.

    Raises
    ------
    OSError
        It cannot be written; the old one stays.

    """
    part = path.with_name(f".{path.name}-{uuid4().hex}{PART}")
    try:
        with naming(path):
            _remove_abandoned(path)
            with create(part, mode=mode) as stream:
                write_all(stream, raw)
                flush(stream.fileno())
            patiently(lambda: os.replace(part, path))
    except OSError:
        with suppress(OSError):
            part.unlink()
        raise


_ABANDONED_S = 600.0
"""Nobody writes a file so long."""


def _remove_abandoned(path: Path) -> None:
    """Take away what killed programs left beside the place of `path`."""
    beginning = f".{path.name}-"
    with suppress(OSError):
        for left in path.parent.iterdir():
            ours = left.name.startswith(beginning) and left.name.endswith(PART)
            if ours and left.lstat().st_mtime < time.time() - _ABANDONED_S:
                left.unlink()


def remove(path: Path) -> bool:
    """Remove a file; whether there was one.

    Raises
    ------
    OSError
        It cannot be removed.

    """
    try:
        path.unlink()
    except (FileNotFoundError, NotADirectoryError):
        return False
    return True


def write_new(path: Path, raw: bytes) -> None:
    """Write a file that was not there.

    Raises
    ------
    OSError
        There is something of that name, or it cannot be written; then nothing is left of it.

    """
    with naming(path), create(path) as stream:
        try:
            write_all(stream, raw)
            flush(stream.fileno())
        except OSError:
            with suppress(OSError):
                path.unlink()
            raise


def write_all(stream: FileIO, raw: bytes) -> None:
    """Write all of `raw`; the system may take it in pieces."""
    left = memoryview(raw)
    while left:
        left = left[stream.write(left) :]
