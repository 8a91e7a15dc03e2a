"""A factor graph of binary variables, summed exactly.

A factor over k variables is an array of log weights (natural logarithm, up to a constant) with k axes of
length 2; index 0 stands for +1 or "did not happen", index 1 for -1 or "happened". Evidence with a
log-likelihood ratio is a `product_factor`, a prior a `prior_factor`; `log_marginal` is the posterior of some
variables, all others summed out.

Method: variable elimination (sum-product), exact on any graph; the cost grows with the largest intermediate
table, which here holds few more than the pickups of one job. `EliminationTree` is the order and the way of
the tables for one set of scopes, so that several weights over the same scopes (other rates of errors) are
summed together, along a leading axis. A second pass from its root back gives the marginal of every variable
at once (the two passes of a bucket tree: Kask and others, 2005, from memory).
"""

from __future__ import annotations

import heapq
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache, reduce

import numpy as np
from numpy.typing import NDArray

from reports.inference.condensing import condensed, merged

Array = NDArray[np.float64]
Variable = Hashable

MOST_JOINT = 8
"""So many signs are kept in one table."""
WORTH_CONDENSING = 30_000
"""Entries of all tables of a tree, beyond which its factors are condensed (some hundredths of a second)."""
WORTH_A_SEARCH = 500_000
"""Entries of all tables of a tree, beyond which another order is looked for, in some hundredths of a second.
On the largest trees of a closed guitar recorded after the work its tables were 2 to 14 times smaller."""


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


@dataclass(frozen=True, eq=False)
class Tables:
    """Factors at several rates of errors: the log weights over ``scopes[k]`` are ``logs[k]``.

    Each has a leading axis, one entry for each of the rates, or one for all, and then an axis of length 2
    for each variable of its scope.
    """

    scopes: tuple[tuple[Variable, ...], ...]
    logs: tuple[Array, ...]
    rates: int = 1

    @classmethod
    def of(cls, factors: Iterable[Factor]) -> Tables:
        """Factors at one set of rates."""
        listed = list(factors)
        return cls(tuple(f.variables for f in listed), tuple(f.log[np.newaxis] for f in listed))

    @cached_property
    def numbered(self) -> NumberedTables:
        """The same sum, each scope once; condensed where its tables would be large."""
        numbers: dict[Variable, int] = {}
        scopes = [tuple(numbers.setdefault(v, len(numbers)) for v in scope) for scope in self.scopes]
        places, logs = merged(scopes, self.logs)
        near = _near(places, len(numbers))
        if _entries(near, _elimination_order(near, 0)) > WORTH_CONDENSING:
            places, logs = condensed(places, logs, count=len(numbers))
        return NumberedTables(tuple(numbers), tuple(places), tuple(logs))


@dataclass(frozen=True, eq=False)
class NumberedTables:
    """Factors whose scopes hold numbers: places in ``names``, and higher ones for auxiliary variables."""

    names: tuple[Variable, ...]
    scopes: tuple[tuple[int, ...], ...]
    logs: tuple[Array, ...]

    @cached_property
    def _numbers(self) -> dict[Variable, int]:
        return {v: k for k, v in enumerate(self.names)}

    def of(self, variables: Sequence[Variable]) -> tuple[int, ...]:
        """The numbers of some variables; negative ones of those that no factor is about."""
        return tuple(self._numbers.get(v, -1 - k) for k, v in enumerate(variables))

    def weights(self, kept: Sequence[Variable]) -> Array:
        """Log weights over ``kept`` (rates, 2, ...), all else summed over."""
        return elimination_tree(self.scopes, self.of(kept)).weights(self.logs)

    def marginals(self, *also: tuple[tuple[int, ...], Array]) -> dict[Variable, Array]:
        """For every variable its log weights (rates, 2); ``also``: further factors."""
        scopes = (*self.scopes, *(scope for scope, _ in also))
        found, _ = elimination_tree(scopes, ()).marginals((*self.logs, *(log for _, log in also)))
        return {v: found[k] for k, v in enumerate(self.names) if k in found}

    @property
    def first(self) -> NumberedTables:
        """The same at the first of the rates alone."""
        return NumberedTables(self.names, self.scopes, tuple(log[:1] for log in self.logs))


@dataclass(frozen=True)
class _Bucket:
    """Where one variable is summed out.

    ``size``: how many variables its table is over, itself first. ``factors``: those that go in, each with the
    order of its axes and its shape here. ``parent``: the bucket its sum goes to (-1: what is kept), with the
    shape it has there.
    """

    size: int
    factors: tuple[tuple[int, tuple[int, ...], tuple[int, ...]], ...]
    parent: int
    shape: tuple[int, ...]


class EliminationTree:
    """The order in which the variables of some scopes are summed out, and where each table goes.

    ``kept`` are not summed out: the last bucket, the root, is over them, in their order.
    """

    def __init__(self, scopes: Sequence[tuple[Variable, ...]], kept: Sequence[Variable] = ()) -> None:
        self.kept = tuple(kept)
        numbers: dict[Variable, int] = {}
        places = [[numbers.setdefault(v, len(numbers)) for v in scope] for scope in scopes]
        last = [numbers.setdefault(v, len(numbers)) for v in self.kept]
        near = _near(places, len(numbers))
        order, self.entries = _cheap_order(near, sum(1 << k for k in last))
        named = tuple(numbers)
        self.order = tuple(named[k] for k in order)
        rank = [0] * len(numbers)
        for k, number in enumerate((*order, *last)):
            rank[number] = k
        root = len(order)
        below = (1 << root) - 1
        members: list[list[tuple[int, list[int]]]] = [[] for _ in range(root + 1)]
        over = [0] * root
        for number, place in enumerate(places):
            ranks = [rank[k] for k in place]
            bucket = min(ranks, default=root)
            if bucket < root:
                over[bucket] |= sum(1 << k for k in ranks)
            members[min(bucket, root)].append((number, ranks))
        parents = []
        for k in range(root):
            rest = over[k] & ~(1 << k)
            parent = _lowest(rest & below, otherwise=root)
            parents.append(parent)
            if parent < root:
                over[parent] |= rest
        tables = [_places_of(mask) for mask in over]
        tables.append(tuple(range(root, root + len(last))))
        self._buckets = []
        for k, ranked in enumerate(tables):
            own = []
            for number, ranks in members[k]:
                axes = sorted(range(len(ranks)), key=ranks.__getitem__)
                own.append((number, (0, *(i + 1 for i in axes)), _shape(ranked, set(ranks))))
            parent = parents[k] if k < root else -1
            shape = _shape(tables[parent], set(ranked[1:])) if k < root else ()
            self._buckets.append(_Bucket(len(ranked), tuple(own), parent, shape))

    def weights(self, logs: Sequence[Array]) -> Array:
        """Log weights over what is kept, (rates, 2, ...), all else summed over."""
        return self._upwards(logs)[0][-1]

    def marginals(self, logs: Sequence[Array]) -> tuple[dict[Variable, Array], Array]:
        """For every variable that is not kept its log weights (rates, 2), and those of what is kept.

        Not normalised: each sums to what all factors give together.
        """
        joined, sums = self._upwards(logs)
        found: dict[Variable, Array] = {}
        for k in range(len(self.order) - 1, -1, -1):
            bucket, sent = self._buckets[k], sums[k]
            above = joined[bucket.parent]
            # What comes from above without what was sent there: where that is impossible, all here is.
            rest = above - np.where(np.isneginf(sent), 0.0, sent).reshape(-1, *bucket.shape)
            axes = tuple(i + 1 for i, n in enumerate(bucket.shape) if n == 1)
            down = np.logaddexp.reduce(rest, axis=axes) if axes else rest
            joined[k] = joined[k] + down[:, np.newaxis]
            found[self.order[k]] = np.logaddexp.reduce(joined[k].reshape(*joined[k].shape[:2], -1), axis=2)
        return found, joined[-1]

    def _upwards(self, logs: Sequence[Array]) -> tuple[list[Array], list[Array]]:
        """The table of each bucket with all that was sent to it, and the sum that it sends on."""
        waiting: list[list[Array]] = [[] for _ in self._buckets]
        joined, sums = [], []
        for k, bucket in enumerate(self._buckets):
            come = [
                logs[number].transpose(axes).reshape(-1, *shape) for number, axes, shape in bucket.factors
            ]
            if k == len(self.order):  # what is kept may stand in no factor
                come.append(np.zeros((1,) + (2,) * bucket.size))
            table = reduce(np.add, (*come, *waiting[k]))
            joined.append(table)
            if k < len(self.order):
                sums.append(np.logaddexp(table[:, 0], table[:, 1]))
                waiting[bucket.parent].append(sums[k].reshape(-1, *bucket.shape))
        return joined, sums


@lru_cache(maxsize=64)
def elimination_tree(
    scopes: tuple[tuple[Variable, ...], ...], kept: tuple[Variable, ...] = ()
) -> EliminationTree:
    """The tree of some scopes, made once."""
    return EliminationTree(scopes, kept)


def _shape(place: Sequence[int], present: set[int]) -> tuple[int, ...]:
    """The shape of a table over the ranks that are ``present``, among those of a bucket."""
    return tuple(2 if k in present else 1 for k in place)


Near = list[int]
"""What stands beside each variable in some scope, itself included: whole numbers with a bit for each."""


def _near(scopes: Iterable[Sequence[int]], count: int) -> Near:
    near = [1 << k for k in range(count)]
    for mask in {sum(1 << k for k in scope) for scope in scopes}:
        for k in _places_of(mask):
            near[k] |= mask
    return near


def _cheap_order(near: Near, kept: int) -> tuple[Sequence[int], int]:
    """The order of fewest neighbours, or that of least fill, where tables are large and its are smaller.

    With how many entries its tables have; ``kept``: a bit for each that is not summed out.
    """
    order = _elimination_order(near, kept)
    entries = _entries(near, order)
    if entries <= WORTH_A_SEARCH:
        return order, entries
    other = _least_fill_order(near, kept)
    least = _entries(near, other)
    return (other, least) if least < entries else (order, entries)


def _entries(near: Near, order: Sequence[int]) -> int:
    """How many entries the tables have by which variables are summed out in this order."""
    left = list(near)
    return sum(2 ** _summed_out(left, k).bit_count() for k in order)


def _summed_out(near: Near, variable: int) -> int:
    """Take a variable away, which joins all that stands beside it; what it was summed out over."""
    beside = near[variable]
    for other in _places_of(beside & ~(1 << variable)):
        near[other] = (near[other] | beside) & ~(1 << variable)
    return beside


def _elimination_order(near: Near, kept: int) -> tuple[int, ...]:
    """Variables that are not kept, always the one with fewest neighbours next; of equals the first named."""
    return _order_of_fewest(tuple(near), kept)


@lru_cache(maxsize=512)
def _order_of_fewest(near: tuple[int, ...], kept: int) -> tuple[int, ...]:
    """The same, found once for all graphs in which the same stand beside each other."""
    left = list(near)
    queue = [(beside.bit_count(), k) for k, beside in enumerate(left) if not kept >> k & 1]
    heapq.heapify(queue)
    order: list[int] = []
    gone = kept
    while queue:
        count, variable = heapq.heappop(queue)
        if gone >> variable & 1 or count != left[variable].bit_count():
            continue
        gone |= 1 << variable
        order.append(variable)
        for other in _places_of(_summed_out(left, variable) & ~gone):
            heapq.heappush(queue, (left[other].bit_count(), other))
    return tuple(order)


def _least_fill_order(near: Near, kept: int) -> list[int]:
    """Variables that are not kept, always the one that joins fewest others which stood apart."""
    left = list(near)
    fill = {k: _fill(left, k) for k in range(len(near)) if not kept >> k & 1}
    order: list[int] = []
    while fill:
        chosen = min(fill, key=lambda k: (fill[k], left[k].bit_count()))
        del fill[chosen]
        order.append(chosen)
        beside = _summed_out(left, chosen) & ~(1 << chosen)
        changed = beside
        for other in _places_of(beside):
            changed |= left[other]
        fill.update((k, _fill(left, k)) for k in _places_of(changed) if k in fill)
    return order


def _fill(left: Near, variable: int) -> int:
    """How many pairs, counted twice, summing this variable out would join that stood apart."""
    beside = left[variable]
    return sum((beside & ~left[other]).bit_count() for other in _places_of(beside))


@lru_cache(maxsize=1 << 14)
def _places_of(mask: int) -> tuple[int, ...]:
    """The numbers of the bits that are set, in order."""
    found = []
    while mask:
        lowest = mask & -mask
        found.append(lowest.bit_length() - 1)
        mask ^= lowest
    return tuple(found)


def _lowest(mask: int, *, otherwise: int) -> int:
    """The number of the lowest bit that is set."""
    return (mask & -mask).bit_length() - 1 if mask else otherwise


def weights_over(tables: Tables, kept: Sequence[Variable]) -> Array:
    """Log weights over ``kept`` (rates, 2, ...), all else summed over."""
    log = tables.numbered.weights(kept)
    return np.broadcast_to(log, (tables.rates, *log.shape[1:]))


def log_marginal(factors: Sequence[Factor], kept: Sequence[Variable]) -> Array:
    """Log weights over ``kept`` (one axis each, normalised to a sum of 1), all else summed over."""
    return np.asarray(normalised(log_weights(factors, kept)[np.newaxis])[0])


def log_weights(factors: Sequence[Factor], kept: Sequence[Variable]) -> Array:
    """The same without the normalising: their sum is what all factors give together."""
    return np.asarray(weights_over(Tables.of(factors), kept)[0])


def normalised(log: Array) -> Array:
    """Log weights (rates, 2, ...), so that those at each of the rates sum to 1."""
    total = np.logaddexp.reduce(log.reshape(len(log), -1), axis=1)
    return np.asarray(log - total.reshape(-1, *(1,) * (log.ndim - 1)))


def equal_of(log: Array) -> Array:
    """From log weights over two signs (rates, 2, 2) the probabilities (rates,) that they agree."""
    shares = normalised(log)
    return np.asarray(np.exp(np.logaddexp(shares[:, 0, 0], shares[:, 1, 1])))


def probability_equal(factors: Sequence[Factor], a: Variable, b: Variable) -> float:
    """Probability that two signs agree."""
    return float(equal_of(log_weights(factors, (a, b))[np.newaxis])[0])


def probability_of_error(factors: Sequence[Factor], error: Variable) -> float:
    """Posterior probability that a latent error happened."""
    return float(np.exp(log_marginal(factors, (error,))[1]))


class JointSigns:
    """Several signs summed together once, of which any can then be asked for.

    ``signs`` beyond `MOST_JOINT`, whose table would be large, are summed as they are asked for.
    """

    def __init__(self, tables: Tables, signs: Sequence[Variable]) -> None:
        self.tables = tables
        self.signs = tuple(signs[:MOST_JOINT])

    @cached_property
    def _log(self) -> Array:
        return weights_over(self.tables, self.signs)

    def weights(self, kept: Sequence[Variable]) -> Array:
        """Log weights over ``kept`` (rates, 2, ...), all else summed over."""
        if not set(kept) <= set(self.signs):
            return weights_over(self.tables, kept)
        at = [self.signs.index(v) + 1 for v in kept]
        others = tuple(k + 1 for k in range(len(self.signs)) if k + 1 not in at)
        log = np.logaddexp.reduce(self._log, axis=others) if others else self._log
        return np.asarray(log.transpose(0, *(np.argsort(np.argsort(at)) + 1)))

    def equal(self, a: Variable, b: Variable) -> Array:
        """The probabilities (rates,) that two signs agree."""
        return equal_of(self.weights((a, b)))

    def all_equal(self, pairs: Sequence[tuple[Variable, Variable]]) -> Array:
        """The probabilities (rates, pairs) that the two signs of each pair agree."""
        if not {v for pair in pairs for v in pair} <= set(self.signs):
            return np.stack([self.equal(a, b) for a, b in pairs], axis=1)
        patterns = np.indices((2,) * len(self.signs)).reshape(len(self.signs), -1)
        first, second = ([self.signs.index(pair[k]) for pair in pairs] for k in (0, 1))
        shares = np.exp(normalised(self._log)).reshape(len(self._log), -1)
        return np.asarray(shares @ (patterns[first] == patterns[second]).T)

    def beside(self, a: Variable, b: Variable) -> Mapping[Variable, Array]:
        """Log probabilities (2, 2) of every variable but signs: a and b agreeing (first) or not, and its own.

        At the first of the rates. One sum gives them all: conditioned both ways, the two passes of a
        tree, which is the same for every pair.
        """
        signs = self.signs if {a, b} <= set(self.signs) else (a, b)
        first, second = (np.arange(2).reshape(_shape(range(len(signs)), {signs.index(v)})) for v in (a, b))
        agrees = np.broadcast_to(first == second, (2,) * len(signs))
        given = np.where(np.stack([agrees, ~agrees]), 0.0, -np.inf)
        tables = self.tables.numbered.first
        found = tables.marginals((tables.of(signs), given))
        return {v: log - np.logaddexp.reduce(log, axis=None) for v, log in found.items() if v not in signs}
