"""A small file of this user's data folder, in which this machine remembers something from job to job.

A class of its own for each such file names it, the variable of the environment that puts it elsewhere or
switches it off, and the error and the words with which it complains. It is read only where it is an ordinary
file of a sane size, replaced whole, for this user alone, and removed by whoever asks. Sizes are bytes.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar, Literal, Self

import platformdirs

from capture.disk.reading import read_plain
from capture.disk.writing import remove, replace_whole
from dsp import CoilwiseError

OFF = "off"
"""What a variable says where nothing is to be kept."""
MOST_BYTES = 64_000


def place_named(variable: str, usual: Literal["user_cache_path", "user_data_path"]) -> Path | None:
    """The folder that a variable of the environment names, or this user's own; None where it says ``OFF``."""
    named = os.environ.get(variable, "").strip()
    if named.lower() == OFF:
        return None
    own: Path = getattr(platformdirs, usual)("coilwise", appauthor=False)
    return Path(named) if named else own


@dataclass(frozen=True)
class KeptFile:
    """The file; ``path`` None remembers nothing."""

    path: Path | None

    file: ClassVar[str]
    variable: ClassVar[str]
    """Names the folder of the file, or says ``OFF``."""
    error: ClassVar[type[CoilwiseError]]
    unreadable: ClassVar[str]
    """One line with two places: the path, and what the system says."""
    broken: ClassVar[str]
    """One line with a place for the path."""

    @classmethod
    def default(cls) -> Self:
        """That of this user, or the one that the environment names."""
        place = place_named(cls.variable, "user_data_path")
        return cls(None if place is None else place / cls.file)

    def text(self) -> str | None:
        """What stands in it; None where there is none, or nothing is remembered.

        Raises
        ------
        CoilwiseError
            That of the class: the file cannot be read, or is no text.

        """
        if self.path is None:
            return None
        try:
            return read_plain(self.path, most_bytes=MOST_BYTES).decode()
        except (FileNotFoundError, NotADirectoryError):
            return None
        except OSError as error:
            raise self._refused(error) from None
        except UnicodeDecodeError:
            raise self.is_broken() from None

    def put(self, text: str) -> None:
        """Put `text` in its place, whole or not at all; nothing where nothing is remembered.

        Raises
        ------
        CoilwiseError
            That of the class: the file cannot be written.

        """
        if self.path is None:
            return
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            replace_whole(self.path, text.encode(), mode=0o600)
        except OSError as error:
            raise self._refused(error) from None

    def forget(self) -> bool:
        """Remove the file; whether there was one. A broken one goes too.

        Raises
        ------
        CoilwiseError
            That of the class: it cannot be removed.

        """
        if self.path is None:
            return False
        try:
            return remove(self.path)
        except OSError as error:
            raise self._refused(error) from None

    def is_broken(self) -> CoilwiseError:
        """Return the complaint that it is none of ours."""
        return self.error(self.broken.format(self.path))

    def _refused(self, error: OSError) -> CoilwiseError:
        return self.error(self.unreadable.format(self.path, error.strerror or error))
