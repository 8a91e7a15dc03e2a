import math
from dataclasses import replace

import numpy as np
import pytest
from simulator.circuits import (
    Branch,
    CoilElectrics,
    LoadSpec,
    equal_coils,
    jack_voltage,
    millman,
    resonance_hz,
    transfers,
)

from dsp import SignalError

OPEN = LoadSpec(volume_ohm=1e12, tone_ohm=None, cable_f=0.0, input_ohm=1e12)
CABLE = replace(OPEN, cable_f=500e-12)
COIL = CoilElectrics(r_ohm=4000.0, l_h=3.0, c_f=200e-12)
"""C2: slightlytechnicalacademy.com, "pickup coils in parallel"."""

RESONANCES = [
    pytest.param(2.4, 300e-12, 5931.0, id="C1 300 pF"),
    pytest.param(2.4, 2400e-12, 2097.0, id="C1 2400 pF"),
]


@pytest.mark.parametrize(("l_h", "c_f", "expected"), RESONANCES)
def test_resonance(l_h, c_f, expected):
    """C1: f = 1 / (2 pi sqrt(L C))."""
    assert resonance_hz(l_h, c_f) == pytest.approx(expected, abs=0.6)


TOGETHER = [
    pytest.param("series", 6.0, 8000.0, 100e-12, 2652.6, id="C2 series"),
    pytest.param("parallel", 1.5, 2000.0, 400e-12, 4331.6, id="C2 parallel"),
]


@pytest.mark.parametrize(("join", "l_h", "r_ohm", "c_f", "loaded_hz"), TOGETHER)
def test_two_equal_coils(join, l_h, r_ohm, c_f, loaded_hz):
    """C2: inputs read, figures derived."""
    both = equal_coils(COIL, 2, join=join)
    assert (both.l_h, both.r_ohm, both.c_f) == pytest.approx((l_h, r_ohm, c_f), rel=1e-12)
    assert resonance_hz(both.l_h, both.c_f) == pytest.approx(6497.5, abs=0.06)
    assert resonance_hz(both.l_h, both.c_f + 500e-12) == pytest.approx(loaded_hz, abs=0.06)


PEAKS = [
    pytest.param([Branch((COIL,))], "parallel", 3473.0, id="C2 single"),
    pytest.param([Branch((COIL,)), Branch((COIL,))], "series", 2652.6, id="C2 two in series"),
    pytest.param([Branch((COIL, COIL))], "parallel", 2652.6, id="C2 two coils of one pickup"),
    pytest.param([Branch((COIL,)), Branch((COIL,))], "parallel", 4331.6, id="C2 two in parallel"),
]


@pytest.mark.parametrize(("branches", "join", "expected"), PEAKS)
def test_peak_of_the_network(branches, join, expected):
    """C2: the loaded resonance shows in the nodal analysis; losses shift it by some thousandths."""
    hz = np.arange(1000.0, 8000.0, 1.0)
    gains = transfers(branches, CABLE, hz, join=join)
    peak = hz[np.argmax(np.abs(sum(g for branch in gains for g in branch)))]
    assert peak == pytest.approx(expected, rel=5e-3)


MILLMAN = [
    pytest.param((1.0, 1.0), math.inf, 1.0, id="C3 in phase"),
    pytest.param((1.0, -1.0), math.inf, 1 / 7, id="C3 out of phase"),
    pytest.param((1.0, -1.0), 250e3, 125 / 887, id="C3 out of phase into 250 k"),
]


@pytest.mark.parametrize(("volts", "load_ohm", "expected"), MILLMAN)
def test_two_sources_in_parallel(volts, load_ohm, expected):
    """C3: Millman's theorem; lcapy returns 125/887."""
    assert millman(volts, (6000.0, 8000.0), load_ohm=load_ohm) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("volts", "load_ohm", "expected"), MILLMAN)
def test_network_at_dc(volts, load_ohm, expected):
    """C3: the nodal analysis at 0 Hz, and a constant voltage through it."""
    branches = [
        Branch((CoilElectrics(ohm, 2.5, 1e-10),), reversed=v < 0)
        for ohm, v in zip((6000.0, 8000.0), volts, strict=True)
    ]
    load = replace(OPEN, volume_ohm=min(load_ohm, 1e12))
    gains = transfers(branches, load, np.zeros(1), join="parallel")
    assert sum(g[0][0].real for g in gains) == pytest.approx(expected, rel=1e-6)
    settled = jack_voltage([[np.ones(4000)]] * 2, branches, load, join="parallel", rate=8000)
    assert settled[2000] == pytest.approx(expected, rel=1e-3)


def test_pots_divide_and_dull():
    coil = [Branch((COIL,))]
    half = transfers(coil, LoadSpec(volume=0.5, input_ohm=1e12), np.zeros(1), join="parallel")[0][0][0]
    assert half.real == pytest.approx(0.5 * 250e3 / 254e3, rel=1e-6)
    dull, bright = (
        abs(transfers(coil, replace(CABLE, tone_ohm=ohm), np.array([3000.0]), join="parallel")[0][0][0])
        for ohm in (100.0, None)
    )
    assert dull < 0.1 * bright


def test_an_empty_setting_is_refused():
    with pytest.raises(SignalError, match="without any pickup"):
        transfers([], OPEN, np.zeros(1), join="parallel")
    with pytest.raises(SignalError, match="volume"):
        LoadSpec(volume=0.0)
