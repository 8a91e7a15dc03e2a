"""Whether the partials of paired plucks show that one input comes later, or is turned by a low cut.

Task: the partials of plucks on two inputs (dsp.methods.paired) to log odds against two inputs in step.
Shapes: partials (partials,), curves (curves, partials). Units: seconds, Hz, radians, nats. Sign: that of
dsp.methods.input_path, a positive lag is a second input that comes later; negating an input or exchanging the
inputs leaves the odds as they are.

Two pickups differ at partial n by none or half a turn, as the string moves at their places. A lag adds 2 pi
hz lag, a low cut the phase of its filter. So each curve of a family of lags and cuts is tried with either
sign, the places' signs as far as they are known and either where they are not. A lag of a whole period of the
fundamental cannot be told from none, and does no harm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from dsp.methods.paired import PartialPairs

Array = NDArray[np.float64]

LAGS_S: Array = np.arange(-300, 301) * np.float64(5e-5)
"""Within 15 ms: beyond, a person hears it."""
IN_STEP_S = 1.5e-4
"""Standard deviation of the lag between two pickups in step: their inductances turn the upper partials."""
LEAST_LAG_S = 3e-4
CUT_ORDERS = (2, 3, 4)
"""A first order turns a partial by less than a quarter turn, and leaves its sign."""
CUTS_HZ = np.geomspace(35.0, 300.0, 16)
ANGLE_RAD = 0.17
"""Standard deviation of a clean partial's angle (pickups with places and loads of their own)."""
INCOHERENT = 0.5
"""What a partial that beats, or is covered, adds to its variance, times 1 / coherence^2 - 1."""
STRAY = 0.12
"""Part of the partials whose angle means nothing: sideways motion at a node."""

Kind = Literal["lag", "low cut"]


@dataclass(frozen=True)
class Lateness:
    """Log odds (nats) of inputs that are not in step, and what fits best.

    ``nats`` is that of one cause for all plucks or of one of their own for each, ``constant`` of the former
    alone. ``kind`` "low cut": on input ``cut_input`` (0 the first) from ``cut_hz`` down.
    """

    nats: float
    constant: float
    kind: Kind
    lag_s: float
    cut_hz: float
    cut_input: int


@dataclass(frozen=True, eq=False)
class CurveFit:
    """One pluck's log likelihood under each curve, over that of angles that mean nothing.

    ``lags`` of shape of ``LAGS_S``, ``cuts`` (orders * corners * 2,).
    """

    lags: Array
    cuts: Array

    @property
    def in_step(self) -> float:
        """Of inputs in step."""
        return _log_mean(self.lags, _STEP_PRIOR)

    @property
    def late(self) -> float:
        """Of inputs that are not."""
        return _log_half(_log_mean(self.lags, _LAG_PRIOR), _log_mean(self.cuts, _CUT_PRIOR))


def curve_fit(partials: PartialPairs) -> CurveFit:
    """How one pluck's angles fit each curve, summed over the sign of the pair."""
    lags = 2 * np.pi * LAGS_S[:, None] * partials.hz
    return CurveFit(_log_likelihood(partials, lags), _log_likelihood(partials, _cut_angles(partials.hz)))


def lateness(fits: Sequence[CurveFit], *, wanders: float = 0.5) -> Lateness:
    """What the plucks of one rig say together; ``wanders``: how probably each has its own cause."""
    lags = np.sum([f.lags for f in fits], axis=0)
    cuts = np.sum([f.cuts for f in fits], axis=0)
    together = CurveFit(lags, cuts)
    constant = together.late - together.in_step
    own = sum(_log_half(f.late, f.in_step) for f in fits) - sum(f.in_step for f in fits)
    nats = float(np.logaddexp(constant + np.log1p(-wanders), own + np.log(wanders)))
    lag_like, cut_like = _log_mean(lags, _LAG_PRIOR), _log_mean(cuts, _CUT_PRIOR)
    _, corner, side = np.unravel_index(int(np.argmax(cuts)), (len(CUT_ORDERS), len(CUTS_HZ), 2))
    return Lateness(
        nats,
        float(constant),
        "lag" if lag_like >= cut_like else "low cut",
        float(LAGS_S[int(np.argmax(lags + _LAG_PRIOR))]),
        float(CUTS_HZ[corner]),
        int(side),
    )


def _log_likelihood(partials: PartialPairs, curves: Array) -> Array:
    heard = np.maximum(np.abs(partials.agreement) * partials.clear, 1e-3)
    kappa = 1 / (ANGLE_RAD**2 + INCOHERENT * (1 / heard**2 - 1))
    off = np.angle(partials.agreement) - curves
    scale = np.exp(kappa) / np.i0(kappa)
    straight = np.exp(kappa * (np.cos(off) - 1)) * scale
    over = np.exp(kappa * (-np.cos(off) - 1)) * scale
    as_placed = np.where(partials.signs > 0, straight, over)
    turned = straight + over - as_placed
    sure = 0.5 + 0.5 * partials.certainty
    same = np.log(STRAY + (1 - STRAY) * (sure * as_placed + (1 - sure) * turned)).sum(axis=1)
    opposed = np.log(STRAY + (1 - STRAY) * (sure * turned + (1 - sure) * as_placed)).sum(axis=1)
    return np.asarray(np.logaddexp(same, opposed) - np.log(2))


def _cut_angles(hz: Array) -> Array:
    """Angle of each low cut at ``hz``, (cuts, partials): those of the first input lead."""
    rows = []
    for order in CUT_ORDERS:
        for corner in CUTS_HZ:
            s = 1j * hz / corner
            angle = np.angle(s**order / np.prod([s - pole for pole in _poles(order)], axis=0))
            rows += [angle, -angle]
    return np.array(rows)


@cache
def _poles(order: int) -> tuple[complex, ...]:
    """Poles of a maximally flat filter of this order at one radian a second."""
    return tuple(np.exp(1j * np.pi * (2 * k + order + 1) / (2 * order)) for k in range(order))


def _log_mean(log: Array, prior: Array) -> float:
    return float(np.logaddexp.reduce(log + prior))


def _log_half(a: float, b: float) -> float:
    return float(np.logaddexp(a, b) - np.log(2))


def _normed(log: Array) -> Array:
    return np.asarray(log - np.logaddexp.reduce(log))


_STEP_PRIOR = _normed(-0.5 * np.square(LAGS_S / IN_STEP_S))
_LAG_PRIOR = _normed(np.where(np.abs(LAGS_S) > LEAST_LAG_S, 0.0, -np.inf))
_CUT_PRIOR = _normed(np.zeros(len(CUT_ORDERS) * len(CUTS_HZ) * 2))
