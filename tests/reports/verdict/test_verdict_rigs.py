"""Files written otherwise: a whole job converted is the same job, some of its files converted another rig."""

from __future__ import annotations

import hashlib
import json

import numpy as np
import pytest
import soundfile as sf
from judging_jobs import JobOnDisk, turn_job

from reports.messages.sentences import say
from reports.model.notes import NotSettled, RecordPair
from reports.render.text import as_text


def converted(job: JobOnDisk, suffix: str, *, only: str = "") -> None:
    """Write the takes of a job again in another family of files, with the same samples."""
    lines = []
    for line in (job.home / "bench.jsonl").read_text(encoding="utf-8").splitlines():
        entry = json.loads(line)
        if entry["kind"] == "take" and only in entry["inputs"][0]:
            old = job.home / entry["file"]
            samples, rate = sf.read(old, dtype="int32", always_2d=True)
            new = old.with_suffix(suffix)
            sf.write(new, samples, rate, subtype="PCM_24")
            entry["file"] = f"takes/{new.name}"
            entry["sha256"] = hashlib.sha256(new.read_bytes()).hexdigest()
        lines.append(json.dumps(entry))
    (job.home / "bench.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.mark.parametrize("gesture", ["lift", "pluck"])
def test_a_whole_job_in_another_format_has_the_same_verdict(gesture, opposed, tmp_path):
    job = turn_job(tmp_path / "job", opposed, gesture)
    before = job.verdict
    converted(job, ".flac")
    after = job.verdict
    assert after.pairs[0].p_in_phase == pytest.approx(before.pairs[0].p_in_phase, abs=1e-6)
    assert after.pairs == before.pairs
    assert after.warnings == before.warnings == ()


def test_one_pickup_on_another_recorder_is_not_compared_until_somebody_says_so(opposed, tmp_path):
    job = turn_job(tmp_path / "job", opposed, "lift")
    before = job.pair.p_in_phase
    converted(job, ".aiff", only="neck")
    verdict = job.verdict
    (pair,) = verdict.pairs
    assert (pair.p_in_phase, pair.phase) == (None, None)
    assert pair.because == NotSettled("recorded otherwise")
    assert pair.next == RecordPair("one recorder", "bridge", "neck")
    (note,) = verdict.warnings
    assert say(note).startswith(
        "t002, t004 were recorded otherwise (16 kHz, 24 bit, AIFF) than t001, t003 (16 kHz, 24 bit, WAV): "
        "another rig until a split check or you say so"
    )
    assert "coilwise check FOLDER same-path --take t001 --take t002" in say(note)
    assert "recorded otherwise" in " ".join(as_text(verdict).split())
    job.log("check", id="k001", what="same path", takes=["t001", "t002"])
    assert job.verdict.warnings == ()
    assert job.pair.p_in_phase == pytest.approx(before, abs=0.01)
    job.log("void", id="v001", entry="k001")
    assert job.pair.p_in_phase is None


def test_a_rig_by_another_name_is_another_rig(opposed, tmp_path):
    job = JobOnDisk(tmp_path / "job", opposed.toml)
    for name, audio in opposed.in_turn["lift"]:
        job.take(audio, [name], gesture="lift", rig=f"box for {name}")
    assert job.pair.p_in_phase is None
    assert job.pair.because == NotSettled("recorded otherwise")


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_one_pickup_before_and_behind_its_stage_is_no_fault(sign, opposed, tmp_path):
    """The very same signal on both inputs, or its opposite, says whether the stage inverts."""
    leads = '\nactive = true\nhot = "red"\nground = "black"'
    toml = opposed.toml.replace('name = "bridge"', f'name = "bridge"{leads}', 1)
    job = JobOnDisk(tmp_path / "job", toml)
    before = opposed.split[:, 0]
    both = np.stack([before, sign * before], axis=1)
    job.take(both, [{"pickup": "bridge", "hot": "red", "ground": "black"}, "bridge"], string="D3")
    (take,) = job.verdict.takes
    assert (take.used, take.faults) == (True, ())
