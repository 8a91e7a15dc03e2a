"""Sixteen pairs on one jack: what a person hears of two pickups together, in parallel and in series."""

from itertools import product

import numpy as np
import pytest
from bench_parts import lines, pickup, rms, seeded
from simulator.circuits import LoadSpec
from simulator.conditions import Conditions
from simulator.gauges import gauge, open_string
from simulator.hands import Habit
from simulator.hum import MainsSpec
from simulator.interfaces import ChannelSpec, InterfaceSpec
from simulator.takes import hum as hum_take
from simulator.tools import ToolSpec
from simulator.workbench import Bench, On

from dsp.model.signs import CoilSigns

RATE = 16_000
STRING = open_string(gauge("A2"), length_m=0.648)
QUIET_S, RINGING_S = 0.1, 0.35


def bench(a, b, *, field_v=0.0):
    """Two single coils of one make at the middle and the neck, S3's places; no noise, hum where asked for."""
    channel = ChannelSpec(high_pass_hz=0.0)
    return Bench(
        scale_mm=648.0,
        strings=(STRING,),
        pickups=(pickup(a, centre_mm=98.0, name="middle"), pickup(b, centre_mm=162.0, name="neck")),
        off_centre_mm=((0.0,), (0.0,)),
        load=LoadSpec(),
        mains=MainsSpec(field_v=field_v),
        interface=InterfaceSpec(channels=(channel, channel), bits=None),
        tool_gain=1.0,
        tool=ToolSpec(),
        habit=Habit(place=0.22, angle_deg=0.0),
        pluck_v=0.05,
        lift_peak_v=0.05,
        conditions=Conditions(place_spread=0.0, angle_spread_deg=0.0, careless_rate=0.0, level_db=0.0),
    )


def fundamental_db(one, wanted, *, join="parallel"):
    take = one.pluck(
        seeded(3), wanted, "A2", join=join, turned=False, rate=RATE, lead_in_s=QUIET_S, ringing_s=RINGING_S
    )
    ringing = take[round((QUIET_S + 0.02) * RATE) :, 0]
    return 20 * np.log10(abs(lines(ringing, [STRING.f0_hz], rate=RATE)[0]))


def hum_db(one, wanted, *, join="parallel"):
    around = one.around(rate=RATE, lead_in_s=0.1, ringing_s=0.2)
    return 20 * np.log10(rms(hum_take(seeded(4), [one.setting(wanted, join=join)], around)) + 1e-12)


SIGNS = (1, -1)
SIXTEEN = [
    pytest.param(
        CoilSigns(wa, ma),
        CoilSigns(wb, mb),
        "full" if (wa != wb) == (ma != mb) else "thin",
        "cancels" if wa != wb else "hums",
        id=f"P1 w{wa:+d} m{ma:+d} and w{wb:+d} m{mb:+d}",
    )
    for wa, ma, wb, mb in product(SIGNS, repeat=4)
]
"""P1: "Assessing a Pickup's Polarity and Phase", Premier Guitar: in phase when both differ or neither does;
hum cancels only when the windings differ."""


SUM_DB = {"parallel": 0.0, "series": 6.0}
"""Equal coils: half of the sum in parallel (C3), all of it in series."""


@pytest.mark.parametrize("join", SUM_DB)
@pytest.mark.parametrize(("a", "b", "sounds", "hum"), SIXTEEN)
def test_two_together_sound_full_or_thin(a, b, sounds, hum, join):
    """P1, by the level of the fundamental: between those of the two alone, or lower than either."""
    one = bench(a, b)
    each = [fundamental_db(one, name) for name in ("middle", "neck")]
    both = fundamental_db(one, ["middle", "neck"], join=join) - SUM_DB[join]
    if sounds == "full":
        assert min(each) < both < max(each)
    else:
        assert both < min(each) - 3.0


@pytest.mark.parametrize("join", SUM_DB)
@pytest.mark.parametrize(("a", "b", "sounds", "hum"), SIXTEEN)
def test_two_together_hum_or_cancel(a, b, sounds, hum, join):
    """P1, P2: hum cancels only when the windings differ, whatever the magnets."""
    one = bench(a, b, field_v=1e-3)
    both, alone = hum_db(one, ["middle", "neck"], join=join), hum_db(one, "middle")
    if hum == "cancels":
        assert both < alone - 60
    else:
        assert both == pytest.approx(alone + SUM_DB[join], abs=1.0)


@pytest.mark.parametrize("join", SUM_DB)
@pytest.mark.parametrize(("a", "b", "sounds", "hum"), SIXTEEN)
def test_exchanged_leads_are_wound_the_other_way(a, b, sounds, hum, join):
    """P3: "Mod Garage: get a grip on pickup phase", Premier Guitar: winding means the sense at the leads."""
    exchanged, wound = bench(a, b, field_v=1e-3), bench(a, b.leads_exchanged(), field_v=1e-3)
    turned = ["middle", On("neck", reversed=True)]
    assert fundamental_db(exchanged, turned, join=join) == pytest.approx(
        fundamental_db(wound, ["middle", "neck"], join=join), abs=0.01
    )
    as_wound = hum_db(wound, ["middle", "neck"], join=join)
    assert hum_db(exchanged, turned, join=join) == pytest.approx(as_wound, abs=0.01)
    assert (as_wound < hum_db(wound, "middle") - 60) == (hum == "hums")
