"""The exact search: of all plans those that miss the fewest aims, then the fewest hums, then cost least.

Task: from places with their choices and demands on them to the best plans. It walks pickup by pickup and
keeps, of all ways that leave every setting in the same state, the best (and those as good); what a setting
that is complete missed is counted. Nothing is left out: two ways in the same state have the same future.
Units: costs as in costs.py. Signs: as in model.py.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from reports.planning.model import (
    MIXED,
    Choice,
    Demand,
    Place,
    Plan,
    aim_met,
    coils_after,
    hum_cancels,
    hum_of_share,
    signs_held,
)

MOST_KEPT = 6
"""Plans of equal cost that are kept to be shown; all are counted."""

Sums = tuple[int, ...]
State = tuple[tuple[int, Sums] | None, ...]
"""For each demand the signs held and the hum by group so far; None once it is complete."""


@dataclass(frozen=True)
class Found:
    """The best plans: how many aims and hums they miss, their cost, some of them, and how many there are."""

    phase_unmet: int
    quiet_unmet: int
    cost: float
    plans: tuple[Plan, ...]
    count: int

    @property
    def plan(self) -> Plan:
        """The first of them."""
        return self.plans[0]


@dataclass(frozen=True)
class _Option:
    """What choices of equal effect add to each demand they bear on: its number, signs, hum by group."""

    adds: tuple[tuple[int, int, Sums], ...]
    cost: float
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class _Way:
    """The best that leads to a state: aims missed, hums missed and cost, in this order of weight."""

    rank: tuple[int, int, float]
    plans: tuple[Plan, ...]
    count: int


def best(places: Sequence[Place], demands: Sequence[Demand]) -> Found:
    """The plans that miss the fewest aims of phase, then the fewest of quiet, then cost least."""
    aloud = [replace(d, quiet=False) for d in demands]
    strings = _walk(places, aloud, most_phase=len(demands), most_quiet=0)
    phase = 0 if strings is None else strings.phase_unmet
    tried = (_walk(places, demands, most_phase=phase, most_quiet=n) for n in range(len(demands) + 1))
    return next(found for found in tried if found is not None)


def meets_all(places: Sequence[Place], demands: Sequence[Demand]) -> Found | None:
    """The cheapest plans that miss nothing; None where there are none."""
    return _walk(places, demands, most_phase=0, most_quiet=0)


def _walk(
    places: Sequence[Place], demands: Sequence[Demand], *, most_phase: int, most_quiet: int
) -> Found | None:
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
    return next((Found(*way.rank, way.plans, way.count) for way in layer.values()), None)


def _groups(demand: Demand, places: Sequence[Place]) -> dict[str, int]:
    """The groups of windings that a demand on hum is about, numbered; none where it may hum."""
    if not demand.quiet:
        return {}
    named = dict.fromkeys(c.w_group for share in demand.shares for c in places[share.place].coils)
    return {group: number for number, group in enumerate(named)}


def _options(
    number: int, place: Place, demands: Sequence[Demand], groups: Sequence[dict[str, int]]
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
    number: int, place: Place, choice: Choice, demands: Sequence[Demand], groups: Sequence[dict[str, int]]
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
