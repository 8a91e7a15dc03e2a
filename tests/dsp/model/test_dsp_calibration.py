"""The maps from statistics to nats: odd, clipped, and never steeper than what was fitted."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dsp.model import calibration, fitted
from dsp.model.calibration import mislabelled_probability, paired_ratio, pulse_ratio, split_ratio

STATISTICS = st.floats(-3, 3)
SLOPES = ("PAIRED_SLOPE", "TURN_SLOPE", "PULSE_SLOPE", "TOUCH_SLOPE")


def test_the_fitted_numbers_are_the_ones_in_use():
    for name in SLOPES:
        used, fit = getattr(calibration, name), getattr(fitted, name)
        assert 0.5 < used <= fit, name
        assert used == pytest.approx(min(calibration.SLOPE_SHARE * fit, calibration.STEEPEST)), name
    assert calibration.SHAPE_NATS == fitted.LOOKS_LIKE > 1.0


def test_the_file_of_numbers_says_how_and_when_and_holds_nothing_else():
    module = ast.parse(Path(fitted.__file__).read_text(encoding="utf-8"))
    said, *lines = module.body
    assert all(isinstance(line, ast.Assign) and isinstance(line.value, ast.Constant) for line in lines)
    assert {line.targets[0].id for line in lines} == {*SLOPES, "LOOKS_LIKE"}
    assert "--write" in said.value.value
    assert "simulated benches" in said.value.value


@given(STATISTICS)
def test_maps_are_odd_grow_and_are_clipped(x):
    """Turned over, every statistic says the opposite as loudly; none says more than its clip."""
    for ratio, most in (
        (paired_ratio, calibration.PAIRED_MOST),
        (split_ratio, calibration.SPLIT_MOST),
        (lambda v: pulse_ratio(v, touches=0), calibration.PULSE_MOST),
        (lambda v: pulse_ratio(v, touches=2), calibration.TOUCH_MOST),
    ):
        assert ratio(-x) == -ratio(x)
        assert abs(ratio(x)) <= most
        assert ratio(x + 0.1) >= ratio(x)
    assert pulse_ratio(x, touches=1) == 0.0


@given(st.floats(-3, 3))
def test_a_pulse_is_the_less_mislabelled_the_more_it_looks_its_part(shape):
    assert mislabelled_probability(shape, touch=False) <= mislabelled_probability(
        -abs(shape) - 0.01, touch=False
    )
    assert 0 < mislabelled_probability(shape, touch=True) < 1
