"""Pickups: where they stand under the string, and the flux that a moving string makes in each coil.

Task: string displacement in, electromotive force of each coil out.
Shapes: displacement (2, frames), first axis: towards the body, sideways; EMF (frames,).
Units: metres in the arrays, mm in the specs where a person would measure mm; volts.
Signs: THE convention of the whole simulator: a string (or a steel tool) that comes nearer to a pole gives
a positive voltage where ``s`` = +1, and one that leaves gives a negative one. Lenz's minus sign is taken
into the meaning of ``w``, since nothing claims an absolute "positive" (dsp.model.signs).
Sources: S3 (velocity and place); the falling-off of the flux is that of a monopole a little below the top
of the pole, and all its lengths are assumed.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from simulator.circuits import CoilElectrics

from dsp import SignalError
from dsp.model.network import Part
from dsp.model.signs import CoilSigns, Sign

Floats = NDArray[np.float64]
MOST_COILS = 4


@dataclass(frozen=True)
class CoilSpec:
    """One coil of a pickup."""

    signs: CoilSigns
    offset_mm: float = 0.0
    """From the pickup's centre along the string, towards the nut."""
    electrics: CoilElectrics = field(default_factory=CoilElectrics)
    hum_area: float = 1.0
    """Turns times area, relative to a usual coil (assumed near 1)."""
    balance: float = 1.0
    """Strength of this coil relative to the pickup's ``sensitivity`` (assumed near 1); 0: no magnet."""
    under: tuple[str, ...] | None = None
    """The strings that it lies under; None: all."""


@dataclass(frozen=True)
class PickupSpec:
    """One pickup: its coils in series, or as ``circuit`` says. Lengths other than the place are assumed."""

    name: str
    centre_mm: float
    """Bridge saddle to the pickup's centre."""
    coils: tuple[CoilSpec, ...]
    aperture_mm: float = 5.0
    """Standard deviation of the Gaussian window over the string that one coil senses."""
    distance_mm: float = 2.5
    """String to the top of the pole at rest."""
    pole_depth_mm: float = 2.5
    """The virtual monopole lies so far below the top of the pole."""
    sensitivity: float = 0.2
    """Volts per (m/s) towards the body, at rest over the centre of the pole (assumed: 0.1 to 0.4)."""
    tool_strength: float = 1.0
    """Flux that a tool makes here, relative to a usual pickup."""
    poles: tuple[Sign, ...] = ()
    """The magnet's sign under each string, low to high, against that of ``coils``; empty: alike."""
    circuit: Part | None = None
    """How its coils are joined, by their numbers from 1; None: in series."""
    one_row: bool = False
    """One row of poles goes through all coils, so that a tool on a pole is at each of them."""

    def __post_init__(self) -> None:
        if not 1 <= len(self.coils) <= MOST_COILS:
            raise SignalError(
                f"pickup {self.name!r} has {len(self.coils)} coils: one to {MOST_COILS} are known"
            )
        if self.distance_mm <= 0 or self.pole_depth_mm <= 0 or self.aperture_mm < 0:
            raise SignalError(f"pickup {self.name!r}: distances must be positive")

    @property
    def string_sign(self) -> int:
        """``s`` of the pickup: the sign of what its coils give together on the strings."""
        return 1 if sum(coil.signs.string * coil.balance for coil in self.coils) > 0 else -1


def under_string(pickup: PickupSpec, string: str, place: int) -> PickupSpec:
    """The pickup as one string has it: the pole under it, and no coil that does not lie under it.

    ``place``: of the string among all, low to high, from 0.
    """
    turned = bool(pickup.poles) and pickup.poles[place] < 0
    coils = tuple(
        replace(
            coil,
            signs=coil.signs.magnet_turned() if turned else coil.signs,
            balance=coil.balance if coil.under is None or string in coil.under else 0.0,
        )
        for coil in pickup.coils
    )
    return replace(pickup, coils=coils) if pickup.poles or coils != pickup.coils else pickup


def string_flux(pickup: PickupSpec, displacement: Floats, *, off_centre_mm: float = 0.0) -> Floats:
    """Flux (volt seconds, before the coil's sign and balance) while the string moves, 0 at rest.

    ``off_centre_mm``: how far the string lies to the side of the pole's centre, positive in the direction
    in which sideways displacement is positive. Off the centre, sideways motion is sensed too, with the
    sign of the offset turned over: outwards is away from the pole.
    """
    depth = pickup.pole_depth_mm * 1e-3
    height = pickup.distance_mm * 1e-3 + depth
    side = off_centre_mm * 1e-3
    lowest = 0.3 * depth
    above = np.maximum(height - displacement[0], lowest)
    scale = pickup.sensitivity * height**5 / 4.0
    resting = height**2 / (height**2 + side**2) ** 3
    squared = above**2
    moving = squared / (squared + (side + displacement[1]) ** 2) ** 3
    return np.asarray(scale * (moving - resting), dtype=np.float64)


def emf(flux: Floats, *, sign: int, rate: int) -> Floats:
    """Voltage of a coil: ``sign`` times the rise of flux per second, by the first difference.

    The sum of the result over ``rate`` is exactly the change of flux: signed areas are kept (sources P5).
    """
    return np.asarray(sign * rate * np.diff(flux, prepend=flux[:1]), dtype=np.float64)
