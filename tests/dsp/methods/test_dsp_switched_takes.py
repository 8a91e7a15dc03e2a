"""Switch takes: one string rings while the selector moves; who is turned over against whom."""

from functools import lru_cache

import numpy as np
import pytest
from dsp_parts import BRIDGE, LEAD_IN_S, MIDDLE, NECK, SCALE_MM, plain_string, rig, setting
from hypothesis import given, settings
from hypothesis import strategies as st
from simulator.conditions import Conditions
from simulator.rig import SettingSpec
from simulator.scenes import random_bench
from simulator.selector import SwitchSpec
from simulator.strings import PluckSpec
from simulator.takes import switch

from dsp import SignalError
from dsp.methods.switch import analyse_switch
from dsp.model.settings import Mix, Place, Source
from dsp.signal.samples import ANALYSIS_RATE

RATE = 16_000
OPEN_HZ = {"E2": 82.4069, "A2": 110.0, "D3": 146.8324, "G3": 195.9977}
"""Open strings, equal temperament (sources S5)."""
POP = SwitchSpec(0.0, gap_s=0.015, pop_v=0.05, pop_s=1e-3)


def mix(*sources, **options):
    return Mix(tuple(Source(n, Place(x, SCALE_MM), **options) for n, x in sources))


ALONE = (mix((0, BRIDGE)), mix((1, NECK)))
BOTH = mix((0, BRIDGE), (1, NECK))
UNPLACED = (Mix((Source(0),)), Mix((Source(1),)))


def on(*members):
    """One setting of the selector: (place, sign) of each pickup, in parallel."""
    return SettingSpec(tuple(m for x, s in members for m in setting(x, s).members))


@lru_cache(maxsize=64)
def take(chosen, *, name="A2", at_s=(0.8,), step=POP, rate=RATE, ringing_s=1.7, seed=0, **around):
    """(frames,): ``chosen`` are the settings in turn, each a tuple of (place, sign)."""
    steps = [
        SwitchSpec(at, step.gap_s, pop_v=step.pop_v, pop_s=step.pop_s, bounces=step.bounces) for at in at_s
    ]
    made = switch(
        np.random.default_rng(seed),
        plain_string(name),
        [on(*one) for one in chosen],
        PluckSpec(angle_deg=10.0),
        rig(rate=rate, ringing_s=ringing_s, **around),
        switching=steps,
    )[:, 0]
    made.setflags(write=False)
    return made


def alone(sign, **options):
    return take((((BRIDGE, 1),), ((NECK, sign),)), **options)


def ratio(heard, a=0, b=1):
    """Log ratio "a and b in phase : opposed" of a table."""
    table = np.moveaxis(heard.table, (a, b), (0, 1))
    table = np.logaddexp.reduce(table.reshape(2, 2, -1), axis=2)
    return np.logaddexp(table[0, 0], table[1, 1]) - np.logaddexp(table[0, 1], table[1, 0])


def heard(x, mixes=ALONE, *, rate=RATE, count=2, named_hz=110.0, mains_hz=None):
    return analyse_switch(x, rate=rate, mixes=mixes, count=count, named_hz=named_hz, mains_hz=mains_hz)


def codes(faults):
    return [f.code for f in faults]


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("name", OPEN_HZ)
def test_two_pickups_in_turn_are_told_by_construction(name, sign):
    result = heard(alone(sign, name=name), named_hz=OPEN_HZ[name])
    assert result.faults == ()
    assert sign * ratio(result) > 3.0
    assert sign * result.step_ratios[0] > 3.0
    assert result.f0_hz == pytest.approx(OPEN_HZ[name], rel=0.01)


@pytest.mark.parametrize(
    "step",
    [
        SwitchSpec(0.0),
        SwitchSpec(0.0, gap_s=0.04),
        SwitchSpec(0.0, gap_s=0.01, pop_v=0.03, bounces=3),
        SwitchSpec(0.0, gap_s=0.02, pop_v=0.5, pop_s=2e-3),
    ],
    ids=["no pop, no gap", "long gap", "bounces", "large pop"],
)
def test_pops_gaps_and_bounces_do_not_matter(step):
    assert ratio(heard(alone(-1, step=step))) < -3.0


def test_the_stretches_keep_clear_of_the_gap():
    first, second = heard(alone(1)).stretches
    step = LEAD_IN_S + 0.8
    assert LEAD_IN_S < first.start / ANALYSIS_RATE < LEAD_IN_S + 0.1
    assert step - 0.05 < first.stop / ANALYSIS_RATE <= step + 0.005
    assert step + POP.gap_s - 0.005 <= second.start / ANALYSIS_RATE < step + 0.06


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_every_rate_gives_the_same_answer(rate):
    result = heard(alone(-1, rate=rate), rate=rate)
    assert ratio(result) < -3.0
    assert result.stretches[1].start / ANALYSIS_RATE == pytest.approx(LEAD_IN_S + 0.83, abs=0.03)


@pytest.mark.parametrize("sign", [1, -1])
def test_through_both_the_middle_stretch_agrees(sign):
    chosen = (((BRIDGE, 1),), ((BRIDGE, 1), (NECK, sign)), ((NECK, sign),))
    result = heard(take(chosen, at_s=(0.8, 1.1)), (ALONE[0], BOTH, ALONE[1]))
    assert sign * ratio(result) > 3.0
    assert len(result.stretches) == 3
    assert len(result.step_ratios) == 2
    neck, both = result.levels_db[2], result.levels_db[1]
    assert both < neck - 3.0


@pytest.mark.parametrize("sign", [1, -1])
def test_one_alone_and_both_never_mislead(sign):
    chosen = (((NECK, 1),), ((BRIDGE, sign), (NECK, 1)))
    result = heard(take(chosen), (ALONE[1], BOTH))
    assert sign * ratio(result) > -0.5


@pytest.mark.parametrize("signs", [(1, 1, 1), (1, -1, 1), (1, -1, -1)])
def test_three_pickups_over_five_settings(signs):
    a, b, c = zip((BRIDGE, MIDDLE, NECK), signs, strict=True)
    places = ((0, BRIDGE), (1, MIDDLE), (2, NECK))
    mixes = tuple(mix(*places[i:j]) for i, j in ((0, 1), (0, 2), (1, 2), (1, 3), (2, 3)))
    x = take(((a,), (a, b), (b,), (b, c), (c,)), at_s=(0.6, 0.95, 1.3, 1.65), name="E2", ringing_s=2.3)
    result = heard(x, mixes, count=3, named_hz=OPEN_HZ["E2"])
    assert result.faults == ()
    assert result.table.shape == (2, 2, 2)
    assert signs[0] * signs[1] * ratio(result, 0, 1) > 2.0
    assert signs[1] * signs[2] * ratio(result, 1, 2) > 2.0


def test_a_reversed_member_turns_the_sound_and_not_the_table():
    reversed_neck = mix((1, NECK), reversed=True)
    result = heard(alone(-1), (ALONE[0], reversed_neck))
    assert ratio(result) > 3.0
    assert result.step_ratios[0] < -3.0


def test_a_pickup_against_itself_turned_over_says_nothing_of_another():
    x = take((((NECK, 1),), ((NECK, -1),)))
    result = heard(x, (ALONE[1], mix((1, NECK), reversed=True)))
    assert result.step_ratios[0] < -3.0
    assert np.ptp(result.table) < 1e-9


def test_without_places_the_lowest_harmonics_decide():
    for sign in (1, -1):
        assert sign * ratio(heard(alone(sign), UNPLACED)) > 2.0


def test_no_take_says_more_than_four_nats():
    assert np.ptp(heard(alone(1)).table) <= 4.0
    assert heard(alone(1)).table.max() == 0.0


@settings(settings.get_profile("dsp"), max_examples=4)
@given(
    gain=st.floats(0.02, 6.0),
    turned=st.booleans(),
    silence_s=st.floats(0.0, 0.4),
    sign=st.sampled_from((1, -1)),
)
def test_gain_sign_and_silence_change_nothing(gain, turned, silence_s, sign):
    x = alone(sign)
    quiet = 1e-5 * np.random.default_rng(3).standard_normal(int(silence_s * RATE))
    changed = np.concatenate([quiet, (-gain if turned else gain) * x])
    assert ratio(heard(changed)) == pytest.approx(ratio(heard(x)), abs=0.7)


@settings(settings.get_profile("dsp"), max_examples=3)
@given(start=st.floats(0.75, 0.95), name=st.sampled_from(("E2", "A2", "G3")))
def test_turning_what_comes_after_the_step_turns_the_answer(start, name):
    x = alone(1, name=name, at_s=(round(start, 2),))
    cut = int((LEAD_IN_S + round(start, 2) + 0.5 * POP.gap_s) * RATE)
    turned = np.concatenate([x[:cut], -x[cut:]])
    straight, over = (heard(y, named_hz=OPEN_HZ[name]) for y in (x, turned))
    assert ratio(over) == pytest.approx(-ratio(straight), abs=1.0)
    assert over.step_ratios[0] * straight.step_ratios[0] < 0


def test_the_phase_track_turns_by_half_where_a_pickup_opposes():
    result = heard(alone(-1))
    first, second = result.stretches
    line = result.track.lines[0]
    t = result.track.time_s * ANALYSIS_RATE
    before = line.turns[(t > first.start) & (t < first.stop)]
    after = line.turns[(t > second.start) & (t < second.start + 0.2 * ANALYSIS_RATE)]
    assert line.n == 1
    assert line.place_signs == (1,)
    assert np.nanmax(np.abs(before)) < 0.1
    assert np.nanmin(np.abs(after)) > 0.35
    between = (t > first.stop) & (t < second.start)
    assert np.isnan(line.turns[between]).all()


def test_places_turn_harmonics_five_and_six():
    """162 and 41 mm on a 648 mm scale: + + + 0 - - - 0 (sources S4, the formula that is used)."""
    lines = {line.n: line for line in heard(alone(1)).track.lines}
    assert [lines[n].place_signs[0] for n in (1, 2, 3, 5, 6)] == [1, 1, 1, -1, -1]


def test_levels_are_those_of_one_instant():
    """41 and 162 mm on 648 mm: the fundamental is sin(pi/4) / sin(41 pi / 648) = 11.1 dB stronger (S3)."""
    before, after = heard(alone(1)).levels_db
    assert after - before == pytest.approx(11.1, abs=2.0)


def test_fewer_than_two_settings_are_refused():
    with pytest.raises(ValueError, match="two settings"):
        heard(alone(1), ALONE[:1])


def test_nan_is_refused_at_the_door():
    with pytest.raises(SignalError, match="no numbers"):
        heard(np.full(RATE, np.nan))


def unlike_and_opposed(seed):
    """One coil against two, opposed, and a switch take through the sum of them."""
    rng = np.random.default_rng(seed)
    steady = Conditions(humbucker_rate=0.5, off_centre_mm=0.0, detune_hz=(0.05, 0.1), coupling_rad=(0.0, 0.0))
    bench = random_bench(rng, conditions=steady, pickups=3)
    while bench.in_phase("bridge", "middle") or [len(p.coils) for p in bench.pickups[:2]] != [1, 2]:
        bench = random_bench(rng, conditions=steady, pickups=3)
    wanted = ["bridge", ("bridge", "middle"), "middle"]
    audio = bench.switch(rng, wanted, "A2", at_s=(0.7, 1.1), ringing_s=2.5, rate=RATE)
    places = [Place(p.centre_mm, bench.scale_mm) for p in bench.pickups]
    one, two = Source(0, places[0]), Source(1, places[1], coils=2)
    mixes = (Mix((one,)), Mix((one, two)), Mix((two,)))
    return analyse_switch(audio[:, 0], rate=RATE, mixes=mixes, count=2, named_hz=110.0)


def test_a_sum_that_cancels_does_not_hide_the_half_turn():
    """What unlike coils leave of each other in parallel is turned by neither none nor half a turn.

    Two sources behind unlike R and L (sources C3 with inductances); the single stretches still tell.
    """
    told = [found for found in map(unlike_and_opposed, range(6)) if not found.faults]
    assert len(told) >= 4
    assert all(found.table[0, 0] - found.table[0, 1] < -1.0 for found in told)
