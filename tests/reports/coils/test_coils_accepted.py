"""A four-lead pickup of unknown colours, from readings and lifts to hot, link and ground."""

import pytest
from coil_jobs import Loose, job_of, leads_of

HOTS = [("violet", "brown"), ("violet", "grey"), ("orange", "brown"), ("orange", "grey")]


@pytest.mark.parametrize("hot", HOTS)
def test_the_answer_follows_the_ends_that_are_hot(tmp_path, hot):
    job, _ = job_of(tmp_path / "job", hot=hot)
    found, truth = leads_of(job), Loose(hot)
    join = found.joining
    assert found.ends.coils == (("brown", "grey"), ("orange", "violet"))
    assert join.ask == ""
    assert {join.hot, join.link[1]} == set(truth.hot)
    assert {join.ground, join.link[0]} == set(truth.cold)
    assert (truth.hot.index(join.hot), truth.cold.index(join.ground)) in {(0, 1), (1, 0)}
    assert set(join.like_ends) in (set(truth.hot), set(truth.cold))
    assert join.roles == {
        join.hot: "hot", join.ground: "ground", join.link[0]: "link", join.link[1]: "link",
    }  # fmt: skip
    assert join.p >= 0.9


def test_a_reading_that_contradicts_is_named_and_nothing_is_to_be_joined(tmp_path):
    pair = ("violet", "brown")
    job, ids = job_of(tmp_path / "job", hot=("violet", "brown"), wrong=(pair, 4.1))
    found = leads_of(job)
    assert found.joining is None
    assert f"{ids[pair]} (" in found.ends.contradictions[-1]
    assert "most probably wrong" in found.ends.contradictions[-1]


def test_the_corrected_reading_gives_the_joining_again(tmp_path):
    pair = ("violet", "brown")
    job, ids = job_of(tmp_path / "job", hot=("violet", "brown"), wrong=(pair, 4.1))
    job.log("void", entry=ids[pair])
    job.log("ohms", pickup="neck", between=list(pair))
    join = leads_of(job).joining
    assert {join.hot, join.link[1]} == {"violet", "brown"}


def test_without_readings_no_leads_are_told(tmp_path):
    job, _ = job_of(tmp_path / "job", hot=("violet", "brown"), readings=False)
    assert leads_of(job).joining is None


def with_fifth(home, lead):
    """The same pickup with a fifth lead joined to orange, which is a cold end."""
    job, _ = job_of(home, hot=("violet", "brown"))
    job.log("ohms", pickup="neck", between=["orange", lead], kohm=0.0)
    job.log("ohms", pickup="neck", between=["grey", lead])
    return leads_of(job).joining


def test_a_bare_lead_on_a_cold_end_makes_that_end_ground(tmp_path):
    join = with_fifth(tmp_path / "job", "bare")
    assert {join.hot, join.link[1]} == {"violet", "brown"}
    assert (join.ground, join.shield, join.roles["bare"]) == ("orange", "orange", "shield")


def test_a_lead_that_is_one_with_an_end_does_what_that_end_does(tmp_path):
    join = with_fifth(tmp_path / "job", "pink")
    assert {join.hot, join.link[1]} == {"violet", "brown"}
    assert join.roles["pink"] == join.roles["orange"]
