"""Changes, stages and voids: evidence belongs to leads (sources R11). All by construction."""

from __future__ import annotations

import numpy as np
import pytest
from judging_jobs import LEADS, PLAIN, RATE, JobOnDisk, sureness

EXCHANGED = {"grey": "hot", "violet": "ground"}
AS_IT_WAS = {"violet": "hot", "grey": "ground"}
NAMELESS = PLAIN.replace('name = "neck"', 'name = "neck"\nfitted = false')


def opposed(home, toml=LEADS):
    """Bridge rises and neck falls, twice, clipped on anew in between: out of phase."""
    job = JobOnDisk(home, toml)
    for _ in range(2):
        job.meter("bridge", "rises")
        job.meter("neck", "falls")
    return job


def row(verdict, pickup="neck"):
    return next((r for r in verdict.wiring if r.pickup == pickup), None)


def test_before_a_change_the_exchange_is_proposed(tmp_path):
    verdict = opposed(tmp_path / "job").verdict
    assert verdict.pairs[0].phase == "out of phase"
    assert row(verdict).exchange is True


@pytest.mark.parametrize("stage", [{}, {"stage": "found"}, {"stage": "after"}])
def test_exchanging_named_leads_turns_the_sign_and_is_not_proposed_again(stage, tmp_path):
    job = opposed(tmp_path / "job")
    before = job.pair
    job.log("change", pickup="neck", leads=EXCHANGED, **stage)
    verdict = job.verdict
    (pair,) = verdict.pairs
    assert pair.phase == "in phase"
    assert sureness(pair) <= sureness(before) + 1e-9
    assert [r.exchange for r in verdict.wiring] == [False, False]
    assert row(verdict).leads == EXCHANGED
    assert [(s.name, s.sounds) for s in verdict.settings] == [("both", "full")]
    assert verdict.stage == "found"  # a change alone is a promise: nothing was measured after it
    assert verdict.next
    for name in ("bridge", "neck"):
        job.meter(name, "rises", stage="after")
    after = job.verdict
    assert (after.stage, after.pairs[0].phase, after.conflicts) == ("after", "in phase", ())


def test_a_change_back_and_a_change_that_says_what_was_so_change_nothing(tmp_path):
    plain = opposed(tmp_path / "plain").pair
    there_and_back = opposed(tmp_path / "back")
    there_and_back.log("change", pickup="neck", leads=EXCHANGED)
    there_and_back.log("change", pickup="neck", leads=AS_IT_WAS)
    same = opposed(tmp_path / "same")
    same.log("change", pickup="neck", leads=AS_IT_WAS)
    for job in (there_and_back, same):
        assert job.pair.phase == "out of phase"
        assert job.pair.p_in_phase == pytest.approx(plain.p_in_phase)


def test_evidence_before_a_change_is_lost_where_no_leads_were_named(tmp_path):
    job = opposed(tmp_path / "job", NAMELESS)
    assert job.pair.phase == "out of phase"
    job.log("change", pickup="neck", leads=EXCHANGED)
    pair = job.pair
    assert (pair.p_in_phase, pair.standing) == (None, "unsettled")


def test_evidence_after_a_change_stands_as_it_is(tmp_path):
    """Measured after the change, with neck's new hot: no turning."""
    job = JobOnDisk(tmp_path / "job", LEADS)
    job.log("change", pickup="neck", leads=EXCHANGED)
    job.meter("bridge", "rises")
    job.meter("neck", "falls")
    assert job.pair.phase == "out of phase"


def test_colours_mean_the_same_leads_before_and_after_a_change(tmp_path):
    """Red stays on violet, so the meter does the same before and after; hot has moved to grey."""
    job = JobOnDisk(tmp_path / "job", LEADS)
    job.meter("bridge", "rises")
    job.meter("neck", "rises", red="violet", black="grey")
    assert job.pair.phase == "in phase"
    job.log("change", pickup="neck", leads=EXCHANGED)
    job.meter("bridge", "rises")
    job.meter("neck", "rises", red="violet", black="grey")
    verdict = job.verdict
    assert verdict.pairs[0].phase == "out of phase"
    assert verdict.conflicts == ()


def test_takes_clipped_the_other_way_round_are_turned(opposed, tmp_path):
    """Tip on grey: the lift comes out turned over, so the recordings negated give the same answer."""
    pairs = []
    for hot, ground, turned in (("violet", "grey", 1), ("grey", "violet", -1)):
        job = JobOnDisk(tmp_path / hot, LEADS)
        for name, audio in opposed.in_turn["lift"]:
            clips = {"pickup": name, "hot": hot, "ground": ground} if name == "neck" else name
            job.take(audio * (turned if name == "neck" else 1), [clips], gesture="lift", rate=RATE)
        pairs.append(job.pair)
    assert pairs[0].phase == pairs[1].phase == "out of phase"
    assert pairs[1].p_in_phase == pytest.approx(pairs[0].p_in_phase, abs=0.02)


@pytest.mark.parametrize("split", [True, False])
def test_a_paired_pluck_with_exchanged_clips_is_turned(split, opposed, tmp_path):
    """Tip on grey on input 2: the channel comes out turned over, and the answer is the same."""
    pairs = []
    for hot, ground, turned in (("violet", "grey", 1), ("grey", "violet", -1)):
        job = JobOnDisk(tmp_path / hot, LEADS)
        if split:
            job.take(opposed.split, ["bridge", "bridge"], string="D3")
        clips = {"pickup": "neck", "hot": hot, "ground": ground}
        job.take(opposed.paired[0] * np.array([1, turned]), ["bridge", clips], string="D3")
        pairs.append(job.pair)
    assert pairs[0].p_in_phase < 0.1
    assert pairs[1].p_in_phase == pytest.approx(pairs[0].p_in_phase, abs=0.02)


def test_the_verdict_is_about_the_latest_stage(tmp_path):
    """Leads without names: what was found does not carry over, and what came after counts alone; the old
    readings speak for the tool, which is the same, and for nothing else.
    """
    job = opposed(tmp_path / "job", PLAIN)
    assert (job.verdict.stage, job.pair.phase) == ("found", "out of phase")
    for name in ("bridge", "neck"):
        job.meter(name, "rises", stage="after")
    verdict = job.verdict
    assert (verdict.stage, verdict.pairs[0].phase) == ("after", "in phase")
    alone = JobOnDisk(tmp_path / "alone", PLAIN)
    for name in ("bridge", "neck"):
        alone.meter(name, "rises")
    assert verdict.pairs[0].p_in_phase == pytest.approx(alone.pair.p_in_phase, abs=0.01)


def test_what_was_found_carries_over_through_named_leads_and_is_a_little_less_sure(tmp_path):
    job = opposed(tmp_path / "job")
    found = job.pair
    job.meter("bridge", "unclear", stage="after")
    verdict = job.verdict
    assert verdict.stage == "after"
    (pair,) = verdict.pairs
    assert pair.phase == "out of phase"
    assert 0.9 < sureness(pair) < sureness(found)


def test_a_joint_made_other_than_planned_shows_after_the_work(tmp_path):
    """Found out of phase, exchanged on paper, still out of phase at the jack: not called in phase."""
    job = opposed(tmp_path / "job")
    job.log("change", pickup="neck", leads=EXCHANGED, stage="after")
    for _ in range(2):
        job.meter("bridge", "rises", stage="after")
        job.meter("neck", "falls", stage="after")
    verdict = job.verdict
    assert verdict.pairs[0].phase != "in phase"


def test_a_voided_reading_does_not_count_and_a_void_of_the_void_does(tmp_path):
    job = JobOnDisk(tmp_path / "job")
    job.meter("bridge", "rises")
    neck = job.meter("neck", "falls")
    before = job.pair
    void = job.log("void", entry=neck, why="wrong pickup")
    assert job.pair.p_in_phase is None
    job.log("void", entry=void)
    assert job.pair.p_in_phase == before.p_in_phase


def test_a_voided_take_does_not_count_and_a_void_of_the_void_does(opposed, tmp_path):
    job = JobOnDisk(tmp_path / "job", opposed.toml)
    take = job.take(opposed.paired[0], ["bridge", "neck"], string="D3")
    before = job.verdict
    void = job.log("void", entry=take)
    voided = job.verdict
    assert (voided.takes, voided.pairs[0].p_in_phase) == ((), None)
    job.log("void", entry=void)
    again = job.verdict
    assert again.pairs == before.pairs
    assert [t.id for t in again.takes] == [take]
