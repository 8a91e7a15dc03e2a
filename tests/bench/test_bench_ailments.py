import math
from functools import lru_cache

import numpy as np
import pytest
from bench_parts import lines, seeded
from simulator.ailments import (
    Knobs,
    accidental_split,
    ailing_hum,
    ailing_pluck,
    ailing_setting,
    open_coil,
    series_capacitor,
    shorted_coil,
)
from simulator.conditions import Conditions
from simulator.scenes import random_bench

from dsp import SignalError

RATE = 16_000
LEAD_IN_S, RINGING_S = 0.2, 0.4
CALM = Conditions(humbucker_rate=1.0, capacitive_rate=0.0, snr_db=(70.0, 75.0), stray_little=(0.0, 0.0))


@lru_cache(maxsize=1)
def bench():
    return random_bench(seeded(5), conditions=CALM, pickups=2)


def taken(wanted="neck", string="E2", **changed):
    """The same stroke every time: what differs is what is said to be wrong."""
    return ailing_pluck(
        seeded(1), bench(), wanted, string, rate=RATE, lead_in_s=LEAD_IN_S, ringing_s=RINGING_S, **changed
    )


def levels_db(take, string="E2", count=12):
    ringing = take[round((LEAD_IN_S + 0.03) * RATE) :, 0]
    hz = bench().string(string).f0_hz * np.arange(1, count + 1)
    return 20 * np.log10(np.abs(lines(ringing, hz, rate=RATE)))


def test_nothing_wrong_changes_nothing():
    plain = bench().pluck(seeded(1), "neck", "E2", rate=RATE, lead_in_s=LEAD_IN_S, ringing_s=RINGING_S)
    assert np.array_equal(taken(), plain)
    elsewhere = taken(ailments=[open_coil("bridge"), accidental_split("bridge")])
    assert np.array_equal(elsewhere, plain)


def test_a_series_capacitor_takes_the_fundamental():
    """First-order high-pass with the load: 6 dB an octave well below its corner, nothing well above."""
    load = bench().load
    ohm = 1 / (1 / load.volume_ohm + 1 / load.input_ohm + (1 / load.tone_ohm if load.tone_ohm else 0.0))
    corner_hz = 1 / (2 * math.pi * ohm * 2.2e-9)
    lost = levels_db(taken()) - levels_db(taken(ailments=[series_capacitor("neck", farad=2.2e-9)]))
    hz = bench().string("E2").f0_hz * np.arange(1, 13)
    expected = 10 * np.log10(1 + np.square(corner_hz / hz))
    assert lost[:6] == pytest.approx(expected[:6], abs=1.0)
    assert lost[0] - lost[7] > 5


def test_a_smaller_capacitor_takes_more():
    lost = [
        levels_db(taken()) - levels_db(taken(ailments=[series_capacitor("neck", farad=f)]))
        for f in (10e-9, 4.7e-9, 1e-9)
    ]
    assert np.all(np.diff([one[0] for one in lost]) > 3)


def test_an_open_coil_is_very_weak_and_has_no_bass():
    """The capacitive divider of 10 pF with the cable, by hand, and the high-pass under it."""
    lost = levels_db(taken()) - levels_db(taken(ailments=[open_coil("neck", farad=10e-12)]))
    least = 20 * math.log10((bench().load.cable_f + 10e-12) / 10e-12)
    assert np.min(lost[:8]) > least - 6
    assert lost[0] > lost[7] + 6


def test_a_shorted_coil_is_very_weak_and_dull():
    """By hand: 200 ohm over the resistance of both coils, less as their inductance takes over."""
    lost = levels_db(taken(string="D3"), "D3") - levels_db(
        taken(string="D3", ailments=[shorted_coil("neck", ohm=200.0)]), "D3"
    )
    coils = [coil.electrics for coil in bench().pickup("neck").coils]
    ohm, henry = sum(c.r_ohm for c in coils), sum(c.l_h for c in coils)
    hz = bench().string("D3").f0_hz * np.arange(1, 7)
    expected = 20 * np.log10(np.hypot(ohm + 200.0, 2 * math.pi * hz * henry) / 200.0)
    assert lost[:6] == pytest.approx(expected, abs=1.5)
    assert lost[5] > lost[0] + 3


def test_an_accidental_split_is_weaker_and_hums():
    """Half the coils lose about 6 dB, and what cancelled hum is gone (P1, P2)."""
    for left in (1, 2):
        lost = levels_db(taken()) - levels_db(taken(ailments=[accidental_split("neck", left=left)]))
        assert 3 < lost[0] < 9
        whole, half = (
            np.std(ailing_hum(seeded(2), bench(), "neck", ailments=wrong, rate=RATE, ringing_s=0.4)[2000:])
            for wrong in ([], [accidental_split("neck", left=left)])
        )
        assert half > 3 * whole


def test_the_knobs():
    """A volume at 0.1 of the track takes 20 dB off, a tone turned down takes the treble alone."""
    low = levels_db(taken()) - levels_db(taken(knobs=Knobs(volume=0.1)))
    assert low[:8] == pytest.approx(20, abs=1.5)
    dull = levels_db(taken(string="D3"), "D3") - levels_db(
        taken(string="D3", knobs=Knobs(tone_ohm=100.0)), "D3"
    )
    assert abs(dull[0]) < 2
    assert dull[9] > 12


def test_in_a_setting_of_two_only_the_ailing_one_suffers():
    both = ailing_setting(bench(), ["bridge", "neck"], [open_coil("neck")])
    bridge, neck = both.members
    assert bridge.branch.series_f is None
    assert neck.branch.series_f == 10e-12
    assert [m.pickup.name for m in both.members] == ["bridge", "neck"]
    lone = levels_db(taken("bridge"))
    assert levels_db(taken(["bridge", "neck"], ailments=[open_coil("neck")])) == pytest.approx(lone, abs=1.0)


def test_what_is_not_there_cannot_ail():
    with pytest.raises(SignalError, match="no pickup 'fourth'"):
        ailing_setting(bench(), "neck", [open_coil("fourth")])
    single = random_bench(seeded(1), conditions=Conditions(humbucker_rate=0.0), pickups=2)
    with pytest.raises(SignalError, match="no coil 2"):
        ailing_setting(single, "neck", [accidental_split("neck", left=2)])
