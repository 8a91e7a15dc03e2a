"""The same sum in fewer and smaller tables: what several factors share is said once.

From log weights over scopes of binary variables (reports.inference.factor_graph) to others over the same
variables and some auxiliary ones, with the same sum over what is added; nothing is approximated. Three
properties of a table are looked for, which hold in every entry and at each of the rates:

- an axis along which it is the same says nothing and is left away;
- variables of which it only matters whether any happened (doubts behind one position of a selector) are
  replaced by one auxiliary variable, their "any";
- variables of which only the product of signs matters (errors that turn the same evidence over) are replaced
  by one auxiliary variable, their product. A table that only says what such a product is, given other
  variables, is the same for every product it stands for, and is kept once.

An "any" is tied to its variables two by two, and so are products: the pair that most products share is
multiplied first (the common subexpressions of a linear code, taken greedily), so that a clique of k variables
becomes a chain of tables over three.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Scope = tuple[int, ...]

_IMPOSSIBLE = -np.inf
_PRODUCT = {
    count: np.where(np.indices((2,) * count).sum(axis=0) % 2 == 0, 0.0, _IMPOSSIBLE)[np.newaxis]
    for count in (1, 2, 3)
}
"""Log weights that say that the product of so many signs is +1."""
_ANY = np.full((1, 2, 2, 2), _IMPOSSIBLE)
_ANY[0, 0, 0, 0] = _ANY[0, 1, 0, 1] = _ANY[0, 1, 1, 0] = _ANY[0, 1, 1, 1] = 0.0
"""Log weights over whether any of two happened, and the two."""


def merged(scopes: Sequence[Scope], logs: Sequence[Array]) -> tuple[list[Scope], list[Array]]:
    """Factors over the same variables added up to one, in the order of the first of each."""
    found: dict[frozenset[int], int] = {}
    places: list[Scope] = []
    sums: list[Array] = []
    for scope, log in zip(scopes, logs, strict=True):
        at = found.setdefault(frozenset(scope), len(places))
        if at == len(places):
            places.append(scope)
            sums.append(log)
            continue
        sums[at] = sums[at] + log.transpose(0, *(scope.index(v) + 1 for v in places[at]))
    return places, sums


def condensed(
    scopes: Sequence[Scope], logs: Sequence[Array], *, count: int
) -> tuple[list[Scope], list[Array]]:
    """The same sum over the variables with numbers below ``count``, which all are in some scope still.

    Auxiliary variables have the numbers from ``count`` on. ``logs[k]``: (rates, 2, ...), one axis of length
    2 for each of the variables of ``scopes[k]``.
    """
    numbers = _Numbers(count)
    found: list[tuple[Scope, Array]] = []
    anys: dict[frozenset[int], int] = {}
    products: dict[frozenset[int], int] = {}
    for scope, log in zip(*merged(scopes, logs), strict=True):
        simple = _simplified(log.shape, np.asarray(log, dtype=np.float64).tobytes())
        either = [_number((scope[axis] for axis in one), anys, numbers) for one in simple.any]
        each = [_number((either[k] for k in one), products, numbers) for one in simple.products]
        found.append((tuple(each), simple.log))
    tables, equations = _same_products_once(_merged(found), products)
    tables += _any_in_pairs(anys, numbers)
    tables += _products_in_pairs(equations, numbers)
    tables = _merged(tables)
    left = set(range(count)).difference(*(scope for scope, _ in tables))
    tables += [((v,), np.zeros((1, 2))) for v in sorted(left)]
    return [s for s, _ in tables], [log for _, log in tables]


@dataclass
class _Numbers:
    """Numbers for auxiliary variables."""

    used: int

    def new(self) -> int:
        self.used += 1
        return self.used - 1


Table = tuple[Scope, Array]


def _merged(tables: Sequence[Table]) -> list[Table]:
    return list(zip(*merged([s for s, _ in tables], [log for _, log in tables]), strict=True))


@dataclass(frozen=True, eq=False)
class _Simplified:
    """A table without its flat axes, one axis for each class of variables.

    ``any``, ``products``: the classes, by axes of the table as it was; the order is that of the axes of
    ``log``. A class of ``products`` is of classes of ``any``, by their numbers.
    """

    log: Array
    any: tuple[tuple[int, ...], ...]
    products: tuple[tuple[int, ...], ...]


@lru_cache(maxsize=4096)
def _simplified(shape: tuple[int, ...], content: bytes) -> _Simplified:
    """The same for tables of the same content, of which a job has many: ties of one kind are alike."""
    log = np.frombuffer(content).reshape(shape)
    axes = list(range(log.ndim - 1))
    for axis in reversed(axes):
        if np.array_equal(log.take(0, axis + 1), log.take(1, axis + 1)):
            log = np.asarray(log.take(0, axis + 1))
            del axes[axis]
    log, either = _by_classes(log, _only_any_matters)
    log, products = _by_classes(log, _only_product_matters)
    return _Simplified(log, tuple(tuple(axes[k] for k in one) for one in either), products)


def _by_classes(
    log: Array, alike: Callable[[Array, int, int], bool]
) -> tuple[Array, tuple[tuple[int, ...], ...]]:
    """A table with one axis for each class of axes that are ``alike``, an equivalence relation."""
    classes: list[list[int]] = []
    for axis in range(log.ndim - 1):
        mine = next((c for c in classes if alike(log, c[0], axis)), None)
        if mine is None:
            classes.append([axis])
        else:
            mine.append(axis)
    first = {c[0] for c in classes}
    at = tuple(slice(None) if axis in first else 0 for axis in range(log.ndim - 1))
    return log[(slice(None), *at)], tuple(map(tuple, classes))


def _corner(log: Array, a: int, b: int, values: tuple[int, int]) -> Array:
    """The part of a table for values of two variables, a before b."""
    at: list[slice | int] = [slice(None)] * (b + 2)
    at[a + 1], at[b + 1] = values
    return log[tuple(at)]


def _only_any_matters(log: Array, a: int, b: int) -> bool:
    second = _corner(log, a, b, (0, 1))
    return np.array_equal(second, _corner(log, a, b, (1, 0))) and np.array_equal(
        second, _corner(log, a, b, (1, 1))
    )


def _only_product_matters(log: Array, a: int, b: int) -> bool:
    return np.array_equal(_corner(log, a, b, (0, 1)), _corner(log, a, b, (1, 0))) and np.array_equal(
        _corner(log, a, b, (0, 0)), _corner(log, a, b, (1, 1))
    )


def _number(members: Iterable[int], known: dict[frozenset[int], int], numbers: _Numbers) -> int:
    """The variable that stands for some: for one itself, for several an auxiliary one."""
    variables = frozenset(members)
    if len(variables) == 1:
        return next(iter(variables))
    if variables not in known:
        known[variables] = numbers.new()
    return known[variables]


Equation = tuple[frozenset[int], bool]
"""Variables of which an odd number (True) or an even one is 1."""


def _same_products_once(
    tables: Sequence[Table], products: dict[frozenset[int], int]
) -> tuple[list[Table], list[Equation]]:
    """The tables without those that only say what a product is: known ones go into its equation."""
    uses = Counter(v for scope, _ in tables for v in scope)
    kept: list[Table] = []
    known: dict[tuple[Scope, bytes], int] = {}
    instead: dict[int, int] = {}
    fixed: dict[int, bool] = {}
    own = {number for number in products.values() if uses[number] == 1}
    for scope, log in tables:
        product = next((v for v in scope if v in own and _is_told(log, scope.index(v))), None)
        if product is None:
            kept.append((scope, log))
        elif len(scope) == 1:
            fixed[product] = bool(log[0, 1] == 0)
        else:
            others = tuple(sorted(v for v in scope if v != product))
            order = [scope.index(v) + 1 for v in (*others, product)]
            key = others, log[0].transpose([k - 1 for k in order]).tobytes()
            if key in known:
                instead[product] = known[key]
            else:
                known[key] = product
                kept.append((scope, log))
    equations: dict[Equation, None] = {}
    for members, number in products.items():
        if number in fixed:
            equations[members, fixed[number]] = None
        else:
            equations[members ^ {instead.get(number, number)}, False] = None
    return kept, list(equations)


def _is_told(log: Array, axis: int) -> bool:
    """Whether a table at one rate only says which value a variable has, given the others."""
    first, second = log.take(0, axis + 1), log.take(1, axis + 1)
    possible = first == 0
    return len(log) == 1 and bool(
        np.all(possible | np.isneginf(first)) and np.array_equal(second, np.where(possible, _IMPOSSIBLE, 0.0))
    )


def _any_in_pairs(anys: dict[frozenset[int], int], numbers: _Numbers) -> list[Table]:
    """The ties of each "any" to its variables, by way of those of pairs."""
    pairs = {members: number for members, number in anys.items() if len(members) == 2}
    larger = {number: set(members) for members, number in anys.items() if len(members) > 2}
    _in_pairs(list(larger.values()), pairs, numbers, most=2)
    same = []
    for number, members in larger.items():
        if (known := pairs.setdefault(frozenset(members), number)) != number:
            same.append(((number, known), _PRODUCT[2]))
    return same + [((number, *sorted(pair)), _ANY) for pair, number in pairs.items()]


def _products_in_pairs(equations: Iterable[Equation], numbers: _Numbers) -> list[Table]:
    """The equations of products, by way of those of pairs."""
    pairs: dict[frozenset[int], int] = {}
    listed = list(equations)
    groups = [set(members) for members, _ in listed]
    _in_pairs(groups, pairs, numbers, most=3)
    tables: list[Table] = [((number, *sorted(pair)), _PRODUCT[3]) for pair, number in pairs.items()]
    for (_, odd), left in zip(listed, groups, strict=True):
        log = _PRODUCT[len(left)]
        tables.append((tuple(sorted(left)), np.flip(log, axis=1) if odd else log))
    return tables


def _in_pairs(
    groups: Sequence[set[int]], pairs: dict[frozenset[int], int], numbers: _Numbers, *, most: int
) -> None:
    """Put one number in place of two that stand in most groups together, until each has at most ``most``."""
    counts: Counter[frozenset[int]] = Counter()

    def count(group: set[int], by: int) -> None:
        if len(group) > most:
            for pair in combinations(sorted(group), 2):
                counts[frozenset(pair)] += by

    for group in groups:
        count(group, 1)
    while any(len(group) > most for group in groups):
        pair, _ = max(counts.items(), key=lambda item: item[1])
        number = pairs[pair] if pair in pairs else pairs.setdefault(pair, numbers.new())
        for group in [g for g in groups if len(g) > most and pair <= g]:
            count(group, -1)
            group.difference_update(pair)
            group.add(number)
            count(group, 1)
        counts = +counts
