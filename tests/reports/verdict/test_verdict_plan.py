"""The wiring plan against a search written anew, and its rows on whole jobs.

The rules are those of the sign table (sources R1, P1): exchanging hot and ground turns s and
w, turning the magnet turns s alone; pickups add up where s agrees, hum cancels where w differs.
"""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from judging_jobs import LEADS, JobOnDisk

from capture.job import Job, Member, Pickup, Setting
from reports.evidence.leads import lead_history
from reports.model.plan import (
    EXCHANGE_FITTED,
    EXCHANGE_LOOSE,
    REFERENCE_EXTRA,
    TURN_MAGNET,
)
from reports.plan.search import CurrentSigns
from reports.plan.wiring import wiring_plan

PROFILE = settings(derandomize=True, deadline=None, max_examples=60, database=None)
NAMES = ("a", "b", "c", "d")
SIGN = st.sampled_from((1, -1))


def grouped(s):
    """Groups of pickups that evidence connects: all whose sign is known, and each other one by itself."""
    return {name: name if sign is None else "known" for name, sign in s.items()}


@st.composite
def jobs(draw):
    """A job of two to four pickups with up to three settings, and what is believed of it."""
    names = NAMES[: draw(st.integers(2, 4))]
    pickups = tuple(Pickup(name=n, fitted=draw(st.booleans()), turnable=draw(st.booleans())) for n in names)
    listed = []
    for number in range(draw(st.integers(0, 3))):
        chosen = draw(st.lists(st.sampled_from(names), min_size=1, max_size=len(names), unique=True))
        listed.append(
            Setting(
                name=f"setting {number}",
                on=tuple(Member(pickup=n, reversed=draw(st.booleans())) for n in chosen),
                aim=draw(st.sampled_from(("in phase", "out of phase"))),
                quiet=draw(st.booleans()) if len(chosen) == 2 else False,
            )
        )
    job = Job(pickups=pickups, settings=tuple(listed))
    s = {n: draw(st.one_of(st.none(), SIGN, SIGN)) for n in names} | {job.reference.name: 1}
    w = {n: draw(st.one_of(st.none(), SIGN)) for n in names} | {job.reference.name: 1}
    return job, CurrentSigns(s, w, grouped(s))


def searched(job, signs):
    """(lowest cost, or None): every exchange and turn, each aim checked from the sign table."""
    wanted = [s for s in job.settings if len(s.on) > 1] if job.settings else [everything(job)]
    wanted = [s for s in wanted if all(signs.s[m.pickup] is not None for m in s.on)]
    used = [
        m.pickup
        for s in (job.settings or [everything(job)])
        for m in s.on
        if not job.settings or len(s.on) > 1
    ]
    still = {n for n in used if signs.s[n] is None}
    costs = []
    for exchanged in itertools.product((0, 1), repeat=len(job.pickups)):
        for turned in itertools.product((0, 1), repeat=len(job.pickups)):
            step = {p.name: (e, t) for p, e, t in zip(job.pickups, exchanged, turned, strict=True)}
            if any(t and not p.turnable for p, t in zip(job.pickups, turned, strict=True)):
                continue
            if any(step[n] != (0, 0) for n in still) or not all(met(s, signs, step) for s in wanted):
                continue
            costs.append(cost_of(job, step))
    return min(costs) if costs else None


def everything(job):
    return Setting(name="all", on=tuple(Member(pickup=p.name) for p in job.pickups))


def met(setting, signs, step):
    s = [signs.s[m.pickup] * (-1) ** (sum(step[m.pickup]) + m.reversed) for m in setting.on]
    adds_up = abs(sum(s)) == len(s)
    if adds_up != (setting.aim == "in phase"):
        return False
    w = [signs.w[m.pickup] for m in setting.on]
    if not setting.quiet or None in w:
        return True
    a, b = (x * (-1) ** (step[m.pickup][0] + m.reversed) for x, m in zip(w, setting.on, strict=True))
    return a != b


def cost_of(job, step):
    cost = 0.0
    for p in job.pickups:
        exchanged, turned = step[p.name]
        cost += exchanged * (EXCHANGE_FITTED if p.fitted else EXCHANGE_LOOSE) + turned * TURN_MAGNET
        cost += exchanged * REFERENCE_EXTRA * (p.name == job.reference.name)
    return cost


@settings(PROFILE, max_examples=250)
@given(jobs())
def test_the_plan_is_the_cheapest_that_meets_every_aim(drawn):
    job, signs = drawn
    plan = wiring_plan(job, lead_history(job, ()), signs, requests={})
    best = searched(job, signs)
    if best is None:
        assert plan.reason
        job = job.model_copy(
            update={"settings": tuple(s.model_copy(update={"quiet": False}) for s in job.settings)}
        )
        best = searched(job, signs)
        assert (best is None) == (plan.rows == ())
        if best is None:
            return
    else:
        assert plan.reason is None
    assert [r.pickup for r in plan.rows] == [p.name for p in job.pickups]
    step = {r.pickup: (int(r.exchange or 0), int(r.turn_magnet)) for r in plan.rows}
    assert cost_of(job, step) == pytest.approx(best)
    combined = [s for s in job.settings if len(s.on) > 1] if job.settings else [everything(job)]
    for setting in combined:
        if all(signs.s[m.pickup] is not None for m in setting.on):
            assert met(setting, signs, step)
        for m in setting.on:
            if signs.s[m.pickup] is None:
                assert next(r for r in plan.rows if r.pickup == m.pickup).exchange is None


def plan_of(*pickups, on=(), s, w=None):
    job = Job(pickups=pickups, settings=tuple(on))
    known = dict.fromkeys(s) | {job.reference.name: 1} | (w or {})
    return wiring_plan(job, lead_history(job, ()), CurrentSigns(s, known, grouped(s)), requests={})


def both(**said):
    return Setting(name="both", on=(Member(pickup="bridge"), Member(pickup="neck")), **said)


def exchanges(plan):
    return {r.pickup: r.exchange for r in plan.rows}


OPPOSED = {"bridge": 1, "neck": -1}


def test_a_loose_pickup_is_exchanged_rather_than_a_fitted_one():
    """Common practice: what is not soldered in yet costs nothing to turn."""
    fitted, loose = Pickup(name="bridge"), Pickup(name="neck", fitted=False)
    assert exchanges(plan_of(fitted, loose, s=OPPOSED)) == {"bridge": False, "neck": True}
    loose, fitted = Pickup(name="bridge", fitted=False), Pickup(name="neck")
    swapped = plan_of(loose, fitted, s={"neck": 1, "bridge": -1})
    assert exchanges(swapped) == {"bridge": True, "neck": False}


def test_a_loose_one_is_exchanged_rather_than_a_fitted_one_that_is_not_the_reference():
    bridge, middle, neck = Pickup(name="bridge"), Pickup(name="middle"), Pickup(name="neck", fitted=False)
    pair = Setting(name="pair", on=(Member(pickup="middle"), Member(pickup="neck")))
    for signs in ({"middle": 1, "neck": -1}, {"middle": -1, "neck": 1}):
        plan = plan_of(bridge, middle, neck, on=[pair], s={"bridge": 1, **signs})
        assert exchanges(plan) == {"bridge": False, "middle": False, "neck": True}


def test_two_fitted_ones_leave_the_reference_alone():
    pickups = (Pickup(name="bridge"), Pickup(name="neck"))
    assert exchanges(plan_of(*pickups, s=OPPOSED)) == {"bridge": False, "neck": True}


def test_without_settings_all_are_put_in_phase():
    pickups = [Pickup(name=n) for n in ("bridge", "middle", "neck")]
    plan = plan_of(*pickups, s={"bridge": 1, "middle": -1, "neck": -1})
    assert exchanges(plan) == {"bridge": True, "middle": False, "neck": False}  # one joint instead of two


@pytest.mark.parametrize(("aim", "neck", "exchange"), [
    ("in phase", 1, False), ("in phase", -1, True), ("out of phase", 1, True), ("out of phase", -1, False),
])  # fmt: skip
def test_the_aim_of_a_setting_is_respected(aim, neck, exchange):
    plan = plan_of(
        Pickup(name="bridge"),
        Pickup(name="neck", fitted=False),
        on=[both(aim=aim)],
        s={"bridge": 1, "neck": neck},
    )
    assert exchanges(plan) == {"bridge": False, "neck": exchange}


def test_two_aims_that_contradict_empty_the_plan_and_are_both_named():
    settings_ = [
        both(),
        Setting(name="odd one", on=(Member(pickup="bridge"), Member(pickup="neck")), aim="out of phase"),
    ]
    plan = plan_of(Pickup(name="bridge"), Pickup(name="neck", fitted=False), on=settings_, s=OPPOSED)
    assert plan.rows == ()
    assert {d.name for d in plan.reason.demands} == {"both", "odd one"}


def test_quiet_is_met_by_turning_a_magnet_where_it_can_be():
    """In phase and the same winding: exchanging mends hum and spoils the strings, the magnet mends that."""
    s, w = {"bridge": 1, "neck": 1}, {"neck": 1}
    neck = Pickup(name="neck", fitted=False, turnable=True)
    plan = plan_of(Pickup(name="bridge"), neck, on=[both(quiet=True)], s=s, w=w)
    row = next(r for r in plan.rows if r.pickup == "neck")
    assert (row.exchange, row.turn_magnet) == (True, True)
    stuck = plan_of(Pickup(name="bridge"), Pickup(name="neck", fitted=False), on=[both(quiet=True)], s=s, w=w)
    assert exchanges(stuck) == {"bridge": False, "neck": False}
    assert [d.name for d in stuck.reason.demands] == ["both"]


def test_hum_that_cannot_cancel_does_not_hide_the_exchange_that_the_strings_need():
    opposed = plan_of(
        Pickup(name="bridge"), Pickup(name="neck"), on=[both(quiet=True)], s=OPPOSED, w={"neck": -1}
    )
    assert exchanges(opposed) == {"bridge": False, "neck": True}
    assert opposed.reason.strings_planned


def test_what_goes_in_phase_because_the_reference_is_exchanged_says_so():
    middle = Pickup(name="middle")
    pair = Setting(name="front", on=(Member(pickup="middle"), Member(pickup="neck")), aim="in phase")
    plan = plan_of(
        Pickup(name="bridge", fitted=True),
        middle,
        Pickup(name="neck"),
        on=[Setting(name="all", on=tuple(Member(pickup=n) for n in ("bridge", "middle", "neck"))), pair],
        s={"bridge": 1, "middle": -1, "neck": -1},
    )
    assert exchanges(plan) == {"bridge": True, "middle": False, "neck": False}
    assert {r.why.code for r in plan.rows[1:]} == {"in phase once the reference is exchanged"}


def test_a_pickup_that_is_not_settled_is_not_planned():
    plan = plan_of(Pickup(name="bridge"), Pickup(name="neck", fitted=False), s={"bridge": 1, "neck": None})
    assert exchanges(plan)["neck"] is None


def warned(**neck):
    on = neck.pop("on", [])
    plan = plan_of(Pickup(name="bridge"), Pickup(name="neck", **{"fitted": False, **neck}), on=on, s=OPPOSED)
    row = next(r for r in plan.rows if r.pickup == "neck")
    return {w.code: w for w in row.warnings if w.code != "leads as read"}


def test_warnings_of_shield_fitting_and_split():
    """R1, R12: a braid on one lead first, a second ground path, and which coil is left."""
    assert warned(shield="own lead") == {}
    assert warned(shield="none") == {}
    four = {"coils": 2, "hot": "violet", "ground": "grey", "link": ("orange", "brown")}
    assert "shield on ground" in warned(shield="on ground", **four)
    assert "shield unknown" in warned()
    assert "fitted" in warned(shield="none", fitted=True)
    split = Setting(name="bright", on=(Member(pickup="bridge"), Member(pickup="neck", coil=1)))
    assert warned(shield="none", coils=2, on=[split])["other coil of a split"].settings == ("bright",)


def test_what_is_not_exchanged_draws_no_warning():
    plan = plan_of(Pickup(name="bridge"), Pickup(name="neck", fitted=False), s={"bridge": 1, "neck": 1})
    assert [[w.code for w in r.warnings] for r in plan.rows] == [[], ["leads as read"]]


def meter_job(home, toml, *, neck):
    job = JobOnDisk(home, toml)
    for _ in range(2):
        job.meter("bridge", "rises")
        job.meter("neck", neck)
    return job.verdict


def row(verdict, pickup="neck"):
    return next(r for r in verdict.wiring if r.pickup == pickup)


TWO_COILS = LEADS.replace('ground = "grey"', 'ground = "grey"\ncoils = 2\nlink = ["orange", "brown"]')


def test_rows_name_every_lead_as_it_is_to_be(tmp_path):
    """R11: the example's own leads."""
    verdict = meter_job(tmp_path / "out", TWO_COILS, neck="falls")
    assert row(verdict).exchange is True
    assert row(verdict).leads == {"grey": "hot", "violet": "ground", "orange": "link", "brown": "link"}
    assert row(verdict, "bridge").exchange is False
    verdict = meter_job(tmp_path / "in", TWO_COILS, neck="rises")
    assert row(verdict).exchange is False
    assert row(verdict).leads == {"violet": "hot", "grey": "ground", "orange": "link", "brown": "link"}


def test_an_aim_out_of_phase_is_respected_in_the_verdict(tmp_path):
    wanted = LEADS + 'aim = "out of phase"\n'
    verdict = meter_job(tmp_path / "job", wanted, neck="falls")
    assert (verdict.settings[0].sounds, verdict.settings[0].aim) == ("thin", "out of phase")
    assert [r.exchange for r in verdict.wiring] == [False, False]


def test_aims_that_contradict_give_an_empty_plan_in_the_verdict(tmp_path):
    also = LEADS + '[[setting]]\nname = "odd one"\non = ["bridge", "neck"]\naim = "out of phase"\n'
    verdict = meter_job(tmp_path / "job", also, neck="falls")
    assert verdict.wiring == ()
    assert {d.name for d in verdict.plan_reason.demands} == {"both", "odd one"}


def test_nothing_is_exchanged_while_the_pair_is_unsettled(tmp_path):
    job = JobOnDisk(tmp_path / "job", LEADS)
    job.meter("bridge", "rises")
    assert row(job.verdict).exchange is None
    job.meter("neck", "rises")
    job.meter("neck", "falls")
    unsettled = job.verdict
    assert unsettled.pairs[0].standing == "unsettled"
    assert row(unsettled).exchange is None
    assert row(unsettled).why.code == "not settled"


def test_a_settled_pair_apart_from_the_reference_is_planned():
    """By construction: middle and neck oppose each other, and nothing connects them with the bridge."""
    job = Job(
        pickups=(Pickup(name="bridge"), Pickup(name="middle"), Pickup(name="neck", fitted=False)),
        settings=(Setting(name="rear", on=(Member(pickup="middle"), Member(pickup="neck"))),),
    )
    s = {"bridge": 1, "middle": 1, "neck": -1}
    group = {"bridge": "bridge", "middle": "middle", "neck": "middle"}
    plan = wiring_plan(job, lead_history(job, ()), CurrentSigns(s, dict(s), group), requests={})
    assert {r.pickup: r.exchange for r in plan.rows} == {"bridge": False, "middle": False, "neck": True}
