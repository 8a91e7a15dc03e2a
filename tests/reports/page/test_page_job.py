"""Jobs as the page lists and shows them."""

from __future__ import annotations

import os

from capture.job.writing import new_job
from reports.entry.new_job import (
    JobFields,
    PickupFields,
    create_job_folder,
    pickup_of,
)
from reports.page.screens.job import listed_jobs, open_html, stamps_in

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
