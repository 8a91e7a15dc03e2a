"""Paired plucks: relative polarity of two inputs that recorded one pluck.

Shapes: two signals (frames,) of one recording at the analysis rate, and the onset. Result: a statistic from
-1 (opposed) to 1 (the same sign). Sign: exchanging the channels changes nothing, negating one turns it over.

Per harmonic: the real part of the normalised complex correlation of the narrow-band envelopes, weighted by
how far both stand above their noise, times the sign that the places give it (`dsp.model.settings`). The
fundamental leads; harmonics beyond 3 vote only where the places are known. An angle that is neither none nor
half a turn says little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.model.settings import KNOWN_HARMONICS, Place, harmonic_sign
from dsp.signal.pitch import Pitch
from dsp.signal.samples import ANALYSIS_RATE

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

WINDOW_S = 0.45
"""Ringing that is compared, from the onset on."""
HARMONIC_WEIGHT = {1: 1.0, 2: 0.6, 3: 0.45, 4: 0.3, 5: 0.25, 6: 0.2, 7: 0.15, 8: 0.15}
"""How much each harmonic has to say when it is clean and its sign is sure (assumed, then calibrated)."""


@dataclass(frozen=True)
class HarmonicVote:
    """One harmonic: its correlation, and the voice it was given after noise and places."""

    n: int
    correlation: float
    expected_sign: int
    voice: float


@dataclass(frozen=True)
class PairedStatistic:
    """The weighed vote of the harmonics, from -1 (opposed) to 1 (the same sign)."""

    value: float
    votes: tuple[HarmonicVote, ...]


def paired_statistic(
    a: Array,
    b: Array,
    *,
    onset: int,
    pitch: Pitch,
    quiet: int | None = None,
    place_a: Place | None = None,
    place_b: Place | None = None,
    fret: int = 0,
) -> PairedStatistic:
    """Signed agreement of two channels on one pluck; 0 where neither channel says anything.

    The noise of each channel is measured before sample ``quiet``: the take's first onset, ``onset`` itself
    if left out.
    """
    stop = onset + int(WINDOW_S * ANALYSIS_RATE)
    votes = []
    weighed, total = 0.0, 0.0
    for n, voice in HARMONIC_WEIGHT.items():
        expected = harmonic_sign(n, place_a or Place(), place_b or Place(), fret=fret)
        if n > KNOWN_HARMONICS or expected.certainty == 0 or pitch.partial_hz(n) > 0.4 * ANALYSIS_RATE:
            continue
        hz = pitch.partial_hz(n)
        envelope_a = _envelope(a, hz=hz, spacing=pitch.f0_hz, start=onset, stop=stop)
        envelope_b = _envelope(b, hz=hz, spacing=pitch.f0_hz, start=onset, stop=stop)
        noise_a = _envelope(a, hz=hz, spacing=pitch.f0_hz, start=0, stop=onset if quiet is None else quiet)
        noise_b = _envelope(b, hz=hz, spacing=pitch.f0_hz, start=0, stop=onset if quiet is None else quiet)
        clear = _signal_share(envelope_a, noise_a) * _signal_share(envelope_b, noise_b)
        correlation = _phase_agreement(envelope_a, envelope_b)
        given = voice * expected.certainty
        total += given
        weighed += given * clear * expected.sign * correlation
        votes.append(HarmonicVote(n, correlation, expected.sign, given * clear))
    return PairedStatistic(weighed / total if total else 0.0, tuple(votes))


def _envelope(x: Array, *, hz: float, spacing: float, start: int, stop: int) -> ComplexArray:
    """Complex envelope at ``hz`` in overlapping Hann windows of three periods of the fundamental."""
    piece = x[max(0, start) : stop]
    width = int(3 * ANALYSIS_RATE / spacing)
    if len(piece) < width:
        return np.zeros(0, dtype=np.complex128)
    t = np.arange(len(piece)) / ANALYSIS_RATE
    rotated = piece * np.exp(-2j * np.pi * hz * t)
    window = np.hanning(width)
    frames = np.lib.stride_tricks.sliding_window_view(rotated, width)[:: max(1, width // 4)]
    return np.asarray(frames @ (window / window.sum()))


def _signal_share(signal: ComplexArray, noise: ComplexArray) -> float:
    if not len(signal):
        return 0.0
    power = float(np.mean(np.abs(signal) ** 2))
    floor = float(np.mean(np.abs(noise) ** 2)) if len(noise) else 0.0
    return max(0.0, power - floor) / power if power > 0 else 0.0


def _phase_agreement(a: ComplexArray, b: ComplexArray) -> float:
    """Real part of the normalised correlation, less where the angle is neither none nor half a turn."""
    size = float(np.sqrt(np.sum(np.abs(a) ** 2) * np.sum(np.abs(b) ** 2)))
    if size == 0:
        return 0.0
    product = complex(np.sum(a * np.conj(b))) / size
    if product == 0:
        return 0.0
    straight = max(0.0, float(np.cos(2 * np.angle(product))))
    return float(product.real) * straight
