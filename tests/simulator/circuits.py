"""Coils, pots, cable and input: from the coils' electromotive forces to the voltage at the jack.

Task: nodal analysis of R-L-C coils in series or parallel into a load, in the frequency domain.
Shapes: one EMF (frames,) a coil in, one voltage (frames,) out.
Units: ohm, henry, farad, Hz, volt.
Signs: a coil's voltage enters as it is; ``reversed`` on a branch turns it over.
Sources: C1 (resonance), C2 (equal coils together), C3 (Millman); values of pots and cable: H. E. W.
Lemme's ranges as quoted under C1, and common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from dsp import SignalError

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Join = Literal["parallel", "series"]

SETTLING_S = 0.05
"""What is put behind a signal, so that what the circuit still holds at its end does not wrap round."""

STILL_RAD_S = 1e-6
"""0 Hz counts as this, so that a capacitor in a lead has an impedance there too; it blocks all the same."""

BAND = 0.8
"""Up to this part of half the rate everything passes (assumed)."""


@dataclass(frozen=True)
class CoilElectrics:
    """Resistance, inductance and own capacitance of a coil; defaults in the ranges under C1."""

    r_ohm: float = 6500.0
    l_h: float = 2.5
    c_f: float = 120e-12

    def __post_init__(self) -> None:
        if not (self.r_ohm > 0 and self.l_h >= 0 and self.c_f >= 0):
            raise SignalError("coil: resistance must be positive, inductance and capacitance not negative")


@dataclass(frozen=True)
class LoadSpec:
    """What hangs between the pickups and the recording; defaults common practice."""

    volume_ohm: float = 250e3
    volume: float = 1.0
    """Position of the volume pot's wiper, 0 to 1, as a part of its track."""
    tone_ohm: float | None = 250e3
    """Resistance of the tone pot as it stands; None: no tone pot."""
    tone_f: float = 22e-9
    cable_f: float = 500e-12
    input_ohm: float = 1e6

    def __post_init__(self) -> None:
        if not 0.0 < self.volume <= 1.0:
            raise SignalError(f"volume {self.volume} must be above 0 and at most 1")


@dataclass(frozen=True)
class Branch:
    """One pickup as wired: its coils in series, hot to ground."""

    coils: tuple[CoilElectrics, ...]
    reversed: bool = False
    series_f: float | None = None
    """A capacitor in the hot lead; None: none."""
    shunt_ohm: float | None = None
    """A resistance from hot to ground, this side of the capacitor; None: none."""

    def __post_init__(self) -> None:
        if (self.series_f is not None and self.series_f <= 0) or (
            self.shunt_ohm is not None and self.shunt_ohm <= 0
        ):
            raise SignalError("branch: a capacitor or a resistance in it must be positive")


def resonance_hz(l_h: float, c_f: float) -> float:
    """1 / (2 pi sqrt(L C)) (sources C1)."""
    return 1.0 / (2.0 * math.pi * math.sqrt(l_h * c_f))


def equal_coils(coil: CoilElectrics, count: int, *, join: Join) -> CoilElectrics:
    """``count`` equal coils as one (sources C2)."""
    k = float(count) if join == "series" else 1.0 / count
    return CoilElectrics(r_ohm=coil.r_ohm * k, l_h=coil.l_h * k, c_f=coil.c_f / k)


def millman(volts: Sequence[float], ohms: Sequence[float], *, load_ohm: float = math.inf) -> float:
    """Voltage of sources in parallel on a load, at DC (sources C3)."""
    current = sum(v / r for v, r in zip(volts, ohms, strict=True))
    return current / (sum(1.0 / r for r in ohms) + 1.0 / load_ohm)


def transfers(branches: Sequence[Branch], load: LoadSpec, hz: Floats, *, join: Join) -> list[list[Complexes]]:
    """From each coil's EMF to the jack, (frequencies,) a coil, nested as the branches are.

    Each coil is its EMF behind R and L with C across the two; coils of a branch stand in series.
    """
    if not branches:
        raise SignalError("a setting without any pickup has no output")
    omega = np.asarray(2j * math.pi * hz, dtype=np.complex128)
    inner = [[coil.r_ohm + omega * coil.l_h for coil in branch.coils] for branch in branches]
    across = [
        [1.0 / (1.0 + z * omega * coil.c_f) for z, coil in zip(zs, branch.coils, strict=True)]
        for zs, branch in zip(inner, branches, strict=True)
    ]
    source = [
        np.asarray(sum((z * g for z, g in zip(zs, gs, strict=True)), np.zeros_like(omega)))
        for zs, gs in zip(inner, across, strict=True)
    ]
    shares = []
    for k, branch in enumerate(branches):
        share, source[k] = _leads(branch, source[k], omega)
        shares.append(share)
    admittance, divider = _load(load, omega)
    if join == "series":
        reach = 1.0 / (1.0 + sum(source, np.zeros_like(omega)) * admittance)
        reaches = [reach] * len(branches)
    else:
        total = admittance + sum((1.0 / z for z in source), np.zeros_like(omega))
        reaches = [1.0 / (z * total) for z in source]
    return [
        [np.asarray((-1.0 if branch.reversed else 1.0) * g * share * reach * divider) for g in gs]
        for branch, gs, share, reach in zip(branches, across, shares, reaches, strict=True)
    ]


def _leads(branch: Branch, source: Complexes, omega: Complexes) -> tuple[Complexes | float, Complexes]:
    """Part of the coils' open voltage that a branch still has behind its leads, and its impedance there."""
    share: Complexes | float = 1.0
    if branch.shunt_ohm is not None:
        share = branch.shunt_ohm / (source + branch.shunt_ohm)
        source = source * share
    if branch.series_f is not None:
        still = np.where(omega == 0, 1j * STILL_RAD_S, omega)
        source = np.asarray(source + 1.0 / (still * branch.series_f))
    return share, source


def _load(load: LoadSpec, omega: Complexes) -> tuple[Complexes, Complexes]:
    """Admittance that the pickups see, and the part of their voltage that reaches the jack."""
    upper = load.volume_ohm * (1.0 - load.volume)
    jack = omega * load.cable_f + 1.0 / load.input_ohm + 1.0 / (load.volume_ohm * load.volume)
    below = 1.0 / jack
    admittance = 1.0 / (upper + below)
    if load.tone_ohm is not None:
        admittance = admittance + omega * load.tone_f / (1.0 + omega * load.tone_f * load.tone_ohm)
    return np.asarray(admittance), np.asarray(below / (upper + below))


def jack_voltage(
    emfs: Sequence[Sequence[Floats]], branches: Sequence[Branch], load: LoadSpec, *, join: Join, rate: int
) -> Floats:
    """Voltage at the jack, (frames,), for EMFs nested as the branches are."""
    frames = emfs[0][0].size
    settling = math.ceil(SETTLING_S * rate)
    if frames < settling:
        raise SignalError(
            f"a signal of {frames} frames is shorter than the {settling} the circuit settles in"
        )
    size = fft.next_fast_len(frames + settling, real=True)
    hz = fft.rfftfreq(size, 1.0 / rate)
    spectrum = np.zeros(hz.size, dtype=np.complex128)
    for coil_emfs, gains in zip(emfs, transfers(branches, load, hz, join=join), strict=True):
        for coil_emf, gain in zip(coil_emfs, gains, strict=True):
            spectrum += gain * fft.rfft(_closed(coil_emf, size, settling=settling))
    spectrum *= _band_limit(hz, rate=rate)
    return np.asarray(fft.irfft(spectrum, size)[:frames], dtype=np.float64)


def _band_limit(hz: Floats, *, rate: int) -> Floats:
    """Fall smoothly from 1 at ``BAND`` of half the rate to 0 at half the rate, as a converter does.

    Without it a transfer function that is complex at half the rate rings there long before its cause.
    """
    beyond = np.clip((hz / (0.5 * rate) - BAND) / (1.0 - BAND), 0.0, 1.0)
    return np.asarray(np.cos(0.5 * math.pi * beyond) ** 2, dtype=np.float64)


def _closed(signal: Floats, size: int, *, settling: int) -> Floats:
    """Close a signal to a ring of ``size`` without a jump: the mirrored end fades into the mirrored start."""
    gap = size - signal.size
    fade = np.sin(0.5 * math.pi * (np.arange(settling) + 0.5) / settling) ** 2
    behind = np.zeros(gap)
    behind[:settling] += signal[: -settling - 1 : -1] * (1.0 - fade)
    behind[gap - settling :] += signal[settling - 1 :: -1] * fade
    return np.concatenate([signal, behind])
