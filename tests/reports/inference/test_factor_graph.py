"""Exact sums over signs against enumeration, and the closed form of one private hidden sign."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.inference import factor_graph
from reports.inference.factor_graph import (
    EliminationTree,
    Factor,
    JointSigns,
    Tables,
    log_marginal,
    prior_factor,
    probability_equal,
    probability_of_error,
    product_factor,
)

PROFILE = settings(derandomize=True, deadline=None, max_examples=60, database=None)
NAMES = "abcdefg"
WEIGHTS = st.floats(-6, 6)
RATIOS = st.floats(-8, 8)


@st.composite
def factors(draw):
    """Up to ten factors of one to three of seven variables, some with an impossible corner."""
    found = []
    for _ in range(draw(st.integers(1, 10))):
        names = tuple(draw(st.permutations(NAMES))[: draw(st.integers(1, 3))])
        size = 2 ** len(names)
        log = np.array(draw(st.lists(WEIGHTS, min_size=size, max_size=size)))
        if size > 2 and draw(st.booleans()):
            log[draw(st.integers(0, size - 1))] = -np.inf
        found.append(Factor(names, log.reshape((2,) * len(names))))
    return found


def enumerated(given_factors, kept):
    """Every pattern of every variable, one by one: the definition of the sum."""
    names = sorted({v for f in given_factors for v in f.variables} | set(kept))
    table = np.zeros((2,) * len(kept))
    for pattern in itertools.product((0, 1), repeat=len(names)):
        at = dict(zip(names, pattern, strict=True))
        log = sum(float(f.log[tuple(at[v] for v in f.variables)]) for f in given_factors)
        table[tuple(at[v] for v in kept)] += math.exp(log)
    return table / table.sum()


@PROFILE
@given(factors(), st.permutations(NAMES), st.integers(1, 3))
def test_marginal_is_the_sum_over_every_pattern(drawn, order, count):
    kept = tuple(order[:count])
    expected = enumerated(drawn, kept)
    found = np.exp(log_marginal(drawn, kept))
    assert found.shape == (2,) * count
    np.testing.assert_allclose(found, expected, rtol=1e-9, atol=1e-12)


@PROFILE
@given(factors(), st.permutations(NAMES))
def test_the_order_that_is_looked_for_where_tables_are_large_gives_the_same_sum(drawn, order):
    kept = tuple(order[:2])
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(factor_graph, "WORTH_A_SEARCH", 0)
        tree = EliminationTree([(*f.variables,) for f in drawn] + [(v,) for v in kept], kept)
    logs = [f.log[np.newaxis] for f in drawn] + [np.zeros((1, 2))] * len(kept)
    found = np.exp(factor_graph.normalised(tree.weights(logs)))[0]
    np.testing.assert_allclose(found, enumerated(drawn, kept), rtol=1e-9, atol=1e-12)


def test_a_ring_of_rings_is_summed_in_small_tables():
    """A grid of five by five: few neighbours first is not the cheapest there."""
    grid = [
        (x + 6 * y, x + dx + 6 * (y + dy)) for x in range(5) for y in range(5) for dx, dy in ((0, 1), (1, 0))
    ]
    near = factor_graph._near(grid, 36)
    least = factor_graph._least_fill_order(near, 0)
    assert sorted(least) == list(range(36))
    assert max(one.bit_count() for one in near) == 5, "what was given is not used up"
    assert factor_graph._entries(near, least) < 1000


@PROFILE
@given(factors())
def test_probabilities_are_the_sum_over_every_pattern(drawn):
    table = enumerated(drawn, ("a", "b"))
    assert probability_equal(drawn, "a", "b") == pytest.approx(table[0, 0] + table[1, 1], abs=1e-9)
    assert probability_of_error(drawn, "a") == pytest.approx(table[1].sum(), abs=1e-9)


@PROFILE
@given(factors())
def test_two_passes_give_every_marginal_at_both_rates(drawn):
    """Two sets of weights over the same scopes, summed together, against each by enumeration."""
    logs = [np.stack([f.log, np.where(np.isneginf(f.log), -np.inf, -0.5 * f.log)]) for f in drawn]
    second = [Factor(f.variables, log[1]) for f, log in zip(drawn, logs, strict=True)]
    found, total = EliminationTree([f.variables for f in drawn]).marginals(logs)
    for k, one in enumerate((drawn, second)):
        for name in found:
            shares = np.exp(found[name][k] - np.logaddexp.reduce(found[name][k]))
            np.testing.assert_allclose(shares, enumerated(one, (name,)), rtol=1e-9, atol=1e-12)
            assert np.logaddexp.reduce(found[name][k]) == pytest.approx(float(total[k]), abs=1e-9)


@PROFILE
@given(factors(), st.integers(2, 4))
def test_every_variable_beside_the_agreement_of_two_signs(drawn, count):
    with_two = [*drawn, product_factor("ab", 1.0)]
    joint = JointSigns(Tables.of(with_two), NAMES[:count])
    for name, log in joint.beside("b", "a").items():
        table = enumerated(with_two, ("a", "b", name))
        same = table[0, 0] + table[1, 1]
        np.testing.assert_allclose(np.exp(log), [same, table.sum(axis=(0, 1)) - same], rtol=1e-8, atol=1e-12)
    for a, b in itertools.combinations(NAMES[:5], 2):
        assert joint.equal(b, a) == pytest.approx([probability_equal(with_two, a, b)], abs=1e-9)


@PROFILE
@given(st.lists(st.sampled_from(NAMES), min_size=1, max_size=7), RATIOS)
def test_product_factor_is_the_parity_of_what_stands_an_odd_number_of_times(names, ratio):
    factor = product_factor(names, ratio)
    odd = {v for v in names if names.count(v) % 2}
    assert set(factor.variables) == odd
    for pattern in itertools.product((0, 1), repeat=len(odd)):
        parity = (-1) ** sum(pattern)
        assert float(factor.log[pattern]) == pytest.approx(parity * ratio / 2)


def test_product_factor_of_two_says_the_log_ratio_of_equal_and_opposed():
    factor = product_factor("ab", math.log(3))
    assert probability_equal([factor], "a", "b") == pytest.approx(0.75)  # by construction: odds of 3 to 1


@pytest.mark.parametrize(("sign", "equal"), [(1, 1.0), (-1, 0.0)])
def test_an_infinite_ratio_is_a_fact(sign, equal):
    assert probability_equal([product_factor("ab", sign * math.inf)], "a", "b") == equal


def test_a_factor_of_another_shape_is_refused():
    with pytest.raises(ValueError, match="cannot have the shape"):
        Factor(("a", "b"), np.zeros(2))
    with pytest.raises(ValueError, match="cannot have the shape"):
        Factor(("a", "a"), np.zeros((2, 2)))


@PROFILE
@given(RATIOS, st.floats(0.001, 0.999))
def test_a_private_hidden_sign_follows_the_tanh_rule(ratio, probability):
    """Two independent signs multiplied: tanh(L/2) = tanh(L1/2) tanh(L2/2) (box-plus of log-likelihood
    algebra, Hagenauer and others 1996, from memory); here L2 is the prior's, so its tanh is 1 - 2p.
    """
    drawn = [product_factor(("a", "b", "mistake"), ratio), prior_factor("mistake", probability)]
    p = probability_equal(drawn, "a", "b")
    assert 2 * p - 1 == pytest.approx(math.tanh(ratio / 2) * (1 - 2 * probability), abs=1e-9)


@pytest.mark.parametrize("copies", [1, 5, 50])
def test_evidence_behind_one_shared_mistake_is_never_surer_than_that_mistake_allows(copies):
    shared = [product_factor(("a", "b", "mistake"), 4.0) for _ in range(copies)]
    p = probability_equal([*shared, prior_factor("mistake", 0.03)], "a", "b")
    assert 0.9 < p <= 0.97


def test_evidence_behind_mistakes_of_its_own_adds_up():
    apart = [product_factor(("a", "b", f"m{k}"), 4.0) for k in range(2)]
    p = probability_equal([*apart, *(prior_factor(f"m{k}", 0.03) for k in range(2))], "a", "b")
    # by the tanh rule, each: L = 2 atanh(0.94 tanh 2); two of them add
    each = 2 * math.atanh(0.94 * math.tanh(2.0))
    assert p == pytest.approx(1 / (1 + math.exp(-2 * each)), abs=1e-9)
    assert p > 0.97
