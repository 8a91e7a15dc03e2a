"""Levels of harmonics: known partials in, their levels out."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dsp.methods.profile import HARMONICS, pluck_levels
from dsp.signal.pitch import Pitch
from dsp.signal.samples import ANALYSIS_RATE

QUICK = settings.get_profile("dsp")
ONSET = 6400
D3 = Pitch(146.83, 0.0, "as named")


def tone(sizes, *, f0=D3.f0_hz, noise=1e-6, hum=0.0, seed=0):
    """Quiet, then partials of steady ``sizes`` from 1 on; ``hum`` at 150 Hz all through."""
    t = np.arange(ONSET + ANALYSIS_RATE) / ANALYSIS_RATE
    x = sum(a * np.sin(2 * np.pi * n * f0 * t + n) for n, a in enumerate(sizes, start=1))
    x = np.where(np.arange(len(t)) < ONSET, 0.0, x)
    return x + noise * np.random.default_rng(seed).standard_normal(len(t)) + hum * np.sin(2 * np.pi * 150 * t)


def read(x, **options):
    return pluck_levels(x, onset=ONSET, quiet=ONSET - 300, pitch=D3, **options)


SIZES = (0.1, 0.05, 0.02, 0.01, 0.03, 0.005, 0.002, 0.01)


def test_levels_are_those_of_the_partials():
    levels = read(tone(SIZES))
    assert levels.levels_db[: len(SIZES)] == pytest.approx(20 * np.log10(SIZES), abs=0.2)
    assert levels.usable.tolist() == [True] * len(SIZES) + [False] * (HARMONICS - len(SIZES))


@QUICK
@given(st.floats(1e-2, 10), st.integers(0, 5))
def test_gain_is_an_offset_and_negation_nothing(gain, seed):
    x = tone(SIZES, seed=seed)
    plain, louder = read(x), read(-gain * x)
    offset = (louder.levels_db - plain.levels_db)[plain.usable]
    assert offset == pytest.approx(20 * np.log10(gain), abs=1e-6)
    assert (louder.usable == plain.usable).all()


def test_noise_has_no_usable_harmonic():
    """Of 240 harmonics that are noise, few stand 10 dB over the noise in the mean of three readings."""
    found = [read(tone((), noise=0.01, seed=seed)).usable.sum() for seed in range(20)]
    assert np.sum(found) <= 8


def test_hum_near_a_harmonic_marks_it():
    """150 Hz lies under the fundamental of D3 (146.8 Hz)."""
    clean, hummed = read(tone(SIZES)), read(tone(SIZES, hum=0.05), mains_hz=50)
    assert clean.usable[0]
    assert not hummed.usable[0]
    assert hummed.usable[1:5].all()


def test_near_a_mains_line_more_is_asked_for():
    """Of hum levels under the fundamental, some leave it usable at 60 Hz (no line near), not at 50."""
    takes = [tone(SIZES, hum=0.1 * 10 ** (-db / 20)) for db in range(6, 26, 2)]
    far, near = ([read(x, mains_hz=hz).usable[0] for x in takes] for hz in (60, 50))
    assert near[-1]
    assert not far[0]
    assert sum(near) < sum(far)


def test_silence_after_the_onset_is_not_usable():
    levels = pluck_levels(np.zeros(ONSET + 200), onset=ONSET, quiet=ONSET, pitch=D3)
    assert not levels.usable.any()
    assert np.isfinite(levels.levels_db).all()


def test_a_take_without_quiet_is_read_by_what_lies_between():
    x = tone(SIZES, noise=1e-5)[ONSET:]
    levels = pluck_levels(x, onset=0, quiet=0, pitch=D3)
    assert levels.usable[: len(SIZES)].all()
    assert not levels.usable[len(SIZES) :].any()
