"""Sign rules on whole jobs of simulated recordings: what must turn the answer over, and what must not.

Every expected value is by construction: the simulator's truth, or the same job before it was changed.
"""

from __future__ import annotations

import numpy as np
import pytest
from judging_jobs import (
    RATE,
    STRINGS,
    JobOnDisk,
    exchanged_order,
    paired_job,
    recorded,
    sureness,
    turn_job,
)
from scipy.signal import resample_poly

from capture.takes.folder import JobFolder
from dsp.signal.samples import ANALYSIS_RATE
from reports.evidence.analysis import analyse_take
from reports.messages.sentences import say
from reports.model.notes import Question
from reports.model.verdict import SETTLED_FROM

GESTURES = ["lift", "pluck", "press"]
OTHER = {"in phase": "out of phase", "out of phase": "in phase", None: None}
TURNED_WITHIN = 0.02
SAME_WITHIN = 0.002


def input_2_negated(audio):
    return audio * np.array([1.0, -1.0])


def exchanged_columns(audio):
    return audio[:, ::-1]


def silence_at_both_ends(audio):
    frames = np.zeros((RATE // 2, audio.shape[1]))
    return np.concatenate([frames, audio, frames])


@pytest.fixture(scope="session")
def plain(sounds, tmp_path_factory):
    """The verdict on the paired takes as they were recorded, with their split check."""
    return paired_job(tmp_path_factory.mktemp("plain") / "job", sounds).verdict


def same_answer(pair, before):
    assert pair.p_in_phase == pytest.approx(before.p_in_phase, abs=SAME_WITHIN)
    assert (pair.phase, pair.standing) == (before.phase, before.standing)


def test_what_would_turn_all_plucks_over_is_asked_where_a_split_check_was_made(sounds, plain, tmp_path):
    """A lead that crosses one branch over leaves no trace, so a person is asked; with no check nobody is."""
    crossed = Question("split lead")
    assert crossed in plain.ask
    assert "crossed over" in say(crossed)
    assert crossed not in paired_job(tmp_path / "job", sounds, split=None).verdict.ask


def test_paired_takes_give_the_truth(sounds, plain):
    (pair,) = plain.pairs
    assert pair.phase == ("in phase" if sounds.in_phase else "out of phase")
    assert [t.used for t in plain.takes] == [True, True, True]
    (word,) = pair.by
    assert (word.method, word.takes) == ("paired pluck", ("t002", "t003"))


def test_one_channel_negated_in_every_paired_take_turns_the_answer(sounds, plain, tmp_path):
    (before,) = plain.pairs
    pair = paired_job(tmp_path / "job", sounds, change=input_2_negated).pair
    assert pair.p_in_phase == pytest.approx(1 - before.p_in_phase, abs=TURNED_WITHIN)
    assert pair.phase == OTHER[before.phase] is not None


def test_inputs_and_names_exchanged_together_change_nothing(sounds, plain, tmp_path):
    pair = paired_job(
        tmp_path / "job",
        sounds,
        split=exchanged_columns,
        change=exchanged_columns,
        names=("neck", "bridge"),
    ).pair
    same_answer(pair, plain.pairs[0])


def test_names_exchanged_in_job_toml_change_nothing(sounds, plain, tmp_path):
    pair = paired_job(tmp_path / "job", sounds, toml=exchanged_order(sounds.toml)).pair
    assert (pair.a, pair.b) == ("neck", "bridge")
    same_answer(pair, plain.pairs[0])


def test_an_inverting_channel_pair_is_undone_by_its_split_check(sounds, plain, tmp_path):
    """An input that inverts is rare, so one split check alone leaves the answer less sure; two do not."""
    job = paired_job(tmp_path / "job", sounds, split=input_2_negated, change=input_2_negated)
    (before,) = plain.pairs
    one = job.pair
    assert one.phase == before.phase
    assert 0.9 <= sureness(one) <= sureness(before)
    job.take(0.8 * input_2_negated(sounds.split), ["bridge", "bridge"], string="D3")
    two = job.pair
    assert (two.phase, two.standing) == (before.phase, "settled")
    assert two.p_in_phase == pytest.approx(before.p_in_phase, abs=0.01)


def test_a_split_check_that_inverts_turns_the_paired_verdict(sounds, plain, tmp_path):
    pair = paired_job(tmp_path / "job", sounds, split=input_2_negated).pair
    (before,) = plain.pairs
    assert pair.phase == OTHER[before.phase] is not None


def test_a_split_check_that_all_the_rest_speaks_against_is_made_once_more(sounds, tmp_path):
    """By construction the plucks on two inputs came through another path than their check.

    It is asked for anew before anything is taken back.
    """
    job = paired_job(tmp_path / "job", sounds, split=input_2_negated)
    for gesture in GESTURES:
        for name, audio in sounds.in_turn[gesture]:
            job.take(audio, [name], gesture=gesture, string=None if gesture == "lift" else "D3")
    (inputs,) = job.verdict.inputs
    assert inputs.code == "opposite, doubted"
    assert "do it once more" in say(inputs)
    found = [c for c in job.verdict.conflicts if "paired pluck" in c.between]
    assert {(c.next.error.kind, c.next.take_back) for c in found} == {("channels", ())}


def test_a_split_check_on_another_rig_says_nothing_of_this_one(opposed, tmp_path):
    job = JobOnDisk(tmp_path / "job", opposed.toml)
    job.take(input_2_negated(opposed.split), ["bridge", "bridge"], string="D3", rig="the other box")
    for string, audio in zip(STRINGS, opposed.paired, strict=True):
        job.take(audio, ["bridge", "neck"], string=string, rig="this box")
    alone = paired_job(tmp_path / "alone", opposed, split=None)
    same_answer(job.pair, alone.pair)


def test_paired_takes_alone_are_never_settled_without_a_split_check(sounds, tmp_path):
    """R4: whether one channel inverts, paired takes do not tell."""
    job = paired_job(tmp_path / "job", sounds, split=None)
    for _ in range(2):  # the same strings once more, a little softer: other files, other hashes
        for string, audio in zip(STRINGS, sounds.paired, strict=True):
            job.take(0.9 * audio, ["bridge", "neck"], string=string)
    pair = job.pair
    assert pair.standing in ("likely", "unsettled")
    assert max(pair.p_in_phase, 1 - pair.p_in_phase) < SETTLED_FROM
    assert pair.next.error.kind == "channels"


@pytest.mark.parametrize(
    ("change", "rate"),
    [
        pytest.param(lambda x: x * np.array([0.1, 0.02]), RATE, id="a tenth of the gain, less on one input"),
        pytest.param(lambda x: resample_poly(x, 441, 320, axis=0), 22_050, id="another sample rate"),
        pytest.param(silence_at_both_ends, RATE, id="digital silence at both ends"),
        pytest.param(lambda x: x + 0.002, RATE, id="a little offset"),
    ],
)
def test_gain_rate_silence_and_offset_do_not_change_the_answer(change, rate, sounds, plain, tmp_path):
    job = paired_job(tmp_path / "job", sounds, split=change, change=change, rate=rate)
    verdict = job.verdict
    assert [t.used for t in verdict.takes] == [True, True, True]
    (pair,), (before,) = verdict.pairs, plain.pairs
    assert (pair.phase, pair.standing) == (before.phase, before.standing)
    assert pair.p_in_phase == pytest.approx(before.p_in_phase, abs=0.01)


@pytest.mark.parametrize("gesture", ["pluck", "lift"])
def test_noise_alone_is_unsettled_and_each_take_says_why(gesture, tmp_path):
    rng = np.random.default_rng(5)
    job = JobOnDisk(tmp_path / "job")
    string = {"string": "D3"} if gesture == "pluck" else {}
    for name in ("bridge", "neck"):
        job.take(0.01 * rng.standard_normal((RATE, 1)), [name], gesture=gesture, **string)
    if gesture == "pluck":
        job.take(0.01 * rng.standard_normal((RATE, 2)), ["bridge", "neck"], **string)
    verdict = job.verdict
    (pair,) = verdict.pairs
    assert (pair.phase, pair.standing) == (None, "unsettled")
    assert pair.p_in_phase is None
    assert all(not t.used and t.faults for t in verdict.takes)


@pytest.fixture(scope="session", params=GESTURES)
def turned(request, sounds, tmp_path_factory):
    """(gesture, the pair as recorded in turn)."""
    home = tmp_path_factory.mktemp("turn") / "job"
    return request.param, turn_job(home, sounds, request.param).verdict


def test_takes_in_turn_lean_to_the_truth_and_one_method_alone_stays_below_settled(sounds, turned):
    _, verdict = turned
    (pair,) = verdict.pairs
    assert (pair.p_in_phase > 0.8) if sounds.in_phase else (pair.p_in_phase < 0.2)
    assert all(t.used for t in verdict.takes)


def test_one_pickup_negated_in_turn_turns_the_answer(sounds, turned, tmp_path):
    gesture, verdict = turned
    (before,) = verdict.pairs
    pair = turn_job(
        tmp_path / "job", sounds, gesture, change=lambda name, x: -x if name == "neck" else x
    ).pair
    assert pair.p_in_phase == pytest.approx(1 - before.p_in_phase, abs=TURNED_WITHIN)
    assert pair.phase == OTHER[before.phase]


def test_all_takes_in_turn_negated_and_softer_change_nothing(sounds, turned, tmp_path):
    """Only relations mean anything; one channel that inverts cancels within itself (sources R4)."""
    gesture, verdict = turned
    pair = turn_job(
        tmp_path / "job",
        sounds,
        gesture,
        change=lambda _, x: -0.3 * x,
        toml=exchanged_order(sounds.toml),
    ).pair
    (before,) = verdict.pairs
    assert pair.p_in_phase == pytest.approx(before.p_in_phase, abs=TURNED_WITHIN)
    assert pair.standing == before.standing


def test_lifts_and_touches_are_not_taken_for_each_other(opposed, tmp_path):
    """A lift entered as a touch must not give a settled or likely answer the wrong way."""
    job = JobOnDisk(tmp_path / "job", opposed.toml)
    for name, audio in opposed.in_turn["lift"]:
        job.take(audio, [name], gesture="lift" if name == "bridge" else "touch")
    assert job.pair.phase in (None, "out of phase")


def test_two_methods_that_agree_settle_what_neither_settles_alone(sounds, tmp_path):
    """R10: a method of another kind lifts the cap."""
    alone = paired_job(tmp_path / "alone", sounds, split=None).pair
    job = paired_job(tmp_path / "job", sounds, split=None)
    for name, audio in sounds.in_turn["lift"]:
        job.take(audio, [name], gesture="lift")
    pair = job.pair
    assert alone.standing != "settled"
    assert pair.standing == "settled"
    assert pair.phase == ("in phase" if sounds.in_phase else "out of phase")
    assert {w.method for w in pair.by} == {"paired pluck", "lift"}


def test_what_is_drawn_of_a_pluck_begins_a_period_before_it_and_turns_over_with_the_input(tmp_path):
    sounds = recorded(in_phase=True)
    job = JobOnDisk(tmp_path / "job", sounds.toml)
    for audio in (sounds.paired[0], sounds.paired[0] * [1, -0.5]):
        job.take(audio, ["bridge", "neck"], string="D3")
    folder = JobFolder.open(job.home)
    plain, turned = (analyse_take(folder.job, take).paired[0] for take in folder.takes())
    for trace in plain.traces:
        assert np.max(np.abs(trace)) == 1
        assert len(trace) == pytest.approx(6 * ANALYSIS_RATE / plain.f0_hz, abs=2)
        assert np.max(np.abs(trace[: len(trace) // 12])) < 0.3
    assert turned.traces[0] == pytest.approx(plain.traces[0], abs=1e-3)
    assert turned.traces[1] == pytest.approx(-plain.traces[1], abs=1e-3)


def test_a_lift_is_doubted_where_it_is_said_to_be_a_touch(tmp_path):
    sounds = recorded(in_phase=True)
    job = JobOnDisk(tmp_path / "job", sounds.toml)
    name, audio = sounds.in_turn["lift"][0]
    for gesture, gain in (("lift", 1.0), ("touch", 0.5)):
        job.take(gain * audio, [name], gesture=gesture, tool="rod")
    folder = JobFolder.open(job.home)
    remarks = [analyse_take(folder.job, take).remarks for take in folder.takes()]
    assert [[r.code for r in each] for each in remarks] == [[], ["doubtful gesture"]]
