"""The open job filled in and renamed: comments and evidence stay, and what is not safe is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest

from capture import JobError
from capture.job import read_job
from capture.log import Meter, Take, append_entry, new_entry, read_log
from capture.takes.folder import JobFolder
from reports.entry.changed_job import change_job, fields_of
from reports.entry.new_job import JobFields, PickupFields, SettingFields, create_job_folder
from reports.verdict.building import judge

BENCH = JobFields(
    folder="sunday",
    pickups=(
        PickupFields(name="bridge", centre="44"),
        PickupFields(name="neck", fitted=False, hot="violet", ground="grey"),
    ),
    settings=(SettingFields(name="both", on=(("bridge", "whole"), ("neck", "whole"))),),
)


@pytest.fixture
def job(tmp_path):
    """A job with two meter readings and a take that is not there; somebody's comment in job.toml."""
    folder = create_job_folder(BENCH, under=tmp_path)
    text = (folder / "job.toml").read_text().replace("centre_mm = 44.0", "centre_mm = 44.0 # with a ruler:")
    (folder / "job.toml").write_text(f"# mine\n{text}")
    for name, reading in (("bridge", "rises"), ("neck", "falls")):
        append_entry(folder, new_entry(Meter, pickup=name, move="away", reading=reading, red="hot"))
    return folder


def changed(folder, **pickups):
    fields = fields_of(read_job(folder))
    rows = tuple(replace(p, **pickups.get(p.was, {})) for p in fields.pickups)
    on = tuple((row.name, "whole") for row in rows)
    return change_job(folder, replace(fields, pickups=rows, settings=(replace(fields.settings[0], on=on),)))


def test_nothing_typed_changes_no_byte_but_line_ends(job):
    before = (job / "job.toml").read_text()
    change_job(job, fields_of(read_job(job)))
    assert (job / "job.toml").read_text() == before


def test_a_renamed_pickup_keeps_its_evidence_and_the_log_its_lines(job):
    append_entry(
        job, new_entry(Take, file="takes/t.wav", gesture="switch", inputs=(("bridge", "both", "neck"),))
    )
    log = (job / "bench.jsonl").read_bytes()
    before = judge(JobFolder.open(job)).verdict.pairs[0]
    changed(job, neck={"name": "front", "centre": "160"}, bridge={"name": "rear"})
    assert (job / "bench.jsonl").read_bytes() == log
    text = (job / "job.toml").read_text()
    assert "# mine" in text and "# with a ruler:" in text and 'was = ["neck"]' in text
    assert read_log(job, read_job(job)).standing[2].inputs == (("rear", "both", "front"),)
    after = judge(JobFolder.open(job)).verdict.pairs[0]
    assert (after.a, after.b, after.p_in_phase) == ("rear", "front", before.p_in_phase)
    changed(job, front={"name": "neck"})
    assert read_job(job).pickup("neck").was == ("front",)


@pytest.mark.parametrize(
    ("pickups", "why"),
    [
        ({"neck": {"hot": "grey", "ground": "violet"}}, "put a tag on that lead"),
        ({"neck": {"fitted": True}}, "cannot be changed safely"),
        ({"neck": {"name": "bridge"}, "bridge": {"name": "neck"}}, "older lines of the log"),
        ({"neck": {"name": ""}}, "name"),
    ],
)
def test_what_would_make_the_log_say_something_else_is_refused(job, pickups, why):
    before = (job / "job.toml").read_bytes()
    with pytest.raises(JobError, match=why):
        changed(job, **pickups)
    assert (job / "job.toml").read_bytes() == before


def test_a_pickup_that_the_log_names_cannot_be_removed(job):
    fields = fields_of(read_job(job))
    with pytest.raises(JobError, match="the log has lines that need it"):
        change_job(job, replace(fields, pickups=fields.pickups[:1], settings=()))


def test_what_was_not_recorded_of_is_free(job, tmp_path):
    fresh = create_job_folder(replace(BENCH, folder="fresh"), under=tmp_path)
    made = changed(fresh, neck={"name": "front", "fitted": True, "hot": "red", "ground": "black", "coils": 2})
    assert (made.pickups[1].name, made.pickups[1].was, made.pickups[1].hot) == ("front", (), "red")
    assert changed(job, bridge={"hot": "white", "ground": "black"}).pickups[0].hot == "white"
