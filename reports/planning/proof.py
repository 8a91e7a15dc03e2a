"""The proof of a plan, setting by setting: signs before and after, and what they make of the aim and the hum.

Task: one AimProof a setting. Signs: as in model.py, of every coil that the setting holds, in its order; a
setting that the plan leaves open has none. Nothing is searched here: signs are only turned and compared.
"""

from __future__ import annotations

from collections.abc import Sequence

from reports.planning.model import LEAVE, Coil, Demand, Place, Plan, coils_after, outcome
from reports.verdict import AimProof

OPEN = "{}: not settled, so nothing is promised; measure before you solder."
AS_IT_IS, AFTER = "as it is", "after the work"
MEASURE = ": measure the winding first (hum on each and on both)"
HUM = {
    True: "hum cancels",
    False: "hum does not cancel",
    None: "whether hum cancels is not known",
}


def proof_of(places: Sequence[Place], demand: Demand, plan: Plan) -> AimProof:
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
