"""Leads of unknown colours as a person gets them: in the verdict, as text, on the page, as JSON."""

import json
import xml.etree.ElementTree as ET

import pytest
from coil_jobs import job_of
from judging_jobs import JobOnDisk, paired_job

from capture.takes.folder import JobFolder
from reports.messages.sentences import say
from reports.messages.summary import proof_lines
from reports.model.notes import WireThenRecord
from reports.render.exports import as_json
from reports.render.report import write_report
from reports.render.text import as_text
from reports.verdict.building import judge

HOT = ("violet", "brown")
WRONG = (("violet", "brown"), 4.1)
TWO_LEADS = (("violet", "orange", 4.1),)
TWO_COILS = (*TWO_LEADS, ("brown", "grey", 4.0), ("violet", "grey", None))


def judged(home, **said):
    job, ids = job_of(home, hot=HOT, **said)
    return judge(JobFolder.open(job.home)), ids


def test_the_wiring_table_says_lead_by_lead(tmp_path):
    verdict = judged(tmp_path / "job")[0].verdict
    row = next(r for r in verdict.wiring if r.pickup == "neck")
    assert row.join_coils
    assert row.exchange is False
    assert sorted(row.leads.values()) == ["ground", "hot", "link", "link"]
    hot, ground = (next(k for k, v in row.leads.items() if v == role) for role in ("hot", "ground"))
    assert {hot, ground} in ({"violet", "grey"}, {"brown", "orange"})
    text = as_text(verdict)
    assert "neck: JOIN its coils and wire it as below" in text
    assert "are like ends" in text
    (pair,) = verdict.pairs
    assert pair.standing == "unsettled"
    assert pair.next == WireThenRecord("neck")
    assert json.loads(as_json(verdict))["coil_leads"][0]["pickup"] == "neck"


def test_a_contradiction_stops_the_soldering_and_says_what_to_measure(tmp_path):
    judgement, ids = judged(tmp_path / "job", wrong=WRONG)
    row = next(r for r in judgement.verdict.wiring if r.pickup == "neck")
    assert row.exchange is None
    assert not row.join_coils
    assert row.leads == {}
    text = " ".join(as_text(judgement.verdict).split())
    assert "TO DO: Do not solder yet, not known: neck." in text
    assert f"NEXT: {ids['violet', 'brown']} (violet to brown: 4.1 k) is most probably wrong" in text


LOOSE = """format = 1
[[pickup]]
name = "bridge"
[[pickup]]
name = "neck"
coils = 2
fitted = false
[[setting]]
name = "split"
[[setting.on]]
pickup = "neck"
coil = 1
[[setting]]
name = "rear"
on = ["bridge"]
"""


@pytest.mark.parametrize("rows", [TWO_LEADS, TWO_COILS])
def test_nothing_is_proved_of_a_pickup_whose_leads_are_not_known(tmp_path, rows):
    """Which coil a split leaves depends on the lead that is hot, so nothing is proved of the split."""
    job = JobOnDisk(tmp_path / "job", LOOSE)
    for first, second, kohm in rows:
        job.log("ohms", pickup="neck", between=[first, second], kohm=kohm)
    verdict = judge(JobFolder.open(job.home)).verdict
    assert next(r for r in verdict.wiring if r.pickup == "neck").exchange is None
    split, rear = verdict.proof
    assert (split.aim_met, split.hum_cancels, split.coils) == (None, None, ())
    assert rear.hum_cancels is False
    assert proof_lines(verdict) == (say(rear.says),)


def test_the_page_has_a_drawing_of_the_joints(tmp_path):
    judgement, _ = judged(tmp_path / "job")
    page = write_report(judgement, tmp_path / "report").read_text(encoding="utf-8")
    drawing = page[page.index('<section class="coil_leads">') :]
    drawing = drawing[drawing.index("<svg") : drawing.index("</svg>") + len("</svg>")]
    words = [t.text for t in ET.fromstring(drawing).iter() if t.tag == "text" and t.text]
    assert {"violet", "orange", "brown", "grey", "joined"} <= set(words)


def test_two_coils_tell_of_each_other_without_another_pickup(tmp_path):
    """Lifts on the two coils alone: like ends are known, and the reference is what is asked for."""
    verdict = judged(tmp_path / "job", only=(1, 2))[0].verdict
    (leads,) = verdict.coil_leads
    assert set(leads.like_ends) in ({"violet", "brown"}, {"orange", "grey"})
    assert leads.roles == {}
    assert say(leads.next) == "Record three lifts on bridge on the same input, with the same tool."


def test_what_a_meter_should_read_at_the_jack(tmp_path):
    """Two pickups of 6 k and 8 k in parallel: 3.43 k, and 3.38 k with 250 k across (parallel resistances)."""
    toml = """format = 1
[[pickup]]
name = "a"
[[pickup]]
name = "b"
[[setting]]
name = "both"
on = ["a", "b"]
"""
    job = JobOnDisk(tmp_path / "job", toml)
    for name, kohm in (("a", 6.0), ("b", 8.0)):
        job.log("meter", pickup=name, move="away", reading="rises", red="hot", kohm=kohm)
    rows = {r.setting: r for r in judge(JobFolder.open(job.home)).verdict.jack_ohms}
    assert rows["both"].kohm == pytest.approx(24 / 7)
    assert rows["both"].with_pot["250"] == pytest.approx(1 / (7 / 24 + 1 / 250))
    assert "3.4 k" in as_text(judge(JobFolder.open(job.home)).verdict)


SETTING = """
[[setting]]
name = "both"
on = ["bridge", "neck"]
"""
CHANGE = {"brown": "hot", "orange": "ground", "grey": "link", "violet": "link"}


@pytest.mark.parametrize(("neck", "said"), [("rises", "as planned"), ("falls", "not as planned")])
def test_after_soldering_it_is_compared_with_what_the_joining_was_to_give(tmp_path, neck, said):
    """The joining is not proposed again, and what is heard after it says how it came out."""
    job, _ = job_of(tmp_path / "job", hot=HOT)
    toml = job.home / "job.toml"
    toml.write_text(toml.read_text() + SETTING)
    job.log("change", pickup="neck", leads=CHANGE)
    for tool in ("one rod", "another rod"):
        for name, reading in (("bridge", "rises"), ("neck", neck)):
            job.log("meter", pickup=name, move="away", reading=reading, red="hot", tool=tool, stage="after")
    verdict = judge(JobFolder.open(job.home)).verdict
    assert verdict.came_out.code == said
    assert [row.planned for row in verdict.stages] == ["full"]
    assert not any(row.join_coils for row in verdict.wiring)


@pytest.mark.parametrize("coils", [1, 2])
def test_a_loose_pickup_without_named_leads_that_was_heard_whole_gets_a_plan(opposed, coils, tmp_path):
    """As the page's first screen begins it: two leads were on the clips, so no coil has to be looked for."""
    loose = f'name = "neck"\nfitted = false\ncoils = {coils}'
    job = paired_job(tmp_path / "job", opposed, toml=opposed.toml.replace('name = "neck"', loose, 1))
    (row,) = [row for row in job.verdict.wiring if row.pickup == "neck"]
    assert row.exchange is True
