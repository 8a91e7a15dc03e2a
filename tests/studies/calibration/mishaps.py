"""What goes wrong at a simulated bench, drawn at the rates that the tool assumes, or at a multiple of them.

Task: one `Mishaps` a job. Every rate is that of reports/inference/error_priors.py, what people do times a
factor, half at most. Signs: True turns over what it is about.

Acts of one person depend on each other as in sources H3: a slip made once is made again in the next clip-up
with moderate dependence, a hand that goes the other way in plucks does so in presses with high dependence.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from simulator.conditions import Conditions

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
        """How often a mistake is made: of people times the factor, of things as assumed."""
        prior = ERROR_PRIORS[kind]
        return self.times(prior.probability) if prior.human else prior.probability

    def times(self, rate: float) -> float:
        """Any other rate."""
        return min(MOST, self.factor * rate)

    def conditions(self, conditions: Conditions) -> Conditions:
        """The simulator's own mishaps at these rates."""
        return replace(
            conditions,
            inverted_rate=self.of("channels") / 2,
            magnetised_rate=self.of("magnetised tool"),
            turned_rate=self.times(min(conditions.turned_rate, ERROR_PRIORS["turned stroke"].probability)),
        )


@dataclass(frozen=True)
class Mishaps:
    """What goes wrong in one job, for pickups a (0) and b (1)."""

    clips: tuple[bool, bool]
    clips_again: bool
    """The clips of b the wrong way round in its second clip-up."""
    clip_lead: bool
    """The clip lead of b has red on the sleeve."""
    tag: bool
    """The tag on the lead under the other clip."""
    colours: tuple[bool, bool]
    meter: tuple[bool, bool]
    misread: tuple[tuple[bool, ...], tuple[bool, ...]]
    hand: tuple[bool, bool, bool]
    presses: tuple[bool, bool, bool]
    """Every pluck the other way on a, on b, on both."""
    one_pickup_twice: bool
    selector_stays: bool
    wrong_both: bool
    """The position "both" has b alone."""
    face: tuple[bool, bool]
    compass: tuple[bool, bool]
    names: tuple[str, ...] = ()


READINGS = 2
MODERATE, HIGH = 1 / 7, 1 / 2
"""Least chance that what one person did once is done again (sources H3)."""
UNTRACED = frozenset({"colours", "tag"})
"""Mishaps that turn over everything about a loose pickup, so that nothing in the job can show them."""


def drawn(rng: np.random.Generator, rates: Rates, *, loose: tuple[bool, bool]) -> Mishaps:
    """Draw the mishaps of one job; clips and colours are matters of loose pickups."""

    def happens(kind: ErrorKind) -> bool:
        return bool(rng.random() < rates.of(kind))

    def each(kind: ErrorKind) -> tuple[bool, bool]:
        return happens(kind), happens(kind)

    def again(before: bool, kind: ErrorKind, dependence: float) -> bool:
        rate = rates.of(kind)
        return bool(rng.random() < (dependence + (1 - dependence) * rate if before else rate))

    clips, colours = each("clips"), each("colours")
    hand = tuple(h or k for h, k in zip(each("hand"), each("hand throughout"), strict=True))
    hand = (*hand, happens("hand"))
    made = Mishaps(
        clips_again=loose[1] and again(clips[1], "clips", MODERATE),
        clip_lead=loose[1] and happens("clip lead"),
        tag=loose[1] and happens("tag"),
        presses=tuple(again(h, "hand", HIGH) for h in hand),
        clips=(clips[0] and loose[0], clips[1] and loose[1]),
        colours=(colours[0] and loose[0], colours[1] and loose[1]),
        meter=each("meter leads"),
        misread=(
            tuple(happens("misread swing") for _ in range(READINGS)),
            tuple(happens("misread swing") for _ in range(READINGS)),
        ),
        hand=hand,
        one_pickup_twice=happens("one pickup twice"),
        selector_stays=happens("same setting twice"),
        wrong_both=happens("settings"),
        face=each("coil's face"),
        compass=each("compass"),
    )
    return replace(made, names=tuple(k for k, v in vars(made).items() if np.any(v)))
