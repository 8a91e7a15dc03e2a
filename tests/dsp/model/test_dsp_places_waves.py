"""Signs of harmonics at two places, from a string that is worked out without a sine.

The oracle is d'Alembert's sum on a grid of one millimetre: a corner runs both ways and comes back turned
over, which is exact for an ideal string. What two places hear in one period goes through a Fourier
transform; nothing of sin(n pi x / L) is put in (sources S3 and S4 say the same by that formula).
"""

from functools import lru_cache

import numpy as np
import pytest

from dsp.model.settings import Place, harmonic_sign, place_factor

SCALE_MM = 648
HARMONICS = np.arange(1, 13)


@lru_cache
def spectrum_at(*places_mm):
    """(places, 12): the velocity of each place over one period, harmonic by harmonic; plucked at 45 mm.

    That is no place of a node of any of the twelve.
    """
    plucked = 45
    x = np.arange(SCALE_MM + 1)
    now = np.where(x <= plucked, x / plucked, (SCALE_MM - x) / (SCALE_MM - plucked))
    before = now.copy()
    before[1:-1] = 0.5 * (now[2:] + now[:-2])  # at rest: one step back is one step on
    heard = []
    for _ in range(2 * SCALE_MM):
        after = np.zeros_like(now)
        after[1:-1] = now[2:] + now[:-2] - before[1:-1]
        heard.append((after - before)[list(places_mm)] / 2)
        before, now = now, after
    return np.fft.rfft(np.array(heard), axis=0).T[:, HARMONICS]


PAIRS = [(162, 41), (162, 98), (98, 41), (150, 30), (120, 45)]


@pytest.mark.parametrize(("a_mm", "b_mm"), PAIRS)
def test_harmonics_agree_where_the_travelling_corner_says_so(a_mm, b_mm):
    a, b = spectrum_at(a_mm, b_mm)
    agreement = np.real(a * np.conj(b)) / np.abs(spectrum_at(a_mm, b_mm)).max() ** 2
    for n, told in zip(HARMONICS, agreement, strict=True):
        factors = [place_factor(int(n), centre_mm=x, length_mm=SCALE_MM) for x in (a_mm, b_mm)]
        if abs(factors[0] * factors[1]) < 1e-9:
            assert abs(told) < 1e-6
            continue
        assert np.sign(told) == np.sign(factors[0] * factors[1])
        vote = harmonic_sign(int(n), Place(float(a_mm), SCALE_MM), Place(float(b_mm), SCALE_MM))
        assert vote.certainty == 0 or vote.sign == np.sign(told)


def test_strengths_are_those_of_the_travelling_corner():
    """At 162 mm against 41 mm, whatever the pluck gives of each harmonic."""
    a, b = spectrum_at(162, 41)
    for n in (1, 2, 3, 5, 6, 7):
        factors = [place_factor(n, centre_mm=x, length_mm=SCALE_MM) for x in (162, 41)]
        assert abs(a[n - 1]) / abs(b[n - 1]) == pytest.approx(abs(factors[0] / factors[1]), rel=2e-3)
