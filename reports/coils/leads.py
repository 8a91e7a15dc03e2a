"""Which lead of each pickup is which: ends of coils from ohms, and how to join them from what was heard.

Task: from the job, the standing entries and the belief to one `PickupLeads` for each pickup that has
readings in ohms, or is loose with leads that job.toml does not name. Shapes: none. Units: probabilities.
Signs: a coil as `CoilEnds.coils` has it, its first end hot.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from capture.bench_log import AnyEntry, LeadsInput, Ohms, Take
from capture.job import Job, Pickup
from reports.belief.summing import Belief
from reports.coils import coil_words as words
from reports.coils.finding import CoilEnds, find_coils
from reports.coils.like_ends import Joining, joining
from reports.coils.sanity import remarks_on
from reports.coils.structures import MOST_COILS

Member = tuple[str, int | None, bool]


@dataclass(frozen=True)
class CoilSigns:
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


def coil_relation(belief: Belief, pickup: str, reference: str) -> CoilSigns:
    """How the coils of a pickup stand to each other, and the first to the reference pickup.

    Where ``pickup`` is the reference itself, it is compared with nothing else.
    """
    first: Member = (pickup, 1, False)
    alike = belief.all_agree([first, (pickup, 2, False)])
    if reference == pickup:
        return CoilSigns(alike, None, None if alike is None else max(alike, 1 - alike))
    other: Member = (reference, None, False)
    in_phase = belief.all_agree([first, other])
    if alike is None or in_phase is None:
        return CoilSigns(alike, in_phase)
    both = belief.all_agree(
        [first, (pickup, 2, alike < 1 - alike), (reference, None, in_phase < 1 - in_phase)]
    )
    return CoilSigns(alike, in_phase, both)


def pickup_leads(job: Job, entries: Iterable[AnyEntry], belief: Belief) -> tuple[PickupLeads, ...]:
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
        found.append(PickupLeads(pickup.name, ends, _joining(job, pickup, ends, belief, walked), told))
    return tuple(found)


def _joining(
    job: Job, pickup: Pickup, ends: CoilEnds, belief: Belief, entries: Sequence[AnyEntry]
) -> Joining | None:
    """How to join the coils; not where readings contradict each other or are missing."""
    if pickup.name not in belief.ledger.wires.unjoined or ends.contradictions or ends.missing:
        return None
    if len(ends.coils) != MOST_COILS or pickup.coils != MOST_COILS:
        return None
    reference = job.reference.name
    signs = coil_relation(belief, pickup.name, reference)
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
