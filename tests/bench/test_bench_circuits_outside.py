"""The network of the simulator against two ways of solving it that share no formula with it."""

import math

import numpy as np
import pytest
from simulator.circuits import (
    Branch,
    CoilElectrics,
    LoadSpec,
    equal_coils,
    jack_voltage,
    network_transfers,
    transfers,
)

from dsp import SignalError
from dsp.model.network import circuit_from

HZ = (82.0, 330.0, 1000.0, 3000.0, 6000.0)
A = CoilElectrics(6200.0, 2.4, 110e-12)
B = CoilElectrics(7900.0, 3.3, 160e-12)
C = CoilElectrics(4200.0, 2.6, 90e-12)
HALVES = (CoilElectrics(3800.0, 2.1, 130e-12), CoilElectrics(4200.0, 2.6, 90e-12))
LOAD = LoadSpec(volume_ohm=250e3, tone_ohm=250e3, tone_f=22e-9, cable_f=500e-12, input_ohm=1e6)
"""Values in the ranges under C1."""

NETWORKS = {
    # name: (branches, join, coils as (hot node, ground node, coil), further (node, node, ohm, farad))
    "parallel": (
        [Branch((A,)), Branch((B,))],
        "parallel",
        [("1", "0", A), ("1", "0", B)],
        [],
    ),
    "parallel turned": (
        [Branch((A,)), Branch((B,), reversed=True)],
        "parallel",
        [("1", "0", A), ("0", "1", B)],
        [],
    ),
    "series": (
        [Branch((A,)), Branch((B,))],
        "series",
        [("1", "m", A), ("m", "0", B)],
        [],
    ),
    "series turned": (
        [Branch((A,)), Branch((B,), reversed=True)],
        "series",
        [("1", "m", A), ("0", "m", B)],
        [],
    ),
    "two coils beside one": (
        [Branch((A,)), Branch(HALVES)],
        "parallel",
        [("1", "0", A), ("1", "m", HALVES[0]), ("m", "0", HALVES[1])],
        [],
    ),
    "capacitor": (
        [Branch((A,)), Branch((B,), series_f=2.2e-9)],
        "parallel",
        [("1", "0", A), ("h", "0", B)],
        [("h", "1", None, 2.2e-9)],
    ),
    "short": (
        [Branch((A,), shunt_ohm=220.0)],
        "parallel",
        [("1", "0", A)],
        [("1", "0", 220.0, None)],
    ),
    # what no branches can say: spelt as a pickup's circuit, with the coils counted from 1
    "one before two side by side, one turned": (
        "1 + (2 | -3)",
        (A, B, C),
        [("1", "m", A), ("m", "0", B), ("0", "m", C)],
        [],
    ),
    "one beside two in a row": (
        "1 | (2 + 3)",
        (A, B, C),
        [("1", "0", A), ("1", "m", B), ("m", "0", C)],
        [],
    ),
    "split by a capacitor": (
        "1 + (2 | 22n)",
        (A, B),
        [("1", "m", A), ("m", "0", B)],
        [("m", "0", None, 22e-9)],
    ),
}

SOLVED = {
    # lcapy 1.26 returned, ran here: the circuit in s, 1 V in each coil behind its R and L, at 2 pi j HZ.
    "parallel": (
        0.97212 - 0.01122182j,
        0.9740831 - 0.03098425j,
        1.002686 - 0.09720818j,
        1.288236 - 0.5673649j,
        -0.8629998 - 1.007711j,
    ),
    "parallel turned": (
        0.1187983 + 0.005873186j,
        0.1330163 + 0.0136875j,
        0.154533 - 0.00210394j,
        0.2053238 - 0.08302168j,
        -0.1336674 - 0.1610556j,
    ),
    "series": (
        1.788775 - 0.07526362j,
        1.780788 - 0.204929j,
        1.761042 - 0.6631977j,
        -0.06216618 - 1.768277j,
        -0.3726559 - 0.2377958j,
    ),
    "series turned": (
        -5.126366e-05 + 0.0002708813j,
        -0.0008860369 + 0.001194599j,
        -0.008048519 + 0.006831936j,
        0.01672442 + 0.09575841j,
        0.172437 + 0.07821995j,
    ),
    "two coils beside one": (
        1.390199 - 0.0405687j,
        1.346827 - 0.09567419j,
        1.342904 - 0.1722223j,
        1.651715 - 0.8085732j,
        -1.024164 - 1.369507j,
    ),
    "capacitor": (
        0.9508438 - 0.01806595j,
        0.9495702 - 0.04899976j,
        0.9205577 - 0.1766927j,
        1.290788 - 0.471736j,
        -0.8664273 - 1.024306j,
    ),
    "short": (
        0.03297998 - 0.006363953j,
        0.02135914 - 0.01656891j,
        0.005236929 - 0.01233111j,
        0.0006630884 - 0.004759391j,
        0.0001591162 - 0.002415407j,
    ),
    "one before two side by side, one turned": (
        0.6576905 + 0.02214677j,
        0.7404622 + 0.02799041j,
        0.8303535 - 0.1552593j,
        0.4047455 - 0.9904931j,
        -0.2358808 - 0.1776892j,
    ),
    "one beside two in a row": (
        1.292307 - 0.02836345j,
        1.273503 - 0.07235387j,
        1.287785 - 0.1646127j,
        1.577957 - 0.8746654j,
        -0.9040329 - 0.9957275j,
    ),
    "split by a capacitor": (
        1.791348 - 0.1485277j,
        1.784403 - 0.6714189j,
        0.5649049 - 0.2616316j,
        1.027476 - 0.8577951j,
        -0.5220036 - 0.4897604j,
    ),
}


TAPPED = "1@60% + (2 | 4.7k)"
"""1 V in a coil of which 60 % are used, so 0.6 V behind 0.6 R and 0.36 L, the whole of C across it."""
SOLVED_TAPPED = (
    0.9139364 - 0.06077838j,
    0.8326709 - 0.1738605j,
    0.6514231 - 0.210082j,
    0.6295079 - 0.2468421j,
    0.5722893 - 0.9223409j,
)


def by_nodes(coils, further, hz):
    """Plain nodal analysis, by hand: admittances between nodes and Norton currents, solved for node "1"."""
    s = 2j * math.pi * hz
    names = sorted({n for hot, ground, _ in coils for n in (hot, ground)} | {"1", "t"})
    names = [n for n in names if n != "0"]
    matrix = np.zeros((len(names), len(names)), dtype=complex)
    current = np.zeros(len(names), dtype=complex)

    def between(one, other, admittance):
        for node in (one, other):
            if node != "0":
                matrix[names.index(node), names.index(node)] += admittance
        if "0" not in (one, other):
            matrix[names.index(one), names.index(other)] -= admittance
            matrix[names.index(other), names.index(one)] -= admittance

    for hot, ground, coil in coils:
        inner = 1 / (coil.r_ohm + s * coil.l_h)
        between(hot, ground, inner + s * coil.c_f)
        for node, sign in ((hot, 1), (ground, -1)):
            if node != "0":
                current[names.index(node)] += sign * inner
    for one, other, ohm, farad in further:
        between(one, other, 1 / ohm if farad is None else s * farad)
    between("1", "0", 1 / LOAD.volume_ohm + 1 / LOAD.input_ohm + s * LOAD.cable_f)
    between("1", "t", 1 / LOAD.tone_ohm)
    between("t", "0", s * LOAD.tone_f)
    return np.linalg.solve(matrix, current)[names.index("1")]


def at_the_jack(name, hz):
    wired, how, _, _ = NETWORKS[name]
    if isinstance(wired, str):
        return sum(network_transfers(circuit_from(wired), how, LOAD, np.asarray(hz)))
    gains = transfers(wired, LOAD, np.asarray(hz), join=how)
    return sum(g for branch in gains for g in branch)


@pytest.mark.parametrize("name", NETWORKS)
def test_network_against_a_circuit_solver(name):
    """C3, C7: lcapy 1.26 returned, ran here; seven digits were written down."""
    assert at_the_jack(name, HZ) == pytest.approx(np.array(SOLVED[name]), rel=1e-5, abs=1e-9)


def test_a_tapped_coil_against_a_circuit_solver():
    """C3, C6: lcapy 1.26 returned, ran here."""
    jack = sum(network_transfers(circuit_from(TAPPED), (A, B), LOAD, np.asarray(HZ)))
    assert jack == pytest.approx(np.array(SOLVED_TAPPED), rel=1e-5, abs=1e-9)


@pytest.mark.parametrize("name", NETWORKS)
def test_network_against_nodal_analysis(name):
    """Kirchhoff's current law at every node, written out above: at the same frequencies and in between."""
    _, _, coils, further = NETWORKS[name]
    hz = (*HZ, 20.0, 196.0, 1500.0, 4200.0, 9000.0)
    expected = [by_nodes(coils, further, f) for f in hz]
    assert at_the_jack(name, hz) == pytest.approx(np.array(expected), rel=1e-9)


OPEN = LoadSpec(volume_ohm=1e12, tone_ohm=None, cable_f=500e-12, input_ohm=1e12)
C2_COIL = CoilElectrics(4000.0, 3.0, 200e-12)


@pytest.mark.parametrize(
    ("branches", "join"),
    [
        pytest.param([Branch((C2_COIL,))] * 2, "series", id="C2 two in series"),
        pytest.param([Branch((C2_COIL,))] * 2, "parallel", id="C2 two in parallel"),
    ],
)
def test_two_equal_coils_are_one_coil(branches, join):
    """C2: as one of 6 H, 8 k, 100 pF with twice the voltage, or as one of 1.5 H, 2 k, 400 pF."""
    hz = np.array([82.0, 1000.0, 2652.6, 4331.6, 6497.5])
    together = sum(g for branch in transfers(branches, OPEN, hz, join=join) for g in branch)
    one = transfers([Branch((equal_coils(C2_COIL, 2, join=join),))], OPEN, hz, join="parallel")[0][0]
    assert together == pytest.approx((2 if join == "series" else 1) * one, rel=1e-9)


def test_a_capacitor_blocks_what_stands_still():
    """By construction: no steady voltage comes through a capacitor, in parallel or in series."""
    for join in ("parallel", "series"):
        lone = transfers([Branch((A,), series_f=1e-9)], LOAD, np.array([0.0, 3000.0]), join=join)[0][0]
        assert abs(lone[0]) < 1e-6
        assert abs(lone[1]) > 0.5
    settled = jack_voltage(
        [[np.ones(4000)]], [Branch((A,), series_f=4.7e-9)], LOAD, join="parallel", rate=8000
    )
    assert np.max(np.abs(settled[800:])) < 1e-6


def test_a_capacitor_is_a_high_pass_with_the_load():
    """First-order high-pass, by hand: 3 dB down, an eighth of a turn on, at 1 / (2 pi R C)."""
    corner_hz = 300.0
    load = LoadSpec(volume_ohm=200e3, tone_ohm=None, cable_f=0.0, input_ohm=1e12)
    small = CoilElectrics(1.0, 0.0, 0.0)
    farad = 1 / (2 * math.pi * 200e3 * corner_hz)
    gain = transfers([Branch((small,), series_f=farad)], load, np.array([corner_hz]), join="parallel")[0][0]
    assert abs(gain[0]) == pytest.approx(math.sqrt(0.5), rel=1e-4)
    assert np.angle(gain[0]) == pytest.approx(math.pi / 4, abs=1e-4)


def test_nothing_in_the_leads_changes_nothing():
    """By construction: a very large capacitor and a very large resistance are none."""
    hz = np.array(HZ)
    plain = transfers([Branch((A,))], LOAD, hz, join="parallel")[0][0]
    none = transfers([Branch((A,), series_f=1.0, shunt_ohm=1e15)], LOAD, hz, join="parallel")[0][0]
    assert none == pytest.approx(plain, rel=1e-6)


@pytest.mark.parametrize("wrong", [{"series_f": 0.0}, {"shunt_ohm": -1.0}])
def test_impossible_leads_are_refused(wrong):
    with pytest.raises(SignalError, match="must be positive"):
        Branch((A,), **wrong)
