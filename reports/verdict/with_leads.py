"""What measured leads add to a verdict: how coils are joined, and what a meter should read at the jack.

Pickups whose coils are not joined yet, of which the plan itself knows nothing, add what their leads say or
ask for to the rows of the plan, its proof and the pairs. Units: kilo-ohm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from capture.job import Job
from capture.log import AnyEntry
from reports.evidence.settings import measured_kohm
from reports.model.lead_notes import LeadRequest, OhmsConflict
from reports.model.notes import (
    CoilsNotJoined,
    WireThenRecord,
)
from reports.model.verdict import (
    AimProof,
    JackOhms,
    LeadsRow,
    PairVerdict,
    WiringRow,
)
from reports.ohms.readings import expected_kohm
from reports.plan.search import demand_of, planned_settings
from reports.plan.wiring import open_proof

POTS_KOHM = (250.0, 500.0)
"""Usual volume pots, full up across the pickups: common practice."""


def rows_with_leads(rows: Sequence[WiringRow], leads: Sequence[LeadsRow]) -> tuple[WiringRow, ...]:
    """The plan, with a pickup whose coils are to be joined wired as its leads say."""
    by_name = {row.pickup: row for row in leads if row.to_join}
    return tuple(_wired(row, by_name.get(row.pickup)) for row in rows)


def proof_with_leads(
    proof: Sequence[AimProof], rows: Sequence[WiringRow], leads: Sequence[LeadsRow], *, job: Job
) -> tuple[AimProof, ...]:
    """The proof of every planned setting, left open where it holds a pickup that is not to be soldered yet.

    That is one of which the plan knows nothing, or whose leads are not known.
    """
    held = {row.pickup for row in rows if row.exchange is None}
    held |= {row.pickup for row in leads if row.to_join and not row.roles}
    return tuple(
        open_proof(demand_of(setting, job)) if held & {m.pickup for m in setting.on} else proved
        for setting, proved in zip(planned_settings(job), proof, strict=True)
    )


def pairs_with_leads(pairs: Sequence[PairVerdict], leads: Sequence[LeadsRow]) -> tuple[PairVerdict, ...]:
    """Pairs of which one pickup has no joint yet: what is asked for is what its leads ask for."""
    by_name = {row.pickup: row for row in leads if row.to_join}
    return tuple(_without_joint(pair, by_name.get(pair.a) or by_name.get(pair.b)) for pair in pairs)


def _without_joint(pair: PairVerdict, leads: LeadsRow | None) -> PairVerdict:
    if leads is None or pair.p_in_phase is not None:
        return pair
    known = bool(leads.roles)
    return pair.model_copy(
        update={
            "because": CoilsNotJoined(leads.pickup, planned=known),
            "next": WireThenRecord(leads.pickup) if known else leads.next,
        }
    )


def jack_ohms(job: Job, entries: Iterable[AnyEntry], leads: Sequence[LeadsRow]) -> tuple[JackOhms, ...]:
    """What the meter should read at the jack on each setting whose pickups were all measured."""
    whole = measured_kohm(job, entries)
    coils = coil_kohm(leads)
    rows = []
    for name in job.setting_names:
        setting = job.setting(name)
        if setting is None:
            continue
        bare, *potted = (
            expected_kohm(job, setting, whole, volume_kohm=pot, kohm_by_coil=coils)
            for pot in (None, *POTS_KOHM)
        )
        if bare is not None:
            rows.append(
                JackOhms(setting=name, kohm=bare, with_pot=dict(zip(_POT_NAMES, potted, strict=True)))
            )
    return tuple(rows)


def coil_kohm(leads: Sequence[LeadsRow]) -> dict[tuple[str, int], float]:
    """The measured resistance of each coil, by pickup and the coil's number from 1."""
    return {(row.pickup, k): v for row in leads for k, v in enumerate(row.kohm, start=1) if v is not None}


_POT_NAMES = tuple(f"{pot:g}" for pot in POTS_KOHM)


def _wired(row: WiringRow, leads: LeadsRow | None) -> WiringRow:
    if leads is None:
        return row
    known = bool(leads.roles)
    return row.model_copy(
        update={
            "exchange": False if known else None,
            "join_coils": known,
            "leads": dict(leads.roles),
            "why": leads.why if known else leads.next,
        }
    )


def lead_requests(leads: Sequence[LeadsRow]) -> tuple[LeadRequest | OhmsConflict, ...]:
    """What is to be measured or recorded yet to know the leads."""
    return tuple(row.next for row in leads if row.next is not None)
