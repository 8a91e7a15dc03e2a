"""The circuit of a pickup: as it is spelt, and its figures against circuits solved by hand and by Millman."""

from __future__ import annotations

import math

import numpy as np
import pytest
from simulator.circuits import Branch, LoadSpec, millman, transfers
from simulator.circuits import CoilElectrics as SimulatedCoil

from dsp.model.hum_left import output
from dsp.model.network import CoilElectrics, circuit_from, coils_in, resistance, two_pole

COILS = {1: CoilElectrics(4000.0, 2.0), 2: CoilElectrics(5000.0, 3.0), 3: CoilElectrics(6000.0, 4.0)}
OHM = {k: c.r_ohm for k, c in COILS.items()}
MEG = 1e6
BY_HAND = {
    "1 + 2": 9000.0,
    "1 | 2": 4000 * 5000 / 9000,
    "1 + 2 | 3": 4000 + 5000 * 6000 / 11000,
    "(1 + 2) | 3": 9000 * 6000 / 15000,
    "1 + (2 | 22n)": 9000.0,
    "1 + (2 | 5k)": 4000 + 2500,
    **{f"1 | 1000{unit}": 800.0 for unit in ("R", "Ω", "ohm")},
    "1 | 1.0M": 4e9 / 1.004e6,
    "1@60%": 2400.0,
    "1 + 220p": math.inf,
}


def omega(*hz):
    return 2j * math.pi * np.array(hz)


@pytest.mark.parametrize("text", BY_HAND)
def test_ohms_are_those_of_the_circuit_worked_out_by_hand(text):
    assert resistance(circuit_from(text), OHM) == pytest.approx(BY_HAND[text])


def test_a_coil_that_was_not_measured_gives_no_number():
    assert resistance(circuit_from("1 + 2"), {1: 4000.0}) is None


def test_parallel_coils_give_at_rest_what_millman_says():
    volts = {1: 1.0, 2: -0.7, 3: 0.4}
    got = output(circuit_from("1 | 2 | 3"), COILS, volts=volts, hz=[1e-9], load_ohm=MEG)
    assert got[0].real == pytest.approx(millman([1.0, -0.7, 0.4], [4000, 5000, 6000], load_ohm=MEG))


@pytest.mark.parametrize(("text", "join"), [("1 + 2", "series"), ("1 | 2", "parallel")])
def test_it_agrees_with_the_nodal_analysis_of_the_simulator(text, join):
    hz = np.array([50.0, 440.0, 3000.0])
    load = LoadSpec(volume_ohm=2 * MEG, tone_ohm=None, cable_f=1e-18, input_ohm=2 * MEG)
    branches = [Branch((SimulatedCoil(c.r_ohm, c.l_h, 0.0),)) for c in (COILS[1], COILS[2])]
    (first,), (second,) = transfers(branches, load, hz, join=join)
    volts = {1: 1.0, 2: 0.5}
    got = output(circuit_from(text), COILS, volts=volts, hz=hz, load_ohm=MEG)
    np.testing.assert_allclose(got, first + 0.5 * second, rtol=1e-6)


def test_a_coil_with_a_capacitor_across_it_is_whole_for_hum_and_gone_for_treble():
    gains = two_pole(circuit_from("1 + (2 | 22n)"), COILS, omega(50.0, 5000.0)).gains
    # by hand: 1 / (1 + j w C (R + j w L))
    w = 2j * math.pi * np.array([50.0, 5000.0])
    np.testing.assert_allclose(gains[2], 1 / (1 + w * 22e-9 * (5000.0 + w * 3.0)), rtol=1e-9)
    assert abs(gains[2][0]) > 0.98
    assert abs(gains[2][1]) < 0.03


def test_a_tapped_coil_has_the_square_of_its_share_of_inductance():
    pole = two_pole(circuit_from("1@50%"), COILS, omega(1000.0))
    assert pole.impedance[0] == pytest.approx(2000 + 2j * math.pi * 1000 * 0.5)
    assert pole.gains[1][0] == pytest.approx(0.5)


def test_a_minus_turns_all_behind_it_over():
    (one,) = output(circuit_from("1 + -(2 + 3)"), COILS, volts={2: 1.0}, hz=[50.0], load_ohm=MEG)
    (two,) = output(circuit_from("1 + 2 + 3"), COILS, volts={2: 1.0}, hz=[50.0], load_ohm=MEG)
    assert one == pytest.approx(-two)
    assert coils_in(circuit_from("3 + -(2 | 1)")) == (1, 2, 3)


@pytest.mark.parametrize("text", ["", "1 +", "(1 | 2", "1 2", "1.5", "1@0%", "0", "22n@50%", "coil"])
def test_what_spells_no_circuit_is_refused(text):
    with pytest.raises(ValueError, match=r"write coils by number|bracket"):
        circuit_from(text)
