"""Two volumes and no selector: one pickup rings alone at first, the other at the end, and knobs turn between.

Task: what the string's partials say of the two pickups, their phase carried through the turning of the knobs
in steps of hundredths of a second. Shapes: envelopes (partials, cells), pieces (first cell, one past the
last). Units: seconds, 1/s, dB, natural logarithms.
Sign: a positive ratio says that both have the same sign; turning the signal over changes nothing, turning one
pickup over turns the ratio over.

While one pickup comes in or goes, the sum lies on one line in the complex plane: it stays on its side, or
goes through nothing once. So each partial keeps its sign from end to end, or changes it once. When the knobs
were turned is not looked for (strings beat as fast as hands turn): all places are summed over. Where little
is left of a partial its phase says nothing, for what is left is turned by some other angle (the coils differ,
and so does what stands before them). What both give together is not used: a volume that is not full up lets
any part through.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.methods.switch_instants import Envelopes, Piece
from dsp.methods.switch_signs import (
    COHERENCE,
    LARGEST_LIMIT_NATS,
    LATE_NATS,
    LATE_S,
    LEAKAGE_DB,
    NEIGHBOURS_ALIKE,
    OUTLIER_SHARE,
    PARTIALS_WEIGHT,
    WIDTHS_HZ,
    by_owner,
    gaussian_terms,
    hum_of,
    step_sign,
)
from dsp.model.settings import Mix
from dsp.signal.codes import Fault
from dsp.signal.samples import ANALYSIS_RATE

Array = NDArray[np.float64]

CELL_S = 0.03
"""Cells are averaged to this: a hand turns a knob in tenths of a second."""
HALF_OVERLAP = 4.0 / 3.0
"""Noise in a mean of many cells that overlap by half, over that of as many cells apart."""
FIRST_S = (0.10, 0.40)
"""So long after the pluck nothing is turned yet: the session asks for half a second."""
LAST_S = 0.30
"""So much of the end is the other pickup alone."""
SOONEST_S = 1.40
"""A sweep that had died before that turned no two knobs."""
AUDIBLE_SNR = 6.0
"""Power over noise and hum from which on a partial is followed."""
FEWEST_PARTIALS = 2
TURNED_SHARE = 0.3
"""Part of what sounds between the ends that is turned by some other angle: a pickup behind what is left of
its volume's track (of 250 k, at 100 to 300 Hz, by 10 to 40 degrees)."""
SMOOTHED_CELLS = 3
ALIKE_DB = 3.0
"""Scatter of the partials' change from end to end, below which one and the same pickup was heard twice."""
LEAST_LIMIT_NATS = 1.0
MOST_NATS = 2.0
"""What one sweep may say: of 26 simulated ones that said more than two nats three were wrong, all by saying
"in phase" of pickups that are opposed."""


def coarse(envelopes: Envelopes) -> Envelopes:
    """The same envelopes in cells of some ``CELL_S``."""
    many = max(1, round(CELL_S * ANALYSIS_RATE / envelopes.reach))
    cells = len(envelopes.centres) // many
    values = envelopes.values[:, : cells * many].reshape(-1, cells, many).mean(axis=2)
    centres = envelopes.centres[: cells * many].reshape(cells, many).mean(axis=1).astype(np.int64)
    less = min(1.0, HALF_OVERLAP / many)
    return replace(
        envelopes, values=values, centres=centres, reach=envelopes.reach * many, noise=envelopes.noise * less
    )


def ends_of(envelopes: Envelopes, *, onset: int) -> tuple[Piece, Piece] | Fault:
    """The cells in which the first pickup rings alone, and the other at the end, or why there are none."""
    heard = np.square(np.abs(envelopes.values)) > AUDIBLE_SNR * envelopes.noise_with_hum[:, np.newaxis]
    t = envelopes.seconds - onset / ANALYSIS_RATE
    alive = np.flatnonzero(heard.sum(axis=0) >= FEWEST_PARTIALS)
    until = int(alive[-1]) + 1 if len(alive) else 0
    last = int(np.searchsorted(t, t[until - 1] - LAST_S)) if until else 0
    if not until or t[last] < SOONEST_S:
        return Fault("string died", detail=0.0)
    first = int(np.searchsorted(t, FIRST_S[0])), int(np.searchsorted(t, FIRST_S[1]))
    return first, (last, until)


def unevenness_db(envelopes: Envelopes, pieces: tuple[Piece, Piece], decay: Array) -> float:
    """How unevenly the partials changed from end to end, their ``decay`` taken out, dB, or infinity."""
    power = [np.mean(np.square(np.abs(envelopes.values[:, a:b])), axis=1) for a, b in pieces]
    use = np.min(power, axis=0) > AUDIBLE_SNR * envelopes.noise_with_hum
    first_s, last_s = (float(np.mean(envelopes.seconds[a:b])) for a, b in pieces)
    change = 10 * np.log10(power[1] / power[0]) + 20 * np.log10(np.e) * decay * (last_s - first_s)
    return float(np.std(change[use])) if np.count_nonzero(use) >= FEWEST_PARTIALS else np.inf


@dataclass(frozen=True, eq=False)
class _Followed:
    """What partial ``n`` says under each assumption, log likelihoods.

    ``same`` (M,): one sign all through; ``changed`` (M, cells + 1): it changes before each cell between.
    """

    n: int
    same: Array
    changed: Array


def end_ratio(
    envelopes: Envelopes, pieces: tuple[Piece, Piece], mixes: Sequence[Mix], decay: Array, *, since_s: float
) -> float:
    """The log ratio "same sign : opposed" of the pickups at both ends, the places allowed for.

    ``since_s``: how long after the pluck the last piece begins.
    """
    up, down = np.zeros(1), np.zeros(1)
    for row in range(len(decay)):
        one = _followed(envelopes, row, pieces, decay=float(decay[row]))
        opposed = np.logaddexp.reduce(one.changed, axis=1) - np.log(one.changed.shape[1])
        best = np.maximum(one.same, opposed)
        same, opposed = (
            best + np.logaddexp(np.log1p(-OUTLIER_SHARE) + x - best, np.log(OUTLIER_SHARE))
            for x in (one.same, opposed)
        )
        sign, certainty = step_sign(one.n, mixes[0], mixes[-1])
        right, wrong = np.log(0.5 * (1 + sign * certainty)), np.log(0.5 * (1 - sign * certainty))
        up = up + np.logaddexp(right + same, wrong + opposed)
        down = down + np.logaddexp(right + opposed, wrong + same)
    ratio = PARTIALS_WEIGHT * float(np.logaddexp.reduce(up) - np.logaddexp.reduce(down))
    limit = LARGEST_LIMIT_NATS - LATE_NATS * max(0.0, since_s - LATE_S)
    limit = min(MOST_NATS, max(LEAST_LIMIT_NATS, limit))
    return float(np.clip(ratio, -limit, limit))


def _followed(envelopes: Envelopes, row: int, pieces: tuple[Piece, Piece], *, decay: float) -> _Followed:
    """One partial from end to end."""
    (a, b), (c, d) = pieces
    t = envelopes.seconds[a:d]
    rise = np.exp(decay * (t - t[0]))
    z = envelopes.values[row, a:d] * rise
    power = np.square(np.abs(z))
    place = np.clip((np.arange(a, d) - b + 0.5) / (c - b), 0.0, 1.0)
    between = (place > 0) & (place < 1)
    floor = 0.05 * float(power.max())
    ends = [np.sqrt(max(float(np.mean(power[s])), floor)) for s in (slice(0, b - a), slice(c - a, d - a))]
    gain = ends[0] + (ends[1] - ends[0]) * place
    turned = np.where(between, np.square(TURNED_SHARE * gain), 0.0)
    smooth = np.sqrt(np.convolve(power, np.ones(SMOOTHED_CELLS) / SMOOTHED_CELLS, "same"))
    strongest = np.abs(envelopes.values[:, a:d]).max(axis=0) * rise
    byway = np.square(strongest) * 10 ** (LEAKAGE_DB / 10) + turned
    gain = np.where(between, smooth, gain)
    noise = NEIGHBOURS_ALIKE * float(envelopes.noise[row]) + 1e-4 * float(np.mean(np.square(gain)))
    units = np.clip(np.arange(a, d) - b + 1, 0, c - b + 1)
    hum = hum_of(envelopes, row, t, owner=units, rise=rise)
    by_itself = noise * np.square(rise) + hum.by_itself
    lag = np.square(2 * np.pi * np.subtract.outer(t, t))
    apart = np.abs(np.subtract.outer(place, place))
    count = int(units[-1]) + 1
    ways = np.where(np.arange(count) <= np.arange(count - 1)[:, np.newaxis], 1.0, -1.0)
    parts = by_owner(z, units, count=count)
    scale = float(np.log(np.mean(power) + 1e-30))
    same, changed = [], []
    for width in envelopes.numbers[row] * np.array(WIDTHS_HZ):
        narrow = np.exp(-0.5 * width**2 * lag)
        own = np.sqrt(np.outer(byway, byway)) * narrow * np.exp(-4.0 * apart)
        line = np.outer(gain, gain) * narrow
        for coherence in COHERENCE:
            covariance = own + line * max(coherence, 1e-3) ** (2 * apart)
            covariance.flat[:: len(z) + 1] += by_itself
            log_weight, fit = gaussian_terms(parts, covariance, hum.tones)
            same.append(log_weight + float(fit.sum()))
            changed.append(log_weight + np.sum((ways @ fit) * ways, axis=1))
    return _Followed(
        envelopes.numbers[row], np.array(same) - len(z) * scale, np.array(changed) - len(z) * scale
    )
