"""From what the partials did to a table over the pickups' signs.

Task: for every pattern of signs of the sources, how well it explains which partials turned over and how
strong each setting was. Shapes: K settings, N partials; a table (2,) * count out. Units: mm, dB, natural
logarithms. Signs: as in dsp.mixes; a place's sign is that of sin(n pi x / L) (sources S3, S4).

What is only loosely known is drawn: places within their tolerance, how strong a pickup is against another,
how much of each comes through in a setting of several. One draw holds for all partials of the take.
A pickup that is heard alone in the take has its level measured and not drawn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from dsp.mixes import Mix, Source, harmonic_factors, sign_patterns, signs_in, table_of, weights_of
from dsp.places import TOLERANCE_MM, UNKNOWN_HARMONICS, harmonic_sign
from dsp.switched.jump import PartialWitness
from dsp.switched.levels import Levels

Array = NDArray[np.float64]

DRAWS = 256
UNKNOWN_SPAN = (0.04, 0.26)
"""Where no place is known, anywhere on this part of the string (dsp.places)."""
STRENGTH_DB = 5.0
"""How much stronger one pickup may be than another, one standard deviation (assumed)."""
SHARE_SPREAD = 0.35
UNMEASURED_SPREAD = 0.6
"""Spread of the logarithm of a source's weight in a setting, with its resistance known or not: on even
terms the share then mostly lies between 0.2 and 0.8."""
NODE_FLOOR = 0.08
"""At a node a pickup still hears so much: it is not a point."""
LEVEL_DB = 2.5
LEVEL_FREEDOM = 4.0
"""A predicted level is off by so much, with the tails of Student's t (assumed)."""
TRUST = 0.85
"""The partials of a take share their errors, so that their sum counts for less (fitted: of some 260
simulated takes that say more than 3 nats, four were wrong, by sideways motion)."""
USUAL_DB = 7.0
SIDEWAYS_DB = 20.0
SIDEWAYS = 0.043
"""Scatter of the difference in strength of two pickups, as a rule and where sideways motion rules at one of
them, and how often it does (assumed, after the simulated bench)."""
LEVEL_TRUST = 0.5
"""Levels of the partials of one take share their errors."""
MOST_NATS = 4.0
"""No single take may say more."""
LEAST_NATS = 2.0
"""Nor is it ever allowed less."""
LATE_S = 1.2
LATE_NATS = 1.7
"""Nats lost for each second after ``LATE_S`` (fitted: of 72 pairs at 1.4 to 1.9 s three were wrong)."""
PER_STEP_NATS = 4.0
SUREST = 0.999
"""No place is surer."""


@dataclass(frozen=True, eq=False)
class _Drawn:
    """Signed factor of each source, (draws, N) by source, and its weight in each setting, (draws,)."""

    factors: dict[Source, Array]
    weights: tuple[tuple[Array, ...], ...]


def sign_table(
    witnesses: Sequence[PartialWitness],
    levels: Levels,
    mixes: Sequence[Mix],
    *,
    count: int,
    since_s: Sequence[float],
) -> Array:
    """Log likelihoods over the signs of the sources, (2,) * count, the largest 0.

    ``since_s`` (K,): how long after the pluck each stretch begins.
    """
    numbers = np.array([w.n for w in witnesses])
    drawn = _draws(mixes, numbers)
    _measured_alone(drawn, levels, mixes)
    every = _every_pattern(len(mixes))
    told = np.stack([w.patterns(every) for w in witnesses])
    told = told - told.sum(axis=0).max() / len(witnesses)
    free = not any(mix.alone for mix in mixes)
    scores = []
    for signs in sign_patterns(count):
        sums, parts = _sums(drawn, mixes, signs, len(numbers))
        which = np.sum((sums < 0) * (2 ** np.arange(len(mixes)))[:, np.newaxis, np.newaxis], axis=0)
        nats = sum(told[i][:, which[:, i]] for i in range(len(numbers)))
        nats = np.logaddexp.reduce(nats, axis=0) + _level_nats(sums, parts, levels, mixes, free=free)
        scores.append(float(np.logaddexp.reduce(nats) - np.log(DRAWS)))
    every_sign = sign_patterns(count)
    best = every_sign[int(np.argmax(scores))]
    most = [_most_nats(best * signs, levels, mixes, numbers, since_s=since_s) for signs in every_sign]
    return table_of(np.maximum(TRUST * (np.array(scores) - max(scores)), -np.array(most)), count)


def step_ratios(witnesses: Sequence[PartialWitness], mixes: Sequence[Mix]) -> tuple[float, ...]:
    """For each step the log ratio "the sounds have the same sign : they are opposed", places allowed for."""
    every = _every_pattern(len(mixes))
    told = np.stack([w.patterns(every) for w in witnesses])
    out = []
    for k in range(len(mixes) - 1):
        alike = every[:, k] == every[:, k + 1]
        same = np.logaddexp.reduce(told[:, :, alike], axis=2)
        opposed = np.logaddexp.reduce(told[:, :, ~alike], axis=2)
        signs = np.array([step_sign(w.n, mixes[k], mixes[k + 1]) for w in witnesses])
        right = np.log(0.5 * (1 + signs[:, 0] * signs[:, 1]))[:, np.newaxis]
        wrong = np.log(0.5 * (1 - signs[:, 0] * signs[:, 1]))[:, np.newaxis]
        up = np.logaddexp(right + same, wrong + opposed).sum(axis=0)
        down = np.logaddexp(right + opposed, wrong + same).sum(axis=0)
        ratio = TRUST * float(np.logaddexp.reduce(up) - np.logaddexp.reduce(down))
        out.append(float(np.clip(ratio, -PER_STEP_NATS, PER_STEP_NATS)))
    return tuple(out)


def step_sign(n: int, before: Mix, after: Mix) -> tuple[int, float]:
    """How the places turn partial ``n`` from one setting to the next, and how surely (0: not known)."""
    sources = (*before.sources, *after.sources)
    if before.alone and after.alone:
        if _bare(sources[0]) == _bare(sources[1]):
            return 1, SUREST
        sign = harmonic_sign(n, sources[0].place, sources[1].place)
        return sign.sign, min(sign.certainty, SUREST)
    each = [harmonic_sign(n, sources[0].place, s.place) for s in sources[1:]]
    alike = all(one.sign > 0 for one in each)
    return 1, min(SUREST, *(one.certainty for one in each)) if alike else 0.0


def _most_nats(
    turned: Array,
    levels: Levels,
    mixes: Sequence[Mix],
    numbers: NDArray[np.int64],
    *,
    since_s: Sequence[float],
) -> float:
    """The most that the take may say against a pattern; ``turned`` is its product with the best one.

    Less where the two pickups whose relation it turns are not as strong as their places would have it: a
    string that moves sideways past one, off the centre of its poles, is heard too weakly there and with
    a sign of its own. Less late in the ringing, too: the motion towards the body dies first.
    """
    alone = [(k, mix.sources[0]) for k, mix in enumerate(mixes) if mix.alone]
    pairs = [
        ((j, a), (k, b)) for (j, a), (k, b) in combinations(alone, 2) if turned[a.sign] != turned[b.sign]
    ]
    nats = [
        max(LEAST_NATS, _trusted(one, two, levels, numbers) - _late(max(since_s[one[0]], since_s[two[0]])))
        for one, two in pairs
    ]
    return max(nats, default=MOST_NATS)


def _late(since_s: float) -> float:
    """How much less a step may say that comes so long after the pluck, in nats."""
    return LATE_NATS * max(0.0, since_s - LATE_S)


def _trusted(
    one: tuple[int, Source], two: tuple[int, Source], levels: Levels, numbers: NDArray[np.int64]
) -> float:
    """How far the relation of two pickups heard alone may be trusted, from how strong they are, in nats."""
    (j, a), (k, b) = one, two
    if not (a.place.centre_mm and a.place.length_mm and b.place.centre_mm and b.place.length_mm):
        return MOST_NATS
    first = [i for i, n in enumerate(numbers) if n <= UNKNOWN_HARMONICS]
    at_a = np.abs(np.sin(np.pi * numbers[first] * a.place.centre_mm / a.place.length_mm)) + NODE_FLOOR
    at_b = np.abs(np.sin(np.pi * numbers[first] * b.place.centre_mm / b.place.length_mm)) + NODE_FLOOR
    heard = np.maximum(levels.amplitude[first], 1e-12)
    off = float(np.mean(20 * np.log10(heard[:, k] * at_a / (heard[:, j] * at_b))))
    usual = -0.5 * (off / USUAL_DB) ** 2 - math.log(USUAL_DB)
    aslant = -0.5 * (off / SIDEWAYS_DB) ** 2 - math.log(SIDEWAYS_DB) + math.log(SIDEWAYS)
    return min(MOST_NATS, max(LEAST_NATS, usual - aslant))


def _every_pattern(settings: int) -> Array:
    """All sign patterns of the settings, (2 ** K, K); bit k of the row number is set where k is -1."""
    return np.asarray(1.0 - 2.0 * ((np.arange(2**settings)[:, np.newaxis] >> np.arange(settings)) & 1))


def _draws(mixes: Sequence[Mix], numbers: NDArray[np.int64]) -> _Drawn:
    """Places, strengths and weights, always the same ones."""
    rng = np.random.default_rng(1)
    factors: dict[Source, Array] = {}
    for source in dict.fromkeys(_bare(s) for mix in mixes for s in mix.sources):
        strength = 10 ** (STRENGTH_DB * rng.standard_normal(DRAWS) / 20)
        jitter, other = rng.standard_normal(DRAWS), rng.uniform(*UNKNOWN_SPAN, DRAWS)
        turned = rng.choice([-1.0, 1.0], (DRAWS, len(numbers)))
        place, length = source.place.centre_mm, source.place.length_mm
        known = place is not None and length is not None
        at = (place + TOLERANCE_MM * jitter) / length if place is not None and length is not None else other
        shape = harmonic_factors(numbers, fractions=at, coils=source.coils, length_mm=length)
        if not known:
            shape = np.where(numbers <= UNKNOWN_HARMONICS, np.abs(shape), np.abs(shape) * turned)
        factors[source] = strength[:, np.newaxis] * np.copysign(np.abs(shape) + NODE_FLOOR, shape)
    weights = []
    for mix in mixes:
        measured = all(s.kohm for s in mix.sources)
        spread = SHARE_SPREAD if measured or mix.join == "series" else UNMEASURED_SPREAD
        each = weights_of(mix) * np.exp(spread * rng.standard_normal((DRAWS, len(mix.sources))))
        if mix.join == "parallel":
            each = each / each.sum(axis=1, keepdims=True)
        weights.append(tuple(each.T))
    return _Drawn(factors, tuple(weights))


def _bare(source: Source) -> Source:
    """The source by itself, whichever setting it is in."""
    return Source(source.sign, source.place, source.coils)


def _measured_alone(drawn: _Drawn, levels: Levels, mixes: Sequence[Mix]) -> None:
    """Give sources that are heard alone their measured magnitudes, and bring the others to that scale."""
    alone = {_bare(m.sources[0]): k for k, m in enumerate(mixes) if m.alone}
    if not alone:
        return
    reference = next(iter(alone))
    heard = np.maximum(levels.amplitude[:, alone[reference]], 1e-12)
    scale = heard / np.abs(drawn.factors[reference])
    for source, factor in drawn.factors.items():
        if source in alone:
            magnitude = np.maximum(levels.amplitude[:, alone[source]], 1e-12)
            drawn.factors[source] = np.copysign(np.broadcast_to(magnitude, factor.shape), factor)
        else:
            drawn.factors[source] = factor * scale


def _sums(drawn: _Drawn, mixes: Sequence[Mix], signs: Array, partials: int) -> tuple[Array, Array]:
    """Signed sum of each setting and the sum of its magnitudes, (K, draws, N) each."""
    total = np.zeros((len(mixes), DRAWS, partials))
    loudest = np.zeros(total.shape)
    for k, mix in enumerate(mixes):
        for source, sign, weight in zip(mix.sources, signs_in(mix, signs), drawn.weights[k], strict=True):
            part = weight[:, np.newaxis] * drawn.factors[_bare(source)]
            total[k] += sign * part
            loudest[k] += np.abs(part)
    return total, loudest


def _level_nats(sums: Array, parts: Array, levels: Levels, mixes: Sequence[Mix], *, free: bool) -> Array:
    """Log likelihood of the levels of the settings of several sources, (draws,)."""
    nats = np.zeros(sums.shape[1])
    rows = range(len(mixes)) if free else [k for k, mix in enumerate(mixes) if not mix.alone]
    if not len(rows):
        return nats
    predicted = 10 * np.log10(np.square(sums) + np.square(NODE_FLOOR * parts) + 1e-30)
    heard = 20 * np.log10(np.maximum(levels.amplitude, 1e-12)).T[:, np.newaxis, :]
    scatter = levels.scatter_db.T[:, np.newaxis, :]
    known = np.isfinite(scatter) & np.isfinite(levels.scatter_db).all(axis=1)
    off = np.where(known, heard - predicted, 0.0)
    if free:
        off = off - off.mean(axis=0, keepdims=True)
    width = np.sqrt(LEVEL_DB**2 + np.square(np.where(known, scatter, 0.0)))
    for k in rows:
        tail = -0.5 * (LEVEL_FREEDOM + 1) * np.log1p(np.square(off[k] / width[k]) / LEVEL_FREEDOM)
        nats += LEVEL_TRUST * np.sum(np.where(known[k], tail, 0.0), axis=1)
    return nats
