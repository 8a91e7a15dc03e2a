"""The bench's reference coil: what one job says of a pickup and it, for another job; and a row of pickups.

`relation_from` takes what a job found of one of its pickups and the coil, as a log entry for another job;
`batch_of` compares a row of pickups with the coil, and each with the rest of the row. Units: kilo-ohm, dB.
Sign: in phase is P(s equal), of a loose pickup with hot and ground as its leads are named.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import log10
from operator import methodcaller
from statistics import median

from capture import LogError
from capture.job import Job, Pickup
from capture.log import AnyEntry, Check, LeadsInput, in_fixed_order, new_entry, utc_now
from capture.takes.folder import JobFolder
from reports.evidence.cache import take_results
from reports.evidence.input_paths import with_input_paths
from reports.evidence.leads import LeadHistory, lead_history
from reports.evidence.paths import bench_paths
from reports.evidence.results import TakeResult
from reports.evidence.settings import measured_kohm
from reports.inference.posterior import Assessment, JobEvidence, gather_evidence
from reports.messages import shelf as words
from reports.model.gestures import PULSED
from reports.model.notes import NotSettled, OneErrorLeft, Phase, Standing
from reports.model.rig_notes import Misfit
from reports.model.verdict import PairRequest
from reports.verdict.advice import next_for

LEAST_DOUBT = 1e-4
"""However sure a job is: what is brought from it is an entry that a person made of it."""
KOHM_APART = 0.15
"""A share of the row's median; coils of one make differ by some per cent, so this is another wire or a fault
(common practice)."""
WEAK_DB = 6.0
"""Below the row's median: lifts of one hand differ by a few dB."""
FEWEST_OF_A_ROW = 3
"""Of fewer nothing is the usual one."""


@dataclass(frozen=True)
class BatchRow:
    """One pickup of a row: how it stands to the coil, and what does not fit.

    ``hot`` and ``ground`` by their names, the tagged lead as such, None where they have none; ``lifts`` are
    those that count, ``last`` the day of the last of them.
    """

    pickup: str
    phase: Phase | None
    standing: Standing
    p_in_phase: float | None
    hot: str | None
    ground: str | None
    tagged: bool
    kohm: float | None
    lifts: int
    misfits: tuple[Misfit, ...]
    because: NotSettled | OneErrorLeft | None
    next: PairRequest | None
    last: str | None = None


@dataclass(frozen=True)
class Batch:
    """A row of pickups against the reference coil ``shelf``, by lifts with ``tools`` on the days ``days``.

    ``checked``: the tools of which a staple was tried; the others may be magnets for all that is known, and
    are doubted as such (`reports.inference.sequential`), so that one alone settles nothing.
    """

    title: str
    shelf: str
    coil: str
    rows: tuple[BatchRow, ...]
    tools: tuple[str, ...]
    days: tuple[str, ...]
    checked: tuple[str, ...] = ()


def relation_from(folder: JobFolder, name: str, *, shelf: str, called: str) -> Check:
    """Return what a job found of its pickup ``name`` and the reference coil ``shelf``, as an entry.

    ``called``: the pickup's name in the job that it is for.

    Raises
    ------
    LogError
        The job has no such pickup or coil, found nothing, or does not know the leads.

    """
    pickup, coil = folder.job.pickup(name), _coil(folder, shelf)
    if pickup is None or pickup.shelf is not None:
        raise LogError(words.NO_SUCH_PICKUP.format(name=name, title=folder.job.title))
    _, results, evidence = _evidence(folder)
    found = evidence.posterior.assess(methodcaller("in_phase", coil.name, name))
    phase = _phase(found)
    if found is None or phase is None:
        raise LogError(words.NOTHING_FOUND.format(name=name, shelf=shelf, title=folder.job.title))
    hot, ground, _ = _leads_by_name(evidence.history, pickup)
    if not pickup.fitted and (hot is None or ground is None):
        raise LogError(words.LEADS_WITHOUT_NAMES.format(name=name, title=folder.job.title))
    lifts = [t.entry for t in _lifts(results) if _is_of(t, name) or _is_of(t, coil.name)]
    seen = max((e.at[:10] for e in lifts if e.at), default=utc_now()[:10])
    return new_entry(
        Check,
        at=utc_now(),
        what="shelf",
        pickup=called,
        shelf=shelf,
        opposed=phase == "out of phase",
        doubt=_doubt(found),
        seen=seen,
        hot=None if pickup.fitted else hot,
        ground=None if pickup.fitted else ground,
        tool=_one({e.tool for e in lifts}),
        rig=_one({e.rig for e in lifts}),
        job=folder.job.title or None,
    )


def relation_for(job: Job, name: str, *, other: JobFolder, called: str | None = None) -> Check:
    """What another job found of the pickup that is ``name`` in this one, ``called`` so there.

    Raises
    ------
    LogError
        Neither job has a reference coil, or the other one found nothing.

    """
    coils = [p.shelf for p in job.pickups if p.shelf is not None]
    if not coils:
        raise LogError(words.NO_COIL_AT_ALL.format(title=job.title))
    mine = [one for one in coils if any(p.shelf == one for p in other.job.pickups)]
    return relation_from(other, called or name, shelf=(mine or coils)[0], called=name)


def batch_of(folder: JobFolder) -> Batch:
    """Compare a row of pickups with the reference coil of the job.

    Raises
    ------
    LogError
        The job has no reference coil.

    """
    coil = _coil(folder, None)
    entries, results, evidence = _evidence(folder)
    names = [p.name for p in folder.job.own_pickups]
    lifts = _lifts(results)
    found = {name: evidence.posterior.assess(methodcaller("in_phase", coil.name, name)) for name in names}
    misfits = _misfits(
        {name: _phase(found[name]) for name in names},
        {name: kohm for name, kohm in measured_kohm(folder.job, entries).items() if name in names},
        {name: db for name in names if (db := _level_db(lifts, name)) is not None},
    )
    rows = []
    for pickup in folder.job.own_pickups:
        one, mine = found[pickup.name], [t for t in lifts if _is_of(t, pickup.name)]
        more = [Misfit("lifts disagree")] if mine and (one is None or one.standing == "unsettled") else []
        more += [Misfit("faulty takes")] * any(r.faults and _is_of(r, pickup.name) for r in results)
        rows.append(
            _row(
                pickup,
                coil.name,
                one,
                evidence,
                kohm=measured_kohm(folder.job, entries).get(pickup.name),
                lifts=sum(len(t.pulses) for t in mine),
                misfits=(*misfits[pickup.name], *more),
                last=max((t.entry.at[:10] for t in mine if t.entry.at), default=None),
            )
        )
    tools = tuple(dict.fromkeys(t.entry.tool for t in lifts if t.entry.tool))
    days = tuple(sorted({t.entry.at[:10] for t in lifts if t.entry.at}))
    checked = tuple(
        t for t in tools if any(isinstance(e, Check) and e.tool == t and e.staple for e in entries)
    )
    return Batch(folder.job.title, str(coil.shelf), coil.name, tuple(rows), tools, days, checked)


def _row(
    pickup: Pickup,
    coil: str,
    found: Assessment | None,
    evidence: JobEvidence,
    *,
    kohm: float | None,
    lifts: int,
    misfits: tuple[Misfit, ...],
    last: str | None,
) -> BatchRow:
    hot, ground, tagged = _leads_by_name(evidence.history, pickup)
    settled = found is not None and found.standing == "settled"
    because, request = (
        (None, None)
        if settled
        else next_for(evidence.posterior, coil, pickup.name, found=found, conflicts=())
    )
    return BatchRow(
        pickup.name,
        _phase(found),
        "unsettled" if found is None else found.standing,
        None if found is None else found.p,
        hot,
        ground,
        tagged,
        kohm,
        lifts,
        misfits,
        because,
        request,
        last,
    )


def _misfits(
    phases: Mapping[str, Phase | None], kohm: Mapping[str, float], levels: Mapping[str, float]
) -> dict[str, list[Misfit]]:
    """What each pickup of a row has otherwise than the row."""
    found: dict[str, list[Misfit]] = {name: [] for name in phases}
    told = [p for p in phases.values() if p is not None]
    usual = next((p for p in told if 2 * told.count(p) > len(told) >= FEWEST_OF_A_ROW), None)
    for name, phase in phases.items():
        if usual is not None and phase not in (None, usual):
            found[name].append(Misfit("opposed to the row"))
    if len(kohm) >= FEWEST_OF_A_ROW:
        middle = median(kohm.values())
        for name, value in kohm.items():
            if abs(value - middle) > KOHM_APART * middle:
                found[name].append(Misfit("resistance", value, middle))
    if len(levels) >= FEWEST_OF_A_ROW:
        middle = median(levels.values())
        for name, value in levels.items():
            if middle - value > WEAK_DB:
                found[name].append(Misfit("weak", value, middle))
    return found


def _coil(folder: JobFolder, shelf: str | None) -> Pickup:
    coils = [p for p in folder.job.pickups if p.shelf is not None and shelf in (None, p.shelf)]
    if not coils:
        raise LogError(
            words.NO_COIL.format(title=folder.job.title, shelf=shelf)
            if shelf
            else words.NO_COIL_AT_ALL.format(title=folder.job.title)
        )
    return coils[0]


def _evidence(folder: JobFolder) -> tuple[Sequence[AnyEntry], Sequence[TakeResult], JobEvidence]:
    entries = in_fixed_order(folder.log.standing)
    takes = take_results(folder)
    results = with_input_paths(takes, rigs=bench_paths(takes, entries).rigs)
    return entries, results, gather_evidence(folder.job, lead_history(folder.job, entries), entries, results)


def _phase(found: Assessment | None) -> Phase | None:
    if found is None or found.standing == "unsettled":
        return None
    return "in phase" if found.p > 1 - found.p else "out of phase"


def _doubt(found: Assessment) -> float:
    """What is left open, so that twice of it is no less than with every prior doubled."""
    side = found.p > 1 - found.p
    left, worst = (1 - found.p, 1 - found.low) if side else (found.p, found.high)
    return max(left, worst / 2, LEAST_DOUBT)


def _leads_by_name(history: LeadHistory, pickup: Pickup) -> tuple[str | None, str | None, bool]:
    leads, tag = history.leads_now(pickup.name), history.tag_of(pickup.name)
    hot, ground = leads.hot, leads.ground
    if tag is None or hot is None or ground is None:
        return hot, ground, False
    return tag.named(hot), tag.named(ground), True


def _lifts(results: Iterable[TakeResult]) -> list[TakeResult]:
    return [t for t in results if t.entry.gesture in PULSED and t.pulses and not t.faults]


def _is_of(result: TakeResult, pickup: str) -> bool:
    """Whether a take was meant to be of a pickup."""
    return any((i.pickup if isinstance(i, LeadsInput) else i) == pickup for i in result.entry.inputs)


def _level_db(lifts: Iterable[TakeResult], pickup: str) -> float | None:
    peaks = [p.peak for t in lifts if _is_of(t, pickup) for p in t.pulses]
    return 20 * log10(median(peaks)) if peaks and median(peaks) > 0 else None


def _one(said: set[str | None]) -> str | None:
    """What all say, None where they differ or one says nothing."""
    return next(iter(said)) if len(said) == 1 else None
