"""Relative winding sense from hum: by phase within one take, by level over several.

Task: tables over winding signs from (1) phases of the mains lines on two channels or on the stretches of a
switch take, (2) a switch take of hum alone, whose steps are found first, (3) levels of takes of pickups alone
and together. Shapes: lines as in `dsp.methods.hum`; one channel (frames,) at its own rate; stretches
(start, stop) at the analysis rate; tables (2,) * count, index 0 for +1. Units: natural logarithms, Hz,
seconds, degrees, dB.
Sign: turning a channel over changes no relation within it, and no level; between channels it turns the table
over along its axis.
Sources: P1, P2 (hum and windings), R2 (capacitive hum), T5 (real-gain likelihood), C3 (level of a sum:
|lambda V_a +/- (1 - lambda) V_b|).

Hum that comes in by capacitance ignores the winding and looks "wound alike". Where a relation is neither none
nor half a turn some of it is there: then "all alike" is discounted, and the other patterns are not. Levels,
weights and stray hum that are not known are sampled and averaged over. In a switch take a step shows in the
level or phase of the lines; a pop alone counts where the lines show too few steps, since two pickups that hum
alike step invisibly.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from dsp.methods.hum import (
    LEAST_HUM_POWER,
    NUMBERS,
    SHORTEST_S,
    HumLines,
    has_other_tone,
    lines_together,
    other_mains,
)
from dsp.model.settings import WEIGHT_DB, Mix, sign_patterns, signs_in, spread_weights, table_of, weights_of
from dsp.signal.codes import Fault, FaultCode
from dsp.signal.faults import recording_faults, refusals_and_remarks
from dsp.signal.samples import ANALYSIS_RATE, at_analysis_rate, band, checked

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

MOST_NATS = 4.0
"""Nats between the best and the worst pattern: no single take is certain."""
OUTLIER_SHARE = 0.05
"""Chance that one line has nothing to do with the windings (sources T5)."""
INCOHERENT_AMPLITUDE = 0.2
"""Part of an amplitude that follows no winding: other sources of field, stray hum."""
RESIDUAL_AMPLITUDE = 0.05
"""What is left where everything cancels, as a part of one pickup."""
PICKUPS_DB = 4.0
"""Standard deviation of a pickup's hum against another's: areas, and a field that is not even."""
WHOLE_HUMBUCKER_DB = (-20.0, 6.0)
"""What two coils leave of the hum of one (mean, standard deviation), of either sign."""
PHASE_SAMPLES = 120
SCALES = (0.03, 0.1, 0.3, 1.0)
"""Powers at which a line is tried, relative to its largest."""
CLOCK_STEPS = np.linspace(-2.4, 2.4, 9)
"""Mains frequencies tried, in standard deviations of its error."""
ALIGNED_DEG = 12.0
"""Pickups wound alike stood within this of each other on simulated benches: loads differ."""
MISALIGNED_DEG = 30.0
"""From here on "all alike" says nothing: half the hum's power or more is stray."""
ALL_MISALIGNED_DEG = (40.0, 70.0)
"""Where even the straightest line is further off, little is said, and nothing from the second on."""
PHASE_LINE_SNR = 8.0


def hum_phase_table(stretches: Sequence[tuple[HumLines, Mix]], *, count: int) -> Array:
    """Log likelihoods over winding signs, (2,) * count, from stretches of one channel of one take.

    A pickup whose two coils both sound cancels by itself: the table is flat along its axis.
    """
    heard = [(lines, mix) for lines, mix in stretches if not _is_noise(lines, mix)]
    if len(heard) <= 1:
        return np.zeros((2,) * count)
    scores = _pattern_likelihoods(heard, count=count)
    scores = _stray_hum_discounted(scores, angles=_misalignments(heard))
    return table_of(limited(scores), count)


def hum_in_stretches(
    x: Array,
    *,
    stretches: Sequence[tuple[int, int]],
    mains_hz: int | None,
    partials_hz: Sequence[float] | None = None,
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
    )


def _misalignments(stretches: Sequence[tuple[HumLines, Mix]]) -> list[float]:
    """Angles of all clear lines of all pairs of single coils, from none or half a turn, less their error."""
    single = [lines for lines, mix in stretches if mix.alone and mix.sources[0].hums]
    found: list[float] = []
    for i, a in enumerate(single):
        for b in single[i + 1 :]:
            aligned = b.referred_to(a.reference)
            clear_a = np.abs(a.amplitudes) / np.maximum(a.error, 1e-30)
            clear_b = np.abs(aligned.amplitudes) / np.maximum(aligned.error, 1e-30)
            use = (clear_a > PHASE_LINE_SNR) & (clear_b > PHASE_LINE_SNR)
            if not use.any():
                continue
            product = aligned.amplitudes[use] * np.conj(a.amplitudes[use])
            angle = np.degrees(np.abs(np.angle(product)))
            apart_s = abs(b.centre - a.centre) / ANALYSIS_RATE
            clock = 2 * np.pi * np.array(a.numbers)[use] * a.fundamental_error_hz * apart_s
            unsure = np.degrees(np.sqrt(1 / clear_a[use] ** 2 + 1 / clear_b[use] ** 2 + clock**2))
            found += np.maximum(np.minimum(angle, 180 - angle) - 2 * unsure, 0.0).tolist()
    return found


def limited(scores: Array) -> Array:
    """Scores whose worst lies at most ``MOST_NATS`` below the best."""
    return np.asarray(np.maximum(scores, scores.max() - MOST_NATS))


def sampled_gains(
    mixes: Sequence[Mix], *, count: int, pickups: Array, draws: int, weight_db: float = WEIGHT_DB
) -> Array:
    """Signed gain of each mix, (patterns, draws, mixes), for every pattern of winding signs.

    ``pickups`` (draws, count): magnitudes. Weights are drawn from ``weight_db``, the same for all patterns;
    what a whole humbucker leaves has a drawn sign of its own, whatever the pattern.
    """
    rng = np.random.default_rng(0)
    mean_db, sd_db = WHOLE_HUMBUCKER_DB
    left = 10 ** ((mean_db + sd_db * rng.standard_normal((draws, count))) / 20)
    left = left * rng.choice([-1.0, 1.0], size=(draws, count))
    patterns = sign_patterns(count)
    gains = np.zeros((len(patterns), draws, len(mixes)))
    off_db_of: dict[Mix, Array] = {}
    for column, mix in enumerate(mixes):
        if mix not in off_db_of:
            off_db_of[mix] = weight_db * rng.standard_normal((draws, len(mix.sources)))
        weights = spread_weights(mix, weights_of(mix), off_db_of[mix])
        for row, signs in enumerate(patterns):
            for k, (source, sign) in enumerate(zip(mix.sources, signs_in(mix, signs), strict=True)):
                if source.hums:
                    gains[row, :, column] += sign * weights[:, k] * pickups[:, source.sign]
                else:
                    gains[row, :, column] += weights[:, k] * left[:, source.sign]
    return gains


def _is_noise(lines: HumLines, mix: Mix) -> bool:
    """Whether one coil's hum cannot be told from noise."""
    return mix.alone and mix.sources[0].hums and lines.clearness < LEAST_HUM_POWER


def _stray_hum_discounted(scores: Array, *, angles: Sequence[float]) -> Array:
    """Scores (patterns,) in which every pattern may look like the first, "all alike", by stray hum."""
    if not angles:
        return scores
    stray = _ramp(max(angles), ALIGNED_DEG, MISALIGNED_DEG)
    if stray > 0:
        scores = np.asarray(np.maximum(scores, scores[0] + np.log(stray)))
    between = _ramp(min(angles), *ALL_MISALIGNED_DEG)
    if between > 0:
        scores = np.asarray(np.maximum(scores, scores.max() + np.log(between)))
    return scores


def _ramp(value: float, low: float, high: float) -> float:
    return float(np.clip((value - low) / (high - low), 0.0, 1.0))


def _pattern_likelihoods(stretches: Sequence[tuple[HumLines, Mix]], *, count: int) -> Array:
    """Log likelihood of each pattern, (patterns,): one unknown field a line, seen through real gains."""
    reference = stretches[0][0].reference
    lines = [one.referred_to(reference) for one, _ in stretches]
    apart_s = np.array([one.centre for one in lines]) / ANALYSIS_RATE
    apart_s = apart_s - apart_s.mean()
    clock_error_hz = max(one.fundamental_error_hz for one in lines)
    steps = clock_error_hz * CLOCK_STEPS if np.ptp(apart_s) > 0 else np.zeros(1)
    prior = -0.5 * CLOCK_STEPS**2 if len(steps) > 1 else np.zeros(1)
    pickups = 10 ** (PICKUPS_DB * np.random.default_rng(2).standard_normal((PHASE_SAMPLES, count)) / 20)
    gains = sampled_gains([mix for _, mix in stretches], count=count, pickups=pickups, draws=PHASE_SAMPLES)
    amplitudes = np.array([one.amplitudes for one in lines])
    errors = np.array([one.error for one in lines])
    numbers = lines[0].numbers
    total = np.zeros((len(steps), *gains.shape[:2]))
    for k, n in enumerate(numbers):
        use = np.isfinite(errors[:, k])
        if np.count_nonzero(use) <= 1:
            continue
        turned = np.exp(-2j * np.pi * n * np.outer(steps, apart_s[use]))
        noise = 2 * errors[use, k] ** 2
        total += _line_likelihoods(amplitudes[use, k], turned, noise=noise, gains=gains[:, :, use])
    total += (prior - np.logaddexp.reduce(prior))[:, np.newaxis, np.newaxis]
    return np.asarray(np.logaddexp.reduce(np.logaddexp.reduce(total, axis=0), axis=1))


def _line_likelihoods(x: ComplexArray, turned: ComplexArray, *, noise: Array, gains: Array) -> Array:
    """Log likelihood of one line on all stretches, (steps, patterns, draws).

    ``x`` (stretches,); ``turned`` (steps, stretches): what each step of the mains frequency turns it by.
    """
    size = np.abs(x) ** 2
    squares = gains**2
    means, nothing = [], []
    for scale in SCALES:
        power = scale * float(size.max())
        spread = noise + power * (INCOHERENT_AMPLITUDE**2 * squares + RESIDUAL_AMPLITUDE**2)
        along = np.tensordot(turned * x, gains / spread, axes=(1, -1))
        stands = 1 + power * np.sum(squares / spread, axis=-1)
        apart = np.sum(size / spread + np.log(spread), axis=-1) + np.log(stands)
        means.append(power / stands * np.abs(along) ** 2 - apart)
        loose = noise + power * (squares + RESIDUAL_AMPLITUDE**2)
        nothing.append(-np.sum(size / loose + np.log(loose), axis=-1))
    share = OUTLIER_SHARE
    return np.asarray(
        np.logaddexp(
            np.logaddexp.reduce(means, axis=0) + np.log(1 - share),
            np.logaddexp.reduce(nothing, axis=0) + np.log(share),
        )
    )


PIECE_S = 0.4
"""Pieces on which the mains frequency is looked for: one of them may hold a step, most do not."""
HOP_S = 0.01
WINDOW_S = 0.06
"""Three periods of 50 Hz: a Hann window of that length keeps the lines apart."""
DEAD_S = 0.12
"""A step with its window, its gap (up to 40 ms) and its bounces: nothing is asked of the lines there."""
MOST_EXTRA_STEPS = 2
"""So many steps beyond those entered are looked for, to say that there are too many."""
STEP_PENALTY_NATS = 30.0
"""Nats a step must gain: three times what leaving out its dead time gains in noise."""
LINE_DRIFT = 0.05
"""Part of a line, times the root of its number, that its phase and level drift by themselves."""
BESIDE_JUMP_S = 0.2
"""On so much of either side a jump is measured."""
LEAST_JUMP = 0.15
"""A jump of less than this part of the lines is drift."""
POP_ABOVE_HZ = 700.0
POP_HOP_S = 0.002
POP_STANDS_OUT = 30.0
"""Energy of two milliseconds over the median: the largest of a take's noise reaches 5."""
POP_APART_S = 0.12
BESIDE_S = 0.01


@dataclass(frozen=True, eq=False)
class SwitchedHumAnalysis:
    """What a switch take of hum alone gave: ``table`` (2,) * count, None with a fault.

    ``stretches``: samples at the analysis rate, one (start, stop) a setting; ``lines`` belong to them.
    """

    table: Array | None
    stretches: tuple[tuple[int, int], ...]
    lines: tuple[HumLines | None, ...]
    faults: tuple[Fault, ...]
    remarks: tuple[Fault, ...]


def analyse_switched_hum(
    x: Array, *, rate: int, mixes: Sequence[Mix], count: int, mains_hz: int | None = None
) -> SwitchedHumAnalysis:
    """Analyse one channel, shape (frames,), in which the selector goes through ``mixes``.

    Raises
    ------
    SignalError
        If the samples cannot be worked on (dsp.signal.samples.checked).

    """
    samples = checked(x, rate=rate)
    faults, remarks = refusals_and_remarks(
        recording_faults(samples, rate=rate, inputs_differ=False, channels=(0,)), clipping_refuses=False
    )
    if faults:
        return SwitchedHumAnalysis(None, (), (), faults, remarks)
    signal = at_analysis_rate(samples[:, 0], rate=rate)
    size = int(PIECE_S * ANALYSIS_RATE)
    pieces = [(at, at + size) for at in range(0, len(signal) - size + 1, size)] or [(0, len(signal))]
    heard = [one for one in lines_together([signal], stretches=pieces, mains_hz=mains_hz) if one is not None]
    clearest = max(heard, key=lambda one: one.clearness, default=None)
    other = other_mains([signal], pieces, clearest, mains_hz=mains_hz)
    if other is not None:
        return _rejected("other mains", remarks, detail=other)
    if not heard or max(one.clearness for one in heard) < LEAST_HUM_POWER:
        return _rejected("too little hum", remarks)
    loudest = max(heard, key=lambda one: one.level_db())
    if has_other_tone(signal, loudest):
        return _rejected("strings not damped", remarks)
    expected = len(mixes) - 1
    steps = _line_steps(signal, hz=loudest.fundamental_hz, most=expected + MOST_EXTRA_STEPS)
    events = _step_intervals(steps, _pops(signal), expected=expected)
    if len(events) != expected:
        code: FaultCode = "too many steps" if len(events) > expected else "too few steps"
        return _rejected("not switched" if not events else code, remarks, detail=float(len(events)))
    beside = int(BESIDE_S * ANALYSIS_RATE)
    starts = [0, *(stop + beside for _, stop in events)]
    stops = [*(start - beside for start, _ in events), len(signal)]
    stretches = tuple(zip(starts, stops, strict=True))
    lines = hum_in_stretches(
        signal, stretches=stretches, mains_hz=round(loudest.fundamental_hz / 10) * 10, partials_hz=None
    )
    usable = [(one, mix) for one, mix in zip(lines, mixes, strict=True) if one is not None]
    return SwitchedHumAnalysis(hum_phase_table(usable, count=count), stretches, lines, (), remarks)


def _rejected(
    code: FaultCode, remarks: tuple[Fault, ...], *, detail: float | None = None
) -> SwitchedHumAnalysis:
    return SwitchedHumAnalysis(None, (), (), (Fault(code, 1, detail=detail),), remarks)


def _line_steps(x: Array, *, hz: float, most: int) -> list[tuple[int, int]]:
    """(start, stop) of each step of the lines, in samples: the cheapest pieces between dead times."""
    track = _line_track(x, hz=hz)
    dead, shortest = round(DEAD_S / HOP_S), round(SHORTEST_S / HOP_S)
    cost = _segment_costs(track, shortest=shortest)
    best = [cost[0]]
    behind: list[NDArray[np.intp]] = []
    for _ in range(most):
        before = np.full(len(cost), np.inf)
        before[dead:] = best[-1][:-dead]
        ways = before[:, np.newaxis] + cost
        behind.append(np.argmin(ways, axis=0))
        best.append(np.min(ways, axis=0))
    totals = [one[-1] + STEP_PENALTY_NATS * k for k, one in enumerate(best)]
    count = int(np.argmin(totals))
    end, found = len(cost) - 1, []
    for k in range(count - 1, -1, -1):
        start = int(behind[k][end])
        found.append((start - dead, start))
        end = start - dead
    kept = _real_jumps(track, found[::-1])
    hop = round(HOP_S * ANALYSIS_RATE)
    half = round(WINDOW_S * ANALYSIS_RATE) // 2
    return [(a * hop + half, b * hop + half) for a, b in kept]


def _real_jumps(track: ComplexArray, steps: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Those steps, in hops, at which the lines jump: what drifts by itself drifts little across one."""
    reach = round(BESIDE_JUMP_S / HOP_S)
    kept = list(steps)
    while kept:
        ends = [0, *(b for _, b in kept)], [*(a for a, _ in kept), len(track)]
        sizes = []
        for k, (a, b) in enumerate(kept):
            left = track[max(ends[0][k], a - reach) : a]
            right = track[b : min(ends[1][k + 1], b + reach)]
            before, after = left.mean(axis=0), right.mean(axis=0)
            jump = float(np.sum(np.abs(after - before) ** 2))
            level = max(float(np.sum(np.abs(before) ** 2)), float(np.sum(np.abs(after) ** 2)))
            noise = STEP_PENALTY_NATS * (1 / len(left) + 1 / len(right))
            sizes.append(jump / (noise + LEAST_JUMP**2 * level))
        least = int(np.argmin(sizes))
        if sizes[least] >= 1:
            return kept
        del kept[least]
    return kept


def _line_track(x: Array, *, hz: float) -> ComplexArray:
    """Lines over time in units of their own uncertainty, (hops, lines)."""
    size, hop = round(WINDOW_S * ANALYSIS_RATE), round(HOP_S * ANALYSIS_RATE)
    t = np.arange(len(x)) / ANALYSIS_RATE
    window = np.hanning(size) * 2 / np.hanning(size).sum()
    apart = round(WINDOW_S / HOP_S)
    lines = []
    for n in NUMBERS:
        rotated = x * np.exp(-2j * np.pi * n * hz * t)
        line = np.lib.stride_tricks.sliding_window_view(rotated, size)[::hop] @ window
        noise = float(np.median(np.abs(line[apart:] - line[:-apart]) ** 2)) / 2 / np.log(2)
        wavers = LINE_DRIFT**2 * n * float(np.median(np.abs(line) ** 2))
        lines.append(line / np.sqrt(noise + wavers + 1e-30))
    return np.asarray(np.stack(lines, axis=1) / np.sqrt(apart))


def _segment_costs(track: ComplexArray, *, shortest: int) -> Array:
    """Misfit of one constant from hop i to hop j, (hops + 1, hops + 1); infinite below ``shortest``."""
    sums = np.concatenate([np.zeros((1, track.shape[1])), np.cumsum(track, axis=0)])
    squares = np.concatenate([[0.0], np.cumsum(np.sum(np.abs(track) ** 2, axis=1))])
    length = np.arange(len(sums))[np.newaxis, :] - np.arange(len(sums))[:, np.newaxis]
    along = np.sum(np.abs(sums[np.newaxis, :, :] - sums[:, np.newaxis, :]) ** 2, axis=-1)
    cost = squares[np.newaxis, :] - squares[:, np.newaxis] - along / np.maximum(length, 1)
    return np.asarray(np.where(length >= shortest, cost, np.inf))


def _pops(x: Array) -> list[tuple[int, int]]:
    """(start, stop) of each click or pop, in samples, those close together as one."""
    high = band(x, low_hz=POP_ABOVE_HZ, high_hz=None)
    hop = round(POP_HOP_S * ANALYSIS_RATE)
    energy = np.square(high[: len(high) // hop * hop]).reshape(-1, hop).sum(axis=1)
    loud = np.flatnonzero(energy > POP_STANDS_OUT * np.median(energy))
    apart = round(POP_APART_S / POP_HOP_S)
    found: list[tuple[int, int]] = []
    for k in loud.tolist():
        start, stop = k * hop, (k + 1) * hop
        if found and start - found[-1][1] < apart * hop:
            found[-1] = (found[-1][0], stop)
        else:
            found.append((start, stop))
    return found


def _step_intervals(
    steps: list[tuple[int, int]], pops: list[tuple[int, int]], *, expected: int
) -> list[tuple[int, int]]:
    """Steps, and where they are too few the pops beside them too; a step and its pop are one event."""
    lone = [pop for pop in pops if not any(a <= pop[1] and pop[0] <= b for a, b in steps)]
    if len(steps) >= expected:
        return steps
    return sorted([*steps, *lone])


LEVEL_WEIGHT_DB = 1.5
"""Standard deviation of a weight in a sum at the mains lines, where resistance alone counts: single coils
read 5 to 8 kilo-ohm (sources C3)."""
TAKE_DB = 2.0
"""Standard deviation of the room's hum from take to take: loads come and go, the guitar moves a little."""
SETTING_DB = (2.7, 2.5)
"""What goes with a setting in all its takes: a hand on the strings each time, a heater, a guitar that was
turned. A t distribution of ``SETTING_FREEDOM`` degrees, rare and then large, of the first scale for softer
and of the second for louder: what makes a sum much louder, a hand on strings that are not grounded, shows in
its waveform. It bounds what rounds of takes say: 11 dB less on both, round by round, may be a heater."""
SETTING_FREEDOM = 3.0
PICKUP_DB = 3.0
"""Standard deviation of a pickup's hum against the others, before its own takes are heard."""
LINE_DB = 2.5
"""The same of one line against the take's level: several fields, each of its own direction."""
STRAY_DB = (-20.0, 7.0)
"""Hum that ignores the winding, re that of one pickup (mean, standard deviation). That nearly all
of it does is no matter of this table: see "capacitive hum" in reports.inference.error_priors."""
OUTLIER_DB = 20.0
"""How far a line that means nothing may lie from where it should."""
LEVEL_SAMPLES = 800
OFF_STEP_DB = 1.5
OFF_DB = np.arange(-30.0, 30.1, OFF_STEP_DB)
"""Levels of a take that are tried, against what its pickups alone say."""
OWN_STEPS = np.arange(-2, 3)
"""A take's own level against its setting's, in ``OFF_STEP_DB``."""
LEVEL_LINE_SNR = 4.0
"""A line under this is not used for a pickup's own level."""
FAR_BELOW_DB = -120.0
WAVEFORM_LINES = (3, 5, 7)
"""Lines whose phase against the first is the same whichever way a coil is wound: n - 1 is even."""
OTHER_WAVEFORM_DEG = (25.0, 60.0)
"""So much off the waveform of other takes, more than takes of one setting are, another source begins to be
likely, and is taken for sure; any phase at all is 90 degrees off in the mean."""
FEWEST_WAVEFORM_LINES = 2
FIELD_LOOKS_OTHER, STRAY_LOOKS_OTHER = 0.05, 0.85
"""How often the waveform is another where mostly the field is heard, and where mostly stray hum (assumed)."""


def hum_level_table(takes: Sequence[tuple[HumLines, Mix]], *, count: int) -> Array:
    """Log likelihoods over winding signs, (2,) * count, from the levels of takes of their own.

    Takes of single sources say how loud each is, takes of several together what is left; without a take of
    several, or without one of a single source, the table is flat. Flat too along the axis of a pickup that
    only sounds with both its coils. Where a sum has another waveform than its pickups alone, or these than
    each other, some of it came in another way: then "all alike" is discounted.
    """
    single = [(lines, mix) for lines, mix in takes if mix.alone]
    joined = [(lines, mix) for lines, mix in takes if not mix.alone]
    field = _field_amplitudes(single)
    if field is None or not joined:
        return np.zeros((2,) * count)
    rng = np.random.default_rng(1)
    pickups = _sampled_pickups_db(single, field, count=count, rng=rng)
    stray = 10 ** ((STRAY_DB[0] + STRAY_DB[1] * rng.standard_normal(LEVEL_SAMPLES)) / 20)
    gains = sampled_gains(
        [mix for _, mix in joined],
        count=count,
        pickups=10 ** (pickups / 20),
        draws=LEVEL_SAMPLES,
        weight_db=LEVEL_WEIGHT_DB,
    )
    total = np.zeros(gains.shape[:2])
    changes = waveform_changes_deg(takes)
    for mix in dict.fromkeys(mix for _, mix in joined):
        columns = [k for k, (_, other) in enumerate(joined) if other == mix]
        of_mix = [
            _take_likelihoods(joined[k][0], field=field, gains=gains[:, :, k], stray=stray) for k in columns
        ]
        total += _setting_likelihoods(of_mix)
        if mix in changes:
            total += _waveform_likelihoods(changes[mix], gains=gains[:, :, columns[0]], stray=stray)
    scores = np.asarray(np.logaddexp.reduce(total, axis=1))
    other_way = _ramp(max(changes.values(), default=0.0), *OTHER_WAVEFORM_DEG)
    if other_way > 0:
        scores = np.asarray(np.maximum(scores, scores[0] + np.log(other_way)))
    return table_of(limited(scores), count)


def waveform_changes_deg(takes: Sequence[tuple[HumLines, Mix]]) -> dict[Mix, float]:
    """How far the waveform of hum on each setting differs from that of single coils, degrees.

    The mean over ``WAVEFORM_LINES`` of their phases against the first line, beyond what takes of one setting
    differ by, the largest over the coils; a setting on which too few lines are clear is left out. No clock
    is needed, and neither sign nor level matters.
    """
    by_mix: dict[Mix, list[HumLines]] = {}
    for lines, mix in takes:
        if all(source.hums for source in mix.sources):
            by_mix.setdefault(mix, []).append(lines)
    within = max((x for one in by_mix.values() for x in _changes(pairwise(one))), default=0.0)
    found: dict[Mix, float] = {}
    for mix, mine in by_mix.items():
        for coil in (other for other in by_mix if other.alone and other != mix):
            if changes := _changes(product(mine, by_mix[coil])):
                found[mix] = max(found.get(mix, 0.0), float(np.median(changes)) - within)
    return found


def _waveform_likelihoods(change_deg: float, *, gains: Array, stray: Array) -> Array:
    """Log likelihood of a sum's waveform, (patterns, draws): the pickups' own where mostly they are heard."""
    other = _ramp(change_deg, *OTHER_WAVEFORM_DEG)
    part = stray**2 / (gains**2 + stray**2)
    of_field, of_stray = (
        other * often + (1 - other) * (1 - often) for often in (FIELD_LOOKS_OTHER, STRAY_LOOKS_OTHER)
    )
    return np.asarray(np.log((1 - part) * of_field + part * of_stray))


def _changes(pairs: Iterable[tuple[HumLines, HumLines]]) -> list[float]:
    changes = (_waveform_difference(a, b) for a, b in pairs)
    return [change for change in changes if change is not None]


def _waveform_difference(a: HumLines, b: HumLines) -> float | None:
    """Mean angle between the odd lines of two takes, both turned so that their first lines agree, degrees."""
    clear_a, clear_b = (np.abs(one.amplitudes) / np.maximum(one.error, 1e-30) for one in (a, b))
    first = a.numbers.index(1)
    if min(clear_a[first], clear_b[first]) < PHASE_LINE_SNR:
        return None
    turn = np.angle(b.amplitudes[first] * np.conj(a.amplitudes[first]))
    angles = []
    for k, n in enumerate(a.numbers):
        if n not in WAVEFORM_LINES or min(clear_a[k], clear_b[k]) < PHASE_LINE_SNR:
            continue
        angle = np.angle(b.amplitudes[k] * np.conj(a.amplitudes[k]) * np.exp(-1j * n * turn))
        noise = sum(1 / one[k] ** 2 + (n / one[first]) ** 2 for one in (clear_a, clear_b))
        angles.append(max(0.0, float(np.degrees(abs(angle) - 2 * np.sqrt(noise)))))
    return float(np.mean(angles)) if len(angles) >= FEWEST_WAVEFORM_LINES else None


def _field_amplitudes(single: Sequence[tuple[HumLines, Mix]]) -> Array | None:
    """Typical magnitude of each line in the takes of single coils, (lines,); 0 where it is not clear."""
    coils = [lines for lines, mix in single if mix.sources[0].hums]
    if not coils:
        return None
    sizes = np.array([np.abs(one.amplitudes) for one in coils])
    clear = np.array([np.abs(one.amplitudes) > LEVEL_LINE_SNR * one.error for one in coils])
    field = np.zeros(sizes.shape[1])
    for k in np.flatnonzero(clear.any(axis=0)):
        field[k] = np.exp(np.mean(np.log(sizes[clear[:, k], k])))
    return field if np.any(field) else None


def _sampled_pickups_db(
    single: Sequence[tuple[HumLines, Mix]], field: Array, *, count: int, rng: np.random.Generator
) -> Array:
    """Drawn level of each source re ``field``, (draws, count), given the takes of it alone."""
    drawn = np.empty((LEVEL_SAMPLES, count))
    for sign in range(count):
        precision, weighed = 1 / PICKUP_DB**2, 0.0
        for lines, mix in single:
            if mix.sources[0].sign != sign or not mix.sources[0].hums:
                continue
            size = np.abs(lines.amplitudes)
            use = (field > 0) & (size > LEVEL_LINE_SNR * lines.error)
            if use.any():
                variance = TAKE_DB**2 + LINE_DB**2 / int(use.sum())
                precision += 1 / variance
                weighed += float(np.mean(20 * np.log10(size[use] / field[use]))) / variance
        drawn[:, sign] = weighed / precision + rng.standard_normal(LEVEL_SAMPLES) / np.sqrt(precision)
    return drawn


def _take_likelihoods(lines: HumLines, *, field: Array, gains: Array, stray: Array) -> Array:
    """Log likelihood of one take of several sources at each of ``OFF_DB``, (offsets, patterns, draws)."""
    scores = np.zeros((len(OFF_DB), *gains.shape))
    off = 10 ** (OFF_DB / 10)[:, np.newaxis, np.newaxis]
    for k, size in enumerate(field):
        if size == 0 or not np.isfinite(lines.error[k]):
            continue
        noise = 2 * float(lines.error[k]) ** 2
        hum = off * (size**2 * (gains**2 + stray**2))
        expected_db = 10 * np.log10(hum + noise)
        found_db = max(10 * np.log10(abs(lines.amplitudes[k]) ** 2 + 1e-30), FAR_BELOW_DB)
        rough = 10 * np.log10(1 + noise / (hum + noise))
        spread_db = np.sqrt(LINE_DB**2 + (2 * rough) ** 2)
        fits = np.exp(-0.5 * ((found_db - expected_db) / spread_db) ** 2) / spread_db
        nothing = np.exp(-0.5 * ((found_db - 20 * np.log10(size)) / OUTLIER_DB) ** 2) / OUTLIER_DB
        scores += np.log((1 - OUTLIER_SHARE) * fits + OUTLIER_SHARE * nothing)
    return scores


def _setting_likelihoods(takes: Sequence[Array]) -> Array:
    """Log likelihood of all takes of one setting, (patterns, draws): they share its level, or nearly."""
    scale = np.where(OFF_DB < 0, *SETTING_DB)
    prior = -0.5 * (SETTING_FREEDOM + 1) * np.log1p((OFF_DB / scale) ** 2 / SETTING_FREEDOM)
    own = -0.5 * (OWN_STEPS * OFF_STEP_DB / TAKE_DB) ** 2
    own -= np.logaddexp.reduce(own)
    reach = int(OWN_STEPS.max())
    total = np.broadcast_to((prior - np.logaddexp.reduce(prior))[:, np.newaxis, np.newaxis], takes[0].shape)
    for scores in takes:
        padded = np.pad(scores, ((reach, reach), (0, 0), (0, 0)), mode="edge")
        moved = [padded[reach + k : reach + k + len(OFF_DB)] + w for k, w in zip(OWN_STEPS, own, strict=True)]
        total = total + np.logaddexp.reduce(moved, axis=0)
    return np.asarray(np.logaddexp.reduce(total, axis=0))
