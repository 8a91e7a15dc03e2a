"""What each setting of a job puts on the jack, as the mixes that dsp works with.

From names of settings to dsp.model.settings.Mix, and to the sources whose signs the axes of tables stand
for: one axis for each pickup (or coil of it) on a channel. Units: mm, kilo-ohm. Sign: a member that a
setting has reversed is ``Source.reversed``; a `ChannelSource` of a mix is as wired.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

import numpy as np

from capture.job import Job, Member, Setting
from capture.log import AnyEntry, Input, LeadsInput, Meter, Ohms, Stage
from dsp.model.settings import USUAL_SCALE_MM, Mix, Place, Source, network_shares
from reports.evidence.results import ChannelSource
from reports.model.notes import PlaceCode

PLAUSIBLE_KOHM = (0.3, 100.0)
"""Outside of this a reading is no pickup between hot and ground, or was typed in another unit."""


@dataclass(frozen=True)
class JackMixes:
    """The settings of one take (or of many) with their mixes, and the sources that carry the signs."""

    settings: tuple[str, ...]
    mixes: tuple[Mix, ...]
    sources: tuple[ChannelSource, ...]

    @property
    def count(self) -> int:
        """How many signs the mixes hold."""
        return len(self.sources)


def jack_mixes(
    job: Job,
    settings: Sequence[tuple[str, int]],
    *,
    stage: Stage,
    fret: int = 0,
    string: str | None = None,
    kohm: Mapping[str, float] | None = None,
    hum: bool = False,
) -> JackMixes:
    """Mixes of settings, each given with the channel it was on; they share the numbering of signs.

    A coil that hears no string is part of a mix of ``hum`` alone, but where nothing else is on.
    ``string``: the open string, where it matters which.
    """
    numbers: dict[ChannelSource, int] = {}
    mixes = []
    for name, column in settings:
        setting = job.setting(name)
        members = setting.on if setting is not None else ()
        members = members if hum else strings_heard_by(job, members) or members
        mixed = []
        for member in members:
            bypassed = setting is not None and setting.bypass
            source = channel_source(job, member, column=column, stage=stage, bypassed=bypassed)
            number = numbers.setdefault(source, len(numbers))
            mixed.append(_source(job, member, number, fret=fret, string=string, kohm=kohm or {}))
        mixes.append(Mix(tuple(mixed), join="parallel" if setting is None else setting.join))
    return JackMixes(tuple(name for name, _ in settings), tuple(mixes), tuple(numbers))


def strings_heard_by(job: Job, members: Sequence[Member]) -> tuple[Member, ...]:
    """The members that hear strings at all."""
    return tuple(m for m in members if job.hears_strings(m.pickup))


def members_under(
    job: Job, members: Sequence[Member], string: str | None
) -> tuple[tuple[str, int | None, bool], ...]:
    """What hears a string in a setting: pickup, coil, and whether turned over by setting or pole."""
    found = []
    for m in strings_heard_by(job, members):
        pickup = job.pickup(m.pickup)
        coil, turned = coil_of(job, m.pickup, m.coil), m.reversed
        if pickup is not None and pickup.made.by_string:
            under = job.coil_under(pickup, string)
            if coil is not None and under not in (None, coil):
                continue
            coil = under if under is not None else coil
            turned = turned != (job.pole_under(pickup, string) == -1)
        found.append((m.pickup, coil, turned))
    return tuple(found)


def channel_source(
    job: Job, member: Member, *, column: int, stage: Stage, bypassed: bool = False
) -> ChannelSource:
    """A member of a setting as what a channel carries; a loose pickup has clips on it before the work.

    ``bypassed``: the setting has the active stage bypassed.
    """
    pickup = job.pickup(member.pickup)
    loose = pickup is not None and not pickup.fitted and stage == "found"
    coil = coil_of(job, member.pickup, member.coil)
    passed = bypassed and pickup is not None and pickup.active
    return ChannelSource(member.pickup, coil, False, column, loose, passed)


def coil_of(job: Job, name: str, coil: int | None) -> int | None:
    """The coil that is meant; None for a pickup that has only one."""
    pickup = job.pickup(name)
    return None if pickup is None or not pickup.made.several else coil


PLACE_WORDS = ("bridge", "middle", "neck")
"""The trade's words for where a pickup sits, from the bridge."""
FURTHEST_PLACE = 0.4
"""No pickup sits further along the open string: there the fretboard is."""


def place_word(name: str) -> str | None:
    """The word in a pickup's name that says where it sits."""
    words = [w for w in PLACE_WORDS if w in name.lower()]
    return words[0] if len(words) == 1 else None


def impossible_places(job: Job) -> dict[str, PlaceCode]:
    """Pickups whose typed place cannot be, with why: they count as not measured."""
    scale = job.scale_mm or USUAL_SCALE_MM
    typed = {p.name: p.centre_mm for p in job.pickups if p.centre_mm is not None}
    if any(mm > FURTHEST_PLACE * scale for mm in typed.values()):
        return {name: "from the nut" for name, mm in typed.items() if mm > FURTHEST_PLACE * scale}
    worded = [(PLACE_WORDS.index(word), mm, n) for n, mm in typed.items() if (word := place_word(n))]
    if any(a < b and x > y for a, x, _ in worded for b, y, _ in worded):
        return {name: "exchanged" for _, _, name in worded}
    return {}


def place_of(job: Job, name: str, *, fret: int = 0, string: str | None = None) -> Place:
    """Where a pickup sits under a string that sounds from ``fret``; a place that cannot be is not known.

    Only the part of the string counts. So that a pickup has one place whatever the string, it keeps its mean
    one, and where it lies elsewhere under ``string`` the length is scaled instead.
    """
    pickup = job.pickup(name)
    length = job.sounding_mm(fret=fret, string=string)
    if pickup is None or pickup.centre_mm is None or name in impossible_places(job):
        return Place(None, length)
    under = job.centre_under(pickup, string) or pickup.centre_mm
    return Place(pickup.centre_mm, None if length is None else length * pickup.centre_mm / under)


def named_settings(inputs: Iterable[Input]) -> list[tuple[str, int]]:
    """The settings named by a take's inputs, in order, each with its channel; leads name none."""
    named: list[tuple[str, int]] = []
    for column, item in enumerate(inputs):
        if item is None or isinstance(item, LeadsInput):
            continue
        named.extend((name, column) for name in ((item,) if isinstance(item, str) else item))
    return named


def measured_kohm(job: Job, entries: Iterable[AnyEntry]) -> dict[str, float]:
    """Resistance of each pickup from hot to ground, the last reading of each that is plausible."""
    measured: dict[str, float] = {}
    low, high = PLAUSIBLE_KOHM
    for entry in entries:
        if not isinstance(entry, Meter | Ohms):
            continue
        between = _meter_leads(entry) if isinstance(entry, Meter) else entry.between
        if _is_whole_pickup(job, entry.pickup, between) and entry.kohm and low <= entry.kohm <= high:
            measured[entry.pickup] = entry.kohm
    return measured


def _meter_leads(swing: Meter) -> tuple[str, ...]:
    """Where the meter's clips were; with red on hot or ground, black is on the other."""
    return (swing.red,) if swing.black is None else (swing.red, swing.black)


def _is_whole_pickup(job: Job, name: str, between: Iterable[str]) -> bool:
    """Whether a reading is of the whole pickup, from hot to ground; other leads may be of one coil."""
    pickup = job.pickup(name)
    ends = {"hot", "ground"} if pickup is None else {"hot", "ground", pickup.hot, pickup.ground}
    return set(between) <= ends or (pickup is not None and not pickup.made.several)


def is_alone(setting: Setting | None) -> bool:
    """Whether a setting holds one pickup, or one coil of it."""
    return setting is not None and len(setting.on) == 1


def _source(
    job: Job, member: Member, number: int, *, fret: int, string: str | None, kohm: Mapping[str, float]
) -> Source:
    pickup = job.pickup(member.pickup)
    coil = coil_of(job, member.pickup, member.coil)
    made = None if pickup is None or coil is not None else pickup.made
    return Source(
        sign=number,
        place=place_of(job, member.pickup, fret=fret, string=string),
        coils=1 if made is None or made.hums else 2,
        reversed=member.reversed,
        kohm=kohm.get(member.pickup) if coil is None else None,
        one_row=made is not None and made.rows == 1,
        group=member.group,
        share=1.0 if member.share is None else member.share,
    )


def hum_weights(setting: Setting, job: Job) -> dict[Member, int | None]:
    """What each coil of a member counts in the hum of a mixed network of equal coils, as whole numbers.

    None for each where all are joined one way and full up: then it follows from the join.
    """
    if setting.plain:
        return dict.fromkeys(setting.on)
    coils = np.array([coils_of(job, m) for m in setting.on], dtype=np.float64)
    shares = network_shares(
        coils,
        join=setting.join,
        groups=[m.group for m in setting.on],
        shares=[1.0 if m.share is None else m.share for m in setting.on],
    )
    parts = [Fraction(float(x)).limit_denominator(FINEST_SHARE) for x in shares]
    common = lcm(*(p.denominator for p in parts))
    return {m: int(p * common) for m, p in zip(setting.on, parts, strict=True)}


FINEST_SHARE = 100
"""Shares that differ by less than a hundredth are equal: no two coils are so alike."""


def coils_of(job: Job, member: Member) -> int:
    """How many coils of a member sound, in series."""
    pickup = job.pickup(member.pickup)
    return 1 if pickup is None or member.coil is not None else pickup.made.count


def rows_of(job: Job, name: str) -> int:
    """How many rows of poles of a pickup one string passes."""
    pickup = job.pickup(name)
    return 1 if pickup is None else pickup.made.rows
