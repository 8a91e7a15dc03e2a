"""A box that is remembered: the next job begins with it, with a doubt, and its own split check goes first."""

from __future__ import annotations

import json
from datetime import date, timedelta

import numpy as np
import pytest
from judging_jobs import RATE, paired_job

from capture.log import utc_now
from capture.takes.folder import JobFolder
from reports.cli import app
from reports.cli.shared import run_plainly
from reports.evidence.boxes import FRESH, MOST_DAYS, PER_DAY
from reports.evidence.cache import take_results
from reports.messages.sentences import say
from reports.model.rig_notes import RememberedBoxNote
from reports.verdict.box_memory import BoxMemory, RememberedBox, begin_with_box, learn_boxes
from reports.verdict.building import judge

BOX = "two-input box"
NOW = utc_now()


@pytest.fixture
def memory(tmp_path, monkeypatch):
    monkeypatch.setenv("COILWISE_BOX", str(tmp_path / "data"))
    return BoxMemory.default()


def second_inverted(audio):
    return audio * np.array([1.0, -1.0])


def on_a_box(job, *, rig=BOX):
    """The job as it would be had its takes been recorded today on this box."""
    lines = [json.loads(line) for line in (job.home / "bench.jsonl").read_text().splitlines()]
    lines = [x | {"rig": rig, "at": NOW} if x["kind"] == "take" else x for x in lines]
    (job.home / "bench.jsonl").write_text("".join(json.dumps(x) + "\n" for x in lines))
    return job


def learned(job):
    folder = JobFolder.open(job.home)
    learn_boxes(job.home, take_results(folder))


def begun(job, *, rate=RATE, channels=2):
    return begin_with_box(job.home, rig=BOX, rate=rate, channels=channels)


def aged(job, days, *, opposed=False):
    """The job with a box that was seen so many days before it began."""
    seen = (date.fromisoformat(NOW[:10]) - timedelta(days=days)).isoformat()
    job.log("check", what="box", rig=BOX, rate=RATE, opposed=opposed, seen=seen, at=NOW)
    return job


def box_notes(job):
    return [w for w in judge(JobFolder.open(job.home)).verdict.warnings if isinstance(w, RememberedBoxNote)]


@pytest.mark.parametrize("change", [lambda audio: audio, second_inverted], ids=["in step", "opposed"])
def test_what_one_job_found_of_a_box_stands_in_the_next(sounds, memory, change, tmp_path):
    """The box that inverts its second input turns over the next job's plucks, and no truth."""
    learned(on_a_box(paired_job(tmp_path / "first", sounds, split=change, change=change)))
    (box,) = memory.read()
    assert box == RememberedBox(rig=BOX, rate=RATE, opposed=change is second_inverted, seen=NOW[:10])
    job = on_a_box(paired_job(tmp_path / "next", sounds, split=None, change=change))
    without = job.pair
    assert begun(job) is not None and begun(job) is None
    assert (job.pair.p_in_phase > 0.5) == sounds.in_phase
    assert max(job.pair.p_in_phase, 1 - job.pair.p_in_phase) > 0.98
    assert max(without.p_in_phase, 1 - without.p_in_phase) < 0.975
    (note,) = box_notes(job)
    assert note.doubt == FRESH and "invert button" in say(note)


def test_the_doubt_grows_with_age_until_it_asks_again(opposed, tmp_path):
    plain = on_a_box(paired_job(tmp_path / "plain", opposed, split=None)).pair.p_in_phase
    known = []
    for days in (0, 10, MOST_DAYS, MOST_DAYS + 1):
        job = aged(on_a_box(paired_job(tmp_path / f"{days}", opposed, split=None)), days)
        known.append(job.pair.p_in_phase)
    assert known[0] < known[1] < known[2] < known[3] == pytest.approx(plain)
    assert box_notes(job)[0].doubt is None
    assert FRESH + MOST_DAYS * PER_DAY < 0.03  # never worse than a box of which nothing is known


def test_the_jobs_own_split_check_goes_before_what_is_remembered(opposed, tmp_path):
    alone = on_a_box(paired_job(tmp_path / "alone", opposed)).pair
    job = aged(on_a_box(paired_job(tmp_path / "both", opposed)), 0, opposed=True)
    assert job.pair == alone and box_notes(job) == []


def test_where_anything_differs_it_is_not_counted_on(opposed, memory, tmp_path):
    memory.remember([RememberedBox(rig=BOX, rate=RATE, opposed=False, seen=NOW[:10])])
    job = on_a_box(paired_job(tmp_path / "job", opposed, split=None), rig="another box")
    plain = job.pair
    assert begun(job, rate=RATE // 2) is None and begun(job, channels=1) is None
    assert begun(job) is not None
    assert job.pair.p_in_phase == pytest.approx(plain.p_in_phase)
    old = [RememberedBox(rig=BOX, rate=RATE, opposed=False, seen="2020-01-01")]
    memory.remember(old)
    assert begun(on_a_box(paired_job(tmp_path / "later", opposed, split=None))) is None


def test_it_is_shown_and_forgotten_and_a_broken_file_harms_no_job(memory, capsys, tmp_path):
    memory.remember([RememberedBox(rig=BOX, rate=RATE, opposed=True, seen=NOW[:10])])
    assert run_plainly(app, ["box"]) == 0
    assert "opposed to each other" in capsys.readouterr().out
    memory.path.write_text("{")
    assert begin_with_box(tmp_path, rig=BOX, rate=RATE, channels=2) is None
    assert run_plainly(app, ["box"]) == 2
    assert "coilwise box --forget" in capsys.readouterr().err
    assert run_plainly(app, ["box", "--forget"]) == 0 and memory.read() == ()
