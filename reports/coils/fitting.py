"""Readings in ohms against structures: which fit, and which readings stand in the way.

Task: exact: each reading is a band of resistances, or open, or either where it may have been typed in
ohms; a structure is allowed where its coils can have resistances that lie in all bands at once. Units:
kilohms. Signs: none. Shapes: none.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from reports.coils.limits import (
    BODY_KOHM,
    FINGERS_FROM_KOHM,
    JOINED_KOHM,
    METER_SHARE,
    METER_STEP_KOHM,
    OHMS_TYPED_FROM,
    OHMS_TYPED_TO,
)
from reports.coils.structures import Pair, Structure, structures

Band = tuple[float, float]
ANY_COIL: Band = (JOINED_KOHM, FINGERS_FROM_KOHM)
JOINED: Band = (0.0, JOINED_KOHM)
MOST_WRONG = 3


@dataclass(frozen=True)
class Reading:
    """One reading: between which leads, the band it allows (None: no resistance at all), and open or not."""

    entry: str
    pair: Pair
    band: Band | None
    may_be_open: bool


@dataclass(frozen=True)
class Fit:
    """A structure, what its coils can have (None: never measured), and the readings left out for it."""

    structure: Structure
    kohm: tuple[Band | None, ...]
    wrong: frozenset[int]

    @property
    def cost(self) -> tuple[int, int]:
        """Readings to disbelieve, then faults to believe."""
        return len(self.wrong), self.structure.faults

    def expected(self, pair: Pair) -> Band | None:
        """What a pair of leads will read; None for open."""
        way = self.structure.way(pair)
        if way is None:
            return None
        if not way:
            return JOINED
        bands = [self.kohm[k] or ANY_COIL for k in way]
        return sum(b[0] for b in bands), sum(b[1] for b in bands)


def reading(entry: str, pair: Pair, kohm: float | None) -> Reading:
    """What a reading allows: hands on the clips and the meter's own error are in the band."""
    if kohm is None:
        return Reading(entry, pair, None, True)
    typed = OHMS_TYPED_FROM <= kohm <= OHMS_TYPED_TO
    if kohm >= FINGERS_FROM_KOHM and not typed:
        return Reading(entry, pair, None, True)
    said = kohm / 1000 if typed else kohm
    return Reading(entry, pair, band(said), typed)


def band(kohm: float) -> Band:
    """What may stand behind a reading: less by the meter's error, more by that and hands on the clips."""
    low = (kohm - METER_STEP_KOHM) / (1 + METER_SHARE)
    high = (kohm + METER_STEP_KOHM) / (1 - METER_SHARE)
    return max(low, 0.0), high / (1 - high / BODY_KOHM)


def best_fits(leads: tuple[str, ...], readings: Sequence[Reading]) -> list[Fit]:
    """The structures that need the fewest wrong readings, and of those the fewest faults."""
    best: list[Fit] = []
    for structure in structures(leads):
        ways = [structure.way(r.pair) for r in readings]
        amiss = frozenset(
            k for k, (r, way) in enumerate(zip(readings, ways, strict=True)) if not _kind_fits(r, way)
        )
        if len(amiss) > (len(best[0].wrong) if best else MOST_WRONG):
            continue
        for fit in _fits(structure, readings, ways, amiss):
            if not best or fit.cost < best[0].cost:
                best = [fit]
            elif fit.cost == best[0].cost:
                best.append(fit)
    return best


def cannot_all_be_true(leads: tuple[str, ...], readings: Sequence[Reading]) -> list[Reading]:
    """The fewest readings that contradict each other, found by leaving out all that are not needed for it."""
    kept = list(readings)
    for one in readings:
        fewer = [r for r in kept if r is not one]
        if _contradict(leads, fewer):
            kept = fewer
    return kept


def _contradict(leads: tuple[str, ...], readings: Sequence[Reading]) -> bool:
    best = best_fits(leads, readings)
    return not best or bool(best[0].wrong)


def _kind_fits(one: Reading, way: tuple[int, ...] | None) -> bool:
    if way is None:
        return one.may_be_open
    if one.band is None:
        return False
    return one.band[0] <= JOINED_KOHM if not way else one.band[1] > JOINED_KOHM


def _fits(
    structure: Structure,
    readings: Sequence[Reading],
    ways: Sequence[tuple[int, ...] | None],
    amiss: frozenset[int],
) -> Iterator[Fit]:
    """The structure with as few further readings left out as its resistances need."""
    told = [k for k, way in enumerate(ways) if way and k not in amiss]
    for count in range(MOST_WRONG - len(amiss) + 1):
        found = False
        for out in combinations(told, count):
            kept = {k: ways[k] or () for k in told if k not in out}
            kohm = _solved(len(structure.coils), readings, kept)
            if kohm is not None:
                found = True
                yield Fit(structure, kohm, amiss | set(out))
        if found:
            return


def _solved(
    coils: int, readings: Sequence[Reading], ways: Mapping[int, tuple[int, ...]]
) -> tuple[Band | None, ...] | None:
    """What each coil can have, from bands of single coils and of both in series; None where nothing can."""
    each: list[Band] = [ANY_COIL] * coils
    both: Band = (0.0, coils * ANY_COIL[1])
    told: set[int] = set()
    for k, way in ways.items():
        said = readings[k].band or ANY_COIL
        told |= set(way)
        if len(way) == 1:
            each[way[0]] = _both(each[way[0]], said)
        else:
            both = _both(both, said)
    if coils > 1:
        first, second = each
        both = _both(both, (first[0] + second[0], first[1] + second[1]))
        each = [
            _both(one, (both[0] - other[1], both[1] - other[0]))
            for one, other in ((first, second), (second, first))
        ]
        if both[0] > both[1]:
            return None
    if any(low > high for low, high in each):
        return None
    return tuple(b if k in told else None for k, b in enumerate(each))


def _both(a: Band, b: Band) -> Band:
    return max(a[0], b[0]), min(a[1], b[1])
