"""From a job folder to the verdict, for the guitar as it is wired at the latest stage.

Takes become results, these and the log entries evidence, the evidence a posterior, and the posterior pairs,
settings and a wiring plan, all in one `Verdict`. What leads add of coils that are not joined yet:
reports.verdict.with_leads.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from itertools import combinations
from operator import methodcaller

from capture import JOB_FILE, LOG_FILE
from capture.job import Job, Member, Setting
from capture.log import AnyEntry, Meter, Take, in_fixed_order
from capture.takes.folder import JobFolder
from reports.evidence.cache import take_results
from reports.evidence.input_paths import with_input_paths
from reports.evidence.leads import LATEST, LeadHistory, lead_history
from reports.evidence.paths import bench_paths
from reports.evidence.results import TakeResult
from reports.evidence.settings import measured_kohm
from reports.inference.error_priors import NOTHING_KNOWN, KnownCare
from reports.inference.jack import JackEvidence
from reports.inference.posterior import (
    Among,
    Posterior,
    evidence_after_work,
    evidence_before_work,
    gather_evidence,
)
from reports.inference.taps import PositionTaps, TapFindings
from reports.messages.cautions import cautions_for
from reports.messages.wording import is_work, on_words
from reports.model.build_notes import StringsDiffer
from reports.model.lead_notes import PlanWithheld
from reports.model.notes import (
    HealthProblem,
    ListHeadline,
    LostHeadline,
    NotSettled,
    OneErrorLeft,
    Phase,
    PromisedHeadline,
    PutRecordingsBack,
    RecordAfterWork,
    RecordHum,
    SettingRemark,
    Standing,
)
from reports.model.take_notes import AnyTakeNote, IdleTagNote, OutvotedNote
from reports.model.verdict import (
    CareRow,
    Conflict,
    Finding,
    HumAnswer,
    MethodAnswer,
    PairRequest,
    PairVerdict,
    Provenance,
    SettingVerdict,
    SignRow,
    StageRow,
    TakeRow,
    Verdict,
    WiringRow,
    phase_headline,
)
from reports.model.work_notes import ReadElsewhere
from reports.plan.joints import lead_rows
from reports.plan.search import current_signs
from reports.plan.wiring import wiring_plan
from reports.verdict.advice import (
    build_findings,
    conflicts_of,
    hum_next_for,
    inputs_compared,
    meter_conflicts,
    next_for,
    outvoted_sweeps,
    paired_conflicts,
    questions_for,
    string_findings,
    sweep_conflicts,
    with_frets_put_right,
    with_mains_put_right,
)
from reports.verdict.after_work import AfterWork, after_work, resting_on_before, standing_after
from reports.verdict.blends import blend_findings, blend_rows
from reports.verdict.by_string import least_standing, string_phases, strings_by_phase, strings_differ
from reports.verdict.hum_left import settings_with_hum_left
from reports.verdict.networks import network_rows
from reports.verdict.places import place_conflicts, place_findings
from reports.verdict.settings import (
    hum_word,
    list_conflicts,
    measured_losses,
    profile_notes,
    setting_verdicts,
    stage_rows,
    strings_fixed_apart,
    work_of,
    work_result,
)
from reports.verdict.with_leads import (
    coil_kohm,
    jack_ohms,
    lead_requests,
    pairs_with_leads,
    proof_with_leads,
    rows_with_leads,
)


def pairs_with_list(pairs: Sequence[PairVerdict], taps: TapFindings, *, job: Job) -> list[PairVerdict]:
    """Pairs that are not settled while taps contradict a setting of one of them: the list comes first."""
    wrong = {name for p in taps.positions if p.check == "contradicted" for name in _named_in(p, job)}
    first = {"because": NotSettled("list contradicted"), "next": taps.correction}
    return [
        p.model_copy(update=first) if p.standing == "unsettled" and {p.a, p.b} & wrong else p for p in pairs
    ]


def _named_in(position: PositionTaps, job: Job) -> set[str]:
    """The pickups that a position is listed to have on, and those that it has."""
    setting = job.setting(position.setting)
    return {m.pickup for m in (setting.on if setting else ())} | {c.pickup for c in position.on}


PACKAGES = ("numpy", "scipy", "soundfile", "pydantic")


@dataclass(frozen=True, eq=False)
class Judgement:
    """The verdict with what it was made from, for the drawings of a report."""

    verdict: Verdict
    results: tuple[TakeResult, ...]
    posterior: Posterior
    jack: JackEvidence
    entries: tuple[AnyEntry, ...] = ()


def judge(folder: JobFolder, *, workers: int = 1, care: KnownCare = NOTHING_KNOWN) -> Judgement:
    """The verdict on a job folder as it stands; up to ``workers`` processes analyse what is not cached.

    ``care``: what is known of the bench's care from other jobs; nothing is looked up here.
    """
    return judge_results(folder, take_results(folder, workers=workers), care=care)


def judge_results(
    folder: JobFolder, takes: Sequence[TakeResult], *, care: KnownCare = NOTHING_KNOWN
) -> Judgement:
    """The verdict on a job folder from the results of its takes, in the order of the log."""
    job, entries = folder.job, in_fixed_order(folder.log.standing)
    place = {e.id: k for k, e in enumerate(entries)}
    in_order = sorted(takes, key=lambda t: place.get(t.entry.id, len(place)))
    results = with_input_paths(in_order, rigs=bench_paths(in_order, entries).rigs)
    history = lead_history(job, entries)
    evidence = gather_evidence(job, history, entries, results, care=care)
    work = after_work(history, entries)
    against = work.conflicts(evidence.posterior) if work else ()
    posterior = work.rest(evidence.posterior, against) if work else evidence.posterior
    pairs, conflicts = _pairs(job, posterior, work, against=against, entries=entries)
    if work:
        pairs = [_with_stages(p, work, evidence.posterior) for p in pairs]
    pairs = pairs_with_list(resting_on_before(pairs, against), evidence.taps, job=job)
    conflicts += meter_conflicts(
        posterior, job.reference.name, among=work.after if work else None, entries=entries
    )
    conflicts += place_conflicts(posterior, entries=entries)
    conflicts.sort(key=lambda c: not isinstance(c.next, ReadElsewhere))
    pairs = with_frets_put_right([_in_conflict(p, conflicts) for p in pairs], results)
    pairs = with_mains_put_right(pairs, results)
    plan = wiring_plan(job, history, current_signs(job, posterior), requests=_pair_requests(job, pairs))
    latest = [r for r in results if r.entry.stage == history.stage]
    leads = lead_rows(job, entries, posterior, results=results)
    rows = rows_with_leads(plan.rows, leads)
    losses = measured_losses(
        job, latest, [g for g in evidence.jack.profiles if g.first.stage == history.stage]
    )
    settings = setting_verdicts(
        job,
        posterior,
        losses,
        notes=profile_notes(evidence.jack.profiles),
        taps=evidence.taps.checks(history.stage),
    )
    settings = _without_buzzing(settings, evidence.health.findings)
    settings = settings_with_hum_left(
        job, settings, kohm=measured_kohm(job, entries), hums=evidence.jack.hums
    )
    listed = list_conflicts(settings, job)
    stages = _stages(job, history, entries, results, care=care) if history.stage == LATEST else ()
    blends = blend_rows(job, history, results)
    verdict = Verdict(
        title=job.title,
        stage=history.stage,
        reference=job.reference.name,
        pairs=pairs_with_leads(pairs, leads),
        settings=settings,
        signs=_sign_rows(job, posterior),
        findings=(
            *evidence.taps.findings,
            *evidence.health.findings,
            *place_findings(job, evidence.places),
            *string_findings(posterior),
            *blend_findings(blends),
            *build_findings(job, posterior, rows, entries=entries),
        ),
        stages=stages,
        came_out=work_result(
            stages,
            entered=bool(history.changed),
            against_log=bool(against),
        ),
        conflicts=(*listed, *conflicts),
        wiring=tuple(_with_standing(row, pairs, job) for row in rows),
        coil_leads=leads,
        jack_ohms=jack_ohms(job, entries, leads),
        networks=network_rows(job, by_coil=coil_kohm(leads)),
        inputs=inputs_compared(evidence.posterior),
        blends=blends,
        takes=_rows_as_logged(
            results,
            takes,
            evidence.unplaced,
            outvoted_sweeps(
                posterior, pairs, among=lambda a, b: work.among(posterior, a, b) if work else None
            ),
        ),
        plan_reason=plan.reason,
        proof=proof_with_leads(plan.proof, rows, leads, job=job),
        ties=plan.equal_plans,
        nearest=plan.compromise_rows,
        nearest_says=plan.compromise,
        next=(*lead_requests(leads), *_next(history, settings, results)),
        care=_care_row(evidence.posterior, care),
        warnings=(
            *folder.log.warnings,
            *evidence.posterior.graph.paths.notes,
            *evidence.shelf,
            *evidence.left_out.values(),
            *_idle_tags(history),
        ),
        ask=questions_for(
            {r.entry.gesture for r in results},
            split_checked=any(r.entry.is_split_check for r in results),
        ),
        cautions=_cautions(job, entries, rows),
        provenance=_provenance(folder),
    )
    lost = tuple(r.entry.id for r in results if r.lost)
    if lost:
        verdict = _without_recordings(verdict, lost)
    elif listed:
        names = {s.name: s.sounds for s in settings}
        wrong = tuple((s, names[s]) for s in names if any(n.cannot_be for n in _remarks(settings, s)))
        verdict = _without_plan(verdict, PlanWithheld("list contradicted")).model_copy(
            update={"headline": ListHeadline(wrong, phase_headline(verdict))}
        )
    elif against:
        verdict = _without_plan(verdict, PlanWithheld("work contradicted"))
    elif _work_not_recorded(history):
        verdict = verdict.model_copy(update={"headline": PromisedHeadline(phase_headline(verdict))})
    return Judgement(verdict, results, evidence.posterior, evidence.jack, tuple(entries))


def _without_recordings(verdict: Verdict, lost: tuple[str, ...]) -> Verdict:
    """The verdict while recordings are missing or changed: they are named first, and nothing is planned."""
    put_back = PutRecordingsBack(lost)
    withheld = _without_plan(verdict, PlanWithheld("recordings lost"))
    return withheld.model_copy(
        update={
            "missing": lost,
            "headline": LostHeadline(lost),
            "pairs": tuple(
                p.model_copy(update={"because": NotSettled("recordings lost"), "next": put_back})
                for p in verdict.pairs
            ),
            "stages": (),
            "came_out": None,
            "next": (put_back,),
        }
    )


def _remarks(settings: Sequence[SettingVerdict], name: str) -> Iterator[SettingRemark]:
    return (n for s in settings if s.name == name for n in s.notes if isinstance(n, SettingRemark))


def _in_conflict(pair: PairVerdict, conflicts: Sequence[Conflict]) -> PairVerdict:
    """A pair that is not settled asks for what ends the first contradiction on it."""
    mine = [c for c in conflicts if {*c.pair} == {pair.a, pair.b}]
    if not mine or pair.standing == "settled":
        return pair
    return pair.model_copy(update={"because": NotSettled("contradictions"), "next": mine[0].next})


def _without_plan(verdict: Verdict, why: PlanWithheld) -> Verdict:
    """The verdict with nothing planned, and why."""
    return verdict.model_copy(
        update={
            "wiring": (),
            "coil_leads": tuple(
                r.model_copy(update={"roles": {}, "standing": "unsettled", "p": None})
                for r in verdict.coil_leads
            ),
            "plan_reason": why,
            "proof": (),
            "ties": (),
            "nearest": (),
            "nearest_says": None,
        }
    )


def _stages(
    job: Job,
    history: LeadHistory,
    entries: Sequence[AnyEntry],
    results: Sequence[TakeResult],
    *,
    care: KnownCare,
) -> tuple[StageRow, ...]:
    """Found, planned and after the work, setting by setting.

    Nothing where nothing was found before the work and no change was entered.
    """
    before = evidence_before_work(job, entries, results, care=care)
    if not (before.posterior.graph.evidence or history.changed):
        return ()
    plan = wiring_plan(job, before.history, current_signs(job, before.posterior), requests={})
    after = evidence_after_work(job, history, entries, results, care=care)
    work = work_of(history, plan)
    return stage_rows(job, found=before.posterior, after=after.posterior, work=work)


def _idle_tags(history: LeadHistory) -> tuple[IdleTagNote, ...]:
    """Tags that say nothing, and why."""
    return tuple(IdleTagNote(why, tag.id, tag.take, tag.pickup) for tag, why in history.idle_tags)


def _with_standing(row: WiringRow, pairs: Sequence[PairVerdict], job: Job) -> WiringRow:
    """A row of the plan with the least standing of the pairs of its pickup that share a setting."""
    sharing = sharing_pairs(job)
    mine = [p.standing for p in pairs if row.pickup in (p.a, p.b) and frozenset((p.a, p.b)) in sharing]
    ranks: tuple[Standing, ...] = ("unsettled", "likely", "settled")
    return row.model_copy(update={"standing": min(mine, key=ranks.index, default="settled")})


def _without_buzzing(
    settings: Sequence[SettingVerdict], findings: Sequence[Finding]
) -> tuple[SettingVerdict, ...]:
    """Nothing is said of hum by how coils are built where a pickup with two was heard to hum."""
    hums = {
        f.pickup_or_setting
        for f in findings
        if isinstance(f.what, HealthProblem) and f.what.code == "hums although it has two coils"
    }
    return tuple(
        s.model_copy(update={"hum": "unknown", "hum_from": ()})
        if "coils" in s.hum_from and hums & {s.name, *s.pickups}
        else s
        for s in settings
    )


def _care_row(posterior: Posterior, care: KnownCare) -> CareRow | None:
    """How careful the bench seems by everything that was heard or measured, contradictions included."""
    return CareRow(**posterior.care, from_jobs=care.from_jobs) if posterior.graph.evidence else None


def _sign_rows(job: Job, posterior: Posterior) -> tuple[SignRow, ...]:
    """Signs of every other pickup relative to the reference, where the winding is known of any."""
    reference = job.reference.name
    rows = []
    for name in (p.name for p in job.pickups if p.name != reference):
        cancels = posterior.hum_cancels(reference, name)
        rows.append(
            SignRow(
                pickup=name,
                p_same_s=posterior.in_phase(reference, name),
                p_same_w=None if cancels is None else 1 - cancels,
                p_same_m=None if cancels is None else posterior.same_magnet(reference, name),
            )
        )
    return tuple(rows) if any(r.p_same_w is not None for r in rows) else ()


def _next(
    history: LeadHistory, settings: Sequence[SettingVerdict], results: Sequence[TakeResult]
) -> tuple[RecordAfterWork | RecordHum, ...]:
    """What the job as a whole asks for, besides what its pairs do."""
    hum = any(r.hums or any(t.letter == "w" for t in r.tables) for r in results if not r.faults)
    after_work = (RecordAfterWork(tuple(sorted(history.changed))),) if _work_not_recorded(history) else ()
    return (
        *after_work,
        *(
            RecordHum(s.name, again=hum and s.p_hum_cancels is not None)
            for s in settings
            if s.wanted_quiet and s.hum == "unknown"
        ),
    )


def _work_not_recorded(history: LeadHistory) -> bool:
    """Whether leads were changed and nothing was heard or measured after the work yet."""
    return bool(history.changed) and history.stage != LATEST


def sharing_pairs(job: Job) -> frozenset[frozenset[str]]:
    """Pairs of pickups that share a setting; every pair, where no setting is listed.

    With a reference coil of the bench, and nothing fitted, that is each pickup and the coil.
    """
    others = {p.name for p in job.pickups if p.source is not None}
    if not job.settings:
        among = job.compared
        coils = {p.name for p in among if p.shelf is not None}
        every = (frozenset((a.name, b.name)) for a, b in combinations(among, 2))
        return frozenset(pair for pair in every if not coils or len(pair & coils) == 1)
    return frozenset(
        frozenset((a.pickup, b.pickup))
        for s in job.settings
        for a, b in combinations(s.on, 2)
        if a.pickup != b.pickup and not others & {a.pickup, b.pickup}
    )


def all_clear(verdict: Verdict, job: Job) -> bool:
    """Whether every pair that matters is settled or likely, nothing contradicts, no recording is missing."""
    matter = sharing_pairs(job)
    return not (verdict.conflicts or verdict.missing) and all(
        p.standing != "unsettled" for p in verdict.pairs if frozenset((p.a, p.b)) in matter
    )


def _pairs(
    job: Job,
    posterior: Posterior,
    work: AfterWork | None,
    *,
    against: Sequence[Conflict],
    entries: Sequence[AnyEntry],
) -> tuple[list[PairVerdict], list[Conflict]]:
    pairs: list[PairVerdict] = []
    conflicts: list[Conflict] = []
    for a, b in combinations((p.name for p in job.pickups if p.source is None), 2):
        found = posterior.assess(methodcaller("in_phase", a, b))
        hum = posterior.assess(methodcaller("hum_cancels", a, b))
        among = work.among(posterior, a, b) if work else None
        methods = posterior.by_method(a, b, among=among)
        hum_methods = posterior.hum_by_method(a, b, among=among)
        settled: Phase | None = None
        if found is not None and found.standing == "settled":
            settled = "in phase" if found.p > 1 - found.p else "out of phase"
        contradicted = [
            *(c for c in against if c.pair == (a, b)),
            *conflicts_of(posterior, a, b, methods, entries=entries),
            *paired_conflicts(posterior, a, b, among=among, entries=entries),
            *sweep_conflicts(
                posterior,
                a,
                b,
                settled=settled,
                among=among,
                entries=entries,
            ),
        ]
        hum_contradicted = conflicts_of(posterior, a, b, hum_methods, entries=entries)
        standing = capped("unsettled" if found is None else found.standing, contradicted)
        phase: Phase | None = None
        if found is not None and standing != "unsettled":
            phase = "in phase" if found.p > 1 - found.p else "out of phase"
        if work:
            standing = standing_after(standing, phase, work.answers(posterior, a, b)[1])
        hum_standing = capped("unsettled" if hum is None else hum.standing, hum_contradicted)
        together = Setting(name=f"{a} and {b}", on=(Member(pickup=a), Member(pickup=b)))
        hum_word_of = hum_word(together, job, posterior)
        by_string = string_phases(job, posterior, together.on)
        differ = strings_differ(by_string)
        deaf = not all(map(job.hears_strings, (a, b)))
        if differ:
            phase, standing = None, least_standing(by_string)
        because: NotSettled | OneErrorLeft | StringsDiffer | None = None
        next_step: PairRequest | None = None
        if deaf:
            standing = hum_standing
            because = NotSettled("hears no string") if standing != "settled" else None
        elif differ:
            add, oppose = strings_by_phase(by_string)
            because = StringsDiffer(add, oppose, any(strings_fixed_apart(job, together)))
        elif standing != "settled":
            because, next_step = next_for(posterior, a, b, found=found, conflicts=contradicted)
        pairs.append(
            PairVerdict(
                a=a,
                b=b,
                p_in_phase=None if found is None or differ else found.p,
                phase=phase,
                standing=standing,
                p_hum_cancels=None if hum is None else hum.p,
                p_in_phase_range=None if found is None or differ else (found.low, found.high),
                p_hum_cancels_range=None if hum is None else (hum.low, hum.high),
                hum_standing=hum_standing,
                hum=hum_word_of[0],
                hum_from=hum_word_of[1],
                by=_by_method(posterior, a, b, None, before=False),
                hum_by=tuple(
                    HumAnswer(method=m.method, p_hum_cancels=1 - m.same, takes=m.takes, entries=m.entries)
                    for m in posterior.hum_by_method(a, b)
                ),
                because=because,
                next=next_step,
                hum_next=hum_next_for(posterior, a, b, standing=hum_standing),
                by_string=by_string,
                about="hum" if deaf else "strings",
                shelf=any(p.shelf is not None for p in job.pickups if p.name in (a, b)),
            )
        )
        conflicts += [*contradicted, *hum_contradicted]
    return pairs, conflicts


def _by_method(
    posterior: Posterior, a: str, b: str, among: Among, *, before: bool
) -> tuple[MethodAnswer, ...]:
    return tuple(
        MethodAnswer(method=m.method, p_in_phase=m.same, takes=m.takes, entries=m.entries, before_work=before)
        for m in posterior.by_method(a, b, among=among)
    )


def _with_stages(pair: PairVerdict, work: AfterWork, posterior: Posterior) -> PairVerdict:
    """A pair with what each method says from after the work and, named so, from before it."""
    before, after = work.answers(posterior, pair.a, pair.b)
    return pair.model_copy(
        update={
            "from_before_work": before,
            "from_after_work": after,
            "by": (
                *_by_method(posterior, pair.a, pair.b, work.after, before=False),
                *_by_method(posterior, pair.a, pair.b, work.before, before=True),
            ),
        }
    )


def capped(standing: Standing, conflicts: Sequence[Conflict]) -> Standing:
    """No answer is settled while methods, or takes of one method, contradict each other on it."""
    return "likely" if conflicts and standing == "settled" else standing


def _pair_requests(job: Job, pairs: Sequence[PairVerdict]) -> dict[str, PairRequest]:
    """What to record next for each pickup that is not settled against the reference."""
    reference = job.reference.name
    return {(p.b if p.a == reference else p.a): p.next for p in pairs if reference in (p.a, p.b) and p.next}


def _rows_as_logged(
    results: Sequence[TakeResult],
    logged: Sequence[TakeResult],
    unplaced: Mapping[str, AnyTakeNote],
    outvoted: Mapping[str, OutvotedNote],
) -> tuple[TakeRow, ...]:
    """A row for each take, in the order of the log."""
    by_id = {r.entry.id: r for r in results}
    more = {t.entry.id: [of[t.entry.id] for of in (unplaced, outvoted) if t.entry.id in of] for t in logged}
    return tuple(
        _take_row(by_id[t.entry.id], tuple(more[t.entry.id]), counts=t.entry.id not in unplaced)
        for t in logged
    )


def _take_row(result: TakeResult, more: tuple[AnyTakeNote, ...], *, counts: bool) -> TakeRow:
    entry = result.entry
    remarks = result.remarks + more
    return TakeRow(
        id=entry.id,
        used=result.has_measurements and not result.faults and counts,
        faults=result.faults,
        remarks=remarks,
        gesture=entry.gesture,
        inputs=tuple(on_words(i) for i in entry.inputs),
        string=entry.string if not entry.fret else f"{entry.string} fret {entry.fret}",
        stage=entry.stage,
        at=entry.at,
        file=entry.file,
        sha256=entry.sha256,
    )


def _cautions(job: Job, entries: Sequence[AnyEntry], rows: Sequence[WiringRow]) -> tuple[str, ...]:
    work: list[WiringRow] = [r for r in rows if is_work(r)]
    named = {r.pickup for r in work}
    return cautions_for(
        gestures={e.gesture for e in entries if isinstance(e, Take)},
        meter_used=any(isinstance(e, Meter) for e in entries),
        any_loose=any(not p.fitted for p in job.pickups),
        any_shield_on_ground=any(p.shield in ("on ground", None) for p in job.pickups if p.name in named),
        any_fitted=any(p.fitted for p in job.pickups),
        soldering=bool(work),
        turning_magnet=any(r.turn_magnet for r in work),
        any_active=any(p.active for p in job.pickups),
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


@lru_cache
def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"
