"""What this program keeps for itself: where that is, bytes by key, and the version of code that made them.

A key is 64 hexadecimal digits, a digest of everything that the bytes depend on. A store that cannot be
written keeps nothing. Its folder may be deleted at any time, and several processes may use it at once. Loads
nothing heavy: a verdict that was given before is shown from here (`reports.cli.kept_answers`).
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path

from capture.disk.kept import place_named

ROOT = Path(__file__).resolve().parents[2]
ENVIRONMENT_VARIABLE = "COILWISE_CACHE"
"""Names the folder of the store, or says "off"."""
MOST_BYTES = 200_000_000
"""Some thousands of takes. Above it the oldest are removed, down to ``LEFT_SHARE`` of it."""
LEFT_SHARE = 0.8
PRUNED_EVERY = 200
"""Looking through thousands of files costs as much as hearing a take does."""
_WRITTEN: Counter[Path] = Counter()
"""How many times this process wrote into each folder."""
SUFFIX = ".heard"


@cache
def code_version(code: Sequence[str], packages: Sequence[str], *, root: Path = ROOT) -> str:
    """A digest of code, by files and folders below ``root``, and of the versions of packages that it uses."""
    digest = hashlib.sha256()
    for place in (root / part for part in code):
        for path in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            digest.update(f"{path.relative_to(root).as_posix()}\n".encode())
            digest.update(path.read_bytes())
    digest.update("\n".join(f"{package} {version(package)}" for package in packages).encode())
    return digest.hexdigest()


@dataclass
class Store:
    """Bytes by key, one file each; ``folder`` None keeps nothing."""

    folder: Path | None
    most_bytes: int = MOST_BYTES

    @classmethod
    def default(cls) -> Store:
        """The cache of this user, or the one that the environment names."""
        return cls(place_named(ENVIRONMENT_VARIABLE, "user_cache_path"))

    def get(self, key: str) -> bytes | None:
        """The bytes under a key, or None."""
        if self.folder is None:
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
        """Write bytes under a key, whole or not at all; where that fails, nothing is kept."""
        if self.folder is None:
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
        if _WRITTEN[self.folder] % PRUNED_EVERY == 0:
            self.prune()
        _WRITTEN[self.folder] += 1

    def remove(self, key: str) -> None:
        """Remove what cannot be decoded."""
        if self.folder is not None:
            with suppress(OSError):
                self._path(key).unlink()

    def prune(self) -> None:
        """Remove the files that were not used for longest, where there is more than ``most_bytes``."""
        if self.folder is None:
            return
        files = []
        for path in self.folder.glob(f"*/*{SUFFIX}"):
            with suppress(OSError):
                status = path.stat()
                files.append((status.st_mtime, status.st_size, path))
        total = sum(size for _, size, _ in files)
        if total <= self.most_bytes:
            return
        for _, size, path in sorted(files):
            if total <= LEFT_SHARE * self.most_bytes:
                return
            with suppress(OSError):
                path.unlink()
                total -= size

    def _path(self, key: str) -> Path:
        assert self.folder is not None
        return self.folder / key[:2] / f"{key}{SUFFIX}"
