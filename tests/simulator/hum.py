"""Mains hum: what comes in through the coils, and what comes in by capacitance.

Task: the waveform of the mains near one bench, as it stands during one take.
Shapes: (frames,). Units: volts RMS, Hz, seconds.
Signs: magnetic hum enters each coil's EMF with ``w`` times the coil's area; capacitive buzz enters at the
jack and ignores the winding (sources P1, P2, R2).
Sources: mains within a fraction of a percent of nominal: F2; harmonic levels assumed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp import SignalError

Floats = NDArray[np.float64]

HARMONICS = (1, 2, 3, 5, 7)
LEVELS_DB = (0.0, -14.0, -7.0, -12.0, -18.0)
"""Usual levels of the harmonics against the first (assumed)."""
BUZZ_HARMONICS = (1, 2, 3, 4, 5, 7, 9, 11, 13, 15)
"""What comes through a hand or a ground loop is richer (assumed)."""
BLOCK = 8192
"""Frames that are summed at once: they stay near the processor."""


@dataclass(frozen=True)
class MainsSpec:
    """The mains at one bench in one job."""

    nominal_hz: float = 50.0
    drift: float = 0.0
    """Deviation from nominal as a fraction; the mean of the job (sources F2)."""
    wander: float = 2e-4
    """Standard deviation of what is added to ``drift`` from take to take, as a fraction (assumed)."""
    levels: tuple[float, ...] = tuple(10.0 ** (db / 20.0) for db in LEVELS_DB)
    """Amplitudes of ``HARMONICS`` relative to each other."""
    phases_rad: tuple[float, ...] = (0.0,) * len(HARMONICS)
    """Phases of ``HARMONICS`` against the first's zero crossing."""
    field_v: float = 0.0
    """RMS volts that the field induces in a coil of hum area 1."""
    capacitive_v: float = 0.0
    """RMS volts at the jack by capacitance."""

    def __post_init__(self) -> None:
        if self.nominal_hz not in (50.0, 60.0):
            raise SignalError(f"mains of {self.nominal_hz} Hz: 50 or 60")
        if len(self.levels) != len(HARMONICS) or len(self.phases_rad) != len(HARMONICS):
            raise SignalError(f"mains: {len(HARMONICS)} levels and phases are needed, one a harmonic")


@dataclass(frozen=True)
class MainsClock:
    """The mains during one take: its frequency, its slow change, its phase at the first frame."""

    hz: float
    slope_hz_per_s: float
    phase_rad: float

    def angle(self, frames: int, *, rate: int) -> Floats:
        """Phase of the first harmonic, radians, (frames,)."""
        t = np.arange(frames) / rate
        turns = self.hz * t + 0.5 * self.slope_hz_per_s * t**2
        return np.asarray(self.phase_rad + 2.0 * math.pi * turns, dtype=np.float64)


def mains_clock(rng: np.random.Generator, mains: MainsSpec) -> MainsClock:
    """Take a clock for one take: the frequency near the job's, the phase anything."""
    hz = mains.nominal_hz * (1.0 + mains.drift + mains.wander * rng.standard_normal())
    slope = mains.nominal_hz * mains.wander * rng.standard_normal() * 0.2
    return MainsClock(hz=hz, slope_hz_per_s=slope, phase_rad=rng.uniform(0.0, 2.0 * math.pi))


def field_hum(mains: MainsSpec, angle: Floats) -> Floats:
    """Voltage of the field in a coil of area 1 and ``w`` = +1, RMS ``mains.field_v``."""
    return mains.field_v * _unit_wave(angle, HARMONICS, mains.levels, mains.phases_rad)


def capacitive_hum(mains: MainsSpec, angle: Floats) -> Floats:
    """Voltage at the jack by capacitance, RMS ``mains.capacitive_v``: the same lines, a quarter turn on.

    The current through a capacitance grows with frequency, so the higher lines are stronger here.
    """
    levels = tuple(level * math.sqrt(n) for level, n in zip(mains.levels, HARMONICS, strict=True))
    phases = tuple(phase + math.pi / 2 for phase in mains.phases_rad)
    return mains.capacitive_v * _unit_wave(angle, HARMONICS, levels, phases)


def hand_buzz(angle: Floats, *, volts: float) -> Floats:
    """Buzz that a hand brings in while it touches a pole: many harmonics, RMS ``volts``."""
    levels = tuple(1.0 / math.sqrt(n) for n in BUZZ_HARMONICS)
    phases = tuple(1.7 * n for n in BUZZ_HARMONICS)
    return volts * _unit_wave(angle, BUZZ_HARMONICS, levels, phases)


def _unit_wave(
    angle: Floats, harmonics: tuple[int, ...], levels: tuple[float, ...], phases_rad: tuple[float, ...]
) -> Floats:
    """Sum of harmonics scaled to RMS 1 over whole periods: a polynomial in exp(i angle), by Horner's rule."""
    lines = {
        n: level * np.exp(1j * phase) for n, level, phase in zip(harmonics, levels, phases_rad, strict=True)
    }
    wave = np.empty(angle.shape)
    for first in range(0, angle.size, BLOCK):
        piece = angle[first : first + BLOCK]
        turn = np.empty(piece.shape, dtype=np.complex128)
        np.cos(piece, out=turn.real)
        np.sin(piece, out=turn.imag)
        above = np.zeros(piece.shape, dtype=np.complex128)
        for n in range(max(harmonics), 0, -1):
            above += lines.get(n, 0.0)
            above *= turn
        wave[first : first + BLOCK] = above.imag
    power = sum(level**2 for level in levels) / 2.0
    return np.asarray(wave / math.sqrt(power), dtype=np.float64)
