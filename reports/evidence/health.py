"""What is not a matter of phase: found, said, and kept out of the verdict on phase.

Task: from the levels of plucks at one jack to findings in words, and to the settings whose plucks may not
vote. Signs: none; levels carry no polarity. Only settings of one rig, stage and gesture are compared.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace

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


@dataclass(frozen=True, eq=False)
class HealthFindings:
    """Findings, the settings whose plucks may not vote, and remarks by take id.

    ``alike``: for two settings, how alike their plucks are: log odds that one thing was on the jack.
    """

    findings: tuple[Finding, ...] = ()
    unsound: frozenset[str] = frozenset()
    alike: dict[frozenset[str], float] = field(default_factory=dict)
    remarks: dict[str, NotComparedNote] = field(default_factory=dict)

    def without_unsound(self, take: TakeResult) -> TakeResult:
        """The take without plucks that may not be compared."""
        return replace(take, single=()) if take.entry.id in self.remarks else take


def health_findings(job: Job, heard: Sequence[TakeResult]) -> HealthFindings:
    """All findings on the plucks of a job, group by group."""
    said: dict[tuple[str, str], Finding] = {}
    unsound: set[str] = set()
    alike: dict[frozenset[str], float] = {}
    for takes in _groups(heard).values():
        plucks = _some_of_each(_sound_plucks(job, takes))
        if plucks:
            for pair in health.setting_similarities(plucks):
                key = frozenset(pair.settings)
                alike[key] = max(pair.nats, alike.get(key, pair.nats))
            for one in health.findings(plucks, hum_db=_hum_db(heard, takes[0])):
                finding = _finding(one)
                said.setdefault((one.code, finding.pickup_or_setting), finding)
                unsound |= _spoiled(job, one)
    remarks = {
        take.entry.id: NotComparedNote(take.plucks[0].setting)
        for take in heard
        if take.single and take.plucks and take.plucks[0].setting in unsound
    }
    return HealthFindings(tuple(said.values()), frozenset(unsound), alike, remarks)


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


def _groups(heard: Sequence[TakeResult]) -> dict[Hashable, list[TakeResult]]:
    groups: dict[Hashable, list[TakeResult]] = defaultdict(list)
    for take in heard:
        if take.plucks and not take.faults:
            groups[take.entry.rig or NO_RIG, take.entry.stage, take.entry.gesture].append(take)
    return groups


def _sound_plucks(job: Job, takes: Sequence[TakeResult]) -> list[HealthPluck]:
    names = list(dict.fromkeys(p.setting for take in takes for p in take.plucks))
    stage = takes[0].entry.stage
    mixes = {
        fret: jack_mixes(job, [(n, 0) for n in names], stage=stage, fret=fret).mixes
        for fret in {take.entry.fret for take in takes}
    }
    return [
        HealthPluck(
            setting=p.setting,
            levels_db=_at_most(p.levels),
            usable=p.levels.usable,
            f0_hz=p.levels.f0_hz,
            mix=mixes[take.entry.fret][names.index(p.setting)],
            string=take.entry.string,
            fret=take.entry.fret,
        )
        for take in takes
        for p in take.plucks
    ]


def _at_most(levels: PluckLevels) -> NDArray[np.float64]:
    """Levels of the harmonics; of those that noise covers, what it leaves."""
    covered = np.maximum(levels.levels_db, levels.floor_db)
    return np.asarray(np.where(levels.usable, levels.levels_db, covered))


def _hum_db(heard: Sequence[TakeResult], like: TakeResult) -> Mapping[str, float]:
    """Hum of settings on the same rig and stage, the loudest take of each."""
    found: dict[str, float] = {}
    for take in heard:
        same = (take.entry.rig, take.entry.stage) == (like.entry.rig, like.entry.stage)
        for hum in take.hums if same and not take.faults else ():
            found[hum.setting] = max(hum.lines.level_db(), found.get(hum.setting, -200.0))
    return found


def _finding(one: health.HealthFinding) -> Finding:
    return Finding(
        pickup_or_setting=one.setting or EVERYWHERE,
        what=HealthProblem(one.code, one.detail_db, one.other),
        next=HealthRemedy(one.code),
    )


def _spoiled(job: Job, one: health.HealthFinding) -> set[str]:
    """Settings that may not vote: of twins the sums, or both where both are of one pickup."""
    if one.setting is None or one.code == "hums although it has two coils":
        return set()
    if one.code == "twin settings":
        pair = {name for name in (one.setting, one.other) if name}
        sums = {name for name in pair if not is_alone(job.setting(name))}
        return sums or pair
    held = _pickups(job, one.setting)
    return {name for name in job.setting_names if held & _pickups(job, name)}


def _pickups(job: Job, name: str) -> set[str]:
    setting = job.setting(name)
    return set() if setting is None else {m.pickup for m in setting.on}
