"""A guitar with a volume each and no selector: what is asked for, what is drawn, and what is heard."""

from datetime import date

import pytest
from dsp_parts import BRIDGE, NECK, SCALE_MM, swept
from judging_jobs import RATE, JobOnDisk

from capture.job.reading import read_job
from capture.takes.folder import JobFolder
from reports.entry.changed_job import change_job, fields_of
from reports.entry.first_job import first_job, layouts_for
from reports.entry.new_job import create_job_folder
from reports.messages.session import connections, instruction, large_text
from reports.messages.summary import first_step, to_do
from reports.render.play_picture import play_svg
from reports.session.rounds import rounds
from reports.verdict.building import judge

SWEPT = ["bridge", "both", "neck"]


@pytest.fixture
def home(tmp_path):
    layout = next(one for one in layouts_for("closed") if one.control == "volumes")
    return create_job_folder(
        first_job(layout, (1, 1), under=tmp_path, today=date(2026, 3, 5)), under=tmp_path
    )


def test_no_step_speaks_of_a_selector_or_draws_one(home):
    job = change_job(home, fields_of(read_job(home)))
    assert job.control == "volumes"
    steps = [step for one in rounds(job, inputs=2) for step in one.steps]
    assert {s.gesture for s in steps} == {"switch", "pluck", "press", "lift"}
    for step in steps:
        said = " ".join((large_text(step), *connections(step), instruction(step)))
        assert "elector" not in said + play_svg(job, None, now=step)
        assert "Volume of" in said
    verdict = judge(JobFolder.open(home)).verdict
    assert "turn neck full up" in first_step(verdict)
    assert "elector" not in to_do(verdict) + first_step(verdict)
    sweep = next(s for s in steps if s.gesture == "switch")
    assert sweep.volumes == (("bridge", True), ("neck", False))
    assert "turn the volume of neck full up" in instruction(sweep)


@pytest.mark.parametrize("sign", [1, -1])
def test_sweeps_with_volumes_are_heard_and_never_settle_in_phase_by_themselves(tmp_path, sign):
    """A knob mistaken for the other always looks in phase, and one such mistake is behind all sweeps."""
    toml = f"""format = 1
scale_mm = {SCALE_MM}
control = "volumes"
[[pickup]]
name = "bridge"
centre_mm = {BRIDGE}
[[pickup]]
name = "neck"
centre_mm = {NECK}
[[setting]]
name = "both"
on = ["bridge", "neck"]
"""
    job = JobOnDisk(tmp_path / "job", toml)
    for name in ("E2", "A2", "E2", "A2"):
        job.take(swept(sign, name=name), [SWEPT], gesture="switch", string=name, rate=RATE)
    pair = job.pair
    assert (pair.p_in_phase > 0.5) == (sign > 0)
    assert max(pair.p_in_phase, 1 - pair.p_in_phase) > 0.9
    assert sign < 0 or pair.standing == "likely"
