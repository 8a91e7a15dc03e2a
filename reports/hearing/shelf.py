"""The shelf of heard takes: a folder of this user that may be deleted at any time.

Task: `Shelf.taken` and `Shelf.put`, keyed bytes. What is missing, cut off, foreign or unreadable is as if it
were not there; a shelf that cannot be written keeps nothing, and nobody notices but the clock. Two processes
may use it at once: files are put in place whole. Units: bytes. Signs: none.
"""

from __future__ import annotations

import os
import sys
import tempfile
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

SWITCH = "COILWISE_CACHE"
"""The environment's word: "off", or the folder to use."""
OFF = "off"
MOST_BYTES = 200_000_000
"""More than this, and the oldest go until four fifths are left: some thousands of takes."""
LEFT_SHARE = 0.8
SUFFIX = ".heard"


@dataclass
class Shelf:
    """A folder of files by key; ``place`` None keeps nothing."""

    place: Path | None
    most_bytes: int = MOST_BYTES
    _swept: bool = False

    @classmethod
    def usual(cls) -> Shelf:
        """The shelf of this user, or the one that the environment names."""
        said = os.environ.get(SWITCH, "")
        if said.strip().lower() == OFF:
            return cls(None)
        return cls(Path(said) if said else _cache_home() / "coilwise")

    def taken(self, key: str) -> bytes | None:
        """The bytes under a key, or None."""
        if self.place is None:
            return None
        path = self._path(key)
        try:
            raw = path.read_bytes()
        except OSError:
            return None
        with suppress(OSError):
            os.utime(path)
        return raw

    def put(self, key: str, raw: bytes) -> None:
        """Keep bytes under a key, if that can be done."""
        if self.place is None:
            return
        path = self._path(key)
        with suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            number, part = tempfile.mkstemp(dir=path.parent, suffix=".part")
            try:
                with os.fdopen(number, "wb") as file:
                    file.write(raw)
                os.replace(part, path)
            except OSError:
                os.unlink(part)
                raise
        if not self._swept:
            self._swept = True
            self.sweep()

    def drop(self, key: str) -> None:
        """Take away what cannot be read."""
        if self.place is not None:
            with suppress(OSError):
                self._path(key).unlink()

    def sweep(self) -> None:
        """Take away the oldest where there is too much."""
        if self.place is None:
            return
        kept = []
        for path in self.place.glob(f"*/*{SUFFIX}"):
            with suppress(OSError):
                seen = path.stat()
                kept.append((seen.st_mtime, seen.st_size, path))
        total = sum(size for _, size, _ in kept)
        if total <= self.most_bytes:
            return
        for _, size, path in sorted(kept):
            if total <= LEFT_SHARE * self.most_bytes:
                return
            with suppress(OSError):
                path.unlink()
                total -= size

    def _path(self, key: str) -> Path:
        assert self.place is not None
        return self.place / key[:2] / f"{key}{SUFFIX}"


def _cache_home() -> Path:
    """Where programs keep what can be made anew, as each system has it."""
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
