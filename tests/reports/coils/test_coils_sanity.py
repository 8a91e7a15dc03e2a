"""Remarks on single readings in ohms; sources in words beside each figure."""

import pytest

from capture.job import Pickup
from capture.log import Ohms
from reports.ohms.coil_ends import (
    at_temperature,
    find_coils,
    meter_range,
    remarks_on,
    slip_of_unit,
    through_hands,
)


def said(*rows, coils=2):
    pickup = Pickup(name="neck", coils=coils, fitted=False)
    readings = [
        Ohms(id=f"r{k:03d}", pickup="neck", between=(a, b), kohm=kohm)
        for k, (a, b, kohm) in enumerate(rows, start=1)
    ]
    return remarks_on(pickup, readings, find_coils(pickup, readings))


def test_hands_on_the_clips():
    """Sources P7: 8 k with 500 k across it reads 7.874 k."""
    assert through_hands(8.0, body_kohm=500.0) == pytest.approx(7.874, abs=5e-4)


def test_copper_warms():
    """CRC Handbook, resistivity of copper (from memory): 0.393 per cent a kelvin at 20 C."""
    assert at_temperature(10.0, from_c=20.0, to_c=30.0) == pytest.approx(10.393)
    assert at_temperature(
        at_temperature(7.3, from_c=12.0, to_c=31.0), from_c=31.0, to_c=12.0
    ) == pytest.approx(7.3)


@pytest.mark.parametrize(("kohms", "best"), [([6.6], 20.0), ([1.5], 2.0), ([4.1, 24.0], 200.0), ([], None)])
def test_the_range_of_a_meter_that_is_set_by_hand(kohms, best):
    assert meter_range(kohms) == best


def test_the_range_is_said():
    text = "On a meter that is set by hand use the 20 k range; 2 k reads over-range; 200 k loses digits."
    assert text in said(("a", "b", 6.6), coils=1)


@pytest.mark.parametrize(("kohm", "slip"), [(6600.0, True), (6.6, False), (480.0, False)])
def test_a_slip_of_unit(kohm, slip):
    assert slip_of_unit(kohm) is slip


def test_a_slip_of_unit_is_said():
    assert any(
        s.startswith("r001: 6600 k is no coil; did you mean 6.6") for s in said(("a", "b", 6600.0), coils=1)
    )


def test_an_open_coil():
    text = "The coil of neck between a and b is open: a broken wire or a bad joint at its leads."
    assert text in said(("a", "b", None), coils=1)
    assert not any("is open" in s for s in said(("a", "b", 6.0), coils=1))


def test_a_shorted_coil_beside_a_good_one():
    rows = [("a", "b", 4.1), ("c", "d", 0.0), ("a", "c", None), ("b", "d", None)]
    assert "The coil of neck between c and d reads 0 k: it is shorted, or its two leads touch." in said(*rows)


def test_a_partly_shorted_coil_against_its_twin():
    across = [("a", "c", None), ("b", "d", None)]
    told = said(("a", "b", 4.1), ("c", "d", 2.0), *across)
    assert any(s.startswith("The coil of neck between c and d reads 2 k, its twin 4.1 k") for s in told)
    assert not any("twin" in s for s in said(("a", "b", 4.1), ("c", "d", 3.9), *across))
