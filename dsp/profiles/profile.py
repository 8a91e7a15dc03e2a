"""In phase or not, from plucks on sources alone and on several of them together.

Task: plucks of a job, each with its setting, to a table of log likelihoods over the signs of the sources.
Shapes: the table is (2,) * count, index 0 for +1, its largest value 0. Units: dB, natural logs. Signs:
those of dsp.mixes; turning all signs over changes nothing, reversing one source in a setting or turning one
pickup over turns the table over along its axis.

Every setting of several sources whose sources were all heard alone on the same note is judged by itself
(dsp.profiles.sums) and the tables are added. A selector that was not moved gives a sum that is one source
again: that has a share in every likelihood, and where it explains the sum better than any signs do the
setting says nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.mixes import Mix, Source, sign_patterns, signs_in, table_of, weights_of
from dsp.profiles.groups import Group, Grouped, ProfilePluck, SettingKey, alone_key, grouped
from dsp.profiles.sums import Likelihoods, Note, likelihoods, predicted_db

__all__ = [
    "Imbalance",
    "ProfilePluck",
    "ProfileResult",
    "ProfileShape",
    "profile_of",
]

Array = NDArray[np.float64]

KNOWN_HARMONICS = 8
UNKNOWN_HARMONICS = 6
"""Where a place is not known, higher harmonics have too many nodes to average over."""
FEWEST_HARMONICS = 3
MOST = 4.75
"""A setting says at most so many nats for one pattern of signs against another."""
MOST_OF_FEW = (2.0, 2.9)
"""The same with one pluck, or two, of some setting: one that went sideways cannot be told then."""
HOLE_DB = 7.0
HOLE_FROM = 2
"""From the third harmonic on a pick may lie on a node in every pluck of a setting: no scatter shows that."""
NOT_MOVED = 0.2
"""How often a setting is one of its sources alone, or two sources are one: set by how rarely plucks of a
selector that was not moved may be called in phase or not, and higher than it happens."""
TRUST_DB = (0.0, 8.0, 14.0, 20.0)
TRUST = (1.0, 1.0, 1 / 3, 0.1)
"""Trust in a setting by the difference in level of its sources (trials of the methods)."""


@dataclass(frozen=True)
class Imbalance:
    """How much louder the loudest source of a setting is than the softest, as heard alone and as mixed."""

    mix: Mix
    db: float


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

    ``unknown_places``: some place was not known, so fewer harmonics voted. ``remarks``: codes among
    "imbalanced", "twin settings", "fewer harmonics", "one source not heard alone".
    """

    table: Array
    imbalance_db: tuple[Imbalance, ...]
    unknown_places: bool
    remarks: tuple[str, ...]
    profiles: tuple[ProfileShape, ...]


def profile_of(plucks: Sequence[ProfilePluck], *, count: int) -> ProfileResult:
    """Weigh all settings of several sources; ``count``: how many signs there are."""
    job = grouped(plucks)
    patterns = sign_patterns(count)
    scores = np.zeros(len(patterns))
    imbalances: list[Imbalance] = []
    remarks: dict[str, None] = {}
    shapes: list[ProfileShape] = []
    unknown = False
    for key in job.settings():
        if len(key.sources) == 1:
            continue
        notes, groups = _notes(job, key)
        if not notes:
            remarks["one source not heard alone"] = None
            continue
        mix = notes[0].mix
        here = not _places_known(mix)
        unknown = unknown or here
        if here:
            remarks["fewer harmonics"] = None
        imbalance = _imbalance_db(notes)
        imbalances.append(Imbalance(mix, imbalance))
        if imbalance > TRUST_DB[1]:
            remarks["imbalanced"] = None
        relative = np.stack([_relative(mix, signs) for signs in patterns])
        each, at = np.unique(relative, axis=0, return_inverse=True)
        shapes += [_shape(note, group) for note, group in zip(notes, groups, strict=True)]
        if len(each) == 1:
            continue
        told, twin = _told(likelihoods(notes, each))
        if twin:
            remarks["twin settings"] = None
            continue
        trust = float(np.interp(imbalance, TRUST_DB, TRUST))
        fewest = min(note.fewest for note in notes)
        most = MOST_OF_FEW[fewest - 1] if fewest <= len(MOST_OF_FEW) else MOST
        told = np.maximum(trust * (told - told.max()), -most)
        scores += told[at.reshape(-1)]
    return ProfileResult(table_of(scores, count), tuple(imbalances), unknown, tuple(remarks), tuple(shapes))


def _told(found: Likelihoods) -> tuple[Array, bool]:
    """Log likelihoods of the patterns if the selector may not have been moved, and whether it was not."""
    again = float(scipy.special.logsumexp(found.twins) - np.log(len(found.twins)))
    told = np.logaddexp(found.patterns + np.log1p(-NOT_MOVED), again + np.log(NOT_MOVED))
    return told, again > float(scipy.special.logsumexp(found.patterns) - np.log(len(found.patterns)))


def _relative(mix: Mix, signs: Array) -> Array:
    own = signs_in(mix, signs)
    return np.asarray(own * own[0])


def _places_known(mix: Mix) -> bool:
    return all(_place_known(source) for source in mix.sources)


def _place_known(source: Source) -> bool:
    return source.place.centre_mm is not None and source.place.length_mm is not None


def _notes(job: Grouped, key: SettingKey) -> tuple[list[Note], list[Group]]:
    """The notes on which a setting and all its sources alone were heard, and the setting's groups."""
    notes, groups = [], []
    for number in job.notes(key):
        together = job.groups[key, number]
        alone = [job.groups.get((alone_key(s), number)) for s in together.mix.sources]
        rows = [group for group in [*alone, together] if group is not None]
        if len(rows) <= len(together.mix.sources):
            continue
        most = KNOWN_HARMONICS if _places_known(together.mix) else UNKNOWN_HARMONICS
        used = np.flatnonzero(np.all([g.usable for g in rows], axis=0)[:most])
        if len(used) < FEWEST_HARMONICS:
            continue
        pick = np.ix_(used, used)
        notes.append(
            Note(
                np.stack([g.mean_db[used] for g in rows]),
                np.array(
                    [(job.scatter[pick] + HOLE_DB**2 * np.diag(used >= HOLE_FROM)) / g.count for g in rows]
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


def _imbalance_db(notes: Sequence[Note]) -> float:
    """Spread of the sources' levels, as heard alone, over the harmonics that vote, and as weighted."""
    weight = 20 * np.log10(weights_of(notes[0].mix))
    level = np.mean([note.levels_db[:-1].mean(axis=1) for note in notes], axis=0) + weight
    return float(level.max() - level.min())


def _shape(note: Note, group: Group) -> ProfileShape:
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
