"""Remarks on what the readings of one pickup show together: loose and joined leads, the shield, a tap.

Task: from the structures that are left to sentences. Shapes: none. Units: kilohms. Signs: none.

Which leads of a pickup are the two ends of one coil, from its readings in ohms.

Task: all structures that the leads could have (reports.ohms.readings) are held against the readings
(reports.ohms.readings); what all that are left have in common is known, where they differ names the next
pair to measure, and where none is left the readings contradict each other. Units: kilohms. Shapes: none.
Signs: none: the ends of a coil are in order of their names, and so are the coils, whatever order they
were measured in.

Remarks on single readings: hands on the clips, slips of unit, open and shorted coils, the meter's range.

Task: from readings in ohms, and the coils found from them, to sentences. Units: kilohms, degrees Celsius.
Shapes: none. Signs: none.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from capture.job import Pickup
from capture.log import AnyEntry, LeadsInput, Ohms, Take
from reports.messages import leads as words
from reports.ohms.readings import (
    BODY_KOHM,
    COPPER_AT_C,
    COPPER_PER_KELVIN,
    FINGERS_FROM_KOHM,
    JOINED_KOHM,
    METER_RANGES_KOHM,
    MOST_COILS,
    MOST_LEADS,
    OHMS_TYPED_FROM,
    OHMS_TYPED_TO,
    SHORTED_SHARE,
    Band,
    Fit,
    Pair,
    Reading,
    across,
    best_fits,
    cannot_all_be_true,
    is_shield,
    reading,
)


def remarks_together(
    pickup: Pickup,
    answers: Sequence[Fit],
    mine: Sequence[Ohms],
    pairs: Sequence[Pair],
    leads: Sequence[str],
    *,
    dummy: bool,
    wrong: bool,
) -> tuple[str, ...]:
    """All that is worth saying; ``pairs`` are the leads of ``mine`` by their colours.

    ``dummy``: one coil has no magnet; ``wrong``: some reading contradicts the others.
    """
    said = [words.FINGERS.format(e.id, e.kohm, *e.between) for e in mine if _by_hands(e.kohm)]
    one, name = answers[0].structure, pickup.name
    if len(answers) > 1:
        every = len({frozenset(p) for p in pairs}) == len(list(combinations(leads, 2)))
        return (*said, *((words.STILL_OPEN.format(name),) if every and not wrong else ()))
    said += _of_leads(one.loose, one.joined, faults=one.faults)
    if len(one.coils) == 1 and pickup.coils > 1 and one.faults == 0:
        said.append(words.ONLY_TWO.format(*one.ends(0)))
    if len(one.coils) > 1 and one.meeting:
        outer = one.coils[0][0:0] + tuple(k for c in one.coils for k in c if one.points[k] not in one.meeting)
        ends = [one.points[k][0] for k in outer]
        said.append(words.TAPPED.format(" to ".join(ends), words.both(one.meeting[0])))
    if pickup.coils < len(one.coils) and not one.meeting:
        said.append(words.COILS_DIFFER.format(name, pickup.coils, len(one.coils)))
    if dummy and len(one.coils) > 1:
        said.append(words.DUMMY)
    if one.shield_on is not None:
        said.append(words.SHIELD_ON.format(one.shield_on))
    if not any(is_shield(lead) for lead in leads) and pickup.shield is None and one.coils:
        said.append(
            words.SHIELD_NOT_MEASURED.format(" and to ".join(one.ends(k)[0] for k in range(len(one.coils))))
        )
    return tuple(said)


def _of_leads(loose: tuple[str, ...], joined: tuple[tuple[str, ...], ...], *, faults: int) -> list[str]:
    said = [words.LEADS_JOINED.format(words.both(p)) for p in joined]
    if loose and faults == 0:
        said.append(words.SHIELD_ELSEWHERE.format(words.both(loose)))
    elif loose:
        said.append(words.NO_PATH.format(words.both(loose)))
    return said


def _by_hands(kohm: float | None) -> bool:
    return kohm is not None and kohm >= FINGERS_FROM_KOHM and not OHMS_TYPED_FROM <= kohm <= OHMS_TYPED_TO


MEET = 2


@dataclass(frozen=True)
class CoilEnds:
    """What the readings of one pickup show.

    ``coils`` are those that were measured, each by its two ends; ``joints`` groups of leads at which two
    coils meet; ``missing`` the next pair to measure; ``contradictions`` readings that cannot all be true.
    ``kohm`` has one value a coil, None where it follows only from others. ``leads`` are all leads named so
    far, ``open_pairs`` those between which nothing was read, ``joined`` groups of leads that are one: the
    first stands for all of them.
    """

    pickup: str
    coils: tuple[Pair, ...] = ()
    joints: tuple[tuple[str, ...], ...] = ()
    shield_on: str | None = None
    missing: tuple[str, ...] = ()
    contradictions: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    kohm: tuple[float | None, ...] = ()
    leads: tuple[str, ...] = ()
    open_pairs: tuple[Pair, ...] = ()
    joined: tuple[tuple[str, ...], ...] = ()
    measured: bool = False

    def _end_of(self, lead: str) -> str:
        """The end of a coil by which a lead that is joined to it goes."""
        return next((p[0] for p in self.joined if lead in p), lead)

    @property
    def outer(self) -> Pair | None:
        """The two ends of the whole, where two coils meet inside at a lead."""
        if not self.joints or len(self.coils) != MEET:
            return None
        ends = sorted(set(self.coils[0]) ^ set(self.coils[1]))
        return (ends[0], ends[1]) if len(ends) == MEET else None

    @property
    def parted(self) -> bool:
        """Whether two leads need not be the whole pickup: there are more than two and a shield."""
        named = [lead for lead in self.leads if not is_shield(lead)]
        if len(named) <= MEET or not self.measured:
            return False
        settled = len(self.coils) == 1 and not self.missing and not self.contradictions
        return len(named) > MEET + 1 or not settled

    def coil_at(self, lead: str, other: str) -> tuple[int, bool] | None:
        """The number (from 1) of the coil whose ends these are, and whether in the other order."""
        one, two = self._end_of(lead), self._end_of(other)
        for number, ends in enumerate(self.coils, start=1):
            if (one, two) == ends:
                return number, False
            if (two, one) == ends:
                return number, True
        return None


def find_coils(pickup: Pickup, entries: Iterable[AnyEntry], *, dummy: bool = False) -> CoilEnds:
    """What the standing entries show of a pickup's coils; ``dummy``: one of its coils has no magnet."""
    walked = [e for e in entries if isinstance(e, Ohms | Take)]
    mine = [e for e in walked if isinstance(e, Ohms) and e.pickup == pickup.name]
    leads = _leads(pickup, mine, walked)
    name = pickup.name
    if not mine:
        return CoilEnds(name, leads=leads)
    if len(leads) > MOST_LEADS + 1:
        said = words.TOO_MANY_LEADS.format(name, len(leads), MOST_LEADS)
        return CoilEnds(name, contradictions=(said,), leads=leads, measured=True)
    readings = [reading(e.id, _pair(pickup, e), e.kohm) for e in mine]
    fits = best_fits(leads, readings)
    if not fits:
        clash = _contradictions(name, leads, readings, mine, fits)
        return CoilEnds(name, contradictions=clash, leads=leads, measured=True)
    wrong = {r for f in fits for r in f.wrong}
    known = [r for k, r in enumerate(readings) if k not in wrong]
    answers = _different(fits)
    coils = _common_coils(answers)
    ordered = tuple(sorted(coils))
    meeting = {p for p in answers[0].structure.meeting if all(p in f.structure.meeting for f in answers)}
    shields = {f.structure.shield_on for f in answers}
    return CoilEnds(
        name,
        coils=ordered,
        joints=tuple(sorted(tuple(x for x in p if not is_shield(x)) or p for p in meeting)),
        shield_on=shields.pop() if len(shields) == 1 else None,
        missing=() if wrong else _missing(answers, leads, known),
        contradictions=_contradictions(name, leads, readings, mine, fits) if wrong else (),
        remarks=remarks_together(
            pickup, answers, mine, [r.pair for r in readings], leads, dummy=dummy, wrong=bool(wrong)
        ),
        kohm=tuple(_read(pair, mine, pickup) for pair in ordered),
        leads=leads,
        open_pairs=tuple(r.pair for r in known if r.may_be_open),
        joined=tuple(p for p in answers[0].structure.joined if all(p in f.structure.joined for f in answers)),
        measured=True,
    )


def _pair(pickup: Pickup, entry: Ohms) -> Pair:
    a, b = (_named(pickup, lead) for lead in entry.between)
    return a, b


def _named(pickup: Pickup, lead: str) -> str:
    return {"hot": pickup.hot, "ground": pickup.ground}.get(lead) or lead


def _leads(pickup: Pickup, mine: Sequence[Ohms], walked: Sequence[Ohms | Take]) -> tuple[str, ...]:
    """Every lead that the job, the readings or the clips of takes name, in order."""
    clips = (
        lead
        for e in walked
        if isinstance(e, Take)
        for item in e.inputs
        if isinstance(item, LeadsInput) and item.pickup == pickup.name
        for lead in (item.hot, item.ground)
    )
    return tuple(sorted({*pickup.leads, *clips, *(lead for e in mine for lead in _pair(pickup, e))}))


def _different(fits: Sequence[Fit]) -> list[Fit]:
    """One fit for each structure."""
    return list({f.structure: f for f in fits}.values())


def _common_coils(answers: Sequence[Fit]) -> set[Pair]:
    """Coils that every answer has, and that some reading was of."""
    each = [
        {f.structure.ends(k) for k in range(len(f.structure.coils)) if f.kohm[k] is not None} for f in answers
    ]
    return set.intersection(*each)


def _read(pair: Pair, mine: Sequence[Ohms], pickup: Pickup) -> float | None:
    """The last reading across a coil."""
    said = [e.kohm for e in mine if set(_pair(pickup, e)) == set(pair) and e.kohm is not None]
    if not said:
        return None
    return said[-1] / 1000 if OHMS_TYPED_FROM <= said[-1] <= OHMS_TYPED_TO else said[-1]


def _missing(answers: Sequence[Fit], leads: Sequence[str], known: Sequence[Reading]) -> tuple[str, ...]:
    """The pair whose reading leaves the fewest structures at worst; a coil never measured comes last."""
    measured = {frozenset(r.pair) for r in known}
    left = [p for p in combinations(leads, 2) if frozenset(p) not in measured]
    if len(answers) > 1:
        telling = [p for p in left if _at_worst(answers, p) < len(answers)] or [
            p for p in left if any(f.expected(p) is not None for f in answers)
        ]
        if telling:
            a, b = min(telling, key=lambda p: _at_worst(answers, p))
            return (_measure(a, b),)
        return ()
    (answer,) = answers
    never = [answer.structure.ends(k) for k, band in enumerate(answer.kohm) if band is None]
    return tuple(_measure(a, b) for a, b in sorted(never))


def _measure(a: str, b: str) -> str:
    first, second = (b, a) if is_shield(b) else (a, b)
    return words.MEASURE.format(first, second)


def _at_worst(answers: Sequence[Fit], pair: Pair) -> int:
    """How many answers are left after the least helpful reading of a pair."""
    bands = sorted(b for f in answers if (b := f.expected(pair)) is not None)
    worst = len(answers) - len(bands)
    group: list[Band] = []
    for one in bands:
        if group and one[0] >= max(high for _, high in group):
            group = []
        group.append(one)
        worst = max(worst, len(group))
    return worst


def _contradictions(
    name: str, leads: tuple[str, ...], readings: Sequence[Reading], mine: Sequence[Ohms], fits: Sequence[Fit]
) -> tuple[str, ...]:
    """The readings that cannot all be true, and which is most probably wrong or to be repeated."""
    clash = cannot_all_be_true(leads, readings)
    said = [words.CANNOT_ALL.format(words.both([r.entry for r in clash]), name)]
    suspects = {f.wrong for f in fits}
    if len(suspects) == 1:
        for k in sorted(suspects.pop()):
            a, b = readings[k].pair
            kohm = mine[k].kohm
            shown = words.OPEN if kohm is None else words.KOHM.format(kohm)
            said.append(words.PROBABLY_WRONG.format(readings[k].entry, a, b, shown, a, b, readings[k].entry))
    else:
        said.append(words.ONE_IS_WRONG.format(words.both([r.entry for r in clash])))
    return tuple(said)


def at_temperature(kohm: float, *, from_c: float, to_c: float) -> float:
    """What a copper coil that reads ``kohm`` at one temperature reads at another."""
    then, there = (1 + COPPER_PER_KELVIN * (c - COPPER_AT_C) for c in (from_c, to_c))
    return kohm * there / then


def through_hands(kohm: float, *, body_kohm: float = BODY_KOHM) -> float:
    """What the meter reads of a coil while a hand holds each clip."""
    return across(kohm, body_kohm)


def slip_of_unit(kohm: float) -> bool:
    """Whether the number was probably typed in ohms: 6600 for 6.6."""
    return OHMS_TYPED_FROM <= kohm <= OHMS_TYPED_TO


def meter_range(kohms: Iterable[float]) -> float | None:
    """The lowest range that holds all readings of coils; None for none, or more than any range holds."""
    coils = [k for k in kohms if JOINED_KOHM < k < FINGERS_FROM_KOHM]
    if not coils:
        return None
    return next((r for r in METER_RANGES_KOHM if r > max(coils)), None)


def remarks_on(pickup: Pickup, readings: Sequence[Ohms], ends: CoilEnds) -> tuple[str, ...]:
    """All that is worth saying of the readings of one pickup, beside which leads are whose."""
    mine = [r for r in readings if r.pickup == pickup.name]
    read = [r.kohm for r in mine if r.kohm is not None]
    said = [
        words.TYPED_IN_OHMS.format(r.id, r.kohm, r.kohm / 1000, r.kohm / 1000)
        for r in mine
        if r.kohm is not None and slip_of_unit(r.kohm)
    ]
    said += _open_or_shorted(pickup, mine, ends)
    said += _against_its_twin(ends)
    best = meter_range(read)
    if best is not None:
        said.append(_range_sentence(best))
    coils = [k for k in ends.kohm if k is not None]
    if coils:
        said.append(words.HANDS_OFF.format(max(coils), through_hands(max(coils))))
    return tuple(said)


def _open_or_shorted(pickup: Pickup, mine: Sequence[Ohms], ends: CoilEnds) -> list[str]:
    """Coils that are missing among those found: open between the only two leads, or joined end to end."""
    if len(ends.coils) >= pickup.coils:
        return []
    named = [lead for lead in ends.leads if not is_shield(lead)]
    said = []
    if len(named) == MOST_COILS and tuple(named) in ends.open_pairs:
        said.append(words.OPEN_COIL.format(pickup.name, *named))
    held = {lead for coil in ends.coils for lead in coil}
    for r in mine:
        joined = r.kohm is not None and r.kohm <= JOINED_KOHM
        if joined and not held & set(r.between) and not any(map(is_shield, r.between)):
            said.append(words.SHORTED.format(pickup.name, *r.between, r.kohm))
    return said


def _against_its_twin(ends: CoilEnds) -> list[str]:
    if len(ends.coils) != MOST_COILS or ends.joints or None in ends.kohm:
        return []
    (low, coil), (high, _) = sorted((k or 0.0, coil) for k, coil in zip(ends.kohm, ends.coils, strict=True))
    return [] if low >= SHORTED_SHARE * high else [words.PARTLY_SHORTED.format(ends.pickup, *coil, low, high)]


def _range_sentence(best: float) -> str:
    place = METER_RANGES_KOHM.index(best)
    below = words.OVER_RANGE.format(METER_RANGES_KOHM[place - 1]) if place > 0 else ""
    above = words.LOSES_DIGITS.format(METER_RANGES_KOHM[place + 1]) if best < METER_RANGES_KOHM[-1] else ""
    return words.RANGE.format(best, below, above)
