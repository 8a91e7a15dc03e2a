"""How rarely the best possible detector is wrong about a sign, in white noise.

Task: error probabilities of detectors that know every clean waveform beforehand and lack nothing but the
sign. Shapes: arrays of any shape, element by element. Units: energies are sums of squared samples; the noise
of a sample has the standard deviation sigma. Signs: only whether two signs agree is asked for.

White noise of standard deviation sigma at a rate fs has the two-sided density N0 / 2 = sigma^2 / fs (N0 is
the one-sided density, in squared full scale a hertz, from 0 to fs / 2); a waveform of samples x has the
energy E = sum(x^2) / fs. So 2 E / N0 = sum(x^2) / sigma^2 = d^2 does not depend on the rate. d is called the
distance.

One known signal of unknown sign (source D1: any communications text): Pe = Q(sqrt(2 E / N0)) = Q(d).

Two of them, each with its own noise, and asked is whether their signs agree. Let u and v be the outputs of
the two matched filters over their noise: u is normal with mean s_a d_a and variance 1, v likewise. They say
all that the recordings say. With even odds on the common sign, the likelihood of "agree" is proportional to
cosh(d_a u + d_b v), of "opposed" to cosh(d_a u - d_b v); cosh grows with the magnitude, and |d_a u + d_b v|
is the larger exactly where u v > 0. So the best decision is the sign of the product u v, whatever d_a and
d_b, and Pe = p_a (1 - p_b) + p_b (1 - p_a) with p = Q(d). Several takes of one side add their energies.

Two signals in one recording, of which it is asked whether they add or oppose each other (pickups together on
one jack): whoever also told the sign of the stronger would leave a known signal of unknown sign, the weaker
one. So Pe >= Q(d of the weaker): a floor under every detector, reached where the two do not look alike.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import norm

Array = NDArray[np.float64]

KNOWN = ((0.0, 0.0786496), (4.0, 0.0125008), (6.0, 0.00238829), (10.0, 3.87e-6))
"""E/N0 in dB and Pe: source D1, "A known signal of unknown sign in white noise"."""


def distance(energy: ArrayLike, *, sigma: float) -> Array:
    """d = sqrt(2 E / N0) for ``energy``, a sum of squared samples."""
    return np.asarray(np.sqrt(energy) / sigma)


def unknown_sign(d: ArrayLike) -> Array:
    """Error about the sign of one known signal at the distance ``d``."""
    return np.asarray(norm.sf(np.asarray(d, dtype=np.float64)))


def signs_agree(d_a: ArrayLike, d_b: ArrayLike) -> Array:
    """Error about whether the signs of two known signals agree, each in a noise of its own."""
    a, b = unknown_sign(d_a), unknown_sign(d_b)
    return np.asarray(a * (1 - b) + b * (1 - a))


def signs_agree_simulated(
    d_a: float, d_b: float, *, trials: int, rng: np.random.Generator
) -> tuple[int, int]:
    """Wrong decisions of the product rule and of the likelihood ratio on ``trials`` synthetic pairs.

    The pairs are waveforms in noise, filtered with the matched filters, not draws of their outputs.
    """
    samples = 16
    shape_a, shape_b = rng.standard_normal((2, samples))
    a = d_a * shape_a / np.linalg.norm(shape_a)
    b = d_b * shape_b / np.linalg.norm(shape_b)
    signs = rng.choice([-1.0, 1.0], size=(trials, 2))
    u = (signs[:, :1] * a + rng.standard_normal((trials, samples))) @ a
    v = (signs[:, 1:] * b + rng.standard_normal((trials, samples))) @ b
    agree = signs[:, 0] == signs[:, 1]
    ratio = np.logaddexp(u + v, -u - v) - np.logaddexp(u - v, v - u)
    return int(np.sum((u * v > 0) != agree)), int(np.sum((ratio > 0) != agree))


def checked_against_d1() -> float:
    """The largest relative difference from the figures of source D1."""
    found = [unknown_sign(np.sqrt(2 * 10 ** (db / 10))) / pe - 1 for db, pe in KNOWN]
    return float(np.max(np.abs(found)))
