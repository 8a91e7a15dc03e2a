"""Jobs as they come to the bench: the plan, its proof, its limits, and what is said of them."""

from __future__ import annotations

import pytest
from plan_jobs import FOUR_LEADS, on, planned, work_of

from capture.job import Pickup
from reports.messages.sentences import say
from reports.messages.wording import instruction
from reports.model.lead_notes import CompromisePlan, EqualPlan, PlanReason, SettingNotSettled


def codes(row):
    return [warning.code for warning in row.warnings]


STAYS = (False, set(), False)
EXCHANGED = (True, set(), False)
SINGLE = {"fitted": False, "shield": "own lead"}
PICKUPS = (
    Pickup(name="bridge", fitted=False, shield="own lead", **FOUR_LEADS),
    Pickup(name="middle", turnable=True, **SINGLE),
    Pickup(name="neck", **SINGLE),
)
FIVE = [
    on("1", "bridge"),
    on("2", ("bridge", 1), "middle", quiet=True),
    on("3", "middle"),
    on("4", "middle", "neck", quiet=True),
    on("5", "neck"),
]


def test_two_single_coils_and_a_humbucker_with_five_settings():
    """By construction: neck and middle alike but for the middle's leads; its magnet has to be turned too.

    Coil 1 of the bridge is wound as the neck is, and in phase with it. So the middle wants w = -1, s = +1;
    it has w = -1 and s = -1.
    """
    plan = planned(
        PICKUPS,
        FIVE,
        s={"bridge": 1, "middle": -1, "neck": 1},
        w={"bridge": None, "middle": -1, "neck": 1},
        coil_w={("bridge", 1): 1},
    )
    assert plan.reason is None
    assert work_of(plan.rows) == {"bridge": STAYS, "middle": (False, set(), True), "neck": STAYS}
    said = {p.setting: p for p in plan.proof}
    assert all(p.aim_met for p in plan.proof)
    assert {n for n, p in said.items() if p.hum_cancels} == {"1", "2", "4"}
    assert said["2"].s_before == (1, -1)
    assert said["2"].s_after == (1, 1)
    assert say(said["4"].says) == (
        "4: middle + neck, in phase after the work; hum cancels: middle wound -, neck wound +."
    )


def test_reversed_with_its_magnet_the_wrong_way_up():
    """The middle is as the neck, winding and magnet: exchanged it is quiet, turned it adds up again."""
    plan = planned(
        PICKUPS,
        FIVE,
        s={"bridge": 1, "middle": 1, "neck": 1},
        w={"bridge": None, "middle": 1, "neck": 1},
        coil_w={("bridge", 1): 1},
    )
    assert plan.reason is None
    assert work_of(plan.rows)["middle"] == (True, set(), True)
    assert all(p.aim_met for p in plan.proof)
    assert all(p.hum_cancels for p in plan.proof if p.wanted_quiet)


SPLIT = [on("whole", "single", "humbucker"), on("split", "single", ("humbucker", 1), quiet=True)]


@pytest.mark.parametrize(("winding", "at"), [(1, "single"), (-1, "humbucker")])
def test_an_exchange_leaves_the_other_coil_of_a_split(winding, at):
    """R1: exchanging hot and ground of a split humbucker also changes which coil is left.

    Coil 1 is wound ``winding``, coil 2 the other way. Exchanged, coil 2 is left, turned over: its winding
    then is that of coil 1 before. So exchanging the humbucker never mends the hum of its split, although
    exchanging the single coil does, which is dearer as it is fitted.
    """
    humbucker = Pickup(name="humbucker", coils=2, fitted=False, shield="own lead")
    plan = planned(
        (Pickup(name="single"), humbucker),
        SPLIT,
        s={"single": 1, "humbucker": -1},
        w={"single": 1},
        coil_w={("humbucker", 1): winding},
    )
    assert plan.reason is None
    assert {name for name, work in work_of(plan.rows).items() if work == EXCHANGED} == {at}
    split = plan.proof[1]
    assert split.coils == ("single", f"humbucker coil {2 if at == 'humbucker' else 1}")
    assert split.w_after[1] == split.w_before[1] == winding
    assert (split.aim_met, split.hum_cancels) == (True, True)
    assert ("other coil of a split" in codes(plan.rows[1])) == (at == "humbucker")


def test_each_coil_by_its_own_leads_where_four_leads_are_known():
    """Both coils exchanged by themselves: all turned over, and the same coil is left in the split.

    The single coil has a braid for its ground, so it stays.
    """
    humbucker = Pickup(name="humbucker", fitted=False, shield="own lead", **FOUR_LEADS)
    plan = planned(
        (Pickup(name="single", shield="on ground"), humbucker),
        SPLIT,
        s={"single": 1, "humbucker": -1},
        w={"single": 1},
        coil_w={("humbucker", 1): 1},
    )
    assert plan.reason is None
    row = plan.rows[1]
    assert work_of(plan.rows)["humbucker"] == (False, {1, 2}, False)
    assert row.leads == {"orange": "hot", "violet": "link", "grey": "link", "brown": "ground"}
    assert plan.proof[1].coils == ("single", "humbucker coil 1")


def test_a_coil_that_opposes_its_neighbour_is_turned_by_its_own_leads():
    plan = planned(
        (Pickup(name="single"), Pickup(name="humbucker", fitted=False, shield="own lead", **FOUR_LEADS)),
        [on("whole", "single", "humbucker")],
        s={"single": 1, "humbucker": 1},
        w={"single": 1},
        coil_s={("humbucker", 2): -1},
    )
    assert work_of(plan.rows)["humbucker"] == (False, {2}, False)
    assert plan.rows[1].leads == {"violet": "hot", "orange": "link", "grey": "link", "brown": "ground"}


def test_a_humbucker_adds_no_hum():
    """R1: its coils cancel; with a single coil the hum is that of the single coil."""
    plan = planned(
        (Pickup(name="single"), Pickup(name="humbucker", coils=2)),
        [on("both", "single", "humbucker", quiet=True)],
        s={"single": 1, "humbucker": 1},
        w={"single": 1},
    )
    assert plan.reason.odd_coils
    assert plan.reason.strings_planned
    assert work_of(plan.rows) == {"single": STAYS, "humbucker": STAYS}
    assert plan.proof[0].hum_cancels is False


def test_aims_that_cannot_all_be_met_leave_no_rows_but_the_nearest_plan():
    pickups = [Pickup(name=n, fitted=n != "neck", shield="none") for n in ("bridge", "middle", "neck")]
    listed = [
        on("front", "middle", "neck"),
        on("rear", "bridge", "middle"),
        on("outer", "bridge", "neck", aim="out of phase"),
        on("all", "bridge", "middle", "neck", aim="out of phase"),
    ]
    plan = planned(pickups, listed, s={"bridge": 1, "middle": 1, "neck": -1})
    assert plan.rows == ()
    assert {"front", "rear"} <= {d.name for d in plan.reason.demands}
    assert work_of(plan.compromise_rows) == dict.fromkeys(("bridge", "middle", "neck"), STAYS)
    assert plan.compromise == CompromisePlan((), (("front", "in phase"),))
    assert say(plan.compromise) == (
        "The nearest plan, which is not all that was wanted: leave everything as it is. "
        'It gives up "front" (in phase).'
    )


def test_a_braided_pickup_that_comes_out_reversed_is_not_the_one_exchanged():
    """Common practice: a braid is ground and shield at once, and cannot be hot."""
    braided = Pickup(name="neck", fitted=False, shield="on ground")
    both = [on("both", "bridge", "neck")]
    opposed = {"bridge": 1, "neck": -1}
    plan = planned((Pickup(name="bridge", shield="none"), braided), both, s=opposed)
    assert work_of(plan.rows) == {"bridge": EXCHANGED, "neck": STAYS}
    assert codes(plan.rows[1]) == ["braid stays"]
    turnable = braided.model_copy(update={"turnable": True})
    fixed = Pickup(name="bridge", shield="on ground")
    plan = planned((fixed, turnable), both, s=opposed)
    assert work_of(plan.rows) == {"bridge": STAYS, "neck": (False, set(), True)}
    plan = planned((fixed, braided), both, s=opposed)
    assert work_of(plan.rows) == {"bridge": STAYS, "neck": EXCHANGED}
    assert plan.rows[1].open_braid
    assert plan.rows[1].leads == {}
    assert "Do NOT solder the braid to hot" in instruction(plan.rows[1])
    assert "braid is ground" in codes(plan.rows[1])


def test_of_two_alike_the_one_whose_shield_needs_no_separating():
    free, joined = (
        Pickup(name=n, fitted=False, shield=shield, **FOUR_LEADS)
        for n, shield in (("middle", "own lead"), ("neck", "on ground"))
    )
    listed = [on("front", "middle", "neck")]
    plan = planned((Pickup(name="bridge"), free, joined), listed, s={"bridge": 1, "middle": 1, "neck": -1})
    assert work_of(plan.rows) == {"bridge": STAYS, "middle": EXCHANGED, "neck": STAYS}
    assert plan.equal_plans == ()


def test_plans_of_the_same_cost_are_named():
    loose = [Pickup(name=n, fitted=False, shield="none") for n in ("middle", "neck")]
    listed = [on("front", "middle", "neck")]
    plan = planned((Pickup(name="bridge"), *loose), listed, s={"bridge": 1, "middle": 1, "neck": -1})
    exchanged = [r.pickup for r in plan.rows if r.exchange]
    (other,) = {"middle", "neck"} - set(exchanged)
    (tie,) = plan.equal_plans
    assert isinstance(tie, EqualPlan)
    assert [(name, work.exchange) for name, work in tie.work] == [(other, True)]
    assert say(tie) == f"As little work: exchange hot and ground of {other}."


def test_a_magnet_that_cannot_be_turned_is_named():
    plan = planned(
        (Pickup(name="bridge"), Pickup(name="neck")),
        [on("both", "bridge", "neck", quiet=True)],
        s={"bridge": 1, "neck": 1},
        w={"bridge": 1, "neck": 1},
    )
    assert plan.reason.fixed_magnets == ("bridge", "neck")


def test_what_is_not_settled_is_measured_first_and_not_proved():
    plan = planned(
        (Pickup(name="bridge"), Pickup(name="neck")),
        [on("both", "bridge", "neck")],
        s={"bridge": 1, "neck": None},
        group={"bridge": "bridge", "neck": "neck"},
        requests={"neck": "Pluck both at once."},
    )
    assert plan.rows[1].exchange is None
    assert plan.rows[1].why == PlanReason("not settled", "neck", "bridge", request="Pluck both at once.")
    assert say(plan.rows[1].why) == "Not settled: measure before you solder. Pluck both at once."
    assert plan.proof[0].aim_met is None
    assert plan.proof[0].says == SettingNotSettled("both")


@pytest.mark.parametrize(("join", "cancels"), [("parallel", False), ("series", True)])
def test_coils_of_unlike_number_in_parallel_do_not_cancel(join, cancels):
    """Two coils wound alike come with twice the impedance (sources C3): in parallel they give their mean.

    By construction: a pickup whose two coils hum together against two single coils wound the other way.
    """
    plan = planned(
        (Pickup(name="pair", coils=2), Pickup(name="a"), Pickup(name="b")),
        [on("all", "pair", "a", "b", join=join)],
        s={"pair": 1, "a": 1, "b": 1},
        w={"a": -1, "b": -1},
        coil_w={("pair", 1): 1, ("pair", 2): 1},
    )
    assert plan.proof[0].hum_cancels is cancels
