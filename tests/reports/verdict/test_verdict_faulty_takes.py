"""A faulty take is named, kept out, and never makes the answer surer (sources R9)."""

from __future__ import annotations

import re

import numpy as np
import pytest
from judging_jobs import RATE, JobOnDisk, paired_job, sureness
from simulator.conditions import Conditions
from simulator.scenes import random_bench

from reports.messages.sentences import say
from reports.model.notes import EnterFrets

REMEDY = re.compile(r"\b(record|turn|check|damp|allow|play|export|put|void|name|close|look)\b", re.IGNORECASE)
SHIFT = 0.25


@pytest.fixture(scope="session")
def before(opposed, tmp_path_factory):
    """The pair of the sound job that every faulty take is added to."""
    return paired_job(tmp_path_factory.mktemp("sound") / "job", opposed).pair


def added(job, audio, **said):
    return job.take(audio, ["bridge", "neck"], string="D3", **said)


def clipped(job, sounds):
    x = sounds.paired[0]
    return added(job, np.clip(10 * x / np.abs(x).max(), -1, 1))


def same_signal_twice(job, sounds):
    return added(job, np.repeat(sounds.paired[0][:, :1], 2, axis=1))


def same_signal_twice_at_two_gains(job, sounds):
    x = sounds.paired[0][:, :1]
    return added(job, np.hstack([x, 0.4 * x]))


def silence(job, _):
    return added(job, 1e-5 * np.random.default_rng(1).standard_normal((2 * RATE, 2)))


def exact_zeros(job, _):
    return added(job, np.zeros((2 * RATE, 2)))


def zeros_on_one_input(job, sounds):
    return added(job, sounds.paired[0] * np.array([1.0, 0.0]))


def no_number(job, sounds):
    audio = sounds.paired[0].copy()
    audio[RATE // 2, 1] = np.nan
    return added(job, audio, subtype="FLOAT")


def wrong_string(job, sounds):
    return job.take(0.9 * sounds.paired[0], ["bridge", "neck"], string="A2")


def overlapping(job, sounds):
    del sounds
    rng = np.random.default_rng(3)
    conditions = Conditions(humbucker_rate=0.0, careless_rate=0.0)
    bench = random_bench(rng, conditions=conditions, pickups=2, mains_hz=50, inverted=(False, False))
    return added(job, bench.paired(rng, "bridge", "neck", "D3", onsets_s=(0.0, SHIFT), rate=RATE))


def hash_mismatch(job, sounds):
    return added(job, 0.9 * sounds.paired[0], hashed=False, sha256="0" * 64)


def truncated(job, sounds):
    take_id = added(job, 0.9 * sounds.paired[0], hashed=False)
    data = job.path(take_id).read_bytes()
    job.path(take_id).write_bytes(data[: len(data) * 2 // 3])
    return take_id


def more_channels_than_inputs(job, sounds):
    x = 0.9 * sounds.paired[0]
    return added(job, np.hstack([x, x[:, :1]]))


def missing_file(job, sounds):
    take_id = added(job, 0.9 * sounds.paired[0])
    job.path(take_id).unlink()
    return take_id


def a_folder_instead(job, sounds):
    take_id = missing_file(job, sounds)
    job.path(take_id).mkdir()
    return take_id


def no_audio(job, sounds):
    take_id = added(job, 0.9 * sounds.paired[0], hashed=False)
    job.path(take_id).write_text("not a recording", encoding="utf-8")
    return take_id


def the_same_file_again(job, sounds):
    return added(job, sounds.paired[0])


def nothing_plugged_in(job, sounds):
    return job.take(sounds.paired[0][:, :1], [None], string="D3")


def list_of_one_setting(job, sounds):
    return job.take(sounds.paired[0][:, :1], [["bridge"]], gesture="switch", string="D3")


CASES = {
    clipped: "clipped",
    same_signal_twice: "same signal twice",
    same_signal_twice_at_two_gains: "same signal twice",
    silence: "silent",
    exact_zeros: "exact zeros",
    zeros_on_one_input: "exact zeros",
    no_number: "unreadable",
    wrong_string: "wrong string",
    overlapping: "overlapping",
    hash_mismatch: "hash mismatch",
    truncated: "truncated",
    more_channels_than_inputs: "channels",
    missing_file: "missing",
    a_folder_instead: "unreadable",
    no_audio: "unreadable",
    the_same_file_again: "duplicate audio",
    nothing_plugged_in: "nothing plugged in",
    list_of_one_setting: "list of one setting",
}
NOTHING_TO_DO = (the_same_file_again, a_folder_instead)
"""The first counts once, and that is all there is to say; of the second only the reason is given."""


@pytest.mark.parametrize(("faulty", "code"), CASES.items(), ids=lambda v: getattr(v, "__name__", "")[:40])
def test_a_faulty_take_is_named_and_never_makes_the_answer_surer(faulty, code, opposed, before, tmp_path):
    job = paired_job(tmp_path / "job", opposed)
    take_id = faulty(job, opposed)
    verdict = job.verdict
    (pair,) = verdict.pairs
    assert sureness(pair) <= sureness(before) + 1e-9
    assert pair.phase == before.phase
    word = next(t for t in verdict.takes if t.id == take_id)
    assert not word.used
    assert code in [fault.code for fault in word.faults]
    for fault in map(say, word.faults):
        assert faulty in NOTHING_TO_DO or REMEDY.search(fault), fault
        assert fault.endswith(".")
        assert str(tmp_path) not in fault  # the report goes to the customer
    assert all(take_id not in m.takes for m in pair.by)
    assert [t.used for t in verdict.takes if t.id != take_id] == [True, True, True]


@pytest.mark.parametrize(
    ("inputs", "string", "said"),
    [
        (["bridge", "neck"], None, "No string is named"),
        (["bridge", None], "D3", "nothing was plugged in"),
        (["bridge", "neck"], "D3", None),
        (["bridge", "bridge"], None, None),
    ],
)
def test_what_an_entry_leaves_out_is_told_and_the_take_counts(opposed, tmp_path, inputs, string, said):
    job = paired_job(tmp_path / "job", opposed)
    audio = opposed.split if inputs[0] == inputs[1] else opposed.paired[0]
    entry = job.take(0.8 * audio, inputs, **({"string": string} if string else {}))
    (row,) = [t for t in job.verdict.takes if t.id == entry]
    told = " ".join(map(say, row.remarks))
    assert row.used
    assert (said in told) if said else not told


def test_a_capo_is_asked_for_where_all_plucks_sound_as_many_frets_higher(opposed, tmp_path):
    """Entered by strings a tone lower, they are refused; with the frets that are asked for they count."""
    job = JobOnDisk(tmp_path / "capo", opposed.toml)
    lower = dict(zip(("C3", "F3"), opposed.paired, strict=True))
    for string, audio in lower.items():
        job.take(audio, ["bridge", "neck"], string=string)
    assert job.pair.next == EnterFrets(2, ("t001", "t002"))
    assert "coilwise void t001 t002" in say(job.pair.next).replace("FOLDER ", "")
    job = JobOnDisk(tmp_path / "again", opposed.toml)
    for string, audio in lower.items():
        job.take(audio, ["bridge", "neck"], string=string, fret=2)
    assert job.pair.p_in_phase is not None and not isinstance(job.pair.next, EnterFrets)
