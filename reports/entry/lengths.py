"""Lengths and strings as a person types them, one or one for each string: ``648``, ``686..648``, ``E2/E3``.

From text to millimetres and names of notes, and back to the text that reads so. JobError names the text that
was not understood; whether lengths go with the strings is checked where the job is read.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from capture import JobError, LogError
from capture.job.model import note_hz
from reports.entry.units import SCALE_MM, millimetres_from


def open_strings(text: str) -> list[str | tuple[str, ...]]:
    """Return the names of the open strings, with blanks or commas between them; a course as ``E2/E3``.

    Raises
    ------
    JobError
        One is no note.

    """
    courses = [tuple(word.split("/")) for word in text.replace(",", " ").split()]
    for name in (n for course in courses for n in course):
        note_hz(name)
    return [course[0] if len(course) == 1 else course for course in courses]


BY_STRING = ".."
"""Between the lengths of several strings, low to high."""


def lengths_from(
    text: str, *, what: str = "", among: tuple[float, float] | None = SCALE_MM
) -> float | tuple[float, ...] | None:
    """Return a length, or with ``..`` between them one for each string (or the lowest and the highest).

    Raises
    ------
    JobError
        One is no length of its kind; ``what`` names the field.

    """
    parts = [length_from(part, what=what, among=among) for part in text.split(BY_STRING)]
    if len(parts) == 1:
        return parts[0]
    return tuple(one for one in parts if one is not None)


def centre_keys(found: float | tuple[float, ...] | None) -> dict[str, Any]:
    """Return the keys of a pickup for its place, one number or one a string."""
    if isinstance(found, tuple):
        return {"centre_mm": sum(found) / len(found), "centres_mm": found}
    return {} if found is None else {"centre_mm": found}


def lengths_text(whole: float | None, each: Sequence[float]) -> str:
    """Return a length, or those of each string, as `lengths_from` reads it."""
    return BY_STRING.join(f"{one:g}" for one in (each or ([] if whole is None else [whole])))


def length_from(text: str, *, what: str = "", among: tuple[float, float] | None = SCALE_MM) -> float | None:
    """Return a length in millimetres, that of a scale where ``among`` is left out; None where nothing is.

    Raises
    ------
    JobError
        It is no length of its kind; ``what`` names the field.

    """
    if not text.strip():
        return None
    try:
        return millimetres_from(text, what=what, among=among)
    except LogError as error:
        raise JobError(str(error)) from None
