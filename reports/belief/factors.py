"""Exact sums over unknown signs.

Task: given what each piece of evidence says about a few signs at a time, the probability of any one or
two of them, every other sign and every hidden mistake summed over. Shapes: a factor over k variables
is an array of k axes of length 2; index 0 stands for +1 (or "did not happen"), index 1 for -1 (or
"happened"). Units: natural logarithms; a factor is known up to a constant. Signs: index 0 is +1.

Method: variable elimination (sum-product), exact on any graph of discrete variables; the cost grows
with the largest intermediate table, which here holds few more than the pickups of one job.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Variable = Hashable


@dataclass(frozen=True, eq=False)
class Factor:
    """Log weights over ``variables``; ``log`` has one axis of length 2 for each, in their order."""

    variables: tuple[Variable, ...]
    log: Array

    def __post_init__(self) -> None:
        if self.log.shape != (2,) * len(self.variables) or len(set(self.variables)) != len(self.variables):
            raise ValueError(f"a factor over {self.variables} cannot have the shape {self.log.shape}")


def product_factor(variables: Iterable[Variable], ratio: float) -> Factor:
    """Evidence about the product of some signs: ``ratio`` = log P(seen | +1) - log P(seen | -1).

    A variable that stands twice cancels itself. Infinity states a fact.
    """
    odd: dict[Variable, None] = {}
    for variable in variables:
        if variable in odd:
            del odd[variable]
        else:
            odd[variable] = None
    parity = np.ones((2,) * len(odd))
    for axis in range(len(odd)):
        shape = [1] * len(odd)
        shape[axis] = 2
        parity = parity * np.array([1.0, -1.0]).reshape(shape)
    if np.isinf(ratio):
        return Factor(tuple(odd), np.where(parity == np.sign(ratio), 0.0, -np.inf))
    return Factor(tuple(odd), parity * ratio / 2)


def prior_factor(variable: Variable, probability: float) -> Factor:
    """A hidden mistake that happened with ``probability``."""
    return Factor((variable,), np.log(np.array([1 - probability, probability])))


def log_marginal(factors: Sequence[Factor], kept: Sequence[Variable]) -> Array:
    """Log weights over ``kept`` (one axis each, normalised to a sum of 1), all else summed over."""
    pool = list(factors)
    free = {v for factor in pool for v in factor.variables} - set(kept)
    while free:
        variable = min(free, key=lambda v: (_width(pool, v), str(v)))
        free.discard(variable)
        touching = [f for f in pool if variable in f.variables]
        pool = [f for f in pool if variable not in f.variables]
        joined = _joined(touching)
        axis = joined.variables.index(variable)
        rest = tuple(v for v in joined.variables if v != variable)
        pool.append(Factor(rest, np.logaddexp.reduce(joined.log, axis=axis)))
    pool.append(Factor(tuple(kept), np.zeros((2,) * len(kept))))
    joined = _joined(pool)
    order = [joined.variables.index(v) for v in kept]
    log = np.transpose(joined.log, order)
    return np.asarray(log - np.logaddexp.reduce(log, axis=None))


def probability_equal(factors: Sequence[Factor], a: Variable, b: Variable) -> float:
    """Probability that two signs agree."""
    log = log_marginal(factors, (a, b))
    return float(np.exp(np.logaddexp(log[0, 0], log[1, 1])))


def probability_happened(factors: Sequence[Factor], mistake: Variable) -> float:
    """Probability that a hidden mistake happened."""
    return float(np.exp(log_marginal(factors, (mistake,))[1]))


def _width(pool: list[Factor], variable: Variable) -> int:
    return len({v for f in pool if variable in f.variables for v in f.variables})


def _joined(factors: list[Factor]) -> Factor:
    variables = tuple(dict.fromkeys(v for f in factors for v in f.variables))
    log = np.zeros((2,) * len(variables))
    for factor in factors:
        axes = [variables.index(v) for v in factor.variables]
        order = np.argsort(axes)
        shape = [2 if k in axes else 1 for k in range(len(variables))]
        log = log + np.transpose(factor.log, order).reshape(shape)
    return Factor(variables, log)
