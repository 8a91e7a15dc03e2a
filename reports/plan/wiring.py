"""The proof of a plan, setting by setting: signs before and after, and what they make of the aim and the hum.

Task: one AimProof a setting. Signs: as in model.py, of every coil that the setting holds, in its order; a
setting that the plan leaves open has none. Nothing is searched here: signs are only turned and compared.

From a plan to the rows of the verdict: one a pickup, lead by lead, with its reason and its warnings.

Task: WiringRow for every pickup. Signs: as in signs_now.py. Leads are named as they are to be after the work.

The wiring plan: the cheapest work that gives every setting what it is meant to do, coil by coil.

Task: from the signs as believed to one row a pickup, with a proof for every setting. Signs: as in
signs_now.py. The search is exact. Nothing is planned where a pair that shares a setting is unsettled: then
the row says what to measure. An aim that cannot be met leaves no rows, but the reason and the nearest plan;
where hum alone cannot cancel as wanted, the rows are those for the strings, with the reason.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from capture.job import Job, Pickup
from reports.evidence.leads import LeadHistory
from reports.messages import leads as limits
from reports.messages import leads as plan_words
from reports.model.plan import (
    LEAVE,
    Coil,
    Demand,
    WiringChoices,
    WorkChoice,
    WorkPlace,
    coils_after,
    hum_of_share,
    outcome,
)
from reports.model.verdict import AimProof, WiringRow
from reports.plan.search import (
    SearchResult,
    SignsNow,
    best,
    demand_for,
    place_for,
    planned_settings,
    signs_now,
    smallest_clash,
)

OPEN = "{}: not settled, so nothing is promised; measure before you solder."
AS_IT_IS, AFTER = "as it is", "after the work"
MEASURE = ": measure the winding first (hum on each and on both)"
HUM = {
    True: "hum cancels",
    False: "hum does not cancel",
    None: "whether hum cancels is not known",
}


def proof_of(places: Sequence[WorkPlace], demand: Demand, plan: WiringChoices) -> AimProof:
    """What a plan makes of one setting."""
    names = [places[share.place].name for share in demand.shares]
    before = [coils_after(places[s.place], s, LEAVE) for s in demand.shares]
    after = [coils_after(places[s.place], s, plan[s.place]) for s in demand.shares]
    aim, hum = outcome(places, demand, plan)
    labels = tuple(
        name if len(places[share.place].coils) == 1 else f"{name} coil {coil.number}"
        for name, share, coils in zip(names, demand.shares, after, strict=True)
        for coil in coils
    )
    flat = [coil for coils in after for coil in coils]
    turned = any(not plan[share.place].nothing for share in demand.shares)
    return AimProof(
        setting=demand.name,
        aim=demand.aim or "one coil",
        coils=labels,
        s_before=tuple(c.s for coils in before for c in coils),
        s_after=tuple(c.s for c in flat),
        w_before=tuple(_known_w([c for coils in before for c in coils])),
        w_after=tuple(_known_w(flat)),
        aim_met=aim,
        wanted_quiet=demand.quiet,
        hum_cancels=hum,
        says=_line(demand, labels, flat, names=names, aim=aim, hum=hum, turned=turned),
    )


def open_proof(demand: Demand) -> AimProof:
    """A setting whose evidence is not settled."""
    return AimProof(
        setting=demand.name,
        aim=demand.aim or "one coil",
        wanted_quiet=demand.quiet,
        says=OPEN.format(demand.name),
    )


def _known_w(coils: Sequence[Coil]) -> list[int | None]:
    """Windings, where all of a setting may be compared; None for a coil of another group than the first's."""
    groups = [c.w_group for c in coils]
    main = max(groups, key=groups.count)
    return [c.w if c.w_group == main else None for c in coils]


def _line(
    demand: Demand,
    labels: Sequence[str],
    coils: Sequence[Coil],
    *,
    names: Sequence[str],
    aim: bool,
    hum: bool | None,
    turned: bool,
) -> str:
    said = []
    if demand.aim is not None:
        same = len({c.s for c in coils}) == 1
        phase = "in phase" if same else "out of phase"
        wrong = "" if aim else f", where {demand.aim} was wanted"
        said.append(f"{phase} {AFTER if turned else AS_IT_IS}{wrong}")
    windings = ""
    if hum is not None and len({c.w_group for c in coils}) == 1:
        windings = ": " + ", ".join(
            f"{label} wound {'+' if c.w > 0 else '-'}" for label, c in zip(labels, coils, strict=True)
        )
    wrong = ", where quiet was wanted" if demand.quiet and hum is False else ""
    if demand.quiet and hum is None:
        windings = MEASURE
    said.append(f"{HUM[hum]}{wrong}{windings}")
    return f"{demand.name}: {' + '.join(dict.fromkeys(names))}, {'; '.join(said)}."


def given_up(proofs: Sequence[AimProof], demands: Sequence[Demand]) -> str:
    """The settings that a plan misses, with what was wanted of them."""
    missed = [
        f'"{d.name}" ({d.aim if p.aim_met is False else "quiet"})'
        for p, d in zip(proofs, demands, strict=True)
        if p.aim_met is False or (d.quiet and p.hum_cancels is False)
    ]
    return " and ".join(missed)


def rows_of(
    job: Job,
    history: LeadHistory,
    signs: SignsNow,
    places: Sequence[WorkPlace],
    plan: WiringChoices,
    *,
    used: Collection[str],
    unknown: Collection[str],
    ask: Mapping[str, str],
) -> tuple[WiringRow, ...]:
    """One row a pickup; ``used``: it matters to a setting; ``ask``: what to measure where it is not known."""
    reference = job.reference.name
    chosen = {place.name: choice for place, choice in zip(places, plan, strict=True)}
    rows = []
    for pickup in job.pickups:
        name, choice = pickup.name, chosen[pickup.name]
        if name in unknown and name != reference:
            why = plan_words.UNKNOWN_WHY.format(ask.get(name, "")).strip()
            rows.append(WiringRow(pickup=name, exchange=None, why=why))
            continue
        others = any(c.exchange or c.coils for other, c in chosen.items() if other != name)
        leads_move = choice.exchange or bool(choice.coils)
        opened = choice.exchange and limits.braid_is_ground(pickup)
        rows.append(
            WiringRow(
                pickup=name,
                exchange=choice.exchange if name in used or signs.s[name] is not None else None,
                turn_magnet=choice.magnet,
                coils_exchanged=choice.coils,
                leads={} if opened else _leads(pickup, history, choice),
                open_braid=opened,
                why=_why(
                    name,
                    reference,
                    signs,
                    choice,
                    apart=name not in used,
                    at_reference=chosen[reference],
                    together=others,
                ),
                warnings=limits.warnings_of_exchange(pickup, job, other_coil=choice.exchange)
                if leads_move
                else limits.warnings_of_leaving(pickup, others_exchanged=others),
            )
        )
    return tuple(rows)


def _why(
    name: str,
    reference: str,
    signs: SignsNow,
    choice: WorkChoice,
    *,
    apart: bool,
    at_reference: WorkChoice,
    together: bool,
) -> str:
    if not choice.nothing:
        return _why_work(name, reference, signs, choice, at_reference=at_reference, together=together)
    if apart:
        return plan_words.APART_WHY
    if name == reference:
        return plan_words.REFERENCE_WHY
    if signs.s[name] == -1 and at_reference.turns_strings:
        return plan_words.TOGETHER_WHY.format(reference)
    if signs.s[name] == 1:
        return plan_words.IN_PHASE_AS_IS.format(reference)
    return plan_words.OUT_WANTED_WHY.format(name)


def _why_work(
    name: str,
    reference: str,
    signs: SignsNow,
    choice: WorkChoice,
    *,
    at_reference: WorkChoice,
    together: bool,
) -> str:
    if choice.magnet:
        return plan_words.TURN_WHY if choice.exchange else plan_words.TURN_FOR_STRINGS_WHY
    if choice.coils:
        return plan_words.COILS_WHY.format(" and of coil ".join(str(k) for k in choice.coils))
    opposed = signs.s[name] == -1 and not at_reference.turns_strings
    if opposed:
        return plan_words.EXCHANGE_WHY.format(reference)
    return plan_words.WITH_REST_WHY if together else plan_words.INSTEAD_WHY


def _leads(pickup: Pickup, history: LeadHistory, choice: WorkChoice) -> dict[str, str]:
    """Where each lead ends: the chain from hot over the link to ground, with coils and ends turned round."""
    now = history.leads_now(pickup.name)
    if now.hot is None or now.ground is None or (pickup.fitted and not (choice.exchange or choice.coils)):
        return {}
    if now.link is None:
        hot, ground = (now.ground, now.hot) if choice.exchange else (now.hot, now.ground)
        return {hot: "hot", ground: "ground"}
    on_hot, on_ground = (now.hot, now.link[0]), (now.link[1], now.ground)
    hot_coil, ground_coil = (2, 1) if now.turned else (1, 2)
    if hot_coil in choice.coils:
        on_hot = on_hot[::-1]
    if ground_coil in choice.coils:
        on_ground = on_ground[::-1]
    chain = (*on_hot, *on_ground)
    hot, *link, ground = chain[::-1] if choice.exchange else chain
    return {hot: "hot", ground: "ground", **dict.fromkeys(link, "link")}


__all__ = ["SignsNow", "WiringPlan", "signs_now", "wiring_plan"]


@dataclass(frozen=True)
class WiringPlan:
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


def wiring_plan(job: Job, history: LeadHistory, signs: SignsNow, *, ask: Mapping[str, str]) -> WiringPlan:
    """The plan for a job; ``ask`` says for each pickup what to measure where its sign is not known."""
    listed = planned_settings(job)
    unknown = signs.not_joined(listed, reference=job.reference.name)
    is_open = [any(m.pickup in unknown for m in s.on) for s in listed]
    places = [place_for(p, job, history, signs, known=p.name not in unknown) for p in job.pickups]
    every = [demand_for(s, job) for s in listed]
    demands = [d for d, left_open in zip(every, is_open, strict=True) if not left_open]
    used = {m.pickup for s in listed if len({n.pickup for n in s.on}) > 1 for m in s.on}

    def rows(plan: WiringChoices) -> tuple[WiringRow, ...]:
        return rows_of(job, history, signs, places, plan, used=used, unknown=unknown, ask=ask)

    def proof(plan: WiringChoices) -> tuple[AimProof, ...]:
        return tuple(
            open_proof(d) if left_open else proof_of(places, d, plan)
            for d, left_open in zip(every, is_open, strict=True)
        )

    def ties(found: SearchResult) -> tuple[str, ...]:
        return plan_words.ties(places, found.plans[1:], count=found.count - 1)

    found = best(places, demands)
    if not found.phase_unmet and not found.quiet_unmet:
        return WiringPlan(rows(found.plan), "", proof(found.plan), ties(found))
    missed = given_up(proof(found.plan), every)
    work = plan_words.work(places, found.plan)
    if found.phase_unmet:
        return WiringPlan(
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
    return WiringPlan(
        rows(strings.plan),
        reason,
        proof(strings.plan),
        ties(strings),
        rows(found.plan) if more_quiet else (),
        plan_words.LESS_HUM.format(work, missed) if more_quiet else "",
    )


def _misses(proofs: Sequence[AimProof]) -> int:
    return sum(p.wanted_quiet and p.hum_cancels is False for p in proofs)


def _why_not(places: Sequence[WorkPlace], demands: Sequence[Demand], job: Job) -> str:
    """The fewest settings that no work at hand satisfies together, and why."""
    clash = smallest_clash(places, demands)
    odd = len(clash) == 1 and clash[0].quiet and _always_hums(places, clash[0])
    held = dict.fromkeys(share.place for d in clash for share in d.shares)
    fixed = [places[k].name for k in held if not job.pickups[k].turnable]
    return plan_words.clash(clash, odd=odd, fixed=fixed)


def _always_hums(places: Sequence[WorkPlace], demand: Demand) -> bool:
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
