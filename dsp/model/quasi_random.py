"""Quasi-random points in a cube: Sobol's sequence, the same points every time.

Task: integrals over some ten unknowns with some hundred samples. Shapes: (points, dimensions), values between
0 and 1. The points are those of scipy.stats.qmc.Sobol to the last bit, with which tests/dsp compares them; to
load scipy.stats takes longer than to judge a job. Beyond the dimensions of the table it is loaded after all.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import scipy
from numpy.typing import NDArray

BITS = 30
_DIRECTIONS = """
3 1; 7 1 3; 11 1 3 1; 13 1 1 1; 19 1 1 3 3; 25 1 3 5 13; 37 1 1 5 5 17; 41 1 1 5 5 5; 47 1 1 7 11 19;
55 1 1 5 1 1; 59 1 1 1 3 11; 61 1 3 5 5 31; 67 1 3 3 9 7 49; 91 1 1 1 15 21 21; 97 1 3 1 13 27 49;
103 1 1 1 15 7 5; 109 1 3 1 15 13 25; 115 1 1 5 5 19 61; 131 1 3 7 11 23 15 103; 137 1 3 7 13 13 15 69;
143 1 1 3 13 7 35 63; 145 1 3 5 9 1 25 53; 157 1 3 1 13 9 35 107; 167 1 3 1 5 27 61 31;
171 1 1 5 11 19 41 61; 185 1 3 5 3 3 13 69; 191 1 1 7 13 1 19 1; 193 1 3 7 5 13 19 59;
203 1 1 3 9 25 29 41; 211 1 3 5 13 23 1 55; 213 1 3 7 3 13 59 17; 229 1 3 1 3 5 53 69;
239 1 1 5 5 23 33 13; 241 1 1 7 7 1 61 123; 247 1 1 7 9 13 61 49; 253 1 3 3 5 3 55 33;
285 1 3 1 15 31 13 49 245; 299 1 3 5 15 31 59 63 97; 301 1 3 1 11 11 11 77 249;
333 1 3 1 11 27 43 71 9; 351 1 1 7 15 21 11 81 45; 355 1 3 7 3 25 31 65 79; 357 1 3 1 1 19 11 3 205;
361 1 1 5 9 19 21 29 157; 369 1 3 7 11 1 33 89 185; 391 1 3 3 3 15 9 79 71; 397 1 3 7 11 15 39 119 27;
425 1 1 3 1 11 31 97 225; 451 1 1 1 3 23 43 57 177; 463 1 3 7 7 17 17 37 71; 487 1 3 1 5 27 63 123 213;
501 1 1 3 5 11 43 53 133; 529 1 3 5 5 29 17 47 173 479; 539 1 3 3 11 3 1 109 9 69;
545 1 1 1 5 17 39 23 5 343; 557 1 3 1 5 25 15 31 103 499; 563 1 1 1 11 11 17 63 105 183;
601 1 1 5 11 9 29 97 231 363; 607 1 1 5 15 19 45 41 7 383; 617 1 3 7 7 31 19 83 137 221;
623 1 1 1 3 23 15 111 223 83; 631 1 1 5 13 31 15 55 25 161; 637 1 1 3 13 25 47 39 87 257
"""
"""Of each dimension after the first: a primitive polynomial as the bits of a number, and its first direction
numbers, from the table new-joe-kuo-6.21201 of Joe and Kuo as scipy has it."""
_DIMENSIONS = 1 + _DIRECTIONS.count(";") + 1
_Bits = NDArray[np.uint32]


def sobol_points(dimensions: int, *, log2_points: int, seed: int | None = None) -> NDArray[np.float64]:
    """Return ``2**log2_points`` points; scrambled by ``seed``, or else beginning at the origin."""
    if dimensions > _DIMENSIONS:
        sobol = scipy.stats.qmc.Sobol(dimensions, scramble=seed is not None, seed=seed)
        return np.asarray(sobol.random_base2(log2_points))
    directions, shift = _directions(dimensions).copy(), np.zeros(dimensions, dtype=np.uint32)
    if seed is not None:
        rng = np.random.default_rng(seed)
        shift = np.dot(_coins(rng, dimensions, BITS), 2 ** np.arange(BITS, dtype=np.uint32))
        directions = _scrambled(directions, np.tril(_coins(rng, dimensions, BITS, BITS)))
    points = np.empty((1 << log2_points, dimensions), dtype=np.uint32)
    points[0] = shift
    for number in range(1, len(points)):
        changed = (number & -number).bit_length() - 1  # the bit in which Gray's code goes on
        points[number] = points[number - 1] ^ directions[:, changed]
    return np.asarray(points * (1.0 / 2**BITS), dtype=np.float64)


@cache
def _directions(dimensions: int) -> _Bits:
    """Direction numbers, (dimensions, BITS), the leading bit of a point uppermost."""
    found = np.ones((dimensions, BITS), dtype=np.uint32)
    for row, line in zip(found[1:], _DIRECTIONS.split(";"), strict=False):
        polynomial, *first = map(int, line.split())
        degree = len(first)
        row[:degree] = first
        for j in range(degree, BITS):
            number = int(row[j - degree])
            for k in range(degree):
                if polynomial >> (degree - 1 - k) & 1:
                    number ^= int(row[j - k - 1]) << (k + 1)
            row[j] = number
    return found << np.arange(BITS - 1, -1, -1, dtype=np.uint32)


def _coins(rng: np.random.Generator, *shape: int) -> _Bits:
    return rng.integers(2, size=shape, dtype=np.uint32)


def _scrambled(directions: _Bits, lower: _Bits) -> _Bits:
    """Multiply each direction number, as a column of bits from the uppermost on, by a triangle of bits."""
    lower[:, np.arange(BITS), np.arange(BITS)] = 1
    upper_first = np.arange(BITS - 1, -1, -1, dtype=np.uint32)
    bits = directions[:, :, np.newaxis] >> upper_first & 1
    mixed = np.einsum("dpk,djk->djp", lower, bits) & 1
    return np.asarray((mixed << upper_first).sum(axis=2, dtype=np.uint32))
