"""Numbers as a bench writes them: resistances in kilohms, lengths in millimetres, from what was typed.

Resistance: ``6.6k``, ``6k6``, ``6,6``, ``6600``, ``250k``, ``1M2``, ``470 ohm``. Without a unit it is kilohms
below `OHMS_FROM`, and ohms from there on. Length: ``44``, ``44mm``, ``44,5``, ``4.4 cm``, ``1 3/4"``, ``25.5
in``; without a unit millimetres. What can hardly be meant is asked about with what was probably meant, and is
taken where it is written with the unit that says so. A refusal is a `LogError` of one line.
"""

from __future__ import annotations

import math
import re
from typing import Final

from capture import LogError
from reports.messages import entering as words
from reports.messages.wording import plain

OHMS_FROM: Final = 1000.0
"""A bare number from here on is ohms: no pickup reads a thousand kilohms, and no meter shows one in ohms
below it that matters."""
MOST_KOHM: Final = 1000.0
"""Beyond it nothing of a guitar reads but fingers and dirt: only a unit of megohms says that it is meant."""
MOST_BARE_KOHM: Final = 50.0
"""Beyond it a bare number of ohms is asked about: no pickup reads so much."""
MM_AN_INCH: Final = 25.4
SCALE_MM: Final = (300.0, 1100.0)
CENTRE_MM: Final = (8.0, 400.0)
"""Scale lengths and places of pickups, from the shortest to the longest that there are."""

_NUMBER = r"(\d+(?:[.,]\d*)?|[.,]\d+)"
_OHMS = re.compile(rf"{_NUMBER}\s*(?:(k|m|r|ohms?|Ω)\s*(\d+)?\s*(?:ohms?|Ω)?)?", re.ASCII | re.IGNORECASE)
_THOUSANDS = re.compile(r"(?<=\d)\s(?=\d{3}(?!\d))")
"""The blank between thousands."""
_SCALE_OF = {"k": 1.0, "m": 1000.0, "r": 0.001, "": 0.001}
_LENGTH = re.compile(
    rf"(?:{_NUMBER})?(?:(?<=\d)[\s-]+(?=\d+/))?(?:(\d+)/(\d+))?\s*(mm|cm|in|inch|inches|\"|''|″|”)?",
    re.ASCII | re.IGNORECASE,
)
_MM_OF = {"mm": 1.0, "cm": 10.0}
_OPEN_WORDS = frozenset(("open", "ol", "o.l", "o.l.", "inf", "∞"))


def is_open(text: str) -> bool:
    """Whether a meter's display means that nothing connects its leads."""
    return text.strip().lower() in _OPEN_WORDS


def kohm_from(text: str, *, what: str = "", may_be_zero: bool = False) -> float:
    """Return a resistance in kilohms; ``what`` names the field in a refusal.

    Raises
    ------
    LogError
        It is no resistance, or one that can hardly be meant; the sentence says what was probably meant.

    """
    keys, field = text.strip(), f"{what}: " if what else ""
    found = _OHMS.fullmatch(_THOUSANDS.sub("", keys.replace("\N{OHM SIGN}", "Ω")))
    if found is None or (found[3] and re.search(r"[.,]", found[1])):
        raise LogError(field + words.NO_RESISTANCE.format(text=plain(keys)))
    number = float(f"{found[1].replace(',', '.')}" + (f".{found[3]}" if found[3] else ""))
    unit = (found[2] or "").lower()
    bare = not unit
    kohm = number * ((1.0 if number < OHMS_FROM else 0.001) if bare else _SCALE_OF.get(unit, 0.001))
    if not math.isfinite(kohm):
        raise LogError(field + words.NO_RESISTANCE.format(text=plain(keys)))
    if kohm == 0 and not may_be_zero and unit not in ("r", "ohm", "ohms", "ω"):
        raise LogError(field + words.ZERO.format(text=plain(keys)))
    if (kohm > MOST_KOHM and unit != "m") or (bare and MOST_BARE_KOHM < kohm < number):
        meant = f"{kohm / (1000 if kohm > MOST_KOHM else 10):g}k"
        read = f"{kohm / 1000:g}M" if kohm > MOST_KOHM else f"{kohm:g}k"
        raise LogError(field + words.TOO_MUCH.format(text=plain(keys), meant=meant, read=read))
    return round(kohm, 6)


def millimetres_from(text: str, *, what: str = "", among: tuple[float, float] | None = None) -> float:
    """Return a length in millimetres; ``among`` are the least and the largest that there are of its kind.

    Raises
    ------
    LogError
        It is no length, or none of its kind; the sentence says what was probably meant.

    """
    keys, field = text.strip(), f"{what}: " if what else ""
    found = _LENGTH.fullmatch(keys)
    if found is None or not (found[1] or found[2]) or found[3] == "0":
        raise LogError(field + words.NO_LENGTH.format(text=plain(keys)))
    number = float(found[1].replace(",", ".")) if found[1] else 0.0
    number += int(found[2]) / int(found[3]) if found[2] else 0.0
    unit = (found[4] or "").lower()
    inches = bool(unit and unit not in _MM_OF) or (not unit and bool(found[2]))
    length = number * (MM_AN_INCH if inches else _MM_OF.get(unit, 1.0))
    if among is not None and not among[0] <= length <= among[1]:
        raise LogError(field + _none_of_its_kind(keys, number, length, among=among))
    return round(length, 2)


def _none_of_its_kind(keys: str, number: float, length: float, *, among: tuple[float, float]) -> str:
    low, high = among
    kind, along = words.KINDS_OF_LENGTH["place" if among == CENTRE_MM else "scale"]
    meant = [
        f"{number:g}{unit} ({number * factor:.1f} mm)"
        for unit, factor in (("in", MM_AN_INCH), ("cm", 10.0))
        if low <= number * factor <= high
    ]
    said = words.NO_SUCH_LENGTH.format(
        text=plain(keys), length=f"{length:g}", kind=kind, low=f"{low:g}", high=f"{high:g}", along=along
    )
    return said + (words.DID_YOU_MEAN.format(meant=words.OR.join(meant)) if meant else "")
