"""Whole recorded takes: a gesture on a guitar, through its wiring, into an interface.

Task: what each gesture gives on each channel. Shapes: (frames, channels), float64, within -1 and +1.
Units: seconds, volts, Hz. Signs: those of simulator.pickups; a press or a pluck at 0 degrees is pushed
towards the body and let go. Every function takes a seeded numpy Generator and nothing else that is random.
Sources: R5, the gestures; levels and rig in simulator.rig.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray
from simulator.hum import hand_buzz, mains_clock
from simulator.pickups import PickupSpec, string_flux
from simulator.rig import PREROLL_S, Member, SettingSpec, Surroundings, jacks, recorded
from simulator.selector import SwitchSpec, selected
from simulator.strings import PluckSpec, StringSpec, pluck_motion
from simulator.tools import (
    HandSpec,
    LiftSpec,
    TapSpec,
    ToolSpec,
    TouchSpec,
    clicks,
    coil_sign,
    contact,
    lift_distance,
    tap_distance,
    thumps,
    tool_flux,
    touch_distance,
)

from dsp import SignalError

Floats = NDArray[np.float64]

DAMPING_S = 0.02
"""A string that rings is damped in this time when the pick meets it again (assumed)."""

Movement = TypeVar("Movement", LiftSpec, TouchSpec)


def pluck(
    rng: np.random.Generator,
    string: StringSpec,
    setting: SettingSpec,
    plucks: PluckSpec | Sequence[PluckSpec],
    around: Surroundings,
    *,
    onsets_s: tuple[float, ...] = (0.0,),
    fret: int = 0,
) -> Floats:
    """One setting on one channel; ``onsets_s`` are the releases, counted from the end of the lead-in."""
    return _string_take(rng, string, (setting,), plucks, around, onsets_s=onsets_s, fret=fret)


def press(
    rng: np.random.Generator,
    string: StringSpec,
    setting: SettingSpec,
    plucks: PluckSpec | Sequence[PluckSpec],
    around: Surroundings,
    *,
    onsets_s: tuple[float, ...] = (0.0,),
    fret: int = 0,
    pressed_s: float = 0.2,
) -> Floats:
    """Push the string slowly towards the body over ``pressed_s`` and let go: a pluck with a long draw."""
    slow = tuple(replace(p, draw_s=pressed_s) for p in _each(plucks, onsets_s))
    return _string_take(rng, string, (setting,), slow, around, onsets_s=onsets_s, fret=fret)


def paired_pluck(
    rng: np.random.Generator,
    string: StringSpec,
    settings: tuple[SettingSpec, SettingSpec],
    plucks: PluckSpec | Sequence[PluckSpec],
    around: Surroundings,
    *,
    onsets_s: tuple[float, ...] = (0.0,),
    fret: int = 0,
) -> Floats:
    """One pluck, two settings on two inputs at once."""
    return _string_take(rng, string, settings, plucks, around, onsets_s=onsets_s, fret=fret)


def split_check(
    rng: np.random.Generator,
    string: StringSpec,
    setting: SettingSpec,
    plucks: PluckSpec | Sequence[PluckSpec],
    around: Surroundings,
    *,
    onsets_s: tuple[float, ...] = (0.0,),
    fret: int = 0,
) -> Floats:
    """One setting into both inputs at once: the jack is split, so both see the same voltage."""
    volts = string_volts(rng, string, (setting,), plucks, around, onsets_s=onsets_s, fret=fret)
    return recorded(rng, np.repeat(volts, 2, axis=1), around)


def lift(
    rng: np.random.Generator,
    setting: SettingSpec,
    lifts: Sequence[LiftSpec],
    around: Surroundings,
    *,
    tool: ToolSpec,
    hand: HandSpec,
    member: int = 0,
    coil: Literal[1, 2] = 1,
) -> Floats:
    """Pull a tool away that rests on a pole of ``coil`` of the setting's ``member``, once or more.

    Times count from the end of the lead-in.
    """
    return _with_tool(
        rng, setting, lifts, lift_distance, around, tool=tool, hand=hand, member=member, coil=coil
    )


def touch(
    rng: np.random.Generator,
    setting: SettingSpec,
    touches: Sequence[TouchSpec],
    around: Surroundings,
    *,
    tool: ToolSpec,
    hand: HandSpec,
    member: int = 0,
    coil: Literal[1, 2] = 1,
) -> Floats:
    """Bring a tool to a pole and hold it there, once or more; times count from the end of the lead-in."""
    return _with_tool(
        rng, setting, touches, touch_distance, around, tool=tool, hand=hand, member=member, coil=coil
    )


def tap(
    rng: np.random.Generator,
    setting: SettingSpec,
    tapped: PickupSpec,
    taps: Sequence[TapSpec],
    around: Surroundings,
    *,
    tool: ToolSpec,
    hand: HandSpec,
    coil: Literal[1, 2] = 1,
) -> Floats:
    """Tap a pole of ``coil`` of the pickup ``tapped``, which may be in the setting or not.

    Of another pickup the tool reaches what its distance leaves; a coil that is not on gives neither buzz nor
    clicks, and the knock on the body is heard through whatever is on.
    """
    times = tuple(replace(one, at_s=one.at_s + PREROLL_S + around.lead_in_s) for one in taps)
    frames = around.frames_until(times[-1].at_s)
    distance = tap_distance(times, frames=frames, rate=around.rate)
    touched = tapped.coils[coil - 1]
    contact_vs = tool.flux_vs * tapped.tool_strength
    fluxes, signs, on = [], [], False
    for one in setting.members:
        aside = abs(one.pickup.centre_mm - tapped.centre_mm)
        for wound in one.coils:
            if one.pickup is tapped:
                reach = 1.0 if wound is touched else tool.neighbour
                fluxes.append(reach * wound.balance * tool_flux(distance, contact_vs=contact_vs))
                on = on or wound is touched
            else:
                away = np.hypot(distance, aside)
                fluxes.append(wound.balance * tool_flux(away, contact_vs=contact_vs))
            signs.append(coil_sign(wound.signs, tool))
    clock = mains_clock(rng, around.mains)
    volts = jacks((setting,), fluxes, signs, around, clock=clock, frames=frames)
    touching = contact(distance)
    volts[:, 0] += thumps(touching, peak_v=hand.thump_v, rate=around.rate)
    if on:
        volts[:, 0] += touching * hand_buzz(clock.angle(frames, rate=around.rate), volts=hand.buzz_v)
        volts[:, 0] += clicks(rng, touching, peak_v=hand.click_v, lasts_s=hand.click_s, rate=around.rate)
    return recorded(rng, volts, around)


def _with_tool(
    rng: np.random.Generator,
    setting: SettingSpec,
    movements: Sequence[Movement],
    distance_of: Callable[..., Floats],
    around: Surroundings,
    *,
    tool: ToolSpec,
    hand: HandSpec,
    member: int,
    coil: Literal[1, 2],
) -> Floats:
    """Record the tool's ``movements``, whose distance from the pole ``distance_of`` gives."""
    times = tuple(replace(one, at_s=one.at_s + PREROLL_S + around.lead_in_s) for one in movements)
    frames = around.frames_until(times[-1].at_s if times else 0.0)
    distance = distance_of(times, frames=frames, rate=around.rate)
    volts = tool_volts(rng, setting, distance, around, tool=tool, hand=hand, member=member, coil=coil)
    return recorded(rng, volts, around)


def switch(
    rng: np.random.Generator,
    string: StringSpec,
    settings: Sequence[SettingSpec],
    stroke: PluckSpec,
    around: Surroundings,
    *,
    switching: Sequence[SwitchSpec],
    fret: int = 0,
) -> Floats:
    """One pluck that rings on while the selector goes through ``settings``; (frames, 1).

    ``switching`` holds one item a step, its time counted from the end of the lead-in.
    """
    if len(switching) != len(settings) - 1:
        raise SignalError(f"{len(switching)} switchings for {len(settings)} settings: one less is needed")
    volts = string_volts(rng, string, tuple(settings), stroke, around, onsets_s=(0.0,), fret=fret)
    begin = PREROLL_S + around.lead_in_s
    return recorded(rng, selected(rng, volts, switching, begin_s=begin, rate=around.rate), around)


def hum(rng: np.random.Generator, settings: Sequence[SettingSpec], around: Surroundings) -> Floats:
    """Strings damped, nothing moves: one setting a channel, for lead-in and ringing together."""
    frames = around.frames_until(PREROLL_S + around.lead_in_s)
    coils = [coil for setting in settings for member in setting.members for coil in member.coils]
    still = [np.zeros(frames)] * len(coils)
    clock = mains_clock(rng, around.mains)
    signs = [coil.signs.string for coil in coils]
    return recorded(rng, jacks(tuple(settings), still, signs, around, clock=clock, frames=frames), around)


def _each(plucks: PluckSpec | Sequence[PluckSpec], onsets_s: tuple[float, ...]) -> tuple[PluckSpec, ...]:
    """One pluck an onset; a single one is played at all of them."""
    each = (plucks,) * len(onsets_s) if isinstance(plucks, PluckSpec) else tuple(plucks)
    if not onsets_s or len(each) != len(onsets_s) or list(onsets_s) != sorted(onsets_s):
        raise SignalError(f"{len(each)} plucks for {len(onsets_s)} onsets, which must rise")
    return each


def _string_take(
    rng: np.random.Generator,
    string: StringSpec,
    settings: tuple[SettingSpec, ...],
    plucks: PluckSpec | Sequence[PluckSpec],
    around: Surroundings,
    *,
    onsets_s: tuple[float, ...],
    fret: int,
) -> Floats:
    return recorded(
        rng, string_volts(rng, string, settings, plucks, around, onsets_s=onsets_s, fret=fret), around
    )


def string_volts(
    rng: np.random.Generator,
    string: StringSpec,
    settings: tuple[SettingSpec, ...],
    plucks: PluckSpec | Sequence[PluckSpec],
    around: Surroundings,
    *,
    onsets_s: tuple[float, ...],
    fret: int,
) -> Floats:
    """Volts at each jack, (frames with preroll, settings)."""
    members = [member for setting in settings for member in setting.members]
    fluxes = string_fluxes(string, members, plucks, around, onsets_s=onsets_s, fret=fret)
    signs = [coil.signs.string for member in members for coil in member.coils]
    clock = mains_clock(rng, around.mains)
    return jacks(settings, fluxes, signs, around, clock=clock, frames=fluxes[0].size)


def string_fluxes(
    string: StringSpec,
    members: Sequence[Member],
    plucks: PluckSpec | Sequence[PluckSpec],
    around: Surroundings,
    *,
    onsets_s: tuple[float, ...],
    fret: int = 0,
) -> list[Floats]:
    """Flux in every coil of ``members`` in turn, (frames with preroll,) each."""
    each = _each(plucks, onsets_s)
    begin = PREROLL_S + around.lead_in_s
    frames = around.frames_until(begin + onsets_s[-1])
    coils = [(member, coil) for member in members for coil in member.coils]
    x_m = np.array([(member.pickup.centre_mm + coil.offset_mm) * 1e-3 for member, coil in coils])
    sigma_m = np.array([member.pickup.aperture_mm * 1e-3 for member, _ in coils])
    motion = np.zeros((2, len(coils), frames))
    for one, onset_s in zip(each, onsets_s, strict=True):
        release = begin + onset_s
        motion *= _damped(release - one.draw_s, frames=frames, rate=around.rate)
        motion += pluck_motion(
            string,
            one,
            x_m=x_m,
            sigma_m=sigma_m,
            release_s=release,
            frames=frames,
            rate=around.rate,
            fret=fret,
        )
    return [
        string_flux(member.pickup, motion[:, k], off_centre_mm=member.off_centre_mm) * coil.balance
        for k, (member, coil) in enumerate(coils)
    ]


def _damped(met_s: float, *, frames: int, rate: int) -> Floats:
    """1 until the pick meets the string, 0 from ``DAMPING_S`` later on."""
    since = np.clip((np.arange(frames) / rate - met_s) / DAMPING_S, 0.0, 1.0)
    return np.asarray(np.cos(0.5 * math.pi * since) ** 2, dtype=np.float64)


def tool_volts(
    rng: np.random.Generator,
    setting: SettingSpec,
    distance: Floats,
    around: Surroundings,
    *,
    tool: ToolSpec,
    hand: HandSpec,
    member: int,
    coil: Literal[1, 2],
) -> Floats:
    """Volts at the jack, (frames, 1), while a tool moves over a pole as ``distance`` in mm says.

    Raises
    ------
    SignalError
        if the setting has no such member, or the member no such coil.

    """
    if not 0 <= member < len(setting.members) or coil > len(setting.members[member].pickup.coils):
        raise SignalError(f"no member {member} with a coil {coil} in this setting")
    under = setting.members[member]
    touched = under.pickup.coils[coil - 1]
    near = tool_flux(distance, contact_vs=tool.flux_vs * under.pickup.tool_strength)
    fluxes, signs = [], []
    for one in setting.members:
        for wound in one.coils:
            at_pole = wound is touched or one.pickup.one_row
            reach = (1.0 if at_pole else tool.neighbour) if one is under else 0.0
            fluxes.append(reach * wound.balance * near)
            signs.append(coil_sign(wound.signs, tool))
    clock = mains_clock(rng, around.mains)
    frames = distance.size
    volts = jacks((setting,), fluxes, signs, around, clock=clock, frames=frames)
    touching = contact(distance)
    buzz = hand_buzz(clock.angle(frames, rate=around.rate), volts=hand.buzz_v)
    volts[:, 0] += touching * buzz
    volts[:, 0] += clicks(rng, touching, peak_v=hand.click_v, lasts_s=hand.click_s, rate=around.rate)
    return volts
