"""From a job and what is believed of it to what the search works on.

Task: a place for every pickup with the work that can be done there and its cost; a demand for every setting.
Signs: as in model.py; a coil of which nothing was heard alone has the ``s`` of its pickup, and the two coils
of a pickup are wound opposite to each other.
"""

from __future__ import annotations

from collections.abc import Collection
from itertools import chain, combinations

from capture.job import Job, Member, Pickup, Setting
from reports.planning import costs
from reports.planning.limits import braid_is_ground
from reports.planning.model import LEAVE, Choice, Coil, Demand, Place, Share
from reports.planning.signs_now import SignsNow
from reports.wires import Wires

ALL_TOGETHER = "all pickups together"


def planned_settings(job: Job) -> list[Setting]:
    """Every listed setting; with none listed, all pickups are to be in phase."""
    if job.settings:
        return list(job.settings)
    members = tuple(Member(pickup=p.name) for p in job.pickups)
    return [Setting(name=ALL_TOGETHER, on=members)] if len(members) > 1 else []


def place_for(pickup: Pickup, job: Job, wires: Wires, signs: SignsNow, *, known: bool) -> Place:
    """A pickup with its coils as they are now; nothing is done at one whose signs are not ``known``."""
    now = wires.leads_now(pickup.name)
    choices = _choices(pickup, job, wires) if known else (LEAVE,)
    return Place(pickup.name, _coils(pickup, signs), choices, swapped=now.turned)


def demand_for(setting: Setting, job: Job) -> Demand:
    """What a setting asks for; where one coil is alone in it, nothing has to add up."""
    numbers = {p.name: k for k, p in enumerate(job.pickups)}
    shares = []
    coils = 0
    for m in setting.on:
        two = job.pickups[numbers[m.pickup]].coils > 1
        shares.append(Share(numbers[m.pickup], m.coil if two else None, m.reversed))
        coils += 2 if two and m.coil is None else 1
    one_pickup = len({m.pickup for m in setting.on}) == 1
    aimless = coils == 1 or (one_pickup and len(setting.on) == 1 and setting.aim == "out of phase")
    return Demand(
        setting.name,
        tuple(shares),
        aim=None if aimless else setting.aim,
        quiet=setting.quiet,
        series=setting.join == "series",
    )


def can_exchange_coils(pickup: Pickup, wires: Wires) -> bool:
    """Whether all four leads of a pickup of two coils are known, so that one coil's can be exchanged."""
    now = wires.leads_now(pickup.name)
    return pickup.coils > 1 and None not in (now.hot, now.ground, now.link)


def _coils(pickup: Pickup, signs: SignsNow) -> tuple[Coil, ...]:
    name = pickup.name
    whole = signs.s[name] or 1
    if pickup.coils == 1:
        w = signs.w[name]
        return (Coil(1, whole, w or 1, f"pickup {name}" if w is None else f"group {signs.group[name]}"),)
    first, second = signs.coil_w.get((name, 1)), signs.coil_w.get((name, 2))
    heard = first is not None or second is not None
    if first is None:
        first = 1 if second is None else -second
    if second is None:
        second = -first
    group = f"group {signs.group[name]}" if heard else f"pickup {name}"
    return tuple(Coil(k, signs.coil_s.get((name, k), whole), w, group) for k, w in ((1, first), (2, second)))


def _choices(pickup: Pickup, job: Job, wires: Wires) -> tuple[Choice, ...]:
    alone: Collection[tuple[int, ...]] = ((),)
    if can_exchange_coils(pickup, wires):
        alone = tuple(chain.from_iterable(combinations((1, 2), n) for n in range(3)))
    turns = (False, True) if pickup.turnable else (False,)
    return tuple(
        Choice(exchange, coils, magnet, _cost(pickup, job, exchange=exchange, coils=coils, magnet=magnet))
        for magnet in turns
        for coils in alone
        for exchange in (False, True)
    )


def _cost(pickup: Pickup, job: Job, *, exchange: bool, coils: tuple[int, ...], magnet: bool) -> float:
    each = costs.EXCHANGE_FITTED if pickup.fitted else costs.EXCHANGE_LOOSE
    cost = each * exchange + (each + costs.COIL_ALONE_EXTRA) * len(coils) + costs.TURN_MAGNET * magnet
    if exchange or coils:
        cost += costs.REFERENCE_EXTRA if pickup.name == job.reference.name else 0.0
        if braid_is_ground(pickup):
            cost += costs.BRAID_OPENED
        elif pickup.shield == "on ground":
            cost += costs.SEPARATE_SHIELD
    return cost
