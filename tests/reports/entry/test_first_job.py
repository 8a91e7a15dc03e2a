"""A job from the answers at the page's first screen, by the code of the form."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from datetime import date

import pytest

from capture.job.reading import read_job
from reports.entry.first_job import BENCHES, coil_counts, first_job, layouts_for
from reports.entry.new_job import create_job_folder
from reports.messages import door
from reports.render.bench_drawings import guitar_card, loose_card, recordings_card

TODAY = date(2026, 3, 5)
LAYOUTS = {layout.key: (bench, layout) for bench in BENCHES for layout in layouts_for(bench)}


@pytest.mark.parametrize("key", LAYOUTS)
def test_every_answer_makes_a_job_that_reads_back(key, tmp_path):
    bench, layout = LAYOUTS[key]
    assert bench == "loose" or key in door.LAYOUTS
    for coils in coil_counts(layout):
        assert all(door.coils_text(layout.pickups, coils)[:1])
        job = read_job(
            create_job_folder(first_job(layout, coils, under=tmp_path, today=TODAY), under=tmp_path)
        )
        assert tuple(p.coils for p in job.pickups) == coils
        assert {p.name for p in job.pickups if not p.fitted} == layout.loose
        assert all(p.hot is None and p.centre_mm is None for p in job.pickups)
        assert len(job.settings) == len(layout.together)
    assert len({door.coils_text(layout.pickups, coils) for coils in coil_counts(layout)}) == len(
        coil_counts(layout)
    )


def test_jobs_of_a_day_are_numbered_and_none_is_written_over(tmp_path):
    layout = layouts_for("closed")[0]
    made = [
        create_job_folder(first_job(layout, (1, 1), under=tmp_path, today=TODAY), under=tmp_path).name
        for _ in range(3)
    ]
    assert made == ["2026-03-05-1", "2026-03-05-2", "2026-03-05-3"]


def test_drawings_are_whole_and_say_nothing_to_a_screen_reader():
    drawn = [recordings_card(), loose_card((1, 2))]
    drawn += [
        guitar_card(one.pickups, (1,) * len(one.pickups), control=one.control, loose=one.loose)
        for _, one in LAYOUTS.values()
    ]
    assert len(set(drawn)) == len(drawn)
    assert all(ET.fromstring(one).get("aria-hidden") == "true" for one in drawn)
