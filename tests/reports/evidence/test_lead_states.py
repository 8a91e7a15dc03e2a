"""Which leads were on tip and sleeve, and what may have turned a pickup over since it was found."""

from __future__ import annotations

import pytest

from capture.job import Job, Pickup
from capture.log import Change, LeadsInput
from reports.evidence.leads import LeadState, lead_history
from reports.inference.evidence_graph import EvidenceGraph


@pytest.mark.parametrize(
    ("item", "told"),
    [
        (LeadsInput(pickup="neck", hot="violet", ground="grey"), ""),
        (LeadsInput(pickup="neck", hot="grey", ground="violet"), "grey/violet"),
        (LeadsInput(pickup="neck", hot="orange", ground="grey"), "orange/grey"),
        ("neck", ""),
    ],
)
def test_a_clip_up_is_told_by_the_leads_that_are_not_the_outer_ones(item, told):
    leads = LeadState(hot="violet", ground="grey", link=None, era=0, turned=False)
    assert leads.on_clips(item) == told


def test_what_may_have_turned_a_pickup_over_since_it_was_found():
    """A loose one may be put in either way round; a fitted one only where somebody changed something."""
    loose = Pickup(name="neck", fitted=False, hot="violet", ground="grey")
    job = Job(pickups=(Pickup(name="bridge", hot="red", ground="white"), Pickup(name="middle"), loose))
    change = Change(id="c001", pickup="bridge", leads={"white": "hot", "red": "ground"}, stage="after")
    after = EvidenceGraph(lead_history(job, [change]))
    doubts = {name: after._work_doubt(name) for name in ("bridge", "middle", "neck")}
    assert doubts == {"bridge": "work", "middle": "no work", "neck": "work"}
    before = EvidenceGraph(lead_history(job, []))
    assert before._work_doubt("middle") == "work not entered"
