"""The simulator's string against numerical solutions that do not use its formulas."""

import numpy as np
import pytest
from scipy.fft import dst
from scipy.linalg import eigh_tridiagonal, eigvalsh
from scipy.signal import lsim
from simulator.interfaces import high_pass
from simulator.strings import (
    STEEL_YOUNG_PA,
    StringSpec,
    mode_frequencies,
    plucked_amplitudes,
    round_wire_mass,
    stiffness,
    tension_for,
    wave_speed,
)


@pytest.mark.parametrize("place", [0.2, 0.5, 0.125, 0.07])
def test_modes_of_the_corner_by_a_sine_transform(place):
    """Sources S1: scipy's transform of the corner's shape itself, on two thousand points."""
    x = np.arange(1, 2000) / 2000
    corner = np.where(x <= place, x / place, (1 - x) / (1 - place))
    numbers = dst(corner, type=1)[:8] / 2000
    assert plucked_amplitudes(8, place=place) == pytest.approx(numbers, abs=5e-5)


def test_an_ideal_string_has_the_modes_of_a_chain_of_masses():
    """Sources S2: 104 N on 1.6 g/m over 0.65 m, cut in 1500 masses; scipy's eigenvalues."""
    count, length, tension, mass = 1500, 0.65, 104.0, 1.6e-3
    step = length / count
    stiff = tension / (mass * step**2)
    squares = eigh_tridiagonal(
        np.full(count - 1, 2 * stiff),
        np.full(count - 2, -stiff),
        eigvals_only=True,
        select="i",
        select_range=(0, 5),
    )
    f0 = np.sqrt(squares) / (2 * np.pi)
    string = StringSpec(
        "of S2", wave_speed(tension_n=tension, mass_kg_per_m=mass) / (2 * length), length, 0.0
    )
    assert mode_frequencies(string)[:6] == pytest.approx(f0, rel=1e-4)


@pytest.mark.parametrize(("inches", "hz"), [(0.010, 329.6276), (0.017, 195.9977)])
def test_a_stiff_string_has_the_modes_of_a_beam_under_tension(inches, hz):
    """Sources S6, whose formula is from memory: T y'' - E I y'''' on a grid, by scipy's eigenvalues."""
    length, diameter = 0.648, inches * 0.0254
    mass = round_wire_mass(diameter)
    tension = tension_for(hz, length_m=length, mass_kg_per_m=mass)
    count = 400
    step = length / count
    second = (
        np.diag(np.full(count - 1, -2.0)) + np.diag(np.ones(count - 2), 1) + np.diag(np.ones(count - 2), -1)
    ) / (step**2)
    bending = STEEL_YOUNG_PA * np.pi * diameter**4 / 64
    squares = eigvalsh((-tension * second + bending * second @ second) / mass, subset_by_index=(0, 7))
    by_numbers = np.sqrt(squares) / (2 * np.pi)
    b = stiffness(core_m=diameter, tension_n=tension, length_m=length)
    found = mode_frequencies(StringSpec("plain", hz, length, b))[:8]
    # the grid itself lowers mode 8 by three parts in ten thousand: compared are the stretches, mode by mode
    n = np.arange(1, 9)
    grid = 2 * count / (np.pi * n) * np.sin(np.pi * n / (2 * count))
    assert found == pytest.approx(by_numbers / grid, rel=2e-5)
    assert found[7] / (8 * found[0]) > 1 + 25 * b


@pytest.mark.parametrize("corner_hz", [5.0, 10.0, 30.0])
def test_ac_coupling_as_scipy_has_it(corner_hz):
    """Sources P6: s / (s + 2 pi f) on a lobe of 50 ms, by scipy's solver of linear systems."""
    rate = 8000
    t = np.arange(rate) / rate
    lobe = np.where((t > 0.2) & (t < 0.25), np.sin(np.pi * (t - 0.2) / 0.05) ** 2, 0.0)
    _, solved, _ = lsim(([1.0, 0.0], [1.0, 2 * np.pi * corner_hz]), lobe, t)
    found = high_pass(lobe, corner_hz=corner_hz, rate=rate)
    assert found == pytest.approx(solved, abs=2e-3)
    assert found.min() < -0.1
