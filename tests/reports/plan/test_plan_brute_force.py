"""The plan against every plan there is, each worked out anew from chains of coils (plan_jobs)."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_jobs import FOUR_LEADS, cost, misses, searched, work_of

from capture.job import Job, Member, Pickup, Setting
from reports.evidence.leads import lead_history
from reports.messages.sentences import say
from reports.plan.search import CurrentSigns, demand_of, pickup_options, plans_meeting_all, smallest_conflict
from reports.plan.wiring import wiring_plan

PROFILE = settings(derandomize=True, deadline=None, max_examples=150, database=None)
SIGN = st.sampled_from((1, -1))


@st.composite
def benches(draw, most_settings=4):
    """(job, windings and magnets by pickup, signs): one to three pickups, ordinary humbuckers among them."""
    names = ("a", "b", "c")[: draw(st.integers(1, 3))]
    pickups, bench = [], {}
    for name in names:
        kind = draw(st.sampled_from(("single", "two", "two with four leads")))
        said = {"single": {}, "two": {"coils": 2}, "two with four leads": FOUR_LEADS}[kind]
        shield = draw(st.sampled_from((None, "own lead", "on ground")))
        fitted, turnable = draw(st.booleans()), draw(st.booleans())
        pickups.append(Pickup(name=name, fitted=fitted, turnable=turnable, shield=shield, **said))
        w, m = draw(SIGN), draw(SIGN)
        bench[name] = ((w,), (m,)) if kind == "single" else ((w, -w), (m, -m))
        if kind != "single" and draw(st.integers(0, 4)) == 0:
            bench[name] = ((w, -w), (m, m))  # an inner joint the wrong way round: its coils oppose each other
    listed = []
    for number in range(draw(st.integers(1, most_settings))):
        chosen = draw(st.lists(st.sampled_from(names), min_size=1, max_size=3, unique=True))
        members = []
        for name in chosen:
            coil = draw(st.sampled_from((None, 1, 2))) if len(bench[name][0]) == 2 else None
            members.append(Member(pickup=name, coil=coil, reversed=draw(st.booleans())))
        listed.append(
            Setting(
                name=f"setting {number}",
                on=tuple(members),
                join=draw(st.sampled_from(("parallel", "series"))),
                aim=draw(st.sampled_from(("in phase", "in phase", "out of phase"))),
                quiet=draw(st.booleans()),
            )
        )
    job = Job(pickups=tuple(pickups), settings=tuple(listed))
    s = {n: w[0] * m[0] for n, (w, m) in bench.items()}
    single = {n: w[0] if len(w) == 1 else None for n, (w, _) in bench.items()}
    two = {(n, k): (w[k - 1], m[k - 1]) for n, (w, m) in bench.items() if len(w) == 2 for k in (1, 2)}
    signs = CurrentSigns(
        s,
        single,
        dict.fromkeys(names, job.reference.name),
        coil_s={key: w * m for key, (w, m) in two.items()},
        coil_w={key: w for key, (w, _) in two.items()},
    )
    return job, bench, signs


@PROFILE
@given(benches())
def test_no_plan_is_better_than_the_one_that_is_given(drawn):
    job, bench, signs = drawn
    plan = wiring_plan(job, lead_history(job, ()), signs, requests={})
    (phase, quiet, least), _ = searched(job, bench)
    if phase:
        assert plan.rows == ()
        assert plan.reason
        work = work_of(plan.compromise_rows)
        assert (*misses(job, bench, work), cost(job, work)) == (phase, quiet, least)
        return
    work = work_of(plan.rows)
    if not quiet:
        assert plan.reason is None
        assert (*misses(job, bench, work), cost(job, work)) == (0, 0, least)
        return
    (_, _, least_aloud), _ = searched(job, bench, aloud=True)
    assert (misses(job, bench, work)[0], cost(job, work)) == (0, least_aloud)
    assert plan.reason
    if plan.compromise_rows:
        work = work_of(plan.compromise_rows)
        assert (*misses(job, bench, work), cost(job, work)) == (0, quiet, least)
    else:
        assert misses(job, bench, work)[1] == quiet


@PROFILE
@given(benches())
def test_all_plans_of_the_same_cost_are_counted(drawn):
    job, bench, signs = drawn
    pickups = [pickup_options(p, job, lead_history(job, ()), signs, settled=True) for p in job.pickups]
    found = plans_meeting_all(pickups, [demand_of(s, job) for s in job.settings])
    (phase, quiet, least), count = searched(job, bench)
    if phase or quiet:
        assert found is None
    else:
        assert found is not None
        assert (found.cost, found.count) == (least, count)


@PROFILE
@given(benches())
def test_the_proof_says_what_the_chains_give(drawn):
    """Of each setting by itself, its aim and its hum."""
    job, bench, signs = drawn
    plan = wiring_plan(job, lead_history(job, ()), signs, requests={})
    work = work_of(plan.rows or plan.compromise_rows)
    assert [p.setting for p in plan.proof] == [s.name for s in job.settings]
    for proof, setting in zip(plan.proof, job.settings, strict=True):
        loud = setting.model_copy(update={"quiet": True})
        phase, hum = misses(job.model_copy(update={"settings": (loud,)}), bench, work)
        assert (proof.aim_met, proof.hum_cancels) == (not phase, not hum)


@PROFILE
@given(benches(most_settings=5))
def test_the_settings_named_are_a_smallest_set_that_no_plan_meets(drawn):
    job, bench, signs = drawn
    pickups = [pickup_options(p, job, lead_history(job, ()), signs, settled=True) for p in job.pickups]
    conflict = smallest_conflict(pickups, [demand_of(s, job) for s in job.settings])
    smallest = 0
    for size in range(1, len(job.settings) + 1):
        few = [job.model_copy(update={"settings": c}) for c in itertools.combinations(job.settings, size)]
        if any(searched(one, bench)[0][:2] != (0, 0) for one in few):
            smallest = size
            break
    assert len(conflict) == smallest
    if conflict:
        named = [s for s in job.settings if s.name in {d.name for d in conflict}]
        assert searched(job.model_copy(update={"settings": tuple(named)}), bench)[0][:2] != (0, 0)


@pytest.mark.parametrize("w", [1, -1, None])
def test_hum_of_an_unknown_winding_is_not_promised(w):
    """Only relations mean anything (sources R4): without one, neither yes nor no."""
    job = Job(
        pickups=(Pickup(name="bridge"), Pickup(name="neck")),
        settings=(Setting(name="both", on=(Member(pickup="bridge"), Member(pickup="neck")), quiet=True),),
    )
    signs = CurrentSigns(
        {"bridge": 1, "neck": 1}, {"bridge": 1, "neck": w}, dict.fromkeys(("bridge", "neck"), "bridge")
    )
    (proof,) = wiring_plan(job, lead_history(job, ()), signs, requests={}).proof
    assert proof.hum_cancels == {1: False, -1: True, None: None}[w]
    assert ("measure the winding" in say(proof.says)) == (w is None)
