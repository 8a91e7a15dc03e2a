"""What levels of taps say of the selector's list, on levels made by hand: dB at each position and pole."""

from __future__ import annotations

import pytest

from capture.job import parse_job
from capture.log import Take
from dsp.methods.taps import TapLevel
from reports.evidence.results import SettingTaps, TakeResult
from reports.inference.taps import tap_findings

THREE_TOML = """format = 1
[[pickup]]
name = "bridge"
[[pickup]]
name = "middle"
[[pickup]]
name = "neck"
[[setting]]
name = "rear"
on = ["bridge", "middle"]
[[setting]]
name = "front"
on = ["middle", "neck"]
"""
THREE = parse_job(THREE_TOML)
SPLIT = parse_job(
    """format = 1
[[pickup]]
name = "bridge"
[[pickup]]
name = "neck"
coils = 2
[[setting]]
name = "split"
on = [{pickup = "neck", coil = 1}]
"""
)
LISTED = {"bridge": {"bridge"}, "rear": {"bridge", "middle"}, "front": {"middle", "neck"}, "neck": {"neck"}}
MIRRORED = dict(zip(LISTED, reversed(LISTED.values()), strict=True))
POLES = ("bridge", "middle", "neck")


def taps(rows, job=THREE):
    """(setting, pole or (pole, coil), dB, how many taps stood out) each."""
    results = []
    for k, (setting, at, db, count) in enumerate(rows):
        pole, coil = at if isinstance(at, tuple) else (at, None)
        said = {"id": f"t{k:03d}", "file": f"takes/t{k:03d}.wav", "gesture": "tap", "inputs": (setting,)}
        entry = Take(**said, tapped=pole, coil=coil)
        results.append(TakeResult(entry, taps=(SettingTaps(setting, 0, TapLevel(db, -90.0, count)),)))
    return tap_findings(job, results)


def as_heard(real, *, loud=None, off=-75.0):
    """Taps on every pole at every position, as loud as ``loud`` has its pickup where that is on."""
    loud = {**dict.fromkeys(POLES, -30.0), **(loud or {})}
    return [
        (name, pole, loud[pole], 4) if pole in on else (name, pole, off, 0)
        for name, on in real.items()
        for pole in POLES
    ]


@pytest.mark.parametrize("softest", [-30.0, -48.0])
def test_a_list_is_held_against_what_is_heard_also_of_a_weaker_pickup(softest):
    for real, check in ((LISTED, "confirmed"), (MIRRORED, "contradicted")):
        found = taps(as_heard(real, loud={"middle": softest}))
        assert found.checks("found") == dict.fromkeys(LISTED, check)
        assert found.mirrored == (check == "contradicted")
        on = {p.setting: {c.pickup for c in p.on} for p in found.positions}
        assert on == real


def test_one_position_that_is_not_as_listed_is_not_the_list_from_its_other_end():
    found = taps(as_heard({**LISTED, "rear": {"middle"}}))
    checks = {**dict.fromkeys(LISTED, "confirmed"), "rear": "contradicted"}
    assert found.checks("found") == checks and not found.mirrored
    assert [f.pickup_or_setting for f in found.findings] == ["rear"]


@pytest.mark.parametrize(("below", "said"), [(12.0, True), (17.0, None), (24.0, False)])
def test_between_on_and_off_nothing_is_said(below, said):
    rows = [row for row in as_heard(LISTED) if row[:2] != ("rear", "middle")]
    found = taps([*rows, ("rear", "middle", -30.0 - below, 4)])
    (rear,) = (p for p in found.positions if p.setting == "rear")
    states = {c.pickup: c in rear.on for c in (*rear.on, *rear.off)}
    assert states.get("middle") == said
    assert rear.check == {True: "confirmed", None: None, False: "contradicted"}[said]


@pytest.mark.parametrize(("db", "count"), [(-75.0, 0), (-55.0, 4)], ids=["silent", "its neighbours hear it"])
def test_a_pickup_that_is_on_nowhere_contradicts_where_it_is_listed(db, count):
    rows = [row for row in as_heard(LISTED) if row[1] != "neck"]
    found = taps([*rows, *((name, "neck", db, count) for name in LISTED)])
    checks = {**dict.fromkeys(LISTED, "confirmed"), "front": "contradicted", "neck": "contradicted"}
    assert found.checks("found") == checks


def test_a_listed_pickup_that_was_not_tapped_leaves_its_position_open_also_on_clips():
    leads = 'name = "neck"\nfitted = false\nhot = "violet"\nground = "grey"'
    on_clips = parse_job(THREE_TOML.replace('name = "neck"', leads))
    rows = [row for row in as_heard(LISTED) if row[1] != "neck" and row[0] != "neck"]
    found = taps(rows, on_clips)
    assert found.checks("found") == {"bridge": "confirmed", "rear": "confirmed"}


def test_taps_that_are_all_alike_say_nothing():
    found = taps([(name, pole, -60.0, 4) for name, on in LISTED.items() for pole in POLES if pole in on])
    assert not found.positions and len(found.unplaced) == 6


@pytest.mark.parametrize(("softer", "check"), [(3.0, "contradicted"), (14.0, "confirmed"), (7.0, None)])
def test_of_two_coils_the_softer_is_off_where_the_other_may_hear_its_taps(softer, check):
    rows = [
        ("bridge", "bridge", -30.0, 4),
        ("bridge", ("neck", 1), -75.0, 0),
        ("bridge", ("neck", 2), -75.0, 0),
    ]
    rows += [("neck", "bridge", -75.0, 0), ("neck", ("neck", 1), -30.0, 4), ("neck", ("neck", 2), -30.0, 4)]
    rows += [("split", "bridge", -75.0, 0), ("split", ("neck", 1), -30.0, 4)]
    found = taps([*rows, ("split", ("neck", 2), -30.0 - softer, 4)], SPLIT)
    assert found.checks("found").get("split") == check
