"""What taps say of the selector's list: which pickups and coils are on at each position.

The level of the taps on one coil is compared with the same coil's and its neighbour's at other positions of
one rig and stage: a coil that is on is far louder than one that is not. Positions are then held against the
list in job.toml. One that is as listed lifts the doubts of the list ("settings"); one that is not is a
finding, and what was recorded through it is no evidence until the list is put right. Units: dB, nats. Sign:
none; taps say what is heard, never which way.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from math import exp, log

import numpy as np

from capture.job import Job
from capture.log import Stage
from reports.evidence.results import NO_RIG, TakeResult
from reports.inference.evidence_graph import Evidence, EvidenceGraph, LatentError
from reports.inference.factor_graph import Factor
from reports.model.gestures import TAPS
from reports.model.notes import CorrectList, ListContradicted, OnSettings, TappedCoil
from reports.model.take_notes import NotAsListedNote, TakeNote
from reports.model.verdict import Finding, ListCheck

ON_WITHIN_DB = 15.0
"""No further below the loudest taps of its pickup: 12 dB are lost where three lie in parallel, and one hand's
taps differ by some dB."""
OFF_BELOW_DB = 20.0
"""Further below them than this a coil is not on: simulated ones lie 35 dB down and more, the other coil of a
pickup that is split 14 dB and more."""
NEIGHBOUR_DB = (5.0, 10.0)
"""Two coils of a pickup that are both on differ by less than the first. One that is softer than the other at
the same position by more than the second is off, and the other one hears its taps (simulated: by 14 dB)."""
WEAKEST_DB = 20.0
"""No pickup is so much weaker than the loudest on the same rig; one that seems so was on nowhere."""
AS_LISTED_NATS = 4.0
"""The most that taps say for the list: of some fifty rounds of taps one is done with the selector elsewhere,
or on other poles than entered (assumed)."""


WHOLE_LIST = "selector list"
"""The kind of error by which the list is wrong as a whole, from the other end; others are of one position."""


@dataclass(frozen=True)
class PositionTaps:
    """One position of the selector: coils that were heard to be on and not to be, and what follows."""

    setting: str
    stage: Stage
    on: tuple[TappedCoil, ...]
    off: tuple[TappedCoil, ...]
    check: ListCheck | None
    takes: tuple[str, ...]


@dataclass(frozen=True)
class TapFindings:
    """What the taps of a job say. ``mirrored``: the list fits once it is read from the other end."""

    positions: tuple[PositionTaps, ...] = ()
    mirrored: bool = False
    unplaced: dict[str, TakeNote] = field(default_factory=dict)

    def settings(self, check: ListCheck, stage: Stage) -> frozenset[str]:
        """The settings of which the taps of that stage say so."""
        return frozenset(p.setting for p in self.positions if (p.check, p.stage) == (check, stage))

    def checks(self, stage: Stage) -> dict[str, ListCheck]:
        """What the taps of that stage say of each setting they tell of."""
        return {p.setting: p.check for p in self.positions if p.stage == stage and p.check is not None}

    def contradicted_by(self, take: TakeResult) -> str | None:
        """The setting of a take that is not as listed; None where there is none, and for taps."""
        wrong = self.settings("contradicted", take.entry.stage)
        names = [n for item in take.entry.inputs for n in (item if isinstance(item, tuple) else (item,))]
        return None if take.taps else next((n for n in names if isinstance(n, str) and n in wrong), None)

    def remarks(self, results: Sequence[TakeResult]) -> dict[str, NotAsListedNote]:
        """Remarks on the takes that went through a setting that is not as listed, by id."""
        through = {take.entry.id: self.contradicted_by(take) for take in results}
        return {key: NotAsListedNote(name) for key, name in through.items() if name is not None}

    def without_contradicted(self, take: TakeResult) -> TakeResult:
        """The take without what may not be compared: all of it, where its setting is not as listed."""
        return take if self.contradicted_by(take) is None else TakeResult(take.entry, faults=take.faults)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """One for each position that is not as listed."""
        wrong = [p for p in self.positions if p.check == "contradicted"]
        return tuple(
            Finding(
                pickup_or_setting=p.setting,
                what=ListContradicted(p.setting, p.on, p.off),
                next=self.correction,
            )
            for p in wrong
        )

    @property
    def correction(self) -> CorrectList:
        """What to do about positions that are not as listed."""
        names = [p.setting for p in self.positions if p.check == "contradicted"]
        return CorrectList(tuple(dict.fromkeys(names)), self.mirrored)


Heard = dict[tuple[str, TappedCoil], float]
"""The loudest level at a setting of a tapped coil, dB."""


def tap_findings(job: Job, results: Sequence[TakeResult]) -> TapFindings:
    """What the taps among the takes say of the list."""
    groups: dict[Hashable, list[TakeResult]] = defaultdict(list)
    for take in results:
        if take.taps and not take.faults:
            groups[take.entry.rig or NO_RIG, take.entry.stage].append(take)
    states: dict[tuple[str, Stage], dict[TappedCoil, bool]] = defaultdict(dict)
    takes: dict[tuple[str, Stage], list[str]] = defaultdict(list)
    unplaced: dict[str, TakeNote] = {}
    for group in groups.values():
        told = _told(job, group)
        for take in group:
            coil, stage = _coil(job, take), take.entry.stage
            known = [t.setting for t in take.taps if (t.setting, coil) in told]
            if not known:
                unplaced[take.entry.id] = TakeNote("taps not compared")
            for setting in known:
                states[setting, stage][coil] = told[setting, coil]
                takes[setting, stage].append(take.entry.id)
    positions = tuple(
        PositionTaps(
            setting,
            stage,
            tuple(coil for coil, on in heard.items() if on),
            tuple(coil for coil, on in heard.items() if not on),
            _check(job, setting, stage, heard),
            tuple(takes[setting, stage]),
        )
        for (setting, stage), heard in states.items()
    )
    wrong = any(p.check == "contradicted" for p in positions)
    return TapFindings(positions, wrong and _fits_mirrored(job, positions), unplaced)


def add_tap_evidence(graph: EvidenceGraph, taps: TapFindings, results: Sequence[TakeResult]) -> None:
    """Positions that are as listed speak against the errors of the list that the evidence so far shares.

    ``results`` are the takes that it is from.
    """
    stage_of: dict[str, Stage] = {take.entry.id: take.entry.stage for take in results}
    for error in list_errors(graph):
        sharing = [p for p in graph.evidence if any(error in f.variables for f in p.factors)]
        stages = {stage_of[take] for piece in sharing for take in piece.takes if take in stage_of}
        names = set(error.subject.names) if isinstance(error.subject, OnSettings) else set()
        confirmed = names.intersection(*(taps.settings("confirmed", stage) for stage in stages))
        if not stages or not confirmed:
            continue
        left = 1 - len(confirmed) / len(names)
        if str(error.kind) == WHOLE_LIST:
            left = float(not any(_differs_mirrored(graph.history.job, name) for name in confirmed))
        takes = tuple(dict.fromkeys(t for p in taps.positions if p.setting in confirmed for t in p.takes))
        _add(graph, error, left=left, takes=takes)


def list_errors(graph: EvidenceGraph) -> list[LatentError]:
    """The errors of the selector's list that some evidence shares."""
    return [e for e in graph.errors if isinstance(e.subject, OnSettings)]


def _add(graph: EvidenceGraph, error: LatentError, *, left: float, takes: tuple[str, ...]) -> None:
    """``left``: the share of an error's settings of which no tap says anything."""
    against = log(left + (1 - left) * exp(-AS_LISTED_NATS))
    factor = Factor((error,), np.array([0.0, against]))
    graph.evidence.append(Evidence(TAPS, (factor,), frozenset(), takes=takes, letter="list"))


def _coil(job: Job, take: TakeResult) -> TappedCoil:
    name = take.entry.tapped or ""
    pickup = job.pickup(name)
    return TappedCoil(name, take.entry.coil if pickup is not None and pickup.made.pole_has_coil else None)


def _told(job: Job, takes: Sequence[TakeResult]) -> dict[tuple[str, TappedCoil], bool]:
    """Which coils are on at which settings, as far as the takes of one rig tell; dB against each other."""
    levels: Heard = {}
    clear: set[str] = set()
    for take in takes:
        coil = _coil(job, take)
        for one in take.taps:
            key = (one.setting, coil)
            levels[key] = max(levels.get(key, -np.inf), one.level.level_db)
            clear |= {coil.pickup} if one.level.heard else set()
    loudest: dict[str, float] = {}
    for (_, coil), level in levels.items():
        loudest[coil.pickup] = max(loudest.get(coil.pickup, -np.inf), level)
    top = max((loudest[name] for name in clear), default=-np.inf)
    if min(levels.values(), default=np.inf) > top - OFF_BELOW_DB:
        return {}  # all alike: all on, or all off and the knock on the body heard
    told = {}
    for (setting, coil), level in levels.items():
        never_on = loudest[coil.pickup] < top - WEAKEST_DB or coil.pickup not in clear
        below = (top if never_on else loudest[coil.pickup]) - level
        state = None if ON_WITHIN_DB < below < OFF_BELOW_DB else below <= ON_WITHIN_DB
        told[setting, coil] = _beside(job, levels, setting, coil, state)
    return {key: state for key, state in told.items() if state is not None}


def _beside(job: Job, levels: Heard, setting: str, coil: TappedCoil, state: bool | None) -> bool | None:
    """``state``, where the other coil of the pickup may be the one that hears the taps on this."""
    if state is False or coil.coil is None or not _is_split(job, coil.pickup):
        return state
    other = levels.get((setting, TappedCoil(coil.pickup, 3 - coil.coil)))
    if other is None:
        return None
    alike, apart = NEIGHBOUR_DB
    softer = other - levels[setting, coil]
    if softer > apart:
        return False
    return state if softer < alike else None


def _is_split(job: Job, pickup: str) -> bool:
    return any(m.pickup == pickup and m.coil is not None for s in job.settings for m in s.on)


def _listed(job: Job, setting: str, *, mirror: Mapping[str, str] | None = None) -> frozenset[TappedCoil]:
    """The coils that job.toml has on at a setting; ``mirror``: with each pickup's counterpart for it."""
    found = job.setting(setting)
    names = mirror or {}
    return (
        frozenset(TappedCoil(names.get(m.pickup, m.pickup), m.coil) for m in found.on)
        if found
        else frozenset()
    )


def _is_listed(coil: TappedCoil, listed: frozenset[TappedCoil]) -> bool:
    """Whether a coil is on by the list; of a pickup that was tapped as a whole, any part of it."""
    return any(
        coil.pickup == one.pickup and (None in (coil.coil, one.coil) or coil.coil == one.coil)
        for one in listed
    )


def _check(job: Job, setting: str, stage: Stage, heard: Mapping[TappedCoil, bool]) -> ListCheck | None:
    """What the taps at one position say of the list; None while a pickup was not tapped that could be on."""
    listed = _listed(job, setting)
    if any(on != _is_listed(coil, listed) for coil, on in heard.items()):
        return "contradicted"
    for pickup in job.own_pickups:
        coils = {c.coil for c in heard if c.pickup == pickup.name}
        at_jack = pickup.fitted or stage == "after"
        whole = (
            {c.number for c in pickup.made.coils} <= coils
            if pickup.made.pole_has_coil and _is_split(job, pickup.name)
            else bool(coils)
        )
        if not whole and (at_jack or any(one.pickup == pickup.name for one in listed)):
            return None
    return "confirmed"


def _mirror(job: Job) -> dict[str, str]:
    """Each pickup with its counterpart from the other end of the row."""
    row = list(job.own_pickups)
    if all(p.centre_mm is not None for p in row):
        row.sort(key=lambda p: p.centre_mm or 0.0)
    names = [p.name for p in row]
    return dict(zip(names, reversed(names), strict=True))


def _differs_mirrored(job: Job, setting: str) -> bool:
    """Whether something else is on at a position once the list is read from its other end."""
    return _listed(job, setting) != _listed(job, setting, mirror=_mirror(job))


def _fits_mirrored(job: Job, positions: Sequence[PositionTaps]) -> bool:
    """Whether every position is as listed once the list is read from its other end."""
    mirror = _mirror(job)
    return all(
        _is_listed(coil, _listed(job, p.setting, mirror=mirror)) == on
        for p in positions
        for on, coils in ((True, p.on), (False, p.off))
        for coil in coils
    )
