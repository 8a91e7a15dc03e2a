"""``coilwise summary``: many jobs at once, at the level of the command."""

from __future__ import annotations

import csv
import shutil

import pytest
from judging_jobs import LEADS, PLAIN, JobOnDisk, called

from reports.render.exports import spreadsheet_text


def rows_of(table):
    with table.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def metered(home, toml, *, neck="falls"):
    """A job that meter readings alone decide."""
    job = JobOnDisk(home, toml)
    for _ in range(2):
        job.meter("bridge")
        job.meter("neck", neck)
    return job


@pytest.fixture
def archive(tmp_path):
    """Four jobs, one of them broken, one unheard, one in a folder below."""
    place = tmp_path / "archive"
    metered(place / "b clear", PLAIN)
    metered(place / "deep" / "er" / "a likely", LEADS, neck="rises")
    JobOnDisk(place / "c nothing known", PLAIN)
    broken = metered(place / "d broken", PLAIN)
    (broken.home / "bench.jsonl").write_text("{no json}\n{}\n", encoding="utf-8")
    (place / "no job").mkdir()
    return place


def test_every_job_is_a_row_and_what_is_broken_is_named_and_stops_nothing(archive, tmp_path, capsys):
    table = tmp_path / "archive.csv"
    assert called("summary", archive, "--csv", table) == 2
    said = capsys.readouterr().out
    rows = {r["folder"]: r for r in rows_of(table)}
    assert list(rows) == ["b clear", "c nothing known", "d broken", "deep/er/a likely"]
    assert [r["outcome"] for r in rows.values()] == ["clear", "open", "failed", "clear"]
    assert (rows["b clear"]["phase"], rows["deep/er/a likely"]["phase"]) == ("out of phase", "in phase")
    assert float(rows["b clear"]["p in phase"]) < 0.1
    assert rows["c nothing known"]["p in phase"] == ""
    assert "bench.jsonl line 1" in rows["d broken"]["why it failed"]
    assert "Not judged" in said
    assert "4 jobs: 2 clear, 1 open, 1 failed." in said
    assert "Traceback" not in said


def test_the_status_says_the_worst(archive):
    shutil.rmtree(archive / "d broken")
    assert called("summary", archive) == 3
    shutil.rmtree(archive / "c nothing known")
    assert called("summary", archive) == 0


def test_nothing_is_written_over(archive, tmp_path, capsys):
    table = tmp_path / "archive.csv"
    table.write_text("mine")
    assert called("summary", archive, "--csv", table) == 2
    assert "nothing is written over" in capsys.readouterr().err
    assert table.read_text() == "mine"


def test_a_folder_without_jobs_or_none_at_all_is_one_line(tmp_path, capsys):
    assert called("summary", tmp_path) == 2
    assert called("summary", tmp_path / "gone") == 2
    assert capsys.readouterr().err.count("\n") == 2


def test_a_job_is_judged_as_it_is_alone(archive, tmp_path):
    table = tmp_path / "archive.csv"
    called("summary", archive, "--csv", table)
    alone = JobOnDisk.__new__(JobOnDisk)
    alone.home = archive / "b clear"
    (row,) = (r for r in rows_of(table) if r["folder"] == "b clear")
    assert float(row["p in phase"]) == pytest.approx(alone.pair.p_in_phase, abs=1e-6)


@pytest.mark.parametrize("cell", ["=1+1", "+cmd", "@sum", "-x", "\tx"])
def test_no_cell_is_a_formula(cell, tmp_path):
    """A cell that begins so is calculated by spreadsheets (common practice: an apostrophe in front)."""
    assert spreadsheet_text(cell) == f"'{cell}"
    metered(tmp_path / "jobs" / "one", PLAIN.replace("Test bench", cell.strip()))
    table = tmp_path / "t.csv"
    called("summary", tmp_path / "jobs", "--csv", table)
    (row,) = rows_of(table)
    assert row["title"].startswith("'") or not cell.strip().startswith(("=", "+", "-", "@"))


def test_numbers_stay_numbers():
    assert spreadsheet_text("-1.5") == "-1.5"
