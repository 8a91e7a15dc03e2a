"""What may be read of a job folder, which may come from anywhere: ordinary files, in it, of a sane size.

A link inside a job is refused, wherever it leads: what is read through it would go out with the report, and
what is written through it would land outside. The path that leads to the job may have as many as it likes. A
pipe or a device would be waited for without end, so only ordinary files are opened, and no more is read than
the caller can use. Everything refused is an `OSError` whose `strerror` is a clause that says what to do.
Sizes are bytes.
"""

from __future__ import annotations

import errno
import os
import stat
import time
from collections.abc import Callable
from pathlib import Path
from typing import IO, TypeVar

_ONLY_READ = (
    os.O_RDONLY
    | getattr(os, "O_NONBLOCK", 0)  # a pipe without a writer would be waited for
    | getattr(os, "O_BINARY", 0)  # Windows reads text otherwise
    | getattr(os, "O_CLOEXEC", 0)
)
_NOT_THROUGH_LINKS: int = getattr(os, "O_NOFOLLOW", 0)
_MOUNT_POINT = 0xA0000003
"""The reparse tag of a junction, which is a link between folders; a cloud drive's files have other tags."""

_OTHERS_S, _TRIED_EVERY_S = 2.0, 0.02
"""Whoever writes a line or reads a report is done long before."""
Result = TypeVar("Result")

IS_LINK = "it is a link, and a job holds files of its own; put the file or folder itself there"
TWO_NAMES = "it has another name elsewhere (a hard link), which would change too; put a copy in its place"
NO_FILE = "it is no ordinary file; put the file itself there"
NOT_LOADED = "the cloud drive has not loaded it; open the folder in the file manager, wait, then try again"


def too_large(most_bytes: int) -> str:
    """Return the clause for a file with more bytes than it can need."""
    return f"larger than {most_bytes / 1e6:.3g} MB, so it is not what its name says; put the right file there"


def refused(path: Path, clause: str, number: int = errno.EINVAL) -> OSError:
    """Return the error that says `clause` of `path`."""
    return OSError(number, clause, str(path))


def is_link(path: Path) -> bool:
    """Whether something of that name is a link, to a file or to a folder, or nowhere."""
    try:
        seen = os.lstat(path)
    except (OSError, ValueError):
        return False
    return stat.S_ISLNK(seen.st_mode) or getattr(seen, "st_reparse_tag", 0) == _MOUNT_POINT


def require_own(home: Path, *parts: str) -> Path:
    """Return ``home / parts``, which no link below `home` leads to.

    Raises
    ------
    OSError
        One of them is a link.

    """
    path = home
    for part in Path(*parts).parts:
        path /= part
        if is_link(path):
            raise refused(path, IS_LINK, errno.ELOOP)
    return path


def open_plain(path: Path, *, through_links: bool = False) -> IO[bytes]:
    """Open an ordinary file for reading, without waiting for anything.

    Raises
    ------
    OSError
        There is none, it is a link (unless `through_links`), or no ordinary file.

    """
    if not through_links and is_link(path):
        raise refused(path, IS_LINK, errno.ELOOP)
    try:
        mode = os.stat(path).st_mode
    except ValueError:  # a name that no file can have
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(path)) from None
    except FileNotFoundError:
        if path.with_name(f".{path.name}.icloud").exists():
            raise refused(path, NOT_LOADED, errno.EAGAIN) from None
        raise
    if not stat.S_ISREG(mode):
        raise refused(path, NO_FILE)
    stream = os.fdopen(os.open(path, _ONLY_READ | (0 if through_links else _NOT_THROUGH_LINKS)), "rb")
    if not stat.S_ISREG(os.fstat(stream.fileno()).st_mode):
        stream.close()
        raise refused(path, NO_FILE)
    return stream


def patiently(work: Callable[[], Result]) -> Result:
    """Do `work`; on Windows it is refused while others have the file open, so it is tried for a while.

    Raises
    ------
    OSError
        It is refused for another reason, or too long.

    """
    end = time.monotonic() + (_OTHERS_S if os.name == "nt" else 0.0)
    while True:
        try:
            return work()
        except PermissionError:
            if time.monotonic() >= end:
                raise
            time.sleep(_TRIED_EVERY_S)


def read_plain(path: Path, *, most_bytes: int) -> bytes:
    """Return what is in an ordinary file of at most `most_bytes`.

    Raises
    ------
    OSError
        There is none, it is a link, no ordinary file, or larger.

    """
    with open_plain(path) as stream:
        if os.fstat(stream.fileno()).st_size > most_bytes:
            raise refused(path, too_large(most_bytes), errno.EFBIG)
        raw = patiently(lambda: stream.read(most_bytes + 1))
    if len(raw) > most_bytes:
        raise refused(path, too_large(most_bytes), errno.EFBIG)
    return raw
