"""Pickups that are built otherwise than coil beside coil, judged from simulated takes."""

import construction_jobs as made_by
import numpy as np
import pytest
from simulator import builds

from capture.job import parse_job
from reports.entry.changed_job import say_build
from reports.messages.sentences import say
from reports.model.build_notes import HalvesOpposed, StringsDiffer
from reports.session.choosing import wanted_of
from reports.session.rounds import rounds

UNDER = (("E1", "A1"), ("D2", "G2"))
BASS = ("E1", "A1", "D2", "G2")


def halves(place, *, joined_wrong):
    made = made_by.job_with(
        place,
        np.random.default_rng([5, 0]),
        lambda pickup: builds.halves(pickup, UNDER, joined_wrong=joined_wrong),
        bass=True,
        said={"coils": 2, "build": "halves"},
    )
    made_by.paired(made, BASS)
    return made


def test_halves_joined_wrong_are_found_and_one_of_them_is_to_be_exchanged(tmp_path):
    made = halves(tmp_path, joined_wrong=True)
    verdict = made.judged()
    (pair,) = verdict.pairs
    assert pair.phase is None
    assert {row.string: row.phase == "in phase" for row in pair.by_string} == {s: made.both(s) for s in BASS}
    assert any(isinstance(f.what, HalvesOpposed) for f in verdict.findings)
    opposed = next(k for k, names in enumerate(UNDER, start=1) if not made.both(names[0]))
    row = next(r for r in verdict.wiring if r.pickup == made_by.OTHER)
    assert (row.exchange, row.coils_exchanged) in {(False, (opposed,)), (True, (3 - opposed,))}


def test_halves_joined_rightly_are_one_pickup(tmp_path):
    made = halves(tmp_path, joined_wrong=False)
    (pair,) = made.judged().pairs
    assert (pair.phase == "in phase") == made.both("E1")
    assert {row.phase for row in pair.by_string} == {pair.phase}


def test_poles_that_alternate_are_answered_string_by_string_and_no_exchange_is_planned(tmp_path):
    made = made_by.job_with(
        tmp_path,
        np.random.default_rng([5, 1]),
        lambda pickup: builds.alternating(pickup, 6),
        said={"coils": 1, "poles": "alternate"},
    )
    made_by.paired(made, ("E2", "A2", "D3"))
    verdict = made.judged()
    (pair,) = verdict.pairs
    assert pair.p_in_phase is None
    assert isinstance(pair.because, StringsDiffer)
    for row in pair.by_string:
        assert (row.phase == "in phase") == made.both(row.string)
    assert verdict.wiring == ()
    assert "No exchange of leads mends that" in say(pair.because)


@pytest.mark.parametrize("upper", [1, 2])
def test_a_loose_stack_is_joined_so_that_its_hum_cancels(tmp_path, upper):
    rng = np.random.default_rng([6, upper])
    made = made_by.job_with(
        tmp_path,
        rng,
        lambda pickup: builds.stacked(rng, pickup, upper=upper),
        said={"coils": 2, "build": "stacked", "fitted": False, "upper": ("violet", "brown")[upper - 1]},
    )
    made_by.loose_leads(made)
    row = made.judged().coil_leads[0]
    assert made_by.joint_is_right(made, row.roles, row.why.chain) == (True, True)
    assert row.why.stacked


def test_which_coil_of_a_stack_is_above_is_asked_before_it_is_joined(tmp_path):
    rng = np.random.default_rng([6, 1])
    said = {"coils": 2, "build": "stacked", "fitted": False}
    made = made_by.job_with(tmp_path, rng, lambda pickup: builds.stacked(rng, pickup), said=said)
    made_by.loose_leads(made)
    row = made.judged().coil_leads[0]
    assert row.roles == {}
    assert row.next.code == "which coil is above"


def test_a_compass_that_reads_alike_over_both_coils_asks_how_they_lie(tmp_path):
    rng = np.random.default_rng([6, 1])
    said = {"coils": 2, "fitted": False}
    made = made_by.job_with(tmp_path, rng, lambda pickup: builds.stacked(rng, pickup), said=said)
    made_by.loose_leads(made)
    for coil in (1, 2):
        made_by.compass(made, facing="north", coil=coil)
    row = made.judged().coil_leads[0]
    assert (row.roles, row.next.code) == ({}, "stacked or side by side")


@pytest.mark.parametrize("upper", [1, 2])
def test_a_stack_of_which_nobody_said_it_is_asked_about_before_its_coils_are_joined(tmp_path, upper):
    rng = np.random.default_rng([6, upper])
    said = {"coils": 2, "fitted": False}
    made = made_by.job_with(tmp_path, rng, lambda p: builds.stacked(rng, p, upper=upper), said=said)
    made_by.loose_leads(made)
    verdict = made.judged()
    row = verdict.coil_leads[0]
    assert (row.roles, row.next.code) == ({}, "one coil softer")
    assert set(row.next.coils[0]) == set(made_by.ENDS[2 - upper])  # the lower one
    assert "joined as the other it would hum" in say(row.next)
    say_build(made.folder.path, made_by.OTHER, {"build": "side by side"})  # as they look to somebody
    assert set(made.judged().coil_leads[0].roles.values()) == {"hot", "link", "ground"}


def test_a_dummy_coil_is_exchanged_for_hum_alone(tmp_path):
    made = made_by.job_with(
        tmp_path, np.random.default_rng([1, 0]), builds.dummy, said={"coils": 1, "build": "dummy"}
    )
    made_by.hum(made)
    verdict = made.judged()
    (pair,) = verdict.pairs
    assert (pair.about, pair.p_in_phase, pair.phase) == ("hum", None, None)
    cancels = made.bench.w("bridge") != made.bench.w(made_by.OTHER)
    assert (pair.p_hum_cancels > 0.5) == cancels
    row = next(r for r in verdict.wiring if r.pickup == made_by.OTHER)
    assert row.exchange is not cancels


REFUSED = {
    'coils = 1\nbuild = "stacked"': "has coils = 2",
    "coils = 2\nupper = 1": 'build = "stacked"',
    'coils = 2\nbuild = "halves"\nunder = [["E1"], ["E1"]]': "each once",
    'poles = ["north"]': "one pole for each string",
    'build = "dummy"\npoles = "alternate"': "does not go with",
}


@pytest.mark.parametrize("keys", REFUSED)
def test_what_no_pickup_is_made_like_is_refused(keys):
    from capture import JobError

    toml = f'format = 1\nstrings = ["E1", "A1", "D2", "G2"]\n[[pickup]]\nname = "p"\n{keys}\n'
    with pytest.raises(JobError, match=REFUSED[keys]):
        parse_job(toml)


def test_a_session_asks_for_hum_of_a_dummy_and_for_no_string():
    toml = 'format = 1\n[[pickup]]\nname = "bridge"\n[[pickup]]\nname = "spare"\nbuild = "dummy"\n'
    job = parse_job(toml + '[[setting]]\nname = "both"\non = ["bridge", "spare"]\n')
    wanted = wanted_of(job)
    assert (wanted.pairs, wanted.quiet) == ((), (("bridge", "spare"),))
    asked = rounds(job, inputs=1)
    assert {step.gesture for one in asked for step in one.steps} == {"hum"}


def test_a_compass_by_turns_leaves_takes_on_one_kind_of_string_open(tmp_path):
    made = made_by.job_with(
        tmp_path,
        np.random.default_rng([5, 1]),
        lambda pickup: builds.alternating(pickup, 6),
        said={"coils": 1},
    )
    made_by.paired(made, ("A2", "G3"))
    for k, string in enumerate(("E2", "A2", "D3", "G3")):
        made_by.compass(made, facing=("north", "south")[k % 2], string=string)
    verdict = made.judged()
    assert verdict.pairs[0].standing == "unsettled"
    assert any(f.pickup_or_setting == made_by.OTHER for f in verdict.findings)


def test_compass_readings_that_contradict_each_other_say_nothing_and_are_named(tmp_path):
    said = {"coils": 1}
    made = made_by.job_with(tmp_path, np.random.default_rng([1, 0]), builds.single, said=said)
    for facing in ("north", "south"):
        made_by.compass(made, facing=facing)
    verdict = made.judged()
    assert sum("contradict each other" in say(w) for w in verdict.warnings if not isinstance(w, str)) == 2
