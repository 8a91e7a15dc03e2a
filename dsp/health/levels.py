"""Levels of plucks on sound pickups: one Gaussian model of all levels of a guitar.

Task: plucks with their levels to the expected levels and covariance of all readings. Shapes: levels
(harmonics,) a pluck, harmonic n at index n - 1; readings (readings,), one a harmonic of a pluck; covariance
(readings, readings). Units: dB of a partial's amplitude re full scale, Hz, mm, nats.
Sign: levels carry none.
Sources: S1 (velocity of a plucked string falls by 6 dB an octave, nodes at the pluck's place), S3 (place and
comb), C1 (loaded resonance 2 to 5 kHz, peak 0 to 12 dB), T4 (scatter of a harmonic from pluck to pluck).

A level is the sum of the string's own harmonic (common to all settings), the pluck's level, tilt and
softness, the setting's strength and resonance, the factor of the place, and noise. All but the noise are
integrated out by their covariance.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp import SignalError
from dsp.model.settings import NODE_FLOOR, STRENGTH_DB, Mix, source_factors, with_floor
from dsp.signal.codes import HealthCode

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class HealthPluck:
    """One pluck: its setting, its levels, and what is known of the string over that setting's pickup.

    ``levels_db`` where not ``usable``: no more than this (what noise leaves there), or NaN. ``mix``: the
    pickups the setting should hold, the sounding length of its places with the fret taken into account;
    ``string`` None: not named. The gain of the input is the same for all.
    """

    setting: str
    levels_db: Array
    usable: Flags
    f0_hz: float
    mix: Mix
    string: str | None = None
    fret: int = 0

    def __post_init__(self) -> None:
        if self.levels_db.ndim != 1 or self.levels_db.shape != self.usable.shape:
            raise SignalError("a pluck needs one level and one flag a harmonic")
        if not self.f0_hz > 0:
            raise SignalError(f"a pluck of {self.f0_hz} Hz has no pitch")
        if not np.isfinite(self.levels_db[self.usable]).all():
            raise SignalError("a level that is usable must be a number")


@dataclass(frozen=True)
class HealthFinding:
    """What is not as it should be with a setting, beyond phase.

    ``setting`` None: with all settings of one pickup alike. ``other``: the setting it was compared with, or
    cannot be told from. ``detail_db``: how much weaker (fundamental, treble or the whole, as the code says;
    for twins how far their levels lie apart; for hum how far over the quiet setting). ``sure``: 0 to 1.
    """

    code: HealthCode
    setting: str | None
    other: str | None
    detail_db: float
    sure: float


def log_mean(weights: Array) -> float:
    """Log of the mean of exp(weights)."""
    return float(np.logaddexp.reduce(weights)) - math.log(len(weights))


Codes = NDArray[np.int64]

GAIN_DB = 40.0
"""The input's gain may be anything; all plucks share it."""
STRING_LEVEL_DB = 6.0
STRING_HARMONIC_DB = 4.0
"""Decay, body: a string's harmonics scatter so far about what its pluck gave them."""
STRING_SLOPE_DB = 3.0
"""Per octave, each string; and as much again common to all: the hand, the pick."""
PLUCK_LEVEL_DB = 3.0
PLUCK_SLOPE_DB = 1.5
SOFTNESS_DB = 10.0
"""At ``SOFT_HZ``, growing with the square of the frequency: how slowly the string slips off the pick. Each
pluck has its own, and the hand as much again."""
SOFT_HZ = 1000.0
PLUCKED = (0.10, 0.37)
PLUCKED_SPREAD = 0.04
"""People pluck somewhere here, as a fraction of the sounding length, and scatter by so much (assumed)."""
PLUCKED_FLOOR = 0.15
NOISE_DB = 1.5
"""What is left of the scatter of a harmonic: beats of the two polarisations, the reading itself."""
MOST_HARMONICS = 24
UNSTEADINESS_RANGE = (0.15, 2.0)
"""A steady hand scatters by a seventh of the usual variance (as on the libraries of the methods), no less."""
UNSTEADY_DEGREES = 10.0
"""So many degrees of freedom the usual scatter counts for."""
SLOPE_HZ = 200.0
SETTING_SLOPE_DB = 1.0
TREBLE_DB = 5.0
TREBLE_HZ = 1500.0
"""How far resonances, and hands that play more softly on one setting, make sound settings differ at this
frequency; with its square below."""
DEEPEST_FLOOR = 0.3
"""Of harmonic n a node is no deeper than n times the floor of the first, nor than this: levels over all of a
string's harmonics are compared here, and an aperture is wide for the higher ones."""
FALL_DB = 6.0
PLACES_TRIED = 41


@dataclass(frozen=True, eq=False)
class LevelReadings:
    """Levels of several plucks in one row each, all (readings,); settings, strings, plucks by number."""

    level_db: Array
    harmonic: Array
    hz: Array
    setting: Codes
    string: Codes
    pluck: Codes
    plucks: tuple[HealthPluck, ...]
    settings: tuple[str, ...]

    def only(self, rows: NDArray[np.bool_]) -> LevelReadings:
        """Those readings that ``rows`` picks, (readings,)."""
        return replace(
            self,
            level_db=self.level_db[rows],
            harmonic=self.harmonic[rows],
            hz=self.hz[rows],
            setting=self.setting[rows],
            string=self.string[rows],
            pluck=self.pluck[rows],
        )

    def index(self) -> Codes:
        """Row of each reading in a table of harmonics."""
        return np.minimum(self.harmonic, MOST_HARMONICS).astype(np.int64) - 1

    def octaves(self) -> Array:
        """Octaves over ``SLOPE_HZ``, about which slopes turn."""
        return np.asarray(np.log2(self.hz / SLOPE_HZ))


def readings_of(plucks: Sequence[HealthPluck], *, with_bounds: Sequence[NDArray[np.bool_]]) -> LevelReadings:
    """All usable levels, and those bounds that ``with_bounds`` picks, (harmonics,) for each pluck."""
    settings = tuple(dict.fromkeys(p.setting for p in plucks))
    strings = tuple(dict.fromkeys(string_of(p) for p in plucks))
    rows = [
        (
            float(p.levels_db[k]),
            k + 1.0,
            (k + 1) * p.f0_hz,
            settings.index(p.setting),
            strings.index(string_of(p)),
            i,
        )
        for i, (p, bounds) in enumerate(zip(plucks, with_bounds, strict=True))
        for k in np.flatnonzero(p.usable | bounds)
    ]
    table = np.array(rows, dtype=np.float64).reshape(-1, 6)
    numbers = table[:, 3:].astype(np.int64)
    return LevelReadings(
        level_db=table[:, 0],
        harmonic=table[:, 1],
        hz=table[:, 2],
        setting=numbers[:, 0],
        string=numbers[:, 1],
        pluck=numbers[:, 2],
        plucks=tuple(plucks),
        settings=settings,
    )


def string_of(pluck: HealthPluck) -> tuple[str, int]:
    """What sounded: the string and fret, or the pitch to a semitone where it has no name."""
    if pluck.string is not None:
        return pluck.string, pluck.fret
    return f"{round(12 * np.log2(pluck.f0_hz / 440.0))}", 0


@cache
def plucked_db() -> tuple[Array, Array]:
    """Covariance of the harmonics 1 to ``MOST_HARMONICS``, by the pluck's place (S1), in dB squared.

    (of a hand, of a pluck of one hand), each (harmonics, harmonics).
    """
    harmonic = np.arange(1, MOST_HARMONICS + 1)
    usual = np.linspace(*PLUCKED, PLACES_TRIED)
    spread = np.linspace(-1.7, 1.7, PLACES_TRIED) * PLUCKED_SPREAD
    place = np.clip(usual[:, np.newaxis] + spread, 0.04, 0.5)
    moved = np.square(np.sin(np.pi * place[..., np.newaxis] * harmonic)) + PLUCKED_FLOOR**2
    level = 10 * np.log10(moved)
    mean = level.mean(axis=1)
    within = level - mean[:, np.newaxis]
    of_pluck = np.einsum("hpi,hpj->ij", within, within) / within[..., 0].size
    return np.asarray(np.cov(mean, rowvar=False, bias=True)), np.asarray(of_pluck)


def place_levels_db(pluck: HealthPluck, harmonic: Array) -> Array:
    """Level of harmonics at the places that the one pickup of a pluck may have, (places, harmonics)."""
    quantiles = (np.arange(PLACES_TRIED) + 0.5) / PLACES_TRIED
    return factor_db(source_factors(pluck.mix.sources[0], harmonic, quantiles, fret=pluck.fret), harmonic)


def factor_db(factor: Array, harmonic: Array) -> Array:
    """Level of factors (places, harmonics), no deeper than a node is."""
    floor = np.minimum(NODE_FLOOR * harmonic, DEEPEST_FLOOR)
    return np.asarray(20 * np.log10(np.abs(with_floor(factor, floor))))


@dataclass(frozen=True, eq=False)
class LevelModel:
    """Expected levels (readings,) and the lower Cholesky factor of their covariance."""

    mean: Array
    factor: Array

    def whitened(self, deviation: Array) -> Array:
        """A deviation from the expected levels, (readings,) or (readings, k), in standard units."""
        return np.asarray(scipy.linalg.solve_triangular(self.factor, deviation, lower=True))


def string_covariance(readings: LevelReadings) -> Array:
    """What strings, hands and plucks add to the covariance, (readings, readings)."""
    octaves = readings.octaves()
    soft = np.square(readings.hz / SOFT_HZ)
    slopes, softness = np.outer(octaves, octaves), np.outer(soft, soft)
    string = np.equal.outer(readings.string, readings.string)
    pluck = np.equal.outer(readings.pluck, readings.pluck)
    harmonic = np.equal.outer(readings.harmonic, readings.harmonic)
    hand, _ = plucked_db()
    at = readings.index()
    common = GAIN_DB**2 + STRING_SLOPE_DB**2 * slopes + SOFTNESS_DB**2 * softness + hand[np.ix_(at, at)]
    each = STRING_LEVEL_DB**2 + STRING_HARMONIC_DB**2 * harmonic + STRING_SLOPE_DB**2 * slopes
    one = unsteadiness(readings) * _pluck_covariance(at, readings.hz)
    return np.asarray(common + string * each + pluck * one)


def _pluck_covariance(at: Codes, hz: Array) -> Array:
    """What one pluck of a hand of usual steadiness adds to its harmonics, (harmonics, harmonics)."""
    octaves, soft = np.log2(hz / SLOPE_HZ), np.square(hz / SOFT_HZ)
    _, stroke = plucked_db()
    varied = PLUCK_LEVEL_DB**2 + PLUCK_SLOPE_DB**2 * np.outer(octaves, octaves) + stroke[np.ix_(at, at)]
    noise = NOISE_DB**2 * np.equal.outer(at, at)
    return np.asarray(varied + SOFTNESS_DB**2 * np.outer(soft, soft) + noise)


def unsteadiness(readings: LevelReadings) -> float:
    """Variance among plucks of one string on one setting, over the usual one."""
    power, freedom = UNSTEADY_DEGREES, UNSTEADY_DEGREES
    groups = readings.setting * len(readings.settings) * len(readings.plucks) + readings.string
    for group in np.unique(groups):
        mine = groups == group
        plucks = np.unique(readings.pluck[mine])
        harmonics, counts = np.unique(readings.harmonic[mine], return_counts=True)
        shared = harmonics[counts == len(plucks)]
        if len(plucks) == 1 or not len(shared):
            continue
        rows = mine & np.isin(readings.harmonic, shared)
        levels = readings.level_db[rows].reshape(len(plucks), len(shared))
        first = np.flatnonzero(rows)[: len(shared)]
        factor = scipy.linalg.cholesky(
            _pluck_covariance(readings.index()[first], readings.hz[first]), lower=True
        )
        white = scipy.linalg.solve_triangular(factor, (levels - levels.mean(axis=0)).T, lower=True)
        power += float(np.sum(np.square(white)))
        freedom += (len(plucks) - 1) * len(shared)
    return float(np.clip(power / freedom, *UNSTEADINESS_RANGE))


def setting_covariance(readings: LevelReadings) -> Array:
    """What sound settings differ by, but for places and strengths, (readings, readings)."""
    octaves = readings.octaves()
    treble = np.square(readings.hz / TREBLE_HZ)
    same = np.equal.outer(readings.setting, readings.setting)
    return np.asarray(
        same * (SETTING_SLOPE_DB**2 * np.outer(octaves, octaves) + TREBLE_DB**2 * np.outer(treble, treble))
    )


def level_model(readings: LevelReadings) -> LevelModel:
    """The levels that sound pickups give."""
    covariance = string_covariance(readings) + setting_covariance(readings)
    mean = -FALL_DB * np.log2(readings.harmonic)
    placed, spread = place_moments(readings)
    return LevelModel(mean + placed, np.asarray(scipy.linalg.cholesky(covariance + spread, lower=True)))


def place_moments(readings: LevelReadings) -> tuple[Array, Array]:
    """Mean (readings,) and covariance (readings, readings) of the settings' places and strengths."""
    mean = np.zeros(len(readings.hz))
    covariance = np.zeros((len(mean), len(mean)))
    for number in range(len(readings.settings)):
        rows = np.flatnonzero(readings.setting == number)
        places = _places(readings, rows)
        mean[rows] = places.mean(axis=0)
        covariance[np.ix_(rows, rows)] = STRENGTH_DB**2 + np.cov(places, rowvar=False, bias=True)
    return mean, covariance


def _places(readings: LevelReadings, rows: Codes) -> Array:
    """Level by place of the readings ``rows`` of one setting, (places, rows)."""
    out = np.empty((PLACES_TRIED, len(rows)))
    for pluck in np.unique(readings.pluck[rows]):
        mine = readings.pluck[rows] == pluck
        out[:, mine] = place_levels_db(readings.plucks[int(pluck)], readings.harmonic[rows][mine])
    return out
