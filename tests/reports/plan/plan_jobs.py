"""Jobs for the plan, and the same sums done anew: a pickup is a chain of coils from hot to ground.

Rules: sources R1, P1 to P3. Exchanging hot and ground reverses the chain with every coil in
it; exchanging a coil's leads turns that coil where it stands; a split keeps a place of the chain.
"""

from __future__ import annotations

import itertools

from capture.job import Job, Member, Setting
from reports.evidence.leads import lead_history
from reports.model import plan as costs
from reports.plan.search import CurrentSigns
from reports.plan.wiring import wiring_plan

FOUR_LEADS = {"coils": 2, "hot": "violet", "ground": "grey", "link": ("orange", "brown")}


def planned(pickups, listed, *, s, w=None, group=None, requests=None, **coils):
    """The plan for pickups and settings; all signs known unless said."""
    job = Job(pickups=tuple(pickups), settings=tuple(listed))
    everyone = {p.name: job.reference.name for p in pickups}
    signs = CurrentSigns(s, dict.fromkeys(s) | (w or {}), group or everyone, **coils)
    return wiring_plan(job, lead_history(job, ()), signs, requests=requests or {})


def on(name, *members, **said):
    """A setting; a member is a name, or a name with a coil's number."""
    made = [Member(pickup=m) if isinstance(m, str) else Member(pickup=m[0], coil=m[1]) for m in members]
    return Setting(name=name, on=tuple(made), **said)


def work_of(rows):
    """(exchange, coils exchanged alone, magnet) by pickup."""
    return {r.pickup: (bool(r.exchange), set(r.coils_exchanged), r.turn_magnet) for r in rows}


def chain(windings, magnets, *, exchange, alone, turn):
    """The coils from hot to ground after the work, each as (w, s)."""
    coils = [
        [w * (-1 if k in alone else 1), m] for k, (w, m) in enumerate(zip(windings, magnets, strict=True), 1)
    ]
    if exchange:
        coils = [[-w, m] for w, m in reversed(coils)]
    return [(w, w * m * (-1 if turn else 1)) for w, m in coils]


def misses(job, bench, work):
    """(aims missed, hums missed) when every w is known; ``bench``: windings and magnets of each pickup."""
    phase = quiet = 0
    for setting in job.settings:
        heard, hum = [], 0.0
        for m in setting.on:
            exchange, alone, turn = work[m.pickup]
            coils = chain(*bench[m.pickup], exchange=exchange, alone=alone, turn=turn)
            if m.coil is not None and len(coils) == 2:
                coils = [coils[m.coil - 1]]
            turned = -1 if m.reversed else 1
            heard += [s * turned for _, s in coils]
            hum += turned * sum(w for w, _ in coils) / (len(coils) if setting.join == "parallel" else 1)
        whole_alone = len(setting.on) == 1 and setting.aim == "out of phase"
        if len(heard) > 1 and not whole_alone:
            phase += (abs(sum(heard)) == len(heard)) != (setting.aim == "in phase")
        quiet += setting.quiet and hum != 0
    return phase, quiet


def cost(job, work):
    total = 0.0
    for p in job.pickups:
        exchange, alone, turn = work[p.name]
        each = 3.0 if p.fitted else 1.0
        total += each * exchange + (each + costs.COIL_ALONE_EXTRA) * len(alone) + costs.TURN_MAGNET * turn
        if exchange or alone:
            total += costs.REFERENCE_EXTRA * (p.name == job.reference.name)
            if p.shield == "on ground":
                total += costs.SEPARATE_SHIELD if p.link else costs.BRAID_OPENED
    return total


def every_work(job):
    each = []
    for p in job.pickups:
        alone = [set(), {1}, {2}, {1, 2}] if p.coils == 2 and p.link else [set()]
        each.append(list(itertools.product((False, True), alone, (False, True) if p.turnable else (False,))))
    for chosen in itertools.product(*each):
        yield {p.name: c for p, c in zip(job.pickups, chosen, strict=True)}


def searched(job, bench, *, aloud=False):
    """(aims missed, hums missed, cost) of the best of all plans, and how many share it."""
    if aloud:
        job = job.model_copy(
            update={"settings": tuple(s.model_copy(update={"quiet": False}) for s in job.settings)}
        )
    ranked = [(*misses(job, bench, work), cost(job, work)) for work in every_work(job)]
    return min(ranked), ranked.count(min(ranked))
