"""How the order of what was played is spelt."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from capture import LogError
from capture.job import Job, read_job
from capture.log import Change, LeadsInput, Meter, Ohms, TakeFields
from capture.takes.imported import PlayedItem
from reports.entry.changes import lead_colours
from reports.entry.spelling import order_from

JOB = """\
format = 1
title = "Sunday"
strings = ["E2", "A2", "D3", "G3", "B3", "E4"]

[[pickup]]
name = "bridge"

[[pickup]]
name = "neck"
fitted = false
hot = "violet"
ground = "grey"

[[setting]]
name = "both"
on = ["bridge", "neck"]

[[setting]]
name = "position 2"
on = ["bridge", "neck"]
"""


@pytest.fixture
def folder(begun) -> Path:
    return begun(JOB)


@pytest.fixture
def job(folder: Path) -> Job:
    return read_job(folder)


ALIKE = TakeFields("pluck", ())


def item(inputs, count, string=None, fret=0):
    return PlayedItem(TakeFields("pluck", inputs, string, fret), count)


SPELT = [
    ("neck 5", [item(("neck",), 5)]),
    ("neck 5, both 5,bridge 5", [item((n,), 5) for n in ("neck", "both", "bridge")]),
    ("neck D3 5", [item(("neck",), 5, "D3")]),
    ("neck D3/5 2", [item(("neck",), 2, "D3", 5)]),
    ("position 2 3", [item(("position 2",), 3)]),
    ("position 2 A2 3", [item(("position 2",), 3, "A2")]),
    ("bridge|neck 5", [item(("bridge", "neck"), 5)]),
    ("neck|nothing G3 1", [item(("neck", None), 1, "G3")]),
    ("neck | position 2 1", [item(("neck", "position 2"), 1)]),
    ("bridge>both>neck A2 3", [item((("bridge", "both", "neck"),), 3, "A2")]),
    ("neck:violet/grey 1", [item((LeadsInput(pickup="neck", hot="violet", ground="grey"),), 1)]),
]


@pytest.mark.parametrize(("text", "played"), SPELT)
def test_an_order_as_it_is_spelt(job: Job, text, played):
    assert list(order_from(text, job, ALIKE)) == played


def test_string_and_fret_for_items_that_do_not_say(job: Job):
    assert order_from("neck 1, both E2 2, neck E2/3 1", job, replace(ALIKE, string="D3", fret=7)) == (
        item(("neck",), 1, "D3", 7),
        item(("both",), 2, "E2", 0),
        item(("neck",), 1, "E2", 3),
    )


MISSPELT = [
    ("", "an empty item"),
    ("neck 5,,both 5", "an empty item"),
    ("neck", 'order item "neck": does not say how many'),
    ("neck five", "does not say how many"),
    ("neck -1", "does not say how many"),
    ("5", "does not say how many"),
    ("neck 0", "0 in a row cannot be"),
    ("neck 99999999999999999999", "in a row cannot be"),
    ("neck D3/x 5", '"D3/x" is no string and fret'),
    ("neck:violet 5", "spell leads as"),
]


@pytest.mark.parametrize(("text", "words"), MISSPELT)
def test_an_order_that_is_not_understood(job: Job, text, words):
    with pytest.raises(LogError, match=words):
        order_from(text, job, ALIKE)


def test_the_colours_that_fields_offer_are_those_of_the_job_and_of_its_log(job: Job):
    entries = [
        Ohms(id="r001", pickup="bridge", between=("white", "shield"), kohm=None),
        Change(id="c001", pickup="bridge", leads={"black": "hot", "white": "ground"}),
        Meter(id="m001", pickup="neck", move="away", reading="rises", red="tagged", black="other"),
    ]
    assert lead_colours(job, entries) == ("violet", "grey", "white", "black")
    assert lead_colours(job, entries, pickup="neck") == ("violet", "grey")
