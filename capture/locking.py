"""Holding a file for one process at a time; released when the file is closed.

Where the system has no POSIX locks there is nothing to hold: `lock` does nothing, `try_lock` always gets it.
"""

from __future__ import annotations

from typing import IO, Any

try:
    from fcntl import LOCK_EX, LOCK_NB, flock
except ImportError:  # pragma: no cover

    def lock(stream: IO[Any]) -> None:
        """Without POSIX locks there is nothing to hold."""

    def try_lock(stream: IO[Any]) -> bool:
        """Without POSIX locks nobody else can hold it."""
        return True
else:

    def lock(stream: IO[Any]) -> None:
        """Wait until no other process holds the file, and hold it."""
        flock(stream, LOCK_EX)

    def try_lock(stream: IO[Any]) -> bool:
        """Hold the file if no other process does, and say whether that was so."""
        try:
            flock(stream, LOCK_EX | LOCK_NB)
        except BlockingIOError:
            return False
        return True
