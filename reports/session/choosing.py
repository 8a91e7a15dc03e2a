"""Which round of takes comes next: the one expected to settle most per second of a person's time.

`rounds` lists every round that the job allows, with the seconds that each takes a person. A pickup that is
not fitted hangs on clips, so two can be on two inputs at once. What is fitted comes out of the jack, on input
1: the selector moves through its settings while a string rings, or one setting after another is played. Hum
is offered where a setting is meant to be quiet.

`choose` weighs them. For each way a round can come out (per pickup +1, or -1 where it would be turned over,
the first +1: only relations count; of a split check, that the inputs agree or not), evidence of a usual
strength is added to a copy of the evidence graph through the same functions as real evidence, with the same
latent errors, so a third take of a kind promises less than the first of another. The entropy of what is not
settled (bits) is then averaged over the outcomes, weighted by how probable each is now. A question to the
person (reports.session.questions) is weighed beside the rounds. Log-likelihood ratios are natural logarithms.
What no round can bring nearer is left to the verdict's advice.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, compress, pairwise, product
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from capture.job import Job, Setting
from capture.log import TAKES, AnyEntry, Take
from capture.takes.folder import JobFolder
from reports.evidence.leads import LeadHistory, lead_history
from reports.evidence.results import ChannelSource, TakeResult
from reports.evidence.settings import channel_source, jack_mixes, named_settings
from reports.inference.error_priors import ALL_DOUBLED
from reports.inference.evidence_graph import (
    ClipUps,
    Evidence,
    EvidenceGraph,
    LatentError,
    Observation,
    current_sign,
    observation_of,
)
from reports.inference.factor_graph import Factor, Variable, log_weights, product_factor
from reports.inference.hum_doubts import place_of_take
from reports.inference.jack import TableEvidence, add_table_evidence
from reports.inference.paired import add_split_evidence, paired_evidence
from reports.inference.posterior import JobEvidence, gather_evidence
from reports.inference.sequential import hand_errors, or_magnetised
from reports.model.gestures import HUM_LEVEL, PLUCKED, SESSION_GESTURES, SWITCH, SignLetter, gesture_row
from reports.model.notes import ErrorKind
from reports.model.session import TOOL, BenchQuestion, Round, Step, pluck_strings, switch_strings
from reports.model.verdict import threshold
from reports.session.questions import answer_entry, open_questions
from reports.session.tapping import positions_in_doubt, tap_round
from reports.verdict.building import sharing_pairs

Stage = Literal["found", "after"]

A_PLUCK_S = 5.0
A_PRESS_S = 7.0
A_SWITCH_S = 11.0
A_LIFT_S = 6.0
A_HUM_S = 6.0
MOVE_SELECTOR_S = 3.0
PLUG_S = 40.0
CLIPS_ANEW_S = 40.0
"""Taking the clips off, reading the leads once more, and clipping on again."""
MOST_POSITIONS = 5
"""No string rings through more, and what they would tell together is a sum over twenty variables and more."""
SAME_AGAIN = 2
"""Takes a side of one round in turn: one alone cannot be told from a stroke the other way."""


def rounds(
    job: Job,
    *,
    inputs: int,
    gestures: Collection[str] = SESSION_GESTURES,
    after: bool = False,
    tool: str | None = None,
    plugged: tuple[object, ...] = (),
) -> tuple[Round, ...]:
    """All rounds that could come next; ``plugged`` is what the last step left plugged in.

    ``inputs``: how many the box has. ``after``: the work is done, so that everything comes out of the jack.
    """
    found = [
        one
        for one in (
            *_paired(job, inputs=inputs, after=after, plugged=plugged),
            *_switch(job, after=after),
            *_in_turn(job, gestures, after=after),
            *_lifts(job, after=after, tool=tool),
            *_hum(job, after=after),
        )
        if one.first.gesture in gestures
    ]
    found = [replace(one, seconds=one.seconds + _plugging(one, plugged)) for one in found]
    return tuple(map(_by_volumes, found) if job.control == "volumes" else found)


def _by_volumes(one: Round) -> Round:
    """A round of a guitar that has no selector."""
    return replace(one, steps=tuple(replace(step, volumes=True) for step in one.steps))


def at_jack(job: Job, name: str, *, after: bool) -> bool:
    """Whether a pickup comes out of the guitar's jack."""
    pickup = job.pickup(name)
    return pickup is not None and pickup.shelf is None and (after or pickup.fitted)


def _plugging(one: Round, plugged: tuple[object, ...]) -> float:
    steps = one.steps
    wanted = [s.plugged for s in steps]
    clips = {item for step in steps for item in step.plugged}
    if len(steps[0].columns) > 1 and steps[0].plugged != plugged:
        return PLUG_S * len(clips - set(plugged)) / 2
    return MOVE_SELECTOR_S * (wanted[0] != plugged)


def _paired(job: Job, *, inputs: int, after: bool, plugged: tuple[object, ...]) -> Iterator[Round]:
    if inputs < 2:
        return
    plucked = [p.name for p in job.own_pickups if p.source is None and p.made.hears_strings]
    for a, b in combinations(plucked, 2):
        at_one_jack = at_jack(job, a, after=after) and at_jack(job, b, after=after)
        if at_one_jack and {a, b} != set(job.stereo or ()):
            continue
        loose = {name for name in (a, b) if not at_jack(job, name, after=after)}
        moved = len(loose) > 1 and _clips_moved(plugged, loose)
        for string in pluck_strings(job):
            step = Step("pluck", (a, b), string=string, kind="paired", columns=(0, 1), pickups=(a, b))
            for played, seconds in ((step, A_PLUCK_S), (replace(step, gesture="press"), A_PRESS_S)):
                if not moved:
                    yield Round((played,), seconds)
                if moved or played is step:
                    yield Round((replace(played, anew=True),), seconds + CLIPS_ANEW_S)
        for name in (a, b):
            string = pluck_strings(job)[0]
            split = Step("pluck", (name, name), string, kind="split", columns=(0, 1), pickups=(name,))
            yield Round((replace(split, by_clips=name in loose),), A_PLUCK_S)


def _clips_moved(plugged: tuple[object, ...], loose: Collection[str]) -> bool:
    """Whether the clips of both inputs hang on one of two loose pickups, after a split check.

    Then they come off one that is clipped on anew, whatever comes next.
    """
    return any(set(plugged) == {(0, name), (1, name)} for name in loose)


def _switch(job: Job, *, after: bool) -> Iterator[Round]:
    for way in ways_of_selector(job, after=after):
        members = dict.fromkeys(
            m.pickup for name in way if (s := job.setting(name)) is not None for m in s.on
        )
        for string in switch_strings(job):
            step = Step("switch", (way,), string=string, kind="switch", columns=(0,), pickups=tuple(members))
            yield Round((step,), A_SWITCH_S + MOVE_SELECTOR_S * (len(way) - 2))


def ways_of_selector(job: Job, *, after: bool) -> tuple[tuple[str, ...], ...]:
    """The lists of settings that a selector can go through: every two pickups, and all in a row; else none.

    A row of more than `MOST_POSITIONS` comes in parts, each from the pickup on at which the last one ended.
    """
    fitted = _in_row(job, after=after)
    if not job.settings or len(fitted) < 2 or job.hard_wired or job.control == "volumes":
        return ()
    pairs = [
        (a, *_both(job, a, b), b)
        for a, b in combinations(fitted, 2)
        if any({a, b} <= {m.pickup for m in s.on} for s in job.settings)
    ]
    chains = [[fitted[0]]]
    for a, b in pairwise(fitted):
        further = [*_both(job, a, b), b]
        if len(chains[-1]) > 1 and len(chains[-1]) + len(further) > MOST_POSITIONS:
            chains.append([a])
        chains[-1] += further
    return tuple(dict.fromkeys([*pairs, *map(tuple, chains)]))


def _in_row(job: Job, *, after: bool) -> tuple[str, ...]:
    """Pickups that come out of the jack, from the bridge on; one that no setting names is on none alone."""
    fitted = [
        p
        for p in job.pickups
        if at_jack(job, p.name, after=after) and p.source is None and p.made.hears_strings
    ]
    if all(p.centre_mm is not None for p in fitted):
        fitted.sort(key=lambda p: p.centre_mm or 0.0)
    return tuple(p.name for p in fitted)


def _both(job: Job, a: str, b: str) -> tuple[str, ...]:
    """The setting of just these two, if there is one."""
    return tuple(s.name for s in job.settings if {m.pickup for m in s.on} == {a, b})[:1]


def _in_turn(job: Job, gestures: Collection[str], *, after: bool) -> Iterator[Round]:
    for gesture in (g for g in PLUCKED if g in gestures and not job.hard_wired):
        for a, b in combinations(_in_row(job, after=after), 2):
            names = (a, *_both(job, a, b), b)
            for string in pluck_strings(job):
                steps = [
                    Step(gesture, (n,), string, kind="in turn", columns=(0,), pickups=(a, b))
                    for _ in range(SAME_AGAIN)
                    for n in names
                ]
                yield _round(steps, len(steps) * (A_PLUCK_S + MOVE_SELECTOR_S))


def _lifts(job: Job, *, after: bool, tool: str | None) -> Iterator[Round]:
    coils = [p.name for p in job.pickups if p.shelf is not None]
    beside = [(coil, p.name) for coil in coils for p in job.own_pickups if p.source is None]
    for a, b in (*combinations(_in_row(job, after=after), 2), *beside):
        steps = [
            Step(
                "lift",
                (where,),
                tool=tool or TOOL,
                coil=lifted_coil(job, n),
                kind="lift",
                columns=(0,),
                pickups=(a, b),
                tapped=None if where == n else n,
            )
            for n, where in ((n, _lifted_at(job, n)) for n in ((a, a, b, b) if a in coils else (a, b, b, a)))
        ]
        moved = PLUG_S if a in coils else MOVE_SELECTOR_S
        yield _round(steps, len(steps) * A_LIFT_S + 2 * moved)


def _hum(job: Job, *, after: bool) -> Iterator[Round]:
    for setting in (s for s in job.settings if job.wants_quiet(s)):
        members = tuple(dict.fromkeys(m.pickup for m in setting.on))
        if any(not at_jack(job, m, after=after) for m in members) or not _whole(job, setting):
            continue
        if job.hard_wired or not setting.plain:
            continue
        steps = [
            Step("hum", (n,), kind="hum", columns=(0,), pickups=members) for n in (*members, setting.name)
        ]
        yield _round(steps, len(steps) * (A_HUM_S + MOVE_SELECTOR_S))


def _round(steps: Sequence[Step], seconds: float) -> Round:
    return Round(tuple(steps), seconds).numbered()


def _lifted_at(job: Job, name: str) -> str:
    """The setting at which a pickup is lifted: alone, or with what is always on."""
    if job.on_alone(name):
        return name
    return next((s.name for s in job.settings if any(m.pickup == name for m in s.on)), name)


def without_enough(one: Round, heard: Sequence[TakeResult], *, stage: Stage) -> Round | None:
    """A round of lifts without those from a pickup that has enough of them; None where both have.

    Lifts from one pickup are compared with all from the other, so that more of them say little new.
    """
    enough = Counter(
        (r.entry.inputs, r.entry.tool, r.entry.coil, r.entry.tapped)
        for r in heard
        if r.entry.gesture == "lift" and r.entry.stage == stage and r.has_measurements and not r.faults
    )
    left = [
        s for s in one.steps if s.kind != "lift" or enough[s.inputs, s.tool, s.coil, s.tapped] < SAME_AGAIN
    ]
    if len(left) == len(one.steps):
        return one
    return _round(left, one.seconds * len(left) / len(one.steps)) if left else None


def lifted_coil(job: Job, name: str) -> Literal[1, 2] | None:
    """Lifts over a pickup with two coils are over the coil that hot belongs to."""
    pickup = job.pickup(name)
    return 1 if pickup is not None and pickup.made.pole_has_coil else None


def _whole(job: Job, setting: Setting) -> bool:
    """Whether the hum of a setting can be told from its pickups: single coils alone."""
    return all((p := job.pickup(m.pickup)) is not None and p.made.hums for m in setting.on)


USUAL = {"paired": 3.0, "split": 5.0, "switch": 3.5, "in turn": 3.0, "lift": 4.0, "hum": 2.5}
"""Nats a round says of each relation; about the middle of what simulated benches give."""
USUAL_IN_SWEEP = (2.7, 2.0)
"""Of a sweep over three pickups: of the first two, and of each one and the next after that. Half a second on
each setting, and what comes later than 1.2 s after the pluck says less (medians of 16 simulated guitars)."""


@dataclass(frozen=True, eq=False)
class SessionEvidence:
    """What is known when a round is weighed: the evidence, and the takes it came from."""

    graph: EvidenceGraph
    entries: tuple[Take, ...]


def letter_of(one: Round) -> SignLetter:
    """Whether a round is about the strings' sign or the winding."""
    return "w" if one.first.kind == "hum" else "s"


def outcomes(one: Round) -> Iterator[tuple[int, ...]]:
    """Every way a round can come out."""
    if one.first.kind == "split":  # whether the inputs agree
        yield from ((1,), (-1,))
        return
    for rest in product((1, -1), repeat=len(one.first.pickups) - 1):
        yield (1, *rest)


def with_outcome(
    now: SessionEvidence, one: Round, entry: Take, history: LeadHistory, outcome: Sequence[int]
) -> EvidenceGraph:
    """A copy of the ledger to which the round's evidence was added; ``entry`` is its first take."""
    old = now.graph
    graph = EvidenceGraph(history, list(old.evidence), dict(old.errors), dict(old.ties), old.paths)
    clip_ups = ClipUps(history.job)
    for before in now.entries:
        clip_ups.of(before)
    clip_up_of = clip_ups.of(entry)
    letter = letter_of(one)
    stations = _stations(graph, one, entry)
    observations = [observation_of(graph, entry, s, clip_up_of=clip_up_of, letter=letter) for s in stations]
    each = [s for s in observations if s is not None]
    if len(each) < len(observations):
        return graph
    _PIECES[one.first.kind](graph, one, entry, each, outcome)
    return graph


def _stations(graph: EvidenceGraph, one: Round, entry: Take) -> Sequence[ChannelSource]:
    job, step = graph.history.job, one.first
    if step.kind in ("paired", "split"):
        members = [job.setting(str(name)) for name in step.inputs]
        return [
            channel_source(job, s.on[0], column=c, stage=entry.stage)
            for c, s in enumerate(members)
            if s is not None
        ]
    if step.kind == "switch":
        return jack_mixes(job, named_settings(entry.inputs), stage=entry.stage).sources
    alone = [job.setting(name) for name in step.pickups]
    return [
        channel_source(job, s.on[0].model_copy(update={"coil": step.coil}), column=0, stage=entry.stage)
        for s in alone
        if s is not None
    ]


def _add_paired(
    graph: EvidenceGraph, one: Round, entry: Take, each: list[Observation], outcome: Sequence[int]
) -> None:
    a, b = each
    key = (*sorted((a.pickup, b.pickup)), str(entry.string))
    ratio = USUAL["paired"] * outcome[1]
    graph.evidence.append(paired_evidence(graph, (TakeResult(entry), a, b, ratio, None), key=key))


def _split(
    graph: EvidenceGraph, one: Round, entry: Take, each: list[Observation], outcome: Sequence[int]
) -> None:
    add_split_evidence(graph, TakeResult(entry), each[0], each[1], outcome[0] * USUAL["split"])


def _add_switch(
    graph: EvidenceGraph, one: Round, entry: Take, each: list[Observation], outcome: Sequence[int]
) -> None:
    _table(graph, one, entry, each, outcome, method=SWITCH, string=entry.string)


def _add_hum(
    graph: EvidenceGraph, one: Round, entry: Take, each: list[Observation], outcome: Sequence[int]
) -> None:
    _table(graph, one, entry, each, outcome, method=HUM_LEVEL, string=None)


def _table(
    graph: EvidenceGraph,
    one: Round,
    entry: Take,
    each: list[Observation],
    outcome: Sequence[int],
    *,
    method: str,
    string: str | None,
) -> None:
    log = np.zeros((2,) * len(each))
    worths = _worths(one, len(each) - 1)
    wanted = dict(zip(one.first.pickups, outcome, strict=True))
    for index in np.ndindex(log.shape):
        signs = [(1 - 2 * k) * wanted[s.pickup] for k, s in zip(index, each, strict=True)]
        log[index] = -sum(worth for worth, (a, b) in zip(worths, pairwise(signs), strict=True) if a != b)
    names = tuple(name for step in one.steps for name, _ in named_settings(step.inputs))
    add_table_evidence(
        graph,
        TableEvidence(
            method,
            letter_of(one),
            tuple(each),
            log,
            (entry.id,),
            names,
            entry.rig or "",
            string=string,
            place=place_of_take(entry),
        ),
    )


def _worths(one: Round, relations: int) -> tuple[float, ...]:
    """Nats that a round says of each source and the next one, in the order in which they are heard."""
    if one.first.kind != "switch" or relations < len(USUAL_IN_SWEEP):
        return (USUAL[one.first.kind],) * relations
    first, later = USUAL_IN_SWEEP
    return (first, *[later] * (relations - 1))


def _add_in_turn(
    graph: EvidenceGraph, one: Round, entry: Take, each: list[Observation], outcome: Sequence[int]
) -> None:
    a, b = each
    errors = [e for s in each for e in hand_errors(graph, s.pickup, entry.gesture, [entry.string])]
    factor = product_factor((graph.heard(a), graph.heard(b), *errors), outcome[1] * USUAL["in turn"])
    _append(graph, factor, entry, each)


def _lift(
    graph: EvidenceGraph, one: Round, entry: Take, each: list[Observation], outcome: Sequence[int]
) -> None:
    a, b = each
    ratio = a.sign * b.sign * outcome[1] * USUAL["lift"]
    straight = product_factor((*a.variables, *b.variables), ratio)
    _append(graph, or_magnetised(graph, straight, tool=str(entry.tool)), entry, each)


def _append(graph: EvidenceGraph, factor: Factor, entry: Take, each: list[Observation]) -> None:
    pickups = frozenset(s.pickup for s in each)
    graph.evidence.append(
        Evidence(str(gesture_row(entry.gesture).in_turn), (factor,), pickups, takes=(entry.id,))
    )


_PIECES = {
    "paired": _add_paired,
    "split": _split,
    "switch": _add_switch,
    "hum": _add_hum,
    "in turn": _add_in_turn,
    "lift": _lift,
}

Array = NDArray[np.float64]

HeldBack = Literal["care", "contradictions"]
TapsWanted = Literal["none", "in doubt", "everywhere"]

LEAST_GAIN = 0.004
"""Bits: what promises less is not worth a take; the pair is as sure as this way of measuring makes it."""
ASKED_FROM = 0.95
"""Bits a relation: with more open nothing was heard yet that an answer could be about."""
BESIDE: ErrorKind = "strings beside poles"
PROBABLY_BESIDE = 0.05
"""From this a press is asked for whatever limits the pair: plucks are then nearly as often turned over."""
NEARLY = 1e-12


@dataclass(frozen=True)
class OpenQuestions:
    """What has to be settled: pairs of pickups in phase or not, and settings whose hum is to cancel."""

    pairs: tuple[tuple[str, str], ...]
    quiet: tuple[tuple[str, ...], ...]

    @property
    def variables(self) -> tuple[Variable, ...]:
        """The signs that it is about."""
        strings = dict.fromkeys(name for pair in self.pairs for name in pair)
        windings = dict.fromkeys(name for members in self.quiet for name in members)
        return (*(current_sign(n) for n in strings), *(current_sign(n, letter="w") for n in windings))


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
    pressed = _to_press(rounds, evidence)
    sound = [
        not wrong & {n for s in one.steps for n, _ in named_settings(s.inputs)}
        and (not _is_paired_press(one) or one.first.pickups in pressed)
        for one in rounds
    ]
    rounds, nexts = list(compress(rounds, sound)), list(compress(nexts, sound))
    if base <= 0:
        return NextRound(None, 0.0, base)
    found: list[tuple[float, float, Round | None, BenchQuestion | None]] = []
    for question in _asked(evidence, entries, wanted, base, stage=stage, clipped=clipped, allowed=asking):
        bits = base - _after_answer(question, evidence, entries, heard, wanted, level=level)
        found.append((bits / question.seconds, bits, None, question))
    takes = SessionEvidence(known, tuple(e for e in entries if isinstance(e, Take)))
    for one, entry in zip(rounds, nexts, strict=True):
        bits = base - _expected(takes, one, entry, wanted, level=level)
        found.append((bits / one.seconds, bits, one, None))
    worth = [f for f in found if f[1] > LEAST_GAIN]
    if not worth:
        return NextRound(None, max((f[1] for f in found), default=0.0), base)
    _, gain, best, asked = max(worth, key=lambda f: f[0])
    return NextRound(best, gain, base, asked)


def _is_paired_press(one: Round) -> bool:
    return (one.first.kind, one.first.gesture) == ("paired", "press")


def _to_press(rounds: Iterable[Round], evidence: JobEvidence) -> set[tuple[str, ...]]:
    """The pairs that strings beside the poles limit: to these a press on two inputs is of use.

    Otherwise of a pluck the channels' ratio tells more.
    """
    at = evidence.posterior.at(ALL_DOUBLED)
    limited: set[tuple[str, ...]] = set()
    for a, b in {(a, b) for a, b in (one.first.pickups for one in rounds if _is_paired_press(one))}:
        beside = [e for e in evidence.posterior.graph.errors if e.kind == BESIDE and e.key[0] in (a, b)]
        limit = at.limiting_error(a, b)
        probable = any(at.error_probability(e) >= PROBABLY_BESIDE for e in beside)
        if probable or (limit is not None and limit.kind == BESIDE):
            limited.add((a, b))
    return limited


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


def open_bits(graph: EvidenceGraph, wanted: OpenQuestions, *, level: float | None = None) -> float:
    """How much is not settled, in bits, with every prior doubled: settled has to survive that.

    ``level``: a relation that is this probable is settled; None for the level of the verdict.
    """
    return _bits(_weights(graph, wanted), wanted, level)


def _expected(
    takes: SessionEvidence, one: Round, entry: Take, wanted: OpenQuestions, *, level: float | None
) -> float:
    """What would be open after the round, on average over the ways it can come out."""
    logs = [
        _weights(with_outcome(takes, one, entry, takes.graph.history, outcome), wanted)
        for outcome in outcomes(one)
    ]
    chances = np.array([np.logaddexp.reduce(log, axis=None) for log in logs])
    chances = np.exp(chances - np.logaddexp.reduce(chances))
    return float(sum(c * _bits(log, wanted, level) for c, log in zip(chances, logs, strict=True)))


def _weights(graph: EvidenceGraph, wanted: OpenQuestions) -> Array:
    variables = wanted.variables
    return log_weights(graph.factors(graph.evidence, also=variables, rates=ALL_DOUBLED), variables)


def _bits(log: Array, wanted: OpenQuestions, level: float | None) -> float:
    p = np.exp(log - np.logaddexp.reduce(log, axis=None))
    place = {v: k for k, v in enumerate(wanted.variables)}
    related = [(current_sign(a), current_sign(b)) for a, b in wanted.pairs]
    related += [(current_sign(a, letter="w"), current_sign(b, letter="w")) for a, b in wanted.quiet]
    return sum(_open(_equal(p, place[a], place[b]), level) for a, b in related)


def _equal(p: Array, a: int, b: int) -> float:
    others = tuple(k for k in range(p.ndim) if k not in (a, b))
    both = p.sum(axis=others)
    return float(both[0, 0] + both[1, 1])


def _open(p: float, level: float | None) -> float:
    """Bits that are open on one relation; none once it is settled."""
    if max(p, 1 - p) >= (threshold("settled") if level is None else level):
        return 0.0
    q = np.clip([p, 1 - p], NEARLY, 1.0)
    return float(-np.sum(q * np.log2(q)))


def _entry(one: Round, *, stage: Stage, rig: str | None, number: int) -> Take:
    step = replace(one.first, stage=stage, rig=rig)
    return step.entry(id=f"next {number}", file=f"{TAKES}/next")
