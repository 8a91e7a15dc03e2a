"""The wiring plan: the cheapest work that gives every setting what it is meant to do, coil by coil.

Task: from the signs as believed to one row a pickup, with a proof for every setting. Signs: as in
signs_now.py. The search is exact. Nothing is planned where a pair that shares a setting is unsettled: then
the row says what to measure. An aim that cannot be met leaves no rows, but the reason and the nearest plan;
where hum alone cannot cancel as wanted, the rows are those for the strings, with the reason.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from capture.job import Job
from reports.planning import plan_words
from reports.planning.clashes import smallest_clash
from reports.planning.from_job import demand_for, place_for, planned_settings
from reports.planning.model import Demand, Place, coils_after, hum_of_share
from reports.planning.model import Plan as Choices
from reports.planning.proof import given_up, open_proof, proof_of
from reports.planning.rows import rows_of
from reports.planning.search import Found, best
from reports.planning.signs_now import SignsNow, signs_now
from reports.verdict import AimProof, WiringRow
from reports.wires import Wires

__all__ = ["Plan", "SignsNow", "signs_now", "wiring_plan"]


@dataclass(frozen=True)
class Plan:
    """The rows, or none and the reason; rows and a reason where hum that was to cancel cannot.

    ``nearest`` is the plan that misses least, where something cannot be met and it is not what ``rows`` say;
    ``nearest_says`` names it as such. ``ties`` are other plans of the same cost. ``proof`` has a row a
    setting, of ``rows``, or of ``nearest`` where there are none.
    """

    rows: tuple[WiringRow, ...]
    reason: str = ""
    proof: tuple[AimProof, ...] = ()
    ties: tuple[str, ...] = ()
    nearest: tuple[WiringRow, ...] = ()
    nearest_says: str = ""


def wiring_plan(job: Job, wires: Wires, signs: SignsNow, *, ask: Mapping[str, str]) -> Plan:
    """The plan for a job; ``ask`` says for each pickup what to measure where its sign is not known."""
    listed = planned_settings(job)
    unknown = signs.not_joined(listed, reference=job.reference.name)
    is_open = [any(m.pickup in unknown for m in s.on) for s in listed]
    places = [place_for(p, job, wires, signs, known=p.name not in unknown) for p in job.pickups]
    every = [demand_for(s, job) for s in listed]
    demands = [d for d, left_open in zip(every, is_open, strict=True) if not left_open]
    used = {m.pickup for s in listed if len({n.pickup for n in s.on}) > 1 for m in s.on}

    def rows(plan: Choices) -> tuple[WiringRow, ...]:
        return rows_of(job, wires, signs, places, plan, used=used, unknown=unknown, ask=ask)

    def proof(plan: Choices) -> tuple[AimProof, ...]:
        return tuple(
            open_proof(d) if left_open else proof_of(places, d, plan)
            for d, left_open in zip(every, is_open, strict=True)
        )

    def ties(found: Found) -> tuple[str, ...]:
        return plan_words.ties(places, found.plans[1:], count=found.count - 1)

    found = best(places, demands)
    if not found.phase_unmet and not found.quiet_unmet:
        return Plan(rows(found.plan), "", proof(found.plan), ties(found))
    missed = given_up(proof(found.plan), every)
    work = plan_words.work(places, found.plan)
    if found.phase_unmet:
        return Plan(
            (),
            _why_not(places, [replace(d, quiet=False) for d in demands], job),
            proof(found.plan),
            ties(found),
            rows(found.plan),
            plan_words.NEAREST.format(work, missed),
        )
    strings = best(places, [replace(d, quiet=False) for d in demands])
    reason = f"{_why_not(places, demands, job)} {plan_words.WITHOUT_QUIET}"
    more_quiet = _misses(proof(strings.plan)) > found.quiet_unmet
    return Plan(
        rows(strings.plan),
        reason,
        proof(strings.plan),
        ties(strings),
        rows(found.plan) if more_quiet else (),
        plan_words.LESS_HUM.format(work, missed) if more_quiet else "",
    )


def _misses(proofs: Sequence[AimProof]) -> int:
    return sum(p.wanted_quiet and p.hum_cancels is False for p in proofs)


def _why_not(places: Sequence[Place], demands: Sequence[Demand], job: Job) -> str:
    """The fewest settings that no work at hand satisfies together, and why."""
    clash = smallest_clash(places, demands)
    odd = len(clash) == 1 and clash[0].quiet and _always_hums(places, clash[0])
    held = dict.fromkeys(share.place for d in clash for share in d.shares)
    fixed = [places[k].name for k in held if not job.pickups[k].turnable]
    return plan_words.clash(clash, odd=odd, fixed=fixed)


def _always_hums(places: Sequence[Place], demand: Demand) -> bool:
    """Whether no turning over of its coils could ever make hum cancel: they cannot be paired off."""
    sums = {0}
    for share in demand.shares:
        place = places[share.place]
        parts = {
            sum(hum_of_share(coils_after(place, share, c), series=demand.series).values())
            for c in place.choices
        }
        sums = {x + turned for x in sums for part in parts for turned in (part, -part)}
    return 0 not in sums
