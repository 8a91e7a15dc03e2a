"""Belief: what the ledger's evidence says of pairs and settings, and which mistake is behind a conflict.

Task: exact probabilities from all evidence, from one method alone, and of every hidden mistake. Signs:
``in_phase`` is P(s_a = s_b), ``hum_cancels`` is P(w_a = -w_b). None where no evidence connects the two.

All evidence of a job, or of a part of its log, gathered and summed.

Task: from heard takes and log entries to one `JobEvidence`: the belief, what was read from the jack besides,
and what could not be placed. Signs: as in dsp/model/signs.py, relative to how the pickups are wired at the
latest entry of the given wires.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from capture.job import Job
from capture.log import AnyEntry
from reports.evidence.health import HealthFindings, health_findings
from reports.evidence.leads import LeadHistory, LeadView, lead_history
from reports.evidence.results import TakeResult
from reports.evidence.settings import measured_kohm
from reports.inference.error_priors import ERROR_PRIORS
from reports.inference.evidence_graph import Evidence, EvidenceGraph, LatentError, UnknownSign, current_sign
from reports.inference.factor_graph import (
    Factor,
    Variable,
    log_marginal,
    prior_factor,
    probability_equal,
    probability_of_error,
)
from reports.inference.jack import JackEvidence, add_jack_evidence
from reports.inference.meter import add_compass_evidence, add_meter_evidence
from reports.inference.paired import add_recorded_evidence
from reports.model.gestures import SPLIT, SignLetter
from reports.model.take_notes import AnyTakeNote, MeterLeadsNote

Array = NDArray[np.float64]


@dataclass(frozen=True)
class MethodPosterior:
    """What one method alone says of a pair, under an even prior: that their signs are the same."""

    method: str
    same: float
    takes: tuple[str, ...]
    entries: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Posterior:
    """All that is believed; made once from a finished ledger."""

    graph: EvidenceGraph

    @cached_property
    def factors(self) -> list[Factor]:
        """Every factor of the job."""
        return self.graph.factors(self.graph.evidence)

    @cached_property
    def _roles(self) -> dict[LatentError, Hashable]:
        """Every hidden mistake with what it does; those that do the same are as probable as each other.

        A swing that is read ten times the same way has ten chances of being misread, and one sum tells all: a
        mistake of one piece alone is known by its kind.
        """
        shared = Counter(v for f in self.factors if len(f.variables) > 1 for v in f.variables)
        does: dict[LatentError, list[Hashable]] = defaultdict(list)
        for factor in self.factors:
            weights = factor.log.tobytes()
            names = [v.kind if isinstance(v, LatentError) and shared[v] == 1 else v for v in factor.variables]
            for place, hidden in enumerate(factor.variables):
                if isinstance(hidden, LatentError):
                    does[hidden].append((tuple(names[:place]), tuple(names[place + 1 :]), weights))
        return {hidden: tuple(what) for hidden, what in does.items()}

    def in_phase(self, a: str, b: str) -> float | None:
        """P(s_a = s_b) from everything."""
        return _equal(self.factors, current_sign(a), current_sign(b))

    def hum_cancels(self, a: str, b: str) -> float | None:
        """P(w_a = -w_b); None for pickups with two coils, which cancel hum by themselves."""
        pickups = [self.graph.history.job.pickup(name) for name in (a, b)]
        if any(p is None or p.coils > 1 for p in pickups):
            return None
        same = _equal(self.factors, current_sign(a, letter="w"), current_sign(b, letter="w"))
        return None if same is None else 1 - same

    def by_method(self, a: str, b: str) -> tuple[MethodPosterior, ...]:
        """Each method's own word on a pair, with the split checks that go with it."""
        return self._each_alone(a, b, letter="s")

    def hum_by_method(self, a: str, b: str) -> tuple[MethodPosterior, ...]:
        """Each method's own word on the windings of a pair; ``same`` is P(w_a = w_b)."""
        if self.hum_cancels(a, b) is None:
            return ()
        return self._each_alone(a, b, letter="w")

    def _each_alone(self, a: str, b: str, *, letter: SignLetter) -> tuple[MethodPosterior, ...]:
        found = []
        for method in dict.fromkeys(p.method for p in self.graph.evidence if p.about == letter):
            mine = [p for p in self.graph.evidence if p.method == method]
            splits = [p for p in self.graph.evidence if p.method == SPLIT]
            equal = _equal(
                self.graph.factors([*mine, *splits]),
                current_sign(a, letter=letter),
                current_sign(b, letter=letter),
            )
            if equal is not None:
                about = [p for p in mine if _bears_on(p, {a, b})]
                found.append(MethodPosterior(method, equal, _takes(about), _entries(about)))
        return tuple(found)

    def all_agree(self, members: Sequence[tuple[str, int | None, bool]]) -> float | None:
        """P(all members of a setting add): each is (pickup, coil, reversed)."""
        log = self._together(members, letter="s")
        if log is None:
            return None
        straight = tuple(1 if turned else 0 for *_, turned in members)
        over = tuple(1 - k for k in straight)
        return float(np.exp(np.logaddexp(log[straight], log[over])))

    def all_cancel(self, members: Sequence[tuple[str, int | None, bool]]) -> float | None:
        """P(the windings of these single coils cancel each other): as many one way as the other."""
        log = self._together(members, letter="w")
        if log is None:
            return None
        turned = np.array([1 if over else 0 for *_, over in members])
        balanced = [
            index for index in np.ndindex(log.shape) if 2 * int(np.sum(turned != index)) == len(members)
        ]
        return float(np.exp(np.logaddexp.reduce([log[index] for index in balanced]))) if balanced else 0.0

    def _together(
        self, members: Sequence[tuple[str, int | None, bool]], *, letter: SignLetter
    ) -> Array | None:
        """Log weights over the members' signs, (2,) * members; None where evidence does not join them all."""
        variables = []
        for pickup, coil, _ in members:
            (variable,), _ = self.graph.sign_of(LeadView(pickup, coil, False, 0, True, False), letter=letter)
            variables.append(variable)
        if len(set(variables)) < len(variables):
            return None
        factors = self.graph.factors(self.graph.evidence, also=variables)
        if any(not _connected(factors, variables[0], other) for other in variables[1:]):
            return None
        return log_marginal(factors, variables)

    def same_magnet(self, a: str, b: str) -> float | None:
        """P(m_a = m_b), from m = s w: None where either relation is unknown."""
        string, winding = (
            (current_sign(a), current_sign(b)),
            (current_sign(a, letter="w"), current_sign(b, letter="w")),
        )
        if not _connected(self.factors, *string) or not _connected(self.factors, *winding):
            return None
        log = log_marginal(self.factors, (*string, *winding))
        alike = [index for index in np.ndindex(log.shape) if sum(index) % 2 == 0]
        return float(np.exp(np.logaddexp.reduce([log[index] for index in alike])))

    def happened(self, hidden: LatentError) -> float:
        """Probability that a mistake happened, given everything."""
        return probability_of_error(self.factors, hidden)

    def suspects(self) -> list[tuple[LatentError, float]]:
        """Hidden mistakes in the evidence with their probabilities now, likeliest first."""
        seen: dict[Hashable, float] = {}
        each = []
        for hidden in (h for h in self.graph.hidden if h in self._roles):
            role = self._roles[hidden]
            if role not in seen:
                seen[role] = self.happened(hidden)
            each.append((hidden, seen[role]))
        return sorted(each, key=lambda item: -item[1])

    def cap(self, a: str, b: str) -> LatentError | None:
        """The shared mistake that most keeps a pair from being surer, or None where none does."""
        base = self.in_phase(a, b)
        if base is None:
            return None
        best, gain = None, 0.0
        tried: set[Hashable] = set()
        for hidden in sorted(self._roles, key=str):  # of equal ones always the same
            if self._roles[hidden] in tried:
                continue
            tried.add(self._roles[hidden])
            sure = [f for f in self.factors if f.variables != (hidden,)]
            sure.append(prior_factor(hidden, ERROR_PRIORS[hidden.kind].probability / 100))
            p = probability_equal(sure, current_sign(a), current_sign(b))
            more = max(p, 1 - p) - max(base, 1 - base)
            if more > gain + 1e-9:
                best, gain = hidden, more
        return best


def opposed_evidence(evidence: Sequence[Evidence]) -> tuple[list[Evidence], list[Evidence]]:
    """Pieces of one factor each that say "+1" if no mistake happened, and those that say "-1"."""
    same = [p for p in evidence if log_ratio(p) > 0]
    return same, [p for p in evidence if log_ratio(p) < 0]


def log_ratio(piece: Evidence) -> float:
    """Log ratio of a piece's first factor between every sign +1 and one of them turned over."""
    log = piece.factors[0].log
    return float(log.flat[0] - log.flat[1])


def _equal(factors: list[Factor], a: Variable, b: Variable) -> float | None:
    return probability_equal(factors, a, b) if _connected(factors, a, b) else None


def _connected(factors: Sequence[Factor], a: Variable, b: Variable) -> bool:
    """Whether a chain of evidence joins two signs; hidden mistakes join nothing."""
    reached, grown = {a}, True
    while grown and b not in reached:
        grown = False
        for factor in factors:
            signs = {v for v in factor.variables if not isinstance(v, LatentError)}
            if signs & reached and not signs <= reached:
                reached |= signs
                grown = True
    return b in reached


def _bears_on(piece: Evidence, pickups: set[str]) -> bool:
    """Whether a piece speaks of one of these pickups as it is wired now."""
    return any(
        isinstance(v, UnknownSign) and v.pickup in pickups and v.era < 0
        for f in piece.factors
        for v in f.variables
    )


def _takes(evidence: Sequence[Evidence]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(t for p in evidence for t in p.takes))


def _entries(evidence: Sequence[Evidence]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(e for p in evidence for e in p.entries))


@dataclass(frozen=True, eq=False)
class JobEvidence:
    """Everything that some entries of the log say.

    ``unplaced``: why a take could not be placed, by its id; ``left_out``: the same of meter readings.
    """

    history: LeadHistory
    posterior: Posterior
    jack: JackEvidence
    found: HealthFindings
    unplaced: dict[str, AnyTakeNote]
    left_out: dict[str, MeterLeadsNote]


def gather_evidence(
    job: Job, history: LeadHistory, entries: Sequence[AnyEntry], heard: Sequence[TakeResult]
) -> JobEvidence:
    """Sum up the evidence of ``heard`` and ``entries`` on the leads of ``history``."""
    graph = EvidenceGraph(history)
    found = health_findings(job, heard)
    trusted = [found.without_unsound(take) for take in heard]
    unplaced: dict[str, AnyTakeNote] = {
        **found.remarks,
        **add_recorded_evidence(graph, trusted, alike=found.alike),
    }
    jack = add_jack_evidence(graph, trusted, kohm=measured_kohm(job, entries), unsound=found.unsound)
    left_out = add_meter_evidence(graph, entries)
    add_compass_evidence(graph, entries)
    return JobEvidence(history, Posterior(graph), jack, found, unplaced, left_out)


def evidence_before_work(job: Job, entries: Sequence[AnyEntry], heard: Sequence[TakeResult]) -> JobEvidence:
    """What was known before the work, by itself."""
    before = [e for e in entries if e.stage == "found" and e.kind != "change"]
    ids = {e.id for e in before}
    return gather_evidence(job, lead_history(job, before), before, [h for h in heard if h.entry.id in ids])


def evidence_after_work(
    job: Job, history: LeadHistory, entries: Sequence[AnyEntry], heard: Sequence[TakeResult]
) -> JobEvidence:
    """What the takes and readings made after the work say without those from before."""
    later = [e for e in entries if e.stage == "after"]
    return gather_evidence(job, history, later, [h for h in heard if h.entry.stage == "after"])
