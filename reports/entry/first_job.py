"""A job from two answers: what is on the bench, and how the guitar is laid out.

Nothing is asked that can be told later: the job is called by its date and a number, pickups by where they
sit, settings by what they join. `BENCHES` are the answers to the first question, `layouts_for` those to
the second, `coil_counts` those to the third; `first_job` makes of them what the form for a new job would be
filled in with, so one and the same code writes it.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Literal

from reports.entry.bench_memory import remembered_bench
from reports.entry.new_job import JobFields, PickupFields, SettingFields
from reports.messages import door as words

Bench = Literal["closed", "beside", "loose", "recordings"]
"""What is on the bench: a closed guitar, a loose pickup beside a guitar, two loose pickups, recordings."""
BENCHES: tuple[Bench, ...] = ("closed", "beside", "loose", "recordings")
Control = Literal["three-way", "five-way", "volumes", "none"]
TWO, THREE = ("bridge", "neck"), ("bridge", "middle", "neck")
BOTH = "both"


@dataclass(frozen=True)
class Layout:
    """Pickups from bridge to neck, which of them are loose, what chooses among them, what sounds together."""

    key: str
    pickups: tuple[str, ...]
    control: Control
    loose: frozenset[str] = frozenset()
    together: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """Each setting of several, with what is on in it."""


_TWO_TOGETHER = ((BOTH, TWO),)
_FIVE_WAY = (("bridge+middle", ("bridge", "middle")), ("middle+neck", ("middle", "neck")))
IN_GUITAR = (
    Layout("two", TWO, "three-way", together=_TWO_TOGETHER),
    Layout("five", THREE, "five-way", together=_FIVE_WAY),
    Layout("three", THREE, "three-way"),
    Layout("volumes", TWO, "volumes", together=_TWO_TOGETHER),
)
LOOSE_PAIR = Layout("loose", TWO, "none", frozenset(TWO), _TWO_TOGETHER)
BESIDE = (
    *(Layout(f"two-{one}", TWO, "three-way", frozenset({one}), _TWO_TOGETHER) for one in reversed(TWO)),
    *(Layout(f"five-{one}", THREE, "five-way", frozenset({one}), _FIVE_WAY) for one in reversed(THREE)),
)


def layouts_for(bench: Bench) -> tuple[Layout, ...]:
    """Return the layouts among which a person chooses; one alone is not asked for."""
    return {"closed": IN_GUITAR, "recordings": IN_GUITAR, "beside": BESIDE, "loose": (LOOSE_PAIR,)}[bench]


def coil_counts(layout: Layout) -> tuple[tuple[int, ...], ...]:
    """Return how many coils each pickup may have, all ways: alike first, then two coils at the bridge."""
    ways = itertools.product((1, 2), repeat=len(layout.pickups))
    return tuple(sorted(ways, key=lambda way: (len(set(way)), -way[0] * (len(set(way)) - 1), way)))


def first_job(layout: Layout, coils: tuple[int, ...], *, under: Path, today: date) -> JobFields:
    """Return the job's form as these answers fill it in.

    ``coils``: of each pickup of the layout, 1 or 2; ``under``: where jobs lie, and the name is free there.
    """
    number = next(
        n for n in itertools.count(1) if not (under / words.FOLDER.format(day=today, number=n)).exists()
    )
    return JobFields(
        folder=words.FOLDER.format(day=today, number=number),
        title=words.JOB_TITLE.format(day=today, number=number),
        mains_hz=remembered_bench().mains_hz,
        pickups=tuple(
            PickupFields(name=name, coils=count, fitted=name not in layout.loose)
            for name, count in zip(layout.pickups, coils, strict=True)
        ),
        settings=tuple(
            SettingFields(name=name, on=tuple((pickup, "whole") for pickup in on))
            for name, on in layout.together
        ),
        control="volumes" if layout.control == "volumes" else None,
    )
