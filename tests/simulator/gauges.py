"""String sets: pitch, core and mass of the strings of a guitar and of a bass.

Task: a named string as a `StringSpec` for a given scale. Further sets: seven and eight strings, a baritone's
six, a bass with five, a lap steel's (an open chord). Shapes: none. Units: mm and g/m in the tables.
Signs: none. Sources: pitches S5; stiffness S6; the gauges of plain strings are those named under S6, the
cores and masses of the others are assumed, in the range of common sets.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from simulator.strings import StringSpec, stiffness, tension_for

from dsp import SignalError

A4_HZ = 440.0


@dataclass(frozen=True)
class Gauge:
    """One string of a set."""

    name: str
    semitones: int
    """From A4, equal temperament (sources S5)."""
    core_mm: float
    """Thickness of the steel that bends: the whole of a plain string, the core of a wound one."""
    mass_g_per_m: float

    @property
    def hz(self) -> float:
        """Pitch of the open string."""
        return A4_HZ * math.pow(2.0, self.semitones / 12.0)


GUITAR = (
    Gauge("E2", -29, 0.46, 6.8),
    Gauge("A2", -24, 0.42, 4.1),
    Gauge("D3", -19, 0.38, 2.2),
    Gauge("G3", -14, 0.432, 1.15),
    Gauge("B3", -10, 0.330, 0.671),
    Gauge("E4", -5, 0.254, 0.398),
)
BASS = (
    Gauge("E1", -41, 0.90, 35.0),
    Gauge("A1", -36, 0.70, 19.5),
    Gauge("D2", -31, 0.60, 11.0),
    Gauge("G2", -26, 0.50, 6.0),
)

SEVEN = (Gauge("B1", -34, 0.50, 11.5), *GUITAR)
EIGHT = (Gauge("F#1", -39, 0.56, 19.0), *SEVEN)
BARITONE = (
    Gauge("B1", -34, 0.50, 10.5),
    Gauge("E2", -29, 0.46, 6.3),
    Gauge("A2", -24, 0.42, 3.9),
    Gauge("D3", -19, 0.38, 2.1),
    Gauge("F#3", -15, 0.43, 1.15),
    Gauge("B3", -10, 0.35, 0.76),
)
FIVE = (Gauge("B0", -46, 1.00, 62.0), *BASS)
LAP_STEEL = (
    Gauge("C3", -21, 0.40, 3.1),
    Gauge("E3", -17, 0.38, 2.0),
    Gauge("G3", -14, 0.432, 1.15),
    Gauge("A3", -12, 0.38, 0.89),
    Gauge("C4", -9, 0.33, 0.671),
    Gauge("E4", -5, 0.28, 0.483),
)


def gauge(name: str, gauges: tuple[Gauge, ...] = GUITAR) -> Gauge:
    """Return the string called ``name``."""
    for one in gauges:
        if one.name == name:
            return one
    raise SignalError(f"no string {name!r} in this set: it has {', '.join(one.name for one in gauges)}")


def open_string(one: Gauge, *, length_m: float, cents: float = 0.0) -> StringSpec:
    """Stretch a string over a scale, ``cents`` off pitch, with the stiffness that follows."""
    f0 = one.hz * 2.0 ** (cents / 1200.0)
    tension = tension_for(f0, length_m=length_m, mass_kg_per_m=one.mass_g_per_m * 1e-3)
    bending = stiffness(core_m=one.core_mm * 1e-3, tension_n=tension, length_m=length_m)
    return StringSpec(name=one.name, f0_hz=f0, length_m=length_m, stiffness=bending)
