"""New jobs and edits: comments stay, nothing is written over."""

from __future__ import annotations

from pathlib import Path

import pytest

from capture import JobError
from capture.job import Member, Pickup, Setting, read_job
from capture.job.writing import new_job

PICKUPS = (
    Pickup(name="bridge", centre_mm=44.0),
    Pickup(name='say "neck"', coils=2, fitted=False, hot="violet", ground="grey", link=("orange", "brown")),
)
SETTINGS = (
    Setting(
        name="both",
        on=(Member(pickup="bridge"), Member(pickup='say "neck"', coil=2, reversed=True)),
        quiet=True,
    ),
)


def test_a_new_job_reads_back_as_it_was_given(tmp_path: Path):
    home = tmp_path / "new"
    new_job(
        home, title="Ümlaut", pickups=PICKUPS, settings=SETTINGS, scale_mm=648.0, mains_hz=50, strings=["E2"]
    )
    job = read_job(home)
    assert (job.title, job.scale_mm, job.mains_hz, job.strings) == ("Ümlaut", 648.0, 50, ("E2",))
    assert (job.pickups, job.settings) == (PICKUPS, SETTINGS)


def test_a_new_job_explains_itself(tmp_path: Path):
    new_job(tmp_path / "new", title="x", pickups=PICKUPS)
    text = (tmp_path / "new" / "job.toml").read_text(encoding="utf-8")
    assert text.startswith("# What is on the bench.")
    assert "centre_mm = 44.0 # bridge saddle to the pickup's centre" in text
    assert "scale_mm" not in text


def test_a_new_job_goes_into_an_empty_folder_only(tmp_path: Path):
    new_job(tmp_path, title="x", pickups=PICKUPS)
    before = (tmp_path / "job.toml").read_bytes()
    with pytest.raises(JobError, match="the folder holds something already"):
        new_job(tmp_path, title="y", pickups=PICKUPS)
    with pytest.raises(JobError, match="there is something of that name already"):
        new_job(tmp_path / "job.toml", title="y", pickups=PICKUPS)
    assert (tmp_path / "job.toml").read_bytes() == before


def test_a_refused_job_makes_no_folder(tmp_path: Path):
    with pytest.raises(JobError, match="two pickups have the name"):
        new_job(tmp_path / "new", title="x", pickups=(PICKUPS[0], PICKUPS[0]))
    assert not (tmp_path / "new").exists()


def test_a_folder_that_cannot_be_made(tmp_path: Path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(JobError, match="the job folder cannot be made"):
        new_job(tmp_path / "file" / "new", title="x", pickups=PICKUPS)
