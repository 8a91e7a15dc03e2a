"""A form for a job: what would be refused of it is told all at once, each at its field."""

from __future__ import annotations

from reports.entry.new_job import JobFields, PickupFields, SettingFields, field_errors


def test_all_that_is_wrong_is_told_at_once_and_where():
    form = JobFields(
        scale="long",
        pickups=(
            PickupFields(name="bridge", centre="near"),
            PickupFields(),
            PickupFields(centre="160"),
            PickupFields(name="neck", coils=2, link=("orange", "")),
        ),
        settings=(SettingFields(name="both"), SettingFields()),
    )
    found = field_errors(form, new=True)
    assert [(e.rows, e.row, e.field) for e in found] == [
        ("job", 0, "folder"),
        ("job", 0, "scale"),
        ("pickup", 0, "centre"),
        ("pickup", 2, "name"),
        ("pickup", 3, "name"),
        ("setting", 0, "name"),
    ]
    assert "near" in found[2].why


def test_a_form_that_is_right_has_nothing_wrong():
    pickups = (PickupFields(name="bridge", centre="44"), PickupFields(name="neck"))
    both = SettingFields(name="both", on=(("bridge", "whole"), ("neck", "whole")))
    assert field_errors(JobFields(folder="a", pickups=pickups, settings=(both,)), new=True) == ()
