"""Takes of a plain simulated bench for the tests of dsp: one guitar, everything about it said by the test.

648 mm scale (S3), plain strings of S5, single-coil pickups whose sign is said, an interface without AC
coupling's help or harm unless asked for, a little white noise, hum where asked for. A take that is asked
for again is the same array, so nobody may write into it: tests that change one copy it first.
"""

from functools import lru_cache

import numpy as np
from simulator.gauges import gauge, open_string
from simulator.hum import MainsSpec
from simulator.interfaces import ChannelSpec, InterfaceSpec
from simulator.pickups import CoilSpec, PickupSpec
from simulator.rig import Member, SettingSpec, Surroundings
from simulator.strings import PluckSpec
from simulator.takes import lift, paired_pluck, pluck, touch
from simulator.tools import HandSpec, LiftSpec, ToolSpec, TouchSpec
from simulator.volumes import TurnSpec, Volumes, volume_sweep

from dsp.model.signs import CoilSigns
from dsp.signal.samples import at_analysis_rate

SCALE_MM = 648.0
NECK, MIDDLE, BRIDGE = 162.0, 98.0, 41.0
"""S3: places from the bridge in mm."""
RATE = 16_000
"""The analysis rate, which is quick; what resampling does is tested with takes at `BOX_RATE`."""
BOX_RATE = 48_000
LEAD_IN_S = 0.4
STRINGS = ("E2", "A2", "D3", "G3", "B3", "E4")


def setting(centre_mm, sign=1):
    """One single-coil pickup whose ``s`` is ``sign``, by its winding."""
    return SettingSpec((Member(PickupSpec("one", centre_mm, (CoilSpec(CoilSigns(sign, 1)),))),))


def rig(
    *, rate=RATE, noise=1e-5, hum=0.0, mains_hz=50.0, drift=0.0, ringing_s=1.2, lead_in_s=LEAD_IN_S, **channel
):
    one = ChannelSpec(**{"gain": 1.5, "high_pass_hz": 7.0, "noise": noise, **channel})
    return Surroundings(
        interface=InterfaceSpec(channels=(one, one)),
        mains=MainsSpec(nominal_hz=mains_hz, drift=drift, field_v=hum),
        rate=rate,
        lead_in_s=lead_in_s,
        ringing_s=ringing_s,
    )


def plain_string(name):
    return open_string(gauge(name), length_m=SCALE_MM * 1e-3)


def read_only(take):
    take = np.ascontiguousarray(take)
    take.setflags(write=False)
    return take


@lru_cache(maxsize=64)
def sequence(name, *, centre_mm=NECK, sign=1, seed=0, stroke=None, onsets_s=(0.0,), fret=0, **around):
    """(frames,) at the rig's rate: one pickup at the jack."""
    stroke = stroke or PluckSpec(angle_deg=10.0)
    take = pluck(
        np.random.default_rng(seed),
        plain_string(name),
        setting(centre_mm, sign),
        stroke,
        rig(**around),
        onsets_s=onsets_s,
        fret=fret,
    )
    return read_only(take[:, 0])


@lru_cache(maxsize=64)
def pair(name, *, places=(NECK, BRIDGE), signs=(1, 1), seed=0, stroke=None, fret=0, **around):
    """(frames, 2) at the rig's rate: one pluck, two pickups on two inputs."""
    settings = tuple(setting(x, s) for x, s in zip(places, signs, strict=True))
    take = paired_pluck(
        np.random.default_rng(seed),
        plain_string(name),
        settings,
        stroke or PluckSpec(angle_deg=10.0),
        rig(**around),
        fret=fret,
    )
    return read_only(take)


@lru_cache(maxsize=64)
def tool_take(gesture, *, sign=1, seed=0, buzz_v=0.0, click_v=0.0, quick=1.0, at_s=(0.0,), **around):
    """(frames,) of lifts or touches on a pickup whose ``s`` is ``sign``; ``quick`` scales the speed."""
    rng = np.random.default_rng(seed)
    hand = HandSpec(buzz_v=buzz_v, click_v=click_v)
    where = setting(NECK, sign)
    if gesture == "lift":
        moves = [LiftSpec(at, leave_s=0.012 / quick) for at in at_s]
        return read_only(lift(rng, where, moves, rig(**around), tool=ToolSpec(), hand=hand)[:, 0])
    moves = [TouchSpec(at, approach_s=0.02 / quick) for at in at_s]
    return read_only(touch(rng, where, moves, rig(**around), tool=ToolSpec(), hand=hand)[:, 0])


TURNED = (TurnSpec(1, 0.6, 1.0, 0.25), TurnSpec(0, 1.3, 0.0, 0.25))
"""The second volume up, the first one down."""


@lru_cache(maxsize=16)
def swept(sign, turns=TURNED, *, name="A2", wired="reversed", down=0.0, ringing_s=2.5):
    """(frames,): the bridge alone at first, at the end the neck, whose ``s`` is ``sign``."""
    take = volume_sweep(
        np.random.default_rng(3),
        plain_string(name),
        SettingSpec(setting(BRIDGE, 1).members + setting(NECK, sign).members),
        PluckSpec(angle_deg=10.0),
        rig(ringing_s=ringing_s, rate=RATE),
        volumes=Volumes(wired=wired),
        start=(1.0, down),
        turns=turns,
    )
    return read_only(take[:, 0])


def analysed(x, *, rate=RATE):
    return at_analysis_rate(np.asarray(x), rate=rate)


@lru_cache(maxsize=64)
def stock_pair(name, places=(NECK, BRIDGE), signs=(1, 1), seed=0):
    """A pair at the analysis rate, (2, frames); do not write into it."""
    return read_only(np.stack([analysed(c) for c in pair(name, places=places, signs=signs, seed=seed).T]))
