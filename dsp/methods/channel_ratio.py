"""Channel ratio: what the complex ratio of the two channels of a paired pluck tells beyond its sign.

Task: from one pluck on two channels, (1) whether they carry one pickup or two, (2) how far the second is
above the first, (3) how the string moves over the poles, (4) whether the channels go with two pickups at
their places. Shapes: two signals (frames,) of one recording at
the analysis rate; amplitudes (windows, partials). Units: dB, natural logarithms, Hz, seconds. Sign: none;
turning a channel over changes nothing here, and exchanging them turns ``level_db`` over.

One pickup on both inputs, or a dead pickup into which the other bleeds, has one ratio for all partials, flat
but for a gentle slope, and what is left beside it is noise. Two pickups differ by their places, by
sin(n pi x_a / L) against sin(n pi x_b / L) (sources S3), and by what each hears of sideways motion. A string
moves in two directions with slightly different pitch and decay: where one channel senses another mixture of
the two than the other, the ratio wanders. Where one channel shows both motions and the ratio stands still,
both channels sense the same mixture, which strings beside the poles of one pickup do not allow.

Levels and phases of the partials go with two places on the string. Where each channel also holds some of the
other's pickup (pan knobs not fully out, a mixer, wiring), or the coils of one oppose each other, they go with
others than those that were measured, and the lowest partials may have the wrong sign.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.model.calibration import LEVELS_FREEDOM
from dsp.model.settings import NODE_FLOOR, Place, Source, source_factors
from dsp.signal.pitch import Pitch
from dsp.signal.samples import ANALYSIS_RATE
from dsp.signal.waves import framed_sums, turns_of

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

MOST_PARTIALS = 12
HIGHEST_HZ = 4000.0
WINDOW_PERIODS = 6
"""A Hann window of whole periods has its nulls at the other partials."""
SHORTEST_WINDOW_S = 0.05
BEGINS_S = 0.008
"""After the onset: the pick itself is left out."""
LASTS_S = 0.75
LEAST_SNR_DB = 8.0
"""A partial counts that stands so far above the noise on both channels."""
FLOOR_DB = 90.0
"""Noise is never taken to be further below the strongest partial."""
OVERLAP = 1.5
"""Windows that overlap by half: so many of them are one independent one."""

COPY_DB = 0.5
"""What a partial's level ratio of one signal heard twice may be off besides noise."""
SLOPE_DB = 1.5
"""Per octave: inputs and cables are that unlike (one standard deviation, assumed)."""
BEND_DB = 0.7
"""Per octave squared: crosstalk that rises with frequency is no straight slope."""
GAIN_DB = 20.0
"""Spread of the gain between two channels, the same for one pickup and for two."""
COMB_DB = (2.0, 0.5)
"""Two pickups: spread of a partial's level about its places' comb, and how it grows with its number."""
PLACES = 64
"""Pairs of places that stand for their tolerance."""
SPREADING = (0.7548776662466927, 0.5698402909980532)
"""Steps of a sequence that fills a square evenly: 1/p and 1/p^2 with p^3 = p + 1."""
FEWEST_LEVELS = 2
"""One level alone is a gain and nothing else."""
WRONG_PLACES = 0.1
"""How often measured places are of no use: exchanged, or measured from the wrong end."""

PLACED_PHASE_RAD = 0.4
"""Spread of a partial's phase about straight or turned over, where it goes by its place."""
PLACED_ASTRAY = 0.15
"""How often a partial's phase says nothing of its place (sideways motion, a node)."""
NOWHERE_DB = 8.0
"""Spread of a partial's level where it goes with no place."""
ANYWHERE = 24
"""Places along each pickup's part of the string that stand for "anywhere"."""
MISPLACED_FIT = (-6.0, 0.4)
"""What all plucks of a pair say: so many nats more, times this, since partials are not as independent as they
are taken to be. Of 48 simulated jobs of sound pairs (ordinary, plucked along the body, noisy) 46 said less
than nothing with it, and the most 3.5; four jobs with mixed channels or opposing coils 13 and more."""

COPY_EXCESS_DB = 4.0
"""Of one signal heard twice, what is incoherent is noise alone, give or take this (t with 4 degrees)."""
PAIR_EXCESS_DB = (16.0, 10.0)
"""Of two pickups it stands that far above the noise (mean and spread on the bench simulator)."""
EXCESS_FREEDOM = 4.0
EXCESS_SNR_DB = 25.0
"""Incoherence is looked at where a partial stands so far above the noise."""
LEADING = 3
"""Partials whose level and wander are measured: they have one sign up to a quarter of the string."""
LEAST_INCOHERENCE = 1e-6
LEAST_WANDER = 0.1
"""Noise is never taken to explain more than the rest of what is incoherent."""

ALIKE_MOST = 4.0
"""Nats that one take may say of one pickup or two. Of some 760 simulated plucks of two pickups one in a
hundred said more than 3 for one, none more than 8; of as many of one pickup none spoke for two."""
BESIDE_FIT = (2.41, 0.21, 0.27)
"""Logistic fit, nats: constant, mean wander of a job's plucks and its smallest ``uneven_db``, each per dB.
Strings beside the poles of one pickup or two, plucked along the body so that the sign came out wrong (51
jobs), against strings over them (79 jobs); bench simulator, ordinary and unlike conditions. Of the former
none had less than -0.4 nats, levels included; of the latter half had less than -4, nine in ten less than
-0.7."""
OFF_LEVEL_FIT = (-0.84, 1.67)
OFF_LEVEL_DB = (2.0, 6.0)
"""The same for log(1 + distance / 6 dB) of the level from the usual 2 dB (the neck's strings swing wider)."""
BLEEDS_DB = (-70.0, -20.0)
"""What bleeds in from the other input lies evenly between these."""
WEAK_DB = 8.0
"""Spread of one pickup's level about another's, the gains known."""
SPLIT_LEVEL_DB = 0.7
"""One pickup heard twice is as loud as in the split check, within so much."""
BETWEEN_SHARE = 0.001
"""How often a pickup on both inputs is neither that loud nor so weak as bleed, because a knob was moved after
the split check or something stands in between (a guess)."""


@dataclass(frozen=True, eq=False)
class PartialRatios:
    """Second channel over the first at each partial of one pluck that is clear on both, all (partials,).

    ``numbers`` of the partials; ``spread_db``: what noise makes of the level. Places as they were entered.
    """

    numbers: Array
    level_db: Array
    phase_rad: Array
    spread_db: Array
    place_a: Place
    place_b: Place
    fret: int = 0

    def exchanged(self) -> PartialRatios:
        """The first channel over the second."""
        return replace(
            self,
            level_db=-self.level_db,
            phase_rad=-self.phase_rad,
            place_a=self.place_b,
            place_b=self.place_a,
        )


@dataclass(frozen=True)
class ChannelRatio:
    """What the ratio of the channels of one pluck shows.

    ``alike``: log-likelihood ratio, in nats and not limited, of one pickup on both channels against two.
    ``level_db``: second channel over the first, the comb of their places taken out. ``wander_db``: the part
    of the leading partials that neither a constant ratio nor noise explains. ``uneven_db``: that over the
    part of the steadier channel that one decaying motion does not explain. None where noise covers them.
    ``partials``: the ratio itself, which ``misplaced_ratio`` looks at over several plucks.
    """

    alike: float
    level_db: float | None
    wander_db: float | None
    uneven_db: float | None
    partials: PartialRatios | None = None


@dataclass(frozen=True, eq=False)
class ChannelAmplitudes:
    """Complex amplitudes of both channels, (windows, partials), and their noise power, (partials,).

    ``numbers`` of the partials, (partials,).
    """

    a: ComplexArray
    b: ComplexArray
    noise_a: Array
    noise_b: Array
    numbers: Array


def channel_ratio(
    a: Array,
    b: Array,
    *,
    onset: int,
    pitch: Pitch,
    quiet: int | None = None,
    stop: int | None = None,
    place_a: Place | None = None,
    place_b: Place | None = None,
    fret: int = 0,
) -> ChannelRatio | None:
    """Compare the channels of one pluck; None where it rings too shortly.

    The noise is measured before sample ``quiet``, ``onset`` itself if left out; ``stop``: where the next
    pluck or the end of the sound begins. Places that are not known may be anywhere.
    """
    amplitudes = channel_amplitudes(a, b, onset=onset, pitch=pitch, quiet=quiet, stop=stop)
    if amplitudes is None:
        return None
    return ratio_of(amplitudes, place_a=place_a or Place(), place_b=place_b or Place(), fret=fret)


def channel_amplitudes(
    a: Array, b: Array, *, onset: int, pitch: Pitch, quiet: int | None = None, stop: int | None = None
) -> ChannelAmplitudes | None:
    """Amplitudes of the partials in windows over the ringing; None with fewer than two windows."""
    periods = max(WINDOW_PERIODS, int(np.ceil(SHORTEST_WINDOW_S * pitch.f0_hz)))
    width = round(periods * ANALYSIS_RATE / pitch.f0_hz)
    first = onset + int(BEGINS_S * ANALYSIS_RATE)
    last = min(len(a), len(b), first + int(LASTS_S * ANALYSIS_RATE), len(a) if stop is None else stop)
    if last - first < 2 * width:
        return None
    numbers = np.array([n for n in range(1, MOST_PARTIALS + 1) if pitch.partial_hz(n) < HIGHEST_HZ])
    hz = np.array([pitch.partial_hz(int(n)) for n in numbers])
    before = min(onset, onset if quiet is None else quiet) - int(BEGINS_S * ANALYSIS_RATE)
    ringing = [_amplitudes(x[first:last], hz=hz, width=width) for x in (a, b)]
    still = [_amplitudes(x[: max(0, before)], hz=hz, width=width) for x in (a, b)]
    noise = []
    for heard, waiting in zip(ringing, still, strict=True):
        floor = 10 ** (-FLOOR_DB / 10) * float(np.max(np.mean(np.abs(heard) ** 2, axis=0), initial=0.0))
        power = np.mean(np.abs(waiting) ** 2, axis=0) if len(waiting) else np.zeros(len(hz))
        noise.append(np.maximum(power, max(floor, np.finfo(float).tiny)))
    return ChannelAmplitudes(ringing[0], ringing[1], noise[0], noise[1], numbers)


def _amplitudes(x: Array, *, hz: Array, width: int) -> ComplexArray:
    """Amplitudes (windows, partials) in Hann windows that overlap by half; each has its own start's phase."""
    window = np.hanning(width + 1)[:width]
    return framed_sums(x, -turns_of(hz), window=2 * window / window.sum(), hop=width // 2)


def ratio_of(amplitudes: ChannelAmplitudes, *, place_a: Place, place_b: Place, fret: int = 0) -> ChannelRatio:
    """What the amplitudes of one pluck show."""
    power_a, power_b = (np.mean(np.abs(x) ** 2, axis=0) for x in (amplitudes.a, amplitudes.b))
    snr_a = np.maximum(power_a / amplitudes.noise_a - 1, 0.0)
    snr_b = np.maximum(power_b / amplitudes.noise_b - 1, 0.0)
    clear = np.minimum(snr_a, snr_b) > 10 ** (LEAST_SNR_DB / 10)
    if not clear.any():
        return ChannelRatio(0.0, None, None, None)
    numbers, snr_a, snr_b = amplitudes.numbers[clear], snr_a[clear], snr_b[clear]
    level = 10 * np.log10(snr_b * amplitudes.noise_b[clear] / (snr_a * amplitudes.noise_a[clear]))
    noise = 1 / snr_a + 1 / snr_b
    windows = max(1.0, len(amplitudes.a) / OVERLAP)
    spread = 20 / np.log(10) * np.sqrt(noise / windows)
    incoherent = _incoherent(amplitudes.a, amplitudes.b)[clear]
    comb = _combs(numbers, place_a, place_b, fret=fret)
    anywhere = _combs(numbers, Place(), Place(), fret=fret)
    alike = _levels_alike(numbers, level, spread, comb, anywhere) + _coherence_alike(incoherent, noise)
    leading = numbers <= LEADING
    phase = np.angle(np.sum(amplitudes.b * amplitudes.a.conj(), axis=0)[clear])
    partials = PartialRatios(numbers, level, phase, spread, place_a, place_b, fret)
    if not leading.any():
        return ChannelRatio(alike, None, None, None, partials)
    wander = _beyond_noise(incoherent, noise)[leading]
    own = np.minimum(
        _own_motions(amplitudes.a[:, clear], amplitudes.noise_a[clear]),
        _own_motions(amplitudes.b[:, clear], amplitudes.noise_b[clear]),
    )[leading]
    return ChannelRatio(
        alike,
        float(np.mean(level[leading] - np.median(comb, axis=0)[leading])),
        float(np.mean(wander)),
        float(np.mean(wander - own)),
        partials,
    )


def _incoherent(one: ComplexArray, other: ComplexArray) -> Array:
    """Part of each partial that no constant ratio of two rows of windows explains, (partials,)."""
    size = np.sum(np.abs(one) ** 2, axis=0) * np.sum(np.abs(other) ** 2, axis=0)
    cross = np.abs(np.sum(other * one.conj(), axis=0)) ** 2
    return np.asarray(np.maximum(1 - cross / np.maximum(size, np.finfo(float).tiny), LEAST_INCOHERENCE))


def _beyond_noise(incoherent: Array, noise: Array) -> Array:
    """The same without the share of the noise, dB."""
    rest = np.maximum(incoherent - noise, LEAST_WANDER * incoherent)
    return np.asarray(10 * np.log10(np.maximum(rest, LEAST_INCOHERENCE)))


def _own_motions(x: ComplexArray, noise: Array) -> Array:
    """Part of each partial of one channel that one decaying motion does not explain, dB, (partials,).

    A single motion turns and decays by the same factor from any window to that half the ringing later.
    """
    half = max(1, round(len(x) / 2))
    early, late = x[:-half], x[half:]
    share = sum(noise / np.maximum(np.mean(np.abs(y) ** 2, axis=0), noise) for y in (early, late))
    return _beyond_noise(_incoherent(early, late), np.asarray(share))


def misplaced_ratio(plucks: Sequence[PartialRatios]) -> float:
    """Nats, not limited, that the channels of these plucks are not two pickups at the places that are known.

    Of plucks on the same two pickups in the same order; against it: both anywhere, or levels and signs that
    go with no place. A sign may go with the pluck. Turning a channel over, or exchanging them, changes
    nothing.
    """
    told = [pluck for pluck in plucks if len(pluck.numbers) >= FEWEST_LEVELS]
    if not told:
        return 0.0
    steps = np.arange(1, PLACES + 1)
    about = tuple(np.modf(0.5 + step * steps)[0] for step in SPREADING)
    grid = (np.arange(ANYWHERE) + 0.5) / ANYWHERE
    anywhere = (np.repeat(grid, ANYWHERE), np.tile(grid, ANYWHERE))

    def likelihood(quantiles: tuple[Array, ...], *, known: bool) -> float:
        each = sum(_fits(pluck, quantiles, known=known) for pluck in told)
        return float(scipy.special.logsumexp(each) - np.log(len(quantiles[0])))

    otherwise = np.logaddexp(likelihood(anywhere, known=False), sum(_fits_nowhere(p) for p in told))
    more, share = MISPLACED_FIT
    return float(more + share * (otherwise - likelihood(about, known=True)))


def _fits(pluck: PartialRatios, quantiles: tuple[Array, ...], *, known: bool) -> Array:
    """Log density of one pluck's levels and phases at each of the places, whichever way up, (places,)."""
    numbers = pluck.numbers
    covariance = _level_covariance(pluck, COMB_DB[0] + COMB_DB[1] * numbers)
    a, b = (
        source_factors(Source(0, place if known else Place()), numbers, each, fret=pluck.fret)
        for place, each in zip((pluck.place_a, pluck.place_b), quantiles, strict=True)
    )
    expected = 20 * np.log10(np.hypot(b, NODE_FLOOR) / np.hypot(a, NODE_FLOOR))
    along = np.cos(pluck.phase_rad) * np.where(a * b < 0, -1.0, 1.0)
    phases = (_log_ring(way).sum(axis=1) for way in (along, -along))
    return np.asarray(_log_t(pluck.level_db - expected, covariance) + np.logaddexp(*phases))


def _fits_nowhere(pluck: PartialRatios) -> float:
    """The same where neither levels nor signs of the partials go with a place."""
    covariance = _level_covariance(pluck, np.full(len(pluck.numbers), NOWHERE_DB))
    along = np.cos(pluck.phase_rad)
    either = np.logaddexp(_log_ring(along), _log_ring(-along)) - np.log(2)
    return float(_log_t(pluck.level_db[np.newaxis], covariance)[0] + either.sum())


def _level_covariance(pluck: PartialRatios, spread_db: Array) -> Array:
    """Of the levels of a pluck's partials, each with so much of its own: (partials, partials)."""
    octaves = np.log2(pluck.numbers)
    shared = GAIN_DB**2 + SLOPE_DB**2 * np.outer(octaves, octaves)
    return np.asarray(shared + np.diag(pluck.spread_db**2 + spread_db**2))


def _log_ring(along: Array) -> Array:
    """Log density of phases whose cosine from where they belong is ``along``."""
    near = np.log(1 - PLACED_ASTRAY) + (along - 1) / PLACED_PHASE_RAD**2 - _log_ring_whole()
    return np.asarray(np.logaddexp(near, np.log(PLACED_ASTRAY / (2 * np.pi))))


@cache
def _log_ring_whole() -> float:
    """What makes a von Mises density of ``PLACED_PHASE_RAD`` whole; to import it loads no scipy."""
    return float(np.log(2 * np.pi * scipy.special.ive(0, 1 / PLACED_PHASE_RAD**2)))


def _combs(numbers: Array, place_a: Place, place_b: Place, *, fret: int) -> Array:
    """Level of the second pickup over the first by their places alone, dB, (places, partials)."""
    each = []
    for place, step in ((place_a, SPREADING[0]), (place_b, SPREADING[1])):
        quantiles = np.modf(0.5 + step * np.arange(1, PLACES + 1))[0]
        factors = source_factors(Source(0, place), numbers, quantiles, fret=fret)
        each.append(20 * np.log10(np.hypot(factors, NODE_FLOOR)))
    return np.asarray(each[1] - each[0])


def _levels_alike(numbers: Array, level: Array, spread: Array, comb: Array, anywhere: Array) -> float:
    """Log-likelihood ratio of a flat ratio of levels against the comb of two places, here or anywhere."""
    if len(numbers) < FEWEST_LEVELS:
        return 0.0
    octaves = np.log2(numbers)
    shared = GAIN_DB**2 + SLOPE_DB**2 * np.outer(octaves, octaves)
    flat = shared + BEND_DB**2 * np.outer(octaves**2, octaves**2) + np.diag(spread**2 + COPY_DB**2)
    uneven = shared + np.diag(spread**2 + (COMB_DB[0] + COMB_DB[1] * numbers) ** 2)
    one = float(_log_t(level[np.newaxis], flat)[0])
    here, elsewhere = (
        float(scipy.special.logsumexp(_log_t(level - each, uneven)) - np.log(len(each)))
        for each in (comb, anywhere)
    )
    return one - float(np.logaddexp(here + np.log1p(-WRONG_PLACES), elsewhere + np.log(WRONG_PLACES)))


def _coherence_alike(incoherent: Array, noise: Array) -> float:
    """Log-likelihood ratio of noise alone beside a constant ratio against the wander of two pickups."""
    loud = noise < 10 ** (-EXCESS_SNR_DB / 10)
    if not loud.any():
        return 0.0
    excess = float(np.mean(10 * np.log10(incoherent[loud] / (noise[loud] + LEAST_INCOHERENCE))))
    mean, spread = PAIR_EXCESS_DB
    one = log_t(excess / COPY_EXCESS_DB) - np.log(COPY_EXCESS_DB)
    two = log_t((excess - mean) / spread) - np.log(spread)
    return float(one - two)


def log_t(deviation: float, *, freedom: float = EXCESS_FREEDOM) -> float:
    """Log density of a standardised deviation under Student's t."""
    constant = math.lgamma((freedom + 1) / 2) - math.lgamma(freedom / 2) - 0.5 * np.log(freedom * np.pi)
    return float(constant - (freedom + 1) / 2 * np.log1p(deviation**2 / freedom))


def _log_t(rows: Array, covariance: Array) -> Array:
    """Log density of rows under a multivariate t (sources T4), (rows,)."""
    root = np.linalg.cholesky(covariance)
    distance = np.sum(np.linalg.solve(root, rows.T) ** 2, axis=0)
    count = len(covariance)
    constant = math.lgamma((LEVELS_FREEDOM + count) / 2) - math.lgamma(LEVELS_FREEDOM / 2)
    constant -= count / 2 * np.log(LEVELS_FREEDOM * np.pi) + float(np.sum(np.log(np.diag(root))))
    return np.asarray(constant - (LEVELS_FREEDOM + count) / 2 * np.log1p(distance / LEVELS_FREEDOM))


def beside_ratio(wander_db: float, *, uneven_db: float) -> float:
    """Nats for strings beside the poles: mean wander of some plucks, and their smallest ``uneven_db``.

    One pluck in which the motion turned and the ratio stood still speaks against it for all strings.
    """
    constant, by_wander, by_uneven = BESIDE_FIT
    return constant + by_wander * wander_db + by_uneven * uneven_db


def off_level_ratio(level_db: float) -> float:
    """Nats for strings beside the poles of one pickup: its level over the other's, the gains taken out."""
    constant, slope = OFF_LEVEL_FIT
    usual, width = OFF_LEVEL_DB
    return constant + slope * float(np.log1p(abs(level_db - usual) / width))


def same_level_ratio(level_db: float) -> float:
    """Nats for one pickup on both inputs, from its level, the gains taken out by a split check.

    Heard twice a pickup comes out as loud as in the split check, or, as bleed, far below; something else was
    in between in few cases.
    """
    high = BLEEDS_DB[1]
    level = -abs(level_db)
    twice = np.logaddexp(
        np.log(1 - BETWEEN_SHARE) + log_t(level / SPLIT_LEVEL_DB) - np.log(SPLIT_LEVEL_DB),
        np.log(BETWEEN_SHARE) - np.log(-2 * high),
    )
    weak = log_t(level / WEAK_DB) - float(np.log(WEAK_DB))
    return 0.0 if level < high else float(twice - weak)


def bleed_ratio(level_db: float) -> float:
    """Nats for a dead pickup into which the other bleeds, from its level, the gains taken out; 0 or more."""
    low, high = BLEEDS_DB
    if not low <= level_db <= high:
        return 0.0
    weak = log_t(level_db / WEAK_DB) - float(np.log(WEAK_DB))
    return max(0.0, float(-np.log(high - low)) - weak)
