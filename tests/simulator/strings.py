"""A stiff plucked string in two polarisations, by modal synthesis.

Task: the displacement of one plucked string at given places, over time.
Shapes: places are (K,); a motion is (2, K, frames), first axis: towards the body, sideways.
Units: metres, seconds, Hz, newton; a place is measured from the bridge.
Signs: displacement towards the body (towards the pickups) is positive. A pluck at 0 degrees is the
string pushed towards the body and let go (+1); 180 degrees is the other way (-1); 90 is sideways.
Sources: S1 (amplitudes), S2 (wave speed), S6 (stiffness), S3 (place); the decay, the detuning of the
polarisations and their coupling are assumed, in the range that guitar strings show.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp import SignalError

STEEL_YOUNG_PA = 2.0e11
"""Young's modulus of string steel (assumed; common tables give 1.9 to 2.1e11)."""
STEEL_DENSITY = 7850.0
"""kg per cubic metre (common tables)."""
BLOCK = 256
"""Frames in one block of the matrix product that sums the modes."""
BAND = 0.45
"""No mode lies above this part of the sampling rate."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class StringSpec:
    """One open string. All values but pitch, length and stiffness are assumed."""

    name: str
    f0_hz: float
    length_m: float
    stiffness: float
    """B of f_n = n f0 sqrt(1 + B n^2), sources S6."""
    decay_per_s: float = 0.9
    """Amplitude decay rate of the lowest mode."""
    decay_rise_per_s: float = 1.0
    """Further decay rate at 1 kHz; it grows with the square of the frequency."""
    body_loss: float = 1.4
    """The polarisation nearer the vertical decays so many times faster: the bridge gives way there."""
    detune_hz: float = 0.3
    """Difference in frequency of the two polarisations of the lowest mode; proportional to n."""
    coupling_rad: float = 0.25
    """How far the two own directions are turned away from vertical and sideways."""
    modes: int = 60
    """At most so many modes."""

    def __post_init__(self) -> None:
        if not (self.f0_hz > 0 and self.length_m > 0 and self.stiffness >= 0 and self.modes >= 1):
            raise SignalError(
                f"string {self.name!r}: pitch and length must be positive, stiffness not negative"
            )


@dataclass(frozen=True)
class PluckSpec:
    """One pluck or press; the widths and times are assumed."""

    place: float = 0.22
    """Place of the pluck as a fraction of the sounding length, from the bridge."""
    height_m: float = 1.0e-3
    angle_deg: float = 0.0
    """0: pushed towards the body and let go; 180: pulled away from it; 90: sideways."""
    draw_s: float = 0.04
    """How long the string is displaced before it is let go."""
    width_m: float = 3.0e-3
    """Standard deviation of the rounding of the corner: pick or finger tip."""
    release_s: float = 0.15e-3
    """Standard deviation of the time over which it slips off."""

    def __post_init__(self) -> None:
        if not 0.0 < self.place < 1.0:
            raise SignalError(f"pluck place {self.place} must lie inside the string, between 0 and 1")
        if not (self.draw_s > 0 and self.width_m >= 0 and self.release_s >= 0):
            raise SignalError("pluck: the drawing time must be positive, the widths not negative")


def plucked_amplitudes(count: int, *, place: float, height: float = 1.0) -> Floats:
    """Amplitudes of modes 1 to ``count`` of an ideal string plucked at ``place`` (sources S1)."""
    n = np.arange(1, count + 1)
    shape = 2.0 * height / (n**2 * math.pi**2 * place * (1.0 - place))
    return np.asarray(shape * np.sin(n * math.pi * place), dtype=np.float64)


def wave_speed(*, tension_n: float, mass_kg_per_m: float) -> float:
    """Speed of a transverse wave, m/s (sources S2)."""
    return math.sqrt(tension_n / mass_kg_per_m)


def round_wire_mass(diameter_m: float) -> float:
    """Mass of plain steel wire, kg per metre."""
    return STEEL_DENSITY * math.pi * diameter_m**2 / 4.0


def tension_for(f0_hz: float, *, length_m: float, mass_kg_per_m: float) -> float:
    """Tension in newton that brings a string to pitch: 4 L^2 f0^2 mu (sources S2)."""
    return 4.0 * length_m**2 * f0_hz**2 * mass_kg_per_m


def stiffness(*, core_m: float, tension_n: float, length_m: float) -> float:
    """B = pi^3 E d^4 / (64 T L^2) of a string with a core ``core_m`` thick (sources S6)."""
    return math.pi**3 * STEEL_YOUNG_PA * core_m**4 / (64.0 * tension_n * length_m**2)


def sounding_length(length_m: float, *, fret: int = 0) -> float:
    """Length from the bridge to the fret, in metres."""
    return length_m / math.pow(2.0, fret / 12.0)


def mode_frequencies(string: StringSpec, *, fret: int = 0, below_hz: float = math.inf) -> Floats:
    """Frequencies of the modes, Hz: n f0 sqrt(1 + B n^2) (sources S6), as many as lie below ``below_hz``.

    A fret shortens the string under the same tension, so B grows as the inverse square of the length.
    """
    n = np.arange(1, string.modes + 1)
    ratio = 2.0 ** (fret / 12.0)
    frequencies = n * string.f0_hz * ratio * np.sqrt(1.0 + string.stiffness * ratio**2 * n**2)
    return np.asarray(frequencies[frequencies < below_hz], dtype=np.float64)


def place_weights(count: int, *, x_m: Floats, sigma_m: Floats, length_m: float) -> Floats:
    """Return (count, K): mode shapes sin(n pi x / L), averaged over a Gaussian aperture (sources S3)."""
    wavenumber = np.arange(1, count + 1)[:, None] * math.pi / length_m
    blur = np.exp(-0.5 * (wavenumber * sigma_m[None, :]) ** 2)
    return np.asarray(np.sin(wavenumber * x_m[None, :]) * blur, dtype=np.float64)


def pluck_motion(
    string: StringSpec,
    pluck: PluckSpec,
    *,
    x_m: Floats,
    sigma_m: Floats,
    release_s: float,
    frames: int,
    rate: int,
    fret: int = 0,
) -> Floats:
    """Return displacement (2, K, frames) at the places ``x_m``, averaged over apertures ``sigma_m``.

    Before ``release_s`` the string is drawn slowly to its plucked shape, afterwards it rings.
    """
    length = sounding_length(string.length_m, fret=fret)
    frequencies = mode_frequencies(string, fret=fret, below_hz=BAND * rate)
    if frequencies.size == 0:
        raise SignalError(f"string {string.name!r}: no mode lies below {BAND * rate:.0f} Hz, raise the rate")
    start = math.ceil(release_s * rate)
    if not 0 <= start < frames:
        raise SignalError(f"release at {release_s} s lies outside the take of {frames / rate} s")
    amplitudes = _released_amplitudes(pluck, frequencies, length_m=length)
    weights = place_weights(frequencies.size, x_m=x_m, sigma_m=sigma_m, length_m=length)
    shape = amplitudes @ weights
    motion = np.empty((2, x_m.size, frames))
    direction = math.radians(pluck.angle_deg)
    drawn = _draw(pluck.draw_s, release_s=release_s, count=start, rate=rate)
    for axis, part in enumerate((math.cos(direction), math.sin(direction))):
        motion[axis, :, :start] = part * shape[:, None] * drawn
    late = start / rate - release_s
    motion[:, :, start:] = _ringing(
        string,
        amplitudes[:, None] * weights,
        frequencies,
        direction,
        late_s=late,
        frames=frames - start,
        rate=rate,
    )
    return motion


def _released_amplitudes(pluck: PluckSpec, frequencies: Floats, *, length_m: float) -> Floats:
    """Amplitudes of S1, low-passed by the width of the pick and the time it takes to slip off."""
    n = np.arange(1, frequencies.size + 1)
    ideal = plucked_amplitudes(frequencies.size, place=pluck.place, height=pluck.height_m)
    width = np.exp(-0.5 * (n * math.pi * pluck.width_m / length_m) ** 2)
    slip = np.exp(-0.5 * (2.0 * math.pi * frequencies * pluck.release_s) ** 2)
    return np.asarray(ideal * width * slip, dtype=np.float64)


def _draw(draw_s: float, *, release_s: float, count: int, rate: int) -> Floats:
    """Rise smoothly from 0 to 1 over ``draw_s`` up to the release."""
    since = np.arange(count) / rate - (release_s - draw_s)
    return np.asarray(np.sin(0.5 * math.pi * np.clip(since / draw_s, 0.0, 1.0)) ** 2, dtype=np.float64)


def _ringing(
    string: StringSpec,
    weighted: Floats,
    frequencies: Floats,
    direction: float,
    *,
    late_s: float,
    frames: int,
    rate: int,
) -> Floats:
    """Sum the modes, (2, K, frames): two own directions a mode, each with its pitch and decay."""
    turn = string.coupling_rad
    projections = (math.cos(direction - turn), math.sin(direction - turn))
    axes = ((math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn)))
    n = np.arange(1, frequencies.size + 1)
    decay = string.decay_per_s + string.decay_rise_per_s * (frequencies / 1000.0) ** 2
    poles = np.concatenate(
        [
            -decay * string.body_loss + 2j * math.pi * frequencies,
            -decay + 2j * math.pi * (frequencies + n * string.detune_hz),
        ]
    )
    start = np.exp(poles * late_s)
    outputs = [
        np.concatenate([projections[0] * axes[0][axis] * weighted, projections[1] * axes[1][axis] * weighted])
        for axis in range(2)
    ]
    coefficients = np.concatenate(outputs, axis=1) * start[:, None]
    return _modal_sum(poles, coefficients, frames=frames, rate=rate).reshape(2, weighted.shape[1], frames)


def _modal_sum(
    poles: NDArray[np.complex128], coefficients: NDArray[np.complex128], *, frames: int, rate: int
) -> Floats:
    """Real part of sum c exp(pole t), (outputs, frames), as one real matrix product over blocks."""
    blocks = -(-frames // BLOCK)
    coarse = np.exp(np.outer(np.arange(blocks) * (BLOCK / rate), poles))
    fine = np.exp(np.outer(poles, np.arange(BLOCK) / rate))
    right = np.concatenate([fine.real, -fine.imag])
    result = np.empty((coefficients.shape[1], blocks * BLOCK))
    for k in range(coefficients.shape[1]):
        left = coarse * coefficients[:, k]
        np.matmul(np.concatenate([left.real, left.imag], axis=1), right, out=result[k].reshape(blocks, BLOCK))
    return result[:, :frames]
