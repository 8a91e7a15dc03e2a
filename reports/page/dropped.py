"""Files that were dropped on the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Dropped:
    """A file on the tray: where it lies, how long it lasts and how many channels it has."""

    path: Path
    seconds: float
    channels: int
    cut_off: bool

    @property
    def name(self) -> str:
        """Its own name."""
        return self.path.name


def by_name(text: str, paths: Sequence[Path]) -> str:
    """Return a refusal that speaks of files by their names, not by where they lie for now."""
    for path in paths:
        text = text.replace(str(path), path.name)
    return text
