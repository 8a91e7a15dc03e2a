"""What a story is, what is true at its bench, and how its seeds are made.

Task: the records that every module of this folder shares. Shapes and units: none. Signs: truth is said of
the leads as the job names them at its end, in the sense of the simulator (`Bench.s`, `Bench.w`): in phase
where the string signs agree, hum cancels where the windings differ. It is never said of what a mistake
makes of them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Literal, NamedTuple

import numpy as np
from simulator.workbench import Bench
from studies.shared_causes.unlike import USUAL, World

Answer = Literal["yes", "no", "neither", "not asked"]
"""``neither``: there is no one answer, or none can be had, so that a settled one is wrong whichever it is.
``not asked``: the question has no meaning here (hum of a pair where a pickup has two coils)."""

ANSWERS: tuple[Answer, ...] = ("yes", "no", "neither", "not asked")


Asked = Literal["phase", "hum"]


class Pair(NamedTuple):
    """Two pickups, in the order of the job."""

    a: str
    b: str


@dataclass(frozen=True)
class Truth:
    """Both answers for every pair of pickups; `quiet` besides for settings where single coils are chosen."""

    phase: Mapping[Pair, Answer]
    hum: Mapping[Pair, Answer]
    quiet: Mapping[str, Answer]

    def __post_init__(self) -> None:
        if set(self.phase) != set(self.hum) or not self.phase:
            raise ValueError("truth: phase and hum have to be said for the same pairs, one at least")
        for answer in (*self.phase.values(), *self.hum.values(), *self.quiet.values()):
            if answer not in ANSWERS:
                raise ValueError(f"truth: {answer!r} is no answer")


def truth_of(
    bench: Bench,
    *,
    phase: Answer | None = None,
    hum: Answer | None = None,
    only: str | None = None,
    quiet: Mapping[str, Answer] | None = None,
) -> Truth:
    """The truth of a bench; ``phase`` and ``hum`` replace it, for pairs with pickup ``only`` where named."""
    phases: dict[Pair, Answer] = {}
    hums: dict[Pair, Answer] = {}
    for a, b in combinations(bench.pickups, 2):
        pair = Pair(a.name, b.name)
        named = only is None or only in pair
        phases[pair] = phase if phase and named else ("yes" if bench.in_phase(*pair) else "no")
        if len(a.coils) + len(b.coils) > 2:
            hums[pair] = "not asked"
        else:
            hums[pair] = hum if hum and named else ("yes" if bench.w(a.name) != bench.w(b.name) else "no")
    return Truth(phases, hums, quiet or {})


Generator = Callable[[Path, np.random.Generator, bool, World], Truth]
"""Write a job into an empty folder. ``True``: the sound twin, the same bench and takes without the cause."""


@dataclass(frozen=True)
class Story:
    """One hidden cause behind several takes of one bench."""

    name: str
    happened: str
    """One sentence of what happened at the bench."""
    cause: str
    """What the takes share."""
    truth: str
    """The true answers in words; the generator returns them for the bench it drew."""
    tells: bool
    """Whether the data of the job could show the cause at all."""
    check: str
    """What would show it, or what in the data does."""
    subject: str
    asks: tuple[Asked, ...]
    """What the takes were made to find out; a wrong answer to the other question counts all the same."""
    odd: bool
    """No reasonable list of mistakes would name this cause."""
    generator: Generator

    def bench(self, folder: Path, rng: np.random.Generator, *, twin: bool, world: World = USUAL) -> Truth:
        """Write one job into ``folder``, which must be new or empty, and return what is true of it."""
        return self.generator(folder, rng, twin, world)


class Stories:
    """The stories of one subject, in the order in which they are told."""

    def __init__(self, subject: str) -> None:
        self.subject = subject
        self.told: list[Story] = []

    def tell(
        self,
        name: str,
        happened: str,
        *,
        cause: str,
        truth: str = "as wired",
        tells: bool,
        check: str,
        asks: tuple[Asked, ...] = ("phase",),
        odd: bool = False,
    ) -> Callable[[Generator], Generator]:
        """Make a story of the generator below."""

        def add(generator: Generator) -> Generator:
            self.told.append(
                Story(name, happened, cause, truth, tells, check, self.subject, asks, odd, generator)
            )
            return generator

        return add


def seed_of(name: str, number: int, *, series: int = 0) -> int:
    """The seed of bench ``number`` of a story and of its twin: 64 bits of a SHA-256 (README.md)."""
    digest = hashlib.sha256(f"shared causes/{series}/{name}/{number}".encode()).digest()
    return int.from_bytes(digest[:8], "big")
