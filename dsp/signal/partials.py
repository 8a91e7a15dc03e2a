"""Complex amplitudes of the partials of one pluck.

Task: least-squares fit of decaying partials to a stretch of a signal. Shapes: signal (frames,) at the
analysis rate; frequencies, decays, amplitudes (partials,). Units: full scale 1.0, Hz, 1/s.
Sign: an amplitude ``a`` stands for Re(a exp(2 pi i f (t - t_ref))); turning the signal over turns every
amplitude by half a turn.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.signal.samples import ANALYSIS_RATE

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, eq=False)
class Partials:
    """Partials 1..N of one pluck, referred to sample ``reference``.

    ``amplitudes`` and ``hz`` and ``decay`` (1/s) have shape (N,); ``misfit`` is the share of the fitted
    stretch's energy that the partials leave over.
    """

    hz: Array
    decay: Array
    amplitudes: ComplexArray
    reference: float
    misfit: float

    def waveform(self, start: int, stop: int) -> Array:
        """The partials' sum over samples ``start`` to ``stop``, shape (stop - start,)."""
        t = (np.arange(start, stop) - self.reference) / ANALYSIS_RATE
        return np.asarray(np.real(_exponentials(t, hz=self.hz, decay=self.decay) @ self.amplitudes))

    def referred_to(self, reference: float) -> Partials:
        """The same partials with their amplitudes taken at another sample."""
        t = np.array([(reference - self.reference) / ANALYSIS_RATE])
        moved = self.amplitudes * _exponentials(t, hz=self.hz, decay=self.decay)[0]
        return Partials(self.hz, self.decay, moved, reference, self.misfit)


def fitted_partials(x: Array, *, start: int, stop: int, hz: Array, decay: Array) -> Partials:
    """Least-squares amplitudes of partials at ``hz`` over ``start`` to ``stop``, referred to ``start``."""
    piece = x[start:stop]
    t = np.arange(len(piece)) / ANALYSIS_RATE
    waves = _exponentials(t, hz=hz, decay=decay)
    basis = np.concatenate([waves.real, -waves.imag], axis=1)
    weights = np.linalg.lstsq(basis, piece, rcond=1e-6)[0]
    energy = float(np.sum(np.square(piece)))
    left = float(np.sum(np.square(piece - basis @ weights)))
    count = len(hz)
    amplitudes = weights[:count] + 1j * weights[count:]
    return Partials(hz, decay, amplitudes, float(start), left / energy if energy else 1.0)


def decays(x: Array, *, start: int, hz: Array, period_s: float) -> Array:
    """Decay rate (1/s) of each partial, from its level in two windows after ``start``; shape of ``hz``."""
    width = int(max(4 * period_s, 0.05) * ANALYSIS_RATE)
    gap = int(0.10 * ANALYSIS_RATE)
    early = _levels(x[start : start + width], hz=hz)
    late = _levels(x[start + gap : start + gap + width], hz=hz)
    if early is None or late is None:
        return np.full(len(hz), 3.0)
    return np.asarray(np.clip(np.log(early / late) * ANALYSIS_RATE / gap, 0.0, 40.0))


def _levels(piece: Array, *, hz: Array) -> Array | None:
    if len(piece) < 0.04 * ANALYSIS_RATE:
        return None
    t = np.arange(len(piece)) / ANALYSIS_RATE
    window = np.hanning(len(piece))
    return np.asarray(np.abs(np.exp(-2j * np.pi * np.outer(hz, t)) @ (piece * window)) + 1e-15)


def _exponentials(t: Array, *, hz: Array, decay: Array) -> ComplexArray:
    return np.asarray(np.exp(np.outer(t, 2j * np.pi * hz - decay)))
