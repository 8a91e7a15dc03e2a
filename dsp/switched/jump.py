"""Whether a partial goes on as it was, or turned over, from one stretch to the next.

Task: for one partial that is heard on several settings in turn, the likelihood of every pattern of signs
of the settings. Shapes: stretches (K,) of cells in; a matrix of agreement (K, K) out for each assumption.
Units: Hz, seconds, natural logarithms. Signs: +1 "as the string", -1 turned over; a positive
``agreement[i, j]`` says that settings i and j have the same sign. The places are not looked at here.

The string is the clock: its partial is a narrow Gaussian line that knows nothing of the selector, each
setting multiplies it by a real number, part of each setting's sound is its own (sideways motion, the
circuit), mains lines and noise come on top. For such a model the probability of a pattern of signs is
exp(sum over i, j of e_i e_j T_ij), exactly, with T from one matrix inverse.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.switched.envelopes import Envelopes
from dsp.switched.instants import Piece, hum_covariance

Array = NDArray[np.float64]

WIDTHS_HZ = (0.05, 0.15, 0.4, 1.0, 2.0)
"""Spectral width of the fundamental: beating and glide; each alike likely beforehand. That of partial n is
n times as large, and one width holds for all partials of a take."""
COHERENCE = (0.97, 0.85, 0.6, 0.0)
"""Part of a setting's sound (amplitude) that it shares with the others; the rest are other polarisations,
which pickups off the string's centre hear with signs of their own. One figure holds for a take."""
OWN_WAY = 0.04
"""How often a partial shows a sign that is not the pickups' (assumed)."""
BYWAY_DB = -26.0
"""Power against the strongest partial of the same setting that comes by ways of its own: pickups bend the
wave, and cells leak. A partial that is this weak says little."""
NEAR_S = 0.30
"""Cells further from a step than this are left out: the string is no clock for ever."""
DIPPED = 0.6
"""A sum whose partial is weaker than this part of the strongest single pickup's has begun to cancel."""
NEIGHBOURS_ALIKE = 1.33
"""Cells overlap by half, so that noise counts for so much more than in cells apart."""


@dataclass(frozen=True, eq=False)
class PartialWitness:
    """What partial ``n`` says under each assumption of ``WIDTHS_HZ`` and ``COHERENCE``, M in all.

    The log likelihood of signs e (K,) is weights + e' agreement e; weights (M,), agreement (M, K, K).
    """

    n: int
    weights: Array
    agreement: Array

    def patterns(self, signs: Array) -> Array:
        """Log likelihood of each pattern, signs (patterns, K) of -1, +1; (M, patterns)."""
        quadratic = np.einsum("pi,mij,pj->mp", signs, self.agreement, signs)
        told = self.weights[:, np.newaxis] + quadratic
        best = told.max(axis=1, keepdims=True)
        return np.asarray(best + np.logaddexp(np.log1p(-OWN_WAY) + told - best, np.log(OWN_WAY)))


def cells_near(found: Envelopes, stretches: Sequence[Piece]) -> tuple[Piece, ...]:
    """The cells of each stretch that are compared: all but those of the first and last far from a step."""
    reach = int(np.ceil(NEAR_S / (found.seconds[1] - found.seconds[0])))
    out = []
    for k, (a, b) in enumerate(stretches):
        first = k == 0
        last = k == len(stretches) - 1
        out.append((max(a, b - reach) if first else a, min(b, a + reach) if last else b))
    return tuple(out)


def witness_of(
    found: Envelopes,
    row: int,
    stretches: Sequence[Piece],
    *,
    levels: Array,
    strongest: Array,
    decay: float,
    sums: NDArray[np.bool_],
) -> PartialWitness:
    """What partial ``row`` says; ``levels`` (K,) are its amplitudes on each setting at one instant.

    ``decay`` (1/s) is taken out before the stretches are compared. ``sums`` (K,) marks settings of several
    pickups: where these cancel, what is left is turned by some other angle than none or half, for the coils
    differ (sources C3 with inductances), so a sum that has dipped has no voice here; its level has one.
    """
    near = cells_near(found, stretches)
    dipped = sums & (levels < DIPPED * float(np.max(levels[~sums], initial=0.0)))
    kept = [(k, a, b) for k, (a, b) in enumerate(near) if not dipped[k]]
    owner = np.concatenate([np.full(b - a, k) for k, a, b in kept])
    cells = np.concatenate([np.arange(a, b) for _, a, b in kept])
    t = found.seconds[cells]
    rise = np.exp(decay * (t - t[0]))
    z = found.values[row, cells] * rise
    gain = levels[owner]
    byway = np.square(strongest[owner]) * 10 ** (BYWAY_DB / 10)
    same = owner[:, np.newaxis] == owner[np.newaxis, :]
    noise = NEIGHBOURS_ALIKE * float(found.noise[row]) + 1e-4 * float(np.mean(np.square(gain)))
    fixed = np.where(same, hum_covariance(found, row, t) * np.outer(rise, rise), 0)
    fixed = fixed + np.diag(noise * np.square(rise))
    lag = np.square(2 * np.pi * np.subtract.outer(t, t))
    scale = float(np.log(np.mean(np.square(np.abs(z))) + 1e-30))
    weights, agreement = [], []
    for width in found.numbers[row] * np.array(WIDTHS_HZ):
        narrow = np.exp(-0.5 * width**2 * lag)
        line = np.outer(gain, gain) * narrow
        own = np.where(same, byway[:, np.newaxis] * narrow, 0.0)
        for coherence in COHERENCE:
            shared = line * np.where(same, 1.0, coherence**2)
            told = _explained(z, shared + own + fixed, owner, count=len(near))
            weights.append(told[0] - len(z) * scale)
            agreement.append(told[1])
    return PartialWitness(found.numbers[row], np.array(weights), np.array(agreement))


def _explained(
    z: NDArray[np.complex128], covariance: NDArray[np.complex128], owner: NDArray[np.int64], *, count: int
) -> tuple[float, Array]:
    """(log weight without the data's fit, agreement (count, count)) of one covariance for all-plus signs."""
    lower = np.linalg.cholesky(covariance)
    parts = np.zeros((len(z), count), dtype=complex)
    parts[np.arange(len(z)), owner] = z
    white = np.linalg.solve(lower, parts)
    fit = -np.real(white.conj().T @ white)
    return -2.0 * float(np.sum(np.log(np.real(np.diag(lower))))), fit
