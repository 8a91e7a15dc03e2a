"""Who writes: locks on open files, between the processes of one machine, and folders of a process's own.

A lock ends with the process that holds it, however that ends. Nobody is waited for without end: a program
that hangs, or another user, may hold a file for ever. Where the file system has no locks (some shares), a
file in this user's cache folder that stands for the path is locked in its place.
"""

from __future__ import annotations

import errno
import hashlib
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import IO, Any
from uuid import uuid4

import portalocker
from platformdirs import user_cache_path

PATIENCE_S = 10.0
"""So long another process may hold a file: writing a line takes milliseconds, a slow share a second."""
_LOOK_EVERY_S = 0.02
_MARK = ".lock"
_NOW = portalocker.LockFlags.EXCLUSIVE | portalocker.LockFlags.NON_BLOCKING


@contextmanager
def locked(stream: IO[Any], path: Path, *, wait_s: float = 0.0) -> Iterator[bool]:
    """Hold the open file `stream`, which lies at `path`; give whether it is held.

    It is held until the block ends and the file is closed.

    Raises
    ------
    OSError
        Neither it nor a file in the cache folder can be locked.

    """
    with ExitStack() as stack:
        try:
            held = _held(stream, wait_s=wait_s)
        except portalocker.LockException:
            held = _held_in_place_of(stack.enter_context(_stand_in(path)), path, wait_s=wait_s)
        yield held


def _held_in_place_of(stand_in: IO[Any], path: Path, *, wait_s: float) -> bool:
    try:
        return _held(stand_in, wait_s=wait_s)
    except portalocker.LockException as error:
        raise OSError(errno.ENOLCK, f"cannot be locked: {error}", str(path)) from None


def _held(stream: IO[Any], *, wait_s: float) -> bool:
    end = time.monotonic() + wait_s
    while True:
        try:
            portalocker.lock(stream, _NOW)
        except portalocker.AlreadyLocked:
            if time.monotonic() >= end:
                return False
            time.sleep(_LOOK_EVERY_S)
        else:
            return True


def _stand_in(path: Path) -> IO[bytes]:
    name = hashlib.sha256(os.fsencode(path.resolve())).hexdigest()
    return (own_folder("locks") / f"{name}.lock").open("ab")


def own_folder(*parts: str) -> Path:
    """Return a folder below this user's cache folder, made where it was not there, for this user alone.

    Raises
    ------
    OSError
        It cannot be made.

    """
    path = user_cache_path("coilwise", appauthor=False).joinpath(*parts)
    path.mkdir(parents=True, exist_ok=True, mode=0o700)
    return path


class ScratchFolder:
    """A folder of this process's own for files on their way; what killed processes left is removed first."""

    def __init__(self, kind: str) -> None:
        """Make one of a `kind`, as in "uploads".

        Raises
        ------
        OSError
            It cannot be made.

        """
        self._mark: IO[bytes] | None = None
        try:
            place = own_folder("scratch", kind)
        except OSError:  # no home folder that can be written: then it stays behind after a kill
            self.path = Path(tempfile.mkdtemp(prefix=f"coilwise-{kind}-"))
            return
        _remove_abandoned(place)
        self.path = place / uuid4().hex
        self._mark = (place / f"{self.path.name}{_MARK}").open("xb")
        portalocker.lock(self._mark, portalocker.LockFlags.EXCLUSIVE)
        self.path.mkdir(mode=0o700)

    def close(self) -> None:
        """Remove it with all that is in it."""
        shutil.rmtree(self.path, ignore_errors=True)
        if self._mark is not None:
            self._mark.close()
            with suppress(OSError):
                self.path.with_suffix(_MARK).unlink()

    def __enter__(self) -> Path:
        return self.path

    def __exit__(self, *_: object) -> None:
        self.close()


def _remove_abandoned(place: Path) -> None:
    """Remove the folders whose processes have ended: their marks are locked no more."""
    for mark in place.glob(f"*{_MARK}"):
        with suppress(OSError, portalocker.LockException):
            with mark.open("ab") as stream:
                portalocker.lock(stream, _NOW)
                shutil.rmtree(mark.with_suffix(""), ignore_errors=True)
            mark.unlink()
