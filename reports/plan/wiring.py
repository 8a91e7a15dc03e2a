"""The wiring plan: the cheapest work that gives every setting what it is meant to do, coil by coil.

Task: `wiring_plan` goes from the signs as believed to one `WiringRow` a pickup, lead by lead, with a proof
for every setting. Signs as in reports/plan/search.py; leads are named as they are to be after the work.

Nothing is planned where a pair that shares a setting is not settled: then the row holds what to measure. Aims
that cannot be met together leave no rows, but the reason and the nearest plan; where hum alone cannot cancel
as wanted, the rows are those for the strings, with the reason.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from capture.job import Aim, Job, Member, Pickup, Setting
from capture.log.entries import OTHER, TAGGED
from reports.evidence.leads import LeadHistory, TaggedLead
from reports.model import lead_notes as notes
from reports.model.notes import Note
from reports.model.plan import (
    NO_WORK,
    Coil,
    Demand,
    PickupOptions,
    PickupWork,
    WiringWork,
    any_mixed,
    coils_after,
    ground_is_braid,
    hum_by_group,
    outcome,
    string_signs,
)
from reports.model.verdict import AimProof, WiringRow
from reports.plan.search import (
    CurrentSigns,
    SearchResult,
    best_plans,
    demand_of,
    pickup_options,
    planned_settings,
    smallest_conflict,
    without_quiet,
)


@dataclass(frozen=True)
class WiringPlan:
    """The rows, or none and the reason; rows and a reason where hum that was to cancel cannot.

    ``compromise_rows`` are of the plan that misses least, where something cannot be met and it is not what
    ``rows`` hold; ``compromise`` is about it. ``equal_plans`` are others of the same cost. ``proof`` has a
    row a setting, of ``rows``, or of ``compromise_rows`` where there are none.
    """

    rows: tuple[WiringRow, ...]
    reason: notes.DemandsConflict | None
    proof: tuple[AimProof, ...]
    equal_plans: tuple[notes.EqualPlan | notes.MoreEqualPlans, ...]
    compromise_rows: tuple[WiringRow, ...] = ()
    compromise: notes.CompromisePlan | None = None


def wiring_plan(
    job: Job, history: LeadHistory, signs: CurrentSigns, *, requests: Mapping[str, Note]
) -> WiringPlan:
    """The plan for a job; ``requests``: by pickup, what to measure where its sign is not settled."""
    return _Planner(job, history, signs, requests).plan()


def open_proof(demand: Demand) -> AimProof:
    """The proof of a setting whose evidence is not settled: nothing is promised."""
    return AimProof(
        setting=demand.name,
        aim=demand.aim or "one coil",
        wanted_quiet=demand.quiet,
        says=notes.SettingNotSettled(demand.name),
    )


class _Planner:
    """One job with its demands; a demand on a pickup that is not settled is left out of the search."""

    def __init__(
        self, job: Job, history: LeadHistory, signs: CurrentSigns, requests: Mapping[str, Note]
    ) -> None:
        settings = planned_settings(job)
        self.job, self.history, self.signs, self.requests = job, history, signs, requests
        self.unsettled = signs.unsettled_pickups(settings, reference=job.reference.name)
        self.pickups = [
            pickup_options(p, job, history, signs, settled=p.name not in self.unsettled) for p in job.pickups
        ]
        self.demands = [
            (
                demand_of(s, job),
                not any(m.pickup in self.unsettled or self._coil_not_known(m) for m in s.on),
            )
            for s in settings
        ]
        """Every demand, and whether its signs are settled."""
        self.sharing = {m.pickup for s in settings if len({n.pickup for n in s.on}) > 1 for m in s.on}

    def _coil_not_known(self, member: Member) -> bool:
        """Whether a member is one coil of a stack, of which nobody said whether it is the upper one."""
        pickup = self.job.pickup(member.pickup)
        built = None if pickup is None or member.coil is None else pickup.made.coil(member.coil)
        return built is not None and built.s_in_whole is None

    def plan(self) -> WiringPlan:
        """Search, and say what cannot be met."""
        demands = [demand for demand, settled in self.demands if settled]
        best = best_plans(self.pickups, demands)
        if not best.phase_unmet and not best.quiet_unmet:
            return WiringPlan(self._rows(best.plan), None, self._proof(best.plan), self._equal_plans(best))
        if best.phase_unmet:
            # Aims that exclude each other: no rows, but the plan that misses least.
            return WiringPlan(
                (),
                self._conflict(without_quiet(demands), strings_planned=False),
                self._proof(best.plan),
                self._equal_plans(best),
                self._rows(best.plan),
                self._compromise(best.plan, quieter=False),
            )
        # Hum alone: planned for the strings, and a plan that hums in fewer settings is named beside it.
        strings = best_plans(self.pickups, without_quiet(demands))
        proof = self._proof(strings.plan)
        quieter = sum(p.wanted_quiet and p.hum_cancels is False for p in proof) > best.quiet_unmet
        return WiringPlan(
            self._rows(strings.plan),
            self._conflict(demands, strings_planned=True),
            proof,
            self._equal_plans(strings),
            self._rows(best.plan) if quieter else (),
            self._compromise(best.plan, quieter=True) if quieter else None,
        )

    def _proof(self, plan: WiringWork) -> tuple[AimProof, ...]:
        return tuple(
            proof_of(self.pickups, demand, plan) if settled else open_proof(demand)
            for demand, settled in self.demands
        )

    def _rows(self, plan: WiringWork) -> tuple[WiringRow, ...]:
        work = {pickup.name: one for pickup, one in zip(self.pickups, plan, strict=True)}
        return tuple(
            self._unsettled_row(pickup.name) if pickup.name in self.unsettled else self._row(pickup, work)
            for pickup in self.job.pickups
            if pickup.source is None
        )

    def _unsettled_row(self, name: str) -> WiringRow:
        why = notes.PlanReason("not settled", name, self.job.reference.name, request=self.requests.get(name))
        return WiringRow(pickup=name, exchange=None, why=why)

    def _row(self, pickup: Pickup, plan: Mapping[str, PickupWork]) -> WiringRow:
        work, name = plan[pickup.name], pickup.name
        others_exchanged = any(w.exchange or w.coils for other, w in plan.items() if other != name)
        braid_opened = work.exchange and ground_is_braid(pickup)
        if work.exchange or work.coils:
            warnings = warnings_of_exchange(pickup, self.job, other_coil=work.exchange)
        elif others_exchanged and ground_is_braid(pickup):
            warnings = (notes.LeadWarning("braid stays", name),)
        else:
            warnings = ()
        exchange = None if name not in self.sharing and self.signs.s[name] is None else work.exchange
        if name in self.signs.deaf and self.signs.w[name] is None:
            exchange = None
        tag = self.history.tag_of(name)
        leads = {} if braid_opened else _leads(pickup, self.history, work)
        told_apart = pickup.fitted or ground_is_braid(pickup)
        if exchange is not None and self.history.stage == "found" and not told_apart:
            warnings += (_how_leads_are_told(name, tag),)
        return WiringRow(
            pickup=name,
            exchange=exchange,
            turn_magnet=work.magnet,
            coils_exchanged=work.coils,
            halves=tuple(c.under or () for c in pickup.made.coils) if self._in_halves(name) else (),
            leads=leads if tag is None else {tag.named(lead): role for lead, role in leads.items()},
            tag=tag.entry if tag is not None and (work.exchange or self.history.stage == "found") else None,
            read_as={} if tag is None else {TAGGED: tag.lead, OTHER: tag.other},
            open_braid=braid_opened,
            why=self._why(name, plan, others_exchanged=others_exchanged),
            warnings=warnings,
        )

    def _why(self, name: str, plan: Mapping[str, PickupWork], *, others_exchanged: bool) -> notes.PlanReason:
        code = self._reason(name, plan, others_exchanged=others_exchanged)
        reference, coils = self.job.reference.name, plan[name].coils
        if code == "left":
            return self._why_left(notes.PlanReason("waits for others", name, reference, coils=coils))
        return notes.PlanReason(code, name, reference, coils=coils)

    def _why_left(self, because: notes.PlanReason) -> notes.PlanReason:
        """Why a pickup is left that is out of phase with the reference: by what its settings ask for."""
        name = because.pickup
        shared = [
            s for s in planned_settings(self.job) if len({m.pickup for m in s.on}) > 1 and _holds(s, name)
        ]
        wanted = tuple(s.name for s in shared if s.aim == "out of phase")
        reversed_in = tuple(s.name for s in shared if any(m.reversed for m in s.on))
        others = tuple(dict.fromkeys(m.pickup for s in shared for m in s.on if m.pickup != name))
        unknown = tuple(other for other in others if other in self.unsettled)
        if wanted:
            return replace(because, code="out of phase wanted", settings=wanted)
        if reversed_in:
            return replace(because, code="reversed in a setting", settings=reversed_in)
        if unknown:
            together = because.reference in others
            code: notes.PlanReasonCode = "waits in its setting" if together else "waits for others"
            return replace(because, code=code, others=unknown)
        return replace(because, code="in phase with others", others=others)

    def _reason(
        self, name: str, plan: Mapping[str, PickupWork], *, others_exchanged: bool
    ) -> notes.PlanReasonCode | Literal["left"]:
        work, sign = plan[name], self.signs.s[name]
        if name in self.signs.deaf:
            if self.signs.w[name] is None:
                return "hum not known"
            return "exchanged for hum" if work.exchange else "quiet as it is"
        reference = self.job.reference.name
        reference_turned = plan[reference].turns_strings
        if work.magnet:
            return "magnet turned for hum" if work.exchange else "magnet turned for strings"
        if work.coils:
            return "half exchanged" if self._in_halves(name) else "coils exchanged"
        if work.exchange:
            if sign == -1 and not reference_turned:
                return "exchanged"
            return "exchanged with others" if others_exchanged else "exchanged instead of others"
        if name not in self.sharing:
            return "of the shelf" if self._of_the_shelf(name) else "shares no setting"
        if name == reference:
            return "is the reference"
        if self.signs.group[name] != self.signs.group[reference]:
            return "left"
        if sign == -1 and reference_turned:
            return "in phase once the reference is exchanged"
        return "in phase" if sign == 1 else "left"

    def _of_the_shelf(self, name: str) -> bool:
        pickup = self.job.pickup(name)
        return pickup is not None and pickup.shelf is not None

    def _in_halves(self, name: str) -> bool:
        pickup = self.job.pickup(name)
        return pickup is not None and pickup.made.layout == "halves"

    def _equal_plans(self, result: SearchResult) -> tuple[notes.EqualPlan | notes.MoreEqualPlans, ...]:
        named = [notes.EqualPlan(self._named_work(plan)) for plan in result.plans[1:]]
        more = result.count - len(result.plans)
        return (*named, notes.MoreEqualPlans(more)) if more > 0 else tuple(named)

    def _named_work(self, plan: WiringWork) -> tuple[notes.NamedWork, ...]:
        return tuple((p.name, work) for p, work in zip(self.pickups, plan, strict=True) if not work.nothing)

    def _compromise(self, plan: WiringWork, *, quieter: bool) -> notes.CompromisePlan:
        missed: list[tuple[str, Aim | Literal["quiet"]]] = []
        for proof, (demand, _) in zip(self._proof(plan), self.demands, strict=True):
            if demand.aim is not None and proof.aim_met is False:
                missed.append((demand.name, demand.aim))
            elif demand.quiet and proof.hum_cancels is False:
                missed.append((demand.name, "quiet"))
        return notes.CompromisePlan(self._named_work(plan), tuple(missed), quieter)

    def _conflict(self, demands: Sequence[Demand], *, strings_planned: bool) -> notes.DemandsConflict:
        """The fewest demands that no work at hand meets together, and why."""
        conflict = smallest_conflict(self.pickups, demands)
        odd_coils = len(conflict) == 1 and conflict[0].quiet and _always_hums(self.pickups, conflict[0])
        numbers = dict.fromkeys(member.pickup for d in conflict for member in d.members)
        fixed = tuple(self.job.pickups[k].name for k in numbers if not self.job.pickups[k].turnable)
        quiet = any(d.quiet for d in conflict)
        by_poles = any(self._poles_differ(d) for d in conflict if d.aim is not None)
        return notes.DemandsConflict(conflict, odd_coils, fixed if quiet else (), strings_planned, by_poles)

    def _poles_differ(self, demand: Demand) -> bool:
        """Whether coils of a setting have poles that stand otherwise from string to string."""
        coils = [c for m in demand.members for c in coils_after(self.pickups[m.pickup], m, NO_WORK)]
        patterns = [c.over for c in coils if all(c.over)]
        return any(p not in (patterns[0], tuple(-x for x in patterns[0])) for p in patterns[1:])


def _holds(setting: Setting, pickup: str) -> bool:
    return any(m.pickup == pickup for m in setting.on)


def proof_of(pickups: Sequence[PickupOptions], demand: Demand, plan: WiringWork) -> AimProof:
    """What a plan makes of one setting: signs before and after, whether its aim is met and hum cancels."""
    before = [coil for m in demand.members for coil in coils_after(pickups[m.pickup], m, NO_WORK)]
    after, labels = [], []
    for m in demand.members:
        pickup = pickups[m.pickup]
        for coil in coils_after(pickup, m, plan[m.pickup]):
            after.append(coil)
            labels.append(pickup.name if len(pickup.coils) == 1 else f"{pickup.name} coil {coil.number}")
    aim, hum = outcome(pickups, demand, plan)
    phase: Aim = "out of phase" if any_mixed(string_signs(after)) else "in phase"
    comparable = hum is not None and len({c.w_group for c in after}) == 1
    return AimProof(
        setting=demand.name,
        aim=demand.aim or "one coil",
        coils=tuple(labels),
        s_before=tuple(c.s for c in before),
        s_after=tuple(c.s for c in after),
        w_before=_comparable_w(before),
        w_after=_comparable_w(after),
        aim_met=aim,
        wanted_quiet=demand.quiet,
        hum_cancels=hum,
        says=notes.SettingProof(
            setting=demand.name,
            pickups=tuple(dict.fromkeys(pickups[m.pickup].name for m in demand.members)),
            phase=None if demand.aim is None else phase,
            aim=demand.aim,
            changed=any(not plan[m.pickup].nothing for m in demand.members),
            hum_cancels=hum,
            quiet_wanted=demand.quiet,
            windings=tuple(zip(labels, (c.w for c in after), strict=True)) if comparable else (),
        ),
    )


def _comparable_w(coils: Sequence[Coil]) -> tuple[int | None, ...]:
    """The windings of the largest group of a setting; None for coils of other groups."""
    groups = [c.w_group for c in coils]
    largest = max(groups, key=groups.count)
    return tuple(c.w if c.w_group == largest else None for c in coils)


def warnings_of_exchange(pickup: Pickup, job: Job, *, other_coil: bool) -> tuple[notes.LeadWarning, ...]:
    """What to mind when leads of a pickup are exchanged; ``other_coil``: a split leaves the other one."""
    codes: list[notes.LeadWarningCode] = []
    if ground_is_braid(pickup):
        codes.append("braid is ground")
    elif pickup.shield == "on ground":
        codes.append("shield on ground")
    elif pickup.shield is None:
        codes.append("shield unknown")
    if pickup.fitted:
        codes.append("fitted")
    warnings = [notes.LeadWarning(code, pickup.name) for code in codes]
    split = tuple(
        s.name for s in job.settings if any(m.pickup == pickup.name and m.coil is not None for m in s.on)
    )
    if split and other_coil:
        warnings.append(notes.LeadWarning("other coil of a split", pickup.name, split))
    return tuple(warnings)


def _how_leads_are_told(pickup: str, tag: TaggedLead | None) -> notes.LeadWarning:
    """What the names of a loose pickup's leads rest on."""
    if tag is None:
        return notes.LeadWarning("leads as read", pickup)
    read_as = "" if tag.lead == TAGGED else tag.lead
    return notes.LeadWarning("go by the tag", pickup, take=tag.take, read_as=read_as)


def _leads(pickup: Pickup, history: LeadHistory, work: PickupWork) -> dict[str, str]:
    """What each lead is to be: the chain from hot over the link to ground, turned round where exchanged."""
    now = history.leads_now(pickup.name)
    if now.hot is None or now.ground is None or (pickup.fitted and not (work.exchange or work.coils)):
        return {}
    if now.link is None:
        if work.coils:
            return {}
        hot, ground = (now.ground, now.hot) if work.exchange else (now.hot, now.ground)
        return {hot: "hot", ground: "ground"}
    on_hot, on_ground = (now.hot, now.link[0]), (now.link[1], now.ground)
    hot_coil, ground_coil = (2, 1) if now.turned else (1, 2)
    if hot_coil in work.coils:
        on_hot = on_hot[::-1]
    if ground_coil in work.coils:
        on_ground = on_ground[::-1]
    chain = (*on_hot, *on_ground)
    hot, *link, ground = chain[::-1] if work.exchange else chain
    return {hot: "hot", ground: "ground", **dict.fromkeys(link, "link")}


def _always_hums(pickups: Sequence[PickupOptions], demand: Demand) -> bool:
    """Whether no work on its coils could ever make hum cancel: they cannot be paired off."""
    reachable = {0}
    for member in demand.members:
        pickup = pickups[member.pickup]
        parts = {
            sum(
                hum_by_group(
                    coils_after(pickup, member, work), series=demand.series, weight=member.weight
                ).values()
            )
            for work in pickup.options
        }
        reachable = {total + signed for total in reachable for part in parts for signed in (part, -part)}
    return 0 not in reachable
