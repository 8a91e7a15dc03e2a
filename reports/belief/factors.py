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


def spread(factor: Factor, variables: Sequence[Variable]) -> Array:
    """The log weights of a factor over more variables than it is about, one axis each in their order."""
    order = [factor.variables.index(v) for v in variables if v in factor.variables]
    shape = [2 if v in factor.variables else 1 for v in variables]
    return np.broadcast_to(np.transpose(factor.log, order).reshape(shape), (2,) * len(variables))


def prior_factor(variable: Variable, probability: float) -> Factor:
    """A hidden mistake that happened with ``probability``."""
    return Factor((variable,), np.log(np.array([1 - probability, probability])))


def log_marginal(factors: Sequence[Factor], kept: Sequence[Variable]) -> Array:
    """Log weights over ``kept`` (one axis each, normalised to a sum of 1), all else summed over."""
    log = log_weights(factors, kept)
    return np.asarray(log - np.logaddexp.reduce(log, axis=None))


def log_weights(factors: Sequence[Factor], kept: Sequence[Variable]) -> Array:
    """The same without the normalising: their sum is what all factors give together."""
    number = {v: k for k, v in enumerate(dict.fromkeys([*kept, *(v for f in factors for v in f.variables)]))}
    pool = [_Table(tuple(number[v] for v in f.variables), f.log) for f in factors]
    free = set(range(len(kept), len(number)))
    while free:
        near = _neighbours(pool, free)
        variable = min(free, key=lambda k: (len(near[k]), k))
        free.discard(variable)
        joined = _joined([t for t in pool if variable in t.axes])
        pool = [t for t in pool if variable not in t.axes]
        axis = joined.axes.index(variable)
        rest = joined.axes[:axis] + joined.axes[axis + 1 :]
        pool.append(_Table(rest, np.logaddexp.reduce(joined.log, axis=axis)))
    pool.append(_Table(tuple(range(len(kept))), np.zeros((2,) * len(kept))))
    joined = _joined(pool)
    return np.asarray(np.transpose(joined.log, [joined.axes.index(k) for k in range(len(kept))]))


def probability_equal(factors: Sequence[Factor], a: Variable, b: Variable) -> float:
    """Probability that two signs agree."""
    log = log_marginal(factors, (a, b))
    return float(np.exp(np.logaddexp(log[0, 0], log[1, 1])))


def probability_happened(factors: Sequence[Factor], mistake: Variable) -> float:
    """Probability that a hidden mistake happened."""
    return float(np.exp(log_marginal(factors, (mistake,))[1]))


@dataclass(frozen=True, eq=False)
class _Table:
    """A factor over numbered variables."""

    axes: tuple[int, ...]
    log: Array


def _neighbours(pool: list[_Table], free: set[int]) -> dict[int, set[int]]:
    """For each free variable, all that stand beside it in some table, itself included."""
    near: dict[int, set[int]] = {k: set() for k in free}
    for table in pool:
        for k in table.axes:
            if k in near:
                near[k].update(table.axes)
    return near


def _joined(tables: list[_Table]) -> _Table:
    axes = tuple(dict.fromkeys(k for t in tables for k in t.axes))
    log = np.zeros((2,) * len(axes))
    for table in tables:
        place = [axes.index(k) for k in table.axes]
        shape = [2 if k in place else 1 for k in range(len(axes))]
        log = log + np.transpose(table.log, np.argsort(place)).reshape(shape)
    return _Table(axes, log)
