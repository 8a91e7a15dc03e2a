"""Whole short programmes of rounds: what is begun best, where what tells most by itself is not the end of it.

A programme begins with one of the rounds that promise most, and goes on with what tells most a second once
that came out as is likeliest, questions to the person included. The one that settles soonest is begun. A
round that tells most by itself may leave open what only a dearer one can close: plucks of a string leave open
that the neck sits askew, presses do not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from capture.log import Check, Take
from reports.inference.evidence_graph import Evidence, EvidenceGraph, LatentError, current_sign
from reports.inference.factor_graph import Factor, Variable
from reports.model.notes import ErrorKind
from reports.model.session import Round, Step
from reports.session.promised import (
    NEARLY,
    OpenQuestions,
    SessionEvidence,
    hum_beside,
    known_by,
    letter_of,
    likely_signs,
    open_bits,
    outcomes,
    with_outcome,
)
from reports.session.questions import TAG_S, questions_of
from reports.session.rounds import moving_s

LEAST_GAIN = 0.004
"""Bits: what promises less is not worth a take; the pair is as sure as this way of measuring makes it."""
MOST_TRIED = 5
MOST_STRINGS = 2
MOST_OFFERED = 9
LONGEST_PROGRAMME = 5
"""So many rounds begin a programme; so many may follow in it, of which so many differ by their string alone;
it is no longer than this."""
SAID_NATS = 4.6
"""A person who was asked about an error, and says no, is wrong once in a hundred."""
BY_A_TAG: tuple[ErrorKind, ...] = ("clips", "clip habit", "colours", "one clip-up for both")
LEFT_S_PER_BIT = 100.0
"""What a programme leaves open costs about a take for the last tenth of a bit."""


@dataclass(frozen=True, eq=False)
class WeighedRound:
    """A round with its entry, and the bits that it promises, a second and in all."""

    round: Round
    entry: Take
    rate: float
    bits: float


def soonest(
    takes: SessionEvidence,
    weighed: Sequence[WeighedRound],
    wanted: OpenQuestions,
    *,
    checks: Sequence[Check] | None,
    level: float | None,
) -> WeighedRound:
    """The round whose programme takes least time; ``checks``: what was asked, None where nothing may be.

    Where more pairs are wanted than a programme has rounds, none comes near an end, and what tells most a
    second is begun.
    """
    ranked = sorted(weighed, key=lambda w: -w.rate)
    if len(wanted.pairs) > LONGEST_PROGRAMME:
        return next(one for one in ranked if one.bits > LEAST_GAIN)
    alike: dict[object, list[WeighedRound]] = {}
    for one in ranked:
        step = one.round.first
        alike.setdefault((step.gesture, step.inputs, step.pickups), []).append(one)
    few = {id(one) for each in alike.values() for one in each[:MOST_STRINGS]}
    offered = [one for one in ranked if id(one) in few][:MOST_OFFERED]
    firsts = [each[0] for each in alike.values() if each[0].bits > LEAST_GAIN][:MOST_TRIED]
    return min(firsts, key=lambda w: _programme_s(takes, w, offered, wanted, checks=checks, level=level))


def _programme_s(
    takes: SessionEvidence,
    first: WeighedRound,
    offered: Sequence[WeighedRound],
    wanted: OpenQuestions,
    *,
    checks: Sequence[Check] | None,
    level: float | None,
) -> float:
    """Seconds of a programme that begins with a round and goes on with what then tells most a second."""
    now, left = _likeliest(takes, first, wanted, level=level)
    seconds, last, said = first.round.seconds, first.round.steps[-1], set[LatentError]()
    for _ in range(LONGEST_PROGRAMME - 1):
        if left <= 0:
            break
        signs = likely_signs(now.graph, wanted)
        steps: list[tuple[float, float, SessionEvidence, float, Step | frozenset[LatentError]]] = []
        for one in offered:
            then, open_then = _likeliest(now, one, wanted, signs=signs, level=level)
            cost = one.round.seconds - one.round.moving_s + moving_s(one.round, last.plugged, last.gesture)
            steps.append(((left - open_then) / cost, cost, then, open_then, one.round.steps[-1]))
        for cost, errors in () if checks is None else _to_be_said(now.graph, checks):
            if not errors <= said:
                then = _without(now, errors)
                open_then = open_bits(then.graph, wanted, level=level)
                steps.append(((left - open_then) / cost, cost, then, open_then, errors))
        rate, cost, then, open_then, what = max(steps, key=lambda s: s[0])
        if rate * cost <= LEAST_GAIN:
            break
        if isinstance(what, Step):
            last = what
        else:
            said |= what
        now, left, seconds = then, open_then, seconds + cost
    return seconds + LEFT_S_PER_BIT * max(left, 0.0)


def _to_be_said(
    graph: EvidenceGraph, checks: Sequence[Check]
) -> Iterator[tuple[float, frozenset[LatentError]]]:
    """What a person may be asked: the seconds that it takes, and the errors that the answer rules out."""
    for question in questions_of(graph, checks):
        if isinstance(question.error, LatentError):
            yield question.seconds, frozenset((question.error,))
    for pickup in graph.history.job.pickups:
        clips = frozenset(e for e in graph.errors if e.kind in BY_A_TAG and e.key[0] == pickup.name)
        if clips:
            yield TAG_S, clips


def _without(now: SessionEvidence, errors: frozenset[LatentError]) -> SessionEvidence:
    """What is known once a person said that errors did not happen."""
    old = now.graph
    said = tuple(Factor((error,), np.array([0.0, -SAID_NATS])) for error in sorted(errors, key=str))
    evidence = [*old.evidence, Evidence("said", said, frozenset())]
    graph = EvidenceGraph(old.history, evidence, dict(old.errors), dict(old.ties), old.paths)
    return SessionEvidence(graph, now.entries)


def _likeliest(
    takes: SessionEvidence,
    one: WeighedRound,
    wanted: OpenQuestions,
    *,
    signs: Mapping[Variable, int] | None = None,
    level: float | None,
) -> tuple[SessionEvidence, float]:
    """What is known once a round came out as is likeliest, and what is then open, in bits.

    ``signs``: as they probably are; None where that was not looked at.
    """
    hum = hum_beside(one.round, takes.graph.history.job, wanted)
    if hum is not None:
        takes, _ = _likeliest(takes, replace(one, round=hum), wanted, level=level)
    best: tuple[float, EvidenceGraph, float] | None = None
    names = [current_sign(n, letter=letter_of(one.round)) for n in one.round.first.pickups]
    tried: Iterable[tuple[int, ...]] = outcomes(one.round)
    if signs is not None and one.round.first.kind != "split" and all(n in signs for n in names):
        tried = [tuple(signs[n] * signs[names[0]] for n in names)]
    for outcome in tried:
        graph = with_outcome(takes, one.round, one.entry, takes.graph.history, outcome)
        total, left = known_by(graph, wanted, level)
        if best is None or total > best[0] + NEARLY:
            best = total, graph, left
    if best is None:
        raise AssertionError("a round can come out in some way")
    return SessionEvidence(best[1], (*takes.entries, one.entry)), best[2]
