"""Partials that are no witness at a step: in a null of their beating, or under a mains line.

Task: name them. Shapes: envelopes (partials, cells) and stretches in, remarks out. Units: Hz, seconds.
Signs: none. Two polarisations of a string that are nearly as strong beat; where they cancel, the phase of
what is left turns by half a turn by itself, just as a pickup that opposes would turn it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dsp.conditioning import ANALYSIS_RATE
from dsp.faults import Fault
from dsp.switched.envelopes import Envelopes
from dsp.switched.instants import Piece

Array = NDArray[np.float64]

EDGE_CELLS = 2
LOOK_S = 0.35
NULL = 0.25
"""Amplitude at a step over what the partial has nearby: below it, on both sides, it is in a null."""
MATTERS = 10.0**-2
"""Power against the strongest partial from which on a partial matters."""
AUDIBLE = 4.0
NEAR_HZ = 4.5
"""Mains lines further off than this are told apart by their frequency within a stretch."""
HUM_MATTERS = 0.25
LOOKED_AT = 3
SHORTEST_CELLS = 6


def partials_in_null(found: Envelopes, pieces: Sequence[Piece]) -> tuple[tuple[Fault, ...], Fault | None]:
    """(remarks on single partials, the fault where all that matter are in a null at one step)."""
    remarks: list[Fault] = []
    for left, right in pairwise(pieces):
        before, near_before = _edge(found, left, last=True)
        after, near_after = _edge(found, right, last=False)
        power = np.square(near_before) + np.square(near_after)
        audible = np.square(near_before) > AUDIBLE * found.noise_with_hum
        matters = audible & (power > MATTERS * power.max())
        null = matters & (before < NULL * near_before) & (after < NULL * near_after)
        if matters.any() and (null == matters).all():
            at = 0.5 * (found.seconds[left[1] - 1] + found.seconds[right[0]])
            return (), Fault("beating null", detail=float(at))
        remarks += [Fault("beating null", detail=float(found.numbers[i])) for i in np.flatnonzero(null)]
    return tuple(dict.fromkeys(remarks)), None


def partials_in_mains(found: Envelopes, pieces: Sequence[Piece]) -> tuple[Fault, ...]:
    """Remarks on the first partials that a mains line drowns; ``detail`` is the partial's number."""
    out = []
    for row, n in enumerate(found.numbers[:LOOKED_AT]):
        near = sum(line.power for line in found.hum[row] if abs(line.offset_hz) < NEAR_HZ)
        weakest = min(float(np.mean(np.square(np.abs(found.values[row, a:b])))) for a, b in pieces)
        if near > HUM_MATTERS * weakest:
            out.append(Fault("partials in mains", detail=float(n)))
    return tuple(out)


def _edge(found: Envelopes, piece: Piece, *, last: bool) -> tuple[Array, Array]:
    """Amplitude of each partial at the edge of a piece, and the most it has near there."""
    look = round(LOOK_S * ANALYSIS_RATE / found.reach)
    a, b = (max(piece[0], piece[1] - look), piece[1]) if last else (piece[0], min(piece[1], piece[0] + look))
    near = np.abs(found.values[:, a:b])
    edge = near[:, -EDGE_CELLS:] if last else near[:, :EDGE_CELLS]
    if b - a < SHORTEST_CELLS:
        return np.ones(len(found.numbers)), np.ones(len(found.numbers))
    return edge.mean(axis=1), np.quantile(near, 0.9, axis=1)
