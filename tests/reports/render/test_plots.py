"""The drawings: what they mark, that they are harmless, and that they stay the same."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pair_samples
import pytest
import verdict_samples as samples
from svg_parts import SVG, parts, place, shape, texts

from reports.model.verdict import MethodAnswer, PairVerdict
from reports.render import figures as drawing
from reports.render import figures as plots


def test_traces_are_told_apart_without_colour() -> None:
    svg = plots.traces_figure(pair_samples.exhibit(takes=1), key="k")
    assert {"+ bridge, t002", "− neck, t002"} <= set(texts(svg))
    first, second = (parts(svg)[f"k-trace-{n}"] for n in (1, 2))
    dashed = ["dasharray" in ElementTree.tostring(node, encoding="unicode") for node in (first, second)]
    assert dashed == [False, True]
    uses = [next(node.iter(f"{SVG}use")).attrib for node in (first, second)]
    assert len({use["{http://www.w3.org/1999/xlink}href"] for use in uses}) == 2


def test_too_many_traces_are_counted_not_drawn() -> None:
    svg = plots.traces_figure(pair_samples.exhibit(takes=6), key="k")
    assert f"k-trace-{plots.MOST_TRACES}" in parts(svg)
    assert f"k-trace-{plots.MOST_TRACES + 1}" not in parts(svg)
    assert f"and {12 - plots.MOST_TRACES} more, not drawn" in texts(svg)


def test_thinning_keeps_a_lone_spike() -> None:
    x = np.arange(48_000.0)
    y = np.zeros_like(x)
    y[31_415], y[2_718] = 1.0, -1.0
    few_x, few_y = drawing.decimated(x, y)
    assert few_x.size == few_y.size <= drawing.MOST_POINTS
    assert few_x[np.argmax(few_y)] == 31_415
    assert few_x[np.argmin(few_y)] == 2_718
    assert np.all(np.diff(few_x) > 0)


def test_belief_stands_left_for_out_of_phase_and_right_for_in_phase() -> None:
    pair = samples.out_of_phase().pairs[0]
    svg = plots.belief_figure(pair, key="k")
    together, pluck, lift, meter = (place(svg, f"k-belief-{n}")[0] for n in range(4))
    assert together < pluck < lift < meter
    assert len({shape(svg, f"k-belief-{n}") for n in range(4)}) == 4
    assert texts(svg).count("settled") == texts(svg).count("likely") == 2
    assert texts(svg).count("unsettled") == 1


def test_a_method_keeps_its_marker_in_every_pair() -> None:
    word = MethodAnswer(method="lift", p_in_phase=0.05)
    alone = PairVerdict(a="a", b="b", p_in_phase=0.05, phase="out of phase", standing="likely", by=(word,))
    methods = ["paired pluck", "lift"]
    whole = samples.out_of_phase().pairs[0]
    drawn = plots.belief_figure(alone, methods=methods, key="k")
    assert shape(drawn, "k-belief-1") == shape(
        plots.belief_figure(whole, methods=methods, key="k"), "k-belief-2"
    )


def test_belief_without_number_has_no_marker() -> None:
    svg = plots.belief_figure(samples.nothing_known().pairs[0], key="k")
    assert "k-belief-0" not in parts(svg)
    assert "says nothing" in texts(svg)


@pytest.mark.parametrize("name", ["$x_1$", "<b>&", "ネック", "a\x00b", "$\\frac{1}0$", '" id="q'])
def test_any_name_is_drawn_as_it_was_typed(name: str) -> None:
    svg = plots.traces_figure(pair_samples.exhibit(b=name), key="k")
    shown = name.replace("\x00", "\N{REPLACEMENT CHARACTER}")
    assert f"− {shown}, t002" in texts(svg)
    assert "q" not in parts(svg)


def test_a_drawing_has_a_title_and_a_description() -> None:
    svg = plots.traces_figure(pair_samples.exhibit(), key="k")
    root = ElementTree.fromstring(svg)
    assert root.attrib["role"] == "img"
    named = [parts(svg)[name].text for name in root.attrib["aria-labelledby"].split()]
    assert named[0] == "bridge and neck: takes over each other"
    assert named[1] is not None and "− neck, t002" in named[1]


def test_drawing_twice_gives_the_same_bytes() -> None:
    drawn = plots.traces_figure(pair_samples.exhibit())
    assert drawn == plots.traces_figure(pair_samples.exhibit())
    assert "date" not in drawn.lower()


def test_an_exhibit_without_samples_does_not_crash() -> None:
    bare = replace(pair_samples.exhibit(), traces=(), time_ms=np.zeros(0))
    assert "time (ms)" in texts(plots.traces_figure(bare))
