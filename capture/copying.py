"""Putting a file in its place, whole or not at all, and never over another.

A copy is made under a hidden temporary name beside its place, flushed to the disk, and then linked to its
name; linking fails where the name is taken. File systems without links get an exclusive create instead.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
from os import PathLike
from pathlib import Path
from uuid import uuid4

from capture.errors import RecordingError

_BLOCK = 1 << 20


def copy_beside(source: str | PathLike[str], target: Path) -> tuple[Path, str]:
    """Copy `source` to a temporary name beside `target`; return that path and the SHA-256 of the bytes.

    Raises
    ------
    RecordingError
        The source cannot be read or the folder cannot be written.

    """
    part = target.with_name(f".{target.stem}-{uuid4().hex}{target.suffix}")
    digest = hashlib.sha256()
    try:
        target.parent.mkdir(exist_ok=True)
        with Path(source).open("rb") as read, part.open("xb") as write:
            while block := read.read(_BLOCK):
                digest.update(block)
                write.write(block)
            write.flush()
            os.fsync(write.fileno())
    except OSError as error:
        part.unlink(missing_ok=True)
        raise RecordingError(f"{source}: cannot be copied to {target.parent} ({error.strerror})") from None
    return part, digest.hexdigest()


def place(part: Path, target: Path) -> None:
    """Give a finished copy its name.

    Raises
    ------
    RecordingError
        There is a file of that name, or the folder cannot be written.

    """
    try:
        os.link(part, target)
    except FileExistsError:
        raise RecordingError(f"{target}: there is a file of that name, and it stays as it is") from None
    except OSError:
        _place_without_links(part, target)
    settle(target.parent)


def settle(folder: Path) -> None:
    """Flush the names in a folder to the disk, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _place_without_links(part: Path, target: Path) -> None:
    try:
        write = target.open("xb")
    except FileExistsError:
        raise RecordingError(f"{target}: there is a file of that name, and it stays as it is") from None
    except OSError as error:
        raise RecordingError(f"{target}: cannot be written ({error.strerror})") from None
    try:
        with part.open("rb") as read, write:
            shutil.copyfileobj(read, write, _BLOCK)
            write.flush()
            os.fsync(write.fileno())
    except OSError as error:
        target.unlink(missing_ok=True)
        raise RecordingError(f"{target}: cannot be written ({error.strerror})") from None
