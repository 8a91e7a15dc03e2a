"""A four-lead pickup of unknown colours, from readings and lifts to hot, link and ground."""

import pytest
from coil_jobs import Loose, chain_of, job_of, leads_of

HOTS = [("violet", "brown"), ("violet", "grey"), ("orange", "brown"), ("orange", "grey")]


@pytest.mark.parametrize("hot", HOTS)
def test_the_answer_follows_the_ends_that_are_hot(tmp_path, hot):
    job, _ = job_of(tmp_path / "job", hot=hot)
    row, truth = leads_of(job), Loose(hot)
    assert row.coils == (("brown", "grey"), ("orange", "violet"))
    assert row.next is None
    hot_lead, inner, outer, ground = chain_of(row)
    assert {hot_lead, outer} == set(truth.hot)
    assert {ground, inner} == set(truth.cold)
    assert (truth.hot.index(hot_lead), truth.cold.index(ground)) in {(0, 1), (1, 0)}
    assert set(row.like_ends) in (set(truth.hot), set(truth.cold))
    assert row.roles == {hot_lead: "hot", ground: "ground", inner: "link", outer: "link"}
    assert row.p >= 0.9


def test_a_reading_that_contradicts_is_named_and_nothing_is_to_be_joined(tmp_path):
    pair = ("violet", "brown")
    job, ids = job_of(tmp_path / "job", hot=("violet", "brown"), wrong=(pair, 4.1))
    row = leads_of(job)
    assert row.roles == {}
    assert row.next == row.contradictions[-1]
    assert (row.next.code, row.next.entries) == ("probably wrong", (ids[pair],))


def test_the_corrected_reading_gives_the_joining_again(tmp_path):
    pair = ("violet", "brown")
    job, ids = job_of(tmp_path / "job", hot=("violet", "brown"), wrong=(pair, 4.1))
    job.log("void", entry=ids[pair])
    job.log("ohms", pickup="neck", between=list(pair))
    hot, _, outer, _ = chain_of(leads_of(job))
    assert {hot, outer} == {"violet", "brown"}


def test_without_readings_no_leads_are_told(tmp_path):
    job, _ = job_of(tmp_path / "job", hot=("violet", "brown"), readings=False)
    assert (leads_of(job).roles, leads_of(job).why) == ({}, None)


def with_fifth(home, lead):
    """The same pickup with a fifth lead joined to orange, which is a cold end."""
    job, _ = job_of(home, hot=("violet", "brown"))
    job.log("ohms", pickup="neck", between=["orange", lead], kohm=0.0)
    job.log("ohms", pickup="neck", between=["grey", lead])
    return leads_of(job)


def test_a_bare_lead_on_a_cold_end_makes_that_end_ground(tmp_path):
    row = with_fifth(tmp_path / "job", "bare")
    hot, _, outer, ground = chain_of(row)
    assert {hot, outer} == {"violet", "brown"}
    assert (ground, row.shield_on, row.roles["bare"]) == ("orange", "orange", "shield")


def test_a_lead_that_is_one_with_an_end_does_what_that_end_does(tmp_path):
    row = with_fifth(tmp_path / "job", "pink")
    hot, _, outer, _ = chain_of(row)
    assert {hot, outer} == {"violet", "brown"}
    assert row.roles["pink"] == row.roles["orange"]
