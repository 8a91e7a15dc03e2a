"""Windings from hum levels alone: pickups one by one, and together, in takes of their own.

Task: two pickups wound alike hum together about as loud as each; wound against each other they cancel.
Shapes: lines as in dsp.humming.lines; tables (2,) * count over winding signs as in dsp.mixes. Units: natural
logarithms; levels in dB. Signs: only magnitudes are looked at, so turning any take over changes nothing;
index 0 of a table is +1. What is not known is drawn and averaged: levels of takes and pickups, weights, stray
hum.

Source: |both| = |lambda V_a +/- (1 - lambda) V_b| after C3 (Millman's theorem); hum and windings: P1, P2.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dsp.humming.lines import HumLines, hum_moves
from dsp.humming.phases import LINE_MEANS_NOTHING, clipped, drawn_gains
from dsp.mixes import Mix, sign_patterns, table_of

Array = NDArray[np.float64]

TAKE_DB = 3.0
"""Standard deviation of the room's hum from take to take: the guitar moves, loads come and go."""
PICKUP_DB = 3.0
"""Standard deviation of a pickup's hum against the others, before its own takes are heard."""
LINE_DB = 2.5
"""The same of one line against the take's level: several fields, each of its own direction."""
STRAY_DB = (-20.0, 7.0)
"""Hum that ignores the winding, re that of one pickup (mean, standard deviation)."""
NOTHING_DB = 20.0
"""How far a line that means nothing may lie from where it should."""
DRAWS = 800
TAKE_STEPS = np.linspace(-4.0, 4.0, 17)
"""Levels of a take that are tried, in ``TAKE_DB``; their prior is a t of four degrees: somebody turned."""
MOSTLY_STRAY = (0.08, 0.03)
"""Chance that nearly all hum ignores the winding, so that every setting is about as loud; the second once one
setting's hum was seen to move. It holds "wound alike" by level to about 3 nats and leaves "against" alone."""
MOSTLY_DB = (0.0, 3.0)
"""How loud such hum is, re that of one pickup (mean, standard deviation)."""
HARDLY = 0.3
"""What comes in by the windings then."""
CLEAR_LINE = 4.0
"""A line under this is not used for a pickup's own level."""
FAR_BELOW_DB = -120.0


def hum_level_table(takes: Sequence[tuple[HumLines, Mix]], *, count: int) -> Array:
    """Log likelihoods over winding signs, (2,) * count, from the levels of takes of their own.

    Takes of single sources say how loud each is, takes of several together what is left; without a take of
    several, or without one of a single source, the table is flat. Flat too along the axis of a pickup that
    only sounds with both its coils.
    """
    single = [(lines, mix) for lines, mix in takes if mix.alone]
    joined = [(lines, mix) for lines, mix in takes if not mix.alone]
    field = _field(single)
    if field is None or not joined:
        return np.zeros((2,) * count)
    rng = np.random.default_rng(1)
    pickups = _pickups_db(single, field, count=count, rng=rng)
    mostly = np.arange(DRAWS) % 4 == 0
    share = MOSTLY_STRAY[1] if _any_moves(single) else MOSTLY_STRAY[0]
    weight = np.where(mostly, np.log(share / np.mean(mostly)), np.log((1 - share) / np.mean(~mostly)))
    usual_db = STRAY_DB[0] + STRAY_DB[1] * rng.standard_normal(DRAWS)
    most_db = MOSTLY_DB[0] + MOSTLY_DB[1] * rng.standard_normal(DRAWS)
    stray = 10 ** (np.where(mostly, most_db, usual_db) / 20)
    gains = drawn_gains([mix for _, mix in joined], count=count, pickups=10 ** (pickups / 20), draws=DRAWS)
    gains[:, mostly] *= HARDLY
    total = np.tile(weight, (len(sign_patterns(count)), 1))
    for column, (lines, _) in enumerate(joined):
        total += _take_score(lines, field=field, gains=gains[:, :, column], stray=stray)
    scores = np.logaddexp.reduce(total, axis=1)
    return table_of(clipped(np.asarray(scores)), count)


def _any_moves(single: Sequence[tuple[HumLines, Mix]]) -> bool:
    """Whether the takes of any one pickup show hum that rises and falls."""
    mixes = {mix for _, mix in single if mix.sources[0].coils == 1}
    return any(hum_moves([lines for lines, other in single if other == mix]) for mix in mixes)


def _field(single: Sequence[tuple[HumLines, Mix]]) -> Array | None:
    """Typical magnitude of each line in the takes of single coils, (lines,); 0 where it is not clear."""
    coils = [lines for lines, mix in single if mix.sources[0].coils == 1]
    if not coils:
        return None
    sizes = np.array([np.abs(one.amplitudes) for one in coils])
    clear = np.array([np.abs(one.amplitudes) > CLEAR_LINE * one.error for one in coils])
    field = np.zeros(sizes.shape[1])
    for k in np.flatnonzero(clear.any(axis=0)):
        field[k] = np.exp(np.mean(np.log(sizes[clear[:, k], k])))
    return field if np.any(field) else None


def _pickups_db(
    single: Sequence[tuple[HumLines, Mix]], field: Array, *, count: int, rng: np.random.Generator
) -> Array:
    """Drawn level of each source re ``field``, (draws, count), given the takes of it alone."""
    drawn = np.empty((DRAWS, count))
    for sign in range(count):
        precision, weighed = 1 / PICKUP_DB**2, 0.0
        for lines, mix in single:
            if mix.sources[0].sign != sign or mix.sources[0].coils != 1:
                continue
            size = np.abs(lines.amplitudes)
            use = (field > 0) & (size > CLEAR_LINE * lines.error)
            if use.any():
                variance = TAKE_DB**2 + LINE_DB**2 / int(use.sum())
                precision += 1 / variance
                weighed += float(np.mean(20 * np.log10(size[use] / field[use]))) / variance
        drawn[:, sign] = weighed / precision + rng.standard_normal(DRAWS) / np.sqrt(precision)
    return drawn


def _take_score(lines: HumLines, *, field: Array, gains: Array, stray: Array) -> Array:
    """Log likelihood of one take of several sources, (patterns, draws), its level left free."""
    steps = []
    for off in TAKE_STEPS:
        score = np.full(gains.shape, -2.5 * np.log1p(off**2 / 4))
        for k, size in enumerate(field):
            if size == 0 or not np.isfinite(lines.error[k]):
                continue
            noise = 2 * float(lines.error[k]) ** 2
            hum = size**2 * (gains**2 + stray**2) * 10 ** (TAKE_DB * off / 10)
            expected_db = 10 * np.log10(hum + noise)
            found_db = max(10 * np.log10(abs(lines.amplitudes[k]) ** 2 + 1e-30), FAR_BELOW_DB)
            rough = 10 * np.log10(1 + noise / (hum + noise))
            spread_db = np.sqrt(LINE_DB**2 + (2 * rough) ** 2)
            fits = np.exp(-0.5 * ((found_db - expected_db) / spread_db) ** 2) / spread_db
            nothing = np.exp(-0.5 * ((found_db - 20 * np.log10(size)) / NOTHING_DB) ** 2) / NOTHING_DB
            score += np.log((1 - LINE_MEANS_NOTHING) * fits + LINE_MEANS_NOTHING * nothing)
        steps.append(score)
    return np.asarray(np.logaddexp.reduce(steps, axis=0))
