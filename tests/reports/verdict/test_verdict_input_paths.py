"""Delay and phase of the inputs on whole jobs: taken out by a split check, and doubted without one.

Every expected value is by construction: the simulator's truth, or the same job before it was changed.
"""

from __future__ import annotations

import numpy as np
import pytest
from judging_jobs import RATE, STRINGS, JobOnDisk, paired_job
from scipy.signal import butter, sosfilt

from reports.messages.sentences import say


def late(milliseconds, *, column=1, sign=1):
    def change(audio):
        size = 2 * len(audio)
        hz = np.fft.rfftfreq(size, 1 / RATE)
        moved = audio.copy()
        turned = np.fft.rfft(audio[:, column], size) * np.exp(-2j * np.pi * hz * milliseconds * 1e-3)
        moved[:, column] = sign * np.fft.irfft(turned, size)[: len(audio)]
        return moved

    return change


def low_cut(audio):
    sections = butter(4, 180.0, "highpass", fs=RATE, output="sos")
    return np.stack([audio[:, 0], sosfilt(sections, audio[:, 1])], axis=1)


def codes(verdict):
    return {(t.id, note.code) for t in verdict.takes for note in (*t.faults, *t.remarks)}


@pytest.fixture(scope="session")
def plain(sounds, tmp_path_factory):
    """The verdict on the paired takes as they were recorded, with their split check."""
    return paired_job(tmp_path_factory.mktemp("in-step") / "job", sounds).verdict


@pytest.mark.parametrize("change", [late(1.0), late(5.0, column=0), late(8.0)])
def test_a_lag_that_the_split_check_shows_changes_nothing(change, sounds, plain, tmp_path):
    verdict = paired_job(tmp_path / "job", sounds, split=change, change=change).verdict
    (pair,), (before,) = verdict.pairs, plain.pairs
    assert (pair.phase, pair.standing) == (before.phase, before.standing)
    assert pair.p_in_phase == pytest.approx(before.p_in_phase, abs=0.01)
    assert codes(verdict) == {("t001", "lag taken out")}
    later = verdict.takes[0].remarks[0].later
    assert later == (1 if change(np.eye(64, 2))[0, 0] < 0.5 else 2)


def test_a_low_cut_that_the_split_check_shows_changes_nothing(sounds, plain, tmp_path):
    verdict = paired_job(tmp_path / "job", sounds, split=low_cut, change=low_cut).verdict
    assert verdict.pairs[0].phase == plain.pairs[0].phase
    assert ("t001", "phase taken out") in codes(verdict)


def test_a_late_input_that_inverts_turns_the_answer_back_by_its_split_check(sounds, plain, tmp_path):
    change = late(5.0, sign=-1)
    verdict = paired_job(tmp_path / "job", sounds, split=change, change=change).verdict
    assert verdict.pairs[0].phase == plain.pairs[0].phase


@pytest.mark.parametrize("milliseconds", [1.0, 3.0, 8.0])
@pytest.mark.parametrize("split", [None, lambda x: x], ids=["no split check", "a split check in step"])
def test_late_plucks_do_not_count(milliseconds, split, opposed, tmp_path):
    verdict = paired_job(tmp_path / "job", opposed, split=split, change=late(milliseconds)).verdict
    (pair,) = verdict.pairs
    assert pair.standing == "unsettled"
    assert not any(t.used for t in verdict.takes if t.inputs == ("bridge", "neck"))
    assert {code for _, code in codes(verdict)} <= {"one input late", "late after the split check", "low cut"}
    for take in verdict.takes:
        for note in take.faults:
            assert "split check" in say(note)


def test_split_checks_that_differ_are_faults(opposed, tmp_path):
    job = paired_job(tmp_path / "job", opposed, split=late(5.0), change=late(5.0))
    job.take(late(2.0)(0.8 * opposed.split), ["bridge", "bridge"], string="D3")
    verdict = job.verdict
    assert {code for _, code in codes(verdict)} == {"lag wanders"}
    assert not any(t.used for t in verdict.takes)
    note = verdict.takes[0].faults[0]
    assert (note.ms, note.most_ms) == pytest.approx((2.0, 5.0), abs=0.1)
    assert f"{note.most_ms:.1f} ms" in say(note)


def test_two_pickups_entered_as_a_split_check_are_a_fault(opposed, tmp_path):
    job = JobOnDisk(tmp_path / "job", opposed.toml)
    job.take(opposed.paired[0], ["bridge", "bridge"], string=STRINGS[0])
    verdict = job.verdict
    assert codes(verdict) == {("t001", "not one signal")}


def test_a_silent_split_check_doubts_the_leads(opposed, tmp_path):
    """With common sleeves a lead made up the other way round shorts what both are on."""
    rng = np.random.default_rng(3)
    job = JobOnDisk(tmp_path / "job", opposed.toml)
    job.take(3e-4 * rng.standard_normal(opposed.split.shape), ["bridge", "bridge"], string="D3")
    alone = job.pair
    assert alone.p_in_phase is None
    assert ("t001", "silent split check") not in codes(job.verdict)
    for string, audio in zip(STRINGS, opposed.paired, strict=True):
        job.take(audio, ["bridge", "neck"], string=string)
    verdict = job.verdict
    assert ("t001", "silent split check") in codes(verdict)
    assert verdict.pairs[0].standing == "unsettled"
    job.take(opposed.split, ["bridge", "bridge"], string="D3")
    assert job.pair.phase == "out of phase"


def test_what_makes_a_pickup_late_may_turn_its_other_takes_over(sounds, tmp_path):
    """A link that delays has a sign of its own: takes in turn through it on the same rig stay unsettled."""
    job = paired_job(tmp_path / "job", sounds, split=None, change=late(5.0))
    for name, audio in sounds.in_turn["lift"]:
        job.take(audio, [name], gesture="lift")
    verdict = job.verdict
    (pair,) = verdict.pairs
    assert {note.pickup for take in verdict.takes for note in take.faults} == {"neck"}
    assert pair.standing == "unsettled"
    assert (pair.p_in_phase > 0.5) == sounds.in_phase
