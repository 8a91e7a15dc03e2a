"""Numbers as a bench writes them."""

from __future__ import annotations

import pytest

from capture import LogError
from reports.entry.units import CENTRE_MM, SCALE_MM, is_open, kohm_from, millimetres_from

RESISTANCES = {
    "6.6k": 6.6,
    "6k6": 6.6,
    "6,6": 6.6,
    "6600": 6.6,
    "6.6 kΩ": 6.6,
    "7.1 K": 7.1,
    "250k": 250,
    "1M2": 1200,
    "470 ohm": 0.47,
    "0 ohm": 0,
    "7 100": 7.1,
}
ASKED = {
    "0": "both clips on one lead",
    "71 000 kOhm": "did you mean 71k",
    "71000": "did you mean 7.1k",
    "6600k": "did you mean 6.6k",
    "six": "is no resistance",
    "-4": "is no resistance",
    "nan": "is no resistance",
}
LENGTHS = {"44": 44, "44mm": 44, "44,5": 44.5, "4.4 cm": 44, '1 3/4"': 44.45, "1.75in": 44.45, '3/4"': 19.05}


@pytest.mark.parametrize(("text", "kohm"), RESISTANCES.items())
def test_resistances_are_understood(text: str, kohm: float) -> None:
    assert kohm_from(text) == pytest.approx(kohm)


@pytest.mark.parametrize(("text", "said"), ASKED.items())
def test_what_can_hardly_be_meant_is_asked_about(text: str, said: str) -> None:
    with pytest.raises(LogError, match=said):
        kohm_from(text)


def test_what_was_asked_about_is_taken_where_its_unit_says_so() -> None:
    assert kohm_from("71M") == 71_000
    assert kohm_from("71k") == 71
    assert kohm_from("0", may_be_zero=True) == 0
    assert is_open("OL") and is_open("open") and not is_open("4.1")


@pytest.mark.parametrize(("text", "mm"), LENGTHS.items())
def test_lengths_are_understood(text: str, mm: float) -> None:
    assert millimetres_from(text, among=CENTRE_MM) == pytest.approx(mm)


def test_a_length_of_no_such_kind_is_asked_about() -> None:
    assert millimetres_from('25.5"', among=SCALE_MM) == pytest.approx(647.7)
    for text, among in (("25.5", SCALE_MM), ("1.75", CENTRE_MM)):
        with pytest.raises(LogError, match=rf"did you mean {text}in"):
            millimetres_from(text, among=among)
    with pytest.raises(LogError, match="is no length"):
        millimetres_from("1/0 in")
