"""Where jobs lie."""

from __future__ import annotations

import math
import re
from pathlib import Path

from capture.errors import LogError
from capture.job import note_hz
from reports.page import page_words as words
from reports.words import plain

DEFAULT_PLACE = "recordings"


def place_for_jobs() -> Path:
    """Where new jobs go: recordings/ of the folder one stands in, if there is one, else that folder."""
    jobs = Path(DEFAULT_PLACE)
    return jobs if jobs.is_dir() else Path()


def new_place(folder: str, *, under: Path) -> Path:
    """Where a new job is made: as given, and a bare name ``under`` the place for jobs."""
    given = Path(folder)
    bare = len(given.parts) == 1 and not given.is_absolute() and folder not in (".", "..")
    return under / given if bare else given


def open_strings(text: str) -> list[str]:
    """Return the names of the open strings, with blanks or commas between them.

    Raises
    ------
    JobError
        One is no note.

    """
    names = text.replace(",", " ").split()
    for name in names:
        note_hz(name)
    return names


_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)", re.ASCII)


def number_from(text: str, *, what: str) -> float | None:
    """Return the number that was typed, with a point or a comma; None where nothing was.

    Raises
    ------
    LogError
        It is no number; ``what`` names the field.

    """
    said = text.strip()
    if not said:
        return None
    number = float(said.replace(",", ".")) if _NUMBER.fullmatch(said) else math.nan
    if not math.isfinite(number):
        raise LogError(words.NO_NUMBER.format(what=what, text=plain(said)))
    return number
