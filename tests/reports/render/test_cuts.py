"""The picture of a recording with its cuts."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
import pytest
from svg_parts import described, parts, place, text_place, texts

from dsp.live.onset_stream import Envelope
from reports.render.cuts import MOST_MARKS, Mark, Strip, bring_figure


def strip(*marks: Mark, seconds: float = 20.0, name: str = "long.wav") -> Strip:
    peaks = np.full((int(seconds / 0.02), 2), 1e-3, dtype=np.float32)
    return Strip(name, seconds, Envelope(0.02, peaks), marks)


TAKEN = Mark(1, 2.0, (1.5, 4.0), "neck, D3")
LEFT = Mark(2, 5.0, None, "left out")
LAST = Mark(3, 8.0, (7.5, 12.0), "both, D3")


def test_the_picture_tells_takes_from_the_rest_without_colour():
    svg = bring_figure((strip(TAKEN, LEFT, LAST),))
    found = parts(svg)
    assert {"cuts-onset-1", "cuts-onset-3", "cuts-no-take-2", "cuts-take-1", "cuts-take-3"} <= set(found)
    assert not {"cuts-onset-2", "cuts-no-take-1", "cuts-take-2"} & set(found)
    assert [t for t in texts(svg) if t[:2] in ("1 ", "2 ", "3 ")] == [
        "1 neck, D3",
        "2 left out",
        "3 both, D3",
    ]
    title, told = described(svg)
    assert title == "long.wav: where it is cut"
    assert told == "1 neck, D3 at 2.00 s; 3 both, D3 at 8.00 s; 1 onsets that are no takes."
    assert place(svg, "cuts-onset-1")[0] < place(svg, "cuts-no-take-2")[0] < place(svg, "cuts-onset-3")[0]


def test_onsets_stand_where_they_are_in_time():
    """Halfway between two others in time is halfway on paper."""
    svg = bring_figure((strip(TAKEN, LEFT, LAST),))
    first, middle, last = (place(svg, f"cuts-{n}")[0] for n in ("onset-1", "no-take-2", "onset-3"))
    assert middle - first == pytest.approx((last - first) / 2, abs=0.5)


def test_many_onsets_take_several_rows_and_no_name_leaves_the_page():
    marks = [Mark(n, 3.0 * n, (3.0 * n - 0.5, 3.0 * n + 2), "a very long setting, D3") for n in range(1, 26)]
    svg = bring_figure((strip(*marks, seconds=90.0),))
    assert sum("envelope" in name for name in parts(svg)) == -(-25 // MOST_MARKS)
    width = float(ElementTree.fromstring(svg).attrib["viewBox"].split()[2])
    for mark in marks:
        x, _ = text_place(svg, f"{mark.number} a very long setting, D3")
        assert 0 <= x < width - 80


def test_an_empty_hour_between_two_onsets_is_not_drawn():
    svg = bring_figure((strip(TAKEN, Mark(2, 3500.0, (3499.5, 3504.0), "both"), seconds=3600.0),))
    assert sum("envelope" in name for name in parts(svg)) == 2
    assert bring_figure((strip(TAKEN),)) == bring_figure((strip(TAKEN),))


def test_names_that_could_break_the_page_do_not():
    svg = bring_figure((strip(Mark(1, 2.0, (1.5, 4.0), "<b>$x$ & \x1b[1m"), name="<script>.wav"),))
    assert "<script>" not in svg
    assert any("<b>$x$ &" in text for text in texts(svg))
