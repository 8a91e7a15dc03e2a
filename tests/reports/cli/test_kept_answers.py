"""A verdict that was printed before is printed again without judging, and never where anything changed."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from new_jobs import create_job

from capture import JOB_FILE, LOG_FILE
from capture.job import Pickup
from capture.log import append_entry, new_entry
from capture.log.entries import Meter
from reports.cli import app, kept_answers
from reports.cli.shared import run_plainly
from reports.verdict import building
from reports.verdict.building import judge_results


@pytest.fixture
def job(tmp_path, monkeypatch) -> Path:
    monkeypatch.setenv("COILWISE_CACHE", str(tmp_path / "shelf"))
    monkeypatch.setenv("COILWISE_CARE", str(tmp_path / "care"))
    home = tmp_path / "job"
    create_job(home, title="swing", pickups=[Pickup(name="bridge"), Pickup(name="neck")])
    meter(home, "bridge", "rises")
    return home


def meter(home: Path, name: str, reading: str) -> None:
    append_entry(home, new_entry(Meter, pickup=name, move="away", reading=reading, red="hot"))


def said(capsys, job: Path, *options: str, judges: bool) -> tuple[str, int]:
    """What the command prints, and its exit status; whether it judged is as expected."""
    judged = []
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(building, "judge_results", lambda *a, **k: judged.append(a) or judge_results(*a, **k))
        status = run_plainly(app, ["verdict", str(job), *options])
    assert bool(judged) == judges
    return capsys.readouterr().out, status


def test_the_same_job_is_judged_once_for_each_face(job, capsys):
    for options in ((), ("--json",), ("--all",)):
        first = said(capsys, job, *options, judges=True)
        assert said(capsys, job, *options, judges=False) == first
    assert first[1] == 3


def test_a_job_that_is_called_otherwise_is_judged_anew_since_the_text_names_it(job, capsys, monkeypatch):
    said(capsys, job, judges=True)
    monkeypatch.chdir(job.parent)
    text, _ = said(capsys, Path("job"), judges=True)
    assert str(job) not in text


CHANGES = {
    "an entry": lambda job: meter(job, "neck", "falls"),
    "the job": lambda job: (job / JOB_FILE).write_text((job / JOB_FILE).read_text() + "\n# seen\n"),
    "a file": lambda job: (job / "takes").mkdir() or (job / "takes" / "t001.wav").write_bytes(b"\0"),
    "a link": lambda job: (job / "other").symlink_to(job / LOG_FILE),
    "a pipe": lambda job: os.mkfifo(job / "pipe"),
    "care": lambda job: (job.parent / "care").mkdir() or (job.parent / "care" / "care.json").write_text("{}"),
}


@pytest.mark.parametrize("what", CHANGES)
def test_whatever_changed_is_judged_anew(job, capsys, what):
    said(capsys, job, judges=True)
    CHANGES[what](job)
    said(capsys, job, judges=True)


def test_another_version_of_the_code_and_a_damaged_answer_judge_anew(job, capsys, monkeypatch):
    first = said(capsys, job, judges=True)
    (kept,) = (job.parent / "shelf").glob("*/*")
    kept.write_bytes(kept.read_bytes()[:-9])
    assert said(capsys, job, judges=True) == first
    monkeypatch.setattr(kept_answers, "code_version", lambda *_: "another")
    assert said(capsys, job, judges=True) == first


def test_a_folder_that_changes_while_it_is_judged_keeps_nothing(job, capsys):
    key = kept_answers._key(job, "asked")

    def make():
        meter(job, "bridge", "falls")
        return kept_answers.Answer("old", True)

    kept_answers.answered(job, "asked", make)
    assert kept_answers._key(job, "asked") != key
    assert not list((job.parent / "shelf").glob("*/*"))


def test_the_report_is_no_part_of_it_and_nothing_is_kept_of_much(job, capsys, monkeypatch):
    said(capsys, job, judges=True)
    (job / "report").mkdir()
    (job / "report" / "report-found.html").write_text("made")
    said(capsys, job, judges=False)
    shutil.rmtree(job.parent / "shelf")
    monkeypatch.setattr(kept_answers, "MOST_FILES", 1)
    said(capsys, job, judges=True)
    assert not (job.parent / "shelf").exists()
