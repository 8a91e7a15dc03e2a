"""A pickup that is built otherwise: entered in a job that is there, kept by the form, taken back."""

from dataclasses import replace

import pytest
from new_jobs import create_job

from capture import JobError
from capture.job import Pickup, read_job
from reports.entry.changed_job import change_job, fields_of, say_build
from reports.entry.new_job import MemberFields
from reports.entry.spelling import pickup_from


@pytest.fixture
def folder(tmp_path):
    pickups = [Pickup(name="bridge"), Pickup(name="neck", coils=2)]
    strings = ["E1", "A1", "D2", "G2"]
    return create_job(tmp_path / "job", title="bass", pickups=pickups, strings=strings).path


def test_what_is_said_of_a_pickup_is_kept_by_the_form_and_taken_back(folder):
    say_build(folder, "neck", {"build": "halves", "under": "E1 A1 / D2 G2"})
    job = change_job(folder, fields_of(read_job(folder)))
    assert job.pickup("neck").under == (("E1", "A1"), ("D2", "G2"))
    assert say_build(folder, "neck", {"build": "side by side"}).pickup("neck").build is None


def test_halves_whose_strings_were_not_said_lie_under_the_low_and_the_high_ones(folder):
    made = say_build(folder, "neck", {"build": "halves"}).pickup("neck").made
    assert [coil.under for coil in made.coils] == [("E1", "A1"), ("D2", "G2")]


def test_what_is_refused_leaves_the_job_as_it_was(folder):
    before = read_job(folder)
    with pytest.raises(JobError, match="coils = 2"):
        say_build(folder, "bridge", {"build": "stacked"})
    assert read_job(folder) == before


def test_an_unusual_pickup_is_spelt_in_one_word():
    made = pickup_from("neck:168:coils=2:loose:build=stacked:upper=violet")
    assert (made.build, made.upper) == ("stacked", "violet")
    assert pickup_from("neck:poles=N S N S").poles == ("north", "south", "north", "south")


CIRCUIT = """format = 1
stereo = ["bridge", "neck"]
[[pickup]]
name = "bridge"
coils = 4
[[pickup]]
name = "middle"
[[pickup]]
name = "neck"
coils = 2
active = true
[[setting]]
name = "mixed"
on = [{pickup = "bridge", coil = 3, group = "g"}, "middle", {pickup = "neck", group = "g", share = 0.4}]
[[setting]]
name = "split"
on = [{pickup = "neck", circuit = "1 + (2 | 22n)"}]
bypass = true
"""


def test_an_unusual_circuit_is_kept_by_the_form_and_typed_into_it(tmp_path):
    home = tmp_path / "job"
    home.mkdir()
    (home / "job.toml").write_text(CIRCUIT)
    before = read_job(home)
    fields = fields_of(before)
    assert fields.unusual
    kept = change_job(home, fields)
    assert (kept.settings, kept.stereo, kept.pickups) == (before.settings, before.stereo, before.pickups)
    typed = MemberFields("group 1", "35 %")
    mixed = replace(fields.settings[0], wired=(("bridge", typed), ("neck", MemberFields("group 1"))))
    job = change_job(home, replace(fields, stereo="", settings=(mixed,)))
    assert job.stereo is None and len(job.settings) == 1
    assert [(m.group, m.share) for m in job.settings[0].on] == [
        ("group 1", 0.35),
        (None, None),
        ("group 1", None),
    ]
    for stereo in ("bridge", "bridge, front"):
        with pytest.raises(JobError, match="name two pickups of this guitar"):
            change_job(home, replace(fields, stereo=stereo))


def test_side_by_side_is_kept_of_a_loose_pickup_whose_coils_are_to_be_joined(tmp_path):
    pickups = [Pickup(name="bridge"), Pickup(name="neck", coils=2, fitted=False)]
    folder = create_job(tmp_path / "job", title="loose", pickups=pickups).path
    assert say_build(folder, "neck", {"build": "side by side"}).pickup("neck").build == "side by side"
    assert change_job(folder, fields_of(read_job(folder))).pickup("neck").build == "side by side"
