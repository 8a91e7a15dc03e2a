"""Three pickups and more as a signed graph: "+" in phase, "-" out of phase (sources D9)."""

from __future__ import annotations

import itertools

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.job import Job, Pickup
from reports.evidence.leads import lead_history
from reports.inference.evidence_graph import Evidence, EvidenceGraph, current_sign
from reports.inference.factor_graph import product_factor
from reports.inference.posterior import Posterior
from reports.model.verdict import SETTLED_FROM

PROFILE = settings(derandomize=True, deadline=None, max_examples=60, database=None)
STRONG = 8.0
EDGES = [("a", "b"), ("b", "c"), ("a", "c")]


def believed(names, signed):
    """Belief from pairwise evidence alone: ``signed`` maps a pair to +1 or -1."""
    graph = EvidenceGraph(lead_history(Job(pickups=tuple(Pickup(name=n) for n in names)), ()))
    for (a, b), sign in signed.items():
        factor = product_factor((current_sign(a), current_sign(b)), sign * STRONG)
        graph.evidence.append(Evidence("paired pluck", (factor,), frozenset((a, b)), takes=(f"{a}{b}",)))
    return Posterior(graph)


def said(posterior, pair):
    """How sure the belief is of ``pair`` being in phase."""
    p = posterior.in_phase(*pair)
    assert p is not None
    return p


@pytest.mark.parametrize("signs", [(-1, -1, 1), (-1, 1, -1), (1, -1, -1), (1, 1, 1)])
def test_a_balanced_triangle_gives_its_signs(signs):
    """Sources D9: (- - +) splits in two groups, and so does (+ + +)."""
    posterior = believed("abc", dict(zip(EDGES, signs, strict=True)))
    for pair, sign in zip(EDGES, signs, strict=True):
        p = said(posterior, pair)
        assert (p if sign > 0 else 1 - p) >= SETTLED_FROM


@pytest.mark.parametrize("signs", [(-1, -1, -1), (1, 1, -1), (1, -1, 1), (-1, 1, 1)])
def test_a_contradictory_triangle_settles_nothing(signs):
    """Sources D9: (- - -) and (+ + -) are not balanced; all three alike strong, so no pair stands out.

    By symmetry each pair is as it says in two of the three ways to give one of them up.
    """
    posterior = believed("abc", dict(zip(EDGES, signs, strict=True)))
    for pair, sign in zip(EDGES, signs, strict=True):
        p = said(posterior, pair)
        assert (p if sign > 0 else 1 - p) == pytest.approx(2 / 3, abs=0.01)


@pytest.mark.parametrize("signs", list(itertools.product((1, -1), repeat=2)))
def test_two_sides_of_a_triangle_give_the_third(signs):
    posterior = believed("abc", dict(zip(EDGES[:2], signs, strict=True)))
    third = said(posterior, EDGES[2])
    assert (third if signs[0] * signs[1] > 0 else 1 - third) >= SETTLED_FROM


def test_no_evidence_between_two_groups_is_null():
    posterior = believed("abcd", {("a", "b"): 1, ("c", "d"): -1})
    assert posterior.in_phase("a", "c") is None
    assert posterior.in_phase("b", "d") is None
    assert said(posterior, ("c", "d")) <= 1 - SETTLED_FROM


@st.composite
def signed_graphs(draw):
    names = "abcdef"[: draw(st.integers(3, 6))]
    pairs = list(itertools.combinations(names, 2))
    chosen = draw(st.lists(st.sampled_from(pairs), min_size=2, unique=True))
    if draw(st.booleans()):  # half of them balanced by construction: two groups
        side = {n: draw(st.sampled_from((1, -1))) for n in names}
        return names, {p: side[p[0]] * side[p[1]] for p in chosen}
    return names, {p: draw(st.sampled_from((1, -1))) for p in chosen}


def balanced(signed):
    """By networkx: with every "+" edge cut in two, balance means no odd cycle (Harary, from memory)."""
    graph = nx.Graph()
    for (a, b), sign in signed.items():
        if sign > 0:
            graph.add_edges_from([(a, (a, b)), ((a, b), b)])
        else:
            graph.add_edge(a, b)
    return nx.is_bipartite(graph)


@PROFILE
@given(signed_graphs())
def test_every_pair_is_settled_as_it_was_seen_only_in_a_balanced_graph(drawn):
    """In an unbalanced one every pattern breaks some edge of a cycle of six at most, so that one edge is
    broken with a probability of one in six at least: not all can be as sure as "settled".
    """
    names, signed = drawn
    posterior = believed(names, signed)
    sure = [
        (said(posterior, p) if s > 0 else 1 - said(posterior, p)) >= SETTLED_FROM for p, s in signed.items()
    ]
    assert all(sure) == balanced(signed)
    graph = nx.Graph(signed.keys())
    for a, b in itertools.combinations(names, 2):
        joined = a in graph and b in graph and nx.has_path(graph, a, b)
        assert (posterior.in_phase(a, b) is not None) == joined
