"""Which leads of a pickup are the two ends of one coil, from its readings in ohms.

Task: all structures that the leads could have (reports.coils.structures) are held against the readings
(reports.coils.fitting); what all that are left have in common is known, where they differ names the next
pair to measure, and where none is left the readings contradict each other. Units: kilohms. Shapes: none.
Signs: none: the ends of a coil are in order of their names, and so are the coils, whatever order they
were measured in.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from capture.bench_log import AnyEntry, LeadsInput, Ohms, Take
from capture.job import Pickup
from reports.coils import coil_words as words
from reports.coils.fitting import Band, Fit, Reading, best_fits, cannot_all_be_true, reading
from reports.coils.limits import OHMS_TYPED_FROM, OHMS_TYPED_TO
from reports.coils.remarks import remarks_together
from reports.coils.structures import MOST_LEADS, Pair, is_shield

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
