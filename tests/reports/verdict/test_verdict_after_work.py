"""What the verdict says after the work: what was known stays, and only what is heard says how it came out.

By construction: a meter that rises on both pickups is in phase, rises on one and falls on the other out of
phase (sources P4); exchanging hot and ground turns a pickup over (R1).
"""

import json

import pytest
from coil_jobs import job_of
from judging_jobs import LEADS, PLAIN, JobOnDisk, called

from reports.messages.sentences import say
from reports.messages.summary import headline, to_do
from reports.model.lead_notes import PlanWithheld
from reports.model.notes import NameLeads
from reports.model.work_notes import EnterWiring, WorkContradicted
from reports.render.exports import as_json
from reports.render.text import as_text

EXCHANGED = {"grey": "hot", "violet": "ground"}
BOTH = '[[setting]]\nname = "both"\non = ["bridge", "neck"]\n'
FITTED = LEADS.replace("fitted = false\n", "")
THREE = FITTED.replace(
    "[[setting]]", '[[pickup]]\nname = "middle"\nhot = "red"\nground = "blue"\n[[setting]]'
)
TOOLS = ("one rod", "another rod")


def swings(job, bridge, neck, **said):
    """Both read twice, with two tools."""
    for tool in TOOLS:
        job.meter("bridge", bridge, tool=tool, **said)
        job.meter("neck", neck, tool=tool, **said)


def worked_on(home, *, toml=FITTED, found="falls", after="rises", change="neck", leads=EXCHANGED):
    """Found (out of phase unless ``found`` is "rises"), changed, and read after the work."""
    job = JobOnDisk(home, toml)
    swings(job, "rises", found)
    if change:
        job.log("change", id="c001", pickup=change, leads=leads, stage="after")
    if after:
        swings(job, "rises", after, stage="after")
    return job


def ids(job, stage):
    lines = map(json.loads, (job.home / "bench.jsonl").read_text().splitlines())
    return [e["id"] for e in lines if e.get("stage", "found") == stage and e["kind"] == "meter"]


def test_came_out_as_planned_names_every_setting_that_is_heard(tmp_path):
    verdict = worked_on(tmp_path / "job").verdict
    assert (verdict.came_out.code, verdict.conflicts) == ("as planned", ())
    assert (
        say(verdict.came_out) == 'The harness came out as planned, as heard after the work: "both" is full.'
    )
    (pair,) = verdict.pairs
    before, after = pair.from_before_work, pair.from_after_work
    assert before.phase == after.phase == "in phase"
    assert not set(before.entries) & set(after.entries)
    assert [m.before_work for m in pair.by] == [False, True]
    assert "meter swing, from before the work" in as_text(verdict)


@pytest.mark.parametrize(
    ("found", "after", "change", "said"),
    [
        pytest.param("rises", "falls", "neck", "not as planned", id="entered, made, and against the aim"),
        pytest.param("falls", "falls", None, "not as planned", id="nothing done"),
        pytest.param("falls", "rises", None, "not entered", id="done and not entered"),
        pytest.param("rises", "rises", None, "as found", id="nothing needed"),
        pytest.param("falls", None, "neck", None, id="entered and not heard"),
        pytest.param("rises", "rises", "neck", "against the log", id="entered and not made"),
    ],
)
def test_an_entered_change_is_not_held_against_itself(tmp_path, found, after, change, said):
    verdict = worked_on(tmp_path / "job", found=found, after=after, change=change).verdict
    assert (verdict.came_out and verdict.came_out.code) == said
    assert "came out as planned, as heard" not in as_text(verdict)


def test_a_quiet_setting_has_come_out_when_its_hum_is_heard(tmp_path):
    toml = FITTED.replace('on = ["bridge", "neck"]', 'on = ["bridge", "neck"]\nquiet = true')
    assert worked_on(tmp_path / "job", toml=toml).verdict.came_out.code == "not recorded"


def test_what_is_carried_over_settles_nothing_and_is_named(tmp_path):
    """One reading after the work that tells nothing: what was known is there, likely at most, and says so."""
    job = worked_on(tmp_path / "job", after=None)
    promised = job.verdict.pairs[0]
    assert (promised.phase, promised.standing) == ("in phase", "likely")
    job.meter("bridge", "unclear", stage="after")
    (pair,) = job.verdict.pairs
    assert (pair.phase, pair.standing, pair.from_after_work) == ("in phase", "likely", None)
    assert pair.from_before_work.phase == "in phase"
    assert pair.because.code == "from before the work"
    assert "--stage after" in say(pair.next)


def test_leads_without_names_keep_what_was_found(tmp_path):
    job = JobOnDisk(tmp_path / "job", PLAIN + BOTH)
    swings(job, "rises", "falls")
    job.meter("bridge", "unclear", stage="after")
    (pair,) = job.verdict.pairs
    assert (pair.phase, pair.standing) == ("out of phase", "likely")


def test_a_change_that_names_leads_for_the_first_time_is_an_exchange_where_a_pickup_is_wired_in(tmp_path):
    verdict = worked_on(tmp_path / "job", toml=PLAIN + BOTH).verdict
    (pair,) = verdict.pairs
    assert (pair.phase, pair.from_before_work.phase, verdict.conflicts) == ("in phase", "in phase", ())


def test_a_loose_pickup_that_nobody_named_the_leads_of_is_asked_for_their_names(tmp_path):
    loose = (PLAIN + BOTH).replace('name = "neck"', 'name = "neck"\nfitted = false')
    job = worked_on(tmp_path / "job", toml=loose, after=None)
    (pair,) = job.verdict.pairs
    assert (pair.p_in_phase, pair.because.code, pair.next) == (None, "leads not named", NameLeads("neck"))
    toml = job.home / "job.toml"
    toml.write_text(loose.replace("fitted = false", 'fitted = false\nhot = "violet"\nground = "grey"'))
    assert job.verdict.pairs[0].phase == "in phase"


def test_a_four_lead_pickup_that_was_joined_as_told_is_in_phase_as_told(tmp_path):
    """The chain that is told, entered as told: known before anything is heard after it."""
    job, _ = job_of(tmp_path / "job", hot=("violet", "brown"))
    told = next(r for r in job.verdict.wiring if r.pickup == "neck").leads
    job.log("change", pickup="neck", leads=told)
    (pair,) = job.verdict.pairs
    assert (pair.phase, pair.standing) == ("in phase", "likely")
    over = {"hot": "ground", "ground": "hot", "link": "link"}
    exchanged = {lead: over[role] for lead, role in reversed(told.items())}
    job.log("change", pickup="neck", leads=exchanged)
    assert job.verdict.pairs[0].phase == "out of phase"


def test_what_is_heard_against_the_entered_work_is_a_conflict_and_stops_the_plan(tmp_path):
    job = worked_on(tmp_path / "job", toml=THREE, after="falls")
    verdict = job.verdict
    (conflict,) = verdict.conflicts
    assert isinstance(conflict.likely_cause, WorkContradicted)
    cause = say(conflict.likely_cause)
    assert cause.startswith(
        "most likely the change entered at neck (c001) was not made, or was made at another"
    )
    assert "middle" in cause and "bridge" in cause
    assert (verdict.pairs[0].phase, verdict.pairs[0].standing) == ("out of phase", "likely")
    assert (verdict.wiring, verdict.plan_reason) == ((), PlanWithheld("work contradicted"))
    assert to_do(verdict).startswith("Do not solder yet")
    assert json.loads(as_json(verdict))["conflicts"][0]["between"][0] == "the work as entered"
    assert called("verdict", job.home) == 3


@pytest.mark.parametrize(
    ("found", "after", "change", "entered"),
    [
        pytest.param("falls", "falls", "neck", ["void c001"], id="not made"),
        pytest.param(
            "falls",
            "falls",
            "neck",
            ["void c001", "change middle blue=hot red=ground --before m006"],
            id="at another",
        ),
        pytest.param(
            "falls", "rises", None, ["change neck grey=hot violet=ground --before m005"], id="not entered"
        ),
        pytest.param("rises", "rises", "neck", ["void c001"], id="spoilt on paper alone"),
    ],
)
def test_the_entry_that_it_asks_for_ends_the_conflict(tmp_path, found, after, change, entered):
    job = worked_on(tmp_path / "job", toml=THREE, found=found, after=after, change=change)
    (conflict,) = job.verdict.conflicts
    said = say(conflict.next)
    for command in entered:
        verb, *rest = command.split()
        assert f"coilwise {verb} FOLDER {' '.join(rest)}" in said
        assert called(verb, job.home, *rest) == 0
    verdict = job.verdict
    assert verdict.conflicts == ()
    assert verdict.pairs[0].standing in ("settled", "likely")
    assert (verdict.pairs[0].phase == "in phase") == (after == "rises")
    assert headline(verdict)


def test_while_nobody_knows_where_the_change_was_made_nothing_found_before_says_how_a_pickup_is(tmp_path):
    """The change may have been made at middle: bridge and middle, not heard since, are not called likely."""
    job = JobOnDisk(tmp_path / "job", THREE)
    for name in ("bridge", "middle", "neck"):
        for tool in TOOLS:
            job.meter(name, "falls" if name == "neck" else "rises", tool=tool)
    job.log("change", id="c001", pickup="neck", leads=EXCHANGED, stage="after")
    swings(job, "rises", "falls", stage="after")
    pairs = {(p.a, p.b): p for p in job.verdict.pairs}
    assert pairs["bridge", "neck"].phase == "out of phase"
    rest = pairs["bridge", "middle"]
    assert (rest.phase, rest.from_before_work.phase) == (None, "in phase")
    assert rest.next == pairs["bridge", "neck"].next


def test_what_was_found_before_can_be_taken_back(tmp_path):
    job = worked_on(tmp_path / "job", after="falls")
    assert "coilwise void FOLDER m001 m002 m003 m004" in say(job.verdict.conflicts[0].next)
    for entry in ids(job, "found"):
        job.log("void", entry=entry)
    assert job.verdict.conflicts == ()
    assert job.verdict.pairs[0].phase == "out of phase"


def test_the_stage_alone_makes_nothing_surer_until_it_is_entered_how_a_loose_pickup_was_wired_in(tmp_path):
    stages = {}
    for stage in ("found", "after"):
        stages[stage] = JobOnDisk(tmp_path / stage, LEADS)
        swings(stages[stage], "rises", "rises", stage=stage)
    found, after = (stages[s].verdict.pairs[0] for s in ("found", "after"))
    assert (after.p_in_phase, after.standing) == (found.p_in_phase, found.standing)
    assert found.standing != "settled"
    assert isinstance(after.next, EnterWiring)
    leads = after.next.leads
    job = stages["after"]
    job.log(
        "change", id="c001", pickup=leads.pickup, leads={leads.hot: "hot", leads.ground: "ground"},
        stage="after", before=after.next.first_after,
    )  # fmt: skip
    entered = job.verdict.pairs[0]
    assert entered.p_in_phase > after.p_in_phase
    assert not isinstance(entered.next, EnterWiring)
