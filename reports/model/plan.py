"""What each piece of work at the bench costs the plan: stated once, each with its reason.

Task: rank plans. Units: none; 1 is the work of exchanging the two leads of a pickup that lies on the bench.
All are multiples of one half, so that sums of equal work are exactly equal and ties are found. Signs: none.

What the search works on: coils with their signs, choices of work, and demands on sums of coils.

Task: what each choice of work makes of the coils that a setting holds. Signs as in dsp/model/signs.py:
exchanging leads turns ``s`` and ``w`` of every coil between them, turning the magnet turns ``s`` alone. ``w``
means something within its ``w_group`` only. Coil 1 of two is the one that hot belonged to in job.toml.

A split leaves the coil on the hot side. So exchanging hot and ground of the whole pickup leaves the OTHER
coil there; exchanging a coil's leads alone does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from capture.job import Aim

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
"""Which signs of ``s`` a sum holds, as bits."""


@dataclass(frozen=True)
class Coil:
    """One coil with its signs as connected; ``number`` is 1 or 2."""

    number: int
    s: int
    w: int
    w_group: str


@dataclass(frozen=True)
class WorkChoice:
    """Work at one pickup: hot and ground, single coils' leads, the magnet."""

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
        """Whether ``s`` of the whole pickup comes out turned over."""
        each_coil = len(self.coils) > 1
        return (self.exchange + self.magnet + each_coil) % 2 == 1


LEAVE = WorkChoice()


@dataclass(frozen=True)
class WorkPlace:
    """A pickup in the plan; ``swapped``: hot and ground stand the other way round than in job.toml."""

    name: str
    coils: tuple[Coil, ...]
    choices: tuple[WorkChoice, ...]
    swapped: bool = False


@dataclass(frozen=True)
class Share:
    """A member of a setting: the place by number, whole or one coil of it."""

    place: int
    coil: int | None = None
    reversed: bool = False


@dataclass(frozen=True)
class Demand:
    """What one setting is to do; ``aim`` None where a single coil leaves nothing to add up."""

    name: str
    shares: tuple[Share, ...]
    aim: Aim | None = "in phase"
    quiet: bool = False
    series: bool = False


WiringChoices = tuple[WorkChoice, ...]
"""One choice for each place, in order."""


def coils_after(place: WorkPlace, share: Share, choice: WorkChoice) -> tuple[Coil, ...]:
    """The coils that a setting holds of a place once the choice is carried out, with their signs then."""
    held = place.coils
    if share.coil is not None and len(held) > 1:
        other = place.swapped != choice.exchange
        held = (held[2 - share.coil if other else share.coil - 1],)
    turned = []
    for coil in held:
        leads = (choice.exchange + (coil.number in choice.coils) + share.reversed) % 2 == 1
        strings = leads != choice.magnet
        turned.append(
            Coil(
                coil.number,
                -coil.s if strings else coil.s,
                -coil.w if leads else coil.w,
                coil.w_group,
            )
        )
    return tuple(turned)


def signs_held(coils: Sequence[Coil]) -> int:
    """Bits of the signs of ``s`` among coils: PLUS, MINUS, MIXED, or 0 for none."""
    held = 0
    for coil in coils:
        held |= PLUS if coil.s > 0 else MINUS
    return held


def hum_of_share(coils: Sequence[Coil], *, series: bool) -> dict[str, int]:
    """Hum that a member adds, by group of windings, in halves of one coil.

    In parallel a whole pickup of two coils adds the mean of both, as it comes with twice the impedance.
    """
    weight = 2 if series or len(coils) == 1 else 1
    sums: dict[str, int] = {}
    for coil in coils:
        sums[coil.w_group] = sums.get(coil.w_group, 0) + weight * coil.w
    return sums


def aim_met(held: int, aim: Aim | None) -> bool:
    """Whether the signs held by a setting are what its aim wants."""
    return aim is None or (held != MIXED) == (aim == "in phase")


def hum_cancels(sums: Sequence[int]) -> bool | None:
    """Whether hum cancels; each sum may turn over against the others, so None where that decides."""
    parts = [abs(x) for x in sums if x]
    reachable = {0}
    for part in parts:
        reachable = {r + turned for r in reachable for turned in (part, -part)}
    if 0 not in reachable:
        return False
    return None if parts else True


def outcome(places: Sequence[WorkPlace], demand: Demand, plan: WiringChoices) -> tuple[bool, bool | None]:
    """Whether a plan meets a demand's aim, and whether hum cancels then (None: not known)."""
    held = 0
    sums: dict[str, int] = {}
    for share in demand.shares:
        coils = coils_after(places[share.place], share, plan[share.place])
        held |= signs_held(coils)
        for group, hum in hum_of_share(coils, series=demand.series).items():
            sums[group] = sums.get(group, 0) + hum
    return aim_met(held, demand.aim), hum_cancels(tuple(sums.values()))
