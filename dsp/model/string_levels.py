"""How strong a string is at a pickup, harmonic by harmonic: one model and one set of constants.

Task: factors of a source for places within what is known of them; their floor at a node; weights of the
sources in a sum, spread about the usual ones. Shapes: quantiles (samples,) of 0 to 1, one a sample of the
place; factors (samples, harmonics); weights (samples, sources). Units: mm, dB; factors re an antinode.
Sign: that of sin(n pi x / L) (sources S3, S4).

Constants that differ from these on purpose stand where they are used, with the reason.
"""

from __future__ import annotations

import numpy as np
import scipy
from numpy.typing import NDArray

from dsp.model.settings import NECK_FRACTION, TOLERANCE_MM, Mix, Source, harmonic_factors

Array = NDArray[np.float64]

USUAL_SCALE_MM = 640.0
UNKNOWN_PLACES = (0.045, NECK_FRACTION)
"""A pickup whose place is not known lies anywhere between these parts of the open string (assumed)."""
NODE_FLOOR = 0.06
"""At a node a pickup still senses so much of its antinode: it is no point, the string moves sideways too."""
STRENGTH_DB = 4.5
"""Standard deviation of one pickup's strength against another's, make and height (assumed; 3 dB is
usual on one guitar)."""
WEIGHT_DB = 2.5
"""Standard deviation of a weight in a sum: fixing them made three times as many wrong (sources T4)."""


def source_factors(source: Source, numbers: Array, quantiles: Array, *, fret: int = 0) -> Array:
    """Signed factors of harmonics ``numbers`` at sampled places, (samples, harmonics).

    A known place is normal about the measured one, an unknown one even over ``UNKNOWN_PLACES``; ``fret``
    shortens the string over an unknown one.
    """
    centre, length = source.place.centre_mm, source.place.length_mm
    shortened = 2 ** (fret / 12)
    if centre is None or length is None:
        low, high = UNKNOWN_PLACES
        fractions = (low + (high - low) * quantiles) * shortened
    else:
        fractions = np.maximum(centre + TOLERANCE_MM * scipy.special.ndtri(quantiles), 0.5 * centre) / length
    return harmonic_factors(
        numbers, fractions=fractions, coils=source.coils, length_mm=length or USUAL_SCALE_MM / shortened
    )


def with_floor(factors: Array, floor: float | Array = NODE_FLOOR) -> Array:
    """The factors, each no smaller than ``floor`` (added as power); the sign stays."""
    return np.asarray(np.copysign(np.hypot(factors, floor), factors))


def spread_weights(mix: Mix, usual: Array, off_db: Array) -> Array:
    """Weights ``usual`` of a mix's sources, each ``off_db`` off, with the sources on axis 1.

    In parallel they share one sum; a source alone has all of it. The arrays broadcast against each other.
    """
    weights = usual * 10 ** (off_db / 20)
    if mix.alone:
        return np.ones(weights.shape)
    return np.asarray(weights if mix.join == "series" else weights / weights.sum(axis=1, keepdims=True))
