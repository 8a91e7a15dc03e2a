"""Settings of a selector as sums of sources, and how strong a string is at each source, harmonic by harmonic.

Task: place, source and mix records; the factor sin(n pi x / L) of harmonic n at a place, its sign, how
certain that sign is, and its floor at a node; weights of the sources in a sum, usual and spread; tables over
sign patterns. Shapes: signs and weights (sources,) or (samples, sources), factors (places, harmonics) or
(samples, harmonics); a table has one axis of length 2 for each sign, index 0 for +1. Units: mm from the
bridge, kilo-ohm, dB, factors re an antinode. Sign: only relations count; turning all signs over changes no
table. Sources: S3, S4 (sign of a place), C3 (Millman: parallel sources count by their conductance). A
constant that differs from these on purpose stands where it is used, with the reason.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy
from numpy.typing import NDArray

TOLERANCE_MM = 5.0
"""How far a measured centre may be off, one standard deviation (assumed)."""
NECK_FRACTION = 0.26
"""Where no places are known, every pickup is taken to lie within this part of the open string."""
UNKNOWN_HARMONICS = 3
CLEAR_OF_NODE = 0.85
KNOWN_HARMONICS = 8


@dataclass(frozen=True)
class Place:
    """Where a pickup sits under a sounding string; ``centre_mm`` or ``length_mm`` None: not known."""

    centre_mm: float | None = None
    length_mm: float | None = None


@dataclass(frozen=True)
class HarmonicSign:
    """The sign two pickups in phase have to each other on one harmonic, and how sure it is (0 to 1)."""

    sign: int
    certainty: float


def place_factor(n: int, *, centre_mm: float, length_mm: float) -> float:
    """sin(n pi x / L): what harmonic ``n`` moves at the place, relative to its antinode."""
    return math.sin(n * math.pi * centre_mm / length_mm)


def harmonic_sign(n: int, a: Place, b: Place, *, fret: int = 0) -> HarmonicSign:
    """Sign of harmonic ``n`` between pickups ``a`` and ``b``.

    With both places known, the sign of the product and the chance that neither place is on the other
    side of a node, given ``TOLERANCE_MM``. Otherwise only the harmonics that have no node up to a
    quarter of the open string vote; ``fret`` shortens the string under them.
    """
    if a.centre_mm is None or b.centre_mm is None or a.length_mm is None or b.length_mm is None:
        furthest = n * NECK_FRACTION * 2 ** (fret / 12)
        if n > UNKNOWN_HARMONICS or furthest >= CLEAR_OF_NODE:
            return HarmonicSign(1, 0.0)
        return HarmonicSign(1, 1.0)
    if n > KNOWN_HARMONICS:
        return HarmonicSign(1, 0.0)
    product = place_factor(n, centre_mm=a.centre_mm, length_mm=a.length_mm) * place_factor(
        n, centre_mm=b.centre_mm, length_mm=b.length_mm
    )
    certainty = _clear(n, a.centre_mm, a.length_mm) * _clear(n, b.centre_mm, b.length_mm)
    return HarmonicSign(1 if product >= 0 else -1, certainty)


def _clear(n: int, centre_mm: float, length_mm: float) -> float:
    """How surely a place lies on its side of the nearest node; the bridge itself is no node to cross."""
    spacing = length_mm / n
    nearest = max(1, round(centre_mm / spacing))
    return math.erf(abs(centre_mm - nearest * spacing) / (TOLERANCE_MM * math.sqrt(2)))


Array = NDArray[np.float64]

NOWHERE = Place()
"""The place of a source that was not measured."""
COIL_OFFSET_MM = 9.0
"""Each coil of a humbucker lies about so far from its centre (common practice)."""


@dataclass(frozen=True)
class Source:
    """One pickup, or one coil of it, in a setting; ``coils``: how many of its coils sound.

    ``reversed``: the setting has its hot and ground exchanged. ``kohm`` None: not measured. ``one_row``: a
    string passes one row of poles, though more coils sound (dsp.model.pickups). Sources of one ``group`` of a
    mix are joined the other way than the mix; a knob lets ``share`` of it through.
    """

    sign: int
    place: Place = NOWHERE
    coils: Literal[1, 2] = 1
    reversed: bool = False
    kohm: float | None = None
    one_row: bool = False
    group: str | None = None
    share: float = 1.0

    @property
    def hums(self) -> bool:
        """Whether hum does not cancel within it."""
        return self.coils == 1

    @property
    def rows(self) -> int:
        """How many rows of poles a string passes."""
        return 1 if self.one_row else self.coils


@dataclass(frozen=True)
class Mix:
    """What one setting of the selector puts on the jack."""

    sources: tuple[Source, ...]
    join: Literal["parallel", "series"] = "parallel"

    @property
    def alone(self) -> bool:
        """Whether one source sounds by itself."""
        return len(self.sources) == 1

    @property
    def plain(self) -> bool:
        """Whether all sources are joined one way, and each is full up."""
        return all(s.group is None and s.share == 1.0 for s in self.sources)


Join = Literal["parallel", "series"]


def network_shares(
    impedance: Array, *, join: Join, groups: Sequence[str | None], shares: Sequence[float]
) -> Array:
    """Share of each source in the sum of a mixed network without a load, (sources,) or (sources, lines).

    ``impedance`` of each source, of that shape, any unit. Within a group the other join holds; a parallel
    join counts by conductance (sources C3), a series one wholly.
    """
    out = np.ones(impedance.shape)
    branches: list[list[int]] = []
    for k, group in enumerate(groups):
        same = next((b for b in branches if group is not None and groups[b[0]] == group), None)
        if same is None:
            branches.append([k])
        else:
            same.append(k)
    if join == "parallel":
        conductance = [1.0 / np.sum(impedance[b], axis=0) for b in branches]
        total = np.sum(conductance, axis=0)
        for branch, one in zip(branches, conductance, strict=True):
            out[branch] = one / total
    else:
        for branch in branches:
            inverse = 1.0 / impedance[branch]
            out[branch] = inverse / np.sum(inverse, axis=0)
    factors = np.asarray(shares, dtype=np.float64)
    return np.asarray(out * factors.reshape(-1, *(1,) * (out.ndim - 1)))


def mixed_shares(mix: Mix, impedance: Array) -> Array:
    """`network_shares` of a mix's sources."""
    return network_shares(
        impedance, join=mix.join, groups=[s.group for s in mix.sources], shares=[s.share for s in mix.sources]
    )


def harmonic_factors(
    numbers: Array | NDArray[np.int64], *, fractions: Array, rows: int = 1, length_mm: float
) -> Array:
    """sin(n pi x / L) of harmonics ``numbers`` at ``fractions`` of the string, (places, harmonics).

    Of two rows of poles the mean (sources S3).
    """
    factors = np.sin(np.pi * np.outer(fractions, numbers))
    if rows > 1:
        factors = factors * np.cos(np.pi * numbers * COIL_OFFSET_MM / length_mm)
    return np.asarray(factors)


def weights_of(mix: Mix) -> Array:
    """Share of each source in the sum, (sources,): 1 each in series, by conductance in parallel.

    Sources of unknown resistance count as the mean of the known ones, or alike; in a mixed network by both.
    """
    if mix.join == "series" and mix.plain:
        return np.ones(len(mix.sources))
    known = [s.kohm for s in mix.sources if s.kohm]
    usual = math.exp(sum(math.log(k) for k in known) / len(known)) if known else 1.0
    if not mix.plain:
        return mixed_shares(mix, np.array([s.kohm or usual for s in mix.sources]))
    conductance = np.array([1.0 / (s.kohm or usual) for s in mix.sources])
    return np.asarray(conductance / conductance.sum())


def sign_patterns(count: int) -> Array:
    """All patterns of ``count`` signs up to turning all over, (2 ** (count - 1), count): the first is +1."""
    rest = 1 - 2 * ((np.arange(2 ** (count - 1))[:, np.newaxis] >> np.arange(count - 1)) & 1)
    return np.concatenate([np.ones((len(rest), 1)), rest], axis=1)


def table_of(scores: Array, count: int) -> Array:
    """Log likelihoods in the order of ``sign_patterns`` as a table, (2,) * count, largest value 0."""
    table = np.zeros((2,) * count)
    for score, signs in zip(scores, sign_patterns(count), strict=True):
        index = tuple(0 if s > 0 else 1 for s in signs)
        table[index] = score
        table[tuple(1 - k for k in index)] = score
    return np.asarray(table - table.max())


def signs_in(mix: Mix, signs: Sequence[float] | Array) -> Array:
    """The sign with which each source of a mix comes out, (sources,), for the pattern ``signs``."""
    return np.array([signs[s.sign] * (-1 if s.reversed else 1) for s in mix.sources])


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
        numbers, fractions=fractions, rows=source.rows, length_mm=length or USUAL_SCALE_MM / shortened
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
    return np.asarray(
        weights if mix.join == "series" or not mix.plain else weights / weights.sum(axis=1, keepdims=True)
    )
