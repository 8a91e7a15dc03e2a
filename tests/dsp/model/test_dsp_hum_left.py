"""Hum that is left by two coils, against figures of another program and a solution node by node."""

from __future__ import annotations

import numpy as np
import pytest
from simulator.circuits import Branch, CoilElectrics, LoadSpec, transfers

from dsp.model.hum_left import LEAST_DB, HumCoil, hum_left_db, turns_of_ohm

LARGE, SMALL = HumCoil.of(8000), HumCoil.of(5000)
HZ = (50, 100, 150, 250, 350)

BY_LCAPY = [
    # volt and ohm of each, opposed, load, volts at the load; sources C3 (lcapy), inductances left out
    pytest.param((1.0, 6e3), (1.0, 8e3), False, 1e15, 1.0, id="in phase, no load"),
    pytest.param((1.0, 6e3), (1.0, 8e3), True, 1e15, 1 / 7, id="out of phase, no load"),
    pytest.param((1.0, 6e3), (1.0, 8e3), True, 250e3, 125 / 887, id="out of phase, 250 k"),
]


@pytest.mark.parametrize(("a", "b", "opposed", "load", "volts"), BY_LCAPY)
def test_resistances_alone_give_the_volts_of_the_circuit(a, b, opposed, load, volts):
    coils = [HumCoil(emf, ohm, 0.0) for emf, ohm in (a, b)]
    (left,) = hum_left_db(*coils, join="parallel", opposed=opposed, hz=(50,), load_ohm=load)
    loudest = max(emf * load / (ohm + load) for emf, ohm in (a, b))
    assert left == pytest.approx(20 * np.log10(volts / loudest), abs=1e-6)


def node_by_node(coils, *, join, hz, load):
    """Volts at the jack: every node and every source current unknown, Kirchhoff's laws row by row.

    Each coil is (volt, ohm, henry) between its own ends: a source, a resistor, an inductor in a row.
    """
    nodes = 1 + 3 * len(coils)  # the jack, and three of each coil: foot, source's end, between R and L
    matrix = np.zeros((nodes + len(coils),) * 2, dtype=complex)
    right = np.zeros(nodes + len(coils), dtype=complex)

    def branch(p, q, admittance):
        for x, y, sign in ((p, p, 1), (q, q, 1), (p, q, -1), (q, p, -1)):
            if x is not None and y is not None:
                matrix[x, y] += sign * admittance

    branch(0, None, 1 / load)
    for k, (volt, ohm, henry) in enumerate(coils):
        foot, middle, inner = (1 + 3 * k + n for n in range(3))
        top = 0 if join == "parallel" or k == 0 else 1 + 3 * (k - 1)
        branch(middle, inner, 1 / ohm)
        branch(inner, top, 1 / (2j * np.pi * hz * henry))
        row = nodes + k  # the source: volt(middle) - volt(foot), and its current into both nodes
        matrix[row, middle], matrix[row, foot], right[row] = 1, -1, volt
        matrix[middle, row], matrix[foot, row] = 1, -1
        if join == "parallel" or k == len(coils) - 1:
            branch(foot, None, 1e12)
    return np.linalg.solve(matrix, right)[0]


@pytest.mark.parametrize("join", ["parallel", "series"])
@pytest.mark.parametrize("sign", [1, -1])
def test_the_network_solved_node_by_node(join, sign):
    load = 220e3
    coils = [(1.0, 7300.0, 3.1), (0.7 * sign, 5200.0, 1.4)]
    a, b = HumCoil(1.0, 7300.0, 3.1), HumCoil(0.7, 5200.0, 1.4)
    left = hum_left_db(a, b, join=join, opposed=sign < 0, hz=HZ, load_ohm=load)
    for hz, db in zip(HZ, left, strict=True):
        alone = max(abs(node_by_node([one], join="parallel", hz=hz, load=load)) for one in coils)
        joined = abs(node_by_node(coils, join=join, hz=hz, load=load))
        assert db == pytest.approx(20 * np.log10(joined / alone), abs=1e-3)


@pytest.mark.parametrize("join", ["parallel", "series"])
def test_the_simulated_guitar_with_its_pots_and_cable_leaves_as_much(join):
    """Its network has capacitances, a tone pot and a cable besides: little at the lines of the mains."""
    branches = [
        Branch((CoilElectrics(one.r_ohm, one.l_h),), reversed=k == 1) for k, one in enumerate((LARGE, SMALL))
    ]
    hz, load = np.array(HZ, dtype=float), LoadSpec()
    joined = sum(
        one.emf * gains[0]
        for one, gains in zip((LARGE, SMALL), transfers(branches, load, hz, join=join), strict=True)
    )
    alone = LARGE.emf * transfers(branches[:1], load, hz, join=join)[0][0]
    simulated = 20 * np.log10(np.abs(joined / alone))
    assert hum_left_db(LARGE, SMALL, join=join, opposed=True, hz=HZ) == pytest.approx(simulated, abs=0.7)


def test_8000_against_5000_turns():
    """In series the difference of the turns (3000 of 8000: 8.5 dB); in parallel about 34 and 21 dB."""
    (series,) = hum_left_db(LARGE, SMALL, join="series", opposed=True, hz=(50,), load_ohm=1e12)
    assert series == pytest.approx(20 * np.log10(3 / 8), abs=1e-3)
    low, high = hum_left_db(LARGE, SMALL, join="parallel", opposed=True, hz=(50, 250))
    assert (low, high) == (pytest.approx(-34, abs=1), pytest.approx(-21, abs=1))


def test_like_coils_cancel_and_alike_ones_add():
    assert np.all(hum_left_db(LARGE, LARGE, join="parallel", opposed=True, hz=HZ) == LEAST_DB)
    (series,) = hum_left_db(LARGE, LARGE, join="series", opposed=False, hz=(50,), load_ohm=1e12)
    assert series == pytest.approx(20 * np.log10(2), abs=1e-3)
    assert turns_of_ohm(LARGE.r_ohm) == pytest.approx(8000)
