"""Plucks and presses one after another: the same string, played the same way, at one jack.

Task: how likely is it that two separate plucks came out with the same sign? Shapes: each pluck is its
partials referred to its own onset (dsp/onsets.py). Units: natural-log likelihood ratios. Signs:
positive for "the same sign", negative for "opposed"; exchanging the two changes nothing, negating one
turns the ratio over.

For a common unknown shift u (in periods), A(u) = sum_n kappa_n cos(dphi_n - 2 pi n u), where kappa_n
grows with both partials' levels and with how surely the sign of the place is known, times that sign.
The ratio integrates exp(A) and exp(-A) over u with a narrow prior and a small wide one. It holds both
the phase against the onset and the onset-free phi_2 - 2 phi_1, which turns with polarity.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.onsets import Onset
from dsp.pitch import Pitch
from dsp.places import Place, harmonic_sign

Array = NDArray[np.float64]

SAME_STRING_PARTIALS = 5
OTHER_STRING_PARTIALS = 3
OTHER_STRING_WEIGHT = 0.5
CONCENTRATION = (0.0, 1.4, 1.1, 0.8, 0.5, 0.35)
"""kappa of partials 1 to 5 at full level: how alike two plucks' phases are (assumed; dsp/calibration.py
maps the result)."""
SAME_PITCH = 0.01
"""Unnamed strings whose pitches are this close are taken for one."""
SILENT_DB = -30.0
"""A partial this far below the strongest says nothing."""
NARROW_PERIODS = 0.10
WIDE_SHARE = 0.06
MOST = 4.0
WORST_MISFIT = 0.5


@dataclass(frozen=True, eq=False)
class Turn:
    """One pluck or press as one setting gave it."""

    onset: Onset
    pitch: Pitch
    string: str | None
    fret: int
    place: Place


def turn_ratio(a: Turn, b: Turn) -> float:
    """Log-likelihood ratio that two plucks have the same sign, within ``MOST`` either way."""
    same = a.string is not None and (a.string, a.fret) == (b.string, b.fret)
    same = same or (
        a.string is None and b.string is None and abs(a.pitch.f0_hz / b.pitch.f0_hz - 1) < SAME_PITCH
    )
    count = SAME_STRING_PARTIALS if same else OTHER_STRING_PARTIALS
    left, right = a.onset.partials.amplitudes, b.onset.partials.amplitudes
    count = min(count, len(left), len(right))
    if count == 0:
        return 0.0
    n = np.arange(1, count + 1)
    weight = _levels(left)[:count] * _levels(right)[:count] * np.array(CONCENTRATION)[1 : count + 1]
    signs = [harmonic_sign(int(k), a.place, b.place, fret=max(a.fret, b.fret)) for k in n]
    weight = weight * np.array([h.sign * h.certainty for h in signs])
    if not same:
        weight = weight * OTHER_STRING_WEIGHT
    angle = np.angle(left[:count] * np.conj(right[:count]))
    shifts, log_prior = _shift_prior()
    agreement = np.cos(angle[:, np.newaxis] - 2 * np.pi * np.outer(n, shifts)).T @ weight
    ratio = _log_sum(agreement + log_prior) - _log_sum(-agreement + log_prior)
    return float(np.clip(ratio, -MOST, MOST))


def _levels(amplitudes: NDArray[np.complex128]) -> Array:
    size = np.abs(amplitudes)
    db = 20 * np.log10(size / max(float(size.max()), 1e-30) + 1e-9)
    return np.asarray(np.clip(1 - db / SILENT_DB, 0.0, 1.0))


def _shift_prior() -> tuple[Array, Array]:
    shifts = np.linspace(-0.5, 0.5, 121)
    narrow = np.exp(-0.5 * np.square(shifts / NARROW_PERIODS))
    prior = (1 - WIDE_SHARE) * narrow / narrow.sum() + WIDE_SHARE / len(shifts)
    return shifts, np.log(prior)


def _log_sum(x: Array) -> float:
    top = float(x.max())
    return top + float(np.log(np.sum(np.exp(x - top))))
