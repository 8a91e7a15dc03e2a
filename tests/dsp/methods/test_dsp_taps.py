"""Taps: loud through a pickup that is on, nearly nothing through another, and noise alone says nothing."""

import numpy as np
import pytest
from simulator.conditions import Conditions
from simulator.scenes import random_bench

from dsp.methods.taps import analyse_taps

RATE = 8000
ON_OVER_OFF_DB = 20.0


def taps(x, *, rate=RATE):
    return analyse_taps(np.atleast_2d(x.T).T, rate=rate, channel=0)


def level(x, **said):
    found = taps(x, **said)
    assert found.faults == ()
    return found.level


@pytest.mark.parametrize("seed", range(3))
def test_a_pickup_that_is_on_is_far_louder(seed):
    """By construction: the tool is 60 mm and more from the other pickup, whose coil hears the knock alone."""
    rng = np.random.default_rng(seed)
    bench = random_bench(rng, conditions=Conditions(humbucker_rate=0.3), pickups=2)
    heard = {(on, at): level(bench.tap(rng, on, at, rate=RATE)) for on in NAMES for at in NAMES}
    for name, other in (NAMES, NAMES[::-1]):
        assert heard[name, name].heard
        assert heard[name, name].level_db > heard[name, other].level_db + ON_OVER_OFF_DB
        assert heard[name, name].level_db > heard[other, name].level_db + ON_OVER_OFF_DB


NAMES = ("bridge", "neck")


def one_take(wanted="neck", tapped="neck", *, rate=RATE, seed=5, **said):
    rng = np.random.default_rng(seed)
    bench = random_bench(rng, conditions=Conditions(humbucker_rate=0.0, bits=(24,)), pickups=2)
    return bench.tap(rng, wanted, tapped, rate=rate, **said)


def test_polarity_changes_nothing_and_gain_moves_the_level_alone():
    x = one_take() * 0.5
    straight, turned, softer = level(x), level(-x), level(0.1 * x)
    assert straight == turned
    assert softer.count == straight.count
    assert softer.level_db == pytest.approx(straight.level_db - 20, abs=1e-6)


def test_rate_changes_little():
    low, high = (level(one_take(rate=rate)) for rate in (16_000, 48_000))
    assert low.level_db == pytest.approx(high.level_db, abs=1.5)


@pytest.mark.parametrize("hum_hz", [0.0, 50.05, 59.95])
def test_noise_and_hum_are_no_taps(hum_hz):
    t = np.arange(4 * RATE) / RATE
    x = 1e-3 * np.random.default_rng(3).standard_normal(len(t)) + 0.02 * np.sin(2 * np.pi * hum_hz * t)
    assert not level(x).heard


def test_one_knock_is_none_and_a_string_that_rings_is_none():
    assert [f.code for f in taps(one_take(at_s=(0.4,))).faults] == ["one tap alone"]
    rng = np.random.default_rng(6)
    bench = random_bench(rng, pickups=2)
    plucks = bench.pluck(rng, "neck", "D3", onsets_s=(0.0, 0.9, 1.8), rate=RATE)
    assert [f.code for f in taps(plucks).faults] == ["taps ring on"]


@pytest.mark.parametrize("rests_s", [0.003, 0.03])
def test_a_tool_that_is_slow_to_come_back_is_no_string(rests_s):
    """A tap has two lobes, one each way; they lie further apart the longer the tool rests."""
    slow = Conditions(
        humbucker_rate=0.0,
        tap_approach_s=(0.015, 0.015),
        tap_rests_s=(rests_s, rests_s),
        hand_buzz=(0.0, 0.0),
    )
    rng = np.random.default_rng(7)
    assert level(random_bench(rng, conditions=slow, pickups=2).tap(rng, "neck", "neck", rate=RATE)).heard


def test_nothing_at_all_is_a_fault():
    assert [f.code for f in taps(np.zeros(3 * RATE)).faults] == ["exact zeros"]
    assert [f.code for f in taps(one_take()[: RATE // 2]).faults] == ["cut off at the end"]
