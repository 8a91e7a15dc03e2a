"""A bench that is unlike the one that simulator.conditions describes.

Task: change the loss of the strings, the window and the falling-off of the pickups, the phase of the box
and the colour of the noise, for any story and without touching it. Shapes: samples (frames, channels).
Units: Hz, mm, 1/s. Signs: nothing here turns a sign over: each filter of the box is the same on both inputs
and passes low frequencies as they are.
Sources: all values are assumed, and chosen to lie outside the ranges of simulator.conditions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import signal
from simulator.workbench import Bench

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class World:
    """What a bench and a recorded take become; both functions draw from the generator passed."""

    name: str
    bench: Callable[[Bench, np.random.Generator], Bench]
    samples: Callable[[Floats, int, np.random.Generator], Floats]


def _same_bench(bench: Bench, _rng: np.random.Generator) -> Bench:
    return bench


def _same_samples(samples: Floats, _rate: int, _rng: np.random.Generator) -> Floats:
    return samples


USUAL = World("usual", _same_bench, _same_samples)

OLD_DECAY_PER_S = (0.45, 2.6)
OLD_RISE_PER_S = (3.0, 9.0)
OLD_BODY_LOSS = (2.5, 5.0)
"""Old strings on a loose bridge: dull soon, and one direction of motion dies early."""
WIDE_APERTURE_MM = (8.0, 14.0)
DEEP_POLE_MM = (5.0, 9.0)
"""A wide flat pickup whose field falls off slowly."""
ALL_PASS_HZ = (60.0, 900.0)
ALL_PASS_WIDTH = (0.5, 1.5)
"""A box with a second-order all-pass in both inputs: one turn of phase, no change of level."""
PINK_DB = (45.0, 60.0)
"""Noise that falls by 3 dB an octave, below a usual pluck."""


def _old_bench(bench: Bench, rng: np.random.Generator) -> Bench:
    strings = tuple(
        replace(
            one,
            decay_per_s=float(rng.uniform(*OLD_DECAY_PER_S)),
            decay_rise_per_s=float(rng.uniform(*OLD_RISE_PER_S)),
            body_loss=float(rng.uniform(*OLD_BODY_LOSS)),
            detune_hz=one.detune_hz * 1.7,
        )
        for one in bench.strings
    )
    pickups = tuple(
        replace(
            one,
            aperture_mm=float(rng.uniform(*WIDE_APERTURE_MM)),
            pole_depth_mm=float(rng.uniform(*DEEP_POLE_MM)),
        )
        for one in bench.pickups
    )
    return replace(bench, strings=strings, pickups=pickups)


def _through_the_box(samples: Floats, rate: int, rng: np.random.Generator) -> Floats:
    """Turn the phase of all channels alike and lay pink noise over each."""
    centre, width = rng.uniform(*ALL_PASS_HZ), rng.uniform(*ALL_PASS_WIDTH)
    b, a = _all_pass(float(centre), float(width), rate)
    turned = signal.lfilter(b, a, samples, axis=0)
    peak = float(np.max(np.abs(turned))) or 1.0
    level = 0.1 * 10.0 ** (-rng.uniform(*PINK_DB) / 20.0)
    noise = np.stack([pink(rng, samples.shape[0]) for _ in range(samples.shape[1])], axis=1)
    return np.asarray(turned * min(1.0, 0.999 / peak) + level * noise, dtype=np.float64)


def _all_pass(centre_hz: float, width: float, rate: int) -> tuple[Floats, Floats]:
    """Second order; +1 at 0 Hz and at half the rate, -1 at the centre."""
    w = 2.0 * np.pi * centre_hz / rate
    alpha = 0.5 * width * np.sin(w)
    a = np.array([1.0 + alpha, -2.0 * np.cos(w), 1.0 - alpha])
    return a[::-1] / a[0], a / a[0]


def pink(rng: np.random.Generator, frames: int) -> Floats:
    """Noise whose power falls as 1/f above 20 periods a take, RMS 1, (frames,)."""
    spectrum = np.fft.rfft(rng.standard_normal(frames))
    spectrum /= np.sqrt(np.maximum(np.arange(spectrum.size), 20))
    noise = np.fft.irfft(spectrum, frames)
    return np.asarray(noise / np.sqrt(np.mean(noise**2)), dtype=np.float64)


UNLIKE = World("unlike", _old_bench, _through_the_box)
WORLDS = {world.name: world for world in (USUAL, UNLIKE)}
