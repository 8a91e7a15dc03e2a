"""Faults of single settings and twins among settings, each weighed as a hypothesis.

Task: (1) what each fault does to the levels; (2) the probability that one setting, or all, has it; (3) a
two-coil pickup that hums like a single coil; (4) pairs of settings that cannot be told apart. Shapes: levels
as in `dsp.health.levels`; frequencies (readings,) in, dB (readings,) out. Units: Hz, dB, natural logarithms.
Sign: none; settings that differ in polarity alone are twins here.

(1) A series capacitor or an open coil is a first-order high-pass with the load, a short across the leads a
first-order low-pass with the coil's inductance, a tone knob turned down a resonance of the coil with the tone
capacitor (sources C1: 1.8 to 3.5 H with 22 nF, 570 to 800 Hz); values common practice. (2) The ratio of a
multivariate t, at most one setting at fault. (3) The two coils of a sound pickup are wound against each
other, so magnetic hum cancels (P1, P2); capacitive buzz is alike on all settings, so a setting is suspected
only where another is much quieter. (4) Twins differ as plucks do; other settings as their places say, and in
strength.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.health.levels import (
    FALL_DB,
    Array,
    HealthFinding,
    HealthPluck,
    LevelModel,
    LevelReadings,
    factor_db,
    level_model,
    log_mean,
    place_levels_db,
    readings_of,
    setting_covariance,
    string_covariance,
    string_of,
)
from dsp.model.calibration import LEVELS_FREEDOM as FREEDOM
from dsp.model.settings import STRENGTH_DB, sign_patterns, source_factors, weights_of
from dsp.signal.codes import HealthCode

CORNERS_HZ = (200.0, 400.0, 800.0, 1600.0)
"""2 to 10 nF with a load of 100 to 200 k lies between 100 and 800 Hz."""
OPEN_CORNERS_HZ = (1000.0, 2000.0)
OPEN_LOSSES_DB = (20.0, 28.0, 36.0, 44.0)
"""5 to 20 pF into 300 to 1000 pF of cable."""
SHORT_CORNERS_HZ = (400.0, 1000.0)
SHORT_LOSSES_DB = (16.0, 24.0, 32.0, 40.0)
WEAKER_DB = (14.0, 18.0, 22.0, 26.0, 32.0, 40.0)
TONE_HZ = (500.0, 600.0, 720.0, 860.0)
TONE_PEAK = 1.4
"""Q of the coil with the tone capacitor: some 10 k of reactance over 6 to 8 k of resistance."""


@dataclass(frozen=True, eq=False)
class FaultResponse:
    """One fault with one set of values: what it adds to the levels, (readings,), and its loss in dB."""

    code: HealthCode
    change_db: Array
    detail_db: float


def fault_responses(hz: Array) -> Iterator[FaultResponse]:
    """Every fault that is looked for, at the frequencies of the readings."""
    lowest = float(hz.min())
    for corner in CORNERS_HZ:
        yield FaultResponse(
            "fundamental missing", high_pass_db(hz, corner), -_at(high_pass_db, lowest, corner)
        )
    for corner in OPEN_CORNERS_HZ:
        for loss in OPEN_LOSSES_DB:
            yield FaultResponse("open coil", high_pass_db(hz, corner) - loss, loss)
    for corner in SHORT_CORNERS_HZ:
        for loss in SHORT_LOSSES_DB:
            yield FaultResponse("shorted coil", low_pass_db(hz, corner) - loss, loss)
    for loss in WEAKER_DB:
        yield FaultResponse("far weaker", np.full(hz.shape, -loss), loss)
    for corner in TONE_HZ:
        yield FaultResponse("dull", tone_down_db(hz, corner), -_at(tone_down_db, 2.5 * corner, corner))


def high_pass_db(hz: Array, corner_hz: float) -> Array:
    """First-order high-pass."""
    return np.asarray(-10 * np.log10(1 + np.square(corner_hz / hz)))


def low_pass_db(hz: Array, corner_hz: float) -> Array:
    """First-order low-pass."""
    return np.asarray(-10 * np.log10(1 + np.square(hz / corner_hz)))


def tone_down_db(hz: Array, corner_hz: float) -> Array:
    """Second-order low-pass with the peak of ``TONE_PEAK``."""
    x = np.square(hz / corner_hz)
    return np.asarray(-10 * np.log10(np.square(1 - x) + x / TONE_PEAK**2))


def _at(shape: Callable[[Array, float], Array], hz: float, corner_hz: float) -> float:
    return float(shape(np.array([hz]), corner_hz)[0])


FAULT_PRIOR: Mapping[HealthCode, float] = {
    "fundamental missing": 0.02,
    "open coil": 0.01,
    "shorted coil": 0.01,
    "far weaker": 0.02,
    "dull": 0.01,
}
"""How often a setting has it (assumed)."""
EVIDENCE_WEIGHT: Mapping[HealthCode, float] = {"dull": 0.3}
"""A log-likelihood ratio counts by this part, 1 if not named: a hand that lets the string slip off softly, on
one setting more than on another, sounds like a tone knob. Of sound simulated guitars one in a hundred had a
ratio of 12 to 17 for it, and hardly one beyond 6 for any other fault."""
FAULT_PRIOR_ALL: Mapping[HealthCode, float] = {"fundamental missing": 0.002, "dull": 0.005}
"""How often all settings have it; a level that all share cannot be heard."""
FAULT_PROBABLE = 0.9
"""From here on it is said: "likely" in the words of the verdict."""
UNEXPLAINED: HealthCode = "far weaker"
CAUSE_NATS = 1.5
"""A cause is named only where it is so many nats better than the plain fact; a knob is no short."""
HIGHEST_HZ = 2400.0
"""Above this the resonance of coils and cable decides."""
BOUND_DB = 10.0
"""A bound counts as a reading where the harmonic was expected this much higher."""
CLEAR_OF_NODE_DB = -6.0
"""And only where the place is far from a node: there, weak is no wonder; the lowest always counts."""
FEWEST_READINGS = 6


@dataclass(frozen=True)
class _FaultWeight:
    """A fault of one setting (None: of all) with its log weight, prior included, and how much it takes."""

    setting: str | None
    code: HealthCode
    weight: float
    detail_db: float


def faulty_settings(plucks: Sequence[HealthPluck]) -> tuple[HealthFinding, ...]:
    """Findings about settings of one pickup; ``plucks`` are on such settings only."""
    heard = [p for p in plucks if np.any(p.usable)]
    if not heard:
        return ()
    readings = readings_of(heard, with_bounds=_informative_bounds(heard))
    keep = readings.hz < HIGHEST_HZ
    readings = readings.only(keep)
    if len(readings.level_db) < FEWEST_READINGS:
        return ()
    faults = _fault_weights(readings, level_model(readings))
    return _most_probable_fault(readings, faults)


def _fault_weights(readings: LevelReadings, model: LevelModel) -> list[_FaultWeight]:
    """Every fault's weight against a sound guitar's, which is 0."""
    found = model.whitened(readings.level_db - model.mean)
    shapes = list(fault_responses(readings.hz))
    scopes: list[tuple[str | None, NDArray[np.bool_], Mapping[HealthCode, float]]] = [
        (name, readings.setting == k, FAULT_PRIOR) for k, name in enumerate(readings.settings)
    ]
    scopes.append((None, np.ones(len(found), dtype=np.bool_), FAULT_PRIOR_ALL))
    faults = []
    for name, rows, prior in scopes:
        wanted = [s for s in shapes if s.code in prior]
        shifts = model.whitened(np.stack([s.change_db * rows for s in wanted], axis=1))
        ratios = _log_ratios(found, shifts)
        faults += [_fault_weight(name, code, wanted, ratios, math.log(p)) for code, p in prior.items()]
    return faults


def _log_ratios(found: Array, shifts: Array) -> Array:
    """Log-likelihood ratio of each shift, (shapes,), by a multivariate t."""
    without = float(np.sum(np.square(found)))
    left = np.sum(np.square(found[:, np.newaxis] - shifts), axis=0)
    return np.asarray(-0.5 * (FREEDOM + len(found)) * np.log((FREEDOM + left) / (FREEDOM + without)))


def _fault_weight(
    setting: str | None, code: HealthCode, shapes: list[FaultResponse], ratios: Array, prior: float
) -> _FaultWeight:
    mine = [k for k, s in enumerate(shapes) if s.code == code]
    weights = ratios[mine]
    best = mine[int(np.argmax(weights))]
    return _FaultWeight(
        setting, code, prior + EVIDENCE_WEIGHT.get(code, 1.0) * log_mean(weights), shapes[best].detail_db
    )


def _most_probable_fault(readings: LevelReadings, faults: list[_FaultWeight]) -> tuple[HealthFinding, ...]:
    """The setting that is most probably at fault, where that is sure, with the fault that says most."""
    total = np.logaddexp.reduce([0.0] + [c.weight for c in faults])
    scopes = dict.fromkeys(c.setting for c in faults)
    sure = {
        s: float(np.exp(np.logaddexp.reduce([c.weight for c in faults if c.setting == s]) - total))
        for s in scopes
    }
    worst = max(scopes, key=lambda s: sure[s])
    if sure[worst] < FAULT_PROBABLE:
        return ()
    best_fault = max(
        (c for c in faults if c.setting == worst),
        key=lambda c: c.weight + (CAUSE_NATS if c.code == UNEXPLAINED else 0.0),
    )
    return (HealthFinding(best_fault.code, worst, None, round(best_fault.detail_db, 1), sure[worst]),)


def _informative_bounds(plucks: Sequence[HealthPluck]) -> list[NDArray[np.bool_]]:
    """Which unusable harmonics of each pluck the other settings lead one to expect well above their bound."""
    places = [_place(p) for p in plucks]
    clean = [
        (p.setting, string_of(p), np.where(p.usable, p.levels_db - place, np.nan))
        for p, place in zip(plucks, places, strict=True)
    ]
    usual = {
        (setting, string, count): _usual_elsewhere(clean, setting, string, count)
        for (setting, string, _), count in zip(clean, (len(p.usable) for p in plucks), strict=True)
    }
    missed = []
    for p, place, (setting, string, _) in zip(plucks, places, clean, strict=True):
        expected = usual[setting, string, len(p.usable)] + place
        bound = np.where(np.isfinite(p.levels_db), p.levels_db, np.inf)
        missed.append(~p.usable & (expected > bound + BOUND_DB) & (place > CLEAR_OF_NODE_DB))
    return missed


def _usual_elsewhere(
    clean: Sequence[tuple[str, tuple[str, int], Array]], setting: str, string: tuple[str, int], count: int
) -> Array:
    """Median level of ``count`` harmonics of a string on the other settings; minus infinity: not heard.

    ``clean``: setting, string and levels at an antinode of each pluck, NaN where a level is not usable.
    """
    others = [c[:count] for s, played, c in clean if s != setting and played == string and len(c) >= count]
    usual = np.full(count, -np.inf)
    if others:
        table = np.stack(others)
        heard = ~np.isnan(table).all(axis=0)
        usual[heard] = np.nanmedian(table[:, heard], axis=0)
    return usual


def _place(pluck: HealthPluck) -> Array:
    return np.asarray(place_levels_db(pluck, np.arange(1.0, len(pluck.levels_db) + 1)).mean(axis=0))


LOUDER_DB = 10.0
"""A coil alone hums 12 to 20 dB more than two whose areas differ by a tenth to a quarter."""
MOST_PROBABLE_DB = 15.0
"""So much louder than the quietest setting, it is as sure as this gets."""
LIKE_SINGLE_DB = 6.0
"""Where single coils are there to compare with: no further below them than this."""
SPLIT_WEAKER_DB = 3.0
"""Where there are none: so much weaker on the strings than the quiet pickup; half of two coils loses 6 dB."""
LOWEST_HARMONICS = 3
"""No pickup lies near a node of these."""
MOST_PROBABLE = 0.9
"""Hum differs with how the guitar is held from take to take: a hint, no more."""


def humming_settings(
    plucks: Sequence[HealthPluck], *, hum_db: Mapping[str, float]
) -> tuple[HealthFinding, ...]:
    """Settings of one two-coil pickup that hum like a single coil; ``hum_db``: level by setting."""
    hums = {p.setting: p.mix.sources[0].hums for p in plucks if p.mix.alone and p.setting in hum_db}
    singles = sorted(hum_db[s] for s, alone in hums.items() if alone)
    quietest = min(hum_db, key=lambda s: hum_db[s], default=None)
    found = []
    for setting, alone in hums.items():
        if alone or quietest is None or hum_db[setting] - hum_db[quietest] < LOUDER_DB:
            continue
        if singles:
            suspect = hum_db[setting] > singles[len(singles) // 2] - LIKE_SINGLE_DB
        else:
            suspect = _level_db(plucks, setting) < _level_db(plucks, quietest) - SPLIT_WEAKER_DB
        if suspect:
            louder = hum_db[setting] - hum_db[quietest]
            sure = MOST_PROBABLE * min(1.0, 0.5 + 0.5 * (louder - LOUDER_DB) / (MOST_PROBABLE_DB - LOUDER_DB))
            found.append(
                HealthFinding("hums although it has two coils", setting, quietest, round(louder, 1), sure)
            )
    return tuple(found)


def _level_db(plucks: Sequence[HealthPluck], setting: str) -> float:
    """Median level of the lowest harmonics at an antinode; minus infinity where it was not heard alone."""
    levels = [
        (p.levels_db - place_levels_db(p, np.arange(1.0, len(p.levels_db) + 1)).mean(axis=0))[
            :LOWEST_HARMONICS
        ]
        for p in plucks
        if p.setting == setting and p.mix.alone and p.usable[:LOWEST_HARMONICS].all()
    ]
    return float(np.median(levels)) if levels else -math.inf


TWIN_PRIOR = 0.02
"""How often two settings of a job are the same by mistake (assumed)."""
TWIN_PROBABLE = 0.95
TWIN_EVIDENCE_WEIGHT = 0.65
"""The ratio counts by this part: hands are steadier on one setting, and less so on another, than the model
has it. Counted in full, it took settings of sound simulated guitars for the same in one job of fifty."""
SAMPLES = 400
"""Places and strengths tried; always the same ones."""
FEWEST_PLUCKS = 2


@dataclass(frozen=True)
class SettingSimilarity:
    """Of two settings: log odds, beyond what is usual, that one thing was on the jack, and their distance."""

    settings: tuple[str, str]
    nats: float
    apart_db: float

    @property
    def sure(self) -> float:
        """How sure it is that they are the same, ``FAULT_PRIOR`` taken in."""
        return 1 / (1 + math.exp(-self.nats - math.log(TWIN_PRIOR / (1 - TWIN_PRIOR))))


def setting_similarities(plucks: Sequence[HealthPluck]) -> tuple[SettingSimilarity, ...]:
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
            found.append(
                SettingSimilarity(
                    (a, b), TWIN_EVIDENCE_WEIGHT * _similarity_ratio(readings), round(_apart_db(readings), 1)
                )
            )
    return tuple(found)


def twin_settings(
    similarities: Sequence[SettingSimilarity], *, least: float = TWIN_PROBABLE
) -> tuple[HealthFinding, ...]:
    """Every pair of settings that are the same, as sure as ``least`` or more."""
    return tuple(
        HealthFinding("twin settings", *one.settings, one.apart_db, one.sure)
        for one in similarities
        if one.sure >= least
    )


def _shared(readings: LevelReadings) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which readings have one of the other setting at the same harmonic of the same string."""
    same = np.equal.outer(readings.string, readings.string) & np.equal.outer(
        readings.harmonic, readings.harmonic
    )
    return np.asarray((same & ~np.equal.outer(readings.setting, readings.setting)).any(axis=1))


def _similarity_ratio(readings: LevelReadings) -> float:
    """Log-likelihood ratio of "the same" to "two settings"; these may add or oppose each other inside."""
    same = string_covariance(readings)
    fall = -FALL_DB * np.log2(readings.harmonic)
    differ = same + setting_covariance(readings)
    apart = [
        _log_density(readings.level_db - fall - mean, differ + spread)
        for mean, spread in _settings_apart(readings)
    ]
    return _log_density(readings.level_db - fall, same) - log_mean(np.array(apart))


def _settings_apart(readings: LevelReadings) -> list[tuple[Array, Array]]:
    """Mean and covariance of what the two settings add to the levels, for each pattern of signs.

    Plucks of one setting on one string, with the same harmonics, have the same, which is computed once.
    """
    numbers = sorted({s.sign for p in readings.plucks for s in p.mix.sources})
    rng = np.random.default_rng(SAMPLES)
    quantiles = {k: rng.uniform(0, 1, SAMPLES) for k in numbers}
    strength = {k: 10 ** (STRENGTH_DB * rng.standard_normal(SAMPLES) / 20) for k in numbers}
    distinct: dict[tuple[int, int, bytes], tuple[int, HealthPluck, Array]] = {}
    place = np.empty(len(readings.hz), dtype=np.int64)
    count = 0
    for k, pluck in enumerate(readings.plucks):
        rows = readings.pluck == k
        harmonic = readings.harmonic[rows]
        first, *_ = distinct.setdefault(
            (id(pluck.mix), pluck.fret, harmonic.tobytes()), (count, pluck, harmonic)
        )
        count = max(count, first + len(harmonic))
        place[rows] = first + np.arange(len(harmonic))
    out = []
    for pattern in sign_patterns(len(numbers)):
        signs = dict(zip(numbers, pattern, strict=True))
        level = np.empty((SAMPLES, count))
        for first, pluck, harmonic in distinct.values():
            total = np.zeros((SAMPLES, len(harmonic)))
            for source, weight in zip(pluck.mix.sources, weights_of(pluck.mix), strict=True):
                turn = signs[source.sign] * (-1 if source.reversed else 1) * weight
                factor = source_factors(source, harmonic, quantiles[source.sign], fret=pluck.fret)
                total += turn * strength[source.sign][:, np.newaxis] * factor
            level[:, first : first + len(harmonic)] = factor_db(total, harmonic)
        spread = np.cov(level, rowvar=False, bias=True).reshape(count, count)
        out.append((level.mean(axis=0)[place], spread[np.ix_(place, place)]))
    return out


def _log_density(deviation: Array, covariance: Array) -> float:
    """Multivariate t, but for a constant."""
    factor = scipy.linalg.cholesky(covariance, lower=True)
    white = scipy.linalg.solve_triangular(factor, deviation, lower=True)
    spread = -0.5 * (FREEDOM + len(deviation)) * math.log1p(float(white @ white) / FREEDOM)
    return spread - float(np.sum(np.log(np.diag(factor))))


def _apart_db(readings: LevelReadings) -> float:
    """How far the two settings' mean levels lie apart."""
    means = [float(np.mean(readings.level_db[readings.setting == k])) for k in (0, 1)]
    return abs(means[0] - means[1])
