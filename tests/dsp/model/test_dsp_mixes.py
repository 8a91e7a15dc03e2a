import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from simulator.circuits import millman

from dsp.model.settings import Mix, Source, harmonic_factors, sign_patterns, signs_in, table_of, weights_of

COUNTS = (1, 2, 3, 4)


@pytest.mark.parametrize("count", COUNTS)
def test_patterns_are_all_there_are_up_to_turning_all_over(count):
    """By construction: with their turned selves they are all of the 2 ** count patterns, each once."""
    patterns = sign_patterns(count)
    assert patterns.shape == (2 ** (count - 1), count)
    assert set(patterns[:, 0]) == {1.0}
    everything = {tuple(p) for p in np.concatenate([patterns, -patterns])}
    assert everything == {tuple(1.0 - 2.0 * ((k >> i) & 1) for i in range(count)) for k in range(2**count)}


@pytest.mark.parametrize("count", COUNTS)
def test_each_score_stands_where_its_pattern_says(count):
    """Index 0 is +1, index 1 is -1, in both turns; the largest is 0."""
    patterns = sign_patterns(count)
    scores = np.arange(len(patterns)) * 1.5 - 7.0
    table = table_of(scores, count)
    assert table.shape == (2,) * count
    assert table.max() == 0.0
    for score, pattern in zip(scores, patterns, strict=True):
        for turn in (1, -1):
            index = tuple(0 if turn * s > 0 else 1 for s in pattern)
            assert table[index] == pytest.approx(score - scores.max())


@given(
    st.integers(1, 4).flatmap(
        lambda n: st.tuples(
            st.just(n), st.lists(st.floats(-50, 50), min_size=2 ** (n - 1), max_size=2 ** (n - 1))
        )
    )
)
def test_turning_all_over_changes_no_table(drawn):
    count, scores = drawn
    table = table_of(np.array(scores), count)
    assert np.array_equal(table, np.flip(table))
    shifted = table_of(np.array(scores) + 3.0, count)
    assert shifted == pytest.approx(table, abs=1e-9)


def test_a_missing_score_is_refused():
    with pytest.raises(ValueError, match="zip"):
        table_of(np.zeros(3), 3)


SIX, EIGHT = Source(0, kohm=6.0), Source(1, kohm=8.0)
C3 = [
    # C3: Millman's theorem, 6 k and 8 k, 1 V each, no load.
    pytest.param((1, 1), 1.0, id="C3 in phase"),
    pytest.param((1, -1), 1 / 7, id="C3 out of phase"),
]


@pytest.mark.parametrize(("signs", "volts"), C3)
def test_weights_in_parallel(signs, volts):
    """C3: the weighted sum is the voltage; shares 4/7 and 3/7, by the formula that is tested."""
    mix = Mix((SIX, EIGHT))
    assert weights_of(mix) == pytest.approx([4 / 7, 3 / 7], rel=1e-12)
    together = float(weights_of(mix) @ signs_in(mix, signs))
    assert together == pytest.approx(volts, rel=1e-12)


@given(st.lists(st.floats(1.0, 20.0), min_size=1, max_size=4))
def test_weights_are_shares_by_conductance(kohm):
    """Each weight is the voltage that source alone gives into the others, by the simulator: C3 both times."""
    weights = weights_of(Mix(tuple(Source(i, kohm=k) for i, k in enumerate(kohm))))
    assert float(weights.sum()) == pytest.approx(1.0)
    for i, weight in enumerate(weights):
        volts = [1.0 if j == i else 0.0 for j in range(len(kohm))]
        assert weight == pytest.approx(millman(volts, [1e3 * k for k in kohm]), rel=1e-9)


UNKNOWN = [
    pytest.param((None, None), [0.5, 0.5], id="none known: alike"),
    pytest.param((None, 7.0), [0.5, 0.5], id="one known: the other counts as it"),
    # by hand: the geometric mean of 4 and 9 is 6; conductances 9/36, 6/36, 4/36
    pytest.param((4.0, None, 9.0), [9 / 19, 6 / 19, 4 / 19], id="the mean of the known"),
]


@pytest.mark.parametrize(("kohm", "expected"), UNKNOWN)
def test_unknown_resistances(kohm, expected):
    mix = Mix(tuple(Source(i, kohm=k) for i, k in enumerate(kohm)))
    assert weights_of(mix) == pytest.approx(expected)


@pytest.mark.parametrize("kohm", [(6.0, 8.0), (None, None), (6.0, None)])
def test_in_series_each_counts_in_full(kohm):
    mix = Mix(tuple(Source(i, kohm=k) for i, k in enumerate(kohm)), join="series")
    assert np.array_equal(weights_of(mix), [1.0, 1.0])


@given(
    st.lists(st.booleans(), min_size=3, max_size=3),
    st.lists(st.sampled_from([-1, 1]), min_size=3, max_size=3),
)
def test_a_reversed_source_comes_out_turned_over(reversed_, signs):
    """By construction: exchanged leads turn the sign, and the pattern turned over turns every sign."""
    mix = Mix(tuple(Source(i, reversed=r) for i, r in enumerate(reversed_)))
    out = signs_in(mix, signs)
    assert out.tolist() == [-s if r else s for r, s in zip(reversed_, signs, strict=True)]
    assert np.array_equal(signs_in(mix, [-s for s in signs]), -out)


def test_sources_find_their_signs_by_number():
    """A pickup in several places of a setting, or in another order, keeps its own sign."""
    mix = Mix((Source(2), Source(0), Source(2, reversed=True)))
    assert signs_in(mix, [1, -1, -1]).tolist() == [-1, 1, 1]
    assert not mix.alone
    assert Mix((Source(2),)).alone
    assert math.isclose(float(weights_of(Mix((Source(5, kohm=7.0),)))[0]), 1.0)


def test_the_factors_of_two_places_have_the_signs_that_are_published():
    """162 and 41 mm on a 648 mm scale: + + + 0 - - - 0 (sources S4); of two coils less, same signs."""
    n = np.arange(1, 9)
    for coils in (1, 2):
        at = harmonic_factors(n, fractions=np.array([162.0, 41.0]) / 648.0, rows=coils, length_mm=648.0)
        product = at[0] * at[1]
        assert np.sign(np.where(np.abs(product) < 1e-9, 0.0, product)).tolist() == [1, 1, 1, 0, -1, -1, -1, 0]
