"""What a fault does to the levels of a pickup, frequency by frequency.

Task: the deviations that the judging looks for. Shapes: frequencies (readings,) in, dB (readings,) out.
Units: Hz, dB. Signs: none.

Sources: a series capacitor or an open coil is a first-order high-pass with the load, a short across the
leads a first-order low-pass with the coil's inductance, a tone knob turned down a resonance of the coil with
the tone capacitor (C1: f = 1 / (2 pi sqrt(L C)), 1.8 to 3.5 H with 22 nF: 570 to 800 Hz); values common
practice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from dsp.soundness.plucks import Array, Code

CORNERS_HZ = (200.0, 400.0, 800.0, 1600.0)
"""2 to 10 nF with a load of 100 to 200 k lies between 100 and 800 Hz."""
OPEN_CORNERS_HZ = (1000.0, 2000.0)
OPEN_LOSSES_DB = (20.0, 28.0, 36.0, 44.0)
"""5 to 20 pF into 300 to 1000 pF of cable."""
SHORT_CORNERS_HZ = (400.0, 1000.0)
SHORT_LOSSES_DB = (16.0, 24.0, 32.0, 40.0)
WEAKER_DB = (14.0, 18.0, 22.0, 26.0, 32.0, 40.0)
TONE_HZ = (500.0, 600.0, 720.0, 860.0)
TONE_PEAK = 1.4
"""Q of the coil with the tone capacitor: some 10 k of reactance over 6 to 8 k of resistance."""


@dataclass(frozen=True, eq=False)
class Shape:
    """One fault with one set of values: what it adds to the levels, (readings,), and its loss in dB."""

    code: Code
    change_db: Array
    detail_db: float


def shapes_at(hz: Array) -> Iterator[Shape]:
    """Every fault that is looked for, at the frequencies of the readings."""
    lowest = float(hz.min())
    for corner in CORNERS_HZ:
        yield Shape("fundamental missing", high_pass_db(hz, corner), -_at(high_pass_db, lowest, corner))
    for corner in OPEN_CORNERS_HZ:
        for loss in OPEN_LOSSES_DB:
            yield Shape("open coil", high_pass_db(hz, corner) - loss, loss)
    for corner in SHORT_CORNERS_HZ:
        for loss in SHORT_LOSSES_DB:
            yield Shape("shorted coil", low_pass_db(hz, corner) - loss, loss)
    for loss in WEAKER_DB:
        yield Shape("far weaker", np.full(hz.shape, -loss), loss)
    for corner in TONE_HZ:
        yield Shape("dull", tone_down_db(hz, corner), -_at(tone_down_db, 2.5 * corner, corner))


def high_pass_db(hz: Array, corner_hz: float) -> Array:
    """First-order high-pass."""
    return np.asarray(-10 * np.log10(1 + np.square(corner_hz / hz)))


def low_pass_db(hz: Array, corner_hz: float) -> Array:
    """First-order low-pass."""
    return np.asarray(-10 * np.log10(1 + np.square(hz / corner_hz)))


def tone_down_db(hz: Array, corner_hz: float) -> Array:
    """Second-order low-pass with the peak of ``TONE_PEAK``."""
    x = np.square(hz / corner_hz)
    return np.asarray(-10 * np.log10(np.square(1 - x) + x / TONE_PEAK**2))


def _at(shape: Callable[[Array, float], Array], hz: float, corner_hz: float) -> float:
    return float(shape(np.array([hz]), corner_hz)[0])
