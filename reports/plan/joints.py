"""How the two coils of a pickup are joined: like ends, the two leads to join, hot, ground and shield.

Task: from the ends of two coils and two probabilities to one `Joining`. Shapes: none. Units:
probabilities. Signs: the coils are (a1, b1) and (a2, b2); ``p_like`` is P(s of coil 2 with a2 hot equals
s of coil 1 with a1 hot), ``p_first`` is P(coil 1 with a1 hot is in phase with the reference pickup).

Joined in series, the ground end of one coil meets the hot end of the other, so that both add on the
strings. Either coil may be the one at hot: a lead that the shield lies on becomes ground where it can.

Which lead of each pickup is which: ends of coils from ohms, and how to join them from what was heard.

Task: from the job, the standing entries and the belief to one `PickupLeads` for each pickup that has
readings in ohms, or is loose with leads that job.toml does not name. Shapes: none. Units: probabilities.
Signs: a coil as `CoilEnds.coils` has it, its first end hot.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace

from capture.job import Job, Pickup
from capture.log import AnyEntry, LeadsInput, Ohms, Take
from capture.log.entries import Role
from reports.inference.posterior import Posterior
from reports.messages import leads as words
from reports.model.verdict import standing_of
from reports.ohms.coil_ends import CoilEnds, find_coils, remarks_on
from reports.ohms.readings import MOST_COILS, Pair


@dataclass(frozen=True)
class Joining:
    """How to wire the pickup; hot and ground None where that is not at least likely, and ``ask`` says why.

    ``link``: the two leads to join, the first of hot's coil; None where the joint is inside. ``p``: that all
    of this is right. ``shield``: the lead it is or lies on; it goes to ground. ``also``: what else can be
    made of the coils, and what to beware of.
    """

    hot: str | None = None
    ground: str | None = None
    link: tuple[str, str] | None = None
    like_ends: tuple[str, str] | None = None
    shield: str | None = None
    p: float | None = None
    why: str = ""
    ask: str = ""
    also: tuple[str, ...] = ()
    roles: dict[str, Role] = field(default_factory=dict)


def joining(
    pickup: str,
    coils: Sequence[Pair],
    p_like: float | None,
    *,
    p_first: float | None = None,
    p_all: float | None = None,
    reference: str | None = None,
    inside: str | None = None,
    shield_on: str | None = None,
    shields: Sequence[str] = (),
    heard: Collection[str | int] = (),
) -> Joining:
    """How to join two coils.

    ``p_all``: P(both answers together are as they lean); their product where it is not given.
    ``reference`` None: this is the pickup that others are compared with, so any way round will do.
    ``inside``: the lead at which the coils are joined already. ``shields``: leads that are shield alone.
    ``heard``: the numbers of the coils, and the reference, that takes were made of already.
    """
    if p_like is None or not _likely(p_like):
        return Joining(p=p_like, ask=_ask_for_coils(pickup, coils, p_like, reference, heard))
    (a1, b1), (a2, b2) = coils
    like = p_like > 1 - p_like
    alike = (a1, a2 if like else b2)
    said = words.LIKE_ENDS.format(*alike)
    if inside is not None and (a1 == inside) == (alike[1] == inside):
        return _opposed_inside(pickup, coils, inside, like_ends=alike, p=max(p_like, 1 - p_like))
    if reference is not None and (p_first is None or not _likely(p_first)):
        ask = _ask_for_first(pickup, coils[0], reference, p_first, heard)
        return Joining(like_ends=alike, p=p_first, why=said, ask=ask)
    straight = p_first is None or reference is None or p_first > 1 - p_first
    first = (a1, b1) if straight else (b1, a1)
    second = (a2, b2) if like == straight else (b2, a2)
    p = _together(p_like, None if reference is None else p_first) if p_all is None else p_all
    if not _likely(p) or p < 1 - p:
        ask = words.MORE_OF_BOTH.format(pickup)
        return Joining(like_ends=alike, p=p, why=said, ask=ask)
    if inside is None:
        at_hot, at_ground = (second, first) if shield_on == first[1] else (first, second)
    else:
        at_hot, at_ground = (first, second) if first[1] == inside else (second, first)
    return _joined(
        at_hot,
        at_ground,
        inside=inside,
        alike=alike,
        p=p,
        reference=reference,
        shield_on=shield_on,
        shields=shields,
    )


def _joined(
    at_hot: Pair,
    at_ground: Pair,
    *,
    inside: str | None,
    alike: tuple[str, str],
    p: float,
    reference: str | None,
    shield_on: str | None,
    shields: Sequence[str],
) -> Joining:
    """Both coils, hot end first, the one at hot first."""
    (hot, inner), (outer, ground) = at_hot, at_ground
    roles: dict[str, Role] = {hot: "hot", inner: "link", outer: "link", ground: "ground"}
    roles |= dict.fromkeys(shields, "shield")
    ending = words.FREE if reference is None else words.WITH_REFERENCE.format(reference)
    way = words.SERIES if inside is None else words.JOINED_INSIDE
    also = [words.HUM_UNKNOWN]
    if inside is None:
        also.append(words.PARALLEL.format(hot, outer, inner, ground))
    also += [words.SPLIT_TO_GROUND.format(hot, inner), words.SPLIT_TO_HOT.format(outer, ground)]
    if shields or shield_on is not None:
        also.append(words.SHIELD_TO_GROUND)
    if shield_on is not None and shield_on != ground:
        also.append(words.SHIELD_ON_WRONG_LEAD.format(shield_on))
    elif shield_on is not None:
        also.append(words.SHIELD_MADE_GROUND.format(shield_on))
    return Joining(
        hot=hot,
        ground=ground,
        link=None if inside is not None else (inner, outer),
        like_ends=alike,
        shield=shield_on or next(iter(shields), None),
        p=p,
        why=f"{words.LIKE_ENDS.format(*alike)} {way.format(inner, outer, hot, ground)}{ending}",
        also=tuple(also),
        roles=roles,
    )


def _opposed_inside(
    pickup: str, coils: Sequence[Pair], inside: str, *, like_ends: tuple[str, str], p: float
) -> Joining:
    one, other = (next(end for end in coil if end != inside) for coil in coils)
    ask = words.OPPOSED_INSIDE.format(pickup, inside, one, other, one, other, inside)
    return Joining(like_ends=like_ends, p=p, why=words.LIKE_ENDS.format(*like_ends), ask=ask)


def _ask_for_coils(
    pickup: str,
    coils: Sequence[Pair],
    p_like: float | None,
    reference: str | None,
    heard: Collection[str | int],
) -> str:
    """The lifts that are missing; on both coils more of them, where all are there and say too little."""
    missing = [
        words.RECORD_COIL.format(pickup, *coil) for k, coil in enumerate(coils, start=1) if k not in heard
    ]
    if reference is not None and reference not in heard:
        missing.append(words.RECORD_REFERENCE.format(reference))
    if p_like is not None or not missing:
        return words.MORE_OF_BOTH.format(pickup)
    return " ".join(missing)


def _ask_for_first(
    pickup: str, coil: Pair, reference: str, p_first: float | None, heard: Collection[str | int]
) -> str:
    if p_first is None:
        mine = [] if 1 in heard else [words.RECORD_COIL.format(pickup, *coil)]
        return " ".join((*mine, words.RECORD_REFERENCE.format(reference)))
    return words.MORE_OF_COIL.format(pickup, *coil)


def _together(p_like: float, p_first: float | None) -> float:
    """Both answers right, as if they were independent."""
    sure = max(p_like, 1 - p_like)
    return sure if p_first is None else sure * max(p_first, 1 - p_first)


def _likely(p: float) -> bool:
    return standing_of(p) != "unsettled"


Member = tuple[str, int | None, bool]


@dataclass(frozen=True)
class CoilRelation:
    """What was heard of two coils whose joint is not made; None where no evidence connects them.

    ``p_both``: that both answers are as they lean.
    """

    p_coils_alike: float | None
    p_first_in_phase_with_reference: float | None
    p_both: float | None = None


@dataclass(frozen=True)
class PickupLeads:
    """The coils of one pickup, how to join them (None where that is not asked or not known), remarks."""

    pickup: str
    ends: CoilEnds
    joining: Joining | None
    remarks: tuple[str, ...]


def coil_relation(posterior: Posterior, pickup: str, reference: str) -> CoilRelation:
    """How the coils of a pickup stand to each other, and the first to the reference pickup.

    Where ``pickup`` is the reference itself, it is compared with nothing else.
    """
    first: Member = (pickup, 1, False)
    alike = posterior.all_agree([first, (pickup, 2, False)])
    if reference == pickup:
        return CoilRelation(alike, None, None if alike is None else max(alike, 1 - alike))
    other: Member = (reference, None, False)
    in_phase = posterior.all_agree([first, other])
    if alike is None or in_phase is None:
        return CoilRelation(alike, in_phase)
    both = posterior.all_agree(
        [first, (pickup, 2, alike < 1 - alike), (reference, None, in_phase < 1 - in_phase)]
    )
    return CoilRelation(alike, in_phase, both)


def pickup_leads(job: Job, entries: Iterable[AnyEntry], posterior: Posterior) -> tuple[PickupLeads, ...]:
    """What is known of the leads of every pickup with readings in ohms, or loose without named leads."""
    walked = list(entries)
    measured = [e for e in walked if isinstance(e, Ohms)]
    found = []
    for pickup in job.pickups:
        known = pickup.fitted or pickup.leads
        if known and not any(e.pickup == pickup.name for e in measured):
            continue
        ends = find_coils(pickup, walked)
        told = (*ends.remarks, *remarks_on(pickup, measured, ends))
        found.append(PickupLeads(pickup.name, ends, _joining(job, pickup, ends, posterior, walked), told))
    return tuple(found)


def _joining(
    job: Job, pickup: Pickup, ends: CoilEnds, posterior: Posterior, entries: Sequence[AnyEntry]
) -> Joining | None:
    """How to join the coils; not where readings contradict each other or are missing."""
    if pickup.name not in posterior.graph.history.unjoined or ends.contradictions or ends.missing:
        return None
    if len(ends.coils) != MOST_COILS or pickup.coils != MOST_COILS:
        return None
    reference = job.reference.name
    signs = coil_relation(posterior, pickup.name, reference)
    on_coil = {lead for coil in ends.coils for lead in coil}
    one_point = {lead: group[0] for group in ends.joined for lead in group[1:]}
    found = joining(
        pickup.name,
        ends.coils,
        signs.p_coils_alike,
        p_first=signs.p_first_in_phase_with_reference,
        p_all=signs.p_both,
        reference=None if reference == pickup.name else reference,
        inside=ends.joints[0][0] if ends.joints else None,
        shield_on=ends.shield_on,
        shields=tuple(lead for lead in ends.leads if lead not in on_coil and lead not in one_point),
        heard=_heard(entries, ends, reference),
    )
    same = {lead: found.roles[end] for lead, end in one_point.items() if end in found.roles}
    return replace(found, roles=found.roles | same)


def _heard(entries: Sequence[AnyEntry], ends: CoilEnds, reference: str) -> frozenset[str | int]:
    """The numbers of the coils, and the reference, that lifts or touches were recorded of."""
    found: set[str | int] = set()
    for entry in entries:
        if not isinstance(entry, Take) or entry.gesture not in ("lift", "touch"):
            continue
        for item in entry.inputs:
            if isinstance(item, LeadsInput) and item.pickup == ends.pickup:
                coil = ends.coil_at(item.hot, item.ground)
                found |= set() if coil is None else {coil[0]}
            elif item == reference or (isinstance(item, LeadsInput) and item.pickup == reference):
                found.add(reference)
    return frozenset(found)


def next_step(leads: PickupLeads) -> str:
    """The one thing to do next for a pickup's leads; nothing where they are known."""
    if leads.ends.contradictions:
        return leads.ends.contradictions[-1]
    if leads.ends.missing:
        return leads.ends.missing[0]
    if leads.joining is not None:
        return leads.joining.ask
    return "" if leads.ends.coils else words.NO_COILS.format(leads.pickup)
