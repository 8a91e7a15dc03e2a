"""How much hum two coils leave when they are joined, line by line, from their network.

Task: coils as electromotive force behind resistance and inductance, in parallel or in series, into a load;
the level of the sum against the louder coil alone. Shapes: lines (lines,). Units: ohm, henry, Hz, dB.
Sign: coils with ``opposed`` hum against each other; which of the two is turned over changes nothing.
Sources: C1 (inductances), C3 (Millman, with impedances for resistances), C4 (what goes with the turns).

In series the difference of the turns stays. In parallel voltage and resistance both go with the turns, so
that unlike coils cancel where resistance alone counts; inductance goes with their square, and what it keeps
apart grows with frequency.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from dsp.model.network import CoilElectrics, CoilPart, Joined, Part, coils_in, two_pole

Array = NDArray[np.float64]

USUAL_TURNS = 8000.0
USUAL_OHM = 6400.0
USUAL_HENRY = 2.7
"""A usual coil: turns, resistance, inductance (ranges of sources C1 and common practice)."""
LOAD_OHM = 200e3
"""Pot and input together, full up (common practice)."""
LEAST_DB = -60.0
"""What is further down is said to be so far: no two coils are so alike."""


@dataclass(frozen=True)
class HumCoil:
    """A coil in the field of the mains: its voltage re that of one with ``USUAL_TURNS``, ohm, henry."""

    emf: float
    r_ohm: float
    l_h: float

    @classmethod
    def of(cls, turns: float, *, r_ohm: float | None = None) -> HumCoil:
        """A coil of so many turns; its resistance goes with them where it was not measured."""
        part = turns / USUAL_TURNS
        return cls(part, USUAL_OHM * part if r_ohm is None else r_ohm, USUAL_HENRY * part**2)

    @property
    def electrics(self) -> CoilElectrics:
        """Its resistance and inductance alone."""
        return CoilElectrics(self.r_ohm, self.l_h)


def turns_of_ohm(r_ohm: float) -> float:
    """The turns of a coil of that resistance, if it has the usual wire and shape."""
    return USUAL_TURNS * r_ohm / USUAL_OHM


def hum_left_db(
    a: HumCoil,
    b: HumCoil,
    *,
    join: Literal["parallel", "series"],
    opposed: bool,
    hz: Sequence[float],
    load_ohm: float = LOAD_OHM,
) -> Array:
    """Level of both coils joined, in dB re the louder one alone, (lines,); not below ``LEAST_DB``.

    Exact for the network of the two into ``load_ohm``; own capacitances count for nothing at the mains lines.
    """
    coils = {1: a.electrics, 2: b.electrics}
    volts = {1: a.emf, 2: -b.emf if opposed else b.emf}
    both = Joined(join, (CoilPart(1), CoilPart(2)))
    return network_hum_left_db(both, coils, volts=volts, hz=hz, load_ohm=load_ohm)


def network_hum_left_db(
    circuit: Part,
    coils: Mapping[int, CoilElectrics],
    *,
    volts: Mapping[int, float],
    hz: Sequence[float],
    load_ohm: float = LOAD_OHM,
) -> Array:
    """Level of a circuit's hum in dB re its loudest coil alone, (lines,); not below ``LEAST_DB``.

    ``volts``: what the field induces in each coil, with the sign of its winding.
    """
    joined = output(circuit, coils, volts=volts, hz=hz, load_ohm=load_ohm)
    alone = [
        np.abs(output(CoilPart(k), coils, volts=volts, hz=hz, load_ohm=load_ohm)) for k in coils_in(circuit)
    ]
    left = 20 * np.log10(np.maximum(np.abs(joined), 1e-30) / np.max(alone, axis=0))
    return np.asarray(np.maximum(left, LEAST_DB))


def output(
    part: Part,
    coils: Mapping[int, CoilElectrics],
    *,
    volts: Mapping[int, float],
    hz: Sequence[float] | Array,
    load_ohm: float,
) -> NDArray[np.complex128]:
    """Voltage at the load, (lines,), for a signed voltage in each coil; one left out has none."""
    lines = np.asarray(hz, dtype=np.float64)
    pole = two_pole(part, coils, np.asarray(2j * math.pi * lines, dtype=np.complex128))
    open_volts = sum(
        (gain * volts.get(number, 0.0) for number, gain in pole.gains.items()), np.zeros(lines.size)
    )
    return np.asarray(open_volts * load_ohm / (pole.impedance + load_ohm), dtype=np.complex128)
