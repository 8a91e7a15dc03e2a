"""Jobs without sound: meter swings and the compass.

Source of the sixteen cases: P1, "Assessing a Pickup's Polarity and Phase", Premier Guitar: sign = winding
sense times magnet pole; two pickups are in phase when both differ or neither does; they cancel hum only
when the windings differ. What the meter does is P4, common practice: a tool brought near gives a swing,
taken away the opposite one, exchanged leads the opposite one; all pickups that do the same on pull-away
are in phase.
"""

from __future__ import annotations

import itertools

import pytest
from judging_jobs import LEADS, PLAIN, JobOnDisk, called, sureness

from reports.messages.sentences import commands_naming, say
from reports.messages.summary import disagreement
from reports.model.take_notes import MeterLeadsNote

SIGNS = list(itertools.product((1, -1), repeat=2))
SIXTEEN = list(itertools.product(SIGNS, SIGNS))
OTHER_WAY = {"rises": "falls", "falls": "rises"}
HUMBUCKER = PLAIN.replace('name = "neck"', 'name = "neck"\ncoils = 2')
CLIPS = {
    "hot": ({}, 1),
    "ground": ({}, -1),
    "violet": ({"black": "grey"}, 1),
    "grey": ({"black": "violet"}, -1),
}
"""Where red can be on neck, what stands beside it, and whether that turns the swing (P4)."""


def swing(s, *, move="away", turned=1):
    """What the meter does on a coil of sign ``s``, +1 rising on pull-away with red on hot (P4)."""
    return "rises" if s * turned * (1 if move == "away" else -1) > 0 else "falls"


def pair_of(home, *readings, toml=PLAIN):
    job = JobOnDisk(home, toml)
    for pickup, reading, said in readings:
        job.meter(pickup, reading, **said)
    return job.pair


@pytest.mark.parametrize(("a", "b"), SIXTEEN)
def test_the_sixteen_cases_at_the_meter(a, b, tmp_path):
    (w_a, m_a), (w_b, m_b) = a, b
    truth = "in phase" if (w_a != w_b) == (m_a != m_b) else "out of phase"
    answers = set()
    cases = itertools.product(("away", "toward"), ("away", "toward"), CLIPS)
    for number, (move_a, move_b, red) in enumerate(cases):
        said, turned = CLIPS[red]
        pair = pair_of(
            tmp_path / str(number),
            ("bridge", swing(w_a * m_a, move=move_a), {"move": move_a}),
            ("neck", swing(w_b * m_b, move=move_b, turned=turned), {"move": move_b, "red": red, **said}),
            toml=LEADS,
        )
        answers.add((pair.phase, pair.standing))
        assert pair.p_hum_cancels is None  # a swing says s, and nothing of the winding alone
    assert answers == {(truth, "likely")}


def test_all_that_do_the_same_on_pull_away_are_in_phase(tmp_path):
    toml = PLAIN + '[[pickup]]\nname = "middle"\n'
    job = JobOnDisk(tmp_path / "job", toml)
    for name in ("bridge", "neck", "middle"):
        job.meter(name, "falls")
    assert {p.phase for p in job.verdict.pairs} == {"in phase"}


def test_exchanged_meter_leads_give_the_opposite_swing_and_leave_kohm_as_it_was(
    tmp_path, capsys, monkeypatch
):
    """P4; resistance has no sign, so it neither changes nor matters."""
    pairs = [
        pair_of(tmp_path / "hot", ("bridge", "rises", {}), ("neck", "rises", {"red": "hot", "kohm": 7.4})),
        pair_of(
            tmp_path / "ground", ("bridge", "rises", {}), ("neck", "falls", {"red": "ground", "kohm": 7.4})
        ),
        pair_of(tmp_path / "bare", ("bridge", "rises", {}), ("neck", "rises", {})),
    ]
    assert {p.p_in_phase for p in pairs} == {pairs[0].p_in_phase}
    exchanged = pair_of(
        tmp_path / "as read", ("bridge", "rises", {}), ("neck", "rises", {"red": "ground", "kohm": 7.4})
    )
    assert exchanged.p_in_phase == pytest.approx(1 - pairs[0].p_in_phase)
    job = JobOnDisk(tmp_path / "list")
    job.meter("neck", "falls", red="ground", kohm=7.4)
    monkeypatch.setenv("COLUMNS", "200")
    assert called("list", job.home) == 0
    assert "7.4 k at rest" in capsys.readouterr().out


def test_two_readings_are_likely_and_not_settled(tmp_path):
    pair = pair_of(tmp_path / "job", ("bridge", "rises", {}), ("neck", "falls", {}))
    assert (pair.phase, pair.standing) == ("out of phase", "likely")
    assert [(w.method, w.entries) for w in pair.by] == [("meter swing", ("m001", "m002"))]


@pytest.mark.parametrize("many", [1, 3, 8])
def test_readings_through_one_clip_up_are_never_settled(many, tmp_path):
    """R10: a mistake in one clip-up flips everything taken through it."""
    readings = [("bridge", "rises", {})] * many + [("neck", "falls", {})] * many
    assert pair_of(tmp_path / "job", *readings).standing == "likely"


def test_clipping_on_anew_makes_it_surer(tmp_path):
    once = pair_of(tmp_path / "once", *[("bridge", "rises", {})] * 2, *[("neck", "falls", {})] * 2)
    again = [("bridge", "rises", {"anew": True}), ("neck", "falls", {"anew": True})]
    anew = pair_of(tmp_path / "anew", *[("bridge", "rises", {}), ("neck", "falls", {})], *again)
    assert sureness(anew) > sureness(once)


def test_the_order_of_readings_says_nothing(tmp_path):
    """At a bench the clips stay on: coming back to a pickup is no new clip-up unless somebody says so."""
    blocks = pair_of(tmp_path / "blocks", *[("bridge", "rises", {})] * 8, *[("neck", "falls", {})] * 8)
    turns = pair_of(tmp_path / "turns", *[("bridge", "rises", {}), ("neck", "falls", {})] * 8)
    assert turns.p_in_phase == pytest.approx(blocks.p_in_phase, abs=1e-9)


def test_unclear_says_nothing(tmp_path):
    known = [("bridge", "rises", {}), ("neck", "falls", {})]
    plain = pair_of(tmp_path / "plain", *known)
    more = pair_of(tmp_path / "more", *known, ("neck", "unclear", {}), ("bridge", "unclear", {}))
    assert more.p_in_phase == plain.p_in_phase
    nothing = pair_of(tmp_path / "nothing", ("bridge", "rises", {}), ("neck", "unclear", {}))
    assert (nothing.p_in_phase, nothing.standing, nothing.by) == (None, "unsettled", ())


def test_a_usual_resistance_draws_no_remark(tmp_path):
    """7.4 k is a usual single coil (sources C1 and C2: 5 to 8 k and some)."""
    job = JobOnDisk(tmp_path / "job")
    job.meter("bridge", kohm=7.4)
    job.meter("neck", kohm=7.4)
    verdict = job.verdict
    assert verdict.warnings == ()
    assert verdict.conflicts == ()


def test_readings_on_one_pickup_alone_say_nothing_of_the_pair(tmp_path):
    job = JobOnDisk(tmp_path / "job")
    job.meter("bridge", "rises")
    job.meter("bridge", "rises")
    pair = job.pair
    assert (pair.p_in_phase, pair.phase, pair.standing) == (None, None, "unsettled")
    assert pair.next
    assert called("verdict", job.home) == 3


def test_readings_on_one_pickup_that_contradict_each_other_are_a_conflict(tmp_path):
    job = JobOnDisk(tmp_path / "job")
    for pickup, reading in (("bridge", "rises"), ("neck", "rises"), ("neck", "falls")):
        job.meter(pickup, reading)
    verdict = job.verdict
    assert verdict.pairs[0].phase is None
    assert [c.between for c in verdict.conflicts] == [("meter swing", "meter swing")]


def test_leads_that_job_toml_does_not_name_are_left_out_with_a_warning(tmp_path):
    job = JobOnDisk(tmp_path / "job")  # no colours named at all
    job.meter("bridge", "rises")
    job.meter("neck", "rises", red="violet", black="grey")
    verdict = job.verdict
    assert verdict.pairs[0].p_in_phase is None
    assert verdict.warnings == (MeterLeadsNote("m002", "neck"),)


@pytest.mark.parametrize(("a", "b"), SIXTEEN)
def test_the_sixteen_cases_at_the_compass(a, b, tmp_path):
    """P1: w = s times m; hum cancels only where the windings differ."""
    job = JobOnDisk(tmp_path / "job")
    for name, (w, m) in (("bridge", a), ("neck", b)):
        job.meter(name, swing(w * m))
        job.log("pole", pickup=name, facing="north" if m > 0 else "south")
    pair = job.pair
    assert pair.phase == ("in phase" if (a[0] != b[0]) == (a[1] != b[1]) else "out of phase")
    assert (pair.p_hum_cancels > 0.8) if a[0] != b[0] else (pair.p_hum_cancels < 0.2)


@pytest.mark.parametrize("poles", [(), ("bridge",), ("neck",)])
def test_without_a_compass_on_both_hum_is_null(poles, tmp_path):
    job = JobOnDisk(tmp_path / "job")
    for name in ("bridge", "neck"):
        job.meter(name, "rises")
    for name in poles:
        job.log("pole", pickup=name, facing="north")
    assert job.pair.p_hum_cancels is None


def test_a_compass_alone_says_neither(tmp_path):
    job = JobOnDisk(tmp_path / "job")
    for name in ("bridge", "neck"):
        job.log("pole", pickup=name, facing="north")
    pair = job.pair
    assert (pair.p_in_phase, pair.p_hum_cancels) == (None, None)


def test_a_pickup_of_two_coils_has_no_one_winding(tmp_path):
    job = JobOnDisk(tmp_path / "job", HUMBUCKER)
    for name in ("bridge", "neck"):
        job.meter(name, "rises")
        job.log("pole", pickup=name, facing="north", **({"coil": 1} if name == "neck" else {}))
    assert job.pair.phase == "in phase"
    assert job.pair.p_hum_cancels is None


@pytest.mark.parametrize("many", [2, 3, 8])
def test_readings_with_one_tool_are_never_settled_however_often_it_is_clipped_on_anew(many, tmp_path):
    """A magnetised tool (2 in 100, reports/inference/error_priors.py) shows w, and shows it every time."""
    readings = [("bridge", "rises", {"tool": "rod"}), ("neck", "rises", {"tool": "rod"})] * many
    assert pair_of(tmp_path / "job", *readings).standing == "likely"


def test_a_reading_entered_for_the_wrong_pickup_is_named_with_where_it_belongs(tmp_path):
    """The resistances tell: 7.1 k is the neck's, and the bridge reads 7.4 k."""
    job = JobOnDisk(tmp_path / "job", LEADS)
    for name, reading, kohm in (("bridge", "rises", 7.4), ("bridge", "rises", 7.4), ("neck", "falls", 7.1)):
        job.meter(name, reading, kohm=kohm)
    job.meter("bridge", "falls", kohm=7.1)
    (conflict,) = job.verdict.conflicts
    assert (conflict.pair, conflict.at) == (("bridge", "neck"), "bridge")
    assert conflict.sides == (("m001", "m002"), ("m004",))
    with commands_naming("'two words'"):
        said = say(conflict.next)
        assert "the readings at bridge (m001, m002 against m004)" in disagreement(job.verdict)
    assert "m004 was probably read at another pickup" in said
    enter = "neck --move away --reading falls --red hot --kohm 7.1 --instead m004"
    assert f"coilwise meter 'two words' {enter}" in said
    assert "coilwise void 'two words' m004" in said
    job.log("void", entry="m004")
    assert job.verdict.conflicts == ()
