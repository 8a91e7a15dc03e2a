"""Jobs as the page lists and shows them."""

from __future__ import annotations

import os
from dataclasses import replace

import pytest

from capture import JobError
from capture.job import read_job
from capture.job.writing import new_job
from reports.entry.new_job import (
    JobFields,
    PickupFields,
    RowFields,
    create_job_folder,
    create_row,
    pickup_of,
)
from reports.page.screens.job import listed_jobs, open_html, stamps_in
from reports.page.screens.shelf import batch_html
from reports.verdict.shelf import Batch, BatchRow

HOSTILE = "<script>alert(1)</script>"


def a_job(place, name="sunday", **said):
    pickups = (PickupFields(name="bridge"), PickupFields(name="neck"))
    return create_job_folder(JobFields(folder=name, pickups=pickups, **said), under=place)


def test_jobs_are_listed_the_latest_first_also_from_recordings(tmp_path):
    assert stamps_in(tmp_path) == () and stamps_in(tmp_path / "nowhere") == ()
    one = a_job(tmp_path, name="one", title="First")
    two = a_job(tmp_path, name=str(tmp_path / "recordings" / "two"), title="Second")
    (tmp_path / "no-job").mkdir()
    os.utime(one / "job.toml", (100, 100))
    os.utime(two / "job.toml", (200, 200))
    assert [(j.path, j.title) for j in listed_jobs(stamps_in(tmp_path))] == [(two, "Second"), (one, "First")]
    (one / "bench.jsonl").write_text("")
    os.utime(one / "bench.jsonl", (300, 300))
    assert [j.path for j in listed_jobs(stamps_in(tmp_path))] == [one, two]
    (one / "job.toml").write_text("format = ")
    assert "job.toml" in listed_jobs(stamps_in(tmp_path))[0].title


def test_nothing_typed_is_taken_for_markup(tmp_path):
    job = new_job(tmp_path / "job", title=HOSTILE, pickups=[pickup_of(PickupFields(name=HOSTILE), 1)])
    told = open_html(job, tmp_path / HOSTILE)
    assert HOSTILE not in told and told.count("&lt;script&gt;") >= 3


def test_a_row_is_shown_with_its_last_lift_and_how_it_stands_to_the_coil():
    lifted = BatchRow("01", "out of phase", "likely", 0.02, "white", "black", False, 6.6, 3, (), None, None)
    rows = (replace(lifted, last="2026-11-28"), replace(lifted, pickup="02", phase=None, lifts=0))
    told = batch_html(Batch(HOSTILE, "coil A", "coil", rows, ("rod",), ("2026-11-28",)))
    for said in ("2026-11-28", "OPPOSES coil A", "hot white, ground black", "not lifted", "&lt;script&gt;"):
        assert said in told
    assert HOSTILE not in told


def test_a_row_needs_its_coil_and_a_number_of_pickups(tmp_path):
    made = read_job(create_row(RowFields("row", 3, "coil A", hot="white"), under=tmp_path))
    assert [(p.name, p.shelf, p.hot) for p in made.pickups] == [
        ("coil", "coil A", None),
        *((name, None, "white") for name in ("01", "02", "03")),
    ]
    for count, coil in ((0, "coil A"), (41, "coil A"), (3, "")):
        with pytest.raises(JobError, match="1 to 40"):
            create_row(RowFields("other", count, coil), under=tmp_path)
