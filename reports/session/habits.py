"""What a session learns of its bench: how often each kind of take is refused, and what a step is worth.

`BenchHabits.effort` is the factor on the seconds that a round is expected to take. It begins at 1. A kind of
take is a gesture with the number of settings that the selector visits, whatever the string: a string that
dies before the fifth position dies there on the next try too, and shorter lists become the better choice.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable
from dataclasses import dataclass, field

from reports.model.session import Step

StepKey = tuple[str, Hashable, str | None, str | None, int | None]
Kind = tuple[str, int]

USUAL_TRIES = 2.0
USUAL_REFUSALS = 0.2
"""One take in ten is refused on a usual bench; so many takes of a kind are as good as that knowledge."""
LEAST_WORTH = 0.1
MOST_WORTH = 1.2
"""What a round brought over what it promised counts within these."""
ANOTHER_STRING = 0.5
"""What a step brought tells half as much of the same step on another string."""


def step_key(step: Step) -> StepKey:
    """What counts as the same step: the same thing played on the same inputs, or on the same poles."""
    return step.gesture, step.inputs, step.string, step.tapped, step.coil


def _kind(step: Step) -> Kind:
    first = step.inputs[0]
    return step.gesture, len(first) if isinstance(first, tuple) else 1


@dataclass(eq=False)
class BenchHabits:
    """Counts of takes, and what rounds brought."""

    refusals: Counter[StepKey] = field(default_factory=Counter)
    """How often a step was not accepted in a row."""
    tries: Counter[Kind] = field(default_factory=Counter)
    failures: Counter[Kind] = field(default_factory=Counter)
    worths: dict[StepKey, list[float]] = field(default_factory=dict)

    def judged(self, step: Step, *, good: bool) -> None:
        """A take of a step was accepted or refused."""
        self.refusals[step_key(step)] = 0 if good else self.refusals[step_key(step)] + 1
        self.tries[_kind(step)] += 1
        self.failures[_kind(step)] += not good

    def brought(self, key: StepKey, share: float) -> None:
        """A round of a step brought this share of the bits that it promised."""
        self.worths.setdefault(key, []).append(min(max(share, LEAST_WORTH), MOST_WORTH))

    def effort(self, step: Step) -> float:
        """So many times as long as usual a step is expected to take, for what it tells."""
        kind = _kind(step)
        refused = (self.failures[kind] + USUAL_REFUSALS) / (self.tries[kind] + USUAL_TRIES)
        usual = USUAL_REFUSALS / USUAL_TRIES
        weights, worth = 1.0, 1.0
        for key, shares in self.worths.items():
            weight = (
                1.0 if key == step_key(step) else ANOTHER_STRING * (key[:2] == (step.gesture, step.inputs))
            )
            weights, worth = weights + weight * len(shares), worth + weight * sum(shares)
        return (1 - usual) / (1 - refused) * weights / worth
