"""The plan against outside sources: the sixteen pairs, reverse-wound by its leads, signed triangles."""

from __future__ import annotations

import itertools

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_jobs import on, planned, work_of

from capture.job import Pickup

PROFILE = settings(derandomize=True, deadline=None, max_examples=100, database=None)
SIGNS = list(itertools.product((1, -1), repeat=4))
BRIDGE, NECK = Pickup(name="bridge"), Pickup(name="neck", fitted=False, shield="none")
# P1: winding differs, magnet differs -> in phase, hum cancels.
FOUR_CASES = {
    (False, False): (True, False),
    (True, False): (False, True),
    (False, True): (False, False),
    (True, True): (True, True),
}


def pair(w_a, m_a, w_b, m_b, **said):
    """The plan for two single coils with these windings and magnets."""
    setting = on("both", "bridge", "neck", **said)
    return planned(
        (BRIDGE, NECK),
        [setting],
        s={"bridge": w_a * m_a, "neck": w_b * m_b},
        w={"bridge": w_a, "neck": w_b},
    )


@pytest.mark.parametrize(("w_a", "m_a", "w_b", "m_b"), SIGNS)
def test_sixteen_pairs_as_they_are(w_a, m_a, w_b, m_b):
    """P1, "Assessing a Pickup's Polarity and Phase", Premier Guitar: what a pair does, and its one remedy."""
    in_phase, cancels = FOUR_CASES[w_a != w_b, m_a != m_b]
    plan = pair(w_a, m_a, w_b, m_b, aim="in phase" if in_phase else "out of phase")
    (proof,) = plan.proof
    assert work_of(plan.rows)["neck"][0] is False
    assert (proof.aim_met, proof.hum_cancels) == (True, cancels)
    other = pair(w_a, m_a, w_b, m_b, aim="out of phase" if in_phase else "in phase")
    assert work_of(other.rows)["neck"][0] is True
    assert (other.proof[0].aim_met, other.proof[0].hum_cancels) == (True, not cancels)


@pytest.mark.parametrize(("w_a", "m_a", "w_b", "m_b"), SIGNS)
def test_in_phase_and_quiet_go_together_only_where_the_magnets_differ(w_a, m_a, w_b, m_b):
    """P1: a pair that is in phase cancels hum only when winding and magnet both differ."""
    plan = pair(w_a, m_a, w_b, m_b, quiet=True)
    assert (plan.reason is None) == (m_a != m_b)


def test_reverse_wound_by_exchanged_leads():
    """P3, "Mod Garage: get a grip on pickup phase", Premier Guitar: winding means the sense at the leads.

    The neck is wound as the bridge is, with its magnet the other way up: its leads exchanged, it is the
    reverse-wound partner.
    """
    plan = pair(1, 1, 1, -1, quiet=True)
    assert work_of(plan.rows) == {"bridge": (False, set(), False), "neck": (True, set(), False)}
    (proof,) = plan.proof
    assert (proof.w_before, proof.w_after) == ((1, 1), (1, -1))
    assert (proof.aim_met, proof.hum_cancels) == (True, True)


def of_pairs(signed):
    """A plan for pickups whose pairs are to be in phase ("+") or out of phase ("-")."""
    names = sorted({n for p in signed for n in p})
    listed = [on("".join(p), *p, aim="in phase" if s > 0 else "out of phase") for p, s in signed.items()]
    return planned([Pickup(name=n) for n in names], listed, s=dict.fromkeys(names, 1))


TRIANGLE = [("a", "b"), ("b", "c"), ("a", "c")]


@pytest.mark.parametrize(
    ("signs", "balanced"),
    [((-1, -1, 1), True), ((-1, -1, -1), False), ((1, 1, -1), False), ((1, 1, 1), True)],
)
def test_triangles(signs, balanced):
    """Sources D9: (- - +) is balanced, (- - -) and (+ + -) are not."""
    plan = of_pairs(dict(zip(TRIANGLE, signs, strict=True)))
    assert (plan.reason is None) == balanced
    if not balanced:
        assert {d.name for d in plan.reason.demands} == {
            a + b for a, b in TRIANGLE
        }  # no two of them alone clash
        assert sum(p.aim_met is False for p in plan.proof) == 1


@PROFILE
@given(st.data())
def test_all_pairs_can_be_met_just_where_the_signed_graph_is_balanced(data):
    """Sources D9; by networkx: every "+" cut in two, balance means no odd cycle (Harary, from memory)."""
    names = "abcdef"[: data.draw(st.integers(3, 6))]
    pairs = list(itertools.combinations(names, 2))
    chosen = data.draw(st.lists(st.sampled_from(pairs), min_size=2, unique=True))
    signed = {p: data.draw(st.sampled_from((1, -1))) for p in chosen}
    graph = nx.Graph()
    for (a, b), sign in signed.items():
        graph.add_edges_from([(a, (a, b)), ((a, b), b)] if sign > 0 else [(a, b)])
    assert (of_pairs(signed).reason is None) == nx.is_bipartite(graph)
