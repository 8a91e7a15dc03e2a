"""Condensed factors against the definition of the sum, entry by entry."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.inference import factor_graph
from reports.inference.condensing import condensed
from reports.inference.factor_graph import (
    EliminationTree,
    Factor,
    JointSigns,
    Tables,
    normalised,
    prior_factor,
    product_factor,
    weights_over,
)

PROFILE = settings(derandomize=True, deadline=None, max_examples=25, database=None)
SIGNS, ERRORS = "abcd", "uvwxyz"
RATIOS = st.sampled_from([np.inf, -np.inf, 0.0, 1.5, -2.5, 3.0])


def with_doubts(factor, doubts):
    """The factor, or nothing where any of the doubts happened."""
    log = factor.log
    for _ in doubts:
        log = np.stack([log, np.full(log.shape, -0.7)])
    return Factor((*doubts, *factor.variables), log)


def one_or_other(doubt, one, other, product):
    """A product of signs is that of one sign, or of another if the doubt happened."""
    here, there = (product_factor((sign, *product), np.inf) for sign in (one, other))
    log = np.empty((2, 2, *(2,) * (len(product) + 1)))
    log[0], log[1] = here.log[np.newaxis], there.log[:, np.newaxis]
    return Factor((doubt, other, one, *product), log)


@st.composite
def jobs(draw):
    """Factors as evidence makes them, at two rates: products, ties, doubts, and tables of several signs."""
    found = [prior_factor(e, draw(st.floats(0.01, 0.4))) for e in ERRORS]
    found += [Factor((s,), np.array([0.0, draw(st.floats(-1, 1))])) for s in SIGNS]
    for k in range(draw(st.integers(1, 4))):
        names = draw(st.permutations(ERRORS))
        signs = draw(st.permutations(SIGNS))
        kind = draw(st.sampled_from(["product", "tied", "elsewhere", "table"]))
        doubts = names[: draw(st.integers(0, 3))]
        if kind == "product":
            factor = product_factor((*signs[:2], *names[3:5]), draw(RATIOS))
            found.append(with_doubts(factor, doubts) if np.isfinite(factor.log).all() else factor)
        elif kind == "elsewhere":
            found.append(one_or_other(names[0], signs[0], signs[1], ("S", *names[1:3])))
        else:
            size = 2 ** (2 + (kind == "table"))
            values = draw(st.lists(st.floats(-3, 3), min_size=size, max_size=size))
            heard = (f"h{k}", signs[0], signs[1])[: 2 + (kind == "table")]
            found.append(with_doubts(Factor(heard, np.reshape(values, (2,) * len(heard))), doubts))
            found.append(
                product_factor((f"h{k}", signs[2], *names[3:5]), draw(st.sampled_from([1, -1])) * np.inf)
            )
    found += found[-2:]
    return found


def enumerated(scopes, logs, names):
    """Log weights over all ``names``, (rates, 2, ...): every pattern of every variable, added up."""
    total = np.zeros((2,) + (2,) * len(names))
    at = {v: k for k, v in enumerate(names)}
    for scope, log in zip(scopes, logs, strict=True):
        order = sorted(range(len(scope)), key=lambda k: at[scope[k]])
        shape = [2 if v in scope else 1 for v in names]
        total = total + log.transpose(0, *(k + 1 for k in order)).reshape(len(log), *shape)
    return total


def summed(log, kept):
    """Log weights over the variables at some places, normalised."""
    away = tuple(k + 1 for k in range(log.ndim - 1) if k not in kept)
    return np.exp(normalised(np.logaddexp.reduce(log, axis=away) if away else log))


@PROFILE
@given(jobs())
def test_condensed_factors_have_the_same_sums_at_every_rate(drawn):
    names = tuple(dict.fromkeys(v for f in drawn for v in f.variables))
    logs = [
        np.stack([f.log, np.log([0.5, 0.5])])
        if f.variables[0] in ERRORS and f.log.ndim == 1
        else f.log[np.newaxis]
        for f in drawn
    ]
    scopes = [tuple(names.index(v) for v in f.variables) for f in drawn]
    all_of_them = enumerated(scopes, logs, tuple(range(len(names))))
    if not np.isfinite(all_of_them).any():
        return  # facts that contradict each other
    places, sums = condensed(scopes, logs, count=len(names))
    assert set(range(len(names))) <= {v for scope in places for v in scope}
    assert max(map(len, places)) <= max(map(len, scopes))
    for kept in itertools.pairwise(range(len(names))):
        found = np.exp(normalised(EliminationTree(places, kept).weights(sums)))
        np.testing.assert_allclose(found, summed(all_of_them, kept), rtol=1e-9, atol=1e-12)


@PROFILE
@given(jobs())
def test_large_jobs_are_asked_the_same_way_as_small_ones(drawn):
    small, large = Tables.of(drawn), Tables.of(drawn)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(factor_graph, "WORTH_CONDENSING", 0)
        _ = large.numbered
    if not np.isfinite(weights_over(small, ())).all():
        return
    joint, other = JointSigns(large, SIGNS[:3]), JointSigns(small, SIGNS[:3])
    for kept in ("ab", "ca", "ad", "cab"):
        np.testing.assert_allclose(joint.weights(kept), weights_over(small, kept), rtol=1e-9, atol=1e-9)
    for name, log in other.beside("b", "c").items():
        np.testing.assert_allclose(np.exp(joint.beside("b", "c")[name]), np.exp(log), rtol=1e-9, atol=1e-12)


def test_a_clique_of_errors_behind_many_takes_becomes_a_chain():
    """Takes that share more and more of ten errors: nothing is over more than three variables."""
    scopes = [(0, 1, *range(2, 2 + count)) for count in range(3, 9)]
    logs = [product_factor(scope, 1.0).log[np.newaxis] for scope in scopes]
    places, _ = condensed(scopes, logs, count=10)
    assert max(map(len, places)) == 3
    assert EliminationTree(places).entries < 200 < EliminationTree(scopes).entries
