"""Reasons come from the job or its evidence: why a pickup is left, what hum rests on, what is first.

By construction: a meter that rises on one pickup and falls on the other is out of phase (sources P4); two
coils of one pickup cancel hum between them, an odd number of single coils hums (P1).
"""

import numpy as np
import pytest
from judging_jobs import LEADS, JobOnDisk, paired_job

from reports.messages.sentences import say
from reports.messages.summary import headline, to_do
from reports.model.lead_notes import PlanWithheld
from reports.render.text import as_short_text, as_text
from reports.verdict.settings import MeasuredLoss

THREE = """format = 1
[[pickup]]
name = "bridge"
hot = "white"
ground = "green"
[[pickup]]
name = "middle"
hot = "red"
ground = "blue"
[[pickup]]
name = "neck"
hot = "violet"
ground = "grey"
"""
REAR = '[[setting]]\nname = "rear"\non = ["bridge", "middle"]\n'
FRONT = '[[setting]]\nname = "front"\non = ["middle", {front}]\n{more}'


@pytest.mark.parametrize(
    ("front", "more", "heard", "reason"),
    [
        pytest.param('"neck"', "", ("bridge", "neck"), "waits for others", id="middle was not recorded"),
        pytest.param('"neck", "bridge"', "", ("bridge", "neck"), "waits in its setting", id="all are on"),
        pytest.param(
            '"neck"', 'aim = "out of phase"', ("bridge", "middle", "neck"), "out of phase wanted", id="wanted"
        ),
        pytest.param(
            '{pickup = "neck", reversed = true}',
            "",
            ("bridge", "middle", "neck"),
            "reversed in a setting",
            id="reversed",
        ),
    ],
)
def test_why_a_pickup_that_is_out_of_phase_is_left_as_it_is(tmp_path, front, more, heard, reason):
    job = JobOnDisk(tmp_path / "job", THREE + REAR + FRONT.format(front=front, more=more))
    for tool in ("one rod", "another rod", "a third"):
        for name in heard:
            job.meter(name, "falls" if name == "neck" else "rises", tool=tool)
    (row,) = [r for r in job.verdict.wiring if r.pickup == "neck"]
    assert (row.exchange, row.why.code) == (False, reason)
    assert ("meant to be out of phase" in say(row.why)) == (reason == "out of phase wanted")
    if reason.startswith("waits"):
        assert "middle" in say(row.why)


def test_what_is_likely_shows_the_work_as_what_it_would_be_behind_the_take_that_settles_it(tmp_path):
    job = JobOnDisk(tmp_path / "job", LEADS)
    for name, reading in (("bridge", "rises"), ("neck", "falls")):
        job.meter(name, reading)
    verdict = job.verdict
    (pair,) = verdict.pairs
    assert pair.standing == "likely"
    said = to_do(verdict)
    assert said.startswith(
        f"Likely, not settled. First: {say(pair.next)} Then, if it stays so: At neck, exchange"
    )
    assert [r.standing for r in verdict.wiring] == ["likely", "likely"]
    assert "neck: likely, not settled: it would be to exchange hot and ground" in as_text(verdict)
    assert "EXCHANGE hot" not in as_text(verdict)
    assert "grey becomes hot, violet becomes ground" in " ".join(as_short_text(verdict).split())


@pytest.mark.parametrize("turned", [1, -1])
def test_what_a_split_check_found_stands_among_the_results(opposed, tmp_path, turned):
    job = paired_job(
        tmp_path / "job",
        opposed,
        split=lambda x: x * np.array([1, turned]),
        change=lambda x: x * np.array([1, turned]),
    )
    verdict = job.verdict
    (found,) = verdict.inputs
    assert (found.code, found.number, found.takes) == ({1: "alike", -1: "opposite"}[turned], 2, ("t001",))
    assert verdict.pairs[0].phase == "out of phase"
    assert ("Your inputs are opposite: input 2" in as_short_text(verdict)) == (turned < 0)


@pytest.mark.parametrize(
    ("neck", "db", "cannot_be"),
    [("rises", -12.7, True), ("rises", -1.0, False), ("falls", 4.0, True), ("falls", -12.7, False)],
)
def test_a_setting_that_measures_as_it_cannot_stands_first_and_stops_the_plan(
    tmp_path, monkeypatch, neck, db, cannot_be
):
    """Two pickups that add up lose nothing (P1): 12.7 dB below that, the list is of other pickups."""
    job = JobOnDisk(tmp_path / "job", LEADS)
    for tool in ("one rod", "another rod"):
        job.meter("bridge", "rises", tool=tool)
        job.meter("neck", neck, tool=tool)
    measured = {"both": MeasuredLoss(db, 1.5)}
    monkeypatch.setattr("reports.verdict.building.measured_losses", lambda *_: measured)
    verdict = job.verdict
    assert bool(verdict.conflicts) == cannot_be
    assert (verdict.wiring == ()) == cannot_be
    if cannot_be:
        assert verdict.plan_reason == PlanWithheld("list contradicted")
        assert verdict.conflicts[0].next.error.kind == "settings"
        assert headline(verdict).startswith(
            'The selector\'s list cannot be as job.toml has it: "both" is far too'
        )
        assert to_do(verdict).startswith("Do not solder yet")


def settings_of(*coils, names=("bridge", "middle", "neck")):
    pickups = "".join(
        f'[[pickup]]\nname = "{name}"\ncoils = {count}\n' for name, count in zip(names, coils, strict=False)
    )
    on = ", ".join(f'"{name}"' for name in names[: len(coils)])
    return f'format = 1\n{pickups}[[setting]]\nname = "all"\non = [{on}]\n'


@pytest.mark.parametrize(
    ("coils", "hum", "basis"),
    [
        ((2, 2), "cancels", ("coils",)),
        ((2, 1), "hums", ("coils",)),
        ((1, 1, 1), "hums", ("coils",)),
        ((1, 1), "unknown", ()),
    ],
)
def test_each_word_about_hum_says_what_it_rests_on(tmp_path, coils, hum, basis):
    job = JobOnDisk(tmp_path / "job", settings_of(*coils))
    for name in ("bridge", "middle", "neck")[: len(coils)]:
        job.meter(name, "rises")
    (setting,) = job.verdict.settings
    assert (setting.hum, setting.hum_from) == (hum, basis)
    text = " ".join(as_text(job.verdict).split())
    assert ("By how the coils are built: two coils" in text) == bool(basis)
    assert "99.9 %, by" not in text


def test_hum_by_the_compass_says_so(tmp_path):
    job = JobOnDisk(tmp_path / "job", settings_of(1, 1))
    for name, facing in (("bridge", "north"), ("middle", "south")):
        for tool in ("one rod", "another rod"):
            job.meter(name, "rises", tool=tool)
        job.log("pole", pickup=name, facing=facing)
    (setting,) = job.verdict.settings
    assert (setting.hum, setting.hum_from) == ("cancels", ("compass",))
    assert job.verdict.pairs[0].hum_from == ("compass",)
    assert "by the compass" in as_text(job.verdict)
