"""Hum that is left in a setting: what it is reckoned from, and where nothing is said."""

from __future__ import annotations

import numpy as np
import pytest

from capture.job import Job, Member, Pickup, Setting
from capture.log import TakeFields
from dsp.methods.hum import NUMBERS, HumLines
from reports.evidence.settings import jack_mixes
from reports.inference.jack import HumGroup
from reports.messages.sentences import say
from reports.model.notes import HumLeft
from reports.model.verdict import SettingVerdict
from reports.render.exports import spelled
from reports.verdict.hum_left import settings_with_hum_left

OHMS = {"bridge": 6.4, "neck": 4.0}


def row(
    *, join="parallel", hum="cancels", turns=(None, None), coils=1, kohm=OHMS, mains_hz=None, levels=None
):
    pickups = [Pickup(name=n, turns=t) for n, t in zip(("bridge", "neck"), turns, strict=True)]
    pickups[1] = pickups[1].model_copy(update={"coils": coils})
    both = Setting(name="both", on=tuple(Member(pickup=p.name) for p in pickups), join=join)
    job = Job(pickups=tuple(pickups), settings=(both,), mains_hz=mains_hz)
    given = SettingVerdict(name="both", sounds="full", hum=hum, join=join)
    hums = [] if levels is None else [group(job, levels)]
    (found,) = settings_with_hum_left(job, [given], kohm=kohm, hums=hums)
    return found


def group(job, levels):
    """Hum on some settings, each so many dB loud."""
    named = [(name, 0) for name in levels]
    jack = jack_mixes(job, named, stage="found")
    sizes = [np.full(5, 10 ** (db / 20)) for db in levels.values()]
    lines = tuple(HumLines(50.0, NUMBERS, size + 0j, np.full(5, 1e-4), 0, 2.0, 0, 0.005) for size in sizes)
    entry = TakeFields("hum", ("bridge",)).entry(id="t001")
    return HumGroup(entry, jack, (entry,) * len(lines), tuple(levels), lines)


def test_as_it_was_heard_before_anything_reckoned():
    found = row(levels={"bridge": -20, "both": -33, "neck": -22}, turns=(8000, 5000))
    assert found.hum_left_from == "heard"
    assert found.hum_left_db["150"] == pytest.approx(-13)
    assert "13 dB at 50 Hz" in say(found.notes[-1])


def test_from_the_hum_of_each_alone_where_the_setting_was_not_heard():
    """A voltage 8.5 dB less is that of 3000 turns for 8000: 5000 of 8000 are left in series."""
    found = row(levels={"bridge": -20.0, "neck": -20 + 20 * np.log10(3 / 8)}, join="series", kohm={})
    assert found.hum_left_from == "levels"
    assert found.hum_left_db["50"] == pytest.approx(20 * np.log10(5 / 8), abs=0.3)


def test_from_the_ohms_as_a_stand_in():
    """8000 against 5000 turns, if the wire is the same: see tests of dsp.model.hum_left."""
    found = row()
    assert found.hum_left_from == "ohms"
    assert set(found.hum_left_db) == {"50", "100", "150", "250", "350"}
    assert found.hum_left_db["50"] == pytest.approx(-34, abs=1)
    assert found.hum_left_db["250"] == pytest.approx(-21, abs=1)
    assert "34 dB at 50 Hz and 21 dB at 250 Hz" in say(found.notes[-1]) and "one wire" in say(found.notes[-1])
    assert spelled(found)["hum_left_db"]["50"] == found.hum_left_db["50"]


def test_turns_go_before_ohms():
    found = row(turns=(8000, 8000), join="series")
    assert found.hum_left_from == "turns"
    assert found.hum_left_db["50"] < -35
    assert row(turns=(8000, None), join="series").hum_left_from == "ohms"
    assert row(turns=(8000, 5000), kohm={}, join="series").hum_left_db["50"] == pytest.approx(-8.7, abs=0.1)


def test_at_60_hz():
    assert set(row(mains_hz=60).hum_left_db) == {"60", "120", "180", "300", "420"}


def test_two_that_hum_have_a_level_and_no_sentence():
    found = row(hum="hums", join="series")
    assert found.hum_left_db["50"] > 3
    assert found.notes == ()


@pytest.mark.parametrize("unknown", [{"hum": "unknown"}, {"kohm": {"bridge": 6.4}}, {"coils": 2}])
def test_nothing_is_said_where_it_is_not_known(unknown):
    found = row(**unknown)
    assert (found.hum_left_db, found.hum_left_from, found.notes) == (None, None, ())


def test_no_more_than_40_db_is_promised():
    assert "more than 40 dB at 50 Hz" in say(HumLeft(((50, -60.0), (250, -33.0)), "levels"))
