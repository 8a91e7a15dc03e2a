"""The sign of a place on the string, harmonic by harmonic.

Task: two pickups that are in phase rightly oppose each other on the harmonics that have a node between
them; this says which harmonics may vote, with which sign, and how surely. Shapes: scalars. Units:
places in mm from the bridge, sounding length in mm. Signs: sin(n pi x_a / L) sin(n pi x_b / L).

Source: S3 and S4 of the sources: J. D. Tillman, "Response Effects of Guitar Pickup Mixing", till.com.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

TOLERANCE_MM = 5.0
"""How far a measured centre may be off, one standard deviation (assumed)."""
NECK_FRACTION = 0.26
"""Where no places are known, every pickup is taken to lie within this part of the open string."""
UNKNOWN_HARMONICS = 3
CLEAR_OF_NODE = 0.85
KNOWN_HARMONICS = 8


@dataclass(frozen=True)
class Place:
    """Where a pickup sits under a sounding string; ``centre_mm`` or ``length_mm`` None: not known."""

    centre_mm: float | None = None
    length_mm: float | None = None


@dataclass(frozen=True)
class HarmonicSign:
    """The sign two pickups in phase have to each other on one harmonic, and how sure it is (0 to 1)."""

    sign: int
    certainty: float


def place_factor(n: int, *, centre_mm: float, length_mm: float) -> float:
    """sin(n pi x / L): what harmonic ``n`` moves at the place, relative to its antinode."""
    return math.sin(n * math.pi * centre_mm / length_mm)


def harmonic_sign(n: int, a: Place, b: Place, *, fret: int = 0) -> HarmonicSign:
    """Sign of harmonic ``n`` between pickups ``a`` and ``b``.

    With both places known, the sign of the product and the chance that neither place is on the other
    side of a node, given ``TOLERANCE_MM``. Otherwise only the harmonics that have no node up to a
    quarter of the open string vote; ``fret`` shortens the string under them.
    """
    if a.centre_mm is None or b.centre_mm is None or a.length_mm is None or b.length_mm is None:
        furthest = n * NECK_FRACTION * 2 ** (fret / 12)
        if n > UNKNOWN_HARMONICS or furthest >= CLEAR_OF_NODE:
            return HarmonicSign(1, 0.0)
        return HarmonicSign(1, 1.0)
    if n > KNOWN_HARMONICS:
        return HarmonicSign(1, 0.0)
    product = place_factor(n, centre_mm=a.centre_mm, length_mm=a.length_mm) * place_factor(
        n, centre_mm=b.centre_mm, length_mm=b.length_mm
    )
    certainty = _clear(n, a.centre_mm, a.length_mm) * _clear(n, b.centre_mm, b.length_mm)
    return HarmonicSign(1 if product >= 0 else -1, certainty)


def _clear(n: int, centre_mm: float, length_mm: float) -> float:
    """How surely a place lies on its side of the nearest node; the bridge itself is no node to cross."""
    spacing = length_mm / n
    nearest = max(1, round(centre_mm / spacing))
    return math.erf(abs(centre_mm - nearest * spacing) / (TOLERANCE_MM * math.sqrt(2)))
