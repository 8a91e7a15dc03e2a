"""Evidence on the ends of one coil: whose sign it is, what it is not tied to, and what it asks for."""

import pytest
from coil_jobs import chain_of, job_of, leads_of, lifts

from capture.job import Job, Pickup
from capture.log import LeadsInput, Ohms, Take
from capture.takes.folder import JobFolder
from reports.evidence.leads import lead_history
from reports.inference.evidence_graph import EvidenceGraph
from reports.model.lead_notes import LeadRequest
from reports.model.take_notes import TakeNote
from reports.plan.joints import coil_relation
from reports.verdict.building import judge

HOT = ("violet", "brown")


def ohms(*rows):
    return [
        Ohms(id=f"r{k:03d}", pickup="neck", between=(a, b), kohm=kohm)
        for k, (a, b, kohm) in enumerate(rows, start=1)
    ]


FOUR = (("violet", "orange", 4.1), ("brown", "grey", 4.0), ("violet", "grey", None))
TWO = (("violet", "orange", 8.1),)


def walked(rows, tip, sleeve, **neck):
    job = Job(pickups=(Pickup(name="bridge"), Pickup(name="neck", coils=2, fitted=False, **neck)))
    item = LeadsInput(pickup="neck", hot=tip, ground=sleeve)
    take = Take(id="t001", file="takes/t001.wav", gesture="lift", inputs=(item,))
    history = lead_history(job, [*ohms(*rows), take])
    return history, history.seen_at_leads(take, "neck", hot=tip, ground=sleeve)


@pytest.mark.parametrize(
    ("tip", "sleeve", "coil", "turned"),
    [
        ("brown", "grey", 1, False),
        ("grey", "brown", 1, True),
        ("orange", "violet", 2, False),
        ("violet", "orange", 2, True),
    ],
)
def test_clips_on_the_ends_of_a_coil_show_that_coil(tip, sleeve, coil, turned):
    _, seen = walked(FOUR, tip, sleeve)
    assert (seen.coil, seen.turned, seen.now) == (coil, turned, True)


def test_clips_across_two_coils_show_nothing():
    assert walked(FOUR, "violet", "grey")[1] is None


def test_a_joint_inside_makes_the_outer_ends_the_whole():
    rows = (("a", "b", 4.1), ("b", "c", 4.0), ("a", "c", 8.1))
    _, seen = walked(rows, "c", "a")
    assert (seen.coil, seen.turned) == (None, True)


def test_two_leads_are_the_whole_as_without_readings():
    history, seen = walked(TWO, "violet", "orange")
    assert not history.unjoined
    assert (seen.coil, seen.turned) == (None, False)


def test_leads_that_the_job_names_stay_as_they_were():
    history, seen = walked(FOUR, "violet", "orange", hot="violet", ground="grey", link=("orange", "brown"))
    assert not history.unjoined
    assert (seen.coil, seen.turned) == (1, False)


@pytest.mark.parametrize("letter", ["s", "w"])
def test_coils_that_are_not_joined_are_tied_to_nothing(letter):
    history, seen = walked(FOUR, "violet", "orange")
    graph = EvidenceGraph(history)
    graph.add_sign_variables(seen, letter=letter)
    assert not graph.ties
    assert not graph.errors


def test_the_whole_of_it_has_no_phase_yet(tmp_path):
    job, _ = job_of(tmp_path / "job", hot=HOT)
    posterior = judge(JobFolder.open(job.home)).posterior
    assert posterior.in_phase("bridge", "neck") is None
    signs = coil_relation(posterior, "neck", "bridge")
    assert signs.p_alike < 0.1  # brown and orange come first, and violet is orange's other end
    assert signs.p_first_in_phase > 0.9
    assert signs.p_both <= min(1 - signs.p_alike, signs.p_first_in_phase)


def test_it_carries_over_to_the_stage_after_the_work(tmp_path):
    job, _ = job_of(tmp_path / "job", hot=HOT)
    before = chain_of(leads_of(job))
    _, rows = lifts(20261125)
    job.take(rows[0][1] * 0.9, ["bridge"], gesture="lift", stage="after")
    assert chain_of(leads_of(job))[0] == before[0]


def test_where_the_coils_are_not_known_a_take_on_two_leads_says_nothing(tmp_path):
    job, _ = job_of(tmp_path / "job", hot=HOT, readings=False)
    for pair in (["violet", "orange"], ["brown", "grey"]):
        job.log("ohms", pickup="neck", between=pair, kohm=4.0)
    row = leads_of(job)
    assert row.roles == {}
    assert row.next.code == "measure a pair"
    remarks = [note for take in job.verdict.takes for note in take.remarks]
    assert remarks.count(TakeNote("leads not known")) == 4


@pytest.mark.parametrize(
    ("coils", "bridge", "asks"),
    [
        ((1,), True, (("brown", "grey"),)),
        ((2,), True, (("orange", "violet"),)),
        ((), True, (("brown", "grey"), ("orange", "violet"))),
        ((1, 2), False, ()),
    ],
)
def test_it_asks_for_the_lifts_that_are_missing(tmp_path, coils, bridge, asks):
    job, _ = job_of(tmp_path / "job", hot=HOT, only=(*coils, *(["bridge"] if bridge else [])))
    row = leads_of(job)
    assert row.roles == {}
    assert row.next == LeadRequest("record lifts", "neck", asks, None if bridge else "bridge")


def test_swings_of_the_meter_on_coils_tell_as_well_once_a_compass_says_how_they_lie(tmp_path):
    job, _ = job_of(tmp_path / "job", hot=HOT, only=())
    for _ in range(2):
        job.meter("bridge", "rises")
        for red, black in (("violet", "orange"), ("brown", "grey")):
            job.log("meter", pickup="neck", move="away", reading="rises", red=red, black=black)
    assert leads_of(job).next.code == "how coils lie"
    for coil, facing in ((1, "north"), (2, "south")):
        job.log("pole", pickup="neck", coil=coil, facing=facing)
    hot, _, outer, _ = chain_of(leads_of(job))
    assert {hot, outer} == set(HOT)


def test_without_readings_it_asks_for_them(tmp_path):
    job, _ = job_of(tmp_path / "job", hot=HOT, readings=False)
    assert leads_of(job).next == LeadRequest("measure the coils", "neck")
