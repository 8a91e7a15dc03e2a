"""How a magnetic pickup and another kind of source add, frequency by frequency: a piezo, a microphone.

Task: from one pluck on two channels the cross-spectrum in narrow bins, and from several plucks what the sum
of both does in each octave, as wired and with one of the two exchanged. Shapes: signals (frames,) at the
analysis rate, full scale 1.0; bins (bins,). Units: Hz, seconds, degrees, dB. Sign: ``likeness`` is +1 where
both move as one, -1 where one is the other turned over, 0 at a quarter of a turn, or where partials of one
band differ: then neither sense adds. Exchanging one source turns every likeness over.

A magnetic pickup goes with the string's velocity at its place, a piezo bridge with the force at the string's
end, a microphone with what the body gives after a path through air: the angle between them is neither 0 nor
180 degrees and goes with frequency (sources S3 for the first; the rest common practice).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from dsp.signal.samples import ANALYSIS_RATE

Array = NDArray[np.float64]

EDGES_HZ = tuple(80.0 * 2**k for k in range(7))
"""Octaves from below the lowest string of a guitar to 5 kHz."""
BINS_AN_OCTAVE = 12
"""Narrow, so that a lag of the inputs can be taken out later: 1 ms turns a bin at 1 kHz by 20 degrees."""
AFTER_S, LONGEST_S, LEAST_S = 0.02, 1.0, 0.15
LEAST_SNR = 10.0
"""Power of a bin over the noise before the pluck, on both channels, from which it counts."""
CLEARLY = 0.35
"""From this likeness on a sum at equal loudness is at least 1.3 dB above, or 1.9 dB below, two strangers."""
FEWEST_PLUCKS = 2

Sense = Literal["add", "take away", "neither", "not clear"]


@dataclass(frozen=True, eq=False)
class BlendBins:
    """One pluck in narrow bins (bins,): cross-power a conj(b), and the power of each; 0 where it is noise."""

    hz: Array
    cross: NDArray[np.complex128]
    power_a: Array
    power_b: Array


@dataclass(frozen=True)
class BlendBand:
    """What the sum of both does in one octave.

    ``sense`` as wired; ``likeness`` of the plucks, mean and the furthest from it; ``angle_deg`` of b
    against a; ``level_db`` and ``exchanged_db``: the sum of both at equal loudness, against two sources that
    have nothing to do with each other.
    """

    low_hz: float
    high_hz: float
    sense: Sense
    likeness: float
    spread: float
    angle_deg: float
    level_db: float
    exchanged_db: float
    plucks: int


def blend_bins(a: Array, b: Array, *, onset: int, quiet: int, stop: int | None) -> BlendBins | None:
    """One pluck's bins from ``onset`` on; None where it rings too shortly. The noise is before ``quiet``."""
    start = onset + int(AFTER_S * ANALYSIS_RATE)
    end = min(len(a), start + int(LONGEST_S * ANALYSIS_RATE), len(a) if stop is None else stop)
    if end - start < LEAST_S * ANALYSIS_RATE:
        return None
    edges = EDGES_HZ[0] * 2 ** (np.arange((len(EDGES_HZ) - 1) * BINS_AN_OCTAVE + 1) / BINS_AN_OCTAVE)
    cross, power_a, power_b = _powers(a[start:end], b[start:end], edges)
    before = slice(max(0, quiet - int(0.3 * ANALYSIS_RATE)), max(0, quiet - int(0.01 * ANALYSIS_RATE)))
    if len(a[before]) > LEAST_S * ANALYSIS_RATE / 2:
        _, noise_a, noise_b = _powers(a[before], b[before], edges)
        heard = (power_a > LEAST_SNR * noise_a) & (power_b > LEAST_SNR * noise_b)
    else:
        heard = (power_a > 0) & (power_b > 0)
    centre = np.sqrt(edges[:-1] * edges[1:])
    return BlendBins(centre, np.where(heard, cross, 0), power_a * heard, power_b * heard)


def _powers(a: Array, b: Array, edges: Array) -> tuple[NDArray[np.complex128], Array, Array]:
    """Cross-power and powers between the edges, per sample."""
    window = np.hanning(len(a))
    size = 1 << math.ceil(math.log2(2 * len(a)))
    spectra = [np.fft.rfft(window * (x - np.mean(x)), size) for x in (a, b)]
    hz = np.fft.rfftfreq(size, 1 / ANALYSIS_RATE)
    scale = float(np.sum(np.square(window))) * size
    at = np.searchsorted(hz, edges)
    sums = [
        np.add.reduceat(x, at[:-1]) / scale
        for x in (spectra[0] * np.conj(spectra[1]), np.abs(spectra[0]) ** 2, np.abs(spectra[1]) ** 2)
    ]
    return np.asarray(sums[0]), np.asarray(sums[1].real), np.asarray(sums[2].real)


def blend_bands(plucks: Sequence[BlendBins], *, lag_s: float = 0.0, sign: int = 1) -> tuple[BlendBand, ...]:
    """What the sum does in each octave that was heard.

    ``lag_s``: so much b's input is late; ``sign``: -1 where its input, or its leads, turn it over.
    """
    bands = []
    for low, high in pairwise(EDGES_HZ):
        each = [_likeness(p, low, high, lag_s=lag_s, sign=sign) for p in plucks]
        heard = [one for one in each if one is not None]
        if not heard:
            continue
        likeness = np.array([one.real for one in heard])
        mean = float(np.mean(likeness))
        spread = float(np.max(np.abs(likeness - mean)))
        bands.append(
            BlendBand(
                low,
                high,
                _sense(likeness),
                mean,
                spread,
                -math.degrees(float(np.angle(np.sum(heard)))),
                10 * math.log10(max(1 + mean, 0.01)),
                10 * math.log10(max(1 - mean, 0.01)),
                len(heard),
            )
        )
    return tuple(bands)


def _likeness(bins: BlendBins, low: float, high: float, *, lag_s: float, sign: int) -> complex | None:
    """Normalised cross-power of one pluck in one band; None where nothing stands out of the noise."""
    inside = (bins.hz >= low) & (bins.hz < high)
    power = math.sqrt(float(np.sum(bins.power_a[inside]) * np.sum(bins.power_b[inside])))
    if power <= 0:
        return None
    turned = bins.cross[inside] * np.exp(-2j * math.pi * bins.hz[inside] * lag_s)
    return complex(sign * np.sum(turned) / power)


def _sense(likeness: Array) -> Sense:
    """What plucks that agree say; one alone says nothing."""
    if len(likeness) < FEWEST_PLUCKS:
        return "not clear"
    if np.all(likeness > CLEARLY):
        return "add"
    if np.all(likeness < -CLEARLY):
        return "take away"
    return "neither" if np.all(np.abs(likeness) <= CLEARLY) else "not clear"
