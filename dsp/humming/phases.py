"""Whether hum comes out of two settings in step or turned over, within one take.

Task: windings from the phases of the mains lines: two channels of a hum take, or the stretches of a switch
take. Shapes: lines as in dsp.humming.lines, tables (2,) * count over winding signs as in dsp.mixes. Units:
natural logarithms; angles in degrees. Signs: a positive ratio says "wound alike", index 0 of a table is +1;
turning a signal over changes no relation within a channel and turns a ratio between channels over.

What stays unsure: hum that comes in by capacitance ignores the winding (design, section 2), so it always
looks "wound alike". A relation far from none or half a turn shows that some of it is there; then "all
alike" is marked down, and the others are not. The real-gain likelihood is that of the trials; a line may mean
nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dsp.conditioning import ANALYSIS_RATE
from dsp.humming.lines import CLEAR_HUM, HumLines, lines_together
from dsp.mixes import Mix, Source, sign_patterns, signs_in, table_of, weights_of

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

MOST = 4.0
"""Nats between the best and the worst pattern: no single take is certain."""
LINE_MEANS_NOTHING = 0.05
"""Chance that one line has nothing to do with the windings (trials)."""
INCOHERENT = 0.2
"""Part of an amplitude that follows no winding: other sources of field, stray hum."""
RESIDUE = 0.05
"""What is left where everything cancels, as a part of one pickup."""
PICKUPS_DB = 4.0
"""Standard deviation of a pickup's hum against another's: areas, and a field that is not even."""
CHANNELS_DB = 8.0
"""The same between two channels, whose gains are not known."""
WEIGHTS_DB = 2.0
"""Standard deviation of a weight in a sum: impedances at hum are not resistances alone."""
WHOLE_HUMBUCKER_DB = (-20.0, 6.0)
"""What two coils leave of the hum of one (mean, standard deviation), of either sign."""
DRAWS = 120
SCALES = (0.03, 0.1, 0.3, 1.0)
"""Powers at which a line is tried, relative to its largest."""
CLOCK_STEPS = np.linspace(-2.4, 2.4, 9)
"""Mains frequencies tried, in standard deviations of its error."""
STRAIGHT_DEG = 12.0
"""Pickups wound alike stood within this of each other on simulated benches: loads differ."""
ASKEW_DEG = 30.0
"""From here on "all alike" says nothing: half the hum's power or more is stray."""
BETWEEN_DEG = (40.0, 70.0)
"""Where even the straightest line is further off, little is said, and nothing from the second on."""
CLEAR_LINE = 8.0


def hum_phase_ratio(a: HumLines, b: HumLines, *, rate: int = ANALYSIS_RATE) -> float:
    """Log ratio "wound alike : against each other" of two channels of one take, or of two stretches.

    Negating either turns it over, exchanging the two changes nothing, noise gives 0. Where the lines stand
    askew, "alike" is marked down towards 0 and "against" is not; so give a channel that is known to invert
    turned over.
    """
    both = [(a, Mix((Source(0),))), (b, Mix((Source(1),)))]
    if any(_drowned(lines, mix) for lines, mix in both):
        return 0.0
    scores = _scores(both, count=2, spread_db=CHANNELS_DB, rate=rate)
    alike, against = _marked_down(scores, angles=_askew(both, rate=rate))
    return float(np.clip(alike - against, -MOST, MOST))


def hum_phase_table(
    stretches: Sequence[tuple[HumLines, Mix]], *, count: int, rate: int = ANALYSIS_RATE
) -> Array:
    """Log likelihoods over winding signs, (2,) * count, from stretches of one channel of one take.

    A pickup whose two coils both sound cancels by itself: the table is flat along its axis.
    """
    heard = [(lines, mix) for lines, mix in stretches if not _drowned(lines, mix)]
    if len(heard) <= 1:
        return np.zeros((2,) * count)
    scores = _scores(heard, count=count, spread_db=PICKUPS_DB, rate=rate)
    scores = _marked_down(scores, angles=_askew(heard, rate=rate))
    return table_of(clipped(scores), count)


def hum_in_stretches(
    x: Array,
    *,
    stretches: Sequence[tuple[int, int]],
    mains_hz: int | None,
    partials_hz: Sequence[float] | None = None,
    rate: int = ANALYSIS_RATE,
) -> tuple[HumLines | None, ...]:
    """Lines of the stretches of one take, all referred to one sample, with one mains frequency.

    ``partials_hz``: partials of a string that rings meanwhile; a line next to one of them has an infinite
    error. None for a stretch that is too short.
    """
    middles = [(start + stop) / 2 for start, stop in stretches]
    return lines_together(
        [x],
        stretches=stretches,
        mains_hz=mains_hz,
        partials_hz=partials_hz,
        reference=float(np.mean(middles)) if middles else 0.0,
        rate=rate,
    )


def askew_degrees(stretches: Sequence[tuple[HumLines, Mix]], *, rate: int = ANALYSIS_RATE) -> float:
    """How far, at most, a clear line of two single coils stands from none or half a turn, beyond its error.

    0 to 90; a large angle means that part of the hum ignores the winding: it is not magnetic.
    """
    return max(_askew(stretches, rate=rate), default=0.0)


def _askew(stretches: Sequence[tuple[HumLines, Mix]], *, rate: int) -> list[float]:
    """Angles of all clear lines of all pairs of single coils, from none or half a turn, less their error."""
    single = [lines for lines, mix in stretches if mix.alone and mix.sources[0].coils == 1]
    found: list[float] = []
    for i, a in enumerate(single):
        for b in single[i + 1 :]:
            aligned = b.referred_to(a.reference, rate=rate)
            clear_a = np.abs(a.amplitudes) / np.maximum(a.error, 1e-30)
            clear_b = np.abs(aligned.amplitudes) / np.maximum(aligned.error, 1e-30)
            use = (clear_a > CLEAR_LINE) & (clear_b > CLEAR_LINE)
            if not use.any():
                continue
            product = aligned.amplitudes[use] * np.conj(a.amplitudes[use])
            angle = np.degrees(np.abs(np.angle(product)))
            apart_s = abs(b.centre - a.centre) / rate
            clock = 2 * np.pi * np.array(a.numbers)[use] * a.fundamental_error_hz * apart_s
            unsure = np.degrees(np.sqrt(1 / clear_a[use] ** 2 + 1 / clear_b[use] ** 2 + clock**2))
            found += np.maximum(np.minimum(angle, 180 - angle) - 2 * unsure, 0.0).tolist()
    return found


def clipped(scores: Array) -> Array:
    """Scores whose worst lies at most ``MOST`` below the best."""
    return np.asarray(np.maximum(scores, scores.max() - MOST))


def drawn_gains(mixes: Sequence[Mix], *, count: int, pickups: Array, draws: int) -> Array:
    """Signed gain of each mix, (patterns, draws, mixes), for every pattern of winding signs.

    ``pickups`` (draws, count): magnitudes. Weights are drawn from their spread, the same for all patterns;
    what a whole humbucker leaves has a drawn sign of its own, whatever the pattern.
    """
    rng = np.random.default_rng(0)
    mean_db, sd_db = WHOLE_HUMBUCKER_DB
    left = 10 ** ((mean_db + sd_db * rng.standard_normal((draws, count))) / 20)
    left = left * rng.choice([-1.0, 1.0], size=(draws, count))
    patterns = sign_patterns(count)
    gains = np.zeros((len(patterns), draws, len(mixes)))
    loose_of: dict[Mix, Array] = {}
    for column, mix in enumerate(mixes):
        if mix not in loose_of:
            loose_of[mix] = WEIGHTS_DB * rng.standard_normal((draws, len(mix.sources)))
        loose = 10 ** (loose_of[mix] / 20) if not mix.alone else np.ones((draws, 1))
        weights = weights_of(mix) * loose
        if mix.join == "parallel":
            weights = weights / weights.sum(axis=1, keepdims=True)
        for row, signs in enumerate(patterns):
            for k, (source, sign) in enumerate(zip(mix.sources, signs_in(mix, signs), strict=True)):
                if source.coils == 1:
                    gains[row, :, column] += sign * weights[:, k] * pickups[:, source.sign]
                else:
                    gains[row, :, column] += weights[:, k] * left[:, source.sign]
    return gains


def _drowned(lines: HumLines, mix: Mix) -> bool:
    """Whether one coil's hum cannot be told from noise."""
    return mix.alone and mix.sources[0].coils == 1 and lines.clearness < CLEAR_HUM


def _marked_down(scores: Array, *, angles: Sequence[float]) -> Array:
    """Scores (patterns,) in which every pattern may look like the first, "all alike", by stray hum."""
    if not angles:
        return scores
    stray = _share(max(angles), STRAIGHT_DEG, ASKEW_DEG)
    if stray > 0:
        scores = np.asarray(np.maximum(scores, scores[0] + np.log(stray)))
    between = _share(min(angles), *BETWEEN_DEG)
    if between > 0:
        scores = np.asarray(np.maximum(scores, scores.max() + np.log(between)))
    return scores


def _share(value: float, low: float, high: float) -> float:
    return float(np.clip((value - low) / (high - low), 0.0, 1.0))


def _scores(stretches: Sequence[tuple[HumLines, Mix]], *, count: int, spread_db: float, rate: int) -> Array:
    """Log likelihood of each pattern, (patterns,): one unknown field a line, seen through real gains."""
    reference = stretches[0][0].reference
    lines = [one.referred_to(reference, rate=rate) for one, _ in stretches]
    apart_s = np.array([one.centre for one in lines]) / rate
    apart_s = apart_s - apart_s.mean()
    unsure_hz = max(one.fundamental_error_hz for one in lines)
    steps = unsure_hz * CLOCK_STEPS if np.ptp(apart_s) > 0 else np.zeros(1)
    prior = -0.5 * CLOCK_STEPS**2 if len(steps) > 1 else np.zeros(1)
    pickups = 10 ** (spread_db * np.random.default_rng(2).standard_normal((DRAWS, count)) / 20)
    gains = drawn_gains([mix for _, mix in stretches], count=count, pickups=pickups, draws=DRAWS)
    amplitudes = np.array([one.amplitudes for one in lines])
    errors = np.array([one.error for one in lines])
    numbers = lines[0].numbers
    total = np.zeros((len(steps), *gains.shape[:2]))
    for k, n in enumerate(numbers):
        use = np.isfinite(errors[:, k])
        if np.count_nonzero(use) <= 1:
            continue
        noise = 2 * errors[use, k] ** 2
        for step, off_hz in enumerate(steps):
            turned = amplitudes[use, k] * np.exp(-2j * np.pi * n * off_hz * apart_s[use])
            total[step] += _line_score(turned, noise=noise, gains=gains[:, :, use])
    total += (prior - np.logaddexp.reduce(prior))[:, np.newaxis, np.newaxis]
    return np.asarray(np.logaddexp.reduce(np.logaddexp.reduce(total, axis=0), axis=1))


def _line_score(x: ComplexArray, *, noise: Array, gains: Array) -> Array:
    """Log likelihood of one line on all stretches, (patterns, draws)."""
    top = float(np.max(np.abs(x) ** 2))
    means, nothing = [], []
    for scale in SCALES:
        power = scale * top
        spread = noise + power * (INCOHERENT**2 * gains**2 + RESIDUE**2)
        along = np.sum(gains * x / spread, axis=-1)
        stands = 1 + power * np.sum(gains**2 / spread, axis=-1)
        fit = np.sum(np.abs(x) ** 2 / spread, axis=-1) - power * np.abs(along) ** 2 / stands
        means.append(-fit - np.sum(np.log(spread), axis=-1) - np.log(stands))
        loose = noise + power * (gains**2 + RESIDUE**2)
        nothing.append(-np.sum(np.abs(x) ** 2 / loose + np.log(loose), axis=-1))
    share = LINE_MEANS_NOTHING
    return np.asarray(
        np.logaddexp(
            np.logaddexp.reduce(means, axis=0) + np.log(1 - share),
            np.logaddexp.reduce(nothing, axis=0) + np.log(share),
        )
    )
