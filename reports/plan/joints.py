"""Which lead of each pickup is which: the ends of its coils from ohms, how to join them from what was heard.

Task: from the job, the standing entries, the takes and the posterior to one `LeadsRow` for each pickup that
has readings in ohms, or is loose with leads that job.toml does not name. Probabilities in 0..1. Signs: coils
are (a1, b1) and (a2, b2) as `CoilEnds.coils` has them, each with its first end hot.

Joined in series, the ground end of one coil meets the hot end of the other, so that both add on the strings.
Either coil may be the one at hot: a lead that the shield lies on becomes ground where it can. Of stacked
coils the lower one is joined the other way round: one magnet goes through both, so that coils which add on
the strings are wound alike and add up hum; the lower one hears little of the strings, and the stack has the
sign of the upper one. So nothing is joined before it is known that they lie side by side: it was said, a
compass over each faces opposite ways, or lifts are about as strong on both.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import log10
from statistics import median
from typing import Literal

from capture.job import Job, Pickup
from capture.log import AnyEntry, LeadsInput, Ohms, Pole, Take
from capture.log.entries import Role, clipped_input
from dsp.methods.tool_pulse import lobe_area
from reports.evidence.results import TakeResult
from reports.inference.posterior import Posterior
from reports.model.gestures import PULSED
from reports.model.lead_notes import (
    CoilJoint,
    JointAdvice,
    JointAdviceCode,
    LeadPair,
    LeadRequest,
    OhmsConflict,
)
from reports.model.verdict import LeadsRow, likely_sign, standing_of
from reports.ohms.coil_ends import CoilEnds, find_coils, ohms_remarks, upper_coil

Member = tuple[str, int | None, bool]
"""Pickup, coil (None: the whole of it), and whether turned over, as the posterior asks for it."""


@dataclass(frozen=True)
class CoilRelation:
    """What was heard of two coils whose joint is not made; None where no evidence connects them.

    ``p_alike``: that ``s`` of coil 2 equals that of coil 1; ``p_first_in_phase``: that coil 1 is in phase
    with the reference (None where the pickup is the reference itself); ``p_both``: that both are as they
    lean.
    """

    p_alike: float | None
    p_first_in_phase: float | None = None
    p_both: float | None = None


@dataclass(frozen=True)
class Joint:
    """How two coils are to be joined.

    ``roles``: what each lead is to be, empty where that is not at least likely; ``p``: that all of it is
    right; ``request``: what is missing to know it.
    """

    why: CoilJoint | None = None
    p: float | None = None
    request: LeadRequest | None = None
    roles: Mapping[str, Role] = field(default_factory=dict)
    advice: tuple[JointAdvice, ...] = ()


SOFTER_DB = 6.0
"""Lifts that differ by less between the coils of a pickup are as strong as side by side, where each coil has
poles of its own. Of a stack the lower coil hears a quarter of it (dsp.model.pickups): 12 dB less."""


def lead_rows(
    job: Job, entries: Iterable[AnyEntry], posterior: Posterior, *, results: Iterable[TakeResult]
) -> tuple[LeadsRow, ...]:
    """What is known of the leads of every pickup with readings in ohms, or loose without named leads.

    ``results``: what was heard, of which lifts on the coils say how these lie.

    One that was recorded whole by its name alone had its coils joined, and two leads on the clips. What a
    change in the log has wired already is not to be joined again.
    """
    entries, results = list(entries), list(results)
    measured = {e.pickup for e in entries if isinstance(e, Ohms)}
    takes = [e for e in entries if isinstance(e, Take)]
    changed = posterior.graph.history.changed
    rows = []
    for pickup in job.pickups:
        whole = any(clipped_input(take, pickup.name, job) == pickup.name for take in takes)
        if (pickup.fitted or pickup.leads or whole) and pickup.name not in measured:
            continue
        ends = find_coils(pickup, entries)
        joint = _joint_of_pickup(job, pickup, ends, posterior, entries)
        if joint.roles and (request := _layout_request(pickup, ends, entries, results)):
            joint = Joint(joint.why and CoilJoint(joint.why.like_ends), joint.p, request)
        p = joint.p if joint.roles else None
        rows.append(
            LeadsRow(
                pickup=pickup.name,
                coils=ends.coils,
                kohm=ends.kohm,
                leads=ends.leads,
                shield_on=ends.shield_on,
                to_join=not pickup.fitted
                and pickup.made.several
                and pickup.hot is None
                and pickup.ground is None
                and pickup.name not in changed,
                roles=dict(joint.roles),
                like_ends=() if joint.why is None else joint.why.like_ends,
                p=p,
                standing=standing_of(p),
                why=joint.why,
                also=joint.advice,
                contradictions=ends.contradictions,
                remarks=ohms_remarks(pickup, entries, ends),
                next=_next_request(ends, joint),
            )
        )
    return tuple(rows)


def _next_request(ends: CoilEnds, joint: Joint) -> LeadRequest | OhmsConflict | None:
    """The one thing to do next for a pickup's leads; None where they are known."""
    if ends.contradictions:
        return ends.contradictions[-1]
    if ends.missing:
        return LeadRequest("measure a pair", ends.pickup, ends.missing[:1])
    return joint.request if ends.coils else LeadRequest("measure the coils", ends.pickup)


def _joint_of_pickup(
    job: Job, pickup: Pickup, ends: CoilEnds, posterior: Posterior, entries: Sequence[AnyEntry]
) -> Joint:
    """How to join the coils; nothing is known of it where readings contradict each other or are missing."""
    if pickup.name not in posterior.graph.history.unjoined or ends.contradictions or ends.missing:
        return Joint()
    if len(ends.coils) != 2 or pickup.made.count != 2:
        return Joint()
    if side_by_side_doubted(pickup, entries):
        return Joint(request=LeadRequest("stacked or side by side", pickup.name, ends.coils))
    upper = None
    if pickup.made.layout == "stacked":
        upper = upper_coil(pickup, ends)
        if upper is None:
            return Joint(request=LeadRequest("which coil is above", pickup.name, ends.coils))
    reference = job.reference.name
    on_coil = {lead for coil in ends.coils for lead in coil}
    same_point = {lead: group[0] for group in ends.joined for lead in group[1:]}
    return joint_of(
        ends,
        coil_relation(posterior, pickup.name, reference),
        reference=None if reference == pickup.name else reference,
        shields=tuple(lead for lead in ends.leads if lead not in on_coil and lead not in same_point),
        recorded=_recorded(entries, ends, reference),
        upper=upper,
        said=pickup.build is not None,
    )


def _layout_request(
    pickup: Pickup, ends: CoilEnds, entries: Sequence[AnyEntry], results: Sequence[TakeResult]
) -> LeadRequest | None:
    """What is asked before two coils are joined as side by side; None where it is known that they lie so."""
    if pickup.build is not None:
        return None
    facing = _facing(pickup, entries)
    if {1, 2} <= set(facing):
        return None  # opposite: alike was asked about before
    level = lift_levels_db(ends, results)
    if level is None:
        return LeadRequest("how coils lie", pickup.name, ends.coils)
    if abs(level) < SOFTER_DB:
        return None
    softer, louder = ends.coils[::-1] if level > 0 else ends.coils
    return LeadRequest("one coil softer", pickup.name, (softer, louder))


def lift_levels_db(ends: CoilEnds, results: Iterable[TakeResult]) -> float | None:
    """By how much lifts on coil 1 are stronger than on coil 2, dB; None without both on one rig."""
    areas: dict[str | None, dict[int, list[float]]] = {}
    for take in results:
        for item in take.entry.inputs:
            if not isinstance(item, LeadsInput) or item.pickup != ends.pickup or take.entry.gesture != "lift":
                continue
            coil = ends.coil_at(item.hot, item.ground)
            if coil is not None:
                there = areas.setdefault(take.entry.rig, {})
                there.setdefault(coil[0], []).extend(map(lobe_area, take.pulses))
    for of_rig in areas.values():
        one, two = (median(of_rig.get(k) or [0.0]) for k in (1, 2))
        if one > 0 and two > 0:
            return 20 * log10(one / two)
    return None


def _facing(pickup: Pickup, entries: Iterable[AnyEntry]) -> dict[int | None, str]:
    """What the compass read over each coil last."""
    return {e.coil: e.facing for e in entries if isinstance(e, Pole) and e.pickup == pickup.name}


def side_by_side_doubted(pickup: Pickup, entries: Iterable[AnyEntry]) -> bool:
    """Whether a compass read alike over both coils, which side by side face opposite ways.

    That is what one row of poles through both coils reads; how the coils lie has to be said first.
    """
    if pickup.build is not None or pickup.made.count != 2:
        return False
    facing = _facing(pickup, entries)
    return {1, 2} <= set(facing) and facing[1] == facing[2]


def coil_relation(posterior: Posterior, pickup: str, reference: str) -> CoilRelation:
    """How the coils of a pickup stand to each other, and the first to the reference pickup.

    Where ``pickup`` is the reference itself, it is compared with nothing else.
    """
    first: Member = (pickup, 1, False)
    alike = posterior.all_agree([first, (pickup, 2, False)])
    if reference == pickup:
        return CoilRelation(alike, p_both=_leaning(alike))
    in_phase = posterior.all_agree([first, (reference, None, False)])
    if alike is None or in_phase is None:
        return CoilRelation(alike, in_phase)
    both = posterior.all_agree(
        [first, (pickup, 2, alike < 1 - alike), (reference, None, in_phase < 1 - in_phase)]
    )
    return CoilRelation(alike, in_phase, both)


def _recorded(entries: Sequence[AnyEntry], ends: CoilEnds, reference: str) -> frozenset[str | int]:
    """The numbers of the coils, and the reference, that lifts or touches were recorded of."""
    recorded: set[str | int] = set()
    for entry in entries:
        if not isinstance(entry, Take) or entry.gesture not in PULSED:
            continue
        for item in entry.inputs:
            if isinstance(item, LeadsInput) and item.pickup == ends.pickup:
                coil = ends.coil_at(item.hot, item.ground)
                recorded |= set() if coil is None else {coil[0]}
            elif item == reference or (isinstance(item, LeadsInput) and item.pickup == reference):
                recorded.add(reference)
    return frozenset(recorded)


def joint_of(
    ends: CoilEnds,
    relation: CoilRelation,
    *,
    reference: str | None = None,
    shields: Sequence[str] = (),
    recorded: Collection[str | int] = (),
    upper: int | None = None,
    said: bool = True,
) -> Joint:
    """How to join the two coils of a pickup; ``upper``: of a stack the coil near the strings.

    ``said``: whether job.toml says how they lie.

    ``reference`` None: this is the pickup that others are compared with, so any way round will do.
    ``shields``: leads that are shield alone. ``recorded``: the coils (1, 2), and the reference, that there
    are takes of.
    """
    pickup, (one, two) = ends.pickup, ends.coils
    inside = ends.joints[0][0] if ends.joints else None
    p_alike, p_first = relation.p_alike, relation.p_first_in_phase
    # 1. Which ends are alike.
    alike = likely_sign(p_alike)
    if alike is None:
        return Joint(None, p_alike, _request_for_coils(ends, p_alike, reference, recorded))
    like_ends = CoilJoint((one[0], two[0] if alike > 0 else two[1]))
    # 2. Joined inside at two ends that should not meet, whatever is done at the leads.
    stack = upper is not None
    ends_meet = inside is not None and (one[0] == inside) == (like_ends.like_ends[1] == inside)
    if inside is not None and ends_meet != stack:
        if stack:
            return Joint(like_ends, _leaning(p_alike), LeadRequest("stack hums inside", pickup, ends.coils))
        request = LeadRequest("coils oppose inside", pickup, ends.coils, joint=inside)
        return Joint(like_ends, _leaning(p_alike), request)
    # 3. Which way round coil 1 is in phase with the reference.
    first_sign = 1 if reference is None else likely_sign(p_first)
    if reference is not None and first_sign is None:
        return Joint(like_ends, p_first, _request_for_first(ends, p_first, reference, recorded))
    p = relation.p_both
    if likely_sign(p) != 1:
        return Joint(like_ends, p, LeadRequest("more lifts on both coils", pickup))
    # 4. Each coil with its hot end first, and which of the two is at hot. Of a stack the lower one is turned.
    if stack:
        first_sign, alike = (first_sign or 1) * (1 if upper == 1 else -1), -alike
    first = one if first_sign == 1 else one[::-1]
    second = two if alike == first_sign else two[::-1]
    if inside is None:
        at_hot, at_ground = (second, first) if ends.shield_on == first[1] else (first, second)
    else:
        at_hot, at_ground = (first, second) if first[1] == inside else (second, first)
    (hot, inner), (outer, ground) = at_hot, at_ground
    roles: dict[str, Role] = {hot: "hot", inner: "link", outer: "link", ground: "ground"}
    roles |= dict.fromkeys(shields, "shield")
    roles |= {lead: roles[group[0]] for group in ends.joined for lead in group[1:] if group[0] in roles}
    return Joint(
        CoilJoint(like_ends.like_ends, (hot, inner, outer, ground), inside is not None, reference, stack),
        p,
        roles=roles,
        advice=_advice(
            at_hot,
            at_ground,
            inside=inside,
            shield_on=ends.shield_on,
            shields=shields,
            layout="stacked" if stack else "said" if said else "taken",
        ),
    )


def _advice(
    at_hot: LeadPair,
    at_ground: LeadPair,
    *,
    inside: str | None,
    shield_on: str | None,
    shields: Sequence[str],
    layout: Literal["stacked", "said", "taken"],
) -> tuple[JointAdvice, ...]:
    """What else can be made of the coils, and what to beware of."""
    (hot, inner), (outer, ground) = at_hot, at_ground
    advice = [JointAdvice("stack is quiet" if layout == "stacked" else "hum not known")]
    advice += [JointAdvice("if stacked")] if layout == "taken" else []
    if inside is None:
        advice.append(JointAdvice("in parallel", (hot, outer, inner, ground)))
    advice += [JointAdvice("link to ground", at_hot), JointAdvice("link to hot", at_ground)]
    if shields or shield_on is not None:
        advice.append(JointAdvice("shield to ground"))
    if shield_on is not None:
        code: JointAdviceCode = "shield makes ground" if shield_on == ground else "shield on another lead"
        advice.append(JointAdvice(code, (shield_on,)))
    return tuple(advice)


def _request_for_coils(
    ends: CoilEnds, p_alike: float | None, reference: str | None, recorded: Collection[str | int]
) -> LeadRequest:
    """The lifts that are missing; more of both coils, where all are there and say too little."""
    coils = tuple(coil for number, coil in enumerate(ends.coils, start=1) if number not in recorded)
    missing_reference = reference if reference not in recorded else None
    if p_alike is not None or not (coils or missing_reference):
        return LeadRequest("more lifts on both coils", ends.pickup)
    return LeadRequest("record lifts", ends.pickup, coils, missing_reference)


def _request_for_first(
    ends: CoilEnds, p_first: float | None, reference: str, recorded: Collection[str | int]
) -> LeadRequest:
    coils = ends.coils[:1]
    if p_first is not None:
        return LeadRequest("more lifts on one coil", ends.pickup, coils)
    return LeadRequest("record lifts", ends.pickup, () if 1 in recorded else coils, reference)


def _leaning(p: float | None) -> float | None:
    """The probability of the likelier of two answers."""
    return None if p is None else max(p, 1 - p)
