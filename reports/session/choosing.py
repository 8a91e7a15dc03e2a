"""Which round of takes comes next, or which question to the person (reports.session.questions).

Of what promises most bits a second (reports.session.promised) a question is asked at once; of rounds that is
begun whose programme settles soonest (reports.session.programmes). What no round can bring nearer is left to
the verdict's advice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import compress
from typing import Literal

from capture.job import Job
from capture.log import TAKES, AnyEntry, Check, Take
from capture.takes.folder import JobFolder
from reports.evidence.leads import lead_history
from reports.evidence.results import TakeResult
from reports.evidence.settings import named_settings
from reports.inference.error_priors import ALL_DOUBLED
from reports.inference.evidence_graph import LatentError
from reports.inference.posterior import JobEvidence, gather_evidence
from reports.model.session import BenchQuestion, Round
from reports.session.programmes import LEAST_GAIN, WeighedRound, soonest
from reports.session.promised import OpenQuestions, SessionEvidence, expected_bits, hum_beside, open_bits
from reports.session.questions import answer_entry, open_questions
from reports.session.rounds import Stage
from reports.session.tapping import positions_in_doubt, tap_round
from reports.verdict.building import sharing_pairs

HeldBack = Literal["care", "contradictions"]
TapsWanted = Literal["none", "in doubt", "everywhere"]

ASKED_FROM = 0.95
"""Bits a relation: with more open nothing was heard yet that an answer could be about."""


@dataclass(frozen=True)
class NextRound:
    """The best round, or a question instead, with the bits it promises, and what is still open, in bits."""

    round: Round | None
    gain: float
    open_bits: float
    question: BenchQuestion | None = None


def wanted_of(job: Job) -> OpenQuestions:
    """Pairs that share a setting (all, where none is listed), and quiet settings of single coils."""
    pairs = tuple(
        sorted(tuple(sorted(pair)) for pair in sharing_pairs(job) if all(map(job.hears_strings, pair)))
    )
    quiet = tuple(
        tuple(dict.fromkeys(m.pickup for m in s.on))
        for s in job.settings
        if job.wants_quiet(s) and all((p := job.pickup(m.pickup)) is not None and p.made.hums for m in s.on)
    )
    return OpenQuestions(tuple((a, b) for a, b in pairs), tuple(q for q in quiet if len(q) == 2))


def choose(
    folder: JobFolder,
    heard: Sequence[TakeResult],
    rounds: Sequence[Round],
    *,
    stage: Stage,
    rig: str | None,
    taps: TapsWanted = "none",
    tool: str | None = None,
    asking: Callable[[BenchQuestion], bool] | None = None,
    clipped: str | None = None,
    stands: Callable[[OpenQuestions], HeldBack | None] | None = None,
) -> NextRound:
    """The round that settles most a second; none where all is settled or nothing more can be had.

    ``asking``: whether a question may be asked instead of a take (None: none may); ``clipped``: the take
    whose clips are still on (reports.session.questions). ``stands``: what keeps the verdict from calling
    all settled where the doubled priors do not, None where nothing does. More is asked for against little
    care; of takes that contradict each other no further one lifts the contradiction.

    ``taps``: whether taps may be asked for, first, where the list of the selector is in doubt, or everywhere.
    What goes through a position that taps have contradicted is not asked for.
    """
    job, entries = folder.job, folder.log.standing
    nexts = [_entry(one, stage=stage, rig=rig, number=k) for k, one in enumerate(rounds)]
    history = lead_history(job, [*entries, *nexts])
    evidence = gather_evidence(job, history, entries, heard)
    known = evidence.posterior.graph
    wanted = wanted_of(job)
    base = open_bits(known, wanted)
    level = None
    held = None if base > 0 or stands is None else stands(wanted)
    if held is not None:
        level = 1.0
        base = open_bits(known, wanted, level=level)
    if held == "contradictions":
        return NextRound(None, 0.0, base)
    tapping = None
    if taps == "everywhere" or (taps == "in doubt" and base > 0):
        positions = job.setting_names if taps == "everywhere" else positions_in_doubt(evidence)
        tapping = tap_round(job, positions, heard, stage=stage, tool=tool)
    if tapping is not None:
        return NextRound(tapping, 0.0, base)
    wrong = evidence.taps.settings("contradicted", stage)
    sound = [not wrong & {n for s in one.steps for n, _ in named_settings(s.inputs)} for one in rounds]
    rounds, nexts = list(compress(rounds, sound)), list(compress(nexts, sound))
    if base <= 0:
        return NextRound(None, 0.0, base)
    found: list[tuple[float, float, Round | None, BenchQuestion | None]] = []
    for question in _asked(evidence, entries, wanted, base, stage=stage, clipped=clipped, allowed=asking):
        bits = base - _after_answer(question, evidence, entries, heard, wanted, level=level)
        found.append((bits / question.seconds, bits, None, question))
    takes = SessionEvidence(known, tuple(e for e in entries if isinstance(e, Take)))
    for one, entry in zip(rounds, nexts, strict=True):
        hum = hum_beside(one, job, wanted)
        told = (one,) if hum is None else (one, hum)
        bits = sum(base - expected_bits(takes, each, entry, wanted, level=level) for each in told)
        found.append((bits / one.seconds, bits, one, None))
    worth = [f for f in found if f[1] > LEAST_GAIN]
    if not worth:
        return NextRound(None, max((f[1] for f in found), default=0.0), base)
    _, gain, best, asked = max(worth, key=lambda f: f[0])
    if best is None:
        return NextRound(None, gain, base, asked)
    weighed = [
        WeighedRound(one, entry, rate, bits)
        for (rate, bits, one, _), entry in zip(found[-len(nexts) :], nexts, strict=True)
        if one is not None
    ]
    checks = [e for e in entries if isinstance(e, Check)] if asking is not None else None
    first = soonest(takes, weighed, wanted, checks=checks, level=level)
    return NextRound(first.round, first.bits, base)


def _asked(
    evidence: JobEvidence,
    entries: Sequence[AnyEntry],
    wanted: OpenQuestions,
    base: float,
    *,
    stage: Stage,
    clipped: str | None,
    allowed: Callable[[BenchQuestion], bool] | None,
) -> list[BenchQuestion]:
    """The questions that may be asked now."""
    if allowed is None or base > ASKED_FROM * (len(wanted.pairs) + len(wanted.quiet)):
        return []
    graph, history = evidence.posterior.graph, evidence.history
    return [q for q in open_questions(history, graph, entries, stage=stage, clipped=clipped) if allowed(q)]


def _after_answer(
    question: BenchQuestion,
    evidence: JobEvidence,
    entries: Sequence[AnyEntry],
    heard: Sequence[TakeResult],
    wanted: OpenQuestions,
    *,
    level: float | None,
) -> float:
    """What would be open after the answer, on average over both answers."""
    job, left, fault = evidence.history.job, 0.0, 0.0
    if isinstance(question.error, LatentError):
        fault = evidence.posterior.at(ALL_DOUBLED).error_probability(question.error)
    for turned, chance in ((False, 1 - fault), (True, fault)):
        if chance > 0:
            entry = answer_entry(question, fault=turned).model_copy(update={"id": "next"})
            after = [*entries, entry]
            then = gather_evidence(job, lead_history(job, after), after, heard).posterior.graph
            left += chance * open_bits(then, wanted, level=level)
    return left


def _entry(one: Round, *, stage: Stage, rig: str | None, number: int) -> Take:
    step = replace(one.first, stage=stage, rig=rig)
    return step.entry(id=f"next {number}", file=f"{TAKES}/next")
