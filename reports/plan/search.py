"""The signs that a plan starts from: what is at least likely of every pickup, and of its coils where heard.

Task: from belief to signs. Signs: ``s`` and ``w`` (dsp/model/signs.py) as the guitar is wired now, relative
to the first pickup of each group that evidence connects; None where a winding is not at least likely. Of a
pickup of two coils ``w`` means nothing as a whole: its coils are wound opposite to each other.

From a job and what is believed of it to what the search works on.

Task: a place for every pickup with the work that can be done there and its cost; a demand for every setting.
Signs: as in model.py; a coil of which nothing was heard alone has the ``s`` of its pickup, and the two coils
of a pickup are wound opposite to each other.

The exact search: of all plans those that miss the fewest aims, then the fewest hums, then cost least.

Task: from places with their choices and demands on them to the best plans. It walks pickup by pickup and
keeps, of all ways that leave every setting in the same state, the best (and those as good); what a setting
that is complete missed is counted. Nothing is left out: two ways in the same state have the same future.
Units: costs as in costs.py. Signs: as in model.py.

Which aims cannot be met together: a smallest set of them.

Task: from demands that no plan meets to the fewest of them that no plan meets. Exact: sets are tried by
size, and those that a plan already found meets are passed over. Signs: as in model.py.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, combinations

from capture.job import Job, Member, Pickup, Setting
from reports.evidence.leads import LeadHistory
from reports.inference.posterior import Posterior
from reports.messages.leads import braid_is_ground
from reports.model import plan as costs
from reports.model.plan import (
    LEAVE,
    MIXED,
    Coil,
    Demand,
    Share,
    WiringChoices,
    WorkChoice,
    WorkPlace,
    aim_met,
    coils_after,
    hum_cancels,
    hum_of_share,
    outcome,
    signs_held,
)
from reports.model.verdict import likely_sign

CoilKey = tuple[str, int]


@dataclass(frozen=True)
class SignsNow:
    """What is believed: ``s`` and ``w`` relative to the first pickup of the ``group``.

    Between groups nothing is known; None where a winding is not at least likely. ``coil_s`` and ``coil_w``
    are what was heard of single coils (pickup, number); what is left out follows from the pickup.
    """

    s: Mapping[str, int | None]
    w: Mapping[str, int | None]
    group: Mapping[str, str]
    coil_s: Mapping[CoilKey, int] = field(default_factory=dict)
    coil_w: Mapping[CoilKey, int] = field(default_factory=dict)

    def not_joined(self, settings: Sequence[Setting], *, reference: str) -> set[str]:
        """Pickups that share a setting with one of another group, those of the reference's group left out."""
        return {
            m.pickup
            for setting in settings
            if len({self.group[m.pickup] for m in setting.on}) > 1
            for m in setting.on
            if self.group[m.pickup] != self.group[reference]
        }


def signs_now(job: Job, posterior: Posterior) -> SignsNow:
    """Signs relative to the first pickup of each group that evidence connects, the reference's first.

    Windings are relative to the first coil of each group that stands alone somewhere: a pickup of one coil,
    or a coil that a setting splits.
    """
    reference = job.reference.name
    s: dict[str, int | None] = {}
    group: dict[str, str] = {}
    for name in (reference, *(p.name for p in job.pickups if p.name != reference)):
        s[name], group[name] = 1, name
        for first in (n for n in group if group[n] == n and n != name):
            leaning = likely_sign(posterior.in_phase(first, name))
            if leaning is not None:
                s[name], group[name] = leaning, first
                break
    coil_s: dict[CoilKey, int] = {}
    for name, number in _split_coils(job):
        if likely_sign(posterior.all_agree([(name, None, False), (name, number, False)])) == -1:
            coil_s[name, number] = -(s[name] or 1)
    w: dict[str, int | None] = dict.fromkeys(s)
    coil_w: dict[CoilKey, int] = {}
    for (name, coil), winding in _windings(job, posterior, group).items():
        if coil is None:
            w[name] = winding
        else:
            coil_w[name, coil] = winding
    return SignsNow(s, w, group, coil_s, coil_w)


def _windings(job: Job, posterior: Posterior, group: Mapping[str, str]) -> dict[tuple[str, int | None], int]:
    """The winding of every coil that stands alone, relative to the first such one of its group."""
    split = _split_coils(job)
    single = {p.name for p in job.pickups if p.coils == 1}
    alone: dict[str, list[tuple[str, int | None]]] = {}
    for name, first in group.items():
        coils: list[tuple[str, int | None]] = [(name, None)] if name in single else []
        alone.setdefault(first, []).extend([*coils, *(c for c in split if c[0] == name)])
    found: dict[tuple[str, int | None], int] = {}
    for base, *others in (coils for coils in alone.values() if coils):
        found[base] = 1
        for coil in others:
            cancels = posterior.all_cancel([(*base, False), (*coil, False)])
            winding = None if cancels is None else likely_sign(1 - cancels)
            if winding is not None:
                found[coil] = winding
    return found


def _split_coils(job: Job) -> tuple[CoilKey, ...]:
    """The coils that a setting holds alone."""
    two = {p.name for p in job.pickups if p.coils > 1}
    return tuple(
        dict.fromkeys(
            (m.pickup, m.coil) for s in job.settings for m in s.on if m.coil is not None and m.pickup in two
        )
    )


ALL_TOGETHER = "all pickups together"


def planned_settings(job: Job) -> list[Setting]:
    """Every listed setting; with none listed, all pickups are to be in phase."""
    if job.settings:
        return list(job.settings)
    members = tuple(Member(pickup=p.name) for p in job.pickups)
    return [Setting(name=ALL_TOGETHER, on=members)] if len(members) > 1 else []


def place_for(pickup: Pickup, job: Job, history: LeadHistory, signs: SignsNow, *, known: bool) -> WorkPlace:
    """A pickup with its coils as they are now; nothing is done at one whose signs are not ``known``."""
    now = history.leads_now(pickup.name)
    choices = _choices(pickup, job, history) if known else (LEAVE,)
    return WorkPlace(pickup.name, _coils(pickup, signs), choices, swapped=now.turned)


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


def can_exchange_coils(pickup: Pickup, history: LeadHistory) -> bool:
    """Whether all four leads of a pickup of two coils are known, so that one coil's can be exchanged."""
    now = history.leads_now(pickup.name)
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


def _choices(pickup: Pickup, job: Job, history: LeadHistory) -> tuple[WorkChoice, ...]:
    alone: Collection[tuple[int, ...]] = ((),)
    if can_exchange_coils(pickup, history):
        alone = tuple(chain.from_iterable(combinations((1, 2), n) for n in range(3)))
    turns = (False, True) if pickup.turnable else (False,)
    return tuple(
        WorkChoice(exchange, coils, magnet, _cost(pickup, job, exchange=exchange, coils=coils, magnet=magnet))
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


MOST_KEPT = 6
"""Plans of equal cost that are kept to be shown; all are counted."""

Sums = tuple[int, ...]
State = tuple[tuple[int, Sums] | None, ...]
"""For each demand the signs held and the hum by group so far; None once it is complete."""


@dataclass(frozen=True)
class SearchResult:
    """The best plans: how many aims and hums they miss, their cost, some of them, and how many there are."""

    phase_unmet: int
    quiet_unmet: int
    cost: float
    plans: tuple[WiringChoices, ...]
    count: int

    @property
    def plan(self) -> WiringChoices:
        """The first of them."""
        return self.plans[0]


@dataclass(frozen=True)
class _Option:
    """What choices of equal effect add to each demand they bear on: its number, signs, hum by group."""

    adds: tuple[tuple[int, int, Sums], ...]
    cost: float
    choices: tuple[WorkChoice, ...]


@dataclass(frozen=True)
class _Way:
    """The best that leads to a state: aims missed, hums missed and cost, in this order of weight."""

    rank: tuple[int, int, float]
    plans: tuple[WiringChoices, ...]
    count: int


def best(places: Sequence[WorkPlace], demands: Sequence[Demand]) -> SearchResult:
    """The plans that miss the fewest aims of phase, then the fewest of quiet, then cost least."""
    aloud = [replace(d, quiet=False) for d in demands]
    strings = _walk(places, aloud, most_phase=len(demands), most_quiet=0)
    phase = 0 if strings is None else strings.phase_unmet
    tried = (_walk(places, demands, most_phase=phase, most_quiet=n) for n in range(len(demands) + 1))
    return next(found for found in tried if found is not None)


def meets_all(places: Sequence[WorkPlace], demands: Sequence[Demand]) -> SearchResult | None:
    """The cheapest plans that miss nothing; None where there are none."""
    return _walk(places, demands, most_phase=0, most_quiet=0)


def _walk(
    places: Sequence[WorkPlace], demands: Sequence[Demand], *, most_phase: int, most_quiet: int
) -> SearchResult | None:
    """The best plans that miss no more than is allowed; None where there are none."""
    groups = [_groups(d, places) for d in demands]
    ends = [max(share.place for share in d.shares) for d in demands]
    start: State = tuple((0, (0,) * len(g)) for g in groups)
    layer = {start: _Way((0, 0, 0.0), ((),), 1)}
    for number, place in enumerate(places):
        options = _options(number, place, demands, groups)
        closing = [k for k, end in enumerate(ends) if end == number]
        after: dict[State, _Way] = {}
        for state, way in layer.items():
            for option in options:
                added, spoiled = _added(state, option, demands)
                new, missed, hums = _closed(added, closing, demands)
                phase, quiet, cost = way.rank
                rank = (phase + spoiled + missed, quiet + hums, cost + option.cost)
                if rank[0] <= most_phase and rank[1] <= most_quiet:
                    after[new] = _better(after.get(new), _gone_on(way, option, rank))
        layer = after
    return next((SearchResult(*way.rank, way.plans, way.count) for way in layer.values()), None)


def _groups(demand: Demand, places: Sequence[WorkPlace]) -> dict[str, int]:
    """The groups of windings that a demand on hum is about, numbered; none where it may hum."""
    if not demand.quiet:
        return {}
    named = dict.fromkeys(c.w_group for share in demand.shares for c in places[share.place].coils)
    return {group: number for number, group in enumerate(named)}


def _options(
    number: int, place: WorkPlace, demands: Sequence[Demand], groups: Sequence[dict[str, int]]
) -> list[_Option]:
    """The choices at a place by what they do; of those that do the same, the cheapest."""
    cheapest: dict[tuple[tuple[int, int, Sums], ...], _Option] = {}
    for choice in place.choices:
        adds = tuple(_adds(number, place, choice, demands, groups))
        known = cheapest.get(adds)
        if known is None or choice.cost < known.cost:
            cheapest[adds] = _Option(adds, choice.cost, (choice,))
        elif choice.cost == known.cost:
            cheapest[adds] = replace(known, choices=(*known.choices, choice))
    return list(cheapest.values())


def _adds(
    number: int,
    place: WorkPlace,
    choice: WorkChoice,
    demands: Sequence[Demand],
    groups: Sequence[dict[str, int]],
) -> Iterator[tuple[int, int, Sums]]:
    for k, demand in enumerate(demands):
        shares = [s for s in demand.shares if s.place == number]
        if not shares:
            continue
        held, sums = 0, [0] * len(groups[k])
        for share in shares:
            coils = coils_after(place, share, choice)
            held |= signs_held(coils)
            if demand.quiet:
                for group, hum in hum_of_share(coils, series=demand.series).items():
                    sums[groups[k][group]] += hum
        yield k, held if demand.aim is not None else 0, tuple(sums)


def _added(state: State, option: _Option, demands: Sequence[Demand]) -> tuple[State, int]:
    """The state with an option added, and how many settings meant to be in phase it spoiled for good."""
    new, missed = list(state), 0
    for k, held, sums in option.adds:
        before = new[k]
        if before is None:
            continue
        now = before[0] | held
        missed += now == MIXED and before[0] != MIXED and demands[k].aim == "in phase"
        new[k] = (now, tuple(a + b for a, b in zip(before[1], sums, strict=True)))
    return tuple(new), missed


def _closed(state: State, closing: Sequence[int], demands: Sequence[Demand]) -> tuple[State, int, int]:
    """The state without the settings that are complete, and what of phase and hum these missed."""
    if not closing:
        return state, 0, 0
    new, phase, quiet = list(state), 0, 0
    for k in closing:
        done = new[k]
        if done is not None:
            phase += demands[k].aim == "out of phase" and not aim_met(done[0], "out of phase")
            quiet += demands[k].quiet and hum_cancels(done[1]) is False
        new[k] = None
    return tuple(new), phase, quiet


def _gone_on(way: _Way, option: _Option, rank: tuple[int, int, float]) -> _Way:
    plans = tuple((*plan, choice) for plan in way.plans for choice in option.choices)[:MOST_KEPT]
    return _Way(rank, plans, way.count * len(option.choices))


def _better(known: _Way | None, new: _Way) -> _Way:
    if known is None or new.rank < known.rank:
        return new
    if new.rank > known.rank:
        return known
    return _Way(known.rank, (*known.plans, *new.plans)[:MOST_KEPT], known.count + new.count)


def smallest_clash(places: Sequence[WorkPlace], demands: Sequence[Demand]) -> tuple[Demand, ...]:
    """A smallest set of demands that no plan meets together; empty where all can be met."""
    if meets_all(places, demands) is not None:
        return ()
    met_together = [_met_by(places, demands, best(places, demands).plan)]
    for size in range(1, len(demands) + 1):
        for chosen in combinations(range(len(demands)), size):
            if any(set(chosen) <= met for met in met_together):
                continue
            few = [demands[k] for k in chosen]
            found = meets_all(places, few)
            if found is None:
                return tuple(few)
            met_together.append(_met_by(places, demands, found.plan))
    return tuple(demands)


def _met_by(places: Sequence[WorkPlace], demands: Sequence[Demand], plan: WiringChoices) -> set[int]:
    kept = set()
    for k, demand in enumerate(demands):
        aim, hum = outcome(places, demand, plan)
        if aim and not (demand.quiet and hum is False):
            kept.add(k)
    return kept
