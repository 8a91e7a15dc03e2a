"""Which takes come next: those that settle most in the least time.

Task: weigh every round by the bits it is expected to take off what is not settled, a second of a person's
time. Shapes: none. Units: bits, seconds. Signs: relations alone; see reports.guide.expected.

For each way a round can come out, the whole belief is summed anew; the ways are weighed by how probable each
is now. What is settled asks for nothing more. What no round can bring nearer is left to the advice of the
verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from capture.bench_log import Take
from capture.folder import JobFolder
from capture.job import Job
from reports.belief.factors import Variable, log_weights
from reports.belief.ledger import Ledger, now
from reports.evidence import gather
from reports.guide.expected import Standing, outcomes, with_outcome
from reports.guide.steps import Round
from reports.heard import HeardTake
from reports.judging import sharing_pairs
from reports.verdict import SETTLED_FROM
from reports.wires import follow

Array = NDArray[np.float64]
Stage = Literal["found", "after"]

LEAST_GAIN = 0.004
"""Bits: what promises less is not worth a take; the pair is as sure as this way of measuring makes it."""
NEARLY = 1e-12


@dataclass(frozen=True)
class Wanted:
    """What has to be settled: pairs of pickups in phase or not, and settings whose hum is to cancel."""

    pairs: tuple[tuple[str, str], ...]
    quiet: tuple[tuple[str, ...], ...]

    @property
    def variables(self) -> tuple[Variable, ...]:
        """The signs that it is about."""
        strings = dict.fromkeys(name for pair in self.pairs for name in pair)
        windings = dict.fromkeys(name for members in self.quiet for name in members)
        return (*(now(n) for n in strings), *(now(n, letter="w") for n in windings))


@dataclass(frozen=True)
class Choice:
    """The best round with the bits it promises, and what is still open, in bits."""

    round: Round | None
    gain: float
    open_bits: float

    @property
    def further(self) -> int:
        """How many takes at least are wanted after this round, if each round tells as much as this one.

        Later rounds tell less, so it is a lower bound, to be said as one.
        """
        if self.round is None or self.gain <= 0:
            return 0
        return (ceil(self.open_bits / self.gain) - 1) * len(self.round.steps)


def wanted_of(job: Job) -> Wanted:
    """Pairs that share a setting (all, where none is listed), and quiet settings of single coils."""
    pairs = tuple(sorted(tuple(sorted(pair)) for pair in sharing_pairs(job)))
    quiet = tuple(
        tuple(dict.fromkeys(m.pickup for m in s.on))
        for s in job.settings
        if s.quiet and all((p := job.pickup(m.pickup)) is not None and p.coils == 1 for m in s.on)
    )
    return Wanted(tuple((a, b) for a, b in pairs), tuple(q for q in quiet if len(q) == len(("one", "other"))))


def choose(
    folder: JobFolder,
    heard: Sequence[HeardTake],
    rounds: Sequence[Round],
    *,
    stage: Stage,
    rig: str | None,
) -> Choice:
    """The round that settles most a second; none where all is settled or nothing more can be had."""
    job, entries = folder.job, folder.log.standing
    nexts = [_entry(one, stage=stage, rig=rig, number=k) for k, one in enumerate(rounds)]
    wires = follow(job, [*entries, *nexts])
    known = gather(job, wires, entries, heard).belief.ledger
    wanted = wanted_of(job)
    base = open_bits(known, wanted)
    if base <= 0 or not rounds:
        return Choice(None, 0.0, base)
    takes = Standing(known, tuple(e for e in entries if isinstance(e, Take)))
    gains = [base - _expected(takes, one, entry, wanted) for one, entry in zip(rounds, nexts, strict=True)]
    best = max(range(len(rounds)), key=lambda k: gains[k] / rounds[k].seconds)
    return Choice(rounds[best] if gains[best] > LEAST_GAIN else None, gains[best], base)


def open_bits(ledger: Ledger, wanted: Wanted) -> float:
    """How much is not settled, in bits."""
    return _bits(_weights(ledger, wanted), wanted)


def _expected(takes: Standing, one: Round, entry: Take, wanted: Wanted) -> float:
    """What would be open after the round, on average over the ways it can come out."""
    logs = [
        _weights(with_outcome(takes, one, entry, takes.ledger.wires, outcome), wanted)
        for outcome in outcomes(one)
    ]
    chances = np.array([np.logaddexp.reduce(log, axis=None) for log in logs])
    chances = np.exp(chances - np.logaddexp.reduce(chances))
    return float(sum(c * _bits(log, wanted) for c, log in zip(chances, logs, strict=True)))


def _weights(ledger: Ledger, wanted: Wanted) -> Array:
    variables = wanted.variables
    return log_weights(ledger.factors(ledger.pieces, also=variables), variables)


def _bits(log: Array, wanted: Wanted) -> float:
    p = np.exp(log - np.logaddexp.reduce(log, axis=None))
    place = {v: k for k, v in enumerate(wanted.variables)}
    related = [(now(a), now(b)) for a, b in wanted.pairs]
    related += [(now(a, letter="w"), now(b, letter="w")) for a, b in wanted.quiet]
    return sum(_open(_equal(p, place[a], place[b])) for a, b in related)


def _equal(p: Array, a: int, b: int) -> float:
    others = tuple(k for k in range(p.ndim) if k not in (a, b))
    both = p.sum(axis=others)
    return float(both[0, 0] + both[1, 1])


def _open(p: float) -> float:
    """Bits that are open on one relation; none once it is settled."""
    if max(p, 1 - p) >= SETTLED_FROM:
        return 0.0
    q = np.clip([p, 1 - p], NEARLY, 1.0)
    return float(-np.sum(q * np.log2(q)))


def _entry(one: Round, *, stage: Stage, rig: str | None, number: int) -> Take:
    step = one.first
    return Take(
        id=f"next {number}",
        file="takes/next",
        gesture=step.gesture,
        inputs=step.inputs,
        string=step.string,
        fret=step.fret,
        stage=stage,
        rig=rig,
        tool=step.tool,
        coil=step.coil,
        anew=step.anew,
    )
