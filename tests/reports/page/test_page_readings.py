"""The log as the page lists it, and the entries that its forms write."""

from __future__ import annotations

import pytest

from capture import LogError
from capture.audio.problems import FileProblem
from capture.job import Pickup, read_job
from capture.job.writing import new_job
from capture.log import append_entry, read_log
from reports.entry.spelling import change_entry, meter_entry, ohms_entry, pole_entry, void_entry
from reports.messages import cautions
from reports.messages import page as words
from reports.messages.sentences import say
from reports.model.take_notes import FileNote
from reports.model.verdict import TakeRow, Verdict
from reports.page.screens.log import log_rows
from reports.page.screens.readings import check_of, reading_cautions
from reports.page.server.controller import stamp_of

METER = {"pickup": "bridge", "move": "away", "reading": "rises", "red": "hot", "black": None, "kohm": 6.6}


@pytest.fixture
def job(tmp_path):
    new_job(
        tmp_path / "job", title="Sunday", pickups=[Pickup(name="bridge"), Pickup(name="neck", fitted=False)]
    )
    return tmp_path / "job"


def rows(job, verdict=None):
    return log_rows(read_log(job, read_job(job)), verdict)


def test_taken_back_and_brought_back(job):
    """A void of a void restores: sources R11."""
    append_entry(job, meter_entry(**METER, tool="rod", stage="found"))
    (meter,) = rows(job)
    assert (meter.id, meter.kind, meter.can_go, meter.remark) == ("m001", "meter", True, "")
    append_entry(job, void_entry(entry="m001", why="slipped"))
    void, meter = rows(job)
    assert (meter.can_go, meter.remark) == (False, words.TAKEN_BACK)
    assert (void.restores, void.can_go, void.what) == ("m001", False, "m001: slipped")
    append_entry(job, void_entry(entry=void.id, why=""))
    last, void, meter = rows(job)
    assert (meter.can_go, meter.remark) == (True, "")
    assert (void.restores, void.remark) == (None, words.TAKEN_BACK)
    assert (last.restores, last.can_go) == (None, False)
    append_entry(job, void_entry(entry="m001", why="again"))
    assert [r.restores for r in rows(job)] == ["m001", None, None, None]


def test_a_take_that_does_not_count_says_why(job):
    append_entry(job, pole_entry(pickup="bridge", facing="north", coil=None, stage="after"))
    missing = FileNote(FileProblem("missing"))
    verdict = Verdict(
        title="",
        stage="after",
        reference="bridge",
        pairs=(),
        takes=(TakeRow(id="p001", used=False, faults=(missing,)),),
    )
    (row,) = rows(job, verdict)
    assert (row.remark, row.stage) == (say(missing), words.STAGES["after"])


def test_the_entries_are_those_of_the_commands(job):
    entries = [
        meter_entry(**METER, tool=None, stage="found"),
        ohms_entry(pickup="neck", first="violet", second="shield", kohm=None, stage="found"),
        change_entry(pickup="neck", leads=["grey=hot", "violet=ground"], stage="after"),
    ]
    told = [append_entry(job, entry).line() for entry in entries]
    assert [(line["kind"], line["id"], line["stage"]) for line in told] == [
        ("meter", "m001", "found"),
        ("ohms", "r001", "found"),
        ("change", "c001", "after"),
    ]
    assert told[0]["kohm"] == 6.6 and "tool" not in told[0]
    assert told[1]["between"] == ["violet", "shield"] and "kohm" not in told[1]
    assert told[2]["leads"] == {"grey": "hot", "violet": "ground"}


def test_a_lead_that_is_two_things_is_refused():
    with pytest.raises(LogError, match='"grey" is named twice'):
        change_entry(pickup="neck", leads=["grey=hot", "grey=ground"], stage="after")


def test_each_caution_once_and_only_where_it_applies(job):
    told = reading_cautions(read_job(job))
    assert len(set(told)) == len(told)
    assert cautions.COMMON_GROUND in told and cautions.SHIELD in told
    loose = read_job(job).model_copy(
        update={"pickups": (Pickup(name="neck", fitted=False, shield="own lead"),)}
    )
    assert not {cautions.COMMON_GROUND, cautions.SHIELD} & set(reading_cautions(loose))


def test_a_change_of_either_file_is_seen(job):
    before = stamp_of(job)
    append_entry(job, meter_entry(**METER, tool=None, stage="found"))
    after = stamp_of(job)
    assert after.log != before.log and after.job == before.job
    assert stamp_of(None).path is None and stamp_of(job / "gone").job is None


def test_a_check_says_what_it_is_about_and_no_more(job):
    typed = {"pickup": "neck", "at_input": "2", "tool": "rod"}
    told = [append_entry(job, check_of(what, **typed)).line() for what in words.CHECKED]
    keys = [{k for k in line if k not in ("kind", "id", "at")} for line in told]
    assert keys[:2] == [{"what", "input", "tip"}] * 2
    assert keys[2:4] == [{"what", "tool", "staple"}] * 2
    assert keys[4:6] == [{"what", "pickup", "side"}] * 2
    assert [line.get("inverts") for line in told[6:]] == [False, True]
    with pytest.raises(LogError, match='needs "pickup"'):
        check_of(("held", "under"), **typed | {"pickup": ""})
