"""The printed face: one side for the guitar whatever the job, the bench sheet behind, the same bytes
again.
"""

from __future__ import annotations

import re
from functools import cache

import pair_samples
import pytest
import verdict_samples as samples

from capture.job import Job, Pickup
from reports.render.blocks import Paper
from reports.render.front import front_sheet
from reports.render.lead_drawing import LeadPicture
from reports.render.pdf import NoRoomError, as_pdf
from reports.render.report import bench_sheet

DATE = "25 November 2026"
LONG = "a name that nobody would type on a ticket but somebody did"
JOB = Job(pickups=tuple(Pickup(name=n, centre_mm=m) for n, m in (("bridge", 44), ("neck", 160))))
SIZES: dict[Paper, tuple[float, float]] = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}


@cache
def printed(name: str, paper: Paper) -> bytes:
    verdict = samples.ALL[name]()
    leads = tuple(
        LeadPicture(row.pickup, (("grey", "violet"),), {"grey": "hot", "violet": "ground"})
        for row in verdict.wiring
    )
    front = front_sheet(verdict, made_at=DATE, job=JOB, leads=leads)
    exhibits = (pair_samples.exhibit(),) if verdict.pairs else ()
    return as_pdf(front, bench_sheet(verdict, exhibits, made_at=DATE, leads=leads), paper=paper)


def pages(file: bytes) -> int:
    return len(re.findall(rb"/Type /Page\b(?!s)", file))


@pytest.mark.parametrize("paper", SIZES)
@pytest.mark.parametrize("name", ["whole guitar", "unsettled", "empty"])
def test_each_job_is_printed_with_its_bench_sheet_behind(name: str, paper: Paper) -> None:
    file = printed(name, paper)
    assert file.startswith(b"%PDF-")
    assert 2 <= pages(file) <= 6
    wide, high = SIZES[paper]
    assert f"/MediaBox [0 0 {wide:.2f} {high:.2f}]".encode() in file


def test_the_same_report_is_the_same_file() -> None:
    again = printed.__wrapped__("empty", "a4")
    assert again == printed("empty", "a4")


@pytest.mark.parametrize("paper", SIZES)
def test_the_fullest_sheet_still_has_one_side(paper: Paper) -> None:
    verdict = samples.whole_guitar()
    named = verdict.model_copy(
        update={
            "title": LONG * 3,
            "pairs": tuple(p.model_copy(update={"a": LONG, "b": LONG[::-1]}) for p in verdict.pairs * 4),
            "wiring": tuple(
                r.model_copy(update={"pickup": LONG, "exchange": True}) for r in verdict.wiring * 3
            ),
            "settings": (),
        }
    )
    leads = tuple(LeadPicture(LONG, (("a", "b"), ("c", "d")), dict.fromkeys("abcd", "hot")) for _ in range(4))
    front = front_sheet(named, made_at=DATE, job=JOB, leads=leads)
    assert pages(as_pdf(front, (), paper=paper)) == 2
    assert front.drawing


def test_what_finds_no_room_is_refused_and_not_cut_off_unseen() -> None:
    front = front_sheet(samples.whole_guitar(), made_at=DATE)
    flood = type(front)(**{**vars(front), "headline": LONG * 200})
    with pytest.raises(NoRoomError):
        as_pdf(flood, (), paper="a4")
