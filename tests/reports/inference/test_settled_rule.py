"""Settled has to survive doubled priors and the average over care; care is learned from contradictions."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.job import Job, Pickup
from capture.log import Meter
from reports.evidence.leads import lead_history
from reports.inference.error_priors import (
    ALL_DOUBLED,
    CARE_LEVELS,
    ERROR_PRIORS,
    USUAL,
    at_care,
    one_doubled,
)
from reports.inference.evidence_graph import Evidence, EvidenceGraph, current_sign
from reports.inference.factor_graph import product_factor
from reports.inference.posterior import Posterior, gather_evidence
from reports.model.notes import OnPickups
from reports.model.verdict import SETTLED_FROM

FEW = settings(derandomize=True, deadline=None, max_examples=60, database=None)
TWO = ("a", "b")


def with_errors(nats: float, kinds: list[str]) -> Posterior:
    """One piece of evidence that the two are in phase, which each of these errors turns over."""
    graph = EvidenceGraph(lead_history(Job(pickups=tuple(Pickup(name=n) for n in TWO)), ()))
    errors = [graph.latent_error(kind, "a", on=OnPickups(("a",))) for kind in kinds]
    factor = product_factor((current_sign("a"), current_sign("b"), *errors), nats)
    graph.evidence.append(Evidence("paired pluck", (factor,), frozenset(TWO)))
    return Posterior(graph)


def asked(one):
    return one.in_phase(*TWO)


@pytest.mark.parametrize("kind", ERROR_PRIORS)
def test_every_prior_has_its_range_and_what_people_do_goes_with_care(kind):
    prior = ERROR_PRIORS[kind]
    assert 0 < prior.low < prior.probability < prior.high <= 0.5
    careless = at_care("careless").of(kind)
    assert (careless > prior.probability) == prior.human
    assert one_doubled(kind).of(kind) == pytest.approx(min(0.5, 2 * prior.probability))
    assert all(one_doubled(kind).of(k) == USUAL.of(k) for k in ERROR_PRIORS if k != kind)
    assert ALL_DOUBLED.of(kind) == one_doubled(kind).of(kind)


@FEW
@given(
    nats=st.floats(0.0, 12.0),
    sign=st.sampled_from([1, -1]),
    kinds=st.lists(st.sampled_from(sorted(ERROR_PRIORS)), max_size=3, unique=True),
)
def test_settled_is_settled_at_every_prior_that_was_tried(nats, sign, kinds):
    posterior = with_errors(sign * nats, kinds)
    found = posterior.assess(asked)
    tried = [USUAL, ALL_DOUBLED, *map(one_doubled, kinds)]
    right = [p if sign > 0 else 1 - p for p in asked(posterior.at(*tried))]
    average = found.p if sign > 0 else 1 - found.p
    assert (found.standing == "settled") == (min(*right, average) >= SETTLED_FROM)
    assert found.low - 1e-12 <= found.p <= found.high + 1e-12
    mirrored = with_errors(-sign * nats, kinds).assess(asked)
    assert mirrored.p == pytest.approx(1 - found.p, abs=1e-12)
    assert mirrored.standing == found.standing


def test_one_error_of_seven_in_a_thousand_settles_and_does_not_survive_its_double():
    """By hand: at 0.008 an even flip leaves 0.992, doubled 0.984."""
    posterior = with_errors(30.0, ["hand throughout"])
    assert asked(posterior.at(USUAL)) == pytest.approx([1 - 0.008], abs=1e-6)
    found = posterior.assess(asked)
    assert found.standing == "likely"
    assert found.low == pytest.approx(1 - 0.016, abs=1e-6)


def swings(readings):
    job = Job(pickups=tuple(Pickup(name=n) for n in TWO))
    entries = [
        Meter(kind="meter", id=f"m{k}", pickup=p, move="away", reading=r, red="hot", tool="rod")
        for k, (p, r) in enumerate(readings)
    ]
    return gather_evidence(job, lead_history(job, entries), entries, []).posterior


def test_contradictions_speak_of_little_care():
    agreeing = swings([("a", "rises"), ("b", "rises")] * 4)
    mixed = swings([("a", "rises"), ("b", "rises")] * 3 + [("a", "falls"), ("b", "falls")])
    assert sum(agreeing.care.values()) == pytest.approx(1.0)
    assert agreeing.care["careless"] < CARE_LEVELS["careless"].probability < mixed.care["careless"]
    assert agreeing.care["careful"] > CARE_LEVELS["careful"].probability > mixed.care["careful"]
