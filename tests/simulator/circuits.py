"""Coils, pots, cable and input: from the coils' electromotive forces to the voltage at the jack.

Task: nodal analysis of R-L-C coils in series or parallel, or in any network of them with resistors and
capacitors, into a load, in the frequency domain.
Shapes: one EMF (frames,) a coil in, one voltage (frames,) out.
Units: ohm, henry, farad, Hz, volt.
Signs: a coil's voltage enters as it is; ``reversed`` on a branch turns it over.
Sources: C1 (resonance), C2 (equal coils together), C3 (Millman); values of pots and cable: H. E. W.
Lemme's ranges as quoted under C1, and common practice.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from dsp import SignalError
from dsp.model.network import Capacitor, CoilPart, Joined, Part, Resistor

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
class PotSpec:
    """A volume of one pickup alone, as it stands: so much of its track lies between wiper and ground.

    "divider": the pickup is at the end of the track and the output at the wiper, so that a volume all the way
    down shorts the output; "reversed": the other way round, so that it shorts its own pickup alone. Common
    practice, both of them.
    """

    ohm: float = 250e3
    track: float = 1.0
    wired: Literal["divider", "reversed"] = "reversed"

    def __post_init__(self) -> None:
        if not (self.ohm > 0 and 0.0 < self.track <= 1.0):
            raise SignalError(f"pot: {self.track} of its track must be above 0 and at most 1")


@dataclass(frozen=True)
class Branch:
    """One pickup as wired: its coils in series, hot to ground."""

    coils: tuple[CoilElectrics, ...]
    reversed: bool = False
    series_f: float | None = None
    """A capacitor in the hot lead; None: none."""
    shunt_ohm: float | None = None
    """A resistance from hot to ground, this side of the capacitor; None: none."""
    pot: PotSpec | None = None
    """A volume of its own, behind all that; None: none."""

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


def network_transfers(
    part: Part, coils: Sequence[CoilElectrics], load: LoadSpec, hz: Floats
) -> list[Complexes]:
    """From each coil's EMF to the jack, (frequencies,) a coil, where coils are joined as ``part`` says.

    Coil k of ``part`` is ``coils[k - 1]``. Every element is put between its two nodes and the node equations
    are solved, frequency by frequency; a coil is its EMF behind R and L, with C across the two. A tap takes
    its share of EMF and resistance, the square of it of L, and has all of C across it.
    """
    omega = np.asarray(2j * math.pi * np.where(hz == 0, STILL_RAD_S, hz), dtype=np.complex128)
    admittance, divider = _load(load, omega)
    elements = list(_elements(part, 1, 0, itertools.count(2)))
    nodes = max(max(a, b) for _, a, b in elements)
    matrix = np.zeros((hz.size, nodes, nodes), dtype=np.complex128)
    driven = np.zeros((hz.size, nodes, len(coils)), dtype=np.complex128)
    for one, a, b in elements:
        if isinstance(one, CoilPart):
            made, share = coils[one.number - 1], -one.share if one.turned else one.share
            inner = 1.0 / (made.r_ohm * one.share + omega * made.l_h * one.share**2)
            between = inner + omega * made.c_f
            for node, sign in ((a, 1.0), (b, -1.0)):
                if node:
                    driven[:, node - 1, one.number - 1] += sign * share * inner
        else:
            between = omega * one.farad if isinstance(one, Capacitor) else np.full_like(omega, 1.0 / one.ohm)
        for node, other in ((a, b), (b, a)):
            if node:
                matrix[:, node - 1, node - 1] += between
                if other:
                    matrix[:, node - 1, other - 1] -= between
    matrix[:, 0, 0] += admittance
    volts = np.linalg.solve(matrix, driven)[:, 0] * divider[:, np.newaxis]
    return [np.ascontiguousarray(volts[:, k]) for k in range(len(coils))]


Element = tuple[CoilPart | Resistor | Capacitor, int, int]
"""A part and its two nodes; node 0 is ground, node 1 the hot lead."""


def _elements(part: Part, a: int, b: int, fresh: Iterator[int]) -> Iterator[Element]:
    """Each element of ``part``, which lies between the nodes ``a`` and ``b``."""
    if not isinstance(part, Joined):
        yield part, a, b
    elif part.join == "parallel":
        for one in part.parts:
            yield from _elements(one, a, b, fresh)
    else:
        ends = [a, *(next(fresh) for _ in part.parts[1:]), b]
        for one, above, below in zip(part.parts, ends, ends[1:], strict=False):
            yield from _elements(one, above, below, fresh)


def _leads(branch: Branch, source: Complexes, omega: Complexes) -> tuple[Complexes | float, Complexes]:
    """Part of the coils' open voltage that a branch still has behind its leads, and its impedance there."""
    share: Complexes | float = 1.0
    if branch.shunt_ohm is not None:
        share = branch.shunt_ohm / (source + branch.shunt_ohm)
        source = source * share
    if branch.series_f is not None:
        still = np.where(omega == 0, 1j * STILL_RAD_S, omega)
        source = np.asarray(source + 1.0 / (still * branch.series_f))
    if branch.pot is not None:
        pot = branch.pot
        below, above = pot.ohm * pot.track, pot.ohm * (1.0 - pot.track)
        if pot.wired == "divider":
            source = source + above
        part = below / (source + below)
        share, source = share * part, source * part
        if pot.wired == "reversed":
            source = source + above
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
    emfs: Sequence[Sequence[Floats]],
    branches: Sequence[Branch],
    load: LoadSpec,
    *,
    join: Join,
    rate: int,
    network: Part | None = None,
) -> Floats:
    """Voltage at the jack, (frames,), for EMFs nested as the branches are.

    ``network``: how the coils of all branches are joined, counted through them from 1; None: each branch's in
    series, and the branches as ``join`` says.
    """
    frames = emfs[0][0].size
    settling = math.ceil(SETTLING_S * rate)
    if frames < settling:
        raise SignalError(
            f"a signal of {frames} frames is shorter than the {settling} the circuit settles in"
        )
    size = fft.next_fast_len(frames + settling, real=True)
    hz = fft.rfftfreq(size, 1.0 / rate)
    spectrum = np.zeros(hz.size, dtype=np.complex128)
    coils = [coil for branch in branches for coil in branch.coils]
    if network is None:
        gains = [gain for each in transfers(branches, load, hz, join=join) for gain in each]
    else:
        gains = network_transfers(network, coils, load, hz)
    for coil_emf, gain in zip((one for each in emfs for one in each), gains, strict=True):
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
