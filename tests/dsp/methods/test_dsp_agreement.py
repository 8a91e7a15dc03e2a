import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dsp import SignalError
from dsp.methods.sequential import event_batches, station_table


def by_hand(ratios, station, gesture, flip_probability):
    """All signs of all events summed in plain Python; coupling 2/count a pair, half of it either way."""
    count, stations = len(station), max(station) + 1
    sums = {}
    for pattern in itertools.product((1, -1), repeat=stations):
        total = 0.0
        for own in itertools.product((1, -1), repeat=count):
            weight = 1.0
            for e in range(count):
                straight = own[e] == pattern[station[e]] * gesture[e]
                weight *= (1 - flip_probability[e]) if straight else flip_probability[e]
            pairs = sum(
                own[i] * own[j] * ratios[i][j] * 2.0 / count / 2.0
                for i in range(count)
                for j in range(i + 1, count)
            )
            total += weight * math.exp(pairs)
        sums[pattern] = math.log(total)
    top = max(sums.values())
    return {pattern: value - top for pattern, value in sums.items()}


def table(ratios, station, gesture=None, flip_probability=0.05):
    count = len(station)
    gesture = np.ones(count, dtype=np.int64) if gesture is None else np.array(gesture)
    return station_table(
        np.array(ratios, dtype=float),
        station=np.array(station),
        gesture=gesture,
        flip_probability=np.broadcast_to(np.asarray(flip_probability, dtype=float), count),
    )


def at(result, pattern):
    return result[tuple(0 if sign == 1 else 1 for sign in pattern)]


def drawn(seed, station):
    rng = np.random.default_rng(seed)
    count = len(station)
    upper = np.triu(rng.uniform(-4, 4, (count, count)), 1)
    return upper + upper.T, rng.choice([1, -1], count), rng.uniform(0.01, 0.3, count)


STATIONS = [
    pytest.param([0, 1], id="one event each"),
    pytest.param([0, 0, 1, 1], id="two each"),
    pytest.param([0, 1, 2, 0, 1], id="three stations"),
    pytest.param([0, 0, 0, 1, 2, 2, 1], id="seven events"),
]


@pytest.mark.parametrize("station", STATIONS)
@pytest.mark.parametrize("seed", range(3))
def test_against_all_patterns_by_hand(station, seed):
    ratios, gesture, flip_probability = drawn(seed, station)
    result = table(ratios, station, gesture, flip_probability)
    expected = by_hand(ratios.tolist(), station, gesture.tolist(), flip_probability.tolist())
    assert result.shape == (2,) * (max(station) + 1)
    for pattern, value in expected.items():
        assert at(result, pattern) == pytest.approx(value, abs=1e-9)


@settings(settings.get_profile("dsp"))
@given(st.integers(0, 1000), st.lists(st.integers(0, 2), min_size=3, max_size=8))
def test_only_relations_count(seed, station):
    station = [*station, 0, 1, 2]
    ratios, gesture, flip_probability = drawn(seed, station)
    result = table(ratios, station, gesture, flip_probability)
    assert result == pytest.approx(np.flip(result), abs=1e-9)
    assert result.max() == 0


@pytest.mark.parametrize("seed", range(4))
def test_negated_cross_ratios_turn_the_second_station(seed):
    station = np.array([0, 0, 0, 1, 1])
    ratios, gesture, flip_probability = drawn(seed, station)
    across = station[:, np.newaxis] != station[np.newaxis, :]
    turned_over = table(np.where(across, -ratios, ratios), station, gesture, flip_probability)
    assert turned_over == pytest.approx(
        np.flip(table(ratios, station, gesture, flip_probability), axis=1), abs=1e-9
    )


def test_a_gesture_of_the_other_kind_turns_its_station():
    """By construction; that taking a tool away gives the opposite swing to bringing it is practice (P4)."""
    ratios = np.full((4, 4), 2.0)
    alike = table(ratios, [0, 0, 1, 1])
    opposite = table(ratios, [0, 0, 1, 1], gesture=[1, 1, -1, -1])
    assert alike[0, 0] > alike[0, 1]
    assert opposite == pytest.approx(np.flip(alike, axis=1))


def test_ratios_of_zero_say_nothing():
    assert table(np.zeros((5, 5)), [0, 0, 1, 1, 2]) == pytest.approx(np.zeros((2, 2, 2)), abs=1e-12)


def test_a_rate_of_one_half_says_nothing():
    """By construction: a stroke that may as well have gone the other way carries no sign."""
    assert table(np.full((4, 4), 3.0), [0, 0, 1, 1], None, 0.5) == pytest.approx(np.zeros((2, 2)), abs=1e-9)


def margin(takes, ratio, flip_probability=0.05):
    station = [0] * takes + [1] * takes
    across = np.subtract.outer(station, station) != 0
    ratios = np.where(across, ratio, abs(ratio))
    np.fill_diagonal(ratios, 0)
    result = table(ratios, station, flip_probability=flip_probability)
    return result[0, 0] - result[0, 1]


@pytest.mark.parametrize("ratio", [0.5, 1.5, 4.0])
def test_more_consistent_takes_never_make_it_less_sure(ratio):
    """To six a side: all summed at once; beyond that in rounds."""
    same = [margin(k, ratio) for k in range(1, 15)]
    opposed = [margin(k, -ratio) for k in range(1, 15)]
    assert same[0] > 0.1
    assert all(later >= earlier - 1e-9 for earlier, later in itertools.pairwise(same))
    assert opposed == pytest.approx([-m for m in same], abs=1e-9)


@pytest.mark.parametrize("count", [1, 13, 14, 30])
def test_dealt_out_loses_and_repeats_nothing(count):
    station = np.arange(count) % 3
    rounds = event_batches(station, most=13)
    assert sorted(np.concatenate(rounds).tolist()) == list(range(count))
    assert max(len(r) for r in rounds) <= 13


REFUSED = [
    pytest.param({"ratios": np.zeros((3, 3))}, "same events", id="another number of ratios"),
    pytest.param({"flip_probability": np.array([0.1, 1.2])}, "within 0 to 1", id="a rate above 1"),
    pytest.param({"flip_probability": np.array([-0.1, 0.2])}, "within 0 to 1", id="a rate below 0"),
    pytest.param({"gesture": np.ones(3, dtype=np.int64)}, "same events", id="another number of gestures"),
]


@pytest.mark.parametrize(("changed", "match"), REFUSED)
def test_refused(changed, match):
    plain = {
        "ratios": np.zeros((2, 2)),
        "station": np.array([0, 1]),
        "gesture": np.ones(2, dtype=np.int64),
        "flip_probability": np.array([0.1, 0.1]),
    }
    values = {**plain, **changed}
    with pytest.raises(SignalError, match=match):
        station_table(values.pop("ratios"), **values)
