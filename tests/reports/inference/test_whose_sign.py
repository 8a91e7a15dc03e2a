"""What of an entry belongs to what: a coil to the strings over it, another job's finding to the leads."""

from __future__ import annotations

import pytest

from capture.job import parse_job
from capture.log import Change, Check, Take
from reports.evidence.leads import LeadView, lead_history
from reports.evidence.shelf import ShelfRelation
from reports.inference.evidence_graph import EvidenceGraph, under_string
from reports.inference.posterior import Posterior
from reports.inference.shelf import add_shelf_evidence

HALVES = """format = 1
strings = ["E1", "A1", "D2", "G2"]
[[pickup]]
name = "p"
coils = 2
build = "halves"
under = [["E1", "A1"], ["D2", "G2"]]
"""


@pytest.mark.parametrize(
    ("string", "coil", "found"),
    [
        *[("E1", None, 1), ("G2", None, 2), (None, None, None), (None, 1, 1), (None, 2, 2)],
        *[("E1", 1, 1), ("G2", 2, 2), ("G2", 1, None), ("A1", 2, None)],
    ],
)
def test_a_pickup_in_halves_is_heard_by_the_coil_under_the_string(string, coil, found):
    """What is said of one half is not what a string over the other one shows."""
    graph = EvidenceGraph(lead_history(parse_job(HALVES), ()))
    entry = Take(id="t001", file="takes/t001.wav", gesture="pluck", inputs=("p",), string=string)
    under = under_string(graph, entry, LeadView("p", coil, False, 0, now=True, before_work=False))
    assert (under[0].coil if under else None) == found


SHELF = """format = 1
[[pickup]]
name = "coil"
shelf = "coil A"
[[pickup]]
name = "neck"
fitted = false
hot = "violet"
ground = "grey"
"""


@pytest.mark.parametrize("opposed", [False, True])
@pytest.mark.parametrize(
    ("hot", "ground", "turned"), [("violet", "grey", 1), ("grey", "violet", -1), (None, None, 1)]
)
def test_another_jobs_finding_belongs_to_the_leads_it_names(opposed, hot, ground, turned):
    """The leads the other way round turn it over; without leads it is about the pickup as it is wired."""
    said = {"what": "shelf", "pickup": "neck", "shelf": "coil A", "opposed": opposed, "doubt": 0.01}
    leads = {"hot": hot, "ground": ground} if hot else {}
    entry = Check(id="k001", seen="2026-11-23", **said, **leads)
    graph = EvidenceGraph(lead_history(parse_job(SHELF), [entry]))
    add_shelf_evidence(graph, [ShelfRelation(entry, "coil", 0.01)])
    p = Posterior(graph).in_phase("coil", "neck")
    assert p == pytest.approx(0.99 if turned * (-1 if opposed else 1) > 0 else 0.01, abs=0.002)


LOOSE = """format = 1
[[pickup]]
name = "neck"
coils = 2
fitted = false
"""
NAMED = 'hot = "violet"\nground = "grey"\nlink = ["orange", "brown"]\n'


def lift(number, hot, ground):
    inputs = ({"pickup": "neck", "hot": hot, "ground": ground},)
    return Take(id=f"t{number:03d}", file=f"takes/t{number:03d}.wav", gesture="lift", inputs=inputs)


@pytest.mark.parametrize("exchanged", [False, True])
@pytest.mark.parametrize(
    ("hot", "ground", "coil", "turned"),
    [
        ("violet", "grey", None, False),
        ("grey", "violet", None, True),
        ("violet", "orange", 1, False),
        ("orange", "violet", 1, True),
        ("brown", "grey", 2, False),
        ("grey", "brown", 2, True),
    ],
)
def test_two_leads_are_one_coil_or_both_whichever_is_hot_now(exchanged, hot, ground, coil, turned):
    """The same two ends are the same coil after leads were exchanged, and are seen the other way round."""
    entry = lift(1, hot, ground)
    entries = [entry]
    if exchanged:
        leads = {"grey": "hot", "violet": "ground"}
        entries.insert(0, Change(id="c001", pickup="neck", leads=leads))
    view = lead_history(parse_job(LOOSE + NAMED), entries).seen_at_leads(
        entry, "neck", hot=hot, ground=ground
    )
    assert (view.coil, view.turned) == (coil, turned != exchanged)


@pytest.mark.parametrize(
    ("hots", "hot"),
    [(("red", "black"), "black"), (("red", "black", "red"), "red"), (("black", "red", "black"), "black")],
)
def test_leads_that_nobody_named_are_as_most_takes_have_them_in_whatever_order(hots, hot):
    other = {"red": "black", "black": "red"}
    takes = [lift(k, one, other[one]) for k, one in enumerate(hots)]
    for order in (takes, takes[::-1]):
        history = lead_history(parse_job(LOOSE), order)
        assert {history.at_entry[take.id]["neck"].hot for take in takes} == {hot}
