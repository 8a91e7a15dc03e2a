"""The signs that a plan starts from, coil by coil, from belief."""

from __future__ import annotations

import pytest
from plan_jobs import on

from capture.job import Job, Pickup
from reports.evidence.leads import LeadView, lead_history
from reports.inference.evidence_graph import Evidence, EvidenceGraph, current_sign
from reports.inference.factor_graph import product_factor
from reports.inference.posterior import Posterior
from reports.plan.search import current_signs
from reports.plan.wiring import wiring_plan
from reports.verdict.settings import hum_of, p_full, p_hum_cancels, sounds_of, work_of

STRONG = 8.0
JOB = Job(
    pickups=(Pickup(name="single"), Pickup(name="humbucker", coils=2, fitted=False)),
    settings=(on("split", "single", ("humbucker", 1), quiet=True),),
)


def believed(*, string, winding):
    """Belief that the pickups are alike on the strings, and coil 1 alike in winding, as the signs say."""
    graph = EvidenceGraph(lead_history(JOB, ()))
    (coil,), _ = graph.add_sign_variables(LeadView("humbucker", 1, False, 0, True, False), letter="w")
    letter = frozenset(("single", "humbucker"))
    s = product_factor((current_sign("single"), current_sign("humbucker")), string * STRONG)
    graph.evidence.append(Evidence("paired pluck", (s,), letter, takes=("t001",)))
    if winding:
        w = product_factor((current_sign("single", letter="w"), coil), winding * STRONG)
        graph.evidence.append(Evidence("hum", (w,), letter, takes=("t002",), letter="w"))
    return Posterior(graph)


@pytest.mark.parametrize("string", [1, -1])
@pytest.mark.parametrize("winding", [1, -1, 0])
def test_a_split_coil_is_known_by_its_own_winding(string, winding):
    posterior = believed(string=string, winding=winding)
    signs = current_signs(JOB, posterior)
    assert signs.s == {"single": 1, "humbucker": string}
    assert signs.coil_w == ({("humbucker", 1): winding} if winding else {})
    assert signs.coil_s == {}
    (proof,) = wiring_plan(JOB, lead_history(JOB, ()), signs, requests={}).proof
    assert proof.aim_met is True
    assert proof.s_before == (1, string)
    assert (proof.hum_cancels is None) == (winding == 0)


@pytest.mark.parametrize("winding", [1, -1])
def test_windings_of_single_coils_are_known_beside_a_reference_with_two(winding):
    """The reference has no winding of its own to compare with; the two single coils have."""
    job = Job(
        pickups=(Pickup(name="humbucker", coils=2), Pickup(name="a"), Pickup(name="b", turnable=True)),
        settings=(on("all", "humbucker", "a", "b"), on("both", "a", "b", quiet=True)),
    )
    graph = EvidenceGraph(lead_history(job, ()))
    for other in ("a", "b"):
        s = product_factor((current_sign("humbucker"), current_sign(other)), STRONG)
        graph.evidence.append(
            Evidence("paired pluck", (s,), frozenset(("humbucker", other)), takes=("t001",))
        )
    w = product_factor((current_sign("a", letter="w"), current_sign("b", letter="w")), winding * STRONG)
    graph.evidence.append(Evidence("hum", (w,), frozenset(("a", "b")), takes=("t002",), letter="w"))
    plan = wiring_plan(job, lead_history(job, ()), current_signs(job, Posterior(graph)), requests={})
    proof = {p.setting: p for p in plan.proof}
    assert all(p.aim_met for p in plan.proof)
    assert proof["both"].hum_cancels is True
    assert [row.turn_magnet for row in plan.rows] == [False, False, winding == 1]


@pytest.mark.parametrize("string", [1, -1])
@pytest.mark.parametrize("winding", [1, -1])
def test_what_the_stages_expect_of_a_split_is_what_the_plan_proves(string, winding):
    """Exchanged, the other coil is left there: both reckon with it."""
    posterior = believed(string=string, winding=winding)
    plan = wiring_plan(JOB, lead_history(JOB, ()), current_signs(JOB, posterior), requests={})
    work = work_of(lead_history(JOB, ()), plan)
    (proof,) = plan.proof
    assert hum_of(p_hum_cancels(JOB.settings[0], JOB, posterior, work=work)) == (
        "cancels" if proof.hum_cancels else "hums"
    )
    assert sounds_of(p_full(JOB.settings[0], JOB, posterior, work=work)) == "full"
