"""Takes that are compared by level: plucks, and hum, on several settings of one rig.

Task: from heard takes to groups that share rig, stage, gesture and leads, with the mixes of their settings.
Signs: within a group all mixes share one numbering of signs (reports.jack).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

from capture.bench_log import Take
from capture.job import Job
from dsp.humming.lines import HumLines
from dsp.mixes import Mix
from dsp.profiles.profile import ProfilePluck, ProfileResult, profile_of
from reports.heard import NO_RIG, HeardTake, JackHum, JackPluck
from reports.jack import OnJack, on_jack
from reports.wires import Wires


@dataclass(frozen=True, eq=False)
class ProfileGroup:
    """Plucks on several settings, and what their harmonics say together; one entry of each list a pluck."""

    first: Take
    jack: OnJack
    takes: tuple[str, ...]
    settings: tuple[str, ...]
    strings: tuple[str | None, ...]
    plucks: tuple[ProfilePluck, ...]
    result: ProfileResult


@dataclass(frozen=True, eq=False)
class HumGroup:
    """Hum on several settings, on one channel; one entry of each list a take."""

    first: Take
    jack: OnJack
    takes: tuple[str, ...]
    settings: tuple[str, ...]
    lines: tuple[HumLines, ...]

    @property
    def with_mixes(self) -> list[tuple[HumLines, Mix]]:
        """The lines of each take with the mix they came out of."""
        mixes = dict(zip(self.jack.settings, self.jack.mixes, strict=True))
        return [(lines, mixes[name]) for name, lines in zip(self.settings, self.lines, strict=True)]


def profile_groups(
    wires: Wires, heard: Sequence[HeardTake], *, kohm: Mapping[str, float], unsound: frozenset[str]
) -> list[ProfileGroup]:
    """Plucks in groups; a group without a setting of several pickups has no profile to compare."""
    groups: dict[Hashable, list[tuple[Take, JackPluck]]] = defaultdict(list)
    for take in (t for t in heard if not t.faults):
        groups[_key(wires, take)] += [(take.entry, p) for p in take.plucks if p.setting not in unsound]
    made = (_profile(wires.job, plucked, kohm=kohm) for plucked in groups.values() if plucked)
    return [group for group in made if group is not None]


def hum_groups(wires: Wires, heard: Sequence[HeardTake]) -> list[HumGroup]:
    """Hum takes in groups, each channel by itself: their gains differ."""
    groups: dict[Hashable, list[tuple[Take, JackHum]]] = defaultdict(list)
    for take in (t for t in heard if not t.faults):
        for hum in take.hums:
            groups[_key(wires, take), hum.column].append((take.entry, hum))
    return [_hum(wires.job, hummed) for hummed in groups.values()]


def _key(wires: Wires, take: HeardTake) -> Hashable:
    """What takes must share to be compared by level: rig, stage, gesture, and the leads as they were."""
    entry, leads = take.entry, wires.at_entry[take.entry.id]
    wired = tuple((name, one.era, one.turned) for name, one in sorted(leads.items()))
    return entry.rig or NO_RIG, entry.stage, entry.gesture, wired


def _profile(
    job: Job, plucked: Sequence[tuple[Take, JackPluck]], *, kohm: Mapping[str, float]
) -> ProfileGroup | None:
    first = plucked[0][0]
    names = tuple(dict.fromkeys(p.setting for _, p in plucked))
    frets = dict.fromkeys(entry.fret for entry, _ in plucked)
    by_fret = {
        fret: on_jack(job, [(n, 0) for n in names], stage=first.stage, fret=fret, kohm=kohm) for fret in frets
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


def _hum(job: Job, hummed: Sequence[tuple[Take, JackHum]]) -> HumGroup:
    first, hum = hummed[0]
    names = tuple(dict.fromkeys(h.setting for _, h in hummed))
    return HumGroup(
        first,
        on_jack(job, [(n, hum.column) for n in names], stage=first.stage),
        tuple(entry.id for entry, _ in hummed),
        tuple(h.setting for _, h in hummed),
        tuple(h.lines for _, h in hummed),
    )
