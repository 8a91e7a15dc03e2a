"""Notes on pickups that are built, or joined, otherwise than was said: codes with parameters, no sentence."""

from __future__ import annotations

from dataclasses import dataclass

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
