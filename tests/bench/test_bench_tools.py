import numpy as np
import pytest
from bench_parts import RATE, around, first_lobe, pickup, rms, seeded, setting
from simulator.interfaces import ChannelSpec, high_pass
from simulator.pickups import emf
from simulator.takes import lift, touch
from simulator.tools import (
    FAR_MM,
    HALF_MM,
    HandSpec,
    LiftSpec,
    ToolSpec,
    TouchSpec,
    contact,
    lift_distance,
    tool_flux,
    touch_distance,
)

from dsp import SignalError
from dsp.model.signs import CoilSigns

STEEL = ToolSpec()
STILL = HandSpec()
PLAIN = CoilSigns(1, 1)


def heard(gesture, signs, *, tool=STEEL, hand=STILL, seed=0, **changed):
    one = setting(pickup(signs))
    if gesture == "lift":
        return lift(seeded(seed), one, [LiftSpec(0.0)], around(**changed), tool=tool, hand=hand)[:, 0]
    return touch(seeded(seed), one, [TouchSpec(0.0, bounces_mm=())], around(**changed), tool=tool, hand=hand)[
        :, 0
    ]


SWINGS = [
    pytest.param("touch", PLAIN, 1, id="P4 brought to the pole"),
    pytest.param("lift", PLAIN, -1, id="P4 taken away"),
    pytest.param("touch", PLAIN.leads_exchanged(), -1, id="P4 brought, leads exchanged"),
    pytest.param("lift", PLAIN.leads_exchanged(), 1, id="P4 taken away, leads exchanged"),
    pytest.param("lift", PLAIN.magnet_turned(), 1, id="R1: taken away, magnet turned"),
]


@pytest.mark.parametrize(("gesture", "signs", "expected"), SWINGS)
def test_swings(gesture, signs, expected):
    """P4: common practice. The reading settles where it was."""
    pulse = heard(gesture, signs)
    assert expected * first_lobe(pulse) > 0.05
    assert abs(pulse[-1]) < 1e-3 * np.max(np.abs(pulse))


@pytest.mark.parametrize("pole", [1, -1])
@pytest.mark.parametrize("signs", [CoilSigns(w, m) for w in (1, -1) for m in (1, -1)])
def test_a_magnetised_tool_tells_the_winding(signs, pole):
    """R3: w times the tool's own pole, a false s."""
    pulse = heard("lift", signs, tool=ToolSpec(magnet=pole))
    assert -signs.winding * pole * first_lobe(pulse) > 0.05


def voltage(distance):
    return emf(tool_flux(distance, contact_vs=1.0), sign=1, rate=RATE)


def test_areas_of_touch_and_lift_cancel():
    """P5: Lenz's law; the sum is 0 within 1e-6 of the peak area, bounces or not."""
    away = voltage(lift_distance((LiftSpec(0.2, leave_s=0.02),), frames=16000, rate=RATE))
    near = voltage(touch_distance((TouchSpec(1.0, approach_s=0.04),), frames=16000, rate=RATE))
    areas = away.sum() / RATE, near.sum() / RATE
    assert areas[1] == pytest.approx(1.0 - 1.0 / (1.0 + FAR_MM / HALF_MM) ** 2, rel=1e-9)
    assert abs(sum(areas)) < 1e-6 * areas[1]


@pytest.mark.parametrize("snap", [0.6, 0.9])
def test_a_lift_starts_abruptly_and_fades(snap):
    """T2: an abrupt edge, then a long tail."""
    away = -voltage(lift_distance((LiftSpec(0.5, leave_s=0.02, snap=snap),), frames=8000, rate=RATE))
    peak = int(np.argmax(away))
    assert peak / RATE == pytest.approx(0.5, abs=1e-3)
    assert np.max(np.abs(away[: peak - 2])) < 1e-9 * away[peak]
    assert away[peak + 10 :].sum() > 0.8 * away.sum()


@pytest.mark.parametrize("snap", [0.6, 0.9])
def test_a_touch_creeps_up_and_breaks_off(snap):
    """T2: the mirror of a lift, before it bounces."""
    spec = TouchSpec(0.5, approach_s=0.02, snap=snap, bounces_mm=())
    near = voltage(touch_distance((spec,), frames=8000, rate=RATE))
    peak = int(np.argmax(near))
    assert peak / RATE == pytest.approx(0.5, abs=1e-3)
    assert np.max(np.abs(near[peak + 3 :])) < 1e-9 * near[peak]
    assert near[: peak - 10].sum() > 0.8 * near.sum()


def test_ac_coupling_leaves_a_second_lobe():
    """P6: a 10 Hz first-order high-pass left about 59 % after a 50 ms approach in a simple flux model.

    The flux model here is another one, so the figure may differ; its approach lasts 51 ms too. The filter
    itself is held against scipy's in test_bench_strings_outside.py.
    """
    pulse = voltage(
        touch_distance((TouchSpec(0.5, approach_s=0.008, bounces_mm=()),), frames=12000, rate=RATE)
    )
    coupled = high_pass(pulse, corner_hz=10.0, rate=RATE)
    first, second = np.max(coupled[:4020]), np.min(coupled[4000:])
    assert np.min(pulse) > -1e-9
    assert np.count_nonzero(pulse > 1e-9) / RATE == pytest.approx(0.05, abs=0.005)
    assert second / first == pytest.approx(-0.59, abs=0.2)


@pytest.mark.parametrize("gesture", ["lift", "touch"])
def test_ac_coupling_returns_the_area(gesture):
    """P6: what the first lobe has, the second gives back."""
    coupled = heard(gesture, PLAIN, channel=ChannelSpec(high_pass_hz=10.0))
    raw = heard(gesture, PLAIN)
    assert abs(raw.sum()) > 0.05 * RATE * 0.01
    assert abs(coupled.sum()) < 1e-2 * abs(raw.sum())


def test_lifts_follow_each_other():
    """Between lifts the tool comes back slowly and rests; each lift is as strong as the first."""
    specs = [LiftSpec(at) for at in (0.0, 1.5, 3.0)]
    pulses = lift(seeded(), setting(pickup()), specs, around(), tool=STEEL, hand=STILL)[:, 0]
    starts = [round((0.4 + spec.at_s) * RATE) for spec in specs]
    peaks = [np.min(pulses[k - 10 : k + 200]) for k in starts]
    assert peaks == pytest.approx([peaks[0]] * 3, rel=0.05)
    coming = np.max(pulses)
    assert 0.02 * abs(peaks[0]) < coming < 0.5 * abs(peaks[0])


@pytest.mark.parametrize(("bounces", "contacts"), [((), 1), ((0.5,), 2), ((0.5, 0.2, 0.1), 4)])
def test_bounces(bounces, contacts):
    distance = touch_distance((TouchSpec(0.5, bounces_mm=bounces),), frames=8000, rate=RATE)
    lands = np.flatnonzero(np.diff(contact(distance).astype(int)) == 1)
    assert lands.size == contacts
    assert lands[0] / RATE == pytest.approx(0.5, abs=1e-3)
    assert np.all(distance >= 0)


@pytest.mark.parametrize(("gesture", "buzzing", "still"), [("lift", 0.1, 1.2), ("touch", 1.2, 0.1)])
def test_hand_buzzes_only_while_it_touches(gesture, buzzing, still):
    pulse = heard(gesture, PLAIN, hand=HandSpec(buzz_v=0.01))
    there, gone = (pulse[round((at - 0.06) * RATE) : round((at + 0.06) * RATE)] for at in (buzzing, still))
    assert rms(there) == pytest.approx(0.01, rel=0.1)
    assert rms(gone) < 1e-3 * rms(there)


def test_clicks_are_short_and_of_either_sign():
    rate = 48000
    hand = HandSpec(click_v=0.2, click_s=0.15e-3)
    extra = [
        heard("lift", PLAIN, hand=hand, seed=seed, rate=rate) - heard("lift", PLAIN, seed=seed, rate=rate)
        for seed in range(12)
    ]
    signs = {float(np.sign(x[np.argmax(np.abs(x))])) for x in extra}
    lengths = [np.ptp(np.flatnonzero(np.abs(x) > 1e-9)) / rate for x in extra]
    assert signs == {-1.0, 1.0}
    assert 0 < max(lengths) < 1e-3


def test_movements_that_do_not_fit_are_refused():
    with pytest.raises(SignalError, match="closer than"):
        lift_distance((LiftSpec(0.1), LiftSpec(0.4)), frames=8000, rate=RATE)
    with pytest.raises(SignalError, match="outside the take"):
        touch_distance((TouchSpec(1.5),), frames=8000, rate=RATE)
    with pytest.raises(SignalError, match="at least one"):
        lift_distance((), frames=8000, rate=RATE)
