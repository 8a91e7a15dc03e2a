"""Judgement on a magnetic pickup beside another kind of source, as codes with typed parameters.

reports.messages.blends has the sentences. Units: Hz, dB.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reports.model.notes import Note


@dataclass(frozen=True)
class BlendRun:
    """Neighbouring bands in which a sum does the same; its level at most, as wired and exchanged, dB."""

    sense: Literal["add", "take away", "neither", "not clear"]
    low_hz: float
    high_hz: float
    level_db: float
    exchanged_db: float


@dataclass(frozen=True)
class BlendNote(Note):
    """How a magnetic pickup and another ``source`` add, from low to high."""

    source: Literal["piezo", "microphone"]
    runs: tuple[BlendRun, ...]


@dataclass(frozen=True)
class BlendRemedy(Note):
    """What to do about such a pair."""

    code: Literal["more plucks", "split check", "exchange"]
