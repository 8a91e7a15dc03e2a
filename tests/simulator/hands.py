"""Sloppy hands: how one person plucks, presses, lifts and touches.

Task: draw one gesture of one person from the ranges of a `Conditions`. Shapes: none. Units in the names.
Signs: 0 degrees is pushed towards the body and let go; a turned stroke is half a turn away.
Sources: ranges and their reasons in simulator.conditions.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from simulator.conditions import Conditions, evenly, in_ratio
from simulator.selector import SwitchSpec
from simulator.strings import PluckSpec
from simulator.tools import HandSpec, LiftSpec, TapSpec, TouchSpec


@dataclass(frozen=True)
class Habit:
    """What one person does every time."""

    place: float
    """Where this person tends to pluck, fraction of the sounding length."""
    angle_deg: float
    """The direction in which this person tends to push."""


def draw_habit(rng: np.random.Generator, c: Conditions) -> Habit:
    """Draw a person."""
    return Habit(place=evenly(rng, c.pluck_place), angle_deg=float(c.habit_deg * rng.standard_normal()))


def draw_stroke(
    rng: np.random.Generator, c: Conditions, habit: Habit, *, turned: bool | None = None
) -> PluckSpec:
    """Draw one pluck; ``turned`` None: the other way at the rate of the conditions."""
    low, high = c.pluck_place
    other = rng.random() < c.turned_rate if turned is None else turned
    spread = c.careless_deg if rng.random() < c.careless_rate else c.angle_spread_deg
    angle = habit.angle_deg + spread * rng.standard_normal() + (180.0 if other else 0.0)
    return PluckSpec(
        place=float(np.clip(habit.place + c.place_spread * rng.standard_normal(), low, high)),
        height_m=1e-3 * c.pluck_height_mm * 10.0 ** (rng.uniform(-c.level_db, c.level_db) / 20.0),
        angle_deg=angle,
        draw_s=evenly(rng, c.draw_s),
        width_m=1e-3 * evenly(rng, c.pick_width_mm),
        release_s=evenly(rng, c.release_s),
    )


def draw_press(
    rng: np.random.Generator, c: Conditions, habit: Habit, *, turned: bool | None = None
) -> PluckSpec:
    """Draw one press: a stroke with a finger tip, which is wider and slips off more slowly."""
    return replace(
        draw_stroke(rng, c, habit, turned=turned),
        width_m=1e-3 * evenly(rng, c.finger_width_mm),
        release_s=evenly(rng, c.finger_release_s),
    )


def draw_lift(rng: np.random.Generator, c: Conditions, *, at_s: float) -> LiftSpec:
    """Draw one lift."""
    return LiftSpec(at_s=at_s, leave_s=in_ratio(rng, c.leave_s), snap=evenly(rng, c.snap))


def draw_touch(rng: np.random.Generator, c: Conditions, *, at_s: float) -> TouchSpec:
    """Draw one touch with its bounces, each lower than the one before."""
    first = evenly(rng, c.bounce_mm)
    count = int(rng.integers(0, c.bounces + 1))
    return TouchSpec(
        at_s=at_s,
        approach_s=in_ratio(rng, c.approach_s),
        snap=evenly(rng, c.snap),
        bounces_mm=tuple(first * c.bounce_ratio**k for k in range(count)),
        bounce_s=evenly(rng, c.bounce_s),
    )


def draw_tap(rng: np.random.Generator, c: Conditions, *, at_s: float) -> TapSpec:
    """Draw one tap."""
    return TapSpec(
        at_s=at_s + rng.uniform(-0.05, 0.05),
        approach_s=in_ratio(rng, c.tap_approach_s),
        rests_s=in_ratio(rng, c.tap_rests_s),
        snap=evenly(rng, c.snap),
    )


def draw_contact(
    rng: np.random.Generator, c: Conditions, *, lift_peak_v: float, thump_db: float = math.inf
) -> HandSpec:
    """Draw the buzz and the clicks of one tool take, relative to a usual lift's peak.

    The knock of a tap lies ``thump_db`` below it.
    """
    return HandSpec(
        buzz_v=lift_peak_v * evenly(rng, c.hand_buzz),
        click_v=lift_peak_v * evenly(rng, c.click),
        click_s=in_ratio(rng, c.click_s),
        thump_v=lift_peak_v * 10.0 ** (-thump_db / 20.0),
    )


def draw_switch(rng: np.random.Generator, c: Conditions, *, at_s: float, usual_v: float) -> SwitchSpec:
    """Draw one step of the selector, ``at_s`` give or take a tenth of a second, pops relative to a pluck."""
    return SwitchSpec(
        at_s=at_s + rng.uniform(-0.1, 0.1),
        gap_s=evenly(rng, c.switch_gap_s),
        pop_v=usual_v * evenly(rng, c.pop),
        pop_s=in_ratio(rng, c.pop_s),
        bounces=int(rng.integers(1, 4)) if rng.random() < c.switch_bounce_rate else 0,
    )
