"""What the meter reads at the jack; resistances of sources C2 and C3."""

import pytest

from capture.job import Job, Member, Pickup, Setting
from reports.messages.sentences import say
from reports.ohms.readings import expected_kohm, jack_reading, kohm_without_each

JOB = Job(pickups=(Pickup(name="bridge"), Pickup(name="neck", coils=2)))


def both(join="parallel"):
    return Setting(name="both", on=(Member(pickup="bridge"), Member(pickup="neck")), join=join)


@pytest.mark.parametrize(("join", "kohm"), [("series", 8.0), ("parallel", 2.0)])
def test_two_equal_coils(join, kohm):
    """Sources C2: two equal coils of 4 k are 8 k in series and 2 k in parallel."""
    assert expected_kohm(JOB, both(join), {"bridge": 4.0, "neck": 4.0}) == pytest.approx(kohm)


def test_two_pickups_and_a_pot():
    """Sources C3: 6 k and 8 k with 250 k: 1 / (1/6 + 1/8 + 1/250) = 3000 / 887 k."""
    read = expected_kohm(JOB, both(), {"bridge": 6.0, "neck": 8.0}, volume_kohm=250.0)
    assert read == pytest.approx(3000 / 887)


def test_one_coil_of_two_needs_its_own_reading():
    split = Setting(name="split", on=(Member(pickup="neck", coil=1),))
    assert expected_kohm(JOB, split, {"neck": 8.0}) is None
    assert expected_kohm(JOB, split, {"neck": 8.0}, kohm_by_coil={("neck", 1): 4.1}) == 4.1


def test_a_pickup_that_was_not_measured_gives_no_number():
    assert expected_kohm(JOB, both(), {"bridge": 6.0}) is None


def test_a_missing_pickup_is_named():
    assert jack_reading(3.43, 6.0, without={"neck": 6.0}).missing == ("neck",)


def test_what_it_reads_without_each():
    kohm = kohm_without_each(JOB, both(), {"bridge": 6.0, "neck": 8.0})
    assert kohm == {"bridge": 8.0, "neck": 6.0}
    assert kohm_without_each(JOB, both("series"), {"bridge": 6.0, "neck": 8.0}) == {}


@pytest.mark.parametrize(
    ("code", "expected", "read", "more", "begins"),
    [
        ("as expected", 3.43, 3.4, {},
         "3.4 k was read at the jack and 3.43 k expected: as it should be."),
        ("open", 3.43, None, {},
         "The jack reads open where 3.43 k was expected"),
        ("short", 3.43, 0.0, {},
         "The jack reads 0 k where 3.43 k was expected: a short"),
        ("pickup missing", 3.43, 6.0, {"without": {"neck": 6.0}},
         "6 k was read and 3.43 k expected: that is what"),
        ("volume pot alone", 3.38, 244.0, {"volume_kohm": 250.0},
         "244 k is the volume pot alone, where 3.38 k was expected"),
        ("low", 8.0, 5.0, {},
         "5 k was read and 8 k expected: the volume is not full up, a coil is partly shorted"),
        ("high alone", 8.0, 40.0, {},
         "40 k was read and 8 k expected: the volume is not full up, or a joint"),
        ("low by hands", 80.0, 69.0, {},
         "69 k was read and 80 k expected: that is what hands across the clips take off."),
    ],
)  # fmt: skip
def test_what_a_reading_means(code, expected, read, more, begins):
    note = jack_reading(expected, read, **more)
    assert note.code == code
    assert say(note).startswith(begins)
