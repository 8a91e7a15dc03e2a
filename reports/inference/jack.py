"""Evidence from several selector settings on one output jack: switch takes, harmonic profiles, and hum.

A table has log weights over the signs of several stations at once, an axis of length 2 for each, index 0 for
+1: of ``s`` from a string, of ``w`` from hum. Switch takes have one each; plucks, and hum, on several
settings of one rig, stage, gesture and place are grouped, for their levels compare. Each station's sign is
the product of its pickup's sign and the errors on its way, of which hum has some of its own
(reports.inference.hum_doubts). Doubts are one more axis of the table: a setting that is not
what the job says, harmonics that follow no model (the table says nothing), hum that comes in by capacitance
(it says "wound alike").
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from capture.job import Job
from capture.log import Take
from dsp.methods.hum import HumLines
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
    pole_errors,
    sideways_error,
)
from reports.inference.factor_graph import Factor, Variable, product_factor
from reports.inference.hum_doubts import add_turned_hum, capacitive_error, field_errors, place_of_take
from reports.inference.selector import list_doubts, or_elsewhere, position_doubts
from reports.model.gestures import HUM_LEVEL, PROFILE, SWITCH, SignLetter
from reports.model.notes import OnPickups, OnRig

Array = NDArray[np.float64]

FLAT = 0.05
"""An axis along which a table differs by less than this, in nats, says nothing of its sign."""


@dataclass(frozen=True)
class SettingSign:
    """The sign with which a station was heard by one method, on one string or at one place."""

    method: str
    observation: Observation
    string: str
    place: str

    def __str__(self) -> str:
        """Text used as a sort key: kind, then key."""
        heard = self.observation
        return f"heard {self.method} {heard.pickup} {self.string} {heard.variables} {self.place}"


@dataclass(frozen=True, eq=False)
class TableEvidence:
    """One table with what it is about.

    ``settings`` are those it rests on; ``string`` is the one that rang (None: hum, or many);
    ``reversed_axes`` are the stations that a setting has reversed; ``rig`` is what was between the guitar
    and the file; ``place`` is where it was (reports.inference.hum_doubts.place_of_take).
    """

    method: str
    letter: SignLetter
    observations: tuple[Observation, ...]
    log: Array
    takes: tuple[str, ...]
    settings: tuple[str, ...]
    rig: str
    string: str | None = None
    reversed_axes: tuple[bool, ...] = ()
    place: str = ""


def add_table_evidence(graph: EvidenceGraph, table: TableEvidence) -> None:
    """Add a table; the axes of signs that it says nothing of are left away."""
    log, kept = _informative_axes(table.log)
    if len(kept) < 2:
        return
    observations = [table.observations[axis] for axis in kept]
    signs: tuple[Variable, ...] = tuple(
        SettingSign(table.method, one, table.string or "", table.place) for one in observations
    )
    same_winding = (
        tuple(int(table.reversed_axes[axis]) for axis in kept) if table.reversed_axes else (0,) * len(kept)
    )
    factors = [_with_doubts(graph, table, signs, log, same_winding=same_winding)]
    for variable, one in zip(signs, observations, strict=True):
        errors: list[Variable] = []
        if table.string is not None:
            errors.append(sideways_error(graph, one.pickup, table.string, ringing=True))
            errors += pole_errors(graph, one.pickup, [table.string])
        if table.letter == "w":
            errors += field_errors(graph, one.pickup, place=table.place)
        tie = product_factor((variable, *one.variables, *errors), one.sign * np.inf)
        factors.append(or_elsewhere(tie, list_doubts(graph, table.settings)))
    pickups = frozenset(one.pickup for one in observations)
    graph.evidence.append(
        Evidence(table.method, tuple(factors), pickups, takes=table.takes, letter=table.letter)
    )


def _informative_axes(log: Array) -> tuple[Array, list[int]]:
    """The table without the axes along which it is flat, and the numbers of those that are left."""
    kept = list(range(log.ndim))
    for axis in reversed(range(log.ndim)):
        first, second = np.take(log, 0, axis=axis), np.take(log, 1, axis=axis)
        if np.max(np.abs(first - second)) < FLAT:
            log = first
            del kept[axis]
    return log, kept


def _with_doubts(
    graph: EvidenceGraph,
    table: TableEvidence,
    signs: tuple[Variable, ...],
    log: Array,
    *,
    same_winding: Sequence[int],
) -> Factor:
    """The table with one more axis in front for each doubt."""
    nothing = float(np.logaddexp.reduce(log, axis=None) - np.log(log.size))
    doubts: list[tuple[LatentError, float]] = []
    if table.letter == "w":
        doubts.append((capacitive_error(graph, table.rig), float(log[tuple(same_winding)])))
    if table.method == HUM_LEVEL:
        doubts.append((graph.latent_error("hum levels", table.rig, on=OnRig(table.rig)), nothing))
    if table.method == PROFILE:
        names = tuple(dict.fromkeys(one.pickup for one in table.observations))
        doubts.append((graph.latent_error("profile", table.rig, *names, on=OnPickups(names)), nothing))
    if table.method == SWITCH and graph.history.job.control == "volumes":
        doubts.append((_volume_left_up(graph, table), float(log[tuple(same_winding)])))
    doubts += [(error, nothing) for error in position_doubts(graph, table.settings)]
    variables = signs
    for error, otherwise in doubts:
        log = np.stack([log, np.full(log.shape, otherwise)])
        variables = (error, *variables)
    return Factor(variables, log)


def _volume_left_up(graph: EvidenceGraph, table: TableEvidence) -> LatentError:
    """At the end of a sweep the first pickup was still heard, or again: that always looks in phase.

    A knob that is mistaken for another, a string that dies before the last is turned: one for all sweeps.
    """
    names = tuple(sorted({one.pickup for one in table.observations}))
    return graph.latent_error("same setting twice", "volumes", *names, on=OnPickups(names))


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
    """Hum on several settings, on one channel, at one place; one entry of each list a take."""

    first: Take
    jack: JackMixes
    entries: tuple[Take, ...]
    settings: tuple[str, ...]
    lines: tuple[HumLines, ...]

    @property
    def takes(self) -> tuple[str, ...]:
        """The ids of the takes."""
        return tuple(entry.id for entry in self.entries)

    @property
    def with_mixes(self) -> list[tuple[HumLines, Mix]]:
        """The lines of each take with the mix they came out of."""
        mixes = dict(zip(self.jack.settings, self.jack.mixes, strict=True))
        return [(lines, mixes[name]) for name, lines in zip(self.settings, self.lines, strict=True)]


def profile_groups(
    history: LeadHistory, results: Sequence[TakeResult], *, kohm: Mapping[str, float], unsound: frozenset[str]
) -> list[ProfileGroup]:
    """Plucks in groups; a group without a setting of several pickups has no profile to compare."""
    groups: dict[Hashable, list[tuple[Take, SettingPluck]]] = defaultdict(list)
    for take in (t for t in results if not t.faults):
        groups[_key(history, take)] += [(take.entry, p) for p in take.plucks if p.setting not in unsound]
    made = (_profile(history.job, plucked, kohm=kohm) for plucked in groups.values() if plucked)
    return [group for group in made if group is not None]


def hum_groups(history: LeadHistory, results: Sequence[TakeResult]) -> list[HumGroup]:
    """Hum takes in groups, each channel by itself: their gains differ."""
    groups: dict[Hashable, list[tuple[Take, SettingHum]]] = defaultdict(list)
    for take in (t for t in results if not t.faults):
        for hum in take.hums:
            key = _key(history, take), hum.column, place_of_take(take.entry)
            groups[key].append((take.entry, hum))
    return [_hum(history.job, hummed) for hummed in groups.values()]


def _key(history: LeadHistory, take: TakeResult) -> Hashable:
    """What takes must share to be compared by level: rig, stage, gesture, and the leads as they were."""
    entry, leads = take.entry, history.at_entry[take.entry.id]
    wired = tuple((name, one.era, one.turned) for name, one in sorted(leads.items()))
    return entry.rig or NO_RIG, entry.stage, entry.gesture, wired, _string_kind(history.job, entry)


def _string_kind(job: Job, entry: Take) -> Hashable:
    """How pickups under whose strings the sign differs stand under this one."""
    odd = [p for p in job.pickups if p.made.by_string]
    return tuple((job.pole_under(p, entry.string), job.coil_under(p, entry.string)) for p in odd)


def _profile(
    job: Job, plucked: Sequence[tuple[Take, SettingPluck]], *, kohm: Mapping[str, float]
) -> ProfileGroup | None:
    first = plucked[0][0]
    names = tuple(dict.fromkeys(p.setting for _, p in plucked))
    notes = dict.fromkeys((entry.string, entry.fret) for entry, _ in plucked)
    by_note = {
        (string, fret): jack_mixes(
            job, [(n, 0) for n in names], stage=first.stage, fret=fret, string=string, kohm=kohm
        )
        for string, fret in notes
    }
    jack = by_note[first.string, first.fret]
    if all(mix.alone for mix in jack.mixes):
        return None
    plucks = tuple(
        ProfilePluck(
            p.levels,
            by_note[entry.string, entry.fret].mixes[names.index(p.setting)],
            entry.string,
            entry.fret,
        )
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
        jack_mixes(job, [(n, hum.column) for n in names], stage=first.stage, hum=True),
        tuple(entry for entry, _ in hummed),
        tuple(h.setting for _, h in hummed),
        tuple(h.lines for _, h in hummed),
    )


@dataclass(frozen=True, eq=False)
class JackEvidence:
    """What was read from the jack besides evidence: groups for losses, notes and drawings."""

    profiles: tuple[ProfileGroup, ...]
    hums: tuple[HumGroup, ...]


def add_jack_evidence(
    graph: EvidenceGraph,
    results: Sequence[TakeResult],
    *,
    kohm: Mapping[str, float],
    unsound: frozenset[str] = frozenset(),
) -> JackEvidence:
    """Add what the jack said; settings in ``unsound`` are left out of the profiles."""
    clip_ups = ClipUps(graph.history.job)
    clip_ups_at = {take.entry.id: clip_ups.of(take.entry) for take in results}
    for take in (t for t in results if not t.faults):
        for table in take.tables:
            _add(
                graph,
                take.entry,
                table.sources,
                clip_up_of=clip_ups_at[take.entry.id],
                method=table.method,
                letter=table.letter,
                log=table.log,
                takes=(take.entry.id,),
                settings=tuple(name for name, _ in named_settings(take.entry.inputs)),
            )
    profiles = profile_groups(graph.history, results, kohm=kohm, unsound=unsound)
    for group in profiles:
        _add_group(graph, group, clip_ups_at, method=PROFILE, letter="s", log=group.result.table)
    hums = hum_groups(graph.history, results)
    for hum in hums:
        levels = hum_level_table(hum.with_mixes, count=hum.jack.count)
        _add_group(graph, hum, clip_ups_at, method=HUM_LEVEL, letter="w", log=levels)
    _add_turned_hum(graph, hums)
    return JackEvidence(tuple(profiles), tuple(hums))


def _add_group(
    graph: EvidenceGraph,
    group: ProfileGroup | HumGroup,
    clip_ups_at: Mapping[str, Mapping[str, int]],
    *,
    method: str,
    letter: SignLetter,
    log: Array,
) -> None:
    _add(
        graph,
        group.first,
        group.jack.sources,
        clip_up_of=clip_ups_at[group.first.id],
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
    clip_up_of: Mapping[str, int],
    method: str,
    letter: SignLetter,
    log: Array,
    takes: tuple[str, ...],
    settings: tuple[str, ...],
) -> None:
    observation = [observation_of(graph, entry, s, clip_up_of=clip_up_of, letter=letter) for s in stations]
    each = tuple(s for s in observation if s is not None)
    if len(each) < len(observation):
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
            place=place_of_take(entry) if letter == "w" else "",
        ),
    )


def _add_turned_hum(graph: EvidenceGraph, groups: Sequence[HumGroup]) -> None:
    """Hum that changes with a turn that was said, rig by rig and channel by channel, settings alone."""
    by_channel: dict[tuple[str, int], list[tuple[Take, str, HumLines]]] = defaultdict(list)
    for group in groups:
        alone = dict(zip(group.jack.settings, group.jack.mixes, strict=True))
        column = group.jack.sources[0].column
        by_channel[_rig(group.first), column] += [
            (entry, name, lines)
            for entry, name, lines in zip(group.entries, group.settings, group.lines, strict=True)
            if alone[name].alone
        ]
    for (rig, _), takes in by_channel.items():
        add_turned_hum(graph, rig, takes)


def _reversed_axes(
    graph: EvidenceGraph, names: Iterable[str], stations: Sequence[ChannelSource]
) -> tuple[bool, ...]:
    """For each station, whether a setting has it reversed."""
    reversed_sources = {
        (member.pickup, member.coil)
        for name in names
        if (setting := graph.history.job.setting(name)) is not None
        for member in setting.on
        if member.reversed
    }
    return tuple((s.pickup, s.coil) in reversed_sources for s in stations)


def _rig(entry: Take) -> str:
    return entry.rig or NO_RIG
