"""What goes wrong at a simulated bench, drawn at the rates that the tool assumes, or at a multiple of them.

Task: one `Mishaps` a job. Every rate is that of reports/inference/error_priors.py or
dsp/model/calibration.py, times a factor, half at most. Signs: True turns over what it is about.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from simulator.conditions import Conditions

from dsp.model.calibration import STROKE_TURNED
from reports.inference.error_priors import ERROR_PRIORS
from reports.model.notes import ErrorKind

MOST = 0.5
WRONG_STRING = 0.02
"""A take entered under another string's name; assumed, the tool assumes nothing (it refuses such a take)."""
PLACES_SD_MM = 5.0
"""How far off the places in job.toml are, in every job."""


@dataclass(frozen=True)
class Rates:
    """The rates of one study."""

    factor: float

    def of(self, kind: ErrorKind) -> float:
        """How often a shared mistake is made."""
        return self.times(ERROR_PRIORS[kind].probability)

    def times(self, rate: float) -> float:
        """Any other rate."""
        return min(MOST, self.factor * rate)

    def conditions(self, conditions: Conditions) -> Conditions:
        """The simulator's own mishaps at these rates."""
        return replace(
            conditions,
            inverted_rate=self.of("channels") / 2,
            magnetised_rate=self.of("magnetised tool"),
            turned_rate=self.times(min(conditions.turned_rate, STROKE_TURNED)),
        )


@dataclass(frozen=True)
class Mishaps:
    """What goes wrong in one job, for pickups a (0) and b (1)."""

    clips: tuple[bool, bool]
    colours: tuple[bool, bool]
    meter: tuple[bool, bool]
    misread: tuple[tuple[bool, ...], tuple[bool, ...]]
    hand: tuple[bool, bool, bool]
    """Every pluck the other way on a, on b, on both."""
    one_pickup_twice: bool
    selector_stays: bool
    wrong_both: bool
    """The position "both" has b alone."""
    face: tuple[bool, bool]
    compass: tuple[bool, bool]
    names: tuple[str, ...] = ()


READINGS = 2


def drawn(rng: np.random.Generator, rates: Rates, *, loose: tuple[bool, bool]) -> Mishaps:
    """Draw the mishaps of one job; clips and colours are matters of loose pickups."""

    def happens(kind: ErrorKind) -> bool:
        return bool(rng.random() < rates.of(kind))

    def each(kind: ErrorKind) -> tuple[bool, bool]:
        return happens(kind), happens(kind)

    clips, colours = each("clips"), each("colours")
    made = Mishaps(
        clips=(clips[0] and loose[0], clips[1] and loose[1]),
        colours=(colours[0] and loose[0], colours[1] and loose[1]),
        meter=each("meter leads"),
        misread=(
            tuple(happens("misread swing") for _ in range(READINGS)),
            tuple(happens("misread swing") for _ in range(READINGS)),
        ),
        hand=(happens("hand"), happens("hand"), happens("hand")),
        one_pickup_twice=happens("one pickup twice"),
        selector_stays=happens("same setting twice"),
        wrong_both=happens("settings"),
        face=each("coil's face"),
        compass=each("compass"),
    )
    return replace(made, names=tuple(k for k, v in vars(made).items() if np.any(v)))
