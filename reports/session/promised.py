"""What a round of takes promises: bits that it closes of what is not settled.

Evidence of a usual strength is added to a copy of the evidence graph through the same functions as real
evidence, with the same latent errors, so a third take of a kind promises less than the first of another. The
entropy of what is not settled (bits) is averaged over the ways a round can come out, weighted by how probable
each is now: per pickup +1, or -1 where it would be turned over, the first +1, since only relations count; of
a split check, that the inputs agree or not. Log-likelihood ratios are natural logarithms.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from capture.job import Job
from capture.log import Take
from reports.evidence.leads import LeadHistory
from reports.evidence.results import ChannelSource, TakeResult
from reports.evidence.settings import channel_source, jack_mixes, named_settings
from reports.inference.error_priors import ALL_DOUBLED
from reports.inference.evidence_graph import (
    ClipUps,
    Evidence,
    EvidenceGraph,
    Observation,
    RatedFactor,
    current_sign,
    observation_of,
)
from reports.inference.factor_graph import (
    Factor,
    JointSigns,
    Tables,
    Variable,
    product_factor,
    weights_over,
)
from reports.inference.hum_doubts import place_of_take
from reports.inference.jack import TableEvidence, add_table_evidence
from reports.inference.paired import add_split_evidence, paired_evidence
from reports.inference.sequential import hand_errors, or_magnetised
from reports.model.gestures import HUM_LEVEL, SWITCH, SWITCH_HUM, SignLetter, gesture_row
from reports.model.session import Round, switch_strings
from reports.model.verdict import threshold

Array = NDArray[np.float64]

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

    @property
    def related(self) -> tuple[list[tuple[Variable, Variable]], list[tuple[Variable, Variable]]]:
        """The pairs of signs that it asks about: of strings, and of windings."""
        return (
            [(current_sign(a), current_sign(b)) for a, b in self.pairs],
            [(current_sign(a, letter="w"), current_sign(b, letter="w")) for a, b in self.quiet],
        )


USUAL = {"paired": 3.0, "split": 5.0, "switch": 3.5, "in turn": 3.0, "lift": 4.0, "hum": 2.5, "volumes": 1.5}
"""Nats a round says of each relation; about the middle of what simulated benches give."""
USUAL_BESIDE_STRING = 2.0
"""Of the windings, by the hum beside a string that rings: of 53 pairs in simulated takes it said nothing in
half and 3.3 or more in the other half."""
USUAL_ON_STRING = (3.5, 3.5, 2.5)
"""Of a list of two pickups, on each of `switch_strings`."""
USUAL_IN_SWEEP = ((2.7, 1.9), (2.2, 0.6), (2.2, 0.6))
"""Of a sweep over three pickups, on each of `switch_strings`: of the first two, and of each one and the next
after that. Half a second on each setting, and what comes later than 1.2 s after the pluck says less. Means of
8 simulated guitars: those of A2, then of the other two."""


@dataclass(frozen=True, eq=False)
class SessionEvidence:
    """What is known when a round is weighed: the evidence, and the takes it came from."""

    graph: EvidenceGraph
    entries: tuple[Take, ...]

    @cached_property
    def _clip_ups(self) -> ClipUps:
        clip_ups = ClipUps(self.graph.history.job)
        for before in self.entries:
            clip_ups.of(before)
        return clip_ups

    def clip_ups_at(self, entry: Take) -> Mapping[str, int]:
        """The number of the clip-up that each pickup is in at a take that comes next."""
        return self._clip_ups.copy().of(entry)


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
    return _with_outcomes(now, one, entry, history, [outcome])[0]


def _with_outcomes(
    now: SessionEvidence, one: Round, entry: Take, history: LeadHistory, ways: Sequence[Sequence[int]]
) -> tuple[EvidenceGraph, list[list[Factor | RatedFactor]]]:
    """The copy for the first of some outcomes, and the factors of the round's evidence for each of them.

    These differ in their weights alone.
    """
    old = now.graph
    graph = EvidenceGraph(history, list(old.evidence), dict(old.errors), dict(old.ties), old.paths)
    clip_up_of = now.clip_ups_at(entry)
    letter = letter_of(one)
    stations = _stations(graph, one, entry)
    observations = [observation_of(graph, entry, s, clip_up_of=clip_up_of, letter=letter) for s in stations]
    each = [s for s in observations if s is not None]
    known = len(graph.evidence)
    if len(each) < len(observations):
        return graph, [[] for _ in ways]
    told: list[list[Factor | RatedFactor]] = []
    for outcome in reversed(ways):
        del graph.evidence[known:]
        _PIECES[one.first.kind](graph, one, entry, each, outcome)
        told.append([f for piece in graph.evidence[known:] for f in piece.factors])
    return graph, told[::-1]


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
    method = SWITCH_HUM if one.first.gesture == "switch" else HUM_LEVEL
    _table(graph, one, entry, each, outcome, method=method, string=None)


def hum_beside(one: Round, job: Job, wanted: OpenQuestions) -> Round | None:
    """What a switch take also says of windings that are asked for, as if it were a take of hum."""
    asked = {name for members in wanted.quiet for name in members}
    humming = tuple(name for name in one.first.pickups if name in asked)
    if one.first.kind != "switch" or one.first.volumes or len(humming) < 2:
        return None
    return replace(one, steps=(replace(one.first, kind="hum", pickups=humming),))


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
    worths = _worths(one, len(each) - 1, graph.history.job)
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


def _worths(one: Round, relations: int, job: Job) -> tuple[float, ...]:
    """Nats that a round says of each source and the next one, in the order in which they are heard."""
    step = one.first
    if (step.kind, step.gesture) == ("hum", "switch"):
        return (USUAL_BESIDE_STRING,) * relations
    kind = "volumes" if step.kind == "switch" and step.volumes else step.kind
    if kind != "switch":
        return (USUAL[kind],) * relations
    strings = switch_strings(job)
    on = strings.index(step.string) if step.string in strings else -1
    if relations == 1:
        return (USUAL_ON_STRING[on],)
    first, later = USUAL_IN_SWEEP[on]
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


def open_bits(graph: EvidenceGraph, wanted: OpenQuestions, *, level: float | None = None) -> float:
    """How much is not settled, in bits, with every prior doubled: settled has to survive that.

    ``level``: a relation that is this probable is settled; None for the level of the verdict.
    """
    return known_by(graph, wanted, level)[1]


def expected_bits(
    takes: SessionEvidence, one: Round, entry: Take, wanted: OpenQuestions, *, level: float | None
) -> float:
    """What would be open after the round, on average over the ways it can come out."""
    graph, told = _with_outcomes(takes, one, entry, takes.graph.history, list(outcomes(one)))
    tables = _tables(graph, wanted)
    first = sum(len(piece.factors) for piece in takes.graph.evidence)
    logs = list(tables.logs)
    for k, each in enumerate(zip(*told, strict=True), start=first):
        logs[k] = np.stack([f.log if isinstance(f, Factor) else f.at(ALL_DOUBLED).log for f in each])
    chances, bits = _bits_each(Tables(tables.scopes, tuple(logs), len(told)), wanted, level)
    return float(np.exp(chances - np.logaddexp.reduce(chances)) @ bits)


def _bits_each(tables: Tables, wanted: OpenQuestions, level: float | None) -> tuple[Array, Array]:
    """For each way in which a round may come out how probable it is, as a log, and what is open then.

    Signs of strings and windings are summed apart, since no question is about both.
    """
    variables = {v for scope in tables.scopes for v in scope}
    chances, bits = np.zeros(tables.rates), np.zeros(tables.rates)
    for pairs in wanted.related:
        signs = list(dict.fromkeys(v for pair in pairs for v in pair))
        if variables.isdisjoint(signs):
            bits += len(pairs) * _open(0.5, level)
            continue
        joint = JointSigns(tables, signs)
        chances = joint.weights(())
        bits += [sum(_open(p, level) for p in each) for each in joint.all_equal(pairs).tolist()]
    return chances, bits


def known_by(graph: EvidenceGraph, wanted: OpenQuestions, level: float | None) -> tuple[float, float]:
    """How probable all evidence of a graph is, as a log, and what is open by it, with every prior doubled.

    ``level`` as in `open_bits`.
    """
    chances, bits = _bits_each(_tables(graph, wanted), wanted, level)
    return float(chances[0]), float(bits[0])


def likely_signs(graph: EvidenceGraph, wanted: OpenQuestions) -> dict[Variable, int]:
    """Each sign that is asked for, as it probably is: of those that are equally so the first."""
    tables = _tables(graph, wanted)
    told = {v for scope in tables.scopes for v in scope}
    variables = [v for v in wanted.variables if v in told]
    log = weights_over(tables, variables)[0]
    pattern = np.unravel_index(int(np.argmax(log)), log.shape)
    likely = {v: 1 - 2 * int(k) for v, k in zip(variables, pattern, strict=True)}
    return {v: likely.get(v, 1) for v in wanted.variables}


def _tables(graph: EvidenceGraph, wanted: OpenQuestions) -> Tables:
    return graph.tables(graph.evidence, also=wanted.variables, rates=(ALL_DOUBLED,))


def _open(p: float, level: float | None) -> float:
    """Bits that are open on one relation; none once it is settled."""
    if max(p, 1 - p) >= (threshold("settled") if level is None else level):
        return 0.0
    q = np.clip([p, 1 - p], NEARLY, 1.0)
    return float(-np.sum(q * np.log2(q)))
