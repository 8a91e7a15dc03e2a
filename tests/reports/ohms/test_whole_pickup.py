"""Which readings are of the whole pickup: one between two colours may be of one coil of two."""

from __future__ import annotations

import pytest

from capture.job import Job, Pickup
from capture.log import Meter, Ohms, new_entry
from reports.evidence.settings import measured_kohm


def job(**neck: object) -> Job:
    return Job(title="", pickups=(Pickup(name="bridge"), Pickup(name="neck", **neck)))


def swing(red: str, black: str | None = None):
    return new_entry(Meter, pickup="neck", move="away", reading="rises", red=red, black=black, kohm=4.1)


@pytest.mark.parametrize(
    ("neck", "reading", "whole"),
    [
        ({"coils": 2}, swing("violet", "orange"), False),
        ({"coils": 2}, swing("hot"), True),
        ({"coils": 2, "hot": "violet", "ground": "grey"}, swing("violet", "grey"), True),
        ({"coils": 2, "hot": "violet", "ground": "grey"}, swing("violet", "orange"), False),
        ({"coils": 1}, swing("violet", "orange"), True),
        ({"coils": 2}, new_entry(Ohms, pickup="neck", between=("violet", "orange"), kohm=4.1), False),
    ],
)
def test_one_coil_is_not_taken_for_the_pickup(neck, reading, whole):
    """Two coils in series read their sum (sources C2), so half of it is no reading at the jack."""
    assert ("neck" in measured_kohm(job(**neck), [reading])) == whole
