"""The ranges from which random benches are drawn.

Task: every range in one place. Shapes: a `Span` is the lowest and the highest value. Units in the names.
Signs: angles as in simulator.strings, 0 degrees pushed towards the body. Sources: signal to noise, hum and
hand buzz as in T6; places after S3; electrical values after C1 and C2; the rest is
assumed, and chosen so that hands are sloppy.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

Span = tuple[float, float]


@dataclass(frozen=True)
class Conditions:
    """What a bench may be like; drawn evenly within each span unless it says otherwise."""

    snr_db: Span = (35.0, 60.0)
    """RMS of a usual pluck in its first 0.3 s over the RMS of the noise."""
    hum_db: Span = (30.0, 50.0)
    """The same over the RMS of all hum."""
    capacitive_rate: float = 0.3
    """How often much of the hum comes in by capacitance."""
    stray_much: Span = (0.5, 0.95)
    stray_little: Span = (0.0, 0.1)
    """Part of the hum's power that comes in by capacitance, in the two cases."""
    hum_line_db: float = 4.0
    """Standard deviation of a mains line's level from its usual one."""
    drift: float = 1e-3
    """Standard deviation of the mains frequency, as a fraction; cut off at twice that (0.2 %)."""
    humbucker_rate: float = 0.35
    """How often a pickup has two coils."""
    three_rate: float = 0.5
    """How often there are three pickups and not two."""
    scale_mm: Span = (628.0, 650.0)
    bass_scale_mm: Span = (762.0, 864.0)
    bridge_mm: Span = (35.0, 50.0)
    middle_mm: Span = (85.0, 110.0)
    neck_mm: Span = (140.0, 170.0)
    """Places on a guitar; on a bass they grow with the scale."""
    distance_mm: Span = (1.8, 3.5)
    aperture_mm: Span = (3.0, 7.0)
    off_centre_mm: float = 1.2
    """Standard deviation of a string's distance to the side of a pole, drawn for each string and pickup."""
    strength_db: float = 3.0
    """Standard deviation of a pickup's strength, on strings; on tools it is drawn again."""
    cents: float = 15.0
    """Strings are at most so far off pitch."""
    single_r_ohm: Span = (5000.0, 8000.0)
    single_l_h: Span = (1.8, 3.5)
    single_c_f: Span = (80e-12, 200e-12)
    hum_area: Span = (0.85, 1.15)
    half_r_ohm: Span = (3500.0, 4500.0)
    half_l_h: Span = (1.8, 3.0)
    half_c_f: Span = (80e-12, 200e-12)
    half_hum_area: Span = (0.8, 1.0)
    half_balance: Span = (0.5, 0.7)
    """Strength of each coil of a humbucker relative to a usual single coil."""
    half_offset_mm: float = 9.0
    """Each coil of a humbucker lies so far from its centre."""
    volume_ohm: tuple[float, ...] = (250e3, 500e3)
    no_tone_rate: float = 0.2
    cable_f: Span = (300e-12, 1000e-12)
    input_ohm: tuple[float, ...] = (0.5e6, 1e6, 2e6)
    """The pots and inputs that occur; one is drawn."""
    decay_per_s: Span = (0.6, 1.6)
    decay_rise_per_s: Span = (0.6, 2.0)
    body_loss: Span = (1.0, 3.0)
    detune_hz: Span = (0.05, 1.2)
    coupling_rad: Span = (-0.7, 0.7)
    inverted_rate: float = 0.03
    """How often one input of an interface inverts."""
    channel_db: float = 2.0
    """The gains of the inputs are at most so far off what was meant."""
    bits: tuple[int, ...] = (16, 24)
    offset: float = 2e-3
    """Standard deviation of the converter's offset, full scale."""
    high_pass_hz: Span = (2.0, 12.0)
    latency_frames: int = 1
    """The second input comes at most so many frames later."""
    level: Span = (0.03, 0.15)
    """RMS, full scale, of a usual pluck."""
    tool_level: Span = (0.1, 0.9)
    """Peak, full scale, of a usual lift."""
    pluck_place: Span = (0.12, 0.35)
    """Limits of the place, fraction of the sounding length; a person's habit is drawn evenly within."""
    place_spread: float = 0.04
    """Standard deviation from pluck to pluck."""
    habit_deg: float = 15.0
    """Standard deviation of a person's usual direction, around 0."""
    angle_spread_deg: float = 20.0
    """Standard deviation from pluck to pluck; with the habit 25 degrees."""
    careless_rate: float = 0.1
    """How often a stroke is not aimed at all: then its direction spreads by ``careless_deg``."""
    careless_deg: float = 50.0
    pluck_height_mm: float = 1.0
    level_db: float = 4.0
    """Plucks are at most so much louder or softer than usual."""
    turned_rate: float = 0.03
    """How often a stroke goes the other way."""
    draw_s: Span = (0.02, 0.1)
    pick_width_mm: Span = (1.0, 4.0)
    release_s: Span = (0.05e-3, 0.4e-3)
    finger_width_mm: Span = (4.0, 8.0)
    finger_release_s: Span = (0.2e-3, 1.0e-3)
    pressed_s: Span = (0.1, 0.3)
    leave_s: Span = (0.005, 0.03)
    """Drawn evenly in its logarithm, as are the other times of the tool."""
    approach_s: Span = (0.01, 0.06)
    snap: Span = (0.3, 0.9)
    bounces: int = 3
    bounce_ratio: float = 0.35
    """At most so many bounces, each so much lower than the one before."""
    bounce_mm: Span = (0.05, 0.6)
    bounce_s: Span = (0.008, 0.03)
    tap_approach_s: Span = (0.003, 0.015)
    tap_rests_s: Span = (0.003, 0.03)
    thump_db: Span = (30.0, 50.0)
    """The knock that a tap gives to the body, below a usual lift's peak."""
    hand_buzz: Span = (0.0, 0.08)
    """RMS of the hand's buzz over a usual lift's peak."""
    click: Span = (0.0, 0.6)
    """Mean height of a contact click over a usual lift's peak."""
    click_s: Span = (0.05e-3, 0.25e-3)
    switch_gap_s: Span = (0.0, 0.04)
    pop: Span = (0.0, 4.0)
    """Mean height of a switch's pop over the RMS of a usual pluck."""
    pop_s: Span = (0.2e-3, 3e-3)
    switch_bounce_rate: float = 0.2
    magnetised_rate: float = 0.0
    """How often the tool is magnetised: off, for it is a false sign by itself."""


ORDINARY = Conditions()


def evenly(rng: np.random.Generator, span: Span) -> float:
    """Draw evenly within a span."""
    return float(rng.uniform(*span))


def in_ratio(rng: np.random.Generator, span: Span) -> float:
    """Draw within a span, evenly in the logarithm."""
    low, high = span
    return math.exp(rng.uniform(math.log(low), math.log(high)))
