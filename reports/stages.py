"""Found, planned, after the work: whether the harness came out as planned.

Task: set three things side by side for every setting: what was found, what the work was to make of it, and
what the takes made after the work say by themselves. Signs: as in reports.settings. What was heard before
never speaks for "after" here, or a plan would confirm itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from capture.job import Job, Member, Setting
from reports.belief.summing import Belief
from reports.planning.wiring import Plan
from reports.settings import Work, hum_of, p_full, p_hum_cancels, sounds_of
from reports.verdict import Sounds, StageRow, WiringRow
from reports.wires import Wires

AS_PLANNED = "The harness came out as planned: every setting does what the work was to make of it."
AS_PLANNED_SO_FAR = "So far the harness came out as planned; {} not heard well enough yet after the work."
NOT_AS_PLANNED = "The harness did NOT come out as planned: {}. Look at the joints there before it is closed."
NOT_HEARD = "What was recorded after the work does not say yet whether the harness came out as planned."
NO_PLAN = "What was found gave no plan, so there is nothing to compare the work with."
IS_NOT = '"{}" was to be {} and is {}'

Planned = Literal["yes", "no", "unknown"]


def work_of(wires: Wires, found: Plan) -> Work | None:
    """What was done: as the log's changes have it, or else as what was found had it planned.

    None where neither says anything: then nothing was planned. A magnet that was to be turned is taken to be
    turned, since no entry of the log says so.
    """
    magnets = {row.pickup: row.turn_magnet for row in found.rows}
    if wires.changed:
        return Work({name: leads.turned for name, leads in wires.final.items()}, magnets)
    return Work({row.pickup: _turned(row) for row in found.rows}, magnets) if found.rows else None


def _turned(row: WiringRow) -> bool:
    """Whether the whole pickup comes out turned over: hot and ground exchanged, or each coil by itself."""
    return bool(row.exchange) != ({1, 2} <= set(row.coils_exchanged))


def stage_rows(
    job: Job, *, found: Belief, after: Belief, work: Work | None, joined: frozenset[str] = frozenset()
) -> tuple[StageRow, ...]:
    """One row for each setting of several pickups; ``after`` is what the takes after the work say alone.

    ``joined``: pickups whose coils were to be joined, in phase with the reference.
    """
    return tuple(
        _row(
            s,
            job,
            found=found,
            after=after,
            planned=_planned(s, job, found, work=work, joined=joined),
            work=work,
        )
        for s in job.settings
        if len(s.on) > 1
    )


def came_out(rows: Sequence[StageRow]) -> str:
    """One sentence on all rows together; empty where there are none."""
    if not rows:
        return ""
    wrong = [r for r in rows if r.as_planned == "no"]
    if wrong:
        return NOT_AS_PLANNED.format("; ".join(IS_NOT.format(r.setting, r.planned, r.after) for r in wrong))
    if all(r.planned == "unknown" for r in rows):
        return NO_PLAN
    unknown = [r for r in rows if r.as_planned == "unknown"]
    if len(unknown) == len(rows):
        return NOT_HEARD
    if unknown:
        names = " and ".join(f'"{r.setting}"' for r in unknown)
        return AS_PLANNED_SO_FAR.format(f"{names} {'was' if len(unknown) == 1 else 'were'}")
    return AS_PLANNED


def _planned(
    setting: Setting, job: Job, found: Belief, *, work: Work | None, joined: frozenset[str]
) -> Sounds:
    """What the work was to make of a setting; what was to be joined is in phase with the reference."""
    if work is None:
        return "unknown"
    new = [m for m in setting.on if m.pickup in joined]
    if not new or any(m.reversed or m.coil is not None for m in new):
        return sounds_of(p_full(setting, job, found, work=work))
    reference = Member(pickup=job.reference.name)
    others = tuple(m for m in setting.on if m.pickup not in joined)
    if job.reference.name not in {m.pickup for m in others}:
        others = (*others, reference)
    if len(others) == 1:
        return "full"
    return sounds_of(p_full(setting.model_copy(update={"on": others}), job, found, work=work))


def _row(
    setting: Setting, job: Job, *, found: Belief, after: Belief, planned: Sounds, work: Work | None
) -> StageRow:
    p_after = p_full(setting, job, after)
    now = sounds_of(p_after)
    known = "unknown" not in (planned, now)
    as_planned: Planned = "unknown" if not known else "yes" if planned == now else "no"
    return StageRow(
        setting=setting.name,
        found=sounds_of(p_full(setting, job, found)),
        planned=planned,
        after=now,
        p_after=p_after,
        as_planned=as_planned,
        hum_found=hum_of(p_hum_cancels(setting, job, found)),
        hum_planned="unknown" if work is None else hum_of(p_hum_cancels(setting, job, found, work=work)),
        hum_after=hum_of(p_hum_cancels(setting, job, after)),
    )
