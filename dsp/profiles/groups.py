"""Plucks of one setting on one string taken together.

Task: mean levels of each setting on each note, and how much plucks scatter about them. Shapes: mean
(harmonics,), scatter (harmonics, harmonics). Units: dB, dB squared. Signs: none.

Levels are averaged as powers, each pluck brought to the same loudness first: a pick that happens to lie on a
node of a harmonic makes a hole there, and in dB a hole weighs more than all the other plucks.

Scatter figures: as measured on fourteen libraries of real plucks (trials of the methods): sqrt(1.2^2 +
min(0.6 n, 4.5)^2) dB for harmonic n, 3 dB for a take's level, 1.5 dB an octave for its tilt. What the job's
own plucks show is added to that: a pick that wanders moves high harmonics by more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from dsp.mixes import Mix, Source
from dsp.profiles.levels import HARMONICS, PluckLevels

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

SAME_PITCH = 0.01
"""Notes whose string was not named are one note when their pitches are this close."""
TAKE_DB = 3.0
TILT_DB = 1.5
PLUCK_DB = (0.6, 4.5)
"""Scatter of one harmonic from pluck to pluck: so much for each n, and at most so much."""
LEAST_PLUCK_DB = 0.8
OWN_SCATTER_AFTER = 10.0
"""From so many plucks on, the job's own scatter weighs more than the figures above."""
LOUD_HARMONICS = 4
"""A pluck's loudness is the mean level of so many harmonics."""
TINY = 1e-20

SourceKey = tuple[int, float | None, int, bool]


@dataclass(frozen=True, eq=False)
class ProfilePluck:
    """One pluck: the levels of its harmonics, the setting, the open string's name and the fret."""

    levels: PluckLevels
    mix: Mix
    string: str | None
    fret: int


@dataclass(frozen=True)
class SettingKey:
    """What makes two mixes the same setting, whatever the string's sounding length."""

    sources: tuple[SourceKey, ...]
    join: Literal["parallel", "series"]


@dataclass(frozen=True, eq=False)
class Group:
    """All plucks of one setting on one note: mean levels (harmonics,) and where they are to be used."""

    mix: Mix
    note: int
    string: str | None
    fret: int
    f0_hz: float
    count: int
    mean_db: Array
    spread_db: Array
    usable: Flags


@dataclass(frozen=True, eq=False)
class Grouped:
    """The plucks of a job by setting and note; ``scatter``: covariance of a single pluck's levels."""

    groups: dict[tuple[SettingKey, int], Group]
    scatter: Array

    def settings(self) -> list[SettingKey]:
        """Settings in the order in which they came."""
        return list(dict.fromkeys(key for key, _ in self.groups))

    def notes(self, key: SettingKey) -> list[int]:
        """Notes that were played on a setting."""
        return [note for one, note in self.groups if one == key]


def key_of(mix: Mix) -> SettingKey:
    """The setting that a mix is. For a single source its reversal is left out: it changes no level."""
    return SettingKey(
        tuple(_source_key(s, alone=mix.alone) for s in mix.sources), "parallel" if mix.alone else mix.join
    )


def alone_key(source: Source) -> SettingKey:
    """The setting that holds one source by itself."""
    return SettingKey((_source_key(source, alone=True),), "parallel")


def grouped(plucks: Sequence[ProfilePluck]) -> Grouped:
    """Sort plucks by setting and note."""
    notes: list[tuple[str | None, int, float]] = []
    sorted_in: dict[tuple[SettingKey, int], list[ProfilePluck]] = {}
    for pluck in plucks:
        note = _note(pluck, notes)
        sorted_in.setdefault((key_of(pluck.mix), note), []).append(pluck)
    groups = {key: _group(members, note=key[1]) for key, members in sorted_in.items()}
    return Grouped(groups, _scatter(sorted_in))


def usual_scatter() -> Array:
    """Covariance of one pluck's levels as measured elsewhere, (harmonics, harmonics)."""
    n = np.arange(1, HARMONICS + 1)
    octaves = np.log2(n)
    own = LEAST_PLUCK_DB**2 + np.minimum(PLUCK_DB[0] * n, PLUCK_DB[1]) ** 2
    return np.asarray(TAKE_DB**2 + TILT_DB**2 * np.outer(octaves, octaves) + np.diag(own))


def _source_key(source: Source, *, alone: bool) -> SourceKey:
    return (source.sign, source.place.centre_mm, source.coils, source.reversed and not alone)


def _note(pluck: ProfilePluck, notes: list[tuple[str | None, int, float]]) -> int:
    for number, (string, fret, f0) in enumerate(notes):
        close = abs(pluck.levels.f0_hz / f0 - 1) < SAME_PITCH
        if string == pluck.string and fret == pluck.fret and (string is not None or close):
            return number
    notes.append((pluck.string, pluck.fret, pluck.levels.f0_hz))
    return len(notes) - 1


def _group(members: Sequence[ProfilePluck], *, note: int) -> Group:
    loud, shape, usable = _loudness_and_shape(members)
    times = np.maximum(usable.sum(axis=0), 1)
    mean = loud.mean() + 10 * np.log10(np.maximum(shape.sum(axis=0) / times, TINY))
    spread = np.sqrt(np.square(_off(loud, shape, usable)).sum(axis=0) / np.maximum(times - 1, 1))
    first = members[0]
    return Group(
        mix=first.mix,
        note=note,
        string=first.string,
        fret=first.fret,
        f0_hz=first.levels.f0_hz,
        count=len(members),
        mean_db=mean,
        spread_db=spread,
        usable=2 * usable.sum(axis=0) > len(members),
    )


def _scatter(sorted_in: dict[tuple[SettingKey, int], list[ProfilePluck]]) -> Array:
    total = OWN_SCATTER_AFTER * usual_scatter()
    free = OWN_SCATTER_AFTER
    for members in sorted_in.values():
        off = _off(*_loudness_and_shape(members))
        total += off.T @ off
        free += len(members) - 1
    return np.asarray(total / free)


def _loudness_and_shape(members: Sequence[ProfilePluck]) -> tuple[Array, Array, Flags]:
    """Loudness of each pluck in dB, its harmonics' power against it, and where that is usable (else 0)."""
    levels = np.stack([p.levels.levels_db for p in members])
    usable = np.stack([p.levels.usable for p in members])
    low = usable & (np.arange(HARMONICS) < LOUD_HARMONICS)
    loud = np.where(low, levels, 0.0).sum(axis=1) / np.maximum(low.sum(axis=1), 1)
    return loud, np.where(usable, 10 ** ((levels - loud[:, np.newaxis]) / 10), 0.0), usable


def _off(loud: Array, shape: Array, usable: Flags) -> Array:
    """How far each pluck moves the mean, in dB, (plucks, harmonics)."""
    mean = np.maximum(shape.sum(axis=0) / np.maximum(usable.sum(axis=0), 1), TINY)
    own = 10 / np.log(10) * (shape / mean - 1)
    return np.asarray(np.where(usable, (loud - loud.mean())[:, np.newaxis] + own, 0.0))
