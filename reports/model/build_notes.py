"""Notes on pickups built or joined otherwise than was said, and on magnetic ones beside another source.

Codes with typed parameters, no sentence; those are in reports.messages.builds and reports.messages.blends.
Units: Hz, dB.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reports.model.notes import Note


@dataclass(frozen=True)
class StringsDiffer(Note):
    """Two pickups add on some strings and oppose each other on others.

    ``by_poles``: as their magnets stand, which no exchange of leads mends; else as their halves are joined.
    """

    add: tuple[str, ...]
    oppose: tuple[str, ...]
    by_poles: bool


@dataclass(frozen=True)
class HalvesOpposed(Note):
    """The halves of a pickup oppose each other: one of them is joined the other way round.

    ``under``: the strings over each half; ``likely``: it is likely, not settled.
    """

    pickup: str
    under: tuple[tuple[str, ...], ...]
    likely: bool


@dataclass(frozen=True)
class ExchangeHalf(Note):
    """The leads of one half are to be exchanged: the one under these strings, or either (None)."""

    pickup: str
    under: tuple[str, ...] | None


@dataclass(frozen=True)
class PerhapsStacked(Note):
    """A compass read alike over both coils of a pickup of which nothing says how its coils lie."""

    pickup: str


@dataclass(frozen=True)
class SayBuild(Note):
    """How the coils of a pickup lie is to be looked at, and entered."""

    pickup: str


AnyBuildNote = StringsDiffer | HalvesOpposed | ExchangeHalf | PerhapsStacked | SayBuild


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
