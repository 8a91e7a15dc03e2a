"""Holding a file for one process at a time; released when the file is closed.

Where the system has no POSIX locks there is nothing to hold, and `lock` does nothing.
"""

from __future__ import annotations

from typing import IO, Any

try:
    from fcntl import LOCK_EX, flock
except ImportError:  # pragma: no cover

    def lock(stream: IO[Any]) -> None:
        """Without POSIX locks there is nothing to hold."""
else:

    def lock(stream: IO[Any]) -> None:
        """Wait until no other process holds the file, and hold it."""
        flock(stream, LOCK_EX)
