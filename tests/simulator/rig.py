"""A guitar's wiring and what stands behind it: from the flux in every coil to a recorded take.

Task: settings of the selector, and everything about a take that is not the gesture.
Shapes: flux (frames,) a coil in, volts or full scale (frames, settings) out. Units: seconds, volts, Hz.
Signs: flux rises as a string or tool comes nearer (simulator.pickups); each coil's sign is passed with it.
Sources: hum in the coils and past them: P1, P2; the rest is common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from simulator.circuits import Branch, Join, LoadSpec, PotSpec, jack_voltage
from simulator.hum import MainsClock, MainsSpec, capacitive_hum, field_hum
from simulator.interfaces import InterfaceSpec, record
from simulator.pickups import CoilSpec, PickupSpec, emf

from dsp import SignalError
from dsp.model.network import CoilPart, Joined, Part, turned

Floats = NDArray[np.float64]

RATE = 48000
"""Frames a second where nothing else is asked for."""
LOWEST_RATE = 1000
"""Below this too few modes of a string would be left."""
LEAD_IN_S = 0.4
"""Quiet before the first gesture."""
RINGING_S = 1.2
"""What is recorded after the last gesture."""
PREROLL_S = 0.1
"""Simulated before the take and dropped, so that filters have settled on the hum."""


@dataclass(frozen=True)
class Member:
    """A pickup in a setting: all of it, or the coil 1 or 2 that a split leaves."""

    pickup: PickupSpec
    off_centre_mm: float = 0.0
    """How far the string played lies to the side of this pickup's poles."""
    coil: Literal[1, 2] | None = None
    reversed: bool = False
    pot: PotSpec | None = None
    """A volume of its own; None: none."""

    @property
    def coils(self) -> tuple[CoilSpec, ...]:
        """The coils that sound."""
        if self.coil is None:
            return self.pickup.coils
        if self.coil > len(self.pickup.coils):
            raise SignalError(f"pickup {self.pickup.name!r} has no coil {self.coil}")
        return (self.pickup.coils[self.coil - 1],)

    def part(self, before: int) -> Part:
        """Its coils as they are joined, where ``before`` coils of other members come first."""
        inside: Part = Joined("series", tuple(CoilPart(k) for k in range(1, len(self.coils) + 1)))
        if self.pickup.circuit is not None and self.coil is None:
            inside = self.pickup.circuit
        placed = counted_on(inside, before)
        return turned(placed) if self.reversed else placed

    @property
    def branch(self) -> Branch:
        """Its place in the circuit."""
        return Branch(tuple(coil.electrics for coil in self.coils), reversed=self.reversed, pot=self.pot)


def counted_on(part: Part, before: int) -> Part:
    """A circuit whose coils have numbers that are higher by ``before``."""
    if isinstance(part, CoilPart):
        return replace(part, number=part.number + before)
    if isinstance(part, Joined):
        return Joined(part.join, tuple(counted_on(one, before) for one in part.parts))
    return part


@dataclass(frozen=True)
class SettingSpec:
    """What one position of the selector puts on the jack."""

    members: tuple[Member, ...]
    join: Join = "parallel"
    groups: tuple[int | None, ...] = ()
    """For each member the group that it is in, whose members are joined the other way; empty: none."""

    @property
    def network(self) -> Part | None:
        """How all its coils are joined, counted through the members; None: nothing is out of the ordinary."""
        groups = self.groups or (None,) * len(self.members)
        if set(groups) == {None} and not any(m.pickup.circuit and m.coil is None for m in self.members):
            return None
        inner: Join = "series" if self.join == "parallel" else "parallel"
        before, outer = 0, {}
        for place, (member, group) in enumerate(zip(self.members, groups, strict=True)):
            outer.setdefault(("alone", place) if group is None else ("group", group), []).append(
                member.part(before)
            )
            before += len(member.coils)
        parts = tuple(Joined(inner, tuple(each)) for each in outer.values())
        return Joined(self.join, parts)


@dataclass(frozen=True)
class Surroundings:
    """Everything about a take that is not the gesture."""

    interface: InterfaceSpec = field(default_factory=InterfaceSpec)
    mains: MainsSpec = field(default_factory=MainsSpec)
    load: LoadSpec = field(default_factory=LoadSpec)
    rate: int = RATE
    lead_in_s: float = LEAD_IN_S
    ringing_s: float = RINGING_S

    def frames_until(self, last_s: float) -> int:
        """Frames of a simulation whose last gesture lies at ``last_s`` from its beginning."""
        return round((last_s + self.ringing_s) * self.rate)

    def __post_init__(self) -> None:
        if self.rate < LOWEST_RATE or self.lead_in_s < 0 or self.ringing_s <= 0:
            raise SignalError(f"take: a rate of {LOWEST_RATE} or more, a lead-in not negative, some ringing")


def jacks(
    settings: tuple[SettingSpec, ...],
    fluxes: Sequence[Floats],
    signs: Sequence[int],
    around: Surroundings,
    *,
    clock: MainsClock,
    frames: int,
) -> Floats:
    """Volts at each jack from the flux of every coil in turn, with both kinds of hum."""
    angle = clock.angle(frames, rate=around.rate)
    outside = field_hum(around.mains, angle)
    stray = capacitive_hum(around.mains, angle)
    volts = np.empty((frames, len(settings)))
    at = 0
    for column, setting in enumerate(settings):
        nested = []
        for member in setting.members:
            emfs = []
            for coil in member.coils:
                hum = coil.signs.winding * coil.hum_area * outside
                emfs.append(emf(fluxes[at], sign=signs[at], rate=around.rate) + hum)
                at += 1
            nested.append(emfs)
        branches = [member.branch for member in setting.members]
        jack = jack_voltage(
            nested,
            branches,
            around.load,
            join=setting.join,
            rate=around.rate,
            network=setting.network,
        )
        volts[:, column] = jack + stray
    return volts


def recorded(rng: np.random.Generator, volts: Floats, around: Surroundings) -> Floats:
    """Through the interface, without the preroll."""
    whole = record(rng, volts, around.interface, rate=around.rate)
    return whole[round(PREROLL_S * around.rate) :]
