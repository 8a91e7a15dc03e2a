"""A factor graph of binary variables, summed exactly.

A factor over k variables is an array of log weights (natural logarithm, up to a constant) with k axes of
length 2; index 0 stands for +1 or "did not happen", index 1 for -1 or "happened". Evidence with a
log-likelihood ratio is a `product_factor`, a prior a `prior_factor`; `log_marginal` is the posterior of some
variables, all others summed out.

Method: variable elimination (sum-product), exact on any graph; the cost grows with the largest intermediate
table, which here holds few more than the pickups of one job. A variable of one factor alone (a misread swing,
a tool's pull) is summed out first, and factors over the same variables are added up, so that the rest does
not grow with the number of readings.
"""

from __future__ import annotations

from collections import Counter
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
    """Evidence about a product of signs; ``ratio`` is log P(data | +1) - log P(data | -1).

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


def on_axes_of(factor: Factor, variables: Sequence[Variable]) -> Array:
    """The log weights of a factor over more variables than it is about, one axis each in their order."""
    order = [factor.variables.index(v) for v in variables if v in factor.variables]
    shape = [2 if v in factor.variables else 1 for v in variables]
    return np.broadcast_to(np.transpose(factor.log, order).reshape(shape), (2,) * len(variables))


def prior_factor(variable: Variable, probability: float) -> Factor:
    """The prior of a latent error that happens with ``probability``."""
    return Factor((variable,), np.log(np.array([1 - probability, probability])))


def log_marginal(factors: Sequence[Factor], kept: Sequence[Variable]) -> Array:
    """Log weights over ``kept`` (one axis each, normalised to a sum of 1), all else summed over."""
    log = log_weights(factors, kept)
    return np.asarray(log - np.logaddexp.reduce(log, axis=None))


def log_weights(factors: Sequence[Factor], kept: Sequence[Variable]) -> Array:
    """The same without the normalising: their sum is what all factors give together."""
    number = {v: k for k, v in enumerate(dict.fromkeys([*kept, *(v for f in factors for v in f.variables)]))}
    pool = [_Table(tuple(number[v] for v in f.variables), f.log) for f in factors]
    pool = _without_private(pool, kept=len(kept))
    free = {k for t in pool for k in t.axes if k >= len(kept)}
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


def probability_of_error(factors: Sequence[Factor], error: Variable) -> float:
    """Posterior probability that a latent error happened."""
    return float(np.exp(log_marginal(factors, (error,))[1]))


@dataclass(frozen=True, eq=False)
class _Table:
    """A factor over numbered variables."""

    axes: tuple[int, ...]
    log: Array


def _without_private(pool: list[_Table], *, kept: int) -> list[_Table]:
    """The same sum, with every variable gone that one table and tables about it alone name."""
    single: dict[int, Array] = {}
    shared: list[_Table] = []
    for table in pool:
        if len(table.axes) == 1 and table.axes[0] >= kept:
            single[table.axes[0]] = single.get(table.axes[0], 0.0) + table.log
        else:
            shared.append(table)
    count = Counter(k for t in shared for k in t.axes)
    left: dict[tuple[int, ...], Array] = {}
    constant = 0.0
    for table in shared:
        axes, log = table.axes, table.log
        for k in [k for k in axes if k >= kept and count[k] == 1]:
            axis = axes.index(k)
            if k in single:
                shape = [1] * len(axes)
                shape[axis] = 2
                log = log + single.pop(k).reshape(shape)
            axes, log = axes[:axis] + axes[axis + 1 :], np.logaddexp.reduce(log, axis=axis)
        order = np.argsort(axes)
        axes, log = tuple(axes[i] for i in order), np.transpose(log, order)
        left[axes] = left[axes] + log if axes in left else log
    for k in [k for k in single if count[k] == 0]:
        constant += float(np.logaddexp.reduce(single.pop(k)))
    tables = [_Table(axes, log) for axes, log in left.items()]
    tables += [_Table((k,), log) for k, log in single.items()]
    return [*tables, _Table((), np.array(constant))]


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
