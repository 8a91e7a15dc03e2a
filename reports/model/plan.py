"""What the wiring plan is made of: coils with signs, work at pickups with its cost, demands of settings.

Signs as in dsp/model/signs.py: exchanging leads turns ``s`` and ``w`` of every coil between them, turning the
magnet turns ``s`` alone; ``w`` is comparable within one ``w_group`` only. Coil 1 of two is the one that hot
belonged to in job.toml. A split keeps the coil on the hot side, so exchanging hot and ground of the whole
pickup leaves the OTHER coil there; exchanging one coil's leads does not.

Costs have no unit: 1 is exchanging the two leads of a pickup that lies on the bench. All are multiples of one
half, so that sums of equal work are exactly equal and plans of the same cost are found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from capture.job import Aim, Pickup

EXCHANGE_LOOSE = 1.0
"""Not soldered in yet: the leads only go to other places."""
EXCHANGE_FITTED = 3.0
"""A fitted pickup has to be unsoldered first."""
COIL_ALONE_EXTRA = 1.0
"""One coil's leads alone: the link between the coils has to be opened and insulated again."""
SEPARATE_SHIELD = 1.0
"""A shield or cover joined to a lead is separated first, and gets a ground of its own."""
BRAID_OPENED = 20.0
"""Two leads of which the braid is one: the pickup is opened and its coil taken off the braid, which costs
more, and risks more, than exchanging every other pickup of a guitar or turning a magnet."""
TURN_MAGNET = 5.0
"""The pickup is taken apart, and a magnet may break."""
REFERENCE_EXTRA = 0.5
"""Of two equal plans the one that leaves the reference alone."""

PLUS, MINUS, MIXED = 1, 2, 3
"""Which signs of ``s`` a sum holds, as bits; two for each kind of string, the first kind's lowest."""
BITS = 2

CoilKey = tuple[str, int]
"""A coil by the name of its pickup and its number, 1 or 2."""


@dataclass(frozen=True)
class Coil:
    """One coil with its signs as connected; ``number`` is 1 or 2.

    ``over``: the sign of its pole under each kind of string of the job (`capture.job.Job.string_kinds`), 0
    where it hears none; ``weak``: it hears so little that the other coil decides, where that is on.
    """

    number: int
    s: int
    w: int
    w_group: str
    over: tuple[int, ...] = (1,)
    weak: bool = False


@dataclass(frozen=True)
class PickupWork:
    """Work at one pickup: hot and ground exchanged, single coils' leads exchanged, the magnet turned."""

    exchange: bool = False
    coils: tuple[int, ...] = ()
    magnet: bool = False
    cost: float = 0.0

    @property
    def nothing(self) -> bool:
        """Whether the pickup stays as it is."""
        return not (self.exchange or self.coils or self.magnet)

    @property
    def turns_strings(self) -> bool:
        """Whether ``s`` of the whole pickup comes out negated."""
        each_coil = len(self.coils) > 1
        return (self.exchange + self.magnet + each_coil) % 2 == 1


NO_WORK = PickupWork()

WiringWork = tuple[PickupWork, ...]
"""The work at every pickup, in the order of the job."""


@dataclass(frozen=True)
class PickupOptions:
    """A pickup with the work that is possible at it; ``swapped``: hot and ground exchanged since job.toml."""

    name: str
    coils: tuple[Coil, ...]
    options: tuple[PickupWork, ...]
    swapped: bool = False


@dataclass(frozen=True)
class DemandMember:
    """A member of a setting: the pickup by its number in the job, whole or one coil of it.

    ``weight``: what each coil of it counts in the sum of a mixed network; None where all are joined one way.
    """

    pickup: int
    coil: int | None = None
    reversed: bool = False
    weight: int | None = None


@dataclass(frozen=True)
class Demand:
    """What one setting is to do; ``aim`` None where a single coil leaves nothing to add up."""

    name: str
    members: tuple[DemandMember, ...]
    aim: Aim | None = "in phase"
    quiet: bool = False
    series: bool = False


def ground_is_braid(pickup: Pickup) -> bool:
    """Whether the pickup has two leads of which the ground is the shield as well."""
    return pickup.shield == "on ground" and pickup.link is None


def coils_after(pickup: PickupOptions, member: DemandMember, work: PickupWork) -> tuple[Coil, ...]:
    """The coils that a setting holds of a pickup after the work, with their signs then."""
    held = pickup.coils
    if member.coil is not None and len(held) > 1:
        other = pickup.swapped != work.exchange
        held = (held[len(held) - member.coil if other else member.coil - 1],)
    result = []
    for coil in held:
        leads_turned = (work.exchange + (coil.number in work.coils) + member.reversed) % 2 == 1
        w = -coil.w if leads_turned else coil.w
        s = -coil.s if leads_turned != work.magnet else coil.s
        drowned = coil.weak and len(held) > 1
        over = (0,) * len(coil.over) if drowned else coil.over
        result.append(Coil(coil.number, s, w, coil.w_group, over))
    return tuple(result)


def string_signs(coils: Sequence[Coil]) -> int:
    """The signs of ``s`` among coils as bits: PLUS, MINUS, MIXED, or 0 for none, for each kind of string."""
    bits = 0
    for coil in coils:
        for kind, pole in enumerate(coil.over):
            if pole:
                bits |= (PLUS if coil.s * pole > 0 else MINUS) << (BITS * kind)
    return bits


def signs_by_kind(signs: int) -> list[int]:
    """The bits of each kind of string that is heard at all."""
    each = []
    while signs:
        each += [signs & MIXED] if signs & MIXED else []
        signs >>= BITS
    return each


def any_mixed(signs: int) -> bool:
    """Whether coils oppose each other under any kind of string."""
    return MIXED in signs_by_kind(signs)


def hum_by_group(coils: Sequence[Coil], *, series: bool, weight: int | None = None) -> dict[str, int]:
    """The hum that a member adds, by group of windings, in halves of one coil, or as ``weight`` says.

    In parallel a whole pickup of two coils adds the mean of both, as it comes with twice the impedance.
    """
    if weight is None:
        weight = 2 if series or len(coils) == 1 else 1
    sums: dict[str, int] = {}
    for coil in coils:
        sums[coil.w_group] = sums.get(coil.w_group, 0) + weight * coil.w
    return sums


def aim_met(signs: int, aim: Aim | None) -> bool:
    """Whether the signs of ``s`` in a setting, as bits, are what its aim wants."""
    if aim is None:
        return True
    return all((one != MIXED) == (aim == "in phase") for one in signs_by_kind(signs))


def hum_cancels(sums: Sequence[int]) -> bool | None:
    """Whether hum cancels, from its sum in each group; None where the unknown signs between groups decide."""
    parts = [abs(x) for x in sums if x]
    reachable = {0}
    for part in parts:
        reachable = {total + signed for total in reachable for signed in (part, -part)}
    if 0 not in reachable:
        return False
    return None if parts else True


def outcome(pickups: Sequence[PickupOptions], demand: Demand, plan: WiringWork) -> tuple[bool, bool | None]:
    """Whether a plan meets a demand's aim, and whether hum cancels then (None: not known)."""
    signs = 0
    sums: dict[str, int] = {}
    for member in demand.members:
        coils = coils_after(pickups[member.pickup], member, plan[member.pickup])
        signs |= string_signs(coils)
        for group, hum in hum_by_group(coils, series=demand.series, weight=member.weight).items():
            sums[group] = sums.get(group, 0) + hum
    return aim_met(signs, demand.aim), hum_cancels(tuple(sums.values()))
