"""Circuits inside pickups: ohms at the jack, hum that is left and level, as the verdict of a job has them."""

import pytest
from judging_jobs import JobOnDisk

from capture import JobError
from capture.job import parse_job
from capture.takes.folder import JobFolder
from reports.messages.sheets import network_table
from reports.render.text import as_text
from reports.verdict.building import judge

TOML = """format = 1
title = "Circuits"
[[pickup]]
name = "bridge"
[[pickup]]
name = "neck"
coils = {coils}
coil_kohm = {kohm}
{more}
[[setting]]
name = "parallel"
on = [{{pickup = "neck", circuit = "1 | 2"}}]
[[setting]]
name = "part split"
on = [{{pickup = "neck", circuit = "1 + (2 | 22n)"}}]
[[setting]]
name = "with a resistor"
on = [{{pickup = "neck", circuit = "1 + (2 | 4k)"}}]
[[setting]]
name = "tap"
on = [{{pickup = "neck", circuit = "1@50%"}}]
"""


def verdict_of(tmp_path, *, coils=2, kohm="[4.0, 4.0]", more=""):
    job = JobOnDisk(tmp_path / "job", TOML.format(coils=coils, kohm=kohm, more=more))
    return judge(JobFolder.open(job.home)).verdict


def test_ohms_hum_and_level_follow_from_the_circuit(tmp_path):
    verdict = verdict_of(tmp_path)
    jack = {row.setting: row.kohm for row in verdict.jack_ohms}
    assert jack["parallel"] == pytest.approx(2.0)
    assert jack["part split"] == pytest.approx(8.0)
    assert jack["with a resistor"] == pytest.approx(6.0)
    assert jack["tap"] == pytest.approx(2.0)
    rows = {row.setting: row for row in verdict.networks}
    assert rows["parallel"].level_db["200"] == pytest.approx(-6.0, abs=0.3)
    assert rows["parallel"].hum_left_db["50"] < -50
    # half of coil 2 is left of it: a coil less a half of its twin
    assert rows["with a resistor"].hum_left_db["50"] == pytest.approx(-6.0, abs=1.0)
    assert rows["part split"].hum_left_db["50"] < -20
    assert rows["part split"].level_db["3000"] < rows["part split"].level_db["200"] - 3
    assert rows["tap"].level_db["200"] == pytest.approx(-12.0, abs=0.3)


def test_what_is_said_of_hum_goes_by_the_circuit(tmp_path):
    hum = {s.name: s.hum for s in verdict_of(tmp_path).settings}
    assert hum == {
        "parallel": "cancels",
        "part split": "cancels",
        "with a resistor": "unknown",
        "tap": "hums",
    }


def test_three_coils_are_a_pickup_that_hums_by_the_one_left_over(tmp_path):
    verdict = verdict_of(tmp_path, coils=3, kohm="[4.0, 4.0, 4.0]", more='circuit = "1 + 2 + 3"')
    neck = next(row for row in verdict.networks if row.setting == "neck")
    assert neck.kohm == pytest.approx(12.0)
    assert neck.hum_left_db["50"] == pytest.approx(0.0, abs=0.5)


def test_without_ohms_the_circuit_is_reckoned_for_usual_coils_and_says_so(tmp_path):
    verdict = verdict_of(tmp_path, kohm="[4.0, 4.0]").model_copy()
    assert {row.reckoned_from for row in verdict.networks} == {"ohms"}
    assert network_table(verdict)[1][1] == "1 | 2"
    assert "What the circuits inside pickups give".upper() in as_text(verdict)


@pytest.mark.parametrize(
    ("circuit", "why"), [("1 + 3", "has coil 3"), ("1 +", "write coils by number"), ("1 ; 2", "by number")]
)
def test_a_circuit_that_cannot_be_is_refused(circuit, why):
    with pytest.raises(JobError, match=why):
        parse_job(f'format = 1\n[[pickup]]\nname = "p"\ncoils = 2\ncircuit = "{circuit}"\n')
