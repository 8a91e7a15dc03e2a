import math

import numpy as np
import pytest

from dsp.model.settings import (
    COIL_OFFSET_MM,
    Place,
    Source,
    harmonic_factors,
    harmonic_sign,
    place_factor,
    source_factors,
)

SCALE_MM = 648.0
NECK, MIDDLE, BRIDGE = 162.0, 98.0, 41.0

# S4, derived from S3 (J. D. Tillman, "Response Effects of Guitar Pickup Mixing", till.com), n = 1..12.
PLACES = [
    pytest.param(NECK, BRIDGE, "+ + + 0 - - - 0 + + + 0", id="S4 162 & 41 mm"),
    pytest.param(NECK, MIDDLE, "+ + + 0 - - + 0 - - - 0", id="S4 162 & 98 mm"),
]
MARK = {"+": 1, "0": 0, "-": -1}


@pytest.mark.parametrize(("a_mm", "b_mm", "row"), PLACES)
def test_signs_of_the_harmonics(a_mm, b_mm, row):
    """S4: zeros too. The row is by the formula that is tested; test_dsp_places_waves.py has another way."""
    products = [
        place_factor(n, centre_mm=a_mm, length_mm=SCALE_MM)
        * place_factor(n, centre_mm=b_mm, length_mm=SCALE_MM)
        for n in range(1, 13)
    ]
    signs = [0 if abs(p) < 1e-9 else int(math.copysign(1, p)) for p in products]
    assert signs == [MARK[c] for c in row.split()]


@pytest.mark.parametrize(("a_mm", "b_mm", "row"), PLACES)
def test_votes_of_the_harmonics(a_mm, b_mm, row):
    """S4: the sign that votes is that of the row; on a zero it has no certainty at all."""
    for n, mark in enumerate(row.split()[:8], start=1):
        vote = harmonic_sign(n, Place(a_mm, SCALE_MM), Place(b_mm, SCALE_MM))
        assert vote == harmonic_sign(n, Place(b_mm, SCALE_MM), Place(a_mm, SCALE_MM))
        if mark == "0":
            assert vote.certainty == 0
        else:
            assert vote.sign == MARK[mark]
            assert vote.certainty > 0.5 or n == 7  # 98 mm lies 5.4 mm from the node of 7 at 92.6 mm


def test_first_nulls_lie_where_the_comb_has_them():
    """S3: low E at 162 mm has nulls every 330 Hz, that is at harmonics 4, 8, 12 of 82.4 Hz."""
    nulls = [n for n in range(1, 13) if abs(place_factor(n, centre_mm=NECK, length_mm=SCALE_MM)) < 1e-9]
    assert nulls == [4, 8, 12]
    assert 82.4 * nulls[0] == pytest.approx(330, abs=1)


PEAKS = [pytest.param(NECK, 165.0, id="S3 162 mm"), pytest.param(MIDDLE, 271.0, id="S3 98 mm")]


@pytest.mark.parametrize(("centre_mm", "peak_hz"), PEAKS)
def test_first_peak_of_the_comb(centre_mm, peak_hz):
    """S3: first peak = f0 L / (2x), figures of the page for low E at 82.4 Hz: there the factor is 1."""
    assert place_factor(peak_hz / 82.4, centre_mm=centre_mm, length_mm=SCALE_MM) == pytest.approx(1, abs=1e-3)


def test_certainty_falls_towards_a_node():
    """By construction: the node of harmonic 3 nearest to the neck pickup of a 648 mm scale lies at 216 mm."""
    far = [
        harmonic_sign(3, Place(x, SCALE_MM), Place(20.0, SCALE_MM)) for x in (160, 190, 205, 212, 215, 216)
    ]
    certainties = [h.certainty for h in far]
    assert certainties == sorted(certainties, reverse=True)
    assert certainties[0] > 0.99
    assert 0 < certainties[3] < 0.7
    assert certainties[-1] == 0
    beyond = harmonic_sign(3, Place(240.0, SCALE_MM), Place(20.0, SCALE_MM))
    assert beyond.sign == -1 and beyond.certainty > 0.99


@pytest.mark.parametrize("n", [1, 4, 8])
def test_the_bridge_is_no_node_to_cross(n):
    """By construction: no pickup lies on the far side of the bridge, so next to it every sign is sure."""
    near = Place(4.0, SCALE_MM)
    assert harmonic_sign(n, near, near).certainty > 0.99
    assert harmonic_sign(n, near, near).sign == 1


FRETTED = [
    # Assumed as in sources R6: both pickups within a quarter of the open string; the sounding
    # length is scale / 2^(fret/12), and harmonic n has its first node at 1/n of it.
    pytest.param(0, {1, 2, 3}, id="open"),
    pytest.param(5, {1, 2}, id="fret 5: a quarter of the scale is past the first node of 3"),
    pytest.param(12, {1}, id="fret 12: half of the string, a node of 2"),
    pytest.param(24, set(), id="fret 24: over the whole string"),
]


@pytest.mark.parametrize(("fret", "voting"), FRETTED)
@pytest.mark.parametrize("known", [None, NECK], ids=["neither place", "one place"])
def test_unknown_places(fret, voting, known):
    a = Place(known, SCALE_MM / 2 ** (fret / 12))
    votes = {n: harmonic_sign(n, a, Place(), fret=fret) for n in range(1, 13)}
    assert {n for n, vote in votes.items() if vote.certainty > 0} == voting
    assert {votes[n].sign for n in voting} <= {1}


@pytest.mark.parametrize("n", range(1, 9))
def test_one_coil_is_at_one_place_and_two_are_the_mean_of_two(n):
    """By construction: the string's shape at the place itself, and half-way between two places beside it."""
    centre, numbers = 120.0, np.array([n])
    one, two = (
        float(
            harmonic_factors(numbers, fractions=np.array([centre / SCALE_MM]), rows=c, length_mm=SCALE_MM)[
                0, 0
            ]
        )
        for c in (1, 2)
    )
    shape = [
        math.sin(n * math.pi * (centre + off) / SCALE_MM) for off in (0, -COIL_OFFSET_MM, COIL_OFFSET_MM)
    ]
    assert one == pytest.approx(shape[0], abs=1e-12)
    assert two == pytest.approx(0.5 * (shape[1] + shape[2]), abs=1e-12)


@pytest.mark.parametrize("quantile", [1e-6, 0.01, 0.5, 0.99])
def test_however_wrongly_measured_no_pickup_lies_behind_the_bridge(quantile):
    """There its fundamental would have the other sign."""
    near = Source(0, Place(4.0, SCALE_MM))
    assert source_factors(near, np.array([1.0]), np.array([quantile]))[0, 0] > 0
