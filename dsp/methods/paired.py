"""Paired plucks: relative polarity of two inputs that recorded one pluck.

Shapes: two signals (frames,) of one recording at the analysis rate, and the onset. Result: a statistic from
-1 (opposed) to 1 (the same sign). Sign: exchanging the channels changes nothing, negating one turns it over.

Per harmonic: the real part of the normalised complex correlation of the narrow-band envelopes, weighted by
how far both stand above their noise, times the sign that the places give it (`dsp.model.settings`). The
fundamental leads; harmonics beyond 3 vote only where the places are known. An angle that is neither none nor
half a turn says little.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dsp.model.settings import Place, harmonic_sign
from dsp.signal.pitch import Pitch
from dsp.signal.samples import ANALYSIS_RATE
from dsp.signal.waves import framed_sums, turns_of

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

WINDOW_S = 0.45
"""Ringing that is compared, from the onset on."""
HARMONIC_WEIGHT = {1: 1.0, 2: 0.6, 3: 0.45, 4: 0.3, 5: 0.25, 6: 0.2, 7: 0.15, 8: 0.15}
"""How much each harmonic has to say when it is clean and its sign is sure (assumed, then calibrated)."""
PARTIALS = 12
"""Partials that are compared; those without a vote still show how late one channel comes."""
HIGHEST_SHARE = 0.4
"""Of the analysis rate: above, the filters of the resampling begin."""


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


@dataclass(frozen=True, eq=False)
class PartialPairs:
    """The partials of one pluck on two channels, arrays (partials,) from the fundamental on.

    ``agreement``: normalised complex correlation of the envelopes; its angle is that of the first channel
    less that of the second, so 2 pi ``hz`` times the time by which the second comes later. ``clear``: the
    share of both that stands above their noise. ``signs`` and ``certainty``: what the places say (0:
    nothing).
    """

    hz: Array
    agreement: ComplexArray
    clear: Array
    signs: Array
    certainty: Array

    def turned(self, angle: Array) -> PartialPairs:
        """The same after ``angle`` (partials,), radians, was taken out of every agreement."""
        return replace(self, agreement=self.agreement * np.exp(-1j * np.asarray(angle)))


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
    return statistic_of(
        paired_partials(
            a, b, onset=onset, pitch=pitch, quiet=quiet, place_a=place_a, place_b=place_b, fret=fret
        )
    )


def paired_partials(
    a: Array,
    b: Array,
    *,
    onset: int,
    pitch: Pitch,
    quiet: int | None = None,
    place_a: Place | None = None,
    place_b: Place | None = None,
    fret: int = 0,
) -> PartialPairs:
    """The partials that both channels could hear; the arguments are those of `paired_statistic`."""
    stop = onset + int(WINDOW_S * ANALYSIS_RATE)
    before = onset if quiet is None else quiet
    numbers = [n for n in range(1, PARTIALS + 1) if pitch.partial_hz(n) <= HIGHEST_SHARE * ANALYSIS_RATE]
    hz = np.array([pitch.partial_hz(n) for n in numbers], dtype=np.float64)
    expected = [harmonic_sign(n, place_a or Place(), place_b or Place(), fret=fret) for n in numbers]
    envelopes = [_envelopes(x[max(0, onset) : stop], hz, spacing=pitch.f0_hz) for x in (a, b)]
    noises = [_envelopes(x[:before], hz, spacing=pitch.f0_hz) for x in (a, b)]
    shares = [_signal_shares(x, y) for x, y in zip(envelopes, noises, strict=True)]
    return PartialPairs(
        hz,
        _agreements(*envelopes),
        shares[0] * shares[1],
        np.array([one.sign for one in expected], dtype=np.float64),
        np.array([one.certainty for one in expected], dtype=np.float64),
    )


def statistic_of(partials: PartialPairs) -> PairedStatistic:
    """The vote of the partials that may vote."""
    votes = []
    weighed, total = 0.0, 0.0
    for n, share in HARMONIC_WEIGHT.items():
        if n > len(partials.hz) or partials.certainty[n - 1] == 0:
            continue
        sign = int(partials.signs[n - 1])
        correlation = _straightened(complex(partials.agreement[n - 1]))
        given = share * float(partials.certainty[n - 1])
        heard = given * float(partials.clear[n - 1])
        total += given
        weighed += heard * sign * correlation
        votes.append(HarmonicVote(n, correlation, sign, heard))
    return PairedStatistic(weighed / total if total else 0.0, tuple(votes))


def _envelopes(piece: Array, hz: Array, *, spacing: float) -> ComplexArray:
    """Complex envelopes in overlapping Hann windows of three periods of the fundamental, (windows, partials).

    Each window has its own start's phase, which is the same for all channels.
    """
    width = int(3 * ANALYSIS_RATE / spacing)
    window = np.hanning(width)
    return framed_sums(piece, -turns_of(hz), window=window / window.sum(), hop=max(1, width // 4))


def _signal_shares(signal: ComplexArray, noise: ComplexArray) -> Array:
    """What part of each partial's power in ``signal`` (windows, partials) stands above the noise."""
    if not len(signal):
        return np.zeros(signal.shape[1])
    power = _mean_power(signal)
    floor = _mean_power(noise) if len(noise) else np.zeros(len(power))
    return np.asarray(np.maximum(0.0, power - floor) / np.where(power > 0, power, 1.0))


def _agreements(a: ComplexArray, b: ComplexArray) -> ComplexArray:
    """Normalised complex correlation of each partial's two envelopes; 0 where one of them is silent."""
    size = np.sqrt(np.sum(np.abs(a) ** 2, axis=0) * np.sum(np.abs(b) ** 2, axis=0))
    return np.asarray(np.sum(a * np.conj(b), axis=0) / np.where(size > 0, size, np.inf))


def _mean_power(x: ComplexArray) -> Array:
    return np.asarray(np.mean(np.abs(x) ** 2, axis=0))


def _straightened(agreement: complex) -> float:
    """Real part of an agreement, less where its angle is neither none nor half a turn."""
    if agreement == 0:
        return 0.0
    straight = max(0.0, float(np.cos(2 * np.angle(agreement))))
    return float(agreement.real) * straight
