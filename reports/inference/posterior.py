"""The posterior: probabilities of relations and of latent errors, given all evidence or that of one method.

The graph of all evidence is summed exactly (reports.inference.factor_graph). ``in_phase`` is P(s_a = s_b),
``hum_cancels`` P(w_a = -w_b), both for the pickups as wired at the latest entry; None where no evidence
connects the two. `gather_evidence` makes the graph from takes and log entries.

`PosteriorAt` is the posterior at given rates of errors, all of them summed at once. `Posterior` is its
average over how much care is taken at the bench, of which this job's contradictions tell; `Posterior.assess`
also asks whether an answer stands where the priors are doubled, which is what "settled" needs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from capture.job import Job
from capture.log import AnyEntry
from reports.evidence.health import HealthFindings, health_findings
from reports.evidence.leads import LeadHistory, LeadView, lead_history
from reports.evidence.paths import bench_paths
from reports.evidence.results import TakeResult
from reports.evidence.settings import measured_kohm
from reports.evidence.shelf import standing_relations
from reports.inference.checks import CHECKED, add_check_evidence, add_stage_diagrams
from reports.inference.error_priors import (
    ALL_DOUBLED,
    CARE_LEVELS,
    NOTHING_KNOWN,
    SINGLE_ERRORS,
    USUAL,
    ErrorRates,
    KnownCare,
    PriorEnd,
    at_care,
    one_doubled,
    usual_care,
)
from reports.inference.evidence_graph import (
    Evidence,
    EvidenceGraph,
    HeardSign,
    LatentError,
    UnknownSign,
    current_sign,
    stage_sign,
)
from reports.inference.factor_graph import (
    MOST_JOINT,
    Factor,
    JointSigns,
    Tables,
    Variable,
    normalised,
)
from reports.inference.jack import JackEvidence, add_jack_evidence
from reports.inference.meter import add_compass_evidence, add_meter_evidence, add_pole_evidence
from reports.inference.paired import add_recorded_evidence
from reports.inference.places import PlacesHeard, add_place_evidence, places_heard
from reports.inference.selector import LETTERS
from reports.inference.shelf import add_shelf_evidence
from reports.inference.taps import TapFindings, add_tap_evidence, tap_findings
from reports.model.gestures import SPLIT, SignLetter
from reports.model.notes import CareLevel, Standing
from reports.model.rig_notes import ShelfNote
from reports.model.take_notes import AnyTakeNote, MeterLeadsNote
from reports.model.verdict import standing_of, threshold

Array = NDArray[np.float64]

STAGE_DECIDES = 0.1
"""A stage decides a pair where knowing its sign makes the answer surer by this much."""
KNOWN_NATS = math.log(100.0)
"""What is taken to be known against an error, to find the one that keeps a pair from being surer."""


@dataclass(frozen=True)
class MethodPosterior:
    """What one method alone says of a pair, under an even prior: that their signs are the same."""

    method: str
    same: float
    takes: tuple[str, ...]
    entries: tuple[str, ...]


@dataclass(frozen=True)
class Assessment:
    """A probability, averaged over care, with its range over the other priors that were tried.

    ``settled``: it stands at settled in all of them. ``fragile``: the care of the bench is what it fails at.
    """

    p: float
    low: float
    high: float
    standing: Standing
    fragile: bool = False


@dataclass(frozen=True, eq=False)
class PosteriorAt:
    """What follows from a finished evidence graph at some rates of errors.

    Relations are arrays (rates,). What is asked of latent errors is answered at the first of the rates.
    """

    graph: EvidenceGraph
    rates: tuple[ErrorRates, ...] = (USUAL,)
    _known: dict[Hashable, Array | None] = field(default_factory=dict)
    _beside: dict[tuple[str, str, SignLetter], Mapping[Variable, Array]] = field(default_factory=dict)
    _joint: dict[SignLetter, JointSigns] = field(default_factory=dict)

    @cached_property
    def tables(self) -> Tables:
        """Every factor of the job at each of the rates."""
        return self.graph.tables(self.graph.evidence, rates=self.rates)

    @cached_property
    def log_evidence(self) -> Array:
        """Log likelihood of all evidence (rates,), up to a constant that is the same at all rates."""
        return self._signs("s").weights(())

    @cached_property
    def _errors(self) -> Mapping[Variable, float]:
        """The probability of each latent error."""
        found = self.tables.numbered.first.marginals()
        return {
            v: float(np.exp(normalised(log)[0, 1])) for v, log in found.items() if isinstance(v, LatentError)
        }

    def in_phase(self, a: str, b: str) -> Array | None:
        """P(s_a = s_b) from everything."""
        return self._same(a, b, "s")

    def hum_cancels(self, a: str, b: str) -> Array | None:
        """P(w_a = -w_b); None for pickups that cancel hum by themselves."""
        pickups = [self.graph.history.job.pickup(name) for name in (a, b)]
        if any(p is None or not p.made.hums for p in pickups):
            return None
        same = self._same(a, b, "w")
        return None if same is None else 1 - same

    def _same(self, a: str, b: str, letter: SignLetter) -> Array | None:
        key = (letter, *sorted((a, b)))
        if key not in self._known:
            signs = [current_sign(name, letter=letter) for name in key[1:]]
            self._known[key] = self._signs(letter).equal(*signs) if self._joined(signs) else None
        return self._known[key]

    def _signs(self, letter: SignLetter) -> JointSigns:
        """The signs of all pickups; with those of the other letter, where they are few."""
        if letter not in self._joint:
            strings, windings = (told_signs(self.graph, self.tables, one) for one in LETTERS)
            if len(strings) + len(windings) <= MOST_JOINT:
                strings = windings = [*strings, *windings]
            self._joint["s"] = JointSigns(self.tables, strings)
            self._joint["w"] = self._joint["s"] if windings is strings else JointSigns(self.tables, windings)
        return self._joint[letter]

    def _joined(self, signs: Sequence[Variable]) -> bool:
        return all(_connected(self.tables.scopes, signs[0], other) for other in signs[1:])

    def all_agree(self, members: Sequence[tuple[str, int | None, bool]]) -> Array | None:
        """P(all members of a setting add): each is (pickup, coil, reversed)."""
        key = ("agree", tuple(members))
        if key not in self._known:
            log = self._together(members, letter="s")
            straight = [1 if is_reversed else 0 for *_, is_reversed in members]
            over = [1 - k for k in straight]
            self._known[key] = None if log is None else _total(log, [straight, over])
        return self._known[key]

    def all_cancel(
        self, members: Sequence[tuple[str, int | None, bool]], *, weights: Sequence[int] = ()
    ) -> Array | None:
        """P(the windings of these single coils cancel each other): as many one way as the other.

        ``weights``: what each counts, one each where none are given.
        """
        key = ("cancel", tuple(members))
        if key not in self._known:
            self._known[key] = self._together(members, letter="w")
        log = self._known[key]
        if log is None:
            return None
        is_reversed = np.array([1 if over else 0 for *_, over in members])
        patterns = np.ndindex(log.shape[1:])
        count = np.array(weights or (1,) * len(members))
        balanced = [p for p in patterns if 2 * int(np.sum(count * (is_reversed != p))) == count.sum()]
        return _total(log, balanced)

    def _together(
        self, members: Sequence[tuple[str, int | None, bool]], *, letter: SignLetter
    ) -> Array | None:
        """Log weights (rates, 2, ...) over the members' signs; None where evidence does not join them all."""
        variables = []
        for pickup, coil, _ in members:
            (variable,), _ = self.graph.add_sign_variables(
                LeadView(pickup, coil, False, 0, True, False), letter=letter
            )
            variables.append(variable)
        if len(set(variables)) < len(variables):
            return None
        joint = self._signs(letter)
        if not set(variables) <= set(joint.signs):
            tables = self.graph.tables(self.graph.evidence, also=variables, rates=self.rates)
            joint = JointSigns(tables, variables)
        if any(not _connected(joint.tables.scopes, variables[0], other) for other in variables[1:]):
            return None
        return normalised(joint.weights(variables))

    def same_magnet(self, a: str, b: str) -> Array | None:
        """P(m_a = m_b), from m = s w: None where either relation is unknown."""
        string = [current_sign(name) for name in (a, b)]
        winding = [current_sign(name, letter="w") for name in (a, b)]
        if not self._joined(string) or not self._joined(winding):
            return None
        log = normalised(self._signs("s").weights((*string, *winding)))
        return _total(log, [p for p in np.ndindex(log.shape[1:]) if sum(p) % 2 == 0])

    def error_probability(self, error: LatentError) -> float:
        """P(the error happened), given everything."""
        return self._errors[error] if error in self._errors else self.rates[0].of(error.kind)

    def likely_errors(self) -> list[tuple[LatentError, float]]:
        """The latent errors of the evidence with their posterior probabilities, likeliest first."""
        ranked = [(error, self._errors[error]) for error in self.graph.errors if error in self._errors]
        return sorted(ranked, key=lambda item: -round(item[1], 9))  # equal ones in the order of the job

    def unproved_stage(self, a: str, b: str) -> str | None:
        """The pickup of an unsettled pair that is heard through a stage whose sign decides it."""
        beside = None
        for name in (a, b):
            pickup = self.graph.history.job.pickup(name)
            if pickup is None or not pickup.active:
                continue
            if beside is None:
                beside = self.beside(a, b)
            for stage in (stage_sign(""), stage_sign(name)):
                if stage not in beside:
                    continue
                p = np.exp(beside[stage])
                now, then = float(p[0].sum()), float(p[0, 0] / p[:, 0].sum())
                if abs(then - 0.5) > abs(now - 0.5) + STAGE_DECIDES:
                    return name
        return None

    def limiting_error(self, a: str, b: str) -> LatentError | None:
        """The latent error that most keeps a pair from being surer, or None where none does."""
        best, gain = None, 1e-9
        for error, more in self.surer_without(a, b, known_nats=KNOWN_NATS).items():
            if more > gain + 1e-9:
                best, gain = error, more
        return best

    def surer_without(
        self, a: str, b: str, *, known_nats: float, letter: SignLetter = "s"
    ) -> dict[LatentError, float]:
        """By how much a pair would be surer if so many nats said that an error had not happened."""
        found = {}
        for error in sorted((v for v in self.beside(a, b, letter) if isinstance(v, LatentError)), key=str):
            p = np.exp(self.beside(a, b, letter)[error])  # of equal ones always the same first
            sure = p * np.array([1.0, np.exp(-known_nats)])
            found[error] = float(max(sure.sum(axis=1)) / sure.sum() - max(p.sum(axis=1)))
        return found

    def beside(self, a: str, b: str, letter: SignLetter = "s") -> Mapping[Variable, Array]:
        """Log probabilities (2, 2) of every variable: two pickups' signs agreeing or not, and its own.

        Empty where no evidence joins the two.
        """
        key = (a, b, letter)
        if key not in self._beside:
            signs = [current_sign(name, letter=letter) for name in (a, b)]
            self._beside[key] = self._signs(letter).beside(*signs) if self._joined(signs) else {}
        return self._beside[key]


Question = Callable[[PosteriorAt], Array | None]
"""Probabilities that can be asked at any rates."""

_LEVELS: tuple[CareLevel, ...] = tuple(CARE_LEVELS)


@dataclass(frozen=True, eq=False)
class Posterior:
    """What follows from a finished evidence graph, averaged over care.

    ``care_prior``: how probable each level of care is before this job. ``end``: the end of their ranges at
    which the priors are taken, for studies.
    """

    graph: EvidenceGraph
    care_prior: Mapping[CareLevel, float] = field(default_factory=usual_care)
    end: PriorEnd = "usual"
    _at: dict[tuple[ErrorRates, ...], PosteriorAt] = field(default_factory=dict)
    _by_method: dict[tuple[str, SignLetter, frozenset[str] | None], JointSigns] = field(default_factory=dict)

    def at(self, *rates: ErrorRates) -> PosteriorAt:
        """The posterior at these rates."""
        if rates not in self._at:
            self._at[rates] = PosteriorAt(self.graph, tuple(replace(r, end=self.end) for r in rates))
        return self._at[rates]

    @property
    def usual(self) -> PosteriorAt:
        """The posterior with the priors as they stand, then with all doubled, then at each level of care."""
        return self.at(USUAL, ALL_DOUBLED, *map(at_care, _LEVELS))

    @property
    def doubled(self) -> PosteriorAt:
        """The posterior with each kind of prior doubled by itself."""
        kinds = dict.fromkeys((*(e.kind for e in self.graph.errors), *SINGLE_ERRORS))
        return self.at(*map(one_doubled, kinds))

    @cached_property
    def care(self) -> dict[CareLevel, float]:
        """How probable each level of care is, by what this job's takes and readings contradict."""
        logs = dict(zip(_LEVELS, self.usual.log_evidence[-len(_LEVELS) :], strict=True))
        log = {c: math.log(p) + float(logs[c]) for c, p in self.care_prior.items() if p > 0}
        top = max(log.values())
        weights = {c: math.exp(value - top) for c, value in log.items()}
        return {c: weights.get(c, 0.0) / sum(weights.values()) for c in CARE_LEVELS}

    def average(self, question: Question) -> float | None:
        """A probability averaged over care; None where it cannot be had."""
        found = question(self.usual)
        return None if found is None else self._over_care(found)

    def _over_care(self, found: Array) -> float:
        each = zip((self.care[c] for c in _LEVELS), found[-len(_LEVELS) :], strict=True)
        return float(sum(weight * p for weight, p in each))

    def assess(self, question: Question) -> Assessment | None:
        """A probability with its standing: settled only where it survives the priors doubled, and care.

        Doubled, at usual care: all together, and each kind by itself (where the rest holds already). Averaged
        over care, without doubling.
        """
        found = question(self.usual)
        if found is None:
            return None
        average, usual = self._over_care(found), float(found[0])
        side = 1 if average >= 0.5 else -1
        tried = [average, usual, float(found[1])]

        def holds(p: float) -> bool:
            return (p if side > 0 else 1 - p) >= threshold("settled")

        if all(map(holds, tried)):
            each = question(self.doubled)
            tried += [] if each is None else map(float, each)
        standing = standing_of(average)
        settled = all(map(holds, tried))
        if standing == "settled" and not settled:
            standing = "likely"
        fragile = holds(usual) and not holds(average)
        return Assessment(average, min(tried), max(tried), standing, fragile)

    def in_phase(self, a: str, b: str) -> float | None:
        """P(s_a = s_b) from everything."""
        return self.average(lambda one: one.in_phase(a, b))

    def hum_cancels(self, a: str, b: str) -> float | None:
        """P(w_a = -w_b); None for pickups that cancel hum by themselves."""
        return self.average(lambda one: one.hum_cancels(a, b))

    def all_agree(self, members: Sequence[tuple[str, int | None, bool]]) -> float | None:
        """P(all members of a setting add): each is (pickup, coil, reversed)."""
        return self.average(lambda one: one.all_agree(members))

    def all_cancel(
        self, members: Sequence[tuple[str, int | None, bool]], *, weights: Sequence[int] = ()
    ) -> float | None:
        """P(the windings of these single coils cancel each other): as many one way as the other."""
        return self.average(lambda one: one.all_cancel(members, weights=weights))

    def same_magnet(self, a: str, b: str) -> float | None:
        """P(m_a = m_b), from m = s w: None where either relation is unknown."""
        return self.average(lambda one: one.same_magnet(a, b))

    def error_probability(self, error: LatentError) -> float:
        """P(the error happened), given everything."""
        return self.usual.error_probability(error)

    def likely_errors(self) -> list[tuple[LatentError, float]]:
        """The latent errors of the evidence with their posterior probabilities, likeliest first."""
        return self.usual.likely_errors()

    def unproved_stage(self, a: str, b: str) -> str | None:
        """A pickup whose active stage decides a pair while nothing says whether it inverts; None for none."""
        return self.usual.unproved_stage(a, b)

    def limiting_error(self, a: str, b: str) -> LatentError | None:
        """The latent error that most keeps a pair from being surer, or None where none does."""
        return self.usual.limiting_error(a, b)

    def by_method(self, a: str, b: str, *, among: Among = None) -> tuple[MethodPosterior, ...]:
        """Each method's own word on a pair, with the split checks that go with it.

        ``among``: the ids of the takes and entries that are asked; None for all.
        """
        return self._each_alone(a, b, letter="s", among=among)

    def hum_by_method(self, a: str, b: str, *, among: Among = None) -> tuple[MethodPosterior, ...]:
        """Each method's own word on the windings of a pair; ``same`` is P(w_a = w_b)."""
        if self.hum_cancels(a, b) is None:
            return ()
        return self._each_alone(a, b, letter="w", among=among)

    def _each_alone(self, a: str, b: str, *, letter: SignLetter, among: Among) -> tuple[MethodPosterior, ...]:
        results = []
        for method in dict.fromkeys(p.method for p in self.graph.evidence if p.letter == letter):
            mine = [p for p in self.graph.evidence if p.method == method and is_from(p, among)]
            equal = self._from(method, mine, a, b, letter=letter, among=among)
            if equal is not None:
                relevant = [p for p in mine if _bears_on(self.graph, p, {a, b})]
                results.append(MethodPosterior(method, equal, _takes(relevant), _entries(relevant)))
        return tuple(results)

    def in_phase_by(self, a: str, b: str, *, among: Among) -> MethodPosterior | None:
        """What all evidence from some takes and entries says of a pair; None where nothing connects it."""
        mine = [p for p in self.graph.evidence if is_from(p, among)]
        equal = self._from("", mine, a, b, letter="s", among=among)
        if equal is None:
            return None
        relevant = [p for p in mine if p.letter == "s" and _bears_on(self.graph, p, {a, b})]
        return MethodPosterior("", equal, _takes(relevant), _entries(relevant))

    def without(self, entries: Collection[str], pickups: Collection[str]) -> Posterior:
        """The posterior without what some takes and entries alone say of the strings at these pickups."""
        kept = [
            p
            for p in self.graph.evidence
            if not (p.letter == "s" and p.pickups & set(pickups) and is_from(p, entries))
        ]
        told = {v for p in kept for v in self.graph.variables_of(p)}
        errors = {e: None for e in self.graph.errors if e in told}
        return Posterior(replace(self.graph, evidence=kept, errors=errors), self.care_prior, self.end)

    def _from(
        self,
        method: str,
        pieces: Sequence[Evidence],
        a: str,
        b: str,
        *,
        letter: SignLetter,
        among: Among,
    ) -> float | None:
        """P(same sign) from some pieces, with all that is known of the inputs."""
        key = (method, letter, None if among is None else frozenset(among))
        if key not in self._by_method:
            ids = set(map(id, pieces))
            shared = [p for p in self.graph.evidence if p.method in (SPLIT, CHECKED) and id(p) not in ids]
            tables = Tables.of(self.graph.factors([*pieces, *shared]))
            self._by_method[key] = JointSigns(tables, told_signs(self.graph, tables, letter))
        joint = self._by_method[key]
        signs = current_sign(a, letter=letter), current_sign(b, letter=letter)
        return float(joint.equal(*signs)[0]) if _connected(joint.tables.scopes, *signs) else None


Among = Collection[str] | None
"""Ids of takes and entries; None for all of them."""


def is_from(piece: Evidence, among: Among) -> bool:
    """Whether a piece rests on these takes and entries alone."""
    return among is None or {*piece.takes, *piece.entries} <= set(among)


def opposed_evidence(evidence: Sequence[Evidence]) -> tuple[list[Evidence], list[Evidence]]:
    """Evidence of one factor each for +1 if no error happened, and that for -1."""
    same = [p for p in evidence if log_likelihood_ratio(p) > 0]
    return same, [p for p in evidence if log_likelihood_ratio(p) < 0]


def log_likelihood_ratio(piece: Evidence) -> float:
    """Log-likelihood ratio of the first factor between all signs +1 and one of them turned over.

    The one that is turned matters where no error happened: the pull of a tool that is no magnet does not.
    What an input hears turned over counts turned over, so that pieces compare whichever way the leads were.
    """
    first = piece.factors[0]
    heard = math.prod(v.sign for v in first.variables if isinstance(v, HeardSign))
    log = first.log if isinstance(first, Factor) else first.at(USUAL).log
    signs = [k for k, v in enumerate(first.variables) if not isinstance(v, LatentError)]
    straight = float(log[(0,) * log.ndim])
    turned = [float(log[tuple(int(k == sign) for k in range(log.ndim))]) for sign in signs]
    return heard * next((straight - over for over in turned if over != straight), 0.0)


def told_signs(graph: EvidenceGraph, tables: Tables, letter: SignLetter) -> list[Variable]:
    """The signs of all pickups, as wired now, that some factors are about."""
    told = {v for scope in tables.scopes for v in scope}
    signs = [current_sign(p.name, letter=letter) for p in graph.history.job.pickups]
    return [v for v in signs if v in told]


def _total(log: Array, patterns: Sequence[Sequence[int]]) -> Array:
    """The probability (rates,) of some patterns, from normalised log weights (rates, 2, ...); 0 of none."""
    p = np.exp(log).reshape(len(log), -1)
    chosen = [int(np.ravel_multi_index([int(k) for k in one], log.shape[1:])) for one in patterns]
    return np.asarray(p[:, chosen].sum(axis=1))


def _connected(scopes: Sequence[tuple[Variable, ...]], a: Variable, b: Variable) -> bool:
    """Whether a chain of evidence joins two signs; latent errors join nothing."""
    joined = {frozenset(v for v in scope if not isinstance(v, LatentError)) for scope in scopes}
    reached, grown = {a}, True
    while grown and b not in reached:
        near = {signs for signs in joined if signs & reached}
        grown = any(not signs <= reached for signs in near)
        reached = reached.union(*near)
        joined -= near
    return b in reached


def _bears_on(graph: EvidenceGraph, piece: Evidence, pickups: set[str]) -> bool:
    """Whether a piece speaks of one of these pickups as it is wired now."""
    return any(
        isinstance(v, UnknownSign) and v.pickup in pickups and v.era < 0 for v in graph.variables_of(piece)
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
    health: HealthFindings
    taps: TapFindings
    places: PlacesHeard
    unplaced: dict[str, AnyTakeNote]
    left_out: dict[str, MeterLeadsNote]
    shelf: tuple[ShelfNote, ...] = ()
    """What was brought from other jobs about the bench's reference coil."""


def gather_evidence(
    job: Job,
    history: LeadHistory,
    entries: Sequence[AnyEntry],
    takes: Sequence[TakeResult],
    *,
    care: KnownCare = NOTHING_KNOWN,
) -> JobEvidence:
    """Sum up the evidence of ``takes`` and ``entries`` on the leads of ``history``.

    ``care``: what is known of the bench's care from earlier jobs.
    """
    paths = bench_paths(takes, entries)
    graph = EvidenceGraph(history, paths=paths)
    takes = paths.on_their_rigs(takes)
    health = health_findings(job, takes)
    taps = tap_findings(job, takes)
    trusted = [taps.without_contradicted(health.without_unsound(take)) for take in takes]
    unplaced: dict[str, AnyTakeNote] = {
        **health.remarks,
        **taps.unplaced,
        **taps.remarks(takes),
        **add_recorded_evidence(graph, trusted, alike=health.alike),
    }
    jack = add_jack_evidence(graph, trusted, kohm=measured_kohm(job, entries), unsound=health.unsound)
    left_out = add_meter_evidence(graph, entries)
    left_out |= add_compass_evidence(graph, entries)
    add_pole_evidence(graph, entries)
    add_check_evidence(graph, entries)
    add_stage_diagrams(graph)
    relations, shelf_notes = standing_relations(job, takes, entries)
    add_shelf_evidence(graph, relations)
    add_tap_evidence(graph, taps, trusted)
    places = places_heard(job, [taps.without_contradicted(take) for take in takes])
    add_place_evidence(graph, places)
    return JobEvidence(
        history, Posterior(graph, care.prior), jack, health, taps, places, unplaced, left_out, shelf_notes
    )


def evidence_before_work(
    job: Job, entries: Sequence[AnyEntry], takes: Sequence[TakeResult], *, care: KnownCare = NOTHING_KNOWN
) -> JobEvidence:
    """What was known before the work, by itself."""
    before = [e for e in entries if e.kind == "check" or (e.stage == "found" and e.kind != "change")]
    ids = {e.id for e in before}
    known = [h for h in takes if h.entry.id in ids]
    return gather_evidence(job, lead_history(job, before), before, known, care=care)


def evidence_after_work(
    job: Job,
    history: LeadHistory,
    entries: Sequence[AnyEntry],
    takes: Sequence[TakeResult],
    *,
    care: KnownCare = NOTHING_KNOWN,
) -> JobEvidence:
    """What the takes and readings made after the work say without those from before."""
    later = [e for e in entries if e.kind == "check" or e.stage == "after"]
    return gather_evidence(job, history, later, [h for h in takes if h.entry.stage == "after"], care=care)
