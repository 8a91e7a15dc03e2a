"""One table of the jack as a piece of evidence.

Task: tie the signs with which several stations were heard together to the pickups' own signs. Shapes: a
table has one axis of length 2 a station. Signs: index 0 of an axis is +1; a string's table is about ``s``, a
hum's about ``w``.

Besides flips there are doubts: a selector position that is not what the job says, harmonics that follow no
model, and hum that comes in by capacitance. Where one of these happened, the table says nothing, or says
"wound alike" whatever the windings are.

Takes that are compared by level: plucks, and hum, on several settings of one rig.

Task: from heard takes to groups that share rig, stage, gesture and leads, with the mixes of their settings.
Signs: within a group all mixes share one numbering of signs (reports.evidence.settings).

Evidence from one output jack: switch takes, harmonic profiles, and hum.

Task: from the tables of single takes, and from the levels of many, to pieces of evidence in the ledger.
Signs: a table speaks of the signs with which its stations were heard (reports.inference.jack).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from capture.job import Job
from capture.log import Take
from dsp.methods.hum import HumLines, hum_level_changes
from dsp.methods.hum_windings import hum_level_table
from dsp.methods.profile import ProfilePluck, ProfileResult, profile_of
from dsp.model.settings import Mix
from reports.evidence.leads import LeadHistory
from reports.evidence.results import NO_RIG, ChannelSource, SettingHum, SettingPluck, TakeResult
from reports.evidence.settings import JackMixes, jack_mixes, named_settings
from reports.inference.evidence_graph import (
    ClipUps,
    Evidence,
    EvidenceGraph,
    LatentError,
    Observation,
    observation_of,
    sideways_error,
)
from reports.inference.factor_graph import Factor, Variable, product_factor
from reports.model.advice_notes import OnPickups, OnRig, OnSettings
from reports.model.gestures import HUM_LEVEL, PROFILE, SignLetter

Array = NDArray[np.float64]

FLAT = 0.05
"""An axis along which a table differs by less than this, in nats, says nothing of its sign."""


@dataclass(frozen=True)
class SettingSign:
    """The sign with which a station was heard by one method, on one string."""

    method: str
    shown: Observation
    string: str

    def __str__(self) -> str:
        """Sort by method, pickup and string."""
        return f"heard {self.method} {self.shown.pickup} {self.string} {self.shown.variables}"


@dataclass(frozen=True, eq=False)
class TableEvidence:
    """One table with what it is about.

    ``settings`` are those it rests on; ``string`` is the one that rang (None: hum, or many);
    ``reversed_axes`` are the stations that a setting has reversed; ``rig`` is what was between the guitar
    and the file.
    """

    method: str
    letter: SignLetter
    shown: tuple[Observation, ...]
    log: Array
    takes: tuple[str, ...]
    settings: tuple[str, ...]
    rig: str
    string: str | None = None
    reversed_axes: tuple[bool, ...] = ()


def add_table_evidence(graph: EvidenceGraph, said: TableEvidence) -> None:
    """Add a table to the ledger; signs it says nothing of are left away."""
    log, kept = _told(said.log)
    if len(kept) < len(("one", "other")):
        return
    shown = [said.shown[axis] for axis in kept]
    heard: tuple[Variable, ...] = tuple(SettingSign(said.method, one, said.string or "") for one in shown)
    alike = tuple(int(said.reversed_axes[axis]) for axis in kept) if said.reversed_axes else (0,) * len(kept)
    factors = [_doubted(graph, said, heard, log, alike=alike)]
    for variable, one in zip(heard, shown, strict=True):
        aside = [] if said.string is None else [sideways_error(graph, one.pickup, said.string, ringing=True)]
        factors.append(product_factor((variable, *one.variables, *aside), one.sign * np.inf))
    links = frozenset(one.pickup for one in shown)
    graph.evidence.append(Evidence(said.method, tuple(factors), links, takes=said.takes, about=said.letter))


def capacitive_error(graph: EvidenceGraph, rig: str) -> LatentError:
    """The doubt that hum on a rig does not come in through the coils."""
    return graph.latent_error("capacitive hum", rig, on=OnRig(rig))


def _told(log: Array) -> tuple[Array, list[int]]:
    """The table without the axes along which it is flat, and the numbers of those that are left."""
    kept = list(range(log.ndim))
    for axis in reversed(range(log.ndim)):
        first, second = np.take(log, 0, axis=axis), np.take(log, 1, axis=axis)
        if np.max(np.abs(first - second)) < FLAT:
            log = first
            del kept[axis]
    return log, kept


def _doubted(
    graph: EvidenceGraph,
    said: TableEvidence,
    heard: tuple[Variable, ...],
    log: Array,
    *,
    alike: Sequence[int],
) -> Factor:
    """The table with one more axis in front for each doubt."""
    nothing = float(np.logaddexp.reduce(log, axis=None) - np.log(log.size))
    doubts: list[tuple[LatentError, float]] = []
    if said.letter == "w":
        doubts.append((capacitive_error(graph, said.rig), float(log[tuple(alike)])))
    if said.method == PROFILE:
        names = tuple(dict.fromkeys(one.pickup for one in said.shown))
        doubts.append((graph.latent_error("profile", said.rig, *names, on=OnPickups(names)), nothing))
    listed = tuple(sorted(set(said.settings)))
    doubts.append((graph.latent_error("settings", *listed, on=OnSettings(listed)), nothing))
    variables = heard
    for hidden, otherwise in doubts:
        log = np.stack([log, np.full(log.shape, otherwise)])
        variables = (hidden, *variables)
    return Factor(variables, log)


@dataclass(frozen=True, eq=False)
class ProfileGroup:
    """Plucks on several settings, and what their harmonics say together; one entry of each list a pluck."""

    first: Take
    jack: JackMixes
    takes: tuple[str, ...]
    settings: tuple[str, ...]
    strings: tuple[str | None, ...]
    plucks: tuple[ProfilePluck, ...]
    result: ProfileResult


@dataclass(frozen=True, eq=False)
class HumGroup:
    """Hum on several settings, on one channel; one entry of each list a take."""

    first: Take
    jack: JackMixes
    takes: tuple[str, ...]
    settings: tuple[str, ...]
    lines: tuple[HumLines, ...]

    @property
    def with_mixes(self) -> list[tuple[HumLines, Mix]]:
        """The lines of each take with the mix they came out of."""
        mixes = dict(zip(self.jack.settings, self.jack.mixes, strict=True))
        return [(lines, mixes[name]) for name, lines in zip(self.settings, self.lines, strict=True)]


def profile_groups(
    history: LeadHistory, heard: Sequence[TakeResult], *, kohm: Mapping[str, float], unsound: frozenset[str]
) -> list[ProfileGroup]:
    """Plucks in groups; a group without a setting of several pickups has no profile to compare."""
    groups: dict[Hashable, list[tuple[Take, SettingPluck]]] = defaultdict(list)
    for take in (t for t in heard if not t.faults):
        groups[_key(history, take)] += [(take.entry, p) for p in take.plucks if p.setting not in unsound]
    made = (_profile(history.job, plucked, kohm=kohm) for plucked in groups.values() if plucked)
    return [group for group in made if group is not None]


def hum_groups(history: LeadHistory, heard: Sequence[TakeResult]) -> list[HumGroup]:
    """Hum takes in groups, each channel by itself: their gains differ."""
    groups: dict[Hashable, list[tuple[Take, SettingHum]]] = defaultdict(list)
    for take in (t for t in heard if not t.faults):
        for hum in take.hums:
            groups[_key(history, take), hum.column].append((take.entry, hum))
    return [_hum(history.job, hummed) for hummed in groups.values()]


def _key(history: LeadHistory, take: TakeResult) -> Hashable:
    """What takes must share to be compared by level: rig, stage, gesture, and the leads as they were."""
    entry, leads = take.entry, history.at_entry[take.entry.id]
    wired = tuple((name, one.era, one.turned) for name, one in sorted(leads.items()))
    return entry.rig or NO_RIG, entry.stage, entry.gesture, wired


def _profile(
    job: Job, plucked: Sequence[tuple[Take, SettingPluck]], *, kohm: Mapping[str, float]
) -> ProfileGroup | None:
    first = plucked[0][0]
    names = tuple(dict.fromkeys(p.setting for _, p in plucked))
    frets = dict.fromkeys(entry.fret for entry, _ in plucked)
    by_fret = {
        fret: jack_mixes(job, [(n, 0) for n in names], stage=first.stage, fret=fret, kohm=kohm)
        for fret in frets
    }
    jack = by_fret[first.fret]
    if all(mix.alone for mix in jack.mixes):
        return None
    plucks = tuple(
        ProfilePluck(p.levels, by_fret[entry.fret].mixes[names.index(p.setting)], entry.string, entry.fret)
        for entry, p in plucked
    )
    return ProfileGroup(
        first,
        jack,
        tuple(entry.id for entry, _ in plucked),
        tuple(p.setting for _, p in plucked),
        tuple(entry.string for entry, _ in plucked),
        plucks,
        profile_of(plucks, count=jack.count),
    )


def _hum(job: Job, hummed: Sequence[tuple[Take, SettingHum]]) -> HumGroup:
    first, hum = hummed[0]
    names = tuple(dict.fromkeys(h.setting for _, h in hummed))
    return HumGroup(
        first,
        jack_mixes(job, [(n, hum.column) for n in names], stage=first.stage),
        tuple(entry.id for entry, _ in hummed),
        tuple(h.setting for _, h in hummed),
        tuple(h.lines for _, h in hummed),
    )


MOVED_HUM = 3.0
"""Nats: hum that rises and falls as the guitar is turned comes in through the coils."""


@dataclass(frozen=True, eq=False)
class JackEvidence:
    """What was read from the jack besides evidence: groups for losses, notes and drawings."""

    profiles: tuple[ProfileGroup, ...]
    hums: tuple[HumGroup, ...]


def add_jack_evidence(
    graph: EvidenceGraph,
    heard: Sequence[TakeResult],
    *,
    kohm: Mapping[str, float],
    unsound: frozenset[str] = frozenset(),
) -> JackEvidence:
    """Add what the jack said; settings in ``unsound`` are left out of the profiles."""
    runs = ClipUps(graph.history.job)
    run_of = {take.entry.id: runs.of(take.entry) for take in heard}
    for take in (t for t in heard if not t.faults):
        for table in take.tables:
            _add(
                graph,
                take.entry,
                table.sources,
                run=run_of[take.entry.id],
                method=table.method,
                letter=table.letter,
                log=table.log,
                takes=(take.entry.id,),
                settings=tuple(name for name, _ in named_settings(take.entry.inputs)),
            )
    profiles = profile_groups(graph.history, heard, kohm=kohm, unsound=unsound)
    for group in profiles:
        _add_group(graph, group, run_of, method=PROFILE, letter="s", log=group.result.table)
    hums = hum_groups(graph.history, heard)
    for hum in hums:
        levels = hum_level_table(hum.with_mixes, count=hum.jack.count)
        _add_group(graph, hum, run_of, method=HUM_LEVEL, letter="w", log=levels)
        _note_moving(graph, hum)
    return JackEvidence(tuple(profiles), tuple(hums))


def _add_group(
    graph: EvidenceGraph,
    group: ProfileGroup | HumGroup,
    run_of: Mapping[str, Mapping[str, int]],
    *,
    method: str,
    letter: SignLetter,
    log: Array,
) -> None:
    _add(
        graph,
        group.first,
        group.jack.sources,
        run=run_of[group.first.id],
        method=method,
        letter=letter,
        log=log,
        takes=tuple(dict.fromkeys(group.takes)),
        settings=group.jack.settings,
    )


def _add(
    graph: EvidenceGraph,
    entry: Take,
    stations: Sequence[ChannelSource],
    *,
    run: Mapping[str, int],
    method: str,
    letter: SignLetter,
    log: Array,
    takes: tuple[str, ...],
    settings: tuple[str, ...],
) -> None:
    shown = [observation_of(graph, entry, s, run=run, letter=letter) for s in stations]
    each = tuple(s for s in shown if s is not None)
    if len(each) < len(shown):
        return
    one_string = entry.string is not None and letter == "s" and method != PROFILE
    add_table_evidence(
        graph,
        TableEvidence(
            method,
            letter,
            each,
            log,
            takes,
            settings,
            _rig(entry),
            string=entry.string if one_string else None,
            reversed_axes=_reversed_axes(graph, settings, stations),
        ),
    )


def _note_moving(graph: EvidenceGraph, group: HumGroup) -> None:
    """Hum of one setting that differs between takes comes in through the coils."""
    for name in dict.fromkeys(group.settings):
        mine = [k for k, other in enumerate(group.settings) if other == name]
        if len(mine) > 1 and hum_level_changes([group.lines[k] for k in mine]):
            factor = Factor((capacitive_error(graph, _rig(group.first)),), np.array([0.0, -MOVED_HUM]))
            takes = tuple(dict.fromkeys(group.takes[k] for k in mine))
            graph.evidence.append(Evidence(HUM_LEVEL, (factor,), frozenset(), takes=takes, about="w"))
            return


def _reversed_axes(
    graph: EvidenceGraph, names: Iterable[str], stations: Sequence[ChannelSource]
) -> tuple[bool, ...]:
    """For each station, whether a setting has it reversed."""
    turned = {
        (member.pickup, member.coil)
        for name in names
        if (setting := graph.history.job.setting(name)) is not None
        for member in setting.on
        if member.reversed
    }
    return tuple((s.pickup, s.coil) in turned for s in stations)


def _rig(entry: Take) -> str:
    return entry.rig or NO_RIG
