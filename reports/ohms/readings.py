"""Readings in ohms: what they allow of leads and coils, and what a closed guitar reads at its jack.

`structures` enumerates which leads are joined to each other and between which points one coil or two lie;
`best_fits` keeps those that the readings allow, exactly: each reading is a band of resistances, or open, or
either where it may have been typed in ohms, and a structure is allowed where its coils can have resistances
that lie in all bands at once. An ohmmeter knows no direction, so each structure stands once, whatever the
order of its coils and ends. At the jack: from the resistances of pickups and coils to that of a setting, with
the volume pot full up across it, and from a reading to a `JackReading`; reversed leads read the same. Units:
kilo-ohm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from math import isinf
from typing import Final

from capture.job import Job, Pickup, Setting
from capture.job.model import Join, Member
from dsp.model.network import circuit_from, resistance
from reports.model.lead_notes import JackReading, JackReadingCode, LeadPair
from reports.model.plan import CoilKey

METER_SHARE: Final = 0.03
"""A hand-held meter's own error, and a few degrees between two readings (assumed)."""
METER_STEP_KOHM: Final = 0.01
"""The last digit of the 20 k range: a reading is no finer than that."""
BODY_KOHM: Final = 500.0
"""A body from hand to hand across the clips (sources P7: 8 k with 500 k across it reads 7.874 k)."""
JOINED_KOHM: Final = 0.02
"""From here down two leads are one: the clips' own contact, and two steps of the 20 k range."""
FINGERS_FROM_KOHM: Final = 100.0
"""No coil of a guitar has so much (common practice: 2 to 30 k); between open leads it is a pair of hands."""
OHMS_TYPED_FROM: Final = 1000.0
"""From here up the number may be in ohms: the same coils, 1 to 30 k, typed without the decimal point."""
OHMS_TYPED_TO: Final = 30_000.0
SHORTED_SHARE: Final = 0.75
"""A coil below this share of its twin, or of what its maker states, has lost turns; twins that are meant to
differ stay within about a fifth of each other (common practice)."""
METER_RANGES_KOHM: Final = (2.0, 20.0, 200.0, 2000.0)
"""The ranges of an ordinary meter that is set by hand."""
DIFFERS_SHARE: Final = 0.08
"""A reading at the jack further off than this is not the meter, the room's warmth and a pot of 20 per cent
together: the pot alone moves 10 k beside 250 k by less than one per cent."""


def parallel(*kohm: float) -> float:
    """The resistance of several in parallel; one of nought makes all of it nought."""
    return 0.0 if 0.0 in kohm else 1 / sum(1 / k for k in kohm)


def typed_in_ohms(kohm: float) -> bool:
    """Whether the number was probably typed in ohms: 6600 for 6.6."""
    return OHMS_TYPED_FROM <= kohm <= OHMS_TYPED_TO


def by_hands(kohm: float) -> bool:
    """Whether a reading is of the hands on the clips, not of a coil."""
    return kohm >= FINGERS_FROM_KOHM and not typed_in_ohms(kohm)


SHIELD_WORDS = ("shield", "bare", "braid", "screen", "cover")
"""What a lead that is no end of a coil is called where it is measured."""
MOST_LEADS = 6
"""Besides the shield: two coils with a tap each."""
MOST_COILS = 2


def is_shield(lead: str) -> bool:
    """Whether the name of a lead says that it is a shield."""
    return lead.strip().casefold() in SHIELD_WORDS


@dataclass(frozen=True)
class Structure:
    """Which leads are joined, and which points each coil lies between.

    ``points``: groups of leads that are one, in order of their names, the shield last in its group.
    ``coils``: two points each, by number.
    """

    points: tuple[tuple[str, ...], ...]
    coils: tuple[tuple[int, int], ...]

    def ends(self, coil: int) -> LeadPair:
        """The two ends of a coil, in order of their names."""
        one, other = sorted(self.points[k][0] for k in self.coils[coil])
        return one, other

    @property
    def meeting(self) -> tuple[tuple[str, ...], ...]:
        """The points at which two coils meet."""
        held = [k for coil in self.coils for k in coil]
        return tuple(p for k, p in enumerate(self.points) if held.count(k) > 1)

    @property
    def joined(self) -> tuple[tuple[str, ...], ...]:
        """Leads that are joined to each other, the shield left out."""
        named = (tuple(lead for lead in p if not is_shield(lead)) for p in self.points)
        return tuple(p for p in named if len(p) > 1)

    @property
    def loose(self) -> tuple[str, ...]:
        """Leads on no coil, the shield left out."""
        held = {k for coil in self.coils for k in coil}
        return tuple(
            lead for k, p in enumerate(self.points) if k not in held for lead in p if not is_shield(lead)
        )

    @property
    def shield_on(self) -> str | None:
        """The lead that the shield is joined to."""
        return next((p[0] for p in self.points if not is_shield(p[0]) and is_shield(p[-1])), None)

    @property
    def faults(self) -> int:
        """Loose leads that no shield explains: one may be the shield under another name."""
        shield = any(is_shield(lead) for p in self.points for lead in p)
        return max(0, len(self.loose) - (0 if shield else 1))

    def path(self, pair: LeadPair) -> tuple[int, ...] | None:
        """The coils between two leads: () where they are joined, None where nothing conducts."""
        start, goal = (next(k for k, p in enumerate(self.points) if lead in p) for lead in pair)
        if start == goal:
            return ()
        for k, coil in enumerate(self.coils):
            if {start, goal} == set(coil):
                return (k,)
        if len(self.coils) == MOST_COILS:
            first, second = (set(coil) for coil in self.coils)
            if first & second and {start, goal} == first ^ second:
                return (0, 1)
        return None


@lru_cache(maxsize=32)
def structures(leads: tuple[str, ...]) -> tuple[Structure, ...]:
    """All structures of the named leads, each once."""
    return tuple(
        Structure(points, coils)
        for points in _groups(leads)
        for count in range(MOST_COILS + 1)
        for coils in combinations(tuple(combinations(range(len(points)), 2)), count)
    )


def _groups(leads: Sequence[str]) -> Iterator[tuple[tuple[str, ...], ...]]:
    """All ways in which leads can be joined in groups."""
    if not leads:
        yield ()
        return
    *before, last = sorted(leads, key=lambda lead: (is_shield(lead), lead))
    for groups in _groups(before):
        yield (*groups, (last,))
        for k, group in enumerate(groups):
            yield (*groups[:k], (*group, last), *groups[k + 1 :])


Band = tuple[float, float]
ANY_COIL: Band = (JOINED_KOHM, FINGERS_FROM_KOHM)
JOINED: Band = (0.0, JOINED_KOHM)
MOST_WRONG = 3


@dataclass(frozen=True)
class Reading:
    """One reading: between which leads, the band it allows (None: no resistance at all), and open or not."""

    entry: str
    pair: LeadPair
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

    def expected(self, pair: LeadPair) -> Band | None:
        """What a pair of leads will read; None for open."""
        path = self.structure.path(pair)
        if path is None:
            return None
        if not path:
            return JOINED
        bands = [self.kohm[k] or ANY_COIL for k in path]
        return sum(b[0] for b in bands), sum(b[1] for b in bands)


def reading(entry: str, pair: LeadPair, kohm: float | None) -> Reading:
    """What a reading allows: hands on the clips and the meter's own error are in the band."""
    if kohm is None or by_hands(kohm):
        return Reading(entry, pair, None, True)
    typed = typed_in_ohms(kohm)
    return Reading(entry, pair, band(kohm / 1000 if typed else kohm), typed)


def band(kohm: float) -> Band:
    """What may stand behind a reading: less by the meter's error, more by that and hands on the clips."""
    low = (kohm - METER_STEP_KOHM) / (1 + METER_SHARE)
    high = (kohm + METER_STEP_KOHM) / (1 - METER_SHARE)
    return max(low, 0.0), high / (1 - high / BODY_KOHM)


def best_fits(leads: tuple[str, ...], readings: Sequence[Reading]) -> list[Fit]:
    """The structures that need the fewest wrong readings, and of those the fewest faults."""
    best: list[Fit] = []
    for structure in structures(leads):
        paths = [structure.path(r.pair) for r in readings]
        wrong_kind = frozenset(
            k for k, (r, path) in enumerate(zip(readings, paths, strict=True)) if not _kind_fits(r, path)
        )
        if len(wrong_kind) > (len(best[0].wrong) if best else MOST_WRONG):
            continue
        for fit in _fits(structure, readings, paths, wrong_kind):
            if not best or fit.cost < best[0].cost:
                best = [fit]
            elif fit.cost == best[0].cost:
                best.append(fit)
    return best


def smallest_contradiction(leads: tuple[str, ...], readings: Sequence[Reading]) -> list[Reading]:
    """The fewest readings that contradict each other, found by leaving out all that are not needed for it."""
    kept = list(readings)
    for one in readings:
        fewer = [r for r in kept if r is not one]
        best = best_fits(leads, fewer)
        if not best or best[0].wrong:
            kept = fewer
    return kept


def _kind_fits(one: Reading, path: tuple[int, ...] | None) -> bool:
    """Whether a reading is open, nought or a resistance as the path between its leads is."""
    if path is None:
        return one.may_be_open
    if one.band is None:
        return False
    return one.band[0] <= JOINED_KOHM if not path else one.band[1] > JOINED_KOHM


def _fits(
    structure: Structure,
    readings: Sequence[Reading],
    paths: Sequence[tuple[int, ...] | None],
    wrong_kind: frozenset[int],
) -> Iterator[Fit]:
    """The structure with as few further readings left out as its resistances need."""
    of_coils = [k for k, path in enumerate(paths) if path and k not in wrong_kind]
    for count in range(MOST_WRONG - len(wrong_kind) + 1):
        fits = False
        for left_out in combinations(of_coils, count):
            kept = {k: paths[k] or () for k in of_coils if k not in left_out}
            kohm = _coil_bands(len(structure.coils), readings, kept)
            if kohm is not None:
                fits = True
                yield Fit(structure, kohm, wrong_kind | set(left_out))
        if fits:
            return


def _coil_bands(
    coils: int, readings: Sequence[Reading], paths: Mapping[int, tuple[int, ...]]
) -> tuple[Band | None, ...] | None:
    """What each coil can have, from bands of single coils and of both in series; None where nothing can."""
    each: list[Band] = [ANY_COIL] * coils
    series: Band = (0.0, coils * ANY_COIL[1])
    measured: set[int] = set()
    for k, path in paths.items():
        band_read = readings[k].band or ANY_COIL
        measured |= set(path)
        if len(path) == 1:
            each[path[0]] = _overlap(each[path[0]], band_read)
        else:
            series = _overlap(series, band_read)
    if coils > 1:
        first, second = each
        series = _overlap(series, (first[0] + second[0], first[1] + second[1]))
        each = [
            _overlap(one, (series[0] - other[1], series[1] - other[0]))
            for one, other in ((first, second), (second, first))
        ]
        if series[0] > series[1]:
            return None
    if any(low > high for low, high in each):
        return None
    return tuple(b if k in measured else None for k, b in enumerate(each))


def _overlap(a: Band, b: Band) -> Band:
    return max(a[0], b[0]), min(a[1], b[1])


AS_WELL = 0.03
"""Explanations that lie no further apart than two meters do are both named."""
TYPED_IN_OHMS_FROM = 1000.0
"""A reading of a thousand kilo-ohm and more, that is a pickup's in ohms, was typed in ohms."""
POT_AT_LEAST = 0.8
"""A pot within its 20 per cent."""


def expected_kohm(
    job: Job,
    setting: Setting,
    kohm_by_pickup: Mapping[str, float],
    *,
    volume_kohm: float | None = None,
    kohm_by_coil: Mapping[CoilKey, float] | None = None,
) -> float | None:
    """What the meter should read; None where a member's resistance is not known.

    ``kohm_by_coil`` is asked for members that are one coil of two. ``volume_kohm``: the pot, full up.
    """
    members = [_member_kohm(job, m, kohm_by_pickup, kohm_by_coil or {}) for m in setting.on]
    if any(m.share is not None for m in setting.on):
        return None  # a knob that is not full up is a resistance of its own
    groups: dict[str, list[float | None]] = {}
    branches: list[list[float | None]] = []
    for member, kohm in zip(setting.on, members, strict=True):
        if member.group is None:
            branches.append([kohm])
        elif member.group in groups:
            groups[member.group].append(kohm)
        else:
            groups[member.group] = [kohm]
            branches.append(groups[member.group])
    other: Join = "series" if setting.join == "parallel" else "parallel"
    joined = [_setting_kohm(b, join=other, volume_kohm=None) for b in branches]
    return _setting_kohm(joined, join=setting.join, volume_kohm=volume_kohm)


def kohm_without_each(
    job: Job, setting: Setting, kohm_by_pickup: Mapping[str, float], *, volume_kohm: float | None = None
) -> dict[str, float]:
    """What the meter would read with one member of a parallel setting missing, by that member's pickup."""
    if setting.join != "parallel" or len(setting.on) == 1 or not setting.plain:
        return {}
    members = [_member_kohm(job, m, kohm_by_pickup, {}) for m in setting.on]
    result = {}
    for k, member in enumerate(setting.on):
        rest = [*members[:k], *members[k + 1 :]]
        kohm = _setting_kohm(rest, join=setting.join, volume_kohm=volume_kohm)
        if kohm is not None:
            result[member.pickup] = kohm
    return result


def jack_reading(
    expected: float,
    read: float | None,
    *,
    volume_kohm: float | None = None,
    without: Mapping[str, float] | None = None,
) -> JackReading:
    """What a reading at the jack means; ``read`` None is open, ``without`` as from `kohm_without_each`."""
    missing = () if read is None else _missing(read, without or {})
    code: JackReadingCode
    if read is not None and read >= TYPED_IN_OHMS_FROM and _near(read / 1000, expected):
        code = "typed in ohms"
    elif read is None or (volume_kohm is None and read >= FINGERS_FROM_KOHM):
        code = "open"
    elif read <= JOINED_KOHM:
        code = "short"
    elif _near(read, expected):
        code = "as expected"
    elif volume_kohm is not None and read >= volume_kohm * POT_AT_LEAST:
        code = "volume pot alone"
    elif missing:
        code = "pickup missing"
    elif read < expected:
        code = "low by hands" if _near(read, parallel(expected, BODY_KOHM)) else "low"
    else:
        code = "high" if without else "high alone"
    return JackReading(code, expected, read, missing)


def _setting_kohm(members: Sequence[float | None], *, join: Join, volume_kohm: float | None) -> float | None:
    each = [kohm for kohm in members if kohm is not None]
    if len(each) < len(members):
        return None
    kohm = sum(each) if join == "series" else parallel(*each)
    return kohm if volume_kohm is None else parallel(kohm, volume_kohm)


def _member_kohm(
    job: Job, member: Member, by_pickup: Mapping[str, float], by_coil: Mapping[CoilKey, float]
) -> float | None:
    pickup = job.pickup(member.pickup)
    if pickup is not None and (member.circuit or (pickup.circuit and member.pickup not in by_pickup)):
        circuit = circuit_from(job.circuit_of(member) or "1")
        ohm = resistance(circuit, {k: kohm * 1e3 for k, kohm in coil_kohms(pickup, by_coil).items()})
        return None if ohm is None or isinf(ohm) else ohm / 1e3
    if pickup is not None and pickup.coil_kohm is not None and member.coil is not None:
        return pickup.coil_kohm[member.coil - 1]
    if member.coil is None or (pickup is not None and not pickup.made.several):
        return by_pickup.get(member.pickup)
    return by_coil.get((member.pickup, member.coil))


def coil_kohms(pickup: Pickup, by_coil: Mapping[CoilKey, float]) -> dict[int, float]:
    """The resistance of each coil of a pickup: as job.toml has it, else as it was measured."""
    if pickup.coil_kohm is not None:
        return dict(enumerate(pickup.coil_kohm, start=1))
    return {number: kohm for (name, number), kohm in by_coil.items() if name == pickup.name}


def _missing(read: float, without: Mapping[str, float]) -> tuple[str, ...]:
    """Whose absence explains a reading: the nearest, and others that explain it about as well."""
    off = {name: abs(read - kohm) / kohm for name, kohm in without.items() if _near(read, kohm)}
    least = min(off.values(), default=0.0)
    return tuple(name for name, distance in off.items() if distance <= least + AS_WELL)


def _near(read: float, expected: float) -> bool:
    return abs(read - expected) <= DIFFERS_SHARE * expected
