"""Likelihood of harmonic profiles under each pattern of signs.

Task: levels of K sources alone and of all together, on one note or more, against a model of the string.
Shapes: samples of the latent values (S), sources (K), harmonics (H), patterns (P, K) of +1 and -1. Units: dB,
natural logarithms. Sign: turning all of a pattern over changes nothing. Sources: T4, S3, S4, C1, C3.

In dB, for a note: string and harmonic (free) + level and tilt of the takes + slope of the setting + log|G| +
error; G is the place factor g_k of a source alone, or the sum of w_k s_k g_k. An error of g_k (height over
the poles, a node a little elsewhere) goes into the source alone and into the sum alike, to first order. All
that is linear is one covariance; places, strengths and weights are averaged over quasi-random samples.
Multivariate t with 6 degrees of freedom.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.model.calibration import LEVELS_FREEDOM as FREEDOM
from dsp.model.quasi_random import sobol_points
from dsp.model.settings import (
    NODE_FLOOR,
    WEIGHT_DB,
    Mix,
    mixed_shares,
    source_factors,
    spread_weights,
    weights_of,
)

Array = NDArray[np.float64]

NONLINEAR_DB = -18.0
"""A string near the poles makes harmonics of its own, so far below the strongest: the field is not even."""
MOST_NODE = 1.0
NODE_DB = 4.0
"""Scatter of a level that is all floor."""
STRENGTH_RANGE_DB = 8.0
"""The strength of one source against the first is looked for so far either side of what the levels alone say:
a range about a measurement, so wider than `dsp.model.settings.STRENGTH_DB`, which is about none."""
USUAL_HENRY = 2.5
"""Inductance of one coil (sources C1: 1 to 10 H a pickup)."""
USUAL_KOHM = 7.0
STRING_PRIOR_DB = 25.0
INCOHERENT_AMPLITUDE = 0.2
"""Part of a source that no other can cancel: sideways motion, another phase through its own coil."""
SOURCE_DB = 1.2
"""What a source gives of a harmonic, against the model."""
STRING_DB = 2.0
"""What a source gives of one string against the next: heights of poles."""
MODEL_DB = 2.0
"""What neither string nor place explains of a level."""
SETTING_DB = 1.0
"""Between two settings a person plucks a little harder or softer throughout."""
SLOPE_DB = 2.0
LIKELIHOOD_POWER = 0.8
"""Likelihoods are flattened to this power: errors of neighbouring harmonics hang together."""
SAMPLES_LOG2 = 9
DB_PER_NEPER = 20 / np.log(10)


@dataclass(frozen=True, eq=False)
class NoteLevels:
    """Mean levels of one note: ``levels_db`` (K + 1, H), the sources alone and last the sum.

    ``noise`` (K + 1, H, H): covariance of each row's mean; ``harmonics`` (H,) numbers; ``mix``: with
    the places under this note's sounding length; ``fret`` for the sources whose place is not known;
    ``fewest``: plucks of the row that has fewest.
    """

    levels_db: Array
    noise: Array
    harmonics: Array
    f0_hz: float
    mix: Mix
    fret: int
    fewest: int


@dataclass(frozen=True, eq=False)
class PatternLikelihoods:
    """Log likelihoods of all rows: ``patterns`` (P,); ``twins`` (T,), if two settings or all were one.

    A twin is a selector that was not moved: the sum is one source again, or a source alone is another
    again (whatever the signs), or all rows are one.
    """

    patterns: Array
    twins: Array


@dataclass(frozen=True, eq=False)
class _LatentSamples:
    """Samples: places, 0 to 1, (S, K); strengths (S, notes, K) and weights (S, K) in dB off the usual."""

    place: Array
    strength_db: Array
    weight_db: Array


def pattern_likelihoods(notes: list[NoteLevels], patterns: Array) -> PatternLikelihoods:
    """Log likelihoods of the notes of one setting of K sources."""
    count = len(notes[0].mix.sources)
    unknowns = _latent_samples(count, notes=len(notes))
    factors = [_factors(note, unknowns) for note in notes]
    strength = _strengths(notes, factors, unknowns)
    size = np.log(len(strength))
    models = [
        _NoteModel(note, factor, strength[:, i], _shares(note, unknowns.weight_db))
        for i, (note, factor) in enumerate(zip(notes, factors, strict=True))
    ]

    def averaged(rows: _Rows) -> float:
        return float(
            scipy.special.logsumexp(LIKELIHOOD_POWER * sum(model.of(rows) for model in models)) - size
        )

    alone = list(range(count))
    by_pattern = [averaged(_Rows(alone, signs)) for signs in patterns]
    twins = [averaged(_Rows(alone, None, k)) for k in alone]
    for j in alone:
        for k in range(j):
            again = [k if i == j else i for i in alone]
            signed = [averaged(_Rows(again, signs)) for signs in patterns]
            twins.append(float(scipy.special.logsumexp(signed) - np.log(len(signed))))
    twins.append(averaged(_Rows([0] * count, None, 0)))
    return PatternLikelihoods(np.array(by_pattern), np.array(twins))


@dataclass(frozen=True, eq=False)
class _Rows:
    """The source that each row alone holds, and the signs of the sum, or else the source it repeats."""

    alone: list[int]
    signs: Array | None
    repeated: int = 0


def predicted_db(note: NoteLevels, patterns: Array) -> Array:
    """Level of the sum as the levels alone and the signs of the places predict it, (P, H)."""
    count = len(note.mix.sources)
    middle = np.zeros((1, count))
    factor = _factors(note, _LatentSamples(middle + 0.5, middle, middle))[0]
    size = 10 ** (note.levels_db[:count] / 20) * np.sign(factor) * _shares(note, middle)[0]
    total = np.abs(patterns @ size)
    softened = np.hypot(total, NODE_FLOOR * np.abs(size).max(axis=0))
    return np.asarray(20 * np.log10(softened))


class _NoteModel:
    """One note under all samples: means and covariances of its rows."""

    def __init__(self, note: NoteLevels, factor: Array, strength: Array, weights: Array) -> None:
        self.note = note
        self.count = factor.shape[1]
        self.amplitude = factor * strength[:, :, np.newaxis]
        self.node = _node_floor(note, factor, strength) * strength[:, :, np.newaxis]
        self.weights = weights
        self.string_db = note.levels_db[: self.count].mean(axis=0)
        h = len(note.harmonics)
        octaves = np.log2(note.harmonics)
        self.common = STRING_PRIOR_DB**2 * np.eye(h)
        self.slope = SLOPE_DB**2 * np.outer(octaves - octaves.mean(), octaves - octaves.mean())

    def of(self, rows: _Rows) -> Array:
        """Log likelihood (S,), multivariate t."""
        each = np.eye(self.count)[:, :, np.newaxis]
        held = [np.broadcast_to(each[k], self.weights.shape) for k in rows.alone]
        last = each[rows.repeated] if rows.signs is None else rows.signs[:, np.newaxis] * self.weights
        mix = np.stack([*held, np.broadcast_to(last, self.weights.shape)], axis=1)
        parts = mix * self.amplitude[:, np.newaxis]
        nodal = mix * self.node[:, np.newaxis]
        total = parts.sum(axis=2)
        floor = (np.square(nodal) + np.square(INCOHERENT_AMPLITUDE * parts)).sum(axis=2)
        power = np.square(total) + floor
        slant = (total / power)[:, :, np.newaxis]
        cov = self._covariance(
            parts * slant, DB_PER_NEPER * nodal * slant, np.square(NODE_DB * floor / power)
        )
        off = self.note.levels_db - 10 * np.log10(power) - self.string_db
        return _log_t(off.reshape(len(off), -1), cov)

    def _covariance(self, by_gain: Array, by_node: Array, floor: Array) -> Array:
        s, r, _, h = by_gain.shape
        each = SOURCE_DB**2 * np.einsum("srkh,sqkh->srqh", by_gain, by_gain)
        each += np.einsum("srkh,sqkh->srqh", by_node, by_node)
        cov = np.zeros((s, r, h, r, h))
        number = np.arange(h)
        cov[:, :, number, :, number] += np.moveaxis(each, 3, 0)
        for i in range(r):
            cov[:, i, number, i, number] += floor[:, i] + MODEL_DB**2
            cov[:, i, :, i, :] += self.note.noise[i] + SETTING_DB**2 + self.slope
            for q in range(r):
                cov[:, i, :, q, :] += self.common
        return np.asarray(cov.reshape(s, r * h, r * h))


def _node_floor(note: NoteLevels, factor: Array, strength: Array) -> Array:
    """What a source gives of each harmonic where its place gives none, (S, K, H), of its antinode."""
    level = 10 ** (note.levels_db[: factor.shape[1]] / 20) / strength[:, :, np.newaxis]
    string = np.sqrt(np.square(level).sum(axis=1) / (np.square(factor) + NODE_FLOOR**2).sum(axis=1))
    curved = 10 ** (NONLINEAR_DB / 20) * level.max(axis=2)[:, :, np.newaxis] / string[:, np.newaxis]
    return np.asarray(np.minimum(np.hypot(NODE_FLOOR, curved), MOST_NODE))


def _log_t(off: Array, cov: Array) -> Array:
    """Log density of a multivariate t, (S,), without what depends on its size alone."""
    size = off.shape[1]
    lower = np.linalg.cholesky(cov)
    solved = np.linalg.solve(lower, off[:, :, np.newaxis])[:, :, 0]
    half_det = np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1)
    distance = np.square(solved).sum(axis=1)
    constant = (
        scipy.special.gammaln((FREEDOM + size) / 2)
        - scipy.special.gammaln(FREEDOM / 2)
        - size / 2 * np.log(FREEDOM * np.pi)
    )
    return np.asarray(constant - half_det - (FREEDOM + size) / 2 * np.log1p(distance / FREEDOM))


def _latent_samples(count: int, *, notes: int) -> _LatentSamples:
    """Quasi-random samples, the same every time."""
    free = count - 1
    size = SAMPLES_LOG2 + (1 if count > 2 else 0)
    points = sobol_points(2 * count + free * (notes + 1), log2_points=size) + 0.5 ** (size + 1)
    place, weight, shared, own = np.split(points, [count, 2 * count, 2 * count + free], axis=1)
    each = STRING_DB * scipy.special.ndtri(own).reshape(len(points), notes, free)
    strength = STRENGTH_RANGE_DB * (2 * shared - 1)[:, np.newaxis] + each
    first = np.zeros((len(points), notes, 1))
    return _LatentSamples(
        place, np.concatenate([first, strength], axis=2), WEIGHT_DB * scipy.special.ndtri(weight)
    )


def _factors(note: NoteLevels, unknowns: _LatentSamples) -> Array:
    """Place factor of every source at every harmonic, (S, K, H), signed."""
    return np.stack(
        [
            source_factors(source, note.harmonics, unknowns.place[:, k], fret=note.fret)
            for k, source in enumerate(note.mix.sources)
        ],
        axis=1,
    )


def _strengths(notes: list[NoteLevels], factors: list[Array], unknowns: _LatentSamples) -> Array:
    """Strength of each source against the first, (S, K): as the levels alone say, and around it."""
    estimates = []
    for note, factor in zip(notes, factors, strict=True):
        given = 10 * np.log10(np.square(factor) + NODE_FLOOR**2)
        alone = note.levels_db[: factor.shape[1]] - given
        sure = np.square(factor) / (np.square(factor) + NODE_FLOOR**2)
        sure = sure * sure[:, :1] / (1 + np.square(note.harmonics / 4))
        estimates.append(((alone - alone[:, :1]) * sure).sum(axis=2) / sure.sum(axis=2))
    estimate = np.mean(estimates, axis=0)[:, np.newaxis]
    return np.asarray(10 ** ((estimate + unknowns.strength_db) / 20))


def shares_of(mix: Mix, *, hz: Array) -> Array:
    """Share of each source in the sum at each of ``hz``, (K, H): all of it in series.

    In parallel by the admittance of resistance and inductance (sources C1, C3); the inductance is a
    usual one.
    """
    if not mix.plain:
        ohms = np.array([s.kohm or USUAL_KOHM for s in mix.sources])[:, np.newaxis]
        coils = np.array([USUAL_HENRY * s.coils for s in mix.sources])
        return mixed_shares(mix, np.hypot(ohms, 2e-3 * np.pi * np.outer(coils, hz)))
    resistive = weights_of(mix)
    if mix.join == "series":
        return np.ones((len(resistive), len(hz)))
    known = [s.kohm * w for s, w in zip(mix.sources, resistive, strict=True) if s.kohm]
    scale = np.mean(known) if known else USUAL_KOHM / len(resistive)
    kohm = scale / resistive
    henry = np.array([USUAL_HENRY * s.coils for s in mix.sources])
    admittance = 1 / np.hypot(kohm[:, np.newaxis], 2e-3 * np.pi * np.outer(henry, hz))
    return np.asarray(admittance / admittance.sum(axis=0))


def _shares(note: NoteLevels, off_db: Array) -> Array:
    """``shares_of`` a note's mix, (S, K, H), each ``off_db`` (S, K) off what is usual."""
    usual = shares_of(note.mix, hz=note.f0_hz * note.harmonics)
    return spread_weights(note.mix, usual, off_db[:, :, np.newaxis])
