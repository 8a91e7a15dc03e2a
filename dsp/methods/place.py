"""The place along the string from which a string is heard, from the levels of its partials.

Task: (1) what a pickup at a place adds to each harmonic's level; (2) the log likelihood of the levels of one
pluck under such templates; (3) a pickup's place from all notes that were heard through it. Shapes: levels
(hearings, harmonics), harmonic n at index n - 1; templates (templates, hearings, harmonics) in dB; log
likelihoods (templates,) or (places,). Units: mm from the bridge, dB, natural logarithms. Sign: none, levels
carry none.

(2) A level is a free loudness and a slope an octave of each pluck and of each hearing of it, the comb of the
place where the string was plucked, the template, and scatter, which a pluck shares with all hearings of it
(two inputs, or two settings of a switch take) but for a small part of its own. The pluck's place is summed
over, with a prior on where hands pluck. What is left is weighed by a multivariate t, so that one odd harmonic
decides nothing. Pluck and pickup leave the same comb: only what stays the same from note to note is the
pickup's, and the same string heard at two places needs no other note.
The idea is published (sources S7, S8: a pickup to 3.5 mm, and which setting is on); the scatter is that of
real plucks (T4). On simulated benches the ratios came out too bold, so they count by `TRUST`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from dsp.methods.profile import HARMONIC_SCATTER_DB, HARMONICS
from dsp.model.settings import NODE_FLOOR, USUAL_SCALE_MM, harmonic_factors

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

PLACES_MM = np.arange(15.0, 221.0)
"""Places of a pickup that are tried."""
PLUCKED_MM = np.arange(45.0, 301.0, 15.0)
USUAL_PLUCK_MM, PLUCK_SPREAD_MM = 140.0, 60.0
"""Where hands pluck, from the bridge: between the bridge pickup and the end of the neck (assumed)."""
PLUCK_FLOOR = 0.12
"""At a node of the pluck's place a harmonic keeps so much of its antinode: a pick or a finger has a width."""
LOUDNESS_DB = 30.0
GAIN_DB = 12.0
"""Loudness of a pluck, and of one hearing of it against another; both next to free."""
FALL_DB, FALL_SPREAD_DB = -6.0, 3.5
"""Fall of a plucked string's harmonics an octave: 6 dB of the velocity (S1)."""
SOFT_MEAN_DB, SOFT_SPREAD_DB, SOFT_HZ = -6.0, 9.0, 1000.0
"""At ``SOFT_HZ``, growing with the square of the frequency: how slowly the string slips off the pick, how
wide that is, and what the string loses until it is heard."""
OWN_SLOPE_DB = 2.0
OWN_SCATTER_DB = 1.5
"""Slope and scatter of one hearing of a pluck against another."""
CURVED_DB = -16.0
"""The field near the poles is not even: two partials make others of their sum and difference, so far below
the stronger one. A node of the place is filled by them."""
NEAR_CURVED_DB, CURVED_SCATTER_DB = 6.0, 4.0
"""A harmonic no further than this above what the others make of it is known so badly."""
STRONGEST = 4
FREEDOM = 6.0
TRUST = 0.5
FEWEST_HARMONICS = 4


@dataclass(frozen=True, eq=False)
class HeardPluck:
    """One pluck as it was heard, once or several times; ``levels_db``, ``usable`` (hearings, harmonics).

    ``length_mm`` is the sounding length of the string, ``f0_hz`` its pitch.
    """

    levels_db: Array
    usable: Flags
    length_mm: float
    f0_hz: float

    @cached_property
    def _key(self) -> tuple[bytes, bytes, float, float]:
        return self.levels_db.tobytes(), self.usable.tobytes(), self.length_mm, self.f0_hz

    def __eq__(self, other: object) -> bool:
        """Plucks that were heard the same are the same."""
        return isinstance(other, HeardPluck) and self._key == other._key

    def __hash__(self) -> int:
        """By what was heard."""
        return hash(self._key)


def place_template(fractions: Array, *, rows: int = 1, length_mm: float) -> Array:
    """What a pickup at ``fractions`` of the length adds to each harmonic, dB, (places, harmonics)."""
    return sum_template(np.ones((1, 1)), [np.atleast_1d(fractions)], rows=[rows], length_mm=length_mm)


def sum_template(
    weights: Array, fractions: Sequence[Array], *, rows: Sequence[int], length_mm: float
) -> Array:
    """The same of a sum: ``weights`` (sources, places) with their signs, one array of fractions a source."""
    numbers = np.arange(1, HARMONICS + 1)
    total = np.zeros((len(fractions[0]), HARMONICS))
    for weight, where, count in zip(weights, fractions, rows, strict=True):
        factors = harmonic_factors(numbers, fractions=where, rows=count, length_mm=length_mm)
        total += weight[:, np.newaxis] * factors
    floor = NODE_FLOOR * np.sqrt(np.square(weights).sum(axis=0))[:, np.newaxis]
    return np.asarray(20 * np.log10(np.hypot(total, floor)))


def log_likelihoods(pluck: HeardPluck, templates: Array) -> tuple[Array, Array]:
    """Log likelihood of a pluck under each template, and the loudness it had then, dB, both (templates,).

    Loudness is that of the string where it swings widest, the mean over its hearings. Zeros where too few
    harmonics were heard.
    """
    used = pluck.usable
    if min(used.sum(axis=1)) < FEWEST_HARMONICS:
        return np.zeros(len(templates)), np.full(len(templates), np.nan)
    flat = np.flatnonzero(used)
    numbers = np.tile(np.arange(1, HARMONICS + 1), len(used))[flat]
    hearing = np.repeat(np.arange(len(used)), HARMONICS)[flat]
    measured, filled = pluck.levels_db.ravel()[flat], _curved_db(pluck).ravel()[flat]
    hz = np.asarray(numbers * pluck.f0_hz, dtype=np.float64)
    white, gain = _whitening(numbers, hearing, hz, measured < filled + NEAR_CURVED_DB)
    strong = _strongest(pluck.levels_db, used).ravel()[flat]
    average = np.equal.outer(hearing, hearing) * strong  # (readings, readings): mean of the strongest
    average = average / average.sum(axis=1, keepdims=True)
    comb, prior = _combs(pluck.length_mm)
    combs = comb[:, numbers - 1]
    course = FALL_DB * np.log2(numbers) + SOFT_MEAN_DB * np.square(hz / SOFT_HZ)
    places = templates.reshape(len(templates), -1)[:, flat]
    level = average @ (measured - course)
    at_places, at_combs = places @ average.T, combs @ average.T
    power = _power(places - at_places + course + level)[:, np.newaxis] * _power(combs - at_combs)
    off = (measured - 10 * np.log10(power + _power(filled))).astype(np.float32)
    squares = np.square(off @ white.T).sum(axis=2, dtype=np.float64)
    log = -0.5 * (FREEDOM + len(flat)) * np.log1p(squares / FREEDOM) + prior
    top = log.max(axis=1, keepdims=True)
    share = np.exp(log - top)
    total = share.sum(axis=1)
    strings = level.mean() - at_places.mean(axis=1)[:, np.newaxis] - at_combs.mean(axis=1) + off @ gain
    return TRUST * (top[:, 0] + np.log(total)), (strings * share).sum(axis=1) / total


def _power(level_db: Array) -> NDArray[np.float32]:
    return np.asarray(np.exp(np.log(10) / 10 * level_db), dtype=np.float32)


def _strongest(levels_db: Array, usable: Flags) -> Flags:
    """The strongest harmonics of each hearing, (hearings, harmonics)."""
    known = np.where(usable, levels_db, -np.inf)
    least = np.sort(known, axis=1)[:, -STRONGEST][:, np.newaxis]
    return np.asarray(known >= least)


def _curved_db(pluck: HeardPluck) -> Array:
    """What the other harmonics make of each, at most, (hearings, harmonics)."""
    power = np.where(pluck.usable, 10 ** (pluck.levels_db / 10), 0.0)
    out = np.zeros(power.shape)
    for k, one in enumerate(power):
        sums = np.convolve(one, one)[: HARMONICS - 1]
        differences = np.correlate(one, one, mode="full")[HARMONICS:]
        out[k, 1:] += sums
        out[k, :-1] += differences
        out[k] /= one.max()
    return np.asarray(CURVED_DB + 10 * np.log10(out + 1e-30))


def _whitening(
    numbers: NDArray[np.int64], hearing: NDArray[np.int64], hz: Array, curved: Flags
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """The whitening matrix of readings, and the weights that estimate the loudness from them."""
    octaves, soft = np.log2(numbers), np.square(hz / SOFT_HZ)
    tilt = np.outer(octaves, octaves)
    same_harmonic = np.equal.outer(numbers, numbers)
    same_hearing = np.equal.outer(hearing, hearing)
    string = 1.2**2 + np.minimum(HARMONIC_SCATTER_DB[0] * numbers, HARMONIC_SCATTER_DB[1]) ** 2
    rest = (
        FALL_SPREAD_DB**2 * tilt
        + SOFT_SPREAD_DB**2 * np.outer(soft, soft)
        + string[:, np.newaxis] * same_harmonic
        + same_hearing * (GAIN_DB**2 * (hearing.max() > 0) + OWN_SLOPE_DB**2 * tilt)
        + np.diag(OWN_SCATTER_DB**2 + CURVED_SCATTER_DB**2 * curved)
    )
    white = np.linalg.inv(np.linalg.cholesky(rest + LOUDNESS_DB**2))
    ones = np.linalg.solve(rest, np.ones(len(numbers)))
    return white.astype(np.float32), (ones / ones.sum()).astype(np.float32)


@lru_cache(maxsize=128)
def _combs(length_mm: float) -> tuple[Array, Array]:
    """The comb of each place where the string may have been plucked, dB, and its log prior."""
    where = PLUCKED_MM[0.6 * length_mm > PLUCKED_MM]
    factors = np.sin(np.pi * np.outer(where / length_mm, np.arange(1, HARMONICS + 1)))
    prior = -0.5 * np.square((where - USUAL_PLUCK_MM) / PLUCK_SPREAD_MM)
    return 20 * np.log10(np.hypot(factors, PLUCK_FLOOR)), prior - np.logaddexp.reduce(prior)


@dataclass(frozen=True)
class PlaceEstimate:
    """Where a pickup was heard, from the bridge, and its standard deviation; ``notes``: from so many."""

    mm: float
    error_mm: float
    notes: int


MOST_NATS_A_NOTE = 4.0
"""One pluck speaks no more against a place than this, however ill it fits."""


def capped(log: Array) -> Array:
    """Log likelihoods of one pluck, none further below the best than one pluck may say."""
    return np.asarray(np.maximum(log, log.max() - MOST_NATS_A_NOTE))


def place_likelihood(plucks: Sequence[HeardPluck], *, rows: int = 1) -> Array:
    """Log likelihood of one pickup at each of ``PLACES_MM``, largest 0; every pluck was through it alone."""
    total = np.zeros(len(PLACES_MM))
    for pluck in plucks:
        template = place_template(PLACES_MM / pluck.length_mm, rows=rows, length_mm=pluck.length_mm)
        total += capped(log_likelihoods(pluck, template[:, np.newaxis, :])[0])
    return np.asarray(total - total.max())


def place_estimate(
    plucks: Sequence[HeardPluck], *, rows: int = 1, prior: Array | None = None
) -> PlaceEstimate | None:
    """Where one pickup is heard, None where too little was; the median of what its likelihood leaves.

    ``prior`` (places,): its log prior at each of ``PLACES_MM``, even if left out.
    """
    heard = [p for p in plucks if min(p.usable.sum(axis=1)) >= FEWEST_HARMONICS]
    if not heard:
        return None
    log = place_likelihood(heard, rows=rows) + (0.0 if prior is None else prior)
    share = np.exp(log - log.max())
    share /= share.sum()
    low, middle, high = np.interp([0.16, 0.5, 0.84], np.cumsum(share), PLACES_MM)
    return PlaceEstimate(float(middle), float((high - low) / 2), len(heard))


def sounding_length(scale_mm: float | None, fret: int) -> float:
    """The length that sounds; of a scale that is not known, that of a usual one."""
    return (scale_mm or USUAL_SCALE_MM) / 2 ** (fret / 12)
