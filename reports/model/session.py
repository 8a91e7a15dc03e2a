"""What a guided session does where nothing else is said; nothing is imported here, a help text shows it.

One step of a guided session: what is to be played, on what, and how it is entered.

Task: models, and the strings that are best for each gesture. Shapes: ``columns`` are the channels of the
input that are kept, counted from 0. Units: seconds. Signs: none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from capture.job import Job, note_hz
from capture.log.entries import TakeFields

Surface = Literal["terminal", "page"]
"""Where a person reads a sentence; remedies differ, since one has options and the other has fields."""
Kind = Literal["paired", "split", "switch", "in turn", "lift", "hum"]
TOOL = "steel tool"
"""What is pulled off a pole piece, where the person names no tool."""
USUAL_STRINGS = ("E2", "A2", "D3", "G3", "B3", "E4")
"""Of a guitar, where the job names none: common practice."""
PLUCKED_NEAR_HZ = 165.0
"""Between D3 and G3: loud, and with a fundamental well above hum."""


@dataclass(frozen=True, kw_only=True)
class Step(TakeFields):
    """One take to be recorded.

    ``kind`` is what it is evidence as; ``pickups`` are those it speaks of; ``columns`` are the channels of
    the input that are kept, counted from 0. ``part`` and ``parts``: its place in a round of takes that belong
    together. The session gives it its stage and rig.
    """

    kind: Kind
    columns: tuple[int, ...]
    pickups: tuple[str, ...]
    part: int = 1
    parts: int = 1

    @property
    def plugged(self) -> tuple[object, ...]:
        """What is plugged in and set for it, to see whether hands have to change something before it."""
        return tuple((c, i) for c, i in zip(self.columns, self.inputs, strict=True))


@dataclass(frozen=True)
class Round:
    """Takes that only together say something; most rounds are of one."""

    steps: tuple[Step, ...]
    seconds: float
    """What it takes a person, plugging and moving the selector included; assumed, to rank rounds by."""

    @property
    def first(self) -> Step:
        """The step that it begins with."""
        return self.steps[0]


def pluck_strings(job: Job) -> tuple[str, ...]:
    """The two strings that plucks are best on, the better first."""
    return tuple(sorted(_strings(job), key=lambda s: abs(note_hz(s) / PLUCKED_NEAR_HZ - 1))[:2])


def switch_strings(job: Job) -> tuple[str, ...]:
    """The two strings that ring longest: the lowest."""
    return tuple(sorted(_strings(job), key=note_hz)[:2])


def _strings(job: Job) -> Sequence[str]:
    return job.strings or USUAL_STRINGS
