"""Random benches: guitars nobody built.

Task: draw a `Bench` from the ranges of a `Conditions`. Shapes: none. Units in the field names.
Signs: ``w`` and ``m`` of every pickup are drawn evenly; the two coils of a humbucker have both turned
over, so that they add on the strings and cancel hum.
Sources: ranges and their reasons in simulator.conditions.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

import numpy as np
from simulator.circuits import CoilElectrics, LoadSpec
from simulator.conditions import ORDINARY, Conditions, Span, evenly
from simulator.gauges import BASS, GUITAR, Gauge, open_string
from simulator.hands import draw_habit
from simulator.hum import HARMONICS, LEVELS_DB, MainsSpec
from simulator.interfaces import ChannelSpec, InterfaceSpec
from simulator.pickups import CoilSpec, PickupSpec
from simulator.rig import PREROLL_S, Member, SettingSpec, Surroundings
from simulator.strings import PluckSpec, StringSpec
from simulator.takes import string_volts, tool_volts
from simulator.tools import HandSpec, LiftSpec, ToolSpec, lift_distance
from simulator.workbench import Bench, On, Wanted

from dsp.model.signs import CoilSigns, Sign, opposite

__all__ = ["Bench", "On", "Wanted", "random_bench"]

REFERENCE_RATE = 8000
"""Levels of usual gestures are measured at this rate."""
REFERENCE_S = 0.3
GUITAR_SCALE_MM = 640.0
"""The scale for which the places in the conditions hold."""


def random_bench(
    rng: np.random.Generator,
    *,
    conditions: Conditions = ORDINARY,
    pickups: Literal[2, 3] | None = None,
    bass: bool = False,
    gauges: tuple[Gauge, ...] | None = None,
    mains_hz: Literal[50, 60] | None = None,
    inverted: tuple[bool, bool] | None = None,
) -> Bench:
    """Draw a bench; what is None is drawn too. ``inverted`` says which inputs turn the signal over.

    ``gauges``: other strings than the usual ones of a guitar or a bass.
    """
    c = conditions
    scale_mm = evenly(rng, c.bass_scale_mm if bass else c.scale_mm)
    strings = tuple(
        _string(
            rng, replace(open_string(g, length_m=scale_mm * 1e-3, cents=rng.uniform(-c.cents, c.cents))), c
        )
        for g in (gauges or (BASS if bass else GUITAR))
    )
    count = pickups if pickups is not None else (3 if rng.random() < c.three_rate else 2)
    stretch = scale_mm / GUITAR_SCALE_MM if bass else 1.0
    spans = {"bridge": c.bridge_mm, "middle": c.middle_mm, "neck": c.neck_mm}
    names = tuple(spans) if count == len(spans) else ("bridge", "neck")
    drawn = tuple(_pickup(rng, name, evenly(rng, spans[name]) * stretch, c) for name in names)
    off = tuple(tuple(float(c.off_centre_mm * x) for x in rng.standard_normal(len(strings))) for _ in drawn)
    load = _load(rng, c)
    usual_v = _usual_pluck_v(strings[len(strings) // 2], drawn, load)
    peak_v = _usual_lift_peak_v(drawn, load)
    gain = evenly(rng, c.level) / usual_v
    return Bench(
        scale_mm=scale_mm,
        strings=strings,
        pickups=drawn,
        off_centre_mm=off,
        load=load,
        mains=_mains(rng, c, usual_v=usual_v, nominal_hz=mains_hz),
        interface=_interface(rng, c, gain=gain, usual_v=usual_v, inverted=inverted),
        tool_gain=evenly(rng, c.tool_level) / (gain * peak_v),
        tool=ToolSpec(magnet=_sign(rng) if rng.random() < c.magnetised_rate else None),
        habit=draw_habit(rng, c),
        pluck_v=usual_v,
        lift_peak_v=peak_v,
        conditions=c,
    )


def _sign(rng: np.random.Generator) -> Sign:
    return 1 if rng.integers(2) else -1


def _string(rng: np.random.Generator, string: StringSpec, c: Conditions) -> StringSpec:
    return replace(
        string,
        detune_hz=evenly(rng, c.detune_hz) * float(rng.choice([-1.0, 1.0])),
        coupling_rad=evenly(rng, c.coupling_rad),
        decay_per_s=evenly(rng, c.decay_per_s),
        decay_rise_per_s=evenly(rng, c.decay_rise_per_s),
        body_loss=evenly(rng, c.body_loss),
    )


def _pickup(rng: np.random.Generator, name: str, centre_mm: float, c: Conditions) -> PickupSpec:
    first = CoilSigns(_sign(rng), _sign(rng))
    if rng.random() < c.humbucker_rate:
        other = CoilSigns(opposite(first.winding), opposite(first.magnet))
        coils = tuple(
            CoilSpec(
                signs,
                offset_mm=offset,
                electrics=_coil(rng, c.half_r_ohm, c.half_l_h, c.half_c_f),
                hum_area=evenly(rng, c.half_hum_area),
                balance=evenly(rng, c.half_balance),
            )
            for signs, offset in ((first, -c.half_offset_mm), (other, c.half_offset_mm))
        )
    else:
        electrics = _coil(rng, c.single_r_ohm, c.single_l_h, c.single_c_f)
        coils = (CoilSpec(first, electrics=electrics, hum_area=evenly(rng, c.hum_area)),)
    return PickupSpec(
        name=name,
        centre_mm=centre_mm,
        coils=coils,
        aperture_mm=evenly(rng, c.aperture_mm),
        distance_mm=evenly(rng, c.distance_mm),
        sensitivity=0.2 * 10.0 ** (c.strength_db * rng.standard_normal() / 20.0),
        tool_strength=10.0 ** (c.strength_db * rng.standard_normal() / 20.0),
    )


def _coil(rng: np.random.Generator, r_ohm: Span, l_h: Span, c_f: Span) -> CoilElectrics:
    return CoilElectrics(r_ohm=evenly(rng, r_ohm), l_h=evenly(rng, l_h), c_f=evenly(rng, c_f))


def _load(rng: np.random.Generator, c: Conditions) -> LoadSpec:
    return LoadSpec(
        volume_ohm=float(rng.choice(c.volume_ohm)),
        tone_ohm=None if rng.random() < c.no_tone_rate else 250e3,
        cable_f=evenly(rng, c.cable_f),
        input_ohm=float(rng.choice(c.input_ohm)),
    )


def _mains(
    rng: np.random.Generator, c: Conditions, *, usual_v: float, nominal_hz: Literal[50, 60] | None
) -> MainsSpec:
    total = usual_v * 10.0 ** (-evenly(rng, c.hum_db) / 20.0)
    stray = evenly(rng, c.stray_much if rng.random() < c.capacitive_rate else c.stray_little)
    return MainsSpec(
        nominal_hz=float(nominal_hz or rng.choice([50, 60])),
        drift=float(np.clip(c.drift * rng.standard_normal(), -2.0 * c.drift, 2.0 * c.drift)),
        levels=tuple(10.0 ** ((db + c.hum_line_db * rng.standard_normal()) / 20.0) for db in LEVELS_DB),
        phases_rad=tuple(float(x) for x in rng.uniform(0.0, 2.0 * math.pi, len(HARMONICS))),
        field_v=total * math.sqrt(1.0 - stray),
        capacitive_v=total * math.sqrt(stray),
    )


def _interface(
    rng: np.random.Generator,
    c: Conditions,
    *,
    gain: float,
    usual_v: float,
    inverted: tuple[bool, bool] | None,
) -> InterfaceSpec:
    noise = gain * usual_v * 10.0 ** (-evenly(rng, c.snr_db) / 20.0)
    corner = evenly(rng, c.high_pass_hz)
    turns = inverted or tuple(bool(rng.random() < c.inverted_rate) for _ in range(2))
    late = (0, int(rng.integers(0, c.latency_frames + 1)))
    return InterfaceSpec(
        channels=tuple(
            ChannelSpec(
                gain=gain * 10.0 ** (rng.uniform(-c.channel_db, c.channel_db) / 20.0),
                high_pass_hz=corner,
                noise=noise,
                offset=float(c.offset * rng.standard_normal()),
                inverted=turn,
                latency_frames=frames,
            )
            for turn, frames in zip(turns, late, strict=True)
        ),
        bits=int(rng.choice(c.bits)),
    )


def _usual_pluck_v(string: StringSpec, pickups: tuple[PickupSpec, ...], load: LoadSpec) -> float:
    """RMS at the jack in the first 0.3 s of a plain pluck, geometric mean over the pickups alone."""
    around = Surroundings(load=load, rate=REFERENCE_RATE, lead_in_s=0.0, ringing_s=REFERENCE_S)
    settings = tuple(SettingSpec((Member(one),)) for one in pickups)
    volts = string_volts(
        np.random.default_rng(0), string, settings, PluckSpec(), around, onsets_s=(0.0,), fret=0
    )[round(PREROLL_S * REFERENCE_RATE) :]
    return float(np.exp(np.mean(0.5 * np.log(np.mean(volts**2, axis=0)))))


def _usual_lift_peak_v(pickups: tuple[PickupSpec, ...], load: LoadSpec) -> float:
    """Peak at the jack of a plain lift, geometric mean over the pickups alone."""
    around = Surroundings(load=load, rate=REFERENCE_RATE, lead_in_s=0.0, ringing_s=REFERENCE_S)
    frames = round(REFERENCE_S * REFERENCE_RATE)
    distance = lift_distance((LiftSpec(at_s=0.1),), frames=frames, rate=REFERENCE_RATE)
    peaks = [
        np.max(
            np.abs(
                tool_volts(
                    np.random.default_rng(0),
                    SettingSpec((Member(one),)),
                    distance,
                    around,
                    tool=ToolSpec(),
                    hand=HandSpec(),
                    member=0,
                    coil=1,
                )
            )
        )
        for one in pickups
    ]
    return float(np.exp(np.mean(np.log(peaks))))
