"""Remarks on single readings in ohms; sources in words beside each figure."""

import pytest

from capture.job import Pickup
from capture.log import Meter, Ohms
from reports.messages.sentences import say
from reports.ohms.coil_ends import find_coils, kohm_through_hands, meter_range, ohms_remarks
from reports.ohms.readings import typed_in_ohms


def remarks(*rows, coils=2):
    """The remarks on readings, by their code."""
    pickup = Pickup(name="neck", coils=coils, fitted=False)
    readings = [
        Ohms(id=f"r{k:03d}", pickup="neck", between=(a, b), kohm=kohm)
        for k, (a, b, kohm) in enumerate(rows, start=1)
    ]
    return {note.code: note for note in ohms_remarks(pickup, readings, find_coils(pickup, readings))}


def test_hands_on_the_clips():
    """Sources P7: 8 k with 500 k across it reads 7.874 k."""
    assert kohm_through_hands(8.0, body_kohm=500.0) == pytest.approx(7.874, abs=5e-4)


@pytest.mark.parametrize(("kohms", "best"), [([6.6], 20.0), ([1.5], 2.0), ([4.1, 24.0], 200.0), ([], None)])
def test_the_range_of_a_meter_that_is_set_by_hand(kohms, best):
    assert meter_range(kohms) == best


def test_the_range_is_said():
    text = "On a meter that is set by hand use the 20 k range; 2 k reads over-range; 200 k loses digits."
    note = remarks(("a", "b", 6.6), coils=1)["meter range"]
    assert note.kohm == (20.0, 2.0, 200.0)
    assert say(note) == text


@pytest.mark.parametrize(("kohm", "slip"), [(6600.0, True), (6.6, False), (480.0, False)])
def test_a_slip_of_unit(kohm, slip):
    assert typed_in_ohms(kohm) is slip


def test_a_slip_of_unit_is_said():
    note = remarks(("a", "b", 6600.0), coils=1)["typed in ohms"]
    assert (note.entry, note.kohm) == ("r001", (6600.0, 6.6))
    assert say(note).startswith("r001: 6600 k is no coil; did you mean 6.6")


def test_an_open_coil():
    assert remarks(("a", "b", None), coils=1)["open coil"].leads == ("a", "b")
    assert remarks(("b", "a", None), coils=1)["open coil"].leads == ("a", "b")
    assert "open coil" not in remarks(("a", "b", 6.0), coils=1)


def test_a_coil_that_reads_open_and_swings_is_a_clip_that_did_not_bite():
    pickup = Pickup(name="neck", fitted=False, hot="violet", ground="grey")
    read = [
        Meter(id="m001", pickup="neck", move="away", reading="rises", red="hot", kohm=7.1),
        Ohms(id="r001", pickup="neck", between=("violet", "grey"), kohm=None),
    ]
    (note,) = [n for n in ohms_remarks(pickup, read, find_coils(pickup, read)) if n.code.startswith("open")]
    assert (note.code, note.entry, note.kohm) == ("open against the swing", "m001", (7.1,))


def test_a_shorted_coil_beside_a_good_one():
    rows = [("a", "b", 4.1), ("c", "d", 0.0), ("a", "c", None), ("b", "d", None)]
    note = remarks(*rows)["shorted coil"]
    assert (note.leads, note.kohm) == (("c", "d"), (0.0,))


def test_a_partly_shorted_coil_against_its_twin():
    across = [("a", "c", None), ("b", "d", None)]
    note = remarks(("a", "b", 4.1), ("c", "d", 2.0), *across)["partly shorted coil"]
    assert (note.leads, note.kohm) == (("c", "d"), (2.0, 4.1))
    assert "partly shorted coil" not in remarks(("a", "b", 4.1), ("c", "d", 3.9), *across)
