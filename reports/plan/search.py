"""From a job and what is believed of it to the cheapest wiring plans, by an exact search.

Task: `current_signs` takes the signs from the posterior; `pickup_options` and `demand_of` make what is
searched of the job; `best_plans` returns the plans that miss the fewest aims of phase, then the fewest of
quiet, then cost least; `smallest_conflict` a smallest set of demands that no plan meets. Signs as in
dsp/model/signs.py, as the guitar is wired now; costs as in reports/model/plan.py.

A coil of which nothing was measured alone has the ``s`` of its pickup, and the two coils of a pickup are
wound opposite to each other; of such a pickup ``w`` means nothing as a whole.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

from capture.job import Job, Member, Pickup, Setting
from reports.evidence.leads import LeadHistory
from reports.evidence.settings import hum_weights
from reports.inference.posterior import Posterior
from reports.model import plan as costs
from reports.model.plan import (
    NO_WORK,
    Coil,
    CoilKey,
    Demand,
    DemandMember,
    PickupOptions,
    PickupWork,
    WiringWork,
    aim_met,
    any_mixed,
    coils_after,
    ground_is_braid,
    hum_by_group,
    hum_cancels,
    outcome,
    string_signs,
)
from reports.model.verdict import likely_sign


@dataclass(frozen=True)
class CurrentSigns:
    """The signs by pickup, ``s`` and ``w`` relative to the first pickup of its ``group``.

    A group is of pickups that evidence connects; between groups nothing is known. None where a sign is not
    at least likely. ``coil_s`` and ``coil_w`` are those of single coils; what is left out follows from the
    pickup.
    """

    s: Mapping[str, int | None]
    w: Mapping[str, int | None]
    group: Mapping[str, str]
    coil_s: Mapping[CoilKey, int] = field(default_factory=dict)
    coil_w: Mapping[CoilKey, int] = field(default_factory=dict)
    deaf: frozenset[str] = frozenset()
    """Pickups that hear no string."""

    def unsettled_pickups(self, settings: Sequence[Setting], *, reference: str) -> set[str]:
        """Pickups that share a setting with one of another group, those of the reference's group left out."""
        return {
            m.pickup
            for setting in settings
            if len({self.group[m.pickup] for m in setting.on if m.pickup not in self.deaf}) > 1
            for m in setting.on
            if self.group[m.pickup] != self.group[reference] and m.pickup not in self.deaf
        }


def current_signs(job: Job, posterior: Posterior) -> CurrentSigns:
    """The signs relative to the first pickup of each group that evidence connects, the reference's first.

    Windings are relative to the first coil of each group that stands alone somewhere: a pickup of one coil,
    or a coil that a setting splits.
    """
    reference = job.reference.name
    s: dict[str, int | None] = {}
    group: dict[str, str] = {}
    deaf = [p.name for p in job.pickups if not p.made.hears_strings]
    for name in (reference, *(p.name for p in job.pickups if p.name != reference)):
        s[name], group[name] = 1, name
        for first in (n for n in group if group[n] == n and n != name and not {n, name} & set(deaf)):
            relative = likely_sign(_in_phase(job, posterior, first, name))
            if relative is not None:
                s[name], group[name] = relative, first
                break
    for name in deaf:
        s[name], group[name] = None, _group_by_hum(job, posterior, name, group)
    coil_s: dict[CoilKey, int] = {
        (p.name, 2): (s[p.name] or 1) * relative
        for p in job.pickups
        if p.made.layout == "halves" and (relative := _halves(posterior, p.name)) is not None
    }
    for name, number in _split_coils(job):
        if likely_sign(posterior.all_agree([(name, None, False), (name, number, False)])) == -1:
            coil_s[name, number] = -(s[name] or 1)
    w: dict[str, int | None] = dict.fromkeys(s)
    coil_w: dict[CoilKey, int] = {}
    for (name, coil), winding in _single_coil_windings(job, posterior, group).items():
        if coil is None:
            w[name] = winding
        else:
            coil_w[name, coil] = winding
    return CurrentSigns(s, w, group, coil_s, coil_w, frozenset(deaf))


def _in_phase(job: Job, posterior: Posterior, a: str, b: str) -> float | None:
    """P(two pickups are in phase): of one in halves, its first half stands for it."""
    in_halves = {p.name for p in job.pickups if p.made.layout == "halves"}
    if not in_halves & {a, b}:
        return posterior.in_phase(a, b)
    return posterior.all_agree([(name, 1 if name in in_halves else None, False) for name in (a, b)])


def _halves(posterior: Posterior, name: str) -> int | None:
    """+1 where the halves of a pickup are joined as they were built to be, -1 where they oppose."""
    return likely_sign(posterior.all_agree([(name, 1, False), (name, 2, False)]))


def _group_by_hum(job: Job, posterior: Posterior, name: str, group: Mapping[str, str]) -> str:
    """The group in which a coil that hears no string compares by its winding; itself where none does."""
    for other, first in group.items():
        pickup = job.pickup(other)
        heard = other != name and pickup is not None and pickup.made.hums and pickup.made.hears_strings
        if heard and likely_sign(posterior.hum_cancels(name, other)) is not None:
            return first
    return name


def _single_coil_windings(
    job: Job, posterior: Posterior, group: Mapping[str, str]
) -> dict[tuple[str, int | None], int]:
    """The winding of every coil that stands alone, relative to the first such one of its group."""
    split = _split_coils(job)
    single = {p.name for p in job.pickups if p.made.hums}
    coils_of_group: dict[str, list[tuple[str, int | None]]] = {}
    for name, first in group.items():
        coils: list[tuple[str, int | None]] = [(name, None)] if name in single else []
        coils_of_group.setdefault(first, []).extend([*coils, *(c for c in split if c[0] == name)])
    result: dict[tuple[str, int | None], int] = {}
    for base, *others in (coils for coils in coils_of_group.values() if coils):
        result[base] = 1
        for coil in others:
            cancels = posterior.all_cancel([(*base, False), (*coil, False)])
            winding = None if cancels is None else likely_sign(1 - cancels)
            if winding is not None:
                result[coil] = winding
    return result


def _split_coils(job: Job) -> tuple[CoilKey, ...]:
    """The coils that a setting holds alone."""
    two = {p.name for p in job.pickups if p.made.several}
    return tuple(
        dict.fromkeys(
            (m.pickup, m.coil) for s in job.settings for m in s.on if m.coil is not None and m.pickup in two
        )
    )


ALL_TOGETHER = "all pickups together"


def planned_settings(job: Job) -> list[Setting]:
    """Every listed setting; with none listed, all pickups are to be in phase.

    Of members by which no sign goes, a piezo or a microphone, nothing is planned: they are left out.
    """
    others = {p.name for p in job.pickups if p.source is not None}
    if job.settings and others:
        kept = [(s, tuple(m for m in s.on if m.pickup not in others)) for s in job.settings]
        return [s.model_copy(update={"on": on}) for s, on in kept if on]
    if job.settings:
        return list(job.settings)
    members = tuple(Member(pickup=p.name) for p in job.compared)
    return [Setting(name=ALL_TOGETHER, on=members)] if len(members) > 1 else []


def pickup_options(
    pickup: Pickup, job: Job, history: LeadHistory, signs: CurrentSigns, *, settled: bool
) -> PickupOptions:
    """A pickup with its coils as they are now; no work is possible at one whose signs are not ``settled``."""
    swapped = history.leads_now(pickup.name).turned
    options = _options(pickup, job, history) if settled else (NO_WORK,)
    return PickupOptions(pickup.name, _coils(pickup, job, signs), options, swapped)


def demand_of(setting: Setting, job: Job) -> Demand:
    """What a setting asks for; where one coil is alone in it, nothing has to add up.

    A coil that hears no string is there to cancel hum, whether the setting says so or not.
    """
    numbers = {p.name: k for k, p in enumerate(job.pickups)}
    weights = hum_weights(setting, job)
    members = []
    coils = 0
    for m in setting.on:
        made = job.pickups[numbers[m.pickup]].made
        coil = m.coil if made.several else None
        members.append(DemandMember(numbers[m.pickup], coil, m.reversed, weights[m]))
        coils += (made.count if m.coil is None else 1) if made.hears_strings else 0
    whole_pickup = len(setting.on) == 1
    aimless = coils <= 1 or (whole_pickup and setting.aim == "out of phase")
    return Demand(
        setting.name,
        tuple(members),
        aim=None if aimless else setting.aim,
        quiet=job.wants_quiet(setting),
        series=setting.join == "series",
    )


def _coils(pickup: Pickup, job: Job, signs: CurrentSigns) -> tuple[Coil, ...]:
    name, made = pickup.name, pickup.made
    whole = signs.s[name] or 1
    over = {c.number: _over(pickup, job, c.number) for c in made.coils}
    if not made.several:
        w = signs.w[name]
        group = f"pickup {name}" if w is None else f"group {signs.group[name]}"
        return (Coil(1, whole, w or 1, group, over[1]),)
    first, second = signs.coil_w.get((name, 1)), signs.coil_w.get((name, 2))
    measured = first is not None or second is not None
    if first is None:
        first = 1 if second is None else -second
    if second is None:
        second = -first
    group = f"group {signs.group[name]}" if measured else f"pickup {name}"
    return tuple(
        Coil(
            k,
            signs.coil_s.get((name, k), whole * (-1 if built is not None and built.s_in_whole == -1 else 1)),
            w,
            group,
            over[k],
            weak=built is not None and built.s_in_whole == -1,
        )
        for k, w in _windings(pickup, first, second)
        for built in (made.coil(k),)
    )


def _windings(pickup: Pickup, first: int, second: int) -> Iterator[tuple[int, int]]:
    """The winding of each coil of a pickup: of more than two, as they are built against the first."""
    if pickup.made.count == 2:
        yield from ((1, first), (2, second))
    else:
        yield from ((coil.number, first * coil.w_in_whole) for coil in pickup.made.coils)


def _over(pickup: Pickup, job: Job, number: int) -> tuple[int, ...]:
    """The sign of a coil's pole under each kind of string; 0 where it hears none."""
    built = pickup.made.coil(number)
    if built is None or not built.hears:
        return (0,) * len(job.string_kinds())
    return tuple(
        0 if built.under is not None and kind not in built.under else job.pole_under(pickup, kind) or 0
        for kind in job.string_kinds()
    )


def _options(pickup: Pickup, job: Job, history: LeadHistory) -> tuple[PickupWork, ...]:
    """All work that is possible at a pickup; single coils' leads only where all four are known.

    A reference coil of the bench stays as it is.
    """
    if pickup.shelf is not None or pickup.source is not None:
        return (NO_WORK,)
    now = history.leads_now(pickup.name)
    coils_alone: Collection[tuple[int, ...]] = ((),)
    apart = pickup.made.layout == "halves"  # what joins the halves lies open between them
    if pickup.made.count == 2 and (apart or None not in (now.hot, now.ground, now.link)):
        coils_alone = ((), (1,), (2,), (1, 2))
    return tuple(
        PickupWork(exchange, coils, magnet, _cost(pickup, job, exchange=exchange, coils=coils, magnet=magnet))
        for magnet in ((False, True) if pickup.turnable else (False,))
        for coils in coils_alone
        for exchange in (False, True)
    )


def _cost(pickup: Pickup, job: Job, *, exchange: bool, coils: tuple[int, ...], magnet: bool) -> float:
    each = costs.EXCHANGE_FITTED if pickup.fitted else costs.EXCHANGE_LOOSE
    cost = each * exchange + (each + costs.COIL_ALONE_EXTRA) * len(coils) + costs.TURN_MAGNET * magnet
    if exchange or coils:
        cost += costs.REFERENCE_EXTRA if pickup.name == job.reference.name else 0.0
        if ground_is_braid(pickup):
            cost += costs.BRAID_OPENED
        elif pickup.shield == "on ground":
            cost += costs.SEPARATE_SHIELD
    return cost


MOST_KEPT = 6
"""Plans of equal cost that are kept to be shown; all are counted."""

HumSums = tuple[tuple[str, int], ...]
"""Hum by group of windings, as hum_by_group has it; empty for a demand that may hum."""
State = tuple[tuple[int, HumSums] | None, ...]
"""For each demand the signs of its strings (bits) and its hum so far; None once it is complete."""
Additions = tuple[tuple[int, int, HumSums], ...]
"""What work at one pickup adds to demands that hold it: (number of the demand, signs, hum) each."""


@dataclass(frozen=True)
class SearchResult:
    """The best plans: how many aims and hums they miss, their cost, some of them, and how many there are."""

    phase_unmet: int
    quiet_unmet: int
    cost: float
    plans: tuple[WiringWork, ...]
    count: int

    @property
    def plan(self) -> WiringWork:
        """The first of them."""
        return self.plans[0]


@dataclass(frozen=True)
class _Effect:
    """Works at one pickup that add the same at the same cost."""

    added: Additions
    cost: float
    works: tuple[PickupWork, ...]


@dataclass(frozen=True)
class _PartialPlan:
    """The best plans for the first pickups that reach a state; ``rank``: aims missed, hums missed, cost."""

    rank: tuple[int, int, float]
    plans: tuple[WiringWork, ...]
    count: int


def best_plans(pickups: Sequence[PickupOptions], demands: Sequence[Demand]) -> SearchResult:
    """The plans that miss the fewest aims of phase, then the fewest of quiet, then cost least."""
    strings = _search(pickups, without_quiet(demands), most_phase=len(demands), most_quiet=0)
    phase = 0 if strings is None else strings.phase_unmet
    tried = (_search(pickups, demands, most_phase=phase, most_quiet=n) for n in range(len(demands) + 1))
    return next(result for result in tried if result is not None)


def without_quiet(demands: Sequence[Demand]) -> list[Demand]:
    """The same demands, but hum does not matter to any of them."""
    return [replace(d, quiet=False) for d in demands]


def plans_meeting_all(pickups: Sequence[PickupOptions], demands: Sequence[Demand]) -> SearchResult | None:
    """The cheapest plans that miss nothing; None where there are none."""
    return _search(pickups, demands, most_phase=0, most_quiet=0)


def _search(
    pickups: Sequence[PickupOptions], demands: Sequence[Demand], *, most_phase: int, most_quiet: int
) -> SearchResult | None:
    """The best plans that miss no more than is allowed; None where there are none.

    Dynamic programming, pickup by pickup: of all partial plans that leave every demand in the same state only
    the best are kept, and those as good. Two of the same state have the same future, so this is exact.
    """
    last_pickup = [max(member.pickup for member in d.members) for d in demands]
    start: State = ((0, ()),) * len(demands)
    layer = {start: _PartialPlan((0, 0, 0.0), ((),), 1)}
    for number, pickup in enumerate(pickups):
        effects = _effects(number, pickup, demands)
        completed = [k for k, last in enumerate(last_pickup) if last == number]
        next_layer: dict[State, _PartialPlan] = {}
        for state, partial in layer.items():
            for effect in effects:
                # 1. What the work adds to every demand, and which aims are missed for good by it.
                added, spoiled = _added(state, effect, demands)
                # 2. Demands without a further pickup are judged and leave the state.
                new_state, missed, hums = _completed(added, completed, demands)
                phase, quiet, cost = partial.rank
                rank = (phase + spoiled + missed, quiet + hums, cost + effect.cost)
                # 3. Kept where it misses no more than allowed and is the best way to its state.
                if rank[0] <= most_phase and rank[1] <= most_quiet:
                    plans = tuple((*plan, work) for plan in partial.plans for work in effect.works)
                    new = _PartialPlan(rank, plans[:MOST_KEPT], partial.count * len(effect.works))
                    next_layer[new_state] = _better(next_layer.get(new_state), new)
        layer = next_layer
    return next((SearchResult(*best.rank, best.plans, best.count) for best in layer.values()), None)


def _effects(number: int, pickup: PickupOptions, demands: Sequence[Demand]) -> list[_Effect]:
    """The work possible at a pickup by what it adds; of works that add the same, the cheapest."""
    cheapest: dict[Additions, _Effect] = {}
    for work in pickup.options:
        added = tuple(_additions(number, pickup, work, demands))
        best = cheapest.get(added)
        if best is None or work.cost < best.cost:
            cheapest[added] = _Effect(added, work.cost, (work,))
        elif work.cost == best.cost:
            cheapest[added] = replace(best, works=(*best.works, work))
    return list(cheapest.values())


def _additions(
    number: int, pickup: PickupOptions, work: PickupWork, demands: Sequence[Demand]
) -> Iterator[tuple[int, int, HumSums]]:
    for k, demand in enumerate(demands):
        members = [(m, coils_after(pickup, m, work)) for m in demand.members if m.pickup == number]
        if members:
            signs = string_signs([coil for _, coils in members for coil in coils])
            hum: HumSums = ()
            for member, coils in members if demand.quiet else ():
                one = hum_by_group(coils, series=demand.series, weight=member.weight)
                hum = _hum_sum(hum, tuple(one.items()))
            yield k, signs if demand.aim is not None else 0, hum


def _hum_sum(a: HumSums, b: HumSums) -> HumSums:
    sums = dict(a)
    for group, hum in b:
        sums[group] = sums.get(group, 0) + hum
    return tuple(sorted(sums.items()))


def _added(state: State, effect: _Effect, demands: Sequence[Demand]) -> tuple[State, int]:
    """The state with an effect added, and how many demands to be in phase it spoiled for good."""
    new, spoiled = list(state), 0
    for k, added_signs, added_hum in effect.added:
        before = new[k]
        if before is None:
            continue
        signs = before[0] | added_signs
        spoiled += any_mixed(signs) and not any_mixed(before[0]) and demands[k].aim == "in phase"
        new[k] = (signs, _hum_sum(before[1], added_hum))
    return tuple(new), spoiled


def _completed(state: State, completed: Sequence[int], demands: Sequence[Demand]) -> tuple[State, int, int]:
    """The state without the demands that are complete, and how many of phase and of quiet these missed."""
    new, phase, quiet = list(state), 0, 0
    for k in completed:
        signs_and_hum = new[k]
        if signs_and_hum is not None:
            signs, hum = signs_and_hum
            phase += demands[k].aim == "out of phase" and not aim_met(signs, "out of phase")
            quiet += demands[k].quiet and hum_cancels([part for _, part in hum]) is False
        new[k] = None
    return tuple(new), phase, quiet


def _better(old: _PartialPlan | None, new: _PartialPlan) -> _PartialPlan:
    """The one of lower rank; both together where they are equal."""
    if old is None or new.rank < old.rank:
        return new
    if new.rank > old.rank:
        return old
    return _PartialPlan(old.rank, (*old.plans, *new.plans)[:MOST_KEPT], old.count + new.count)


def smallest_conflict(pickups: Sequence[PickupOptions], demands: Sequence[Demand]) -> tuple[Demand, ...]:
    """A smallest set of demands that no plan meets together; empty where all can be met.

    Sets are tried by size; those that a plan at hand meets are passed over.
    """
    if plans_meeting_all(pickups, demands) is not None:
        return ()
    met_together = [_met(pickups, demands, best_plans(pickups, demands).plan)]
    for size in range(1, len(demands) + 1):
        for chosen in combinations(range(len(demands)), size):
            if any(set(chosen) <= met for met in met_together):
                continue
            few = [demands[k] for k in chosen]
            result = plans_meeting_all(pickups, few)
            if result is None:
                return tuple(few)
            met_together.append(_met(pickups, demands, result.plan))
    return tuple(demands)


def _met(pickups: Sequence[PickupOptions], demands: Sequence[Demand], plan: WiringWork) -> set[int]:
    """The numbers of the demands that a plan meets, hum that is not known taken to cancel."""
    outcomes = (outcome(pickups, demand, plan) for demand in demands)
    return {
        k
        for k, (demand, (aim, hum)) in enumerate(zip(demands, outcomes, strict=True))
        if aim and not (demand.quiet and hum is False)
    }
