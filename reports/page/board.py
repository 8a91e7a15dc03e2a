"""What the page shows of a recording session at this moment, and what it was told to do.

Task: one record that the recording thread writes and every open page reads. Shapes: waveforms are (frames,
channels). Units: dB re full scale, seconds, probabilities in 0..1. Signs: as they come.

A `Moment` never changes; a new one takes its place, with a higher ``revision``. Levels come far more often
than anything else, so they stand beside it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from threading import Lock
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from capture.hands_free import Wish
from reports.guide.steps import Step
from reports.page.belief_step import BeliefStep
from reports.verdict import Verdict

Phase = Literal["resting", "opening", "looking", "checking", "playing", "ended", "failed"]
Pair = tuple[str, str]
LINES_KEPT = 50
START = "start"
"""What is believed before the first take of a session."""


@dataclass(frozen=True)
class Line:
    """Something that was said; ``good``: a take was accepted, or was not."""

    text: str
    good: bool | None = None


@dataclass(frozen=True, eq=False)
class LastTake:
    """The take that was recorded last: its waveform with its bounds, and what each channel carried."""

    id: str
    samples: NDArray[np.floating[Any]]
    rate: int
    onset_s: float | None
    end_s: float
    labels: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Moment:
    """All of it; ``doing`` is what the session waits for, ``ended`` are the lines that it ended with."""

    phase: Phase = "resting"
    revision: int = 0
    step: Step | None = None
    count: int = 0
    to_go: int | None = None
    doing: str = ""
    lines: tuple[Line, ...] = ()
    ended: tuple[str, ...] = ()
    take: LastTake | None = None
    verdict: Verdict | None = None
    beliefs: Mapping[Pair, tuple[BeliefStep, ...]] = field(default_factory=lambda: MappingProxyType({}))


def _further(steps: tuple[BeliefStep, ...], last: BeliefStep) -> tuple[BeliefStep, ...]:
    """One step more, unless nothing happened: the same belief, since nothing new."""
    return steps if steps and steps[-1].p_in_phase == last.p_in_phase else (*steps, last)


class Board:
    """The moment, the levels, and the wishes; safe between threads."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._moment = Moment()
        self._levels: tuple[float, ...] = ()
        self._wishes: deque[Wish] = deque(maxlen=4)

    @property
    def moment(self) -> Moment:
        """What is shown now."""
        return self._moment

    @property
    def levels(self) -> tuple[float, ...]:
        """The peak of each input in dB since the last level."""
        return self._levels

    def show(self, **changed: Any) -> None:
        """Put a new moment in the place of the old one."""
        with self._lock:
            self._moment = replace(self._moment, **changed, revision=self._moment.revision + 1)

    @property
    def since(self) -> str:
        """What brought the belief that is shown."""
        return next((steps[-1].take for steps in self._moment.beliefs.values() if steps), START)

    def say(self, text: str, *, good: bool | None = None) -> None:
        """Add a line to what was said."""
        self.show(lines=(*self._moment.lines[-LINES_KEPT:], Line(text, good)))

    def believe(self, verdict: Verdict, *, since: str) -> None:
        """Show a verdict; ``since`` is the take (or entry) that brought it."""
        known = self._moment.beliefs
        beliefs = {
            (p.a, p.b): _further(known.get((p.a, p.b), ()), BeliefStep(since, p.p_in_phase))
            for p in verdict.pairs
        }
        self.show(verdict=verdict, beliefs=MappingProxyType(beliefs))

    def level(self, peaks_db: tuple[float, ...]) -> None:
        """Show the level of each input."""
        self._levels = peaks_db

    def wish(self, wish: Wish) -> None:
        """Remember what the person wants until the session asks."""
        self._wishes.append(wish)

    def asked(self) -> Wish | None:
        """Return the oldest wish, and forget it."""
        try:
            return self._wishes.popleft()
        except IndexError:
            return None

    def forget_wishes(self) -> None:
        """Nothing that was wished before counts for what begins now."""
        self._wishes.clear()
