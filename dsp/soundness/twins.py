"""Two settings that cannot be told apart: the selector was not moved, or two positions give the same thing.

Task: for each pair of settings, how likely it is that one and the same thing was on the jack. Shapes: see
`dsp.soundness.expectation`. Units: natural logs, dB. Signs: none: two settings that differ in polarity
alone are twins here.

Twins differ by what plucks differ by. Others differ as their places say, where both hold one pickup whose
place is known, else by some dB at every harmonic, and in strength.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import scipy

from dsp.calibration import LEVELS_FREEDOM as FREEDOM
from dsp.mixes import sign_patterns, weights_of
from dsp.soundness.expectation import (
    FALL_DB,
    STRENGTH_DB,
    Readings,
    as_db,
    centres_of,
    place_factors,
    readings_of,
    setting_covariance,
    string_covariance,
)
from dsp.soundness.odds import log_mean
from dsp.soundness.plucks import Array, Finding, SoundPluck

PRIOR = 0.02
"""How often two settings of a job are the same by mistake (assumed)."""
SURE = 0.95
TRUST = 0.65
"""The ratio counts by this part: hands are steadier on one setting, and less so on another, than the model
has it. Counted in full, it took settings of sound simulated guitars for the same in one job of fifty."""
DRAWS = 400
"""Places and strengths tried; always the same ones."""
FEWEST_PLUCKS = 2
HIGHEST_HZ = 2400.0


@dataclass(frozen=True)
class Likeness:
    """Of two settings: log odds, beyond what is usual, that one thing was on the jack, and their distance."""

    settings: tuple[str, str]
    nats: float
    apart_db: float

    @property
    def sure(self) -> float:
        """How sure it is that they are the same, ``PRIOR`` taken in."""
        return 1 / (1 + math.exp(-self.nats - math.log(PRIOR / (1 - PRIOR))))


def likenesses(plucks: Sequence[SoundPluck]) -> tuple[Likeness, ...]:
    """Every pair of settings that were plucked often enough on one string, with how alike they are."""
    settings = tuple(dict.fromkeys(p.setting for p in plucks))
    found = []
    for a, b in combinations(settings, 2):
        mine = [p for p in plucks if p.setting in (a, b) and np.any(p.usable)]
        counts = [sum(p.setting == s for p in mine) for s in (a, b)]
        if min(counts) < FEWEST_PLUCKS:
            continue
        readings = readings_of(mine, with_bounds=[np.zeros(len(p.usable), dtype=np.bool_) for p in mine])
        readings = readings.only((readings.hz < HIGHEST_HZ) & _shared(readings))
        if len(readings.level_db):
            found.append(Likeness((a, b), TRUST * _ratio(readings), round(_apart_db(readings), 1)))
    return tuple(found)


def twins(plucks: Sequence[SoundPluck], *, least: float = SURE) -> tuple[Finding, ...]:
    """Every pair of settings that are the same, as sure as ``least`` or more."""
    return tuple(
        Finding("twin settings", *one.settings, one.apart_db, one.sure)
        for one in likenesses(plucks)
        if one.sure >= least
    )


def _shared(readings: Readings) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which readings have one of the other setting at the same harmonic of the same string."""
    same = np.equal.outer(readings.string, readings.string) & np.equal.outer(
        readings.harmonic, readings.harmonic
    )
    return np.asarray((same & ~np.equal.outer(readings.setting, readings.setting)).any(axis=1))


def _ratio(readings: Readings) -> float:
    """Log-likelihood ratio of "the same" to "two settings"; these may add or oppose each other inside."""
    same = string_covariance(readings)
    fall = -FALL_DB * np.log2(readings.harmonic)
    differ = same + setting_covariance(readings)
    apart = [
        _log_density(readings.level_db - fall - mean, differ + spread)
        for mean, spread in _settings_apart(readings)
    ]
    return _log_density(readings.level_db - fall, same) - log_mean(np.array(apart))


def _settings_apart(readings: Readings) -> list[tuple[Array, Array]]:
    """Mean and covariance of what the two settings add to the levels, for each pattern of signs."""
    numbers = sorted({s.sign for p in readings.plucks for s in p.mix.sources})
    rng = np.random.default_rng(DRAWS)
    off = {k: rng.uniform(-1, 1, DRAWS) for k in numbers}
    strength = {k: 10 ** (STRENGTH_DB * rng.standard_normal(DRAWS) / 20) for k in numbers}
    out = []
    for pattern in sign_patterns(len(numbers)):
        signs = dict(zip(numbers, pattern, strict=True))
        level = np.empty((DRAWS, len(readings.hz)))
        for k, pluck in enumerate(readings.plucks):
            rows = readings.pluck == k
            harmonic = readings.harmonic[rows]
            total = np.zeros((DRAWS, len(harmonic)))
            for source, weight in zip(pluck.mix.sources, weights_of(pluck.mix), strict=True):
                turn = signs[source.sign] * (-1 if source.reversed else 1) * weight
                factor = place_factors(
                    source, centres_of(source, off[source.sign]), harmonic, fret=pluck.fret
                )
                total += turn * strength[source.sign][:, np.newaxis] * factor
            level[:, rows] = as_db(total, harmonic)
        out.append((level.mean(axis=0), np.cov(level, rowvar=False, bias=True)))
    return out


def _log_density(deviation: Array, covariance: Array) -> float:
    """Multivariate t, but for a constant."""
    factor = scipy.linalg.cholesky(covariance, lower=True)
    white = scipy.linalg.solve_triangular(factor, deviation, lower=True)
    spread = -0.5 * (FREEDOM + len(deviation)) * math.log1p(float(white @ white) / FREEDOM)
    return spread - float(np.sum(np.log(np.diag(factor))))


def _apart_db(readings: Readings) -> float:
    """How far the two settings' mean levels lie apart."""
    means = [float(np.mean(readings.level_db[readings.setting == k])) for k in (0, 1)]
    return abs(means[0] - means[1])
