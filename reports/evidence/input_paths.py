"""How the two inputs of a rig differ, from all its takes: measured, taken out of paired plucks, or doubted.

In go the results of a job's takes, out come the same with statistics corrected, plucks left out that cannot
be, and notes. A split check shows the lag and the phase between its inputs (dsp.methods.input_path). Where
those of one rig agree, they are taken out of every pluck on the same two inputs; what is left must be in step
(dsp.methods.lateness), or the rig's plucks are left out. Units: seconds, Hz, nats. Sign: what is taken out is
an angle of the inputs; the sign that a split check shows stays evidence on the inputs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dsp.methods.input_path import InputPath
from dsp.methods.lateness import CurveFit, Lateness, curve_fit, lateness
from dsp.methods.paired import PartialPairs, statistic_of
from dsp.signal.codes import FaultCode
from reports.evidence.results import NO_RIG, PairedPluck, TakeResult
from reports.model.take_notes import InputCode, InputNote

Array = NDArray[np.float64]

ROUGHEST = 0.9
"""Of a path: low cuts of the fourth order have 0.6 at most, nineteen pairs of pickups in twenty lie above 1
(simulated benches)."""
SAME_LAG_S = 3e-4
"""Two split checks agree within this: a twelfth of a turn at the fundamental of the highest open string."""
WORTH_SAYING_S = 2e-4
AGREEING = 0.6
"""Of its largest value, the statistic of a split check after another one's path was taken out."""
LEAST_COVERED = 0.5
"""Of the voices of a pluck: whose angle between the inputs is known."""
SPLIT_NATS = 2.0
"""A split check that was taken out leaves less cause to expect a lag in the plucks of its rig."""
REFUSED_NATS = 2.0
"""Odds for a lag at which the plucks of a rig are left out: sound rigs stay below -1, and late ones from five
plucks lie above 15 (simulated benches)."""
ONE_REFUSED_NATS = 4.0
"""And those at which one pluck is, in a rig that is otherwise in step: sound ones stay below 1.5."""
NOTHING_HEARD: frozenset[FaultCode] = frozenset({"no onset", "silent", "too quiet"})

Key = tuple[str, int, int]
Place = tuple[int, int]
"""Number of a take among the results, and of a pluck in it."""


def with_input_paths(
    results: Sequence[TakeResult], *, rigs: Mapping[str, str] | None = None
) -> tuple[TakeResult, ...]:
    """The results with the paths of their inputs taken out; those without paired plucks are as they were.

    ``rigs``: the rig of a take, by its id, that does not go by what it names (reports.evidence.paths).
    """
    rig_of = [(rigs or {}).get(take.entry.id, take.entry.rig or NO_RIG) for take in results]
    changed = list(results)
    groups: dict[Key, list[Place]] = defaultdict(list)
    for k, take in enumerate(results):
        for n, pluck in enumerate(take.paired if not take.faults else ()):
            a, b = (take.sources[i].column for i in pluck.between)
            groups[rig_of[k], a, b].append((k, n))
    verdicts: dict[Place, PairedPluck | InputNote] = {}
    remarks: dict[int, InputNote] = {}
    for (_, a, b), places in groups.items():
        group = _Group(results, places, columns=(a, b))
        verdicts |= group.judged()
        remarks |= group.remarks
    for k, take in enumerate(results):
        if take.paired and not take.faults:
            changed[k] = _rewritten(take, [verdicts[k, n] for n in range(len(take.paired))], remarks.get(k))
        elif (note := _silent_split_check(k, results, rig_of)) is not None:
            changed[k] = replace(take, remarks=(*take.remarks, note))
    return tuple(changed)


def _rewritten(
    take: TakeResult, plucks: Sequence[PairedPluck | InputNote], remark: InputNote | None
) -> TakeResult:
    """The take with what became of its plucks; left out as a whole where none is left."""
    kept = tuple(p for p in plucks if isinstance(p, PairedPluck))
    why = tuple(dict.fromkeys(p for p in plucks if isinstance(p, InputNote)))
    if not kept:
        return replace(take, paired=(), faults=why)
    return replace(take, paired=kept, remarks=take.remarks + why + ((remark,) if remark else ()))


class _Group:
    """The plucks of one rig on the same two inputs."""

    def __init__(
        self, results: Sequence[TakeResult], places: Sequence[Place], *, columns: tuple[int, int]
    ) -> None:
        self.results = results
        self.plucks = {place: results[place[0]].paired[place[1]] for place in places}
        self.splits = {p for p in places if _is_split(results[p[0]], self.plucks[p])}
        self.columns = columns
        self.remarks: dict[int, InputNote] = {}

    def judged(self) -> dict[Place, PairedPluck | InputNote]:
        """Each pluck with the path taken out, or why it is left out."""
        verdicts: dict[Place, PairedPluck | InputNote] = {}
        for place in self.splits:
            if not _one_signal(self.plucks[place]):
                verdicts[place] = self._note("not one signal")
        sound = sorted(self.splits - verdicts.keys())
        path = _best_path([self.plucks[p] for p in sound])
        if path is not None and not self._agree(path, sound):
            lags = sorted((one.lag_s for p in sound if (one := self.plucks[p].path) is not None), key=abs)
            note = self._note("lag wanders", lag_s=lags[0], most_s=lags[-1])
            return {place: verdicts.get(place, note) for place in self.plucks}
        for place in sound:
            verdicts[place] = _corrected(self.plucks[place], path)[0]
            if path is not None and (remark := self._path_remark(path)) is not None:
                self.remarks[place[0]] = remark
        return verdicts | self._pairs(path)

    def _pairs(self, path: InputPath | None) -> dict[Place, PairedPluck | InputNote]:
        """The plucks of two pickups, each corrected or left out."""
        verdicts: dict[Place, PairedPluck | InputNote] = {}
        fits: dict[Place, CurveFit] = {}
        for place, one in self.plucks.items():
            if place in self.splits:
                continue
            corrected, heard, covered = _corrected(one, path)
            if covered < LEAST_COVERED:
                verdicts[place] = self._note("phase not known here")
                continue
            verdicts[place], fits[place] = corrected, curve_fit(heard)
        if not fits:
            return verdicts
        together = lateness(list(fits.values()))
        nats = together.nats - (SPLIT_NATS if path is not None else 0.0)
        for place, fit in fits.items():
            alone = lateness([fit])
            if nats > REFUSED_NATS or alone.nats > ONE_REFUSED_NATS:
                found = together if nats > REFUSED_NATS else alone
                verdicts[place] = self._late_note(found, place, after_split=path is not None)
            elif isinstance(pluck := verdicts[place], PairedPluck):
                verdicts[place] = replace(pluck, late=nats / len(fits))
        return verdicts

    def _agree(self, path: InputPath, sound: Sequence[Place]) -> bool:
        """Whether all split checks show the same path."""
        for place in sound:
            pluck = self.plucks[place]
            corrected, _, covered = _corrected(pluck, path)
            if covered >= LEAST_COVERED and abs(corrected.statistic) < AGREEING * covered:
                return False
            own = pluck.path
            if own and own.plain and path.plain and abs(own.lag_s - path.lag_s) > SAME_LAG_S:
                return False
        return True

    def _path_remark(self, path: InputPath) -> InputNote | None:
        if not path.plain:
            hz, left = path.most_turned
            return replace(self._note("phase taken out"), hz=hz, degrees=float(np.degrees(left)))
        if abs(path.lag_s) > WORTH_SAYING_S:
            return self._note("lag taken out", lag_s=path.lag_s)
        return None

    def _late_note(self, found: Lateness, place: Place, *, after_split: bool) -> InputNote:
        if after_split or found.kind == "lag":
            code: InputCode = "late after the split check" if after_split else "one input late"
            note = self._note(code, lag_s=found.lag_s)
            sources = self.results[place[0]].sources
            return replace(note, pickup=next(s.pickup for s in sources if s.column == note.later - 1))
        later, other = (self.columns[found.cut_input] + 1, self.columns[1 - found.cut_input] + 1)
        return InputNote("low cut", later, other, hz=found.cut_hz)

    def _note(self, code: InputCode, *, lag_s: float = 0.0, most_s: float = 0.0) -> InputNote:
        """A note on these inputs; a lag below zero is one of the first input."""
        first, second = (column + 1 for column in self.columns)
        later, other = (second, first) if (lag_s or most_s) >= 0 else (first, second)
        return InputNote(code, later, other, ms=1e3 * abs(lag_s), most_ms=1e3 * abs(most_s))


def _is_split(take: TakeResult, pluck: PairedPluck) -> bool:
    a, b = (take.sources[i].column for i in pluck.between)
    return take.entry.inputs[a] == take.entry.inputs[b]


def _one_signal(pluck: PairedPluck) -> bool:
    """Whether a split check holds one signal: what differs between its channels is smooth, as of a filter."""
    return pluck.path is not None and pluck.path.roughness < ROUGHEST


def _best_path(splits: Sequence[PairedPluck]) -> InputPath | None:
    """The path that is known at most frequencies, a plain one first."""
    paths = [s.path for s in splits if s.path is not None and len(s.path.hz)]
    return max(paths, key=lambda p: (p.plain, len(p.hz)), default=None)


def _corrected(pluck: PairedPluck, path: InputPath | None) -> tuple[PairedPluck, PartialPairs, float]:
    """(the pluck, its partials as far as they are known, the share of its voices that is)."""
    if path is None:
        return pluck, pluck.partials, 1.0
    angle, voice = path.angle_at(pluck.partials.hz)
    straight = pluck.partials.turned(angle)
    known = replace(straight, clear=straight.clear * voice)
    statistic = statistic_of(known)
    given = sum(v.voice for v in statistic_of(straight).votes)
    covered = sum(v.voice for v in statistic.votes) / given if given else 1.0
    return replace(pluck, statistic=statistic.value, partials=straight), known, covered


def _silent_split_check(k: int, results: Sequence[TakeResult], rig_of: Sequence[str]) -> InputNote | None:
    """The note on a split check that is silent, though its pickup sounds through one of its inputs alone."""
    take = results[k]
    if not take.entry.is_split_check or not take.sources:
        return None
    if not any(getattr(f, "code", None) in NOTHING_HEARD for f in take.faults):
        return None
    item = take.entry.inputs[take.sources[0].column]
    columns = [s.column for s in take.sources]
    for other, rig in zip(results, rig_of, strict=True):
        sounds = rig == rig_of[k] and not other.faults and other.has_measurements
        if sounds and other.entry.inputs.count(item) == 1:
            pickup = take.sources[0].pickup
            return InputNote("silent split check", columns[-1] + 1, columns[0] + 1, pickup=pickup)
    return None
