"""Harmonic profiles: relative polarity from plucks on sources alone and on several together.

Task: (1) levels of the harmonics of one pluck and of what noise leaves there; (2) plucks grouped by setting
and note; (3) a table over the signs of the sources; (4) the loss of the fundamental in a combination.
Shapes: signal (frames,) at the analysis rate; levels (harmonics,), harmonic n at index n - 1; scatter
(harmonics, harmonics); table (2,) * count, index 0 for +1, largest value 0. Units: dB of a partial's
amplitude re full scale, Hz, natural logarithms.
Sign: levels carry none; reversing one source in a setting turns the table over along its axis.

(1) A level is the mean in dB of a 150 ms Hann window, a 500 ms one and the least-squares amplitude over the
first periods: the beating of the two polarisations is met at three times. (2) Levels are averaged as powers,
each pluck at the same loudness: a pick on a node of a harmonic leaves a hole, and in dB a hole would outweigh
all other plucks. The scatter is that of fourteen libraries of real plucks (T4), sqrt(1.2^2 + min(0.6 n,
4.5)^2) dB a harmonic, 3 dB a level, 1.5 dB an octave of tilt, with the job's own added. (3) Every setting of
several sources that were all plucked alone on the same note is weighed by `dsp.methods.profile_likelihood`; a
selector that was not moved has a share in every likelihood. (4) The fundamental has no node under any pickup,
so no place is needed; 0 dB is full, negative is lost.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.methods.profile_likelihood import (
    SETTING_DB,
    NoteLevels,
    PatternLikelihoods,
    pattern_likelihoods,
    predicted_db,
    shares_of,
)
from dsp.model.settings import WEIGHT_DB, Mix, Source, sign_patterns, signs_in, table_of, weights_of
from dsp.signal.mains import NOMINAL_HZ
from dsp.signal.pitch import Pitch, decays, fitted_partials
from dsp.signal.samples import ANALYSIS_RATE
from dsp.signal.waves import sums_with, turns_of

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

HARMONICS = 12
HIGHEST_HZ = 2500.0
"""Above this the resonance of coils and cable decides the level, and it moves with every setting."""
ATTACK_PERIODS = 1.0
"""Left out at the start: the pick itself."""
WINDOWS_S = (0.15, 0.5)
FIT_PERIODS = 7.25
LEAST_WINDOW_S = 0.06
"""A window that the end of the signal leaves shorter than this is not read."""
CLEAR_DB = 10.0
"""A level this far over the floor is off by 3 dB at most."""
CLEAR_NEAR_MAINS_DB = 16.0
"""Near a mains line: hum drifts between the quiet and the ringing."""
NEAR_MAINS_HZ = 6.0
"""Closer than this a line falls into the longer window's lobe."""
MAINS_LINES = 15
LEAST_QUIET_S = 0.04
SILENCE_DB = -200.0


@dataclass(frozen=True, eq=False)
class PluckLevels:
    """Levels of harmonics 1 to ``HARMONICS`` of one pluck, each (harmonics,).

    ``floor_db``: what noise and hum leave at the harmonic's place. ``usable``: stands clear of it; where it
    does not, or where the signal has no such harmonic, ``levels_db`` is only what noise gives.
    """

    levels_db: Array
    floor_db: Array
    usable: Flags
    f0_hz: float


def pluck_levels(
    x: Array,
    *,
    onset: int,
    quiet: int,
    pitch: Pitch,
    mains_hz: float | None = None,
) -> PluckLevels:
    """Levels of the pluck that begins at sample ``onset``; nothing moves before sample ``quiet``.

    ``x`` ends where the pluck does: a following pluck is the caller's to cut off. ``mains_hz`` None: lines
    of 50 and of 60 Hz are looked out for. Where ``quiet`` is too short to tell a floor, what lies
    between the harmonics stands in for it.
    """
    numbers = np.arange(1, HARMONICS + 1)
    hz = np.array([pitch.partial_hz(int(n)) for n in numbers])
    within = hz < min(HIGHEST_HZ, 0.45 * ANALYSIS_RATE)
    start = onset + int(ATTACK_PERIODS * ANALYSIS_RATE / pitch.f0_hz)
    readings = [
        _windowed_levels(x[start : start + int(seconds * ANALYSIS_RATE)], hz)
        for seconds in WINDOWS_S
        if min(len(x) - start, int(seconds * ANALYSIS_RATE)) >= LEAST_WINDOW_S * ANALYSIS_RATE
    ]
    fitted = _fitted_levels(x, start=start, hz=hz[within], pitch=pitch)
    if fitted is not None:
        readings.append(np.concatenate([fitted, np.full(HARMONICS - len(fitted), SILENCE_DB)]))
    if not readings:
        nothing = np.full(HARMONICS, SILENCE_DB)
        return PluckLevels(nothing, nothing, np.zeros(HARMONICS, dtype=np.bool_), pitch.f0_hz)
    levels = np.mean(readings, axis=0)
    floor = _floor_levels(x, quiet=min(quiet, onset), start=start, hz=hz, f0_hz=pitch.f0_hz)
    nominal = NOMINAL_HZ if mains_hz is None else (mains_hz,)
    lines = np.array([k * one for one in nominal for k in range(1, MAINS_LINES + 1)])
    near = np.min(np.abs(hz[:, np.newaxis] - lines), axis=1) < NEAR_MAINS_HZ
    clear = levels > floor + np.where(near, CLEAR_NEAR_MAINS_DB, CLEAR_DB)
    return PluckLevels(levels, floor, np.asarray(within & clear), pitch.f0_hz)


def _windowed_levels(piece: Array, hz: Array) -> Array:
    """Level at each of ``hz``, of any shape, in a Hann window over ``piece``, dB of amplitude."""
    window = np.hanning(len(piece))
    sums = sums_with(piece * window, -turns_of(hz.ravel())).reshape(hz.shape)
    return _db(np.abs(sums) * 2 / window.sum())


def _fitted_levels(x: Array, *, start: int, hz: Array, pitch: Pitch) -> Array | None:
    stop = start + int(FIT_PERIODS * ANALYSIS_RATE / pitch.f0_hz)
    if stop > len(x) or not len(hz):
        return None
    decay = decays(x, start=start, hz=hz, period_s=1 / pitch.f0_hz)
    return _db(np.abs(fitted_partials(x, start=start, stop=stop, hz=hz, decay=decay).amplitudes))


def _floor_levels(x: Array, *, quiet: int, start: int, hz: Array, f0_hz: float) -> Array:
    """What would be read at each of ``hz`` if no string rang, (harmonics,) in dB."""
    length = int(WINDOWS_S[0] * ANALYSIS_RATE)
    before = x[max(0, quiet - length) : quiet]
    if len(before) < LEAST_QUIET_S * ANALYSIS_RATE:
        after = x[start : start + int(WINDOWS_S[1] * ANALYSIS_RATE)]
        return np.maximum(
            _windowed_levels(after, hz - f0_hz / 2),
            _windowed_levels(after, hz + f0_hz / 2),
        )
    step = ANALYSIS_RATE / len(before)
    around = np.add.outer(step * np.array([-1.0, 0.0, 1.0]), hz)
    readings = _windowed_levels(before - before.mean(), around)
    return np.asarray(10 * np.log10(np.mean(10 ** (readings / 10), axis=0)))


def _db(size: Array) -> Array:
    return np.asarray(np.maximum(20 * np.log10(np.maximum(size, 1e-30)), SILENCE_DB))


SAME_PITCH = 0.01
"""Notes whose string was not named are one note when their pitches are this close."""
TAKE_LEVEL_DB = 3.0
TAKE_TILT_DB = 1.5
HARMONIC_SCATTER_DB = (0.6, 4.5)
"""Scatter of one harmonic from pluck to pluck: so much for each n, and at most so much."""
LEAST_SCATTER_DB = 0.8
REFERENCE_SCATTER_WEIGHT = 10.0
"""From so many plucks on, the job's own scatter weighs more than the figures above."""
LOUD_HARMONICS = 4
"""A pluck's loudness is the mean level of so many harmonics."""
LEAST_POWER = 1e-20

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
    network: tuple[tuple[str | None, float], ...] = ()


@dataclass(frozen=True, eq=False)
class PluckGroup:
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
class PluckGroups:
    """The plucks of a job by setting and note; ``scatter``: covariance of a single pluck's levels."""

    groups: dict[tuple[SettingKey, int], PluckGroup]
    scatter: Array

    def settings(self) -> list[SettingKey]:
        """Settings in the order in which they came."""
        return list(dict.fromkeys(key for key, _ in self.groups))

    def notes(self, key: SettingKey) -> list[int]:
        """Notes that were played on a setting."""
        return [note for one, note in self.groups if one == key]


def setting_key(mix: Mix) -> SettingKey:
    """The setting that a mix is. For a single source its reversal is left out: it changes no level."""
    return SettingKey(
        tuple(_source_key(s, alone=mix.alone) for s in mix.sources),
        "parallel" if mix.alone else mix.join,
        () if mix.alone or mix.plain else tuple((s.group, s.share) for s in mix.sources),
    )


def alone_key(source: Source) -> SettingKey:
    """The setting that holds one source by itself."""
    return SettingKey((_source_key(source, alone=True),), "parallel")


def group_plucks(plucks: Sequence[ProfilePluck]) -> PluckGroups:
    """Sort plucks by setting and note."""
    notes: list[tuple[str | None, int, float]] = []
    sorted_in: dict[tuple[SettingKey, int], list[ProfilePluck]] = {}
    for pluck in plucks:
        note = _note_number(pluck, notes)
        sorted_in.setdefault((setting_key(pluck.mix), note), []).append(pluck)
    groups = {key: _pluck_group(members, note=key[1]) for key, members in sorted_in.items()}
    return PluckGroups(groups, _scatter(sorted_in))


def reference_scatter() -> Array:
    """Covariance of one pluck's levels as measured elsewhere, (harmonics, harmonics)."""
    n = np.arange(1, HARMONICS + 1)
    octaves = np.log2(n)
    own = LEAST_SCATTER_DB**2 + np.minimum(HARMONIC_SCATTER_DB[0] * n, HARMONIC_SCATTER_DB[1]) ** 2
    return np.asarray(TAKE_LEVEL_DB**2 + TAKE_TILT_DB**2 * np.outer(octaves, octaves) + np.diag(own))


def _source_key(source: Source, *, alone: bool) -> SourceKey:
    return (source.sign, source.place.centre_mm, source.rows, source.reversed and not alone)


def _note_number(pluck: ProfilePluck, notes: list[tuple[str | None, int, float]]) -> int:
    for number, (string, fret, f0) in enumerate(notes):
        close = abs(pluck.levels.f0_hz / f0 - 1) < SAME_PITCH
        if string == pluck.string and fret == pluck.fret and (string is not None or close):
            return number
    notes.append((pluck.string, pluck.fret, pluck.levels.f0_hz))
    return len(notes) - 1


def _pluck_group(members: Sequence[ProfilePluck], *, note: int) -> PluckGroup:
    loud, shape, usable = _loudness_and_shape(members)
    times = np.maximum(usable.sum(axis=0), 1)
    mean = loud.mean() + 10 * np.log10(np.maximum(shape.sum(axis=0) / times, LEAST_POWER))
    spread = np.sqrt(np.square(_level_deviations(loud, shape, usable)).sum(axis=0) / np.maximum(times - 1, 1))
    first = members[0]
    return PluckGroup(
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
    total = REFERENCE_SCATTER_WEIGHT * reference_scatter()
    free = REFERENCE_SCATTER_WEIGHT
    for members in sorted_in.values():
        off = _level_deviations(*_loudness_and_shape(members))
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


def _level_deviations(loud: Array, shape: Array, usable: Flags) -> Array:
    """How far each pluck moves the mean, in dB, (plucks, harmonics)."""
    mean = np.maximum(shape.sum(axis=0) / np.maximum(usable.sum(axis=0), 1), LEAST_POWER)
    own = 10 / np.log(10) * (shape / mean - 1)
    return np.asarray(np.where(usable, (loud - loud.mean())[:, np.newaxis] + own, 0.0))


KNOWN_HARMONICS = 8
UNKNOWN_HARMONICS = 6
"""Where a place is not known, higher harmonics have too many nodes to average over."""
FEWEST_HARMONICS = 3
MOST_NATS = 4.75
"""A setting says at most so many nats for one pattern of signs against another."""
MOST_NATS_OF_FEW = (2.0, 2.9)
"""The same with one pluck, or two, of some setting on all notes: one that went sideways is not told then."""
PLUCK_NODE_DB = 7.0
PLUCK_NODE_FROM = 2
"""From the third harmonic on a pick may lie on a node in every pluck of a setting: no scatter shows that."""
UNMOVED_PRIOR = 0.2
"""Prior probability that the selector was not moved, so that a setting is really one of its sources alone, or
two of its sources are the same. Deliberately higher than at a real bench, so that such plucks are rarely
called in phase or out of phase."""
TRUST_DB = (0.0, 8.0, 14.0, 20.0)
TRUST_BY_IMBALANCE = (1.0, 1.0, 1 / 3, 0.1)
"""Trust in a setting by the difference in level of its sources (sources T4)."""


@dataclass(frozen=True, eq=False)
class ProfileShape:
    """A setting's profile on one note, for drawing; all (harmonics,), the level left free.

    ``adding_db`` and ``opposed_db``: predicted from the sources alone; opposed is the best of the
    patterns in which not all add.
    """

    mix: Mix
    string: str | None
    fret: int
    harmonics: Array
    measured_db: Array
    scatter_db: Array
    adding_db: Array
    opposed_db: Array


@dataclass(frozen=True, eq=False)
class ProfileResult:
    """What the profiles of a job say; flat where nothing is told.

    ``remarks``: codes among "imbalanced", "twin settings", "fewer harmonics" (some place is not known), "one
    source not heard alone".
    """

    table: Array
    remarks: tuple[str, ...]
    profiles: tuple[ProfileShape, ...]


def profile_of(plucks: Sequence[ProfilePluck], *, count: int) -> ProfileResult:
    """Weigh all settings of several sources; ``count``: how many signs there are."""
    pluck_groups = group_plucks(plucks)
    patterns = sign_patterns(count)
    scores = np.zeros(len(patterns))
    remarks: dict[str, None] = {}
    shapes: list[ProfileShape] = []
    for key in pluck_groups.settings():
        if len(key.sources) == 1:
            continue
        notes, groups = _comparable_notes(pluck_groups, key)
        if not notes:
            remarks["one source not heard alone"] = None
            continue
        mix = notes[0].mix
        if not _places_known(mix):
            remarks["fewer harmonics"] = None
        imbalance = _imbalance_db(notes)
        if imbalance > TRUST_DB[1]:
            remarks["imbalanced"] = None
        relative = np.stack([_relative_signs(mix, signs) for signs in patterns])
        each, at = np.unique(relative, axis=0, return_inverse=True)
        shapes += [_shape(note, group) for note, group in zip(notes, groups, strict=True)]
        if len(each) == 1:
            continue
        scores_here, twin = _with_unmoved_selector(pattern_likelihoods(notes, each))
        if twin:
            remarks["twin settings"] = None
            continue
        trust = float(np.interp(imbalance, TRUST_DB, TRUST_BY_IMBALANCE))
        fewest = sum(note.fewest for note in notes)
        most = MOST_NATS_OF_FEW[fewest - 1] if fewest <= len(MOST_NATS_OF_FEW) else MOST_NATS
        scores_here = np.maximum(trust * (scores_here - scores_here.max()), -most)
        scores += scores_here[at.reshape(-1)]
    return ProfileResult(table_of(scores, count), tuple(remarks), tuple(shapes))


def _with_unmoved_selector(found: PatternLikelihoods) -> tuple[Array, bool]:
    """Log likelihoods of the patterns if the selector may not have been moved, and whether it was not."""
    again = float(scipy.special.logsumexp(found.twins) - np.log(len(found.twins)))
    scores_here = np.logaddexp(found.patterns + np.log1p(-UNMOVED_PRIOR), again + np.log(UNMOVED_PRIOR))
    return scores_here, again > float(scipy.special.logsumexp(found.patterns) - np.log(len(found.patterns)))


def _relative_signs(mix: Mix, signs: Array) -> Array:
    own = signs_in(mix, signs)
    return np.asarray(own * own[0])


def _places_known(mix: Mix) -> bool:
    return all(_place_known(source) for source in mix.sources)


def _place_known(source: Source) -> bool:
    return source.place.centre_mm is not None and source.place.length_mm is not None


def _comparable_notes(
    pluck_groups: PluckGroups, key: SettingKey
) -> tuple[list[NoteLevels], list[PluckGroup]]:
    """The notes on which a setting and all its sources alone were heard, and the setting's groups."""
    notes, groups = [], []
    for number in pluck_groups.notes(key):
        together = pluck_groups.groups[key, number]
        alone = [pluck_groups.groups.get((alone_key(s), number)) for s in together.mix.sources]
        rows = [group for group in [*alone, together] if group is not None]
        if len(rows) <= len(together.mix.sources):
            continue
        most = KNOWN_HARMONICS if _places_known(together.mix) else UNKNOWN_HARMONICS
        used = np.flatnonzero(np.all([g.usable for g in rows], axis=0)[:most])
        if len(used) < FEWEST_HARMONICS:
            continue
        pick = np.ix_(used, used)
        notes.append(
            NoteLevels(
                np.stack([g.mean_db[used] for g in rows]),
                np.array(
                    [
                        (pluck_groups.scatter[pick] + PLUCK_NODE_DB**2 * np.diag(used >= PLUCK_NODE_FROM))
                        / g.count
                        for g in rows
                    ]
                ),
                used.astype(np.float64) + 1.0,
                together.f0_hz,
                together.mix,
                together.fret,
                min(g.count for g in rows),
            )
        )
        groups.append(together)
    return notes, groups


def _imbalance_db(notes: Sequence[NoteLevels]) -> float:
    """Spread of the sources' levels, as heard alone, over the harmonics that vote, and as weighted."""
    weight = 20 * np.log10(weights_of(notes[0].mix))
    level = np.mean([note.levels_db[:-1].mean(axis=1) for note in notes], axis=0) + weight
    return float(level.max() - level.min())


def _shape(note: NoteLevels, group: PluckGroup) -> ProfileShape:
    count = len(note.mix.sources)
    patterns = sign_patterns(count)
    measured = note.levels_db[-1]
    scatter = group.spread_db[note.harmonics.astype(int) - 1]
    predicted = predicted_db(note, patterns)
    weight = 1 / (1 + np.square(scatter))
    lift = ((measured - predicted) * weight).sum(axis=1, keepdims=True) / weight.sum()
    fitted = predicted + lift
    misfit = (np.square(measured - fitted) * weight).sum(axis=1)
    opposed = fitted[1 + int(np.argmin(misfit[1:]))]
    return ProfileShape(
        note.mix, group.string, group.fret, note.harmonics, measured, scatter, fitted[0], opposed
    )


@dataclass(frozen=True)
class FundamentalLoss:
    """Loss of the fundamental in a setting: 0 dB full, negative lost; ``plucks``: of the setting itself."""

    mix: Mix
    loss_db: float
    error_db: float
    plucks: int


def fundamental_loss(plucks: Sequence[ProfilePluck], mix: Mix) -> FundamentalLoss | None:
    """Loss in ``mix``; None where no note was heard in it and on each of its sources alone."""
    pluck_groups = group_plucks(plucks)
    key = setting_key(mix)
    scatter = float(pluck_groups.scatter[0, 0])
    losses, errors, count = [], [], 0
    for note in pluck_groups.notes(key):
        together = pluck_groups.groups[key, note]
        alone = [pluck_groups.groups.get((alone_key(s), note)) for s in together.mix.sources]
        rows = [group for group in alone if group is not None]
        if len(rows) < len(alone) or not all(g.usable[0] for g in [*rows, together]):
            continue
        loss, error = _loss(rows, together, scatter=scatter)
        losses.append(loss)
        errors.append(error)
        count += together.count
    if not losses:
        return None
    weight = 1 / np.square(errors)
    error = math.hypot(1 / math.sqrt(float(weight.sum())), SETTING_DB)
    return FundamentalLoss(mix, float(np.average(losses, weights=weight)), error, count)


def _loss(alone: Sequence[PluckGroup], together: PluckGroup, *, scatter: float) -> tuple[float, float]:
    """Loss on one note and its standard deviation, the sources' errors in the part they have in the sum."""
    share = shares_of(together.mix, hz=np.array([together.f0_hz]))[:, 0]
    size = share * np.array([10 ** (g.mean_db[0] / 20) for g in alone])
    part = size / size.sum()
    expected = 20 * math.log10(float(size.sum()))
    drift = WEIGHT_DB * (part - share if together.mix.join == "parallel" else part)
    variance = sum(float(p) ** 2 * scatter / g.count for p, g in zip(part, alone, strict=True))
    variance += scatter / together.count + float(np.square(drift).sum())
    return float(together.mean_db[0]) - expected, math.sqrt(variance)
