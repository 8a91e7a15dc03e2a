"""From a job folder to the verdict.

Task: hear the takes, gather the evidence, sum it, plan the wiring, and put it all into the one verdict
model. Signs: as in dsp/signs.py; the verdict is about the guitar as it is wired at the latest stage.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from itertools import combinations

from capture.bench_log import LOG_FILE, AnyEntry, LeadsInput, Meter, Take
from capture.folder import JobFolder
from capture.job import Job, Setting
from capture.job_models import JOB_FILE
from reports.advice import AFTER_CHANGE, PROMISED, conflicts_of, meter_conflicts, next_for
from reports.analysis import HeardTake, hear_takes
from reports.belief.ledger import Ledger
from reports.belief.listened import listen
from reports.belief.metered import read_compass, read_meter
from reports.belief.summing import Belief
from reports.cautions import cautions_for
from reports.plan import Plan, SignsNow, wiring_plan
from reports.verdict import (
    LIKELY_FROM,
    Conflict,
    Hum,
    MethodWord,
    PairVerdict,
    Phase,
    Provenance,
    SettingVerdict,
    Sounds,
    TakeWord,
    Verdict,
    WiringRow,
    standing_of,
)
from reports.wires import LATEST, Wires, follow
from reports.words import headline

PACKAGES = ("numpy", "scipy", "librosa", "soundfile", "pydantic")


@dataclass(frozen=True, eq=False)
class Judgement:
    """The verdict with what it was made from, for the drawings of a report."""

    verdict: Verdict
    heard: tuple[HeardTake, ...]
    belief: Belief


def judge(folder: JobFolder) -> Judgement:
    """The verdict on a job folder as it stands."""
    job, entries = folder.job, folder.log.standing
    heard = hear_takes(folder)
    wires = follow(job, entries)
    ledger = Ledger(wires)
    unplaced = listen(ledger, heard)
    left_out = read_meter(ledger, entries)
    read_compass(ledger, entries)
    belief = Belief(ledger)
    pairs, conflicts = _pairs(job, belief)
    conflicts += meter_conflicts(belief, job.reference.name)
    plan = wiring_plan(job, wires, _signs_now(job, belief), ask=_asked(job, pairs))
    verdict = Verdict(
        title=job.title,
        stage=wires.stage,
        reference=job.reference.name,
        pairs=tuple(pairs),
        settings=tuple(_setting(s, job, belief) for s in job.settings),
        conflicts=tuple(conflicts),
        wiring=plan.rows,
        takes=tuple(_take_word(h, unplaced) for h in heard),
        plan_reason=plan.reason,
        next=(AFTER_CHANGE.format(", ".join(sorted(wires.changed))),) if _promised(wires) else (),
        warnings=(*folder.log.warnings, *left_out.values()),
        cautions=_cautions(job, entries, plan),
        provenance=_provenance(folder),
    )
    if _promised(wires):
        said = PROMISED.format(headline(verdict))
        verdict = verdict.model_copy(update={"headline": said})
    return Judgement(verdict, heard, belief)


def _promised(wires: Wires) -> bool:
    """Whether leads were changed and nothing was heard or measured after the work yet."""
    return bool(wires.changed) and wires.stage != LATEST


def sharing_pairs(job: Job) -> frozenset[frozenset[str]]:
    """Pairs of pickups that share a setting; every pair, where no setting is listed."""
    if not job.settings:
        return frozenset(frozenset((a.name, b.name)) for a, b in combinations(job.pickups, 2))
    return frozenset(
        frozenset((a.pickup, b.pickup))
        for s in job.settings
        for a, b in combinations(s.on, 2)
        if a.pickup != b.pickup
    )


def all_clear(verdict: Verdict, job: Job) -> bool:
    """Whether every pair that matters is settled or likely, and nothing contradicts."""
    matter = sharing_pairs(job)
    return not verdict.conflicts and all(
        p.standing != "unsettled" for p in verdict.pairs if frozenset((p.a, p.b)) in matter
    )


def _pairs(job: Job, belief: Belief) -> tuple[list[PairVerdict], list[Conflict]]:
    pairs: list[PairVerdict] = []
    conflicts: list[Conflict] = []
    for a, b in combinations((p.name for p in job.pickups), 2):
        p = belief.in_phase(a, b)
        methods = belief.by_method(a, b)
        standing = standing_of(p)
        phase: Phase | None = None
        if p is not None and standing != "unsettled":
            phase = "in phase" if p > 1 - p else "out of phase"
        because, ask = ("", "") if standing == "settled" else next_for(belief, a, b, p=p)
        pairs.append(
            PairVerdict(
                a=a,
                b=b,
                p_in_phase=p,
                phase=phase,
                standing=standing,
                p_hum_cancels=belief.hum_cancels(a, b),
                by=tuple(
                    MethodWord(method=m.method, p_in_phase=m.in_phase, takes=m.takes, entries=m.entries)
                    for m in methods
                ),
                because=because,
                next=ask,
            )
        )
        conflicts += conflicts_of(belief, a, b, methods)
    return pairs, conflicts


def _signs_now(job: Job, belief: Belief) -> SignsNow:
    """Signs relative to the first pickup of each group that evidence connects, the reference's first."""
    reference = job.reference.name
    s: dict[str, int | None] = {}
    w: dict[str, int | None] = {}
    group: dict[str, str] = {}
    for name in (reference, *(p.name for p in job.pickups if p.name != reference)):
        s[name], w[name], group[name] = 1, 1, name
        for first in (n for n in group if group[n] == n and n != name):
            leaning = _leaning(belief.in_phase(first, name))
            if leaning is not None:
                cancels = belief.hum_cancels(first, name)
                s[name], group[name] = leaning, first
                w[name] = _leaning(None if cancels is None else 1 - cancels)
                break
    return SignsNow(s, w, group)


def _leaning(p: float | None) -> int | None:
    if p is None or max(p, 1 - p) < LIKELY_FROM:
        return None
    return 1 if p > 1 - p else -1


def _asked(job: Job, pairs: Sequence[PairVerdict]) -> dict[str, str]:
    reference = job.reference.name
    return {(p.b if p.a == reference else p.a): p.next for p in pairs if reference in (p.a, p.b) and p.next}


def _setting(setting: Setting, job: Job, belief: Belief) -> SettingVerdict:
    members = [(m.pickup, m.coil, m.reversed) for m in setting.on]
    p = belief.all_agree(members) if len(members) > 1 else None
    sounds: Sounds = "unknown"
    if p is not None and max(p, 1 - p) >= LIKELY_FROM:
        sounds = "full" if p > 1 - p else "thin"
    return SettingVerdict(
        name=setting.name,
        sounds=sounds,
        p_full=p,
        hum=_hum(setting, job, belief),
        on=tuple(_member_label(m.pickup, m.coil, m.reversed) for m in setting.on),
        join=setting.join,
        aim=setting.aim,
    )


def _member_label(pickup: str, coil: int | None, reversed_: bool) -> str:
    label = pickup if coil is None else f"{pickup} (coil {coil})"
    return f"{label} reversed" if reversed_ else label


def _hum(setting: Setting, job: Job, belief: Belief) -> Hum:
    """Two single coils: by their windings. One alone hums; more than two are left to say unknown."""
    pickups = [job.pickup(m.pickup) for m in setting.on]
    if any(p is None or p.coils > 1 or m.coil for p, m in zip(pickups, setting.on, strict=True)):
        return "unknown"
    if len(setting.on) == 1:
        return "hums"
    a, b, *more = setting.on
    if more:
        return "unknown"
    p = belief.hum_cancels(a.pickup, b.pickup)
    if p is None:
        return "unknown"
    p = 1 - p if a.reversed != b.reversed else p
    return "cancels" if p >= LIKELY_FROM else "hums" if p <= 1 - LIKELY_FROM else "unknown"


def _take_word(heard: HeardTake, unplaced: dict[str, str]) -> TakeWord:
    entry = heard.entry
    remarks = heard.remarks + ((unplaced[entry.id],) if entry.id in unplaced else ())
    events = heard.paired or heard.single or heard.pulses
    return TakeWord(
        id=entry.id,
        used=bool(events) and not heard.faults and entry.id not in unplaced,
        faults=heard.faults,
        remarks=remarks,
        gesture=entry.gesture,
        inputs=tuple(_input_label(i) for i in entry.inputs),
        string=entry.string if not entry.fret else f"{entry.string} fret {entry.fret}",
        stage=entry.stage,
        at=entry.at,
        file=entry.file,
        sha256=entry.sha256,
    )


def _input_label(item: object) -> str:
    if item is None:
        return "nothing"
    if isinstance(item, LeadsInput):
        return f"{item.pickup} ({item.hot} on tip, {item.ground} on sleeve)"
    return ", ".join(item) if isinstance(item, tuple) else str(item)


def _cautions(job: Job, entries: Sequence[AnyEntry], plan: Plan) -> tuple[str, ...]:
    work: list[WiringRow] = [r for r in plan.rows if r.exchange or r.turn_magnet]
    named = {r.pickup for r in work}
    return cautions_for(
        gestures={e.gesture for e in entries if isinstance(e, Take)},
        meter_used=any(isinstance(e, Meter) for e in entries),
        any_loose=any(not p.fitted for p in job.pickups),
        any_shield_on_ground=any(p.shield in ("on ground", None) for p in job.pickups if p.name in named),
        any_fitted=any(p.fitted for p in job.pickups),
        soldering=bool(work),
        turning_magnet=any(r.turn_magnet for r in work),
    )


def _provenance(folder: JobFolder) -> Provenance:
    return Provenance(
        coilwise=_version("coilwise"),
        versions={name: _version(name) for name in PACKAGES},
        job_sha256=_hash(folder, JOB_FILE),
        log_sha256=_hash(folder, LOG_FILE),
    )


def _hash(folder: JobFolder, name: str) -> str:
    path = folder.path / name
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.exists() else ""


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"
