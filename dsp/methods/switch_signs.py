"""Polarity of the pickups from what the partials do at each step of the selector.

Task: (1) for each partial, the likelihood of every pattern of signs of the K settings; (2) levels of the
partials on each setting, the string's decay taken out; (3) partials that say nothing: in a null of their
beating, or under a mains line; (4) a table over the signs of the sources. Shapes: envelopes (partials, cells)
and K stretches in; agreement (assumptions, K, K), levels (partials, K), table (2,) * count out. Units: Hz,
seconds, 1/s, mm, dB, natural logarithms.
Sign: a positive ``agreement[i, j]`` says that settings i and j have the same sign; the sign of a place is
that of sin(n pi x / L) (sources S3, S4).

(1) A partial is a narrow Gaussian line that knows nothing of the selector; each setting multiplies it by a
real number, part of each setting's sound is its own (sideways motion, the circuit), mains lines and noise
come on top. The likelihood of a pattern e is then exp(sum over i, j of e_i e_j T_ij), with T from one
triangle of the covariance. (3) Where two polarisations cancel, the phase of what is left turns by half by
itself. (4) Places, strengths and weights are sampled within what is known of them, one sample for all
partials of the take; a pickup that sounds alone in the take has its measured level.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.methods.switch_instants import Envelopes, Piece, extrapolated
from dsp.model.settings import (
    NODE_FLOOR,
    STRENGTH_DB,
    UNKNOWN_HARMONICS,
    WEIGHT_DB,
    Mix,
    Source,
    harmonic_sign,
    sign_patterns,
    signs_in,
    source_factors,
    spread_weights,
    table_of,
    weights_of,
    with_floor,
)
from dsp.signal.codes import Fault
from dsp.signal.samples import ANALYSIS_RATE

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

WIDTHS_HZ = (0.05, 0.15, 0.4, 1.0, 2.0)
"""Spectral width of the fundamental: beating and glide; each alike likely beforehand. That of partial n is
n times as large, and one width holds for all partials of a take."""
COHERENCE = (0.97, 0.85, 0.6, 0.0)
"""Part of a setting's sound (amplitude) that it shares with the others; the rest are other polarisations,
which pickups off the string's centre hear with signs of their own. One figure holds for a take."""
OUTLIER_SHARE = 0.04
"""How often a partial shows a sign that is not the pickups' (assumed)."""
LEAKAGE_DB = -26.0
"""Power against the strongest partial of the same setting that comes by ways of its own: pickups bend the
wave, and cells leak. A partial that is this weak says little."""
NEAR_S = 0.30
"""Cells further than this from a step are left out: over longer spans a partial's phase can no longer be
predicted."""
CANCELLED_AMPLITUDE = 0.6
"""A sum whose partial is weaker than this part of the strongest single pickup's has begun to cancel."""
NEIGHBOURS_ALIKE = 1.33
"""Cells overlap by half, so that noise counts for so much more than in cells apart."""


@dataclass(frozen=True, eq=False)
class PartialEvidence:
    """What partial ``n`` says under each assumption of ``WIDTHS_HZ`` and ``COHERENCE``, M in all.

    The log likelihood of signs e (K,) is log_weights + e' agreement e; log_weights (M,), agreement (M, K, K).
    """

    n: int
    log_weights: Array
    agreement: Array

    def patterns(self, signs: Array) -> Array:
        """Log likelihood of each pattern, signs (patterns, K) of -1, +1; (M, patterns)."""
        quadratic = np.einsum("pi,mij,pj->mp", signs, self.agreement, signs)
        log_likelihood = self.log_weights[:, np.newaxis] + quadratic
        best = log_likelihood.max(axis=1, keepdims=True)
        return np.asarray(
            best + np.logaddexp(np.log1p(-OUTLIER_SHARE) + log_likelihood - best, np.log(OUTLIER_SHARE))
        )


def cells_near(envelopes: Envelopes, stretches: Sequence[Piece]) -> tuple[Piece, ...]:
    """The cells of each stretch that are compared: all but those of the first and last far from a step."""
    reach = int(np.ceil(NEAR_S / (envelopes.seconds[1] - envelopes.seconds[0])))
    out = []
    for k, (a, b) in enumerate(stretches):
        first = k == 0
        last = k == len(stretches) - 1
        out.append((max(a, b - reach) if first else a, min(b, a + reach) if last else b))
    return tuple(out)


def partial_evidence(
    envelopes: Envelopes,
    row: int,
    stretches: Sequence[Piece],
    *,
    levels: Array,
    strongest: Array,
    decay: float,
    sums: NDArray[np.bool_],
) -> PartialEvidence:
    """What partial ``row`` says; ``levels`` (K,) are its amplitudes on each setting at one instant.

    ``decay`` (1/s) is taken out before the stretches are compared. ``sums`` (K,) marks settings of several
    pickups: where these cancel, what is left is turned by some other angle than none or half, for the coils
    differ (sources C3 with inductances), so the phase of a sum that has dipped is not used here; its
    level still is.
    """
    near = cells_near(envelopes, stretches)
    dipped = sums & (levels < CANCELLED_AMPLITUDE * float(np.max(levels[~sums], initial=0.0)))
    kept = [(k, a, b) for k, (a, b) in enumerate(near) if not dipped[k]]
    begins_s = envelopes.seconds[kept[0][1]]
    kept.sort(key=lambda one: one[1] - one[2])
    owner = np.concatenate([np.full(b - a, k) for k, a, b in kept])
    cells = np.concatenate([np.arange(a, b) for _, a, b in kept])
    t = envelopes.seconds[cells]
    rise = np.exp(decay * (t - begins_s))
    z = envelopes.values[row, cells] * rise
    gain = levels[owner]
    byway = np.square(strongest[owner]) * 10 ** (LEAKAGE_DB / 10)
    same = owner[:, np.newaxis] == owner[np.newaxis, :]
    noise = NEIGHBOURS_ALIKE * float(envelopes.noise[row]) + 1e-4 * float(np.mean(np.square(gain)))
    hum = hum_of(envelopes, row, t, owner=owner, rise=rise)
    by_itself = noise * np.square(rise) + hum.by_itself
    lag = np.square(2 * np.pi * np.subtract.outer(t, t))
    scale = float(np.log(np.mean(np.square(np.abs(z))) + 1e-30))
    line = np.outer(gain, gain)
    longest = kept[0][2] - kept[0][1]
    inside = np.where(same, line + byway[:, np.newaxis], 0.0)
    outside = np.where(same, 0.0, line)[longest:]
    columns = _real_columns(by_owner(z, owner, count=len(near)), hum.tones)
    log_weights, products = [], []
    for width in envelopes.numbers[row] * np.array(WIDTHS_HZ):
        narrow = np.exp(-0.5 * width**2 * lag)
        within = inside * narrow
        within.flat[:: len(z) + 1] += by_itself
        for one in _by_coherence(within, outside * narrow[longest:], columns, first=longest):
            log_weights.append(one[0])
            products.append(one[1])
    log_likelihood = _of_settings(np.array(log_weights), np.array(products), count=len(near))
    return PartialEvidence(envelopes.numbers[row], log_likelihood[0] - len(z) * scale, log_likelihood[1])


def _by_coherence(within: Array, across: Array, columns: Array, *, first: int) -> list[tuple[float, Array]]:
    """`_whitened_products` for each of ``COHERENCE``.

    ``within`` (cells, cells): the covariance inside the settings; ``across`` (the cells of all settings but
    the first, cells): that between settings at full coherence. The ``first`` cells, those of one setting,
    have the same covariance whatever the coherence, and are eliminated once.
    """
    linked = np.concatenate([columns[:first], across[:, :first].T], axis=1)
    log_weight, eliminated = _whitened_products(within[:first, :first], linked)
    if first == len(within):
        return [(log_weight, eliminated)] * len(COHERENCE)
    wide = columns.shape[1]
    found = []
    for share in np.square(COHERENCE):
        left = within[first:, first:] + share * across[:, first:] - share**2 * eliminated[wide:, wide:]
        rest = _whitened_products(left, columns[first:] - share * eliminated[wide:, :wide])
        found.append((log_weight + rest[0], eliminated[:wide, :wide] + rest[1]))
    return found


@dataclass(frozen=True, eq=False)
class HumCovariance:
    """The covariance of hum under a partial, whose phase is another one on each setting.

    It is the products of each of ``tones`` (tones, cells) with its conjugate, and ``by_itself`` (cells,) on
    the diagonal for settings of a single cell.
    """

    tones: ComplexArray
    by_itself: Array


def hum_of(
    envelopes: Envelopes, row: int, t: Array, *, owner: NDArray[np.int64], rise: Array
) -> HumCovariance:
    """Hum under partial ``row`` at the times ``t``, of which each belongs to a setting; ``rise`` scales."""
    cells = np.bincount(owner)
    alone = cells[owner] == 1
    power = sum(line.power for line in envelopes.hum[row])
    tones = [
        np.where(owner == unit, np.sqrt(line.power) * rise * np.exp(2j * np.pi * line.offset_hz * t), 0)
        for line in envelopes.hum[row]
        for unit in np.flatnonzero(cells > 1)
    ]
    return HumCovariance(
        np.array(tones, dtype=np.complex128).reshape(-1, len(t)),
        np.where(alone, power * np.square(rise), 0.0),
    )


def by_owner(z: ComplexArray, owner: NDArray[np.int64], *, count: int) -> ComplexArray:
    """``z`` (cells,) of each setting by itself, (count, cells), 0 elsewhere."""
    parts = np.zeros((count, len(z)), dtype=np.complex128)
    parts[owner, np.arange(len(z))] = z
    return parts


def gaussian_terms(parts: ComplexArray, covariance: Array, tones: ComplexArray) -> tuple[float, Array]:
    """The two terms of a complex Gaussian log likelihood, by settings; ``parts`` (count, cells).

    Minus the log determinant of the covariance C, and -z* C^-1 z split by pairs of settings, (count, count).
    C is the real ``covariance`` and the products of ``tones`` (tones, cells) with their conjugates.
    """
    log_weight, products = _whitened_products(covariance, _real_columns(parts, tones))
    log_weights, fits = _of_settings(np.array([log_weight]), products[np.newaxis], count=len(parts))
    return float(log_weights[0]), fits[0]


def _real_columns(parts: ComplexArray, tones: ComplexArray) -> Array:
    """Settings and tones, real parts and then imaginary ones, (cells, columns)."""
    both = np.concatenate([parts, tones])
    return np.concatenate([both.real, both.imag]).T


def _whitened_products(covariance: Array, columns: Array) -> tuple[float, Array]:
    """Minus the log determinant of a real C, twice since z is complex, and columns' C^-1 columns."""
    lower, fails = scipy.linalg.lapack.dpotrf(covariance.T, lower=True, clean=False, overwrite_a=True)
    if fails:
        raise np.linalg.LinAlgError("a covariance is not positive definite")
    white, _ = scipy.linalg.lapack.dtrtrs(lower, columns, lower=True)
    return -2.0 * float(np.sum(np.log(np.diagonal(lower)))), np.asarray(white.T @ white)


def _of_settings(log_weights: Array, products: Array, *, count: int) -> tuple[Array, Array]:
    """The terms (assumptions,) and (assumptions, count, count) from those of real and imaginary columns.

    Tones are taken in here (Woodbury), so that one real triangle does for all columns.
    """
    wide = products.shape[1] // 2
    each = products.reshape(-1, 2, wide, 2, wide)
    real, turned = each[:, 0, :, 0] + each[:, 1, :, 1], each[:, 0, :, 1] - each[:, 1, :, 0]
    fits = -real[:, :count, :count]
    if wide == count:
        return log_weights, fits
    among = (real + 1j * turned)[:, count:]
    within = np.linalg.cholesky(np.eye(wide - count) + among[:, :, count:])
    explained = np.linalg.solve(within, among[:, :, :count])
    fits = fits + np.real(np.conj(explained).transpose(0, 2, 1) @ explained)
    pivots = np.real(np.diagonal(within, axis1=1, axis2=2))
    return log_weights - 2.0 * np.sum(np.log(pivots), axis=1), fits


LEAST_HEARD = 1.5
"""Power over its own variance at which a partial's level is measured at all."""
FASTEST_DECAY = 12.0
LEAST_CELLS = 6
TRIED_S = 0.5
MOST_DB = 12.0


@dataclass(frozen=True, eq=False)
class Levels:
    """Amplitudes (partials, K) referred to the first step, and their scatter in dB (NaN: not measured)."""

    amplitude: Array
    scatter_db: Array


def levels_of(envelopes: Envelopes, stretches: Sequence[Piece]) -> Levels:
    """Level of every partial on every stretch, from one step to the next."""
    amplitude = np.zeros((len(envelopes.numbers), len(stretches)))
    variance = np.zeros(amplitude.shape)
    lost = np.zeros(amplitude.shape, dtype=bool)
    for k, (left, right) in enumerate(pairwise(stretches)):
        middle = 0.5 * (envelopes.seconds[left[1] - 1] + envelopes.seconds[right[0]])
        before, before_var = extrapolated(envelopes, left, at_s=middle, last=True)
        after, after_var = extrapolated(envelopes, right, at_s=middle, last=False)
        if k == 0:
            amplitude[:, 0] = np.abs(before)
        ratio = np.maximum(np.abs(after), 1e-12) / np.maximum(np.abs(before), 1e-12)
        amplitude[:, k + 1] = amplitude[:, k] * np.clip(ratio, 1e-4, 1e4)
        here = before_var / np.maximum(np.square(np.abs(before)), 1e-24)
        there = after_var / np.maximum(np.square(np.abs(after)), 1e-24)
        variance[:, k + 1] = variance[:, k] + np.minimum(here, 1.0) + np.minimum(there, 1.0)
        lost[:, k] |= here > 1 / LEAST_HEARD
        lost[:, k + 1] |= there > 1 / LEAST_HEARD
    scatter = np.minimum(20 / np.log(10) * np.sqrt(0.5 * variance), MOST_DB)
    return Levels(amplitude, np.where(lost, np.nan, scatter))


def decays_of(envelopes: Envelopes, stretches: Sequence[Piece]) -> Array:
    """Decay of each partial, 1/s, (partials,): the common slope of its level within the stretches."""
    out = np.zeros(len(envelopes.numbers))
    for row in range(len(out)):
        above, below = 0.0, 0.0
        for a, b in stretches:
            count = min(b - a, round(TRIED_S * ANALYSIS_RATE / envelopes.reach))
            power = np.square(np.abs(envelopes.values[row, a : a + count]))
            t = envelopes.seconds[a : a + count]
            if count < LEAST_CELLS or np.mean(power) < 2 * envelopes.noise_with_hum[row]:
                continue
            t = t - np.mean(t)
            slope = np.log(power + 0.1 * np.mean(power))
            above += float(-0.5 * np.sum(t * slope))
            below += float(np.sum(t * t))
        out[row] = above / below if below > 0 else 0.0
    return np.asarray(np.clip(out, 0.0, FASTEST_DECAY))


EDGE_CELLS = 2
LOOK_S = 0.35
NULL_AMPLITUDE = 0.25
"""Amplitude at a step over what the partial has nearby: below it, on both sides, it is in a null."""
LEAST_POWER = 10.0**-2
"""Power against the strongest partial from which on a partial matters."""
LEAST_SNR = 4.0
NEAR_HZ = 4.5
"""Mains lines further off than this are told apart by their frequency within a stretch."""
HUM_MATTERS = 0.25
LOOKED_AT = 3
SHORTEST_CELLS = 6


def partials_in_null(envelopes: Envelopes, pieces: Sequence[Piece]) -> tuple[tuple[Fault, ...], Fault | None]:
    """(remarks on single partials, the fault where all that matter are in a null at one step)."""
    remarks: list[Fault] = []
    for left, right in pairwise(pieces):
        before, near_before = _edge(envelopes, left, last=True)
        after, near_after = _edge(envelopes, right, last=False)
        power = np.square(near_before) + np.square(near_after)
        audible = np.square(near_before) > LEAST_SNR * envelopes.noise_with_hum
        matters = audible & (power > LEAST_POWER * power.max())
        null = matters & (before < NULL_AMPLITUDE * near_before) & (after < NULL_AMPLITUDE * near_after)
        if matters.any() and (null == matters).all():
            at = 0.5 * (envelopes.seconds[left[1] - 1] + envelopes.seconds[right[0]])
            return (), Fault("beating null", detail=float(at))
        remarks += [Fault("beating null", detail=float(envelopes.numbers[i])) for i in np.flatnonzero(null)]
    return tuple(dict.fromkeys(remarks)), None


def partials_in_mains(envelopes: Envelopes, pieces: Sequence[Piece]) -> tuple[Fault, ...]:
    """Remarks on the first partials that a mains line drowns; ``detail`` is the partial's number."""
    out = []
    for row, n in enumerate(envelopes.numbers[:LOOKED_AT]):
        near = sum(line.power for line in envelopes.hum[row] if abs(line.offset_hz) < NEAR_HZ)
        weakest = min(float(np.mean(np.square(np.abs(envelopes.values[row, a:b])))) for a, b in pieces)
        if near > HUM_MATTERS * weakest:
            out.append(Fault("partials in mains", detail=float(n)))
    return tuple(out)


def _edge(envelopes: Envelopes, piece: Piece, *, last: bool) -> tuple[Array, Array]:
    """Amplitude of each partial at the edge of a piece, and the most it has near there."""
    look = round(LOOK_S * ANALYSIS_RATE / envelopes.reach)
    a, b = (max(piece[0], piece[1] - look), piece[1]) if last else (piece[0], min(piece[1], piece[0] + look))
    near = np.abs(envelopes.values[:, a:b])
    edge = near[:, -EDGE_CELLS:] if last else near[:, :EDGE_CELLS]
    if b - a < SHORTEST_CELLS:
        return np.ones(len(envelopes.numbers)), np.ones(len(envelopes.numbers))
    return edge.mean(axis=1), np.quantile(near, 0.9, axis=1)


SAMPLES = 256
UNMEASURED_WEIGHT_DB = 5.2
"""Standard deviation of a weight where some resistance is not known: on even terms the share then mostly lies
between 0.2 and 0.8."""
LEVEL_DB = 2.5
LEVEL_FREEDOM = 4.0
"""A predicted level is off by so much, with the tails of Student's t (assumed)."""
PARTIALS_WEIGHT = 0.85
"""The partials of a take share their errors, so that their sum counts for less (fitted: of some 260
simulated takes that say more than 3 nats, four were wrong, by sideways motion)."""
STRENGTH_DIFFERENCE_DB = 7.0
SIDEWAYS_DIFFERENCE_DB = 20.0
SIDEWAYS_PRIOR = 0.043
"""Scatter of the difference in strength of two pickups, as a rule and where sideways motion rules at one of
them, and how often it does (assumed, after the simulated bench)."""
LEVELS_WEIGHT = 0.5
"""Levels of the partials of one take share their errors."""
LARGEST_LIMIT_NATS = 4.0
"""Largest limit, in nats, on what one take may say against a sign pattern."""
SMALLEST_LIMIT_NATS = 2.0
"""However doubtful the take, its limit is never set below this."""
LATE_S = 1.2
LATE_NATS = 1.7
"""Nats lost for each second after ``LATE_S`` (fitted: of 72 pairs at 1.4 to 1.9 s three were wrong)."""
PER_STEP_NATS = 4.0
MOST_CERTAIN = 0.999
"""No place is surer."""


@dataclass(frozen=True, eq=False)
class _SourceSamples:
    """Signed factor of each source, (draws, N) by source, and its weight in each setting, (draws,)."""

    factors: dict[Source, Array]
    weights: tuple[tuple[Array, ...], ...]


def sign_table(
    evidence: Sequence[PartialEvidence],
    levels: Levels,
    mixes: Sequence[Mix],
    *,
    count: int,
    since_s: Sequence[float],
) -> Array:
    """Log likelihoods over the signs of the sources, (2,) * count, the largest 0.

    ``since_s`` (K,): how long after the pluck each stretch begins.
    """
    numbers = np.array([w.n for w in evidence])
    samples = _source_samples(mixes, numbers)
    _with_measured_levels(samples, levels, mixes)
    every = _every_pattern(len(mixes))
    log_likelihood = np.stack([w.patterns(every) for w in evidence])
    free = not any(mix.alone for mix in mixes)
    scores = []
    for signs in sign_patterns(count):
        sums, parts = _sums(samples, mixes, signs, len(numbers))
        which = np.sum((sums < 0) * (2 ** np.arange(len(mixes)))[:, np.newaxis, np.newaxis], axis=0)
        nats = sum(log_likelihood[i][:, which[:, i]] for i in range(len(numbers)))
        nats = np.logaddexp.reduce(nats, axis=0) + _level_likelihood(sums, parts, levels, mixes, free=free)
        scores.append(float(np.logaddexp.reduce(nats) - np.log(SAMPLES)))
    every_sign = sign_patterns(count)
    best = every_sign[int(np.argmax(scores))]
    most = [_limit_nats(best * signs, levels, mixes, numbers, since_s=since_s) for signs in every_sign]
    return table_of(np.maximum(PARTIALS_WEIGHT * (np.array(scores) - max(scores)), -np.array(most)), count)


def step_ratios(evidence: Sequence[PartialEvidence], mixes: Sequence[Mix]) -> tuple[float, ...]:
    """For each step the log ratio "the sounds have the same sign : they are opposed", places allowed for."""
    every = _every_pattern(len(mixes))
    log_likelihood = np.stack([w.patterns(every) for w in evidence])
    out = []
    for k in range(len(mixes) - 1):
        alike = every[:, k] == every[:, k + 1]
        same = np.logaddexp.reduce(log_likelihood[:, :, alike], axis=2)
        opposed = np.logaddexp.reduce(log_likelihood[:, :, ~alike], axis=2)
        signs = np.array([step_sign(w.n, mixes[k], mixes[k + 1]) for w in evidence])
        right = np.log(0.5 * (1 + signs[:, 0] * signs[:, 1]))[:, np.newaxis]
        wrong = np.log(0.5 * (1 - signs[:, 0] * signs[:, 1]))[:, np.newaxis]
        up = np.logaddexp(right + same, wrong + opposed).sum(axis=0)
        down = np.logaddexp(right + opposed, wrong + same).sum(axis=0)
        ratio = PARTIALS_WEIGHT * float(np.logaddexp.reduce(up) - np.logaddexp.reduce(down))
        out.append(float(np.clip(ratio, -PER_STEP_NATS, PER_STEP_NATS)))
    return tuple(out)


def step_sign(n: int, before: Mix, after: Mix) -> tuple[int, float]:
    """How the places turn partial ``n`` from one setting to the next, and how surely (0: not known)."""
    sources = (*before.sources, *after.sources)
    if before.alone and after.alone:
        if _unwired(sources[0]) == _unwired(sources[1]):
            return 1, MOST_CERTAIN
        sign = harmonic_sign(n, sources[0].place, sources[1].place)
        return sign.sign, min(sign.certainty, MOST_CERTAIN)
    each = [harmonic_sign(n, sources[0].place, s.place) for s in sources[1:]]
    alike = all(one.sign > 0 for one in each)
    return 1, min(MOST_CERTAIN, *(one.certainty for one in each)) if alike else 0.0


def _limit_nats(
    sign_product: Array,
    levels: Levels,
    mixes: Sequence[Mix],
    numbers: NDArray[np.int64],
    *,
    since_s: Sequence[float],
) -> float:
    """The most that the take may say against a pattern, in nats.

    ``sign_product`` (count,): this pattern times the best one, -1 where they differ.

    Less where the two pickups whose relation it turns are not as strong as their places would have it: a
    string that moves sideways past one, off the centre of its poles, is heard too weakly there and with
    a sign of its own. Less late in the ringing, too: the motion towards the body dies first.
    """
    alone = [(k, mix.sources[0]) for k, mix in enumerate(mixes) if mix.alone]
    pairs = [
        ((j, a), (k, b))
        for (j, a), (k, b) in combinations(alone, 2)
        if sign_product[a.sign] != sign_product[b.sign]
    ]
    nats = [
        max(
            SMALLEST_LIMIT_NATS,
            _strength_limit_nats(one, two, levels, numbers)
            - _late_nats(max(since_s[one[0]], since_s[two[0]])),
        )
        for one, two in pairs
    ]
    return max(nats, default=LARGEST_LIMIT_NATS)


def _late_nats(since_s: float) -> float:
    """How much less a step may say that comes so long after the pluck, in nats."""
    return LATE_NATS * max(0.0, since_s - LATE_S)


def _strength_limit_nats(
    one: tuple[int, Source], two: tuple[int, Source], levels: Levels, numbers: NDArray[np.int64]
) -> float:
    """How far the relation of two pickups heard alone may be trusted, from how strong they are, in nats."""
    (j, a), (k, b) = one, two
    if not (a.place.centre_mm and a.place.length_mm and b.place.centre_mm and b.place.length_mm):
        return LARGEST_LIMIT_NATS
    first = [i for i, n in enumerate(numbers) if n <= UNKNOWN_HARMONICS]
    middle, n = np.array([0.5]), numbers[first].astype(np.float64)
    at_a, at_b = (np.abs(with_floor(source_factors(one, n, middle)[0])) for one in (a, b))
    measured = np.maximum(levels.amplitude[first], 1e-12)
    off = float(np.mean(20 * np.log10(measured[:, k] * at_a / (measured[:, j] * at_b))))
    usual = -0.5 * (off / STRENGTH_DIFFERENCE_DB) ** 2 - math.log(STRENGTH_DIFFERENCE_DB)
    sideways = (
        -0.5 * (off / SIDEWAYS_DIFFERENCE_DB) ** 2
        - math.log(SIDEWAYS_DIFFERENCE_DB)
        + math.log(SIDEWAYS_PRIOR)
    )
    return min(LARGEST_LIMIT_NATS, max(SMALLEST_LIMIT_NATS, usual - sideways))


def _every_pattern(settings: int) -> Array:
    """All sign patterns of the settings, (2 ** K, K); bit k of the row number is set where k is -1."""
    return np.asarray(1.0 - 2.0 * ((np.arange(2**settings)[:, np.newaxis] >> np.arange(settings)) & 1))


def _source_samples(mixes: Sequence[Mix], numbers: NDArray[np.int64]) -> _SourceSamples:
    """Places, strengths and weights, always the same ones."""
    rng = np.random.default_rng(1)
    factors: dict[Source, Array] = {}
    for source in dict.fromkeys(_unwired(s) for mix in mixes for s in mix.sources):
        strength = 10 ** (STRENGTH_DB * rng.standard_normal(SAMPLES) / 20)
        place, random_signs = rng.uniform(size=SAMPLES), rng.choice([-1.0, 1.0], (SAMPLES, len(numbers)))
        shape = source_factors(source, numbers.astype(np.float64), place)
        if source.place.centre_mm is None or source.place.length_mm is None:
            shape = np.where(numbers <= UNKNOWN_HARMONICS, np.abs(shape), np.abs(shape) * random_signs)
        factors[source] = strength[:, np.newaxis] * with_floor(shape)
    weights = []
    for mix in mixes:
        measured = all(s.kohm for s in mix.sources)
        spread_db = WEIGHT_DB if measured or mix.join == "series" else UNMEASURED_WEIGHT_DB
        off_db = spread_db * rng.standard_normal((SAMPLES, len(mix.sources)))
        weights.append(tuple(spread_weights(mix, weights_of(mix), off_db).T))
    return _SourceSamples(factors, tuple(weights))


def _unwired(source: Source) -> Source:
    """The source by itself, whichever setting it is in."""
    return Source(source.sign, source.place, source.coils, one_row=source.one_row)


def _with_measured_levels(samples: _SourceSamples, levels: Levels, mixes: Sequence[Mix]) -> None:
    """Give sources that are heard alone their measured magnitudes, and bring the others to that scale."""
    alone = {_unwired(m.sources[0]): k for k, m in enumerate(mixes) if m.alone}
    if not alone:
        return
    reference = next(iter(alone))
    measured = np.maximum(levels.amplitude[:, alone[reference]], 1e-12)
    scale = measured / np.abs(samples.factors[reference])
    for source, factor in samples.factors.items():
        if source in alone:
            magnitude = np.maximum(levels.amplitude[:, alone[source]], 1e-12)
            samples.factors[source] = np.copysign(np.broadcast_to(magnitude, factor.shape), factor)
        else:
            samples.factors[source] = factor * scale


def _sums(samples: _SourceSamples, mixes: Sequence[Mix], signs: Array, partials: int) -> tuple[Array, Array]:
    """Signed sum of each setting and the sum of its magnitudes, (K, draws, N) each."""
    total = np.zeros((len(mixes), SAMPLES, partials))
    loudest = np.zeros(total.shape)
    for k, mix in enumerate(mixes):
        for source, sign, weight in zip(mix.sources, signs_in(mix, signs), samples.weights[k], strict=True):
            part = weight[:, np.newaxis] * samples.factors[_unwired(source)]
            total[k] += sign * part
            loudest[k] += np.abs(part)
    return total, loudest


def _level_likelihood(
    sums: Array, parts: Array, levels: Levels, mixes: Sequence[Mix], *, free: bool
) -> Array:
    """Log likelihood of the levels of the settings of several sources, (draws,)."""
    nats = np.zeros(sums.shape[1])
    rows = range(len(mixes)) if free else [k for k, mix in enumerate(mixes) if not mix.alone]
    if not len(rows):
        return nats
    predicted = 10 * np.log10(np.square(sums) + np.square(NODE_FLOOR * parts) + 1e-30)
    measured = 20 * np.log10(np.maximum(levels.amplitude, 1e-12)).T[:, np.newaxis, :]
    scatter = levels.scatter_db.T[:, np.newaxis, :]
    known = np.isfinite(scatter) & np.isfinite(levels.scatter_db).all(axis=1)
    off = np.where(known, measured - predicted, 0.0)
    if free:
        off = off - off.mean(axis=0, keepdims=True)
    width = np.sqrt(LEVEL_DB**2 + np.square(np.where(known, scatter, 0.0)))
    for k in rows:
        tail = -0.5 * (LEVEL_FREEDOM + 1) * np.log1p(np.square(off[k] / width[k]) / LEVEL_FREEDOM)
        nats += LEVELS_WEIGHT * np.sum(np.where(known[k], tail, 0.0), axis=1)
    return nats
