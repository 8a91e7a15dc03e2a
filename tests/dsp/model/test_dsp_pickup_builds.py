"""What a pickup is made of: hum, rows and signs of each construction, as common practice has them."""

from __future__ import annotations

import pytest

from dsp.model.pickups import DUMMY, LOWER_HEARS, halves, side_by_side, stacked

BUILDS = {
    "one coil": (side_by_side(1), True, 1, False),
    "two coils side by side": (side_by_side(2), False, 2, True),
    "three coils side by side": (side_by_side(3), True, 2, True),
    "stacked": (stacked(upper=1), False, 1, False),
    "halves": (halves((("E1", "A1"), ("D2", "G2"))), False, 1, True),
    "dummy": (DUMMY, True, 1, False),
}


@pytest.mark.parametrize("name", BUILDS)
def test_what_a_construction_does_as_a_whole(name: str) -> None:
    made, hums, rows, pole_has_coil = BUILDS[name]
    assert (made.hums, made.rows, made.pole_has_coil) == (hums, rows, pole_has_coil)


def test_the_lower_coil_of_a_stack_takes_away_the_little_it_hears() -> None:
    made = stacked(upper=2)
    assert [(c.hears, c.s_in_whole, c.w_in_whole) for c in made.coils] == [(LOWER_HEARS, -1, 1), (1.0, 1, -1)]
    assert [c.s_in_whole for c in stacked().coils] == [None, None], "which is above is not known"


def test_a_dummy_hears_no_string() -> None:
    assert not DUMMY.hears_strings
    assert all(made.hears_strings for made, *_ in BUILDS.values() if made is not DUMMY)
