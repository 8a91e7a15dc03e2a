"""Partials of a ringing string as complex envelopes, and the instants at which the selector moved.

Task: signal to one complex number a partial and cell, in a frame that turns with the partial; then the pieces
on each of which every partial goes on smoothly, with breaks, bounces and pops between them left out.
Shapes: signal (frames,) at the analysis rate in; envelopes (partials, cells); pieces (first cell, one past
the last). Units: Hz, samples, full scale 1.0, natural logarithms.
Sign: turning the signal over turns every envelope by half a turn, and moves no piece.

A cell is a Hann window of an even number of periods, whose nulls lie at all other harmonics. Each cell is
predicted from up to ``MEMORY`` cells before it in its piece, as a narrow line would go on; the most probable
path through "goes on", "between two pieces" and "begins anew" is Viterbi's. A pop alone cuts too, but the
partials go on behind it, and then the two pieces are joined.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dsp.signal.mains import MainsLines
from dsp.signal.pitch import Pitch
from dsp.signal.samples import ANALYSIS_RATE
from dsp.signal.waves import framed_sums, turns_of

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Integers = NDArray[np.int64]

PARTIALS = 8
"""Higher ones may not vote: the places are not known well enough (dsp.model.settings)."""
HIGHEST_HZ = 2600.0
SHORTEST_HOP_S = 0.0075
"""Cells of high strings take several periods, so that noise and cost stay small."""
HUM_RISE = 2.0
"""Hum may be so much stronger (power) on another setting than before the pluck (assumed)."""
SLOPE_CELLS = (1, 4, 12)
"""Lags in cells over which a partial's frequency is refined, coarse to fine."""
REFINE_S = (0.08, 0.60)
"""What part of the ringing it is refined on, counted from the onset."""
FEWEST_CELLS = 3
FLOOR_QUANTILE = 0.2
"""The partial that is weakest this often shows the noise while the string rings."""
LEAST_NOISE_POWER = 1e-7
"""What lies 70 dB under the loudest partial is noise, whatever it is."""


@dataclass(frozen=True, eq=False)
class HumLine:
    """One mains line as it comes through a partial's cells: offset in Hz and power there."""

    offset_hz: float
    power: float


@dataclass(frozen=True, eq=False)
class Envelopes:
    """``values`` (partials, cells) turn with ``hz`` (partials,), phase counted from sample 0.

    ``centres`` (cells,) in samples; a cell covers ``reach`` samples to either side. ``noise``
    (partials,) is the mean power of noise in a cell; ``hum`` has the mains lines of each partial.
    """

    numbers: tuple[int, ...]
    hz: Array
    centres: Integers
    reach: int
    values: ComplexArray
    noise: Array
    hum: tuple[tuple[HumLine, ...], ...]

    @cached_property
    def seconds(self) -> Array:
        """Time of each cell, (cells,)."""
        return np.asarray(self.centres / ANALYSIS_RATE)

    @cached_property
    def noise_with_hum(self) -> Array:
        """Mean power in a cell where no string rings, (partials,)."""
        return np.asarray(self.noise + np.array([sum(line.power for line in lines) for lines in self.hum]))

    def retuned(self, hz: Array) -> Envelopes:
        """The same envelopes in frames that turn with ``hz``."""
        turn = np.exp(-2j * np.pi * np.outer(hz - self.hz, self.seconds))
        hum = tuple(
            tuple(HumLine(line.offset_hz + float(old - new), line.power) for line in lines)
            for lines, old, new in zip(self.hum, self.hz, hz, strict=True)
        )
        return replace(self, hz=hz, values=self.values * turn, hum=hum)


def envelopes_of(x: Array, *, onset: int, end: int, pitch: Pitch, mains: MainsLines | None) -> Envelopes:
    """The partials of the string that rings from ``onset`` to ``end`` (samples of ``x``)."""
    numbers = tuple(n for n in range(1, PARTIALS + 1) if pitch.partial_hz(n) < HIGHEST_HZ)
    hz = np.array([pitch.partial_hz(n) for n in numbers])
    periods = max(1, round(SHORTEST_HOP_S * pitch.f0_hz))
    reach = round(periods * ANALYSIS_RATE / pitch.f0_hz)
    centres = np.arange(onset + 2 * reach, end - reach, reach)
    before = np.arange(reach, onset - 2 * reach, reach)
    values = _cells(x, centres, reach=reach, hz=hz)
    power = np.square(np.abs(values))
    floor = np.quantile(power, FLOOR_QUANTILE, axis=1).min() if len(centres) else 0.0
    floor = max(float(floor), LEAST_NOISE_POWER * float(power.max(initial=0.0)))
    noise = np.full(len(hz), floor)
    if len(before) >= FEWEST_CELLS:
        still = x[:onset] if mains is None else x[:onset] - mains.waveform(onset)
        quiet = np.square(np.abs(_cells(still, before, reach=reach, hz=hz)))
        noise = np.maximum(quiet.mean(axis=1), floor)
    hum = tuple(_hum_near(f, reach=reach, mains=mains) for f in hz)
    envelopes = Envelopes(numbers, hz, centres, reach, values, noise, hum)
    low, high = (onset + s * ANALYSIS_RATE for s in REFINE_S)
    early = np.flatnonzero((centres >= low) & (centres <= high))
    return recentred(envelopes, [(int(early[0]), int(early[-1]) + 1)]) if len(early) else envelopes


def _cells(x: Array, centres: Integers, *, reach: int, hz: Array) -> ComplexArray:
    """Envelopes around ``centres``, ``reach`` apart, (partials, cells)."""
    if not len(centres):
        return np.zeros((len(hz), 0), dtype=np.complex128)
    window = np.hanning(2 * reach + 1)
    first, last = int(centres[0]) - reach, int(centres[-1]) + reach + 1
    turns = -turns_of(hz)
    rotated = framed_sums(x[first:last], turns, window=2 * window / window.sum(), hop=reach)
    return np.asarray(rotated.T * np.exp(np.multiply.outer(turns, centres - reach)))


def _hum_near(hz: float, *, reach: int, mains: MainsLines | None) -> tuple[HumLine, ...]:
    """The mains lines that come through the cells of a partial, at their level before the pluck."""
    if mains is None:
        return ()
    window = np.hanning(2 * reach + 1)
    t = np.arange(-reach, reach + 1) / ANALYSIS_RATE
    lines = []
    for n, amplitude in mains.amplitudes.items():
        offset = n * mains.fundamental_hz - hz
        if abs(offset) * reach < ANALYSIS_RATE:
            passed = float(np.sum(window * np.cos(2 * np.pi * offset * t)) / window.sum())
            lines.append(HumLine(offset, HUM_RISE * (abs(amplitude) * passed) ** 2))
    return tuple(lines)


def recentred(envelopes: Envelopes, pieces: Sequence[tuple[int, int]]) -> Envelopes:
    """The same envelopes in frames that turn as the partials do on ``pieces``.

    Each piece counts alike, however strong the partial is there.
    """
    for lag in SLOPE_CELLS:
        rotation = np.zeros(len(envelopes.hz), dtype=complex)
        for a, b in pieces:
            z = envelopes.values[:, a:b]
            if b - a >= lag + FEWEST_CELLS:
                power = np.sum(np.square(np.abs(z)), axis=1) + 1e-30
                rotation += np.sum(z[:, lag:] * np.conj(z[:, :-lag]), axis=1) / power
        step = np.angle(rotation) / (2 * np.pi) * ANALYSIS_RATE / (lag * envelopes.reach)
        envelopes = envelopes.retuned(envelopes.hz + np.where(np.abs(rotation) > 0, step, 0.0))
    return envelopes


Piece = tuple[int, int]

MEMORY = 6
WIDTH_HZ = 0.6
WIDTH_RISE = 0.25
"""Width of a line, Gaussian: beating and glide grow with the number of the partial (assumed)."""
NOISE_GRID: Array = np.asarray(10.0 ** np.arange(-4.0, 1.5, 0.5), dtype=np.float64)
"""Ratios of noise to line power for which predictors are worked out."""
UNPREDICTABLE_SHARE = 3e-3
"""Part of a line's power that never goes on as predicted."""
RANGE_NATS = 14.0
"""A cell that nothing is known of lies anywhere within 60 dB: ln(10^6)."""
ODD_CELL = 0.03
"""How often a partial does in one cell what its line would not (assumed)."""
BREAK_NATS = 12.0
BETWEEN_NATS = 0.3
"""What a break costs, and each cell of each partial between two pieces: breaks are short and few."""
SHORTEST_CELLS = 3
EDGE_CELLS = 6
EDGE_S = 0.15
"""What is looked at on either side of a break: long enough to tell most mains lines from a partial."""
CHANGE_FLOOR = 0.15
"""A partial that goes on may be off by so much of itself across a break."""
CHANGE_LEAK = 1e-3
"""And by so much of the power of the strongest one: what is left of a pop is broad."""
CHANGE_CLIP = 8.0
CHANGE_NATS = 2.0
"""Nats beyond which something changed across a break."""
POP_NATS = -8.0
"""Below this a break is a pop and no step, whatever was looked for."""
MARKED_NATS = -2.0
"""The mean over all breaks above which they may be steps between settings that sound alike; pops alone
give about -10."""
TRIMMED_CELLS = 9
LONGEST_SILENCE_S = 0.08
BRIEF_S = 0.09
"""A piece as brief as this need not be a setting of its own."""
GAP_POWER = 10.0**-1.7
"""A piece that is so short and so much weaker (power) than its neighbours is a break of the selector."""
LEAST_LINE = 0.1
"""A partial is taken to hold at least this part of the power in its cells."""


def pieces_of(envelopes: Envelopes) -> list[Piece]:
    """The pieces on which all partials go on, in order."""
    alone, together = _cell_densities(envelopes)
    anything, going_on = alone.tolist(), together.T.tolist()
    states = MEMORY + 2
    best = [anything[0], *[-np.inf] * (states - 1)]
    came = np.zeros((len(anything), states), dtype=int)
    between = BETWEEN_NATS * len(envelopes.numbers)
    for k in range(1, len(anything)):
        piece = max(range(MEMORY + 1), key=best.__getitem__)
        gap, leaves = best[-1], best[piece] - BREAK_NATS
        sources = list(range(-1, MEMORY))
        if best[MEMORY] > best[MEMORY - 1]:
            sources[MEMORY] = MEMORY
        anew = max(gap, leaves) + anything[k]
        begins = states - 1 if gap > leaves else piece
        came[k] = [begins, *sources[1:], begins]
        goes_on = (best[source] + going_on[k][m] for m, source in enumerate(sources[1:], start=1))
        best = [anew, *goes_on, anew - between]
    return [p for p in _best_path(best, came) if p[1] - p[0] >= SHORTEST_CELLS]


@dataclass(frozen=True)
class Segmentation:
    """Pieces of ringing and, for each border between two, by how many nats something changed there."""

    pieces: tuple[Piece, ...]
    changes: tuple[float, ...]

    def joined(self, border: int) -> tuple[Piece, ...]:
        """The pieces with those on both sides of a border made one."""
        whole = (self.pieces[border][0], self.pieces[border + 1][1])
        return (*self.pieces[:border], whole, *self.pieces[border + 2 :])


def segments_of(envelopes: Envelopes, *, steps: int, until: int | None = None) -> Segmentation:
    """The pieces between which something changed, with those that only a pop parts joined.

    Of several steps, one that changes little still counts if a break marks it and others are sure, or if
    there are just as many breaks as the ``steps`` that were looked for. Nothing rings any more
    from cell ``until`` on.
    """
    kept = _without_gaps(envelopes, trimmed(pieces_of(envelopes)))
    kept = [(a, b) for a, b in kept if until is None or b <= until]
    breaks = _segmentation(envelopes, kept)
    while breaks.changes:
        least = int(np.argmin(breaks.changes))
        change = breaks.changes[least]
        wanted = 1 < len(breaks.changes) <= steps and change > POP_NATS
        marked = len(breaks.changes) == steps and float(np.mean(breaks.changes)) > MARKED_NATS
        if change >= CHANGE_NATS or (wanted and (marked or max(breaks.changes) >= CHANGE_NATS)):
            break
        breaks = _segmentation(envelopes, breaks.joined(least))
    return _without_brief_pieces(envelopes, breaks, steps=steps)


def _without_brief_pieces(envelopes: Envelopes, breaks: Segmentation, *, steps: int) -> Segmentation:
    """Leave out brief pieces where there are too many: the selector's way through, or a pop's tail."""
    while len(breaks.changes) > steps:
        inner = breaks.pieces[1:-1]
        briefest = min(range(len(inner)), key=lambda i: inner[i][1] - inner[i][0], default=None)
        if briefest is None:
            break
        a, b = inner[briefest]
        if (b - a) * envelopes.reach > BRIEF_S * ANALYSIS_RATE:
            break
        breaks = _segmentation(envelopes, [*breaks.pieces[: briefest + 1], *breaks.pieces[briefest + 2 :]])
    return breaks


def _segmentation(envelopes: Envelopes, pieces: Sequence[Piece]) -> Segmentation:
    changes = (change_across(envelopes, a, b) for a, b in pairwise(pieces))
    return Segmentation(tuple(pieces), tuple(changes))


def trimmed(pieces: list[Piece]) -> list[Piece]:
    """Long pieces without their outermost cells, into which a pop may reach."""
    return [(a + 1, b - 1) if b - a >= TRIMMED_CELLS else (a, b) for a, b in pieces]


def _without_gaps(envelopes: Envelopes, pieces: list[Piece]) -> list[Piece]:
    """Leave out short silences: nothing is connected while the selector is on its way."""
    if not pieces:
        return []
    level = [float(np.mean(np.sum(np.square(np.abs(envelopes.values[:, a:b])), axis=0))) for a, b in pieces]
    level = [one + float(np.sum(envelopes.noise)) for one in level]
    kept = []
    for i, (a, b) in enumerate(pieces):
        short = (b - a) * envelopes.reach < LONGEST_SILENCE_S * ANALYSIS_RATE
        beside = min(level[max(0, i - 1) : i] + level[i + 1 : i + 2], default=0.0)
        if not (short and level[i] < GAP_POWER * beside):
            kept.append((a, b))
    return kept


def change_across(envelopes: Envelopes, left: Piece, right: Piece) -> float:
    """How much more than a smooth line may the partials change across a border, in nats; 0 or less: not."""
    middle = 0.5 * (envelopes.seconds[left[1] - 1] + envelopes.seconds[right[0]])
    before, before_var = extrapolated(envelopes, left, at_s=middle, last=True)
    after, after_var = extrapolated(envelopes, right, at_s=middle, last=False)
    power = np.maximum(np.square(np.abs(before)), np.square(np.abs(after)))
    expected = before_var + after_var + CHANGE_FLOOR**2 * power + CHANGE_LEAK * float(power.max())
    square = np.square(np.abs(after - before)) / expected
    usual = np.log1p(power / expected)
    return float(np.sum(np.clip(square - usual, -usual, CHANGE_CLIP)))


def extrapolated(
    envelopes: Envelopes, piece: Piece, *, at_s: float, last: bool
) -> tuple[ComplexArray, Array]:
    """Each partial's envelope carried from the near end of a piece to ``at_s``, with its variance.

    Hum is told from the partial by its own frequency, as far as the piece is long enough for that.
    """
    count = min(max(EDGE_CELLS, round(EDGE_S * ANALYSIS_RATE / envelopes.reach)), piece[1] - piece[0])
    cells = np.arange(piece[1] - count, piece[1]) if last else np.arange(piece[0], piece[0] + count)
    t = envelopes.seconds[cells]
    z = envelopes.values[:, cells]
    mean = np.mean(np.square(np.abs(z)), axis=1) + 1e-30
    power = np.maximum(mean - envelopes.noise_with_hum, LEAST_LINE * mean)
    widths = np.array([_width(n) for n in envelopes.numbers])
    towards = power[:, np.newaxis] * _line_correlation(at_s - t, widths[:, np.newaxis])
    lag = np.subtract.outer(t, t)
    around = power[:, np.newaxis, np.newaxis] * _line_correlation(lag, widths[:, np.newaxis, np.newaxis])
    loose = envelopes.noise + UNPREDICTABLE_SHARE * power
    around = around + loose[:, np.newaxis, np.newaxis] * np.eye(len(t)) + _hum_covariance(envelopes, lag)
    weights = np.linalg.solve(around, towards[:, :, np.newaxis])[:, :, 0].conj()
    values = np.sum(weights * z, axis=1)
    return values, power * (1 + UNPREDICTABLE_SHARE) - np.real(np.sum(weights * towards, axis=1))


def _hum_covariance(envelopes: Envelopes, lag: Array) -> ComplexArray:
    """Covariance of the mains lines that come through the cells of each partial, (partials, cells, cells)."""
    out = np.zeros((len(envelopes.hum), *lag.shape), dtype=np.complex128)
    for row, lines in enumerate(envelopes.hum):
        for line in lines:
            out[row] += line.power * np.exp(2j * np.pi * line.offset_hz * lag)
    return out


def _width(n: int) -> float:
    return WIDTH_HZ + WIDTH_RISE * (n - 1)


@lru_cache(maxsize=256)
def _predictors(hop_s: float, *, width_hz: float, memory: int) -> tuple[Array, Array]:
    """How a line of unit power is predicted from ``memory`` cells before it, for each ratio of NOISE_GRID.

    Weights (ratios, memory), the last cell first, and the variance left, (ratios,).
    """
    past_s: Array = np.asarray(-hop_s * np.arange(1, memory + 1), dtype=np.float64)
    around = _line_correlation(np.subtract.outer(past_s, past_s), width_hz)
    loose = (NOISE_GRID + UNPREDICTABLE_SHARE)[:, np.newaxis, np.newaxis] * np.eye(memory)
    towards = _line_correlation(-past_s, width_hz)
    weights: Array = np.asarray(np.linalg.solve(around + loose, towards[:, np.newaxis])[:, :, 0])
    return weights, 1 - weights @ towards + UNPREDICTABLE_SHARE


def _line_correlation(lag_s: Array, width_hz: Array | float) -> Array:
    return np.asarray(np.exp(-0.5 * np.square(2 * np.pi * width_hz * lag_s)))


def _cell_densities(envelopes: Envelopes) -> tuple[Array, Array]:
    """Log density of each cell by itself, (cells,), and from m cells before it, (MEMORY + 1, cells)."""
    z = envelopes.values
    size = np.square(np.abs(z))
    noise = envelopes.noise_with_hum + 1e-9 * size.max(axis=1) + 1e-20
    anything = -np.log(np.pi * RANGE_NATS * (size + noise[:, np.newaxis]))
    going_on = np.zeros((MEMORY + 1, z.shape[1]))
    wrong, spread = _prediction_errors(envelopes, noise)
    settled = wrong[MEMORY, :, MEMORY:] / spread[MEMORY, :, MEMORY:]
    if settled.size:
        spread *= np.maximum(1.0, np.median(settled, axis=1) / np.log(2))[:, np.newaxis]
    for m in range(1, MEMORY + 1):
        line = -wrong[m] / spread[m] - np.log(np.pi * spread[m])
        going_on[m] = np.logaddexp(np.log1p(-ODD_CELL) + line, np.log(ODD_CELL) + anything).sum(axis=0)
    return anything.sum(axis=0), going_on


def _prediction_errors(envelopes: Envelopes, noise: Array) -> tuple[Array, Array]:
    """Squared error of each prediction and the variance it should have, (MEMORY + 1, partials, cells) each.

    ``noise`` (partials,) is what a cell holds besides its line.
    """
    z, hop_s = envelopes.values, envelopes.reach / ANALYSIS_RATE
    wrong, spread = (np.ones((MEMORY + 1, *z.shape)) for _ in range(2))
    power = np.concatenate([np.zeros((len(z), 1)), np.cumsum(np.square(np.abs(z)), axis=1)], axis=1)
    row, floor = np.arange(len(z))[:, np.newaxis], noise[:, np.newaxis]
    for m in range(1, min(MEMORY + 1, z.shape[1])):
        tables = [_predictors(hop_s, width_hz=_width(n), memory=m) for n in envelopes.numbers]
        line = np.maximum((power[:, m:-1] - power[:, : -m - 1]) / m - floor, 0.05 * floor)
        which = np.clip(np.round(2 * (np.log10(floor / line) + 4)).astype(int), 0, len(NOISE_GRID) - 1)
        weights = np.stack([weights for weights, _ in tables])[row, which]
        past = np.lib.stride_tricks.sliding_window_view(z[:, :-1], m, axis=1)[:, :, ::-1]
        wrong[m, :, m:] = np.square(np.abs(z[:, m:] - np.sum(weights * past, axis=2)))
        spread[m, :, m:] = line * np.stack([left for _, left in tables])[row, which] + floor
    return wrong, spread


def _best_path(best: Sequence[float], came: NDArray[np.int64]) -> list[Piece]:
    """The pieces on the best way through."""
    states = np.zeros(len(came), dtype=int)
    states[-1] = int(np.argmax(best))
    for k in range(len(came) - 1, 0, -1):
        states[k - 1] = came[k, states[k]]
    between = len(best) - 1
    pieces: list[Piece] = []
    start: int | None = None
    for k, state in enumerate(states):
        if start is not None and state in (0, between):
            pieces.append((start, k))
            start = None
        if state == 0:
            start = k
    if start is not None:
        pieces.append((start, len(states)))
    return pieces
