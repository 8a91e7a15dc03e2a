"""The drawings of what the jack told: what they mark, that they are harmless, and that they stay the same."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import jack_samples
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from svg_parts import SVG, dashed, described, parts, place, places, shape, text_place, texts

from reports.messages import wording as jack_words
from reports.render import figures as drawing
from reports.render.jack_plots import MOST_SETTINGS, hum_figure, profile_figure, switch_figure

NOTHING = np.zeros(0)
SAME, OPPOSED, OPEN = (jack_words.STEPS[k] for k in (1, -1, 0))
HOSTILE = ["$x_1$", "<b>&", "ネック", "a\x00b", "$\\frac{1}0$", '" id="q']


def drawn(name: str) -> str:
    return name.replace("\x00", "\N{REPLACEMENT CHARACTER}")


def heights(svg: str, name: str) -> list[float]:
    return [y for _, y in places(svg, name)]


def jump_height(svg: str, jump: int, partial: int) -> float:
    """How far down the number of a partial stands."""
    label = next(parts(svg)[f"k-jump-{jump}-partial-{partial}"].iter(f"{SVG}text"))
    placed = (
        label.attrib.get("y") or label.attrib["transform"].split("translate(")[1].split(")")[0].split()[1]
    )
    return float(placed)


# The string through the selector


@pytest.mark.parametrize("steps", [(1, -1), (-1, 1), (0, -1), (-1, 0)])
def test_each_jump_is_labelled_with_what_it_tells_in_order(steps: tuple[int, int]) -> None:
    svg = switch_figure(jack_samples.switch(steps=steps), key="k")
    said = ["".join(parts(svg)[f"k-jump-{k}-told"].itertext()).strip() for k in (1, 2)]
    assert said == [jack_words.STEPS[k] for k in steps]
    assert described(svg)[1].startswith(f"bridge to middle: {said[0]}. middle to neck: {said[1]}.")


def test_every_partial_lies_near_the_answer_once_its_place_is_taken_out() -> None:
    svg = switch_figure(jack_samples.switch(steps=(1, -1)), key="k")
    for n in (1, 2, 3, 5):
        same, opposed = (jump_height(svg, k, n) for k in (1, 2))
        assert opposed < same - 40


def test_a_partial_whose_place_is_not_known_is_not_drawn() -> None:
    exhibit = jack_samples.switch()
    first = replace(exhibit.jumps[0], partials=(replace(exhibit.jumps[0].partials[0], place_sign=0),))
    svg = switch_figure(replace(exhibit, jumps=(first, *exhibit.jumps[1:])), key="k")
    assert "k-jump-1-partial-1" not in parts(svg)
    assert "k-jump-2-partial-1" in parts(svg)


def test_partials_that_turn_by_their_places_are_noted_at_their_step() -> None:
    assert "middle to neck: partial 5 turns by its place" in texts(switch_figure(jack_samples.switch()))
    assert "turns by" not in switch_figure(jack_samples.switch(turned=0))


def test_long_names_of_five_settings_are_shortened() -> None:
    names = [f"{letter} very long name of a setting" for letter in "abcde"]
    svg = switch_figure(jack_samples.switch(names, (1, -1, 0, -1)), key="k")
    shown = [said for said in texts(svg) if "…" in said and " to " in said and "turns" not in said]
    assert len(shown) == 4
    assert all(len(said) < 30 for said in shown)


def test_a_switch_take_without_jumps_does_not_crash() -> None:
    assert SAME in texts(switch_figure(replace(jack_samples.switch(), jumps=())))


# The harmonic profile


@pytest.mark.parametrize("opposed", [True, False])
@pytest.mark.parametrize("louder_db", [-30.0, 0.0, 12.0])
def test_the_nearer_curve_is_named_whatever_the_level(opposed: bool, louder_db: float) -> None:
    exhibit = jack_samples.profile(opposed=opposed)
    moved = replace(exhibit, measured_db=exhibit.measured_db + louder_db)
    name = jack_words.IF_OPPOSED if opposed else jack_words.IF_ADDING
    told = described(profile_figure(moved))[1]
    assert told.startswith(f'The points lie nearer to "{name}"')
    assert "Takes: t007, t008, t009." in told


def test_curves_that_do_not_differ_name_no_nearer_one() -> None:
    exhibit = jack_samples.profile()
    told = described(profile_figure(replace(exhibit, adding_db=exhibit.opposed_db + 3.0)))[1]
    assert "about as near to one curve as to the other" in told
    alone = replace(exhibit, measured_db=np.where(exhibit.harmonics == 2, exhibit.measured_db, np.nan))
    assert "Too few harmonics" in described(profile_figure(alone))[1]


def test_the_points_lie_on_the_curve_they_were_made_from() -> None:
    svg = profile_figure(jack_samples.profile(opposed=True), key="k")
    points = places(svg, "k-measured")
    assert len(points) == 10
    off = {
        name: np.mean([abs(a[1] - b[1]) for a, b in zip(points, places(svg, f"k-{name}"), strict=True)])
        for name in ("adding", "opposed")
    }
    assert off["opposed"] < 0.4 * off["adding"]
    assert [x for x, _ in points] == sorted(x for x, _ in points)


def test_points_and_both_curves_are_told_apart_without_colour() -> None:
    svg = profile_figure(jack_samples.profile(), key="k")
    assert len({shape(svg, f"k-{name}") for name in ("measured", "adding", "opposed")}) == 3
    assert dashed(svg, "k-opposed") and not dashed(svg, "k-adding")
    names = (jack_words.IF_ADDING, jack_words.IF_OPPOSED, jack_words.MEASURED)
    ends = sorted(text_place(svg, name)[1] for name in names)
    assert min(b - a for a, b in pairwise(ends)) > 8.5


def test_what_was_not_measured_or_cannot_be_predicted_is_left_out() -> None:
    exhibit = jack_samples.profile(harmonics=4)
    holes = np.array([np.nan, -10.0, -12.0, np.nan])
    svg = profile_figure(
        replace(
            exhibit,
            measured_db=holes,
            scatter_db=np.array([1.0, np.nan, np.inf, np.nan]),
            opposed_db=np.array([-np.inf, -11.0, -13.0, np.nan]),
        ),
        key="k",
    )
    assert len(places(svg, "k-measured")) == 2
    assert "nan" not in svg.lower()
    assert "inf" not in svg.lower()
    blank = np.full(4, np.nan)
    none = replace(exhibit, measured_db=blank, scatter_db=blank, adding_db=blank, opposed_db=blank)
    assert "k-measured" not in parts(profile_figure(none, key="k"))
    empty = replace(
        exhibit,
        harmonics=NOTHING,
        measured_db=NOTHING,
        scatter_db=NOTHING,
        adding_db=NOTHING,
        opposed_db=NOTHING,
    )
    assert "harmonic" in texts(profile_figure(empty))


# The hum


def test_hum_stands_between_the_marks_of_cancelling_and_humming() -> None:
    exhibit = jack_samples.hum()
    svg = hum_figure(exhibit, key="k")
    low, dot, high = (place(svg, f"k-{name}-2")[0] for name in ("opposed", "level", "same"))
    assert low < dot < high
    assert dot - low < high - dot
    low, dot, high = (place(svg, f"k-{name}-4")[0] for name in ("opposed", "level", "same"))
    assert dot - low > high - dot
    assert len({shape(svg, f"k-{name}-2") for name in ("opposed", "level", "same")}) == 3
    rows = [place(svg, f"k-level-{k}")[1] for k in range(1, 6)]
    assert rows == sorted(rows)


def test_the_marks_are_named_in_full_once_and_only_for_settings_of_several() -> None:
    svg = hum_figure(jack_samples.hum(), key="k")
    for full, short in (
        (jack_words.WOULD_HUM, jack_words.WOULD_HUM_SHORT),
        (jack_words.WOULD_CANCEL, jack_words.WOULD_CANCEL_SHORT),
    ):
        assert texts(svg).count(full) == texts(svg).count(short) == 1
    assert {"k-same-2", "k-same-4"} == {name for name in parts(svg) if name.startswith("k-same")}
    assert f"{jack_words.WOULD_CANCEL}, −74.5 dB" in described(svg)[1]


def test_a_level_that_could_not_be_had_is_said_and_not_drawn() -> None:
    exhibit = jack_samples.hum(("a", "a + b"))
    svg = hum_figure(replace(exhibit, level_db=np.array([np.nan, -90.0])), key="k")
    assert "not measured" in texts(svg)
    assert "k-level-1" not in parts(svg)
    assert "−90.0 dB, in the noise" in texts(svg)
    assert "nan" not in svg.lower()


def test_noise_is_shaded_where_it_is_known() -> None:
    exhibit = jack_samples.hum(("a", "b"))
    svg = hum_figure(replace(exhibit, noise_db=np.array([np.nan, -80.0])), key="k")
    assert "k-noise-2" in parts(svg)
    assert "k-noise-1" not in parts(svg)
    assert "hum of the 50 Hz mains (dB, full scale = 0); shaded: noise" in texts(svg)


@pytest.mark.parametrize("count", range(1, 9))
def test_every_setting_has_its_row(count: int) -> None:
    names = [f"setting {k}{' + b' if k % 2 else ''}" for k in range(count)]
    svg = hum_figure(jack_samples.hum(names), key="k")
    assert [t for t in texts(svg) if t.startswith("setting")] == names
    ends = [text_place(svg, name)[1] for name in names]
    assert all(b - a > 15 for a, b in pairwise(ends))


def test_no_setting_and_too_many_settings_do_not_crash() -> None:
    empty = replace(
        jack_samples.hum(("a",)),
        settings=(),
        takes=(),
        level_db=NOTHING,
        same_db=NOTHING,
        opposed_db=NOTHING,
        noise_db=NOTHING,
    )
    assert "hum of the 50 Hz mains (dB, full scale = 0)" in texts(hum_figure(empty))
    many = hum_figure(jack_samples.hum([f"s{k}" for k in range(MOST_SETTINGS + 2)]))
    assert "2 more, not drawn" in texts(many)


# All of them


DRAWINGS: dict[str, Callable[[str], str]] = {
    "switch": lambda name: switch_figure(jack_samples.switch(("bridge", name, "neck")), key="k"),
    "profile": lambda name: profile_figure(jack_samples.profile(name), key="k"),
    "hum": lambda name: hum_figure(jack_samples.hum(("bridge", name)), key="k"),
}


@pytest.mark.parametrize("kind", DRAWINGS)
@pytest.mark.parametrize("name", HOSTILE)
def test_any_name_is_shown_as_it_was_typed(kind: str, name: str) -> None:
    svg = DRAWINGS[kind](name)
    assert drawn(name) in " ".join([*texts(svg), *described(svg)])
    assert drawn(name) in " ".join(texts(svg)) or kind == "profile"
    assert "q" not in parts(svg)


@pytest.mark.parametrize("kind", DRAWINGS)
def test_drawing_twice_gives_the_same_bytes_with_own_ids(kind: str) -> None:
    svg = DRAWINGS[kind]("both")
    assert svg == DRAWINGS[kind]("both")
    assert all(name.startswith("k-") for name in parts(svg))
    assert "date" not in svg.lower()


@given(st.lists(st.floats(-1.0, 2.0), max_size=12), st.floats(0.0, 0.3))
def test_spread_labels_keep_their_order_and_their_distance(wished: list[float], gap: float) -> None:
    placed = drawing.spaced_apart(wished, gap=gap)
    assert all(-1e-9 <= p <= 1 + 1e-9 for p in placed)
    order = sorted(range(len(wished)), key=lambda k: wished[k])
    room = min(gap, 1 / max(1, len(wished) - 1))
    assert all(placed[b] - placed[a] >= room - 1e-9 for a, b in pairwise(order))


@given(st.lists(st.tuples(st.floats(0.0, 5.0), st.floats(0.1, 2.0)), max_size=8).map(sorted))
def test_labels_of_one_row_never_meet(labels: list[tuple[float, float]]) -> None:
    rows = drawing.label_rows(labels)
    for row in set(rows):
        spans = [(c - w / 2, c + w / 2) for (c, w), r in zip(labels, rows, strict=True) if r == row]
        assert all(a[1] < b[0] for a, b in pairwise(spans))
