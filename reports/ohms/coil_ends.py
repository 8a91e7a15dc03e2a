"""Which leads of a pickup are the two ends of one coil, from its readings in ohms, and what else these show.

Task: `find_coils` holds all structures that the leads could have (reports.ohms.readings) against the
readings: what all that are left have in common is known, where they differ names the next pair to measure,
and where none is left the readings contradict each other. `ohms_remarks` notes hands on the clips, slips of
unit, open and shorted coils, the shield, a tap, and the range of the meter. Units: kilo-ohm. The ends of a
coil are in order of their names, and so are the coils, whatever order they were measured in.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from capture.job import Pickup
from capture.log import AnyEntry, LeadsInput, Meter, Ohms, Take
from reports.model.lead_notes import LeadPair, OhmsConflict, OhmsRemark
from reports.ohms.readings import (
    BODY_KOHM,
    FINGERS_FROM_KOHM,
    JOINED_KOHM,
    METER_RANGES_KOHM,
    MOST_COILS,
    MOST_LEADS,
    SHORTED_SHARE,
    Band,
    Fit,
    Reading,
    Structure,
    best_fits,
    by_hands,
    is_shield,
    parallel,
    reading,
    smallest_contradiction,
    typed_in_ohms,
)


@dataclass(frozen=True)
class CoilEnds:
    """What the readings of one pickup show.

    ``coils`` are those that were measured, each by its two ends; ``joints`` groups of leads at which two
    coils meet; ``missing`` the next pairs to measure; ``contradictions`` readings that cannot all be true.
    ``kohm`` has one value a coil, None where it follows only from others. ``leads`` are all leads named so
    far, ``open_pairs`` those between which nothing was read, ``joined`` groups of leads that are one: the
    first stands for all of them. ``structures`` are those that the readings leave.
    """

    pickup: str
    coils: tuple[LeadPair, ...] = ()
    joints: tuple[tuple[str, ...], ...] = ()
    shield_on: str | None = None
    missing: tuple[LeadPair, ...] = ()
    contradictions: tuple[OhmsConflict, ...] = ()
    kohm: tuple[float | None, ...] = ()
    leads: tuple[str, ...] = ()
    open_pairs: tuple[LeadPair, ...] = ()
    joined: tuple[tuple[str, ...], ...] = ()
    measured: bool = False
    structures: tuple[Structure, ...] = ()

    @property
    def outer(self) -> LeadPair | None:
        """The two ends of the whole, where two coils meet inside at a lead."""
        if not self.joints or len(self.coils) != 2:
            return None
        ends = sorted(set(self.coils[0]) ^ set(self.coils[1]))
        return (ends[0], ends[1]) if len(ends) == 2 else None

    @property
    def pair_may_be_part(self) -> bool:
        """Whether a pair of leads need not be the whole pickup: there are more than two and a shield."""
        named = [lead for lead in self.leads if not is_shield(lead)]
        if len(named) <= 2 or not self.measured:
            return False
        settled = len(self.coils) == 1 and not self.missing and not self.contradictions
        return len(named) > 3 or not settled

    def coil_at(self, lead: str, other: str) -> tuple[int, bool] | None:
        """The number (from 1) of the coil whose ends these are, and whether in the other order."""
        one, two = (next((group[0] for group in self.joined if x in group), x) for x in (lead, other))
        for number, ends in enumerate(self.coils, start=1):
            if (one, two) == ends:
                return number, False
            if (two, one) == ends:
                return number, True
        return None


def upper_coil(pickup: Pickup, ends: CoilEnds | None) -> int | None:
    """The number of the coil of a stack that is near the strings; None where that was not said.

    Of coils that are told by their ``ends`` alone, the one that has the lead named in job.toml.
    """
    if ends is None:
        return next((c.number for c in pickup.made.coils if c.s_in_whole == 1), None)
    at = (k for k, pair in enumerate(ends.coils, start=1) if pickup.upper in pair)
    return next(at, None) if not isinstance(pickup.upper, int) else None


def find_coils(pickup: Pickup, entries: Iterable[AnyEntry]) -> CoilEnds:
    """What the standing entries show of a pickup's coils."""
    entries = list(entries)
    ohms = _ohms_of(pickup, entries)
    leads = _leads(pickup, ohms, entries)
    name = pickup.name
    if not ohms:
        return CoilEnds(name, leads=leads)
    if len(leads) > MOST_LEADS + 1:
        conflict = OhmsConflict("too many leads", name, lead_count=len(leads), most_leads=MOST_LEADS)
        return CoilEnds(name, contradictions=(conflict,), leads=leads, measured=True)
    readings = [reading(e.id, _pair(pickup, e), e.kohm) for e in ohms]
    fits = best_fits(leads, readings)
    wrong = {k for fit in fits for k in fit.wrong}
    conflicts = _conflicts(name, leads, readings, ohms, fits) if wrong or not fits else ()
    if not fits:
        return CoilEnds(name, contradictions=conflicts, leads=leads, measured=True)
    trusted = [r for k, r in enumerate(readings) if k not in wrong]
    answers = {fit.structure: fit for fit in fits}  # one fit for each structure
    structures = tuple(answers)
    coils = tuple(sorted(_common_coils(list(answers.values()))))
    meeting = [p for p in structures[0].meeting if all(p in s.meeting for s in structures)]
    shield_leads = {s.shield_on for s in structures}
    return CoilEnds(
        name,
        coils=coils,
        joints=tuple(sorted({tuple(x for x in p if not is_shield(x)) or p for p in meeting})),
        shield_on=shield_leads.pop() if len(shield_leads) == 1 else None,
        missing=() if wrong else _missing(list(answers.values()), leads, trusted),
        contradictions=conflicts,
        kohm=tuple(_last_reading(pair, ohms, pickup) for pair in coils),
        leads=leads,
        open_pairs=tuple(r.pair for r in trusted if r.may_be_open),
        joined=tuple(p for p in structures[0].joined if all(p in s.joined for s in structures)),
        measured=True,
        structures=structures,
    )


def _ohms_of(pickup: Pickup, entries: Iterable[AnyEntry]) -> list[Ohms]:
    return [e for e in entries if isinstance(e, Ohms) and e.pickup == pickup.name]


def _pair(pickup: Pickup, entry: Ohms) -> LeadPair:
    """The leads of a reading by their colours, where hot or ground was written."""
    colours = {"hot": pickup.hot, "ground": pickup.ground}
    a, b = (colours.get(lead) or lead for lead in entry.between)
    return a, b


def _leads(pickup: Pickup, ohms: Sequence[Ohms], entries: Sequence[AnyEntry]) -> tuple[str, ...]:
    """Every lead that the job, the readings or the clips of takes name, in order."""
    clips = (
        lead
        for e in entries
        if isinstance(e, Take)
        for item in e.inputs
        if isinstance(item, LeadsInput) and item.pickup == pickup.name
        for lead in (item.hot, item.ground)
    )
    return tuple(sorted({*pickup.leads, *clips, *(lead for e in ohms for lead in _pair(pickup, e))}))


def _common_coils(answers: Sequence[Fit]) -> set[LeadPair]:
    """Coils that every answer has, and that some reading was of."""
    each = [
        {f.structure.ends(k) for k in range(len(f.structure.coils)) if f.kohm[k] is not None} for f in answers
    ]
    return set.intersection(*each)


def _last_reading(pair: LeadPair, ohms: Sequence[Ohms], pickup: Pickup) -> float | None:
    """The last reading across a coil."""
    of_coil = [e.kohm for e in ohms if set(_pair(pickup, e)) == set(pair) and e.kohm is not None]
    if not of_coil:
        return None
    return of_coil[-1] / 1000 if typed_in_ohms(of_coil[-1]) else of_coil[-1]


def _missing(
    answers: Sequence[Fit], leads: Sequence[str], trusted: Sequence[Reading]
) -> tuple[LeadPair, ...]:
    """The pair whose reading leaves the fewest structures at worst; a coil never measured comes last."""
    measured = {frozenset(r.pair) for r in trusted}
    pairs = [p for p in combinations(leads, 2) if frozenset(p) not in measured]
    if len(answers) > 1:
        useful = [p for p in pairs if _left_at_worst(answers, p) < len(answers)] or [
            p for p in pairs if any(f.expected(p) is not None for f in answers)
        ]
        return tuple(_shield_first(p) for p in sorted(useful, key=lambda p: _left_at_worst(answers, p))[:1])
    (answer,) = answers
    never = sorted(answer.structure.ends(k) for k, band in enumerate(answer.kohm) if band is None)
    return tuple(_shield_first(pair) for pair in never)


def _shield_first(pair: LeadPair) -> LeadPair:
    return pair[::-1] if is_shield(pair[1]) else pair


def _left_at_worst(answers: Sequence[Fit], pair: LeadPair) -> int:
    """How many answers are left after the least helpful reading of a pair."""
    bands = sorted(b for f in answers if (b := f.expected(pair)) is not None)
    worst = len(answers) - len(bands)
    overlapping: list[Band] = []
    for one in bands:
        if overlapping and one[0] >= max(high for _, high in overlapping):
            overlapping = []
        overlapping.append(one)
        worst = max(worst, len(overlapping))
    return worst


def _conflicts(
    name: str, leads: tuple[str, ...], readings: Sequence[Reading], ohms: Sequence[Ohms], fits: Sequence[Fit]
) -> tuple[OhmsConflict, ...]:
    """The readings that cannot all be true, and which is most probably wrong or to be repeated."""
    entries = tuple(r.entry for r in smallest_contradiction(leads, readings))
    first = OhmsConflict("cannot all be true", name, entries)
    suspects = {f.wrong for f in fits}
    if len(suspects) != 1:
        return (first, OhmsConflict("one is wrong", name, entries))
    wrong = sorted(suspects.pop())
    return (
        first,
        *(
            OhmsConflict("probably wrong", name, (readings[k].entry,), readings[k].pair, ohms[k].kohm)
            for k in wrong
        ),
    )


def ohms_remarks(pickup: Pickup, entries: Iterable[AnyEntry], ends: CoilEnds) -> tuple[OhmsRemark, ...]:
    """All that is worth knowing of the readings of one pickup, beside which leads are whose."""
    name = pickup.name
    ohms = _ohms_of(pickup, entries)
    remarks = _remarks_on_structure(pickup, ohms, ends) if ends.structures else []
    remarks += [
        OhmsRemark("typed in ohms", name, kohm=(r.kohm, r.kohm / 1000), entry=r.id)
        for r in ohms
        if r.kohm is not None and typed_in_ohms(r.kohm)
    ]
    remarks += _open_or_shorted(pickup, ohms, ends, entries)
    remarks += _against_its_twin(ends)
    best = meter_range(r.kohm for r in ohms if r.kohm is not None)
    if best is not None:
        below = max((r for r in METER_RANGES_KOHM if r < best), default=None)
        above = min((r for r in METER_RANGES_KOHM if r > best), default=None)
        remarks.append(OhmsRemark("meter range", name, kohm=(best, below, above)))
    coils = [k for k in ends.kohm if k is not None]
    if coils:
        remarks.append(OhmsRemark("hands off", name, kohm=(max(coils), kohm_through_hands(max(coils)))))
    return tuple(remarks)


def _remarks_on_structure(pickup: Pickup, ohms: Sequence[Ohms], ends: CoilEnds) -> list[OhmsRemark]:
    """Remarks on what all readings show together: loose and joined leads, the shield, a tap."""
    name, first = pickup.name, ends.structures[0]
    remarks = [
        OhmsRemark("hands on the clips", name, e.between, (e.kohm,), e.id)
        for e in ohms
        if e.kohm is not None and by_hands(e.kohm)
    ]
    if len(ends.structures) > 1:
        every_pair = len({frozenset(_pair(pickup, e)) for e in ohms}) == len(
            list(combinations(ends.leads, 2))
        )
        if every_pair and not ends.contradictions:
            remarks.append(OhmsRemark("still open", name))
        return remarks
    coils, coil_ends = len(first.coils), [first.ends(k) for k in range(len(first.coils))]
    remarks += [OhmsRemark("leads joined", name, group) for group in first.joined]
    if first.loose:
        remarks.append(OhmsRemark("no path" if first.faults else "on no coil", name, first.loose))
    if coils == 1 and pickup.made.several and not first.faults:
        remarks.append(OhmsRemark("two leads alone", name, coil_ends[0]))
    if coils > 1 and first.meeting:
        outer = [first.points[k] for coil in first.coils for k in coil]
        remarks.append(
            OhmsRemark(
                "tapped",
                name,
                tuple(point[0] for point in outer if point not in first.meeting),
                joint=first.meeting[0],
            )
        )
    if pickup.made.count < coils and not first.meeting:
        remarks.append(OhmsRemark("coil count differs", name, coils=(pickup.made.count, coils)))
    if first.shield_on is not None:
        remarks.append(OhmsRemark("shield on a lead", name, (first.shield_on,)))
    if not any(map(is_shield, ends.leads)) and pickup.shield is None and coils:
        remarks.append(OhmsRemark("shield not measured", name, tuple(pair[0] for pair in coil_ends)))
    return remarks


def _open_or_shorted(
    pickup: Pickup, ohms: Sequence[Ohms], ends: CoilEnds, entries: Iterable[AnyEntry]
) -> list[OhmsRemark]:
    """Coils that are missing among those found: open between the only two leads, or joined end to end."""
    if len(ends.coils) >= pickup.made.count:
        return []
    named = tuple(lead for lead in ends.leads if not is_shield(lead))
    remarks = []
    if len(named) == 2 and set(named) in map(set, ends.open_pairs):
        read = [e for e in entries if isinstance(e, Meter) and e.pickup == pickup.name and e.kohm]
        remarks.append(
            OhmsRemark("open against the swing", pickup.name, named, (read[-1].kohm,), read[-1].id)
            if read
            else OhmsRemark("open coil", pickup.name, named)
        )
    on_coils = {lead for coil in ends.coils for lead in coil}
    for r in ohms:
        shorted = r.kohm is not None and r.kohm <= JOINED_KOHM
        if shorted and not on_coils & set(r.between) and not any(map(is_shield, r.between)):
            remarks.append(OhmsRemark("shorted coil", pickup.name, r.between, (r.kohm,)))
    return remarks


def _against_its_twin(ends: CoilEnds) -> list[OhmsRemark]:
    """A coil of two that reads far less than the other."""
    if len(ends.coils) != MOST_COILS or ends.joints or None in ends.kohm:
        return []
    (low, coil), (high, _) = sorted((k or 0.0, coil) for k, coil in zip(ends.kohm, ends.coils, strict=True))
    if low >= SHORTED_SHARE * high:
        return []
    return [OhmsRemark("partly shorted coil", ends.pickup, coil, (low, high))]


def kohm_through_hands(kohm: float, *, body_kohm: float = BODY_KOHM) -> float:
    """What the meter reads of a coil while a hand holds each clip."""
    return parallel(kohm, body_kohm)


def meter_range(kohms: Iterable[float]) -> float | None:
    """The lowest range that holds all readings of coils; None for none, or more than any range holds."""
    coils = [k for k in kohms if JOINED_KOHM < k < FINGERS_FROM_KOHM]
    if not coils:
        return None
    return next((r for r in METER_RANGES_KOHM if r > max(coils)), None)
