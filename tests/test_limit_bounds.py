"""The bounds that the distance study stands on (tests/studies/limits), against figures from elsewhere."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

PLACE = Path(__file__).resolve().parent / "studies" / "limits" / "limit_bounds.py"


def _loaded():
    spec = importlib.util.spec_from_file_location("limit_bounds", PLACE)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


bounds = _loaded()
distances = st.floats(min_value=0.0, max_value=6.0)


@pytest.mark.parametrize(
    ("e_n0_db", "pe", "tolerance"),
    [(0.0, 0.0786496, 1e-6), (4.0, 0.0125008, 1e-5), (6.0, 0.00238829, 1e-5), (10.0, 3.87e-6, 1e-3)],
)
def test_a_known_signal_of_unknown_sign(e_n0_db, pe, tolerance):
    """Sources D1: "A known signal of unknown sign in white noise: Pe = Q(sqrt(2E/N0))"."""
    rate, noise = 16_000, 0.02
    n0 = 2 * noise**2 / rate
    samples = 1000
    level = np.sqrt(10 ** (e_n0_db / 10) * n0 * rate / samples)
    energy = np.sum(np.full(samples, level) ** 2)
    assert bounds.unknown_sign(bounds.distance(energy, sigma=noise)) == pytest.approx(pe, rel=tolerance)


@pytest.mark.parametrize(("d_a", "d_b"), [(1.0, 2.0), (0.5, 3.0), (1.5, 1.5)])
def test_two_noisy_channels_against_synthetic_pairs(d_a, d_b):
    """By construction: waveforms in noise, decided by the product of signs and by the likelihood ratio."""
    trials = 100_000
    product, ratio = bounds.signs_agree_simulated(d_a, d_b, trials=trials, rng=np.random.default_rng(5))
    expected = float(bounds.signs_agree(d_a, d_b))
    four_sigma = 4 * np.sqrt(expected * (1 - expected) / trials)
    assert product / trials == pytest.approx(expected, abs=four_sigma)
    assert product == ratio


@given(distances, distances)
def test_two_channels_are_never_better_than_the_noisier_one(d_a, d_b):
    both = float(bounds.signs_agree(d_a, d_b))
    alone = float(bounds.unknown_sign(min(d_a, d_b)))
    assert alone - 1e-12 <= both <= 0.5 + 1e-12
    assert both == pytest.approx(float(bounds.signs_agree(d_b, d_a)))
