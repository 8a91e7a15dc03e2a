"""Pickups that are built otherwise than coil beside coil: a bench with one of its pickups made so.

Task: stacked coils, a dummy coil, three and four coils in rows, halves under their own strings, poles that
alternate, put in the place of a
pickup of a bench that was drawn. Units: none. Signs: as drawn, for the first coil of the pickup; what follows
from the construction is in dsp.model.pickups. Sources: common practice; the lower coil's share is drawn about
what is assumed there.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np
from simulator.pickups import CoilSpec, PickupSpec
from simulator.workbench import Bench

from dsp.model.network import circuit_from
from dsp.model.pickups import LOWER_HEARS
from dsp.model.signs import CoilSigns, opposite

ROW_MM = 12.0
"""From one row of poles to the next (assumed; a usual pickup of two coils has 18)."""
LOWER_SPREAD = 0.4
"""The lower coil's share is drawn evenly between so much less and so much more of what is usual (assumed)."""


def with_pickup(bench: Bench, made: PickupSpec) -> Bench:
    """The bench with one pickup made otherwise; it has the name of the one it is made of."""
    return replace(bench, pickups=tuple(made if p.name == made.name else p for p in bench.pickups))


def single(pickup: PickupSpec) -> PickupSpec:
    """A pickup of one coil."""
    return replace(pickup, coils=(replace(pickup.coils[0], offset_mm=0.0),))


def stacked(rng: np.random.Generator, pickup: PickupSpec, *, upper: Literal[1, 2] = 1) -> PickupSpec:
    """One coil above the other, one magnet through both, joined so that hum cancels."""
    near = replace(pickup.coils[0], offset_mm=0.0, balance=1.0)
    share = LOWER_HEARS * (1 + LOWER_SPREAD * rng.uniform(-1.0, 1.0))
    far = replace(near, signs=CoilSigns(opposite(near.signs.winding), near.signs.magnet), balance=share)
    return replace(pickup, coils=(near, far) if upper == 1 else (far, near), one_row=True)


def dummy(pickup: PickupSpec) -> PickupSpec:
    """A coil that hears hum alone."""
    return replace(pickup, coils=(replace(pickup.coils[0], offset_mm=0.0, balance=0.0),), tool_strength=0.0)


def halves(
    pickup: PickupSpec, under: tuple[tuple[str, ...], tuple[str, ...]], *, joined_wrong: bool = False
) -> PickupSpec:
    """Two coils, each under its own strings, opposite to each other; ``joined_wrong``: one exchanged."""
    first = replace(pickup.coils[0], offset_mm=0.0, under=under[0])
    turned = CoilSigns(opposite(first.signs.winding), opposite(first.signs.magnet))
    second = replace(first, signs=turned.leads_exchanged() if joined_wrong else turned, under=under[1])
    return replace(pickup, coils=(first, second))


def in_rows(
    rng: np.random.Generator, pickup: PickupSpec, count: int, *, circuit: str | None = None
) -> PickupSpec:
    """Coils in rows, 12 mm apart, each second one wound and magnetised the other way."""
    first = pickup.coils[0]
    turned = CoilSigns(opposite(first.signs.winding), opposite(first.signs.magnet))
    coils = tuple(
        replace(
            first,
            signs=turned if k % 2 else first.signs,
            offset_mm=ROW_MM * (k - (count - 1) / 2),
            balance=0.6 * rng.uniform(0.9, 1.1),
            hum_area=first.hum_area * rng.uniform(0.95, 1.05),
            electrics=replace(first.electrics, r_ohm=rng.uniform(3500, 4500), l_h=rng.uniform(1.8, 3.0)),
        )
        for k in range(count)
    )
    return replace(pickup, coils=coils, circuit=None if circuit is None else circuit_from(circuit))


def alternating(pickup: PickupSpec, strings: int) -> PickupSpec:
    """Magnets that face up and down by turns along the strings."""
    one: CoilSpec = replace(pickup.coils[0], offset_mm=0.0)
    return replace(pickup, coils=(one,), poles=tuple(1 if k % 2 == 0 else -1 for k in range(strings)))
