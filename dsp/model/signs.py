"""The sign convention, written once.

For each coil: ``w`` = +1 or -1, the electrical winding sense at its two leads as connected (hot to
tip); ``m`` = +1 or -1, the magnet pole that faces the strings; ``s = w * m``. Two coils are in phase
when their ``s`` agree, and hum cancels between them when their ``w`` differ. Only relations mean
anything: all ``s`` may turn over together, and all ``w``; nothing here is an absolute "positive".

Source of the table of sixteen pairs: "Assessing a Pickup's Polarity and Phase", Premier Guitar
(sources P1); that winding means the sense at the leads: "Mod Garage: get a grip on pickup phase",
Premier Guitar (sources P3).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Sign = Literal[-1, 1]


@dataclass(frozen=True)
class CoilSigns:
    """One coil as connected: winding sense ``w`` and magnet pole facing the strings ``m``."""

    winding: Sign
    magnet: Sign

    @property
    def string(self) -> int:
        """``s``: the sign with which a moving string or an unmagnetised tool comes out."""
        return self.winding * self.magnet

    def leads_exchanged(self) -> CoilSigns:
        """Hot and ground exchanged: turns ``w`` and with it ``s``."""
        return CoilSigns(opposite(self.winding), self.magnet)

    def magnet_turned(self) -> CoilSigns:
        """The magnet the other way up: turns ``m`` and with it ``s``, not ``w``."""
        return CoilSigns(self.winding, opposite(self.magnet))


def opposite(sign: Sign) -> Sign:
    """Return the other sign."""
    return -1 if sign == 1 else 1


def in_phase(a: CoilSigns, b: CoilSigns) -> bool:
    """Whether the two add on the strings."""
    return a.string == b.string


def hum_cancels(a: CoilSigns, b: CoilSigns) -> bool:
    """Whether an outside magnetic field cancels in the two together."""
    return a.winding != b.winding
