"""Defects of pickups that are no matter of phase, found in plucks at one jack and kept out of the evidence.

From the levels of the harmonics of plucks, in dB, to findings, and to the settings whose plucks are no
evidence on phase. Only plucks of one rig, stage and gesture are compared with each other.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from capture.job import Job
from dsp import health
from dsp.health import HealthPluck
from dsp.methods.profile import PluckLevels
from reports.evidence.results import NO_RIG, TakeResult
from reports.evidence.settings import is_alone, jack_mixes
from reports.model.notes import HealthProblem, HealthRemedy
from reports.model.take_notes import NotComparedNote
from reports.model.verdict import Finding

EVERYWHERE = "all settings"
MOST_PLUCKS = 24
SILENCE_DB = -200.0


@dataclass(frozen=True, eq=False)
class HealthFindings:
    """Findings, and what follows for the evidence.

    ``unsound``: settings whose plucks are no evidence; ``remarks`` on their takes, by id. ``alike``: for two
    settings, how alike their plucks are, as the log odds that one thing was on the jack.
    """

    findings: tuple[Finding, ...] = ()
    unsound: frozenset[str] = frozenset()
    alike: dict[frozenset[str], float] = field(default_factory=dict)
    remarks: dict[str, NotComparedNote] = field(default_factory=dict)

    def without_unsound(self, take: TakeResult) -> TakeResult:
        """The take without plucks that may not be compared."""
        return replace(take, single=()) if take.entry.id in self.remarks else take


def health_findings(job: Job, results: Sequence[TakeResult]) -> HealthFindings:
    """All findings on the plucks of a job; of each code and setting the first."""
    return _health_findings(job, tuple(results))


@lru_cache(maxsize=8)
def _health_findings(job: Job, results: tuple[TakeResult, ...]) -> HealthFindings:
    """The same, kept: the next take is chosen from what was judged."""
    findings: dict[tuple[str, str], Finding] = {}
    unsound: set[str] = set()
    alike: dict[frozenset[str], float] = {}
    for takes in _comparable(results).values():
        plucks = _some_of_each(_health_plucks(job, takes))
        if not plucks:
            continue
        similarities = health.setting_similarities(plucks)
        for pair in similarities:
            key = frozenset(pair.settings)
            alike[key] = max(pair.nats, alike.get(key, pair.nats))
        hum_db = _hum_db(results, takes[0])
        for found in health.findings(plucks, hum_db=hum_db, similarities=similarities):
            finding = _finding(found)
            findings.setdefault((found.code, finding.pickup_or_setting), finding)
            unsound |= _unsound_settings(job, found)
    remarks = {
        take.entry.id: NotComparedNote(take.plucks[0].setting)
        for take in results
        if take.single and take.plucks and take.plucks[0].setting in unsound
    }
    return HealthFindings(tuple(findings.values()), frozenset(unsound), alike, remarks)


def _some_of_each(plucks: Sequence[HealthPluck]) -> list[HealthPluck]:
    """No more than ``MOST_PLUCKS`` of each setting, evenly from first to last.

    Their levels are compared with each other, and more of them would cost more than they tell.
    """
    kept: list[HealthPluck] = []
    for setting in dict.fromkeys(p.setting for p in plucks):
        mine = [p for p in plucks if p.setting == setting]
        step = max(1.0, len(mine) / MOST_PLUCKS)
        kept += [mine[int(k * step)] for k in range(min(len(mine), MOST_PLUCKS))]
    return kept


def _comparable(results: Sequence[TakeResult]) -> dict[Hashable, list[TakeResult]]:
    groups: dict[Hashable, list[TakeResult]] = defaultdict(list)
    for take in results:
        if take.plucks and not take.faults:
            groups[take.entry.rig or NO_RIG, take.entry.stage, take.entry.gesture].append(take)
    return groups


def _health_plucks(job: Job, takes: Sequence[TakeResult]) -> list[HealthPluck]:
    names = list(dict.fromkeys(p.setting for take in takes for p in take.plucks))
    stage = takes[0].entry.stage
    mixes = {
        (string, fret): jack_mixes(job, [(n, 0) for n in names], stage=stage, fret=fret, string=string).mixes
        for string, fret in {(take.entry.string, take.entry.fret) for take in takes}
    }
    return [
        HealthPluck(
            setting=p.setting,
            levels_db=_highest_possible(p.levels),
            usable=p.levels.usable,
            f0_hz=p.levels.f0_hz,
            mix=mixes[take.entry.string, take.entry.fret][names.index(p.setting)],
            string=take.entry.string,
            fret=take.entry.fret,
        )
        for take in takes
        for p in take.plucks
    ]


def _highest_possible(levels: PluckLevels) -> NDArray[np.float64]:
    """Levels of the harmonics; of those that noise covers, what it leaves."""
    covered = np.maximum(levels.levels_db, levels.floor_db)
    return np.asarray(np.where(levels.usable, levels.levels_db, covered))


def _hum_db(results: Sequence[TakeResult], like: TakeResult) -> Mapping[str, float]:
    """Hum of settings on the same rig and stage, the loudest take of each."""
    levels: dict[str, float] = {}
    for take in results:
        same = (take.entry.rig, take.entry.stage) == (like.entry.rig, like.entry.stage)
        for hum in take.hums if same and not take.faults else ():
            levels[hum.setting] = max(hum.lines.level_db(), levels.get(hum.setting, SILENCE_DB))
    return levels


def _finding(found: health.HealthFinding) -> Finding:
    return Finding(
        pickup_or_setting=found.setting or EVERYWHERE,
        what=HealthProblem(found.code, found.detail_db, found.other),
        next=HealthRemedy(found.code),
    )


def _unsound_settings(job: Job, found: health.HealthFinding) -> set[str]:
    """Settings whose plucks are no evidence: of twins the sums, or both where both are of one pickup."""
    if found.setting is None or found.code == "hums although it has two coils":
        return set()
    if found.code == "twin settings":
        pair = {name for name in (found.setting, found.other) if name}
        sums = {name for name in pair if not is_alone(job.setting(name))}
        return sums or pair
    defective = _pickups(job, found.setting)
    return {name for name in job.setting_names if defective & _pickups(job, name)}


def _pickups(job: Job, name: str) -> set[str]:
    setting = job.setting(name)
    return set() if setting is None else {m.pickup for m in setting.on}
