"""Clicks of a selector are found where they are, and nothing else is taken for one."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from simulator.scenes import random_bench

from dsp.signal.clicks import PICK_S, clicks

RATE = 16_000
AT = (16_000, 25_600)


def string(*, pops=AT, seconds=3.0, height=0.05):
    """(frames,): a plucked A2 that dies, with pops of a millisecond that die by e in half of one."""
    t = np.arange(int(seconds * RATE)) / RATE
    x = sum(np.sin(2 * np.pi * 110 * n * t) * np.exp(-(0.5 + n) * t) / n for n in range(1, 9))
    for at in pops:
        x[at : at + 160] += height * np.exp(-np.arange(160) / (0.0005 * RATE))
    return x + 1e-4 * np.random.default_rng(0).standard_normal(len(t))


def begins(found):
    return [first for first, _ in found]


@given(gain=st.floats(0.1, 10.0), sign=st.sampled_from([1, -1]), quiet=st.integers(0, 4000))
def test_pops_are_found_at_any_gain_and_either_way_up(gain, sign, quiet):
    x = np.concatenate([1e-4 * np.random.default_rng(1).standard_normal(quiet), string()])
    found = begins(clicks(sign * gain * x, rate=RATE, start=quiet + int(PICK_S * RATE)))
    assert len(found) == len(AT)
    assert np.abs(np.array(found) - np.array(AT) - quiet).max() <= 0.01 * RATE


def test_a_string_without_pops_and_noise_do_not_click():
    assert clicks(string(pops=()), rate=RATE, start=int(PICK_S * RATE)) == []
    assert clicks(np.random.default_rng(2).standard_normal(3 * RATE), rate=RATE, start=0) == []
    assert clicks(np.zeros(RATE), rate=RATE, start=0) == []


def test_a_contact_that_bounces_clicks_once():
    x = string(pops=(16_000, 16_480, 17_120, 25_600))
    assert len(clicks(x, rate=RATE, start=int(PICK_S * RATE))) == 2


def test_steps_of_simulated_selectors_are_heard_and_nothing_else():
    """Times by construction; gaps and bounces of a step last up to a tenth of a second. Nine in ten."""
    at = np.array([0.6, 1.2])
    heard = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        bench = random_bench(rng, pickups=2)
        through = ("bridge", ("bridge", "neck"), "neck")
        x = bench.switch(rng, through, "D3", at_s=tuple(at), rate=RATE, lead_in_s=0.4)
        found = np.array(begins(clicks(x[:, 0], rate=RATE, start=int((0.4 + PICK_S) * RATE)))) / RATE - 0.4
        near = np.abs(found[:, np.newaxis] - at) < 0.1
        assert near.any(axis=1).all(), seed
        heard += near.any(axis=0).sum()
    assert heard >= 36
