"""From a plan to the rows of the verdict: one a pickup, lead by lead, with its reason and its warnings.

Task: WiringRow for every pickup. Signs: as in signs_now.py. Leads are named as they are to be after the work.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from capture.job import Job, Pickup
from reports.planning import limits, plan_words
from reports.planning.model import Choice, Place, Plan
from reports.planning.signs_now import SignsNow
from reports.verdict import WiringRow
from reports.wires import Wires


def rows_of(
    job: Job,
    wires: Wires,
    signs: SignsNow,
    places: Sequence[Place],
    plan: Plan,
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
                leads={} if opened else _leads(pickup, wires, choice),
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
    choice: Choice,
    *,
    apart: bool,
    at_reference: Choice,
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
    name: str, reference: str, signs: SignsNow, choice: Choice, *, at_reference: Choice, together: bool
) -> str:
    if choice.magnet:
        return plan_words.TURN_WHY if choice.exchange else plan_words.TURN_FOR_STRINGS_WHY
    if choice.coils:
        return plan_words.COILS_WHY.format(" and of coil ".join(str(k) for k in choice.coils))
    opposed = signs.s[name] == -1 and not at_reference.turns_strings
    if opposed:
        return plan_words.EXCHANGE_WHY.format(reference)
    return plan_words.WITH_REST_WHY if together else plan_words.INSTEAD_WHY


def _leads(pickup: Pickup, wires: Wires, choice: Choice) -> dict[str, str]:
    """Where each lead ends: the chain from hot over the link to ground, with coils and ends turned round."""
    now = wires.leads_now(pickup.name)
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
