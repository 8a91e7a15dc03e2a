import numpy as np
import pytest
from dsp_parts import RATE, analysed, tool_take
from hypothesis import given, settings
from hypothesis import strategies as st
from obspy.signal.cross_correlation import correlate, xcorr_max
from obspy.signal.trigger import pk_baer
from scipy.signal import butter, lfilter

from dsp.methods.tool_pulse import correlation_curve, pulse_correlation, pulses_of

HZ = 1000


def curve(a, b, reach):
    lags, values = correlation_curve(
        np.asarray(a, float), np.asarray(b, float), longest_lag_s=reach / HZ + 1e-9, rate=HZ
    )
    return np.rint(lags * HZ).astype(int), values


def most_extreme(lags, values):
    at = int(np.argmax(np.abs(values)))
    return int(lags[at]), float(values[at])


def largest_positive(lags, values):
    """D5: the mutant; seen in public code of a relative-polarity method."""
    at = int(np.argmax(values))
    return int(lags[at]), float(values[at])


def test_worked_example_of_obspy():
    """D4, ObsPy documentation: fct = 101 zeros, fct[60] = .5, fct[40] = -1; both settings of abs_max."""
    fct = np.zeros(101)
    fct[60], fct[40] = 0.5, -1.0
    assert xcorr_max(fct) == (-10, -1.0)
    assert xcorr_max(fct, abs_max=False) == (10, 0.5)
    impulse = np.zeros(101)
    impulse[50] = 1.0
    size = np.sqrt(1.25)  # D4's fct is the curve of an impulse and fct itself, up to the normalisation
    lags, values = curve(impulse, fct, 50)
    assert most_extreme(lags, values) == (-10, pytest.approx(-1.0 / size))
    assert largest_positive(lags, values) == (10, pytest.approx(0.5 / size))


@settings(settings.get_profile("dsp"), max_examples=25)
@given(st.integers(0, 10_000), st.integers(20, 300), st.integers(1, 15), st.sampled_from([1, -1]))
def test_random_arrays_as_obspy_has_them(seed, length, reach, sign):
    """D4: value, sign and lag; ObsPy's shift counts the other way round."""
    rng = np.random.default_rng(seed)
    a = rng.standard_normal(length)
    b = sign * np.roll(a, int(rng.integers(-reach, reach + 1))) + 0.3 * rng.standard_normal(length)
    lags, values = curve(a, b, reach)
    oracle = correlate(a, b, reach, demean=False, normalize="naive")
    assert values[::-1] == pytest.approx(oracle, abs=1e-9)
    shift, value = xcorr_max(oracle)
    assert most_extreme(lags, values) == (-shift, pytest.approx(value))
    assert np.abs(values).max() <= 1 + 1e-12


def shifted(x, by, sign):
    return sign * np.concatenate([np.zeros(by), x[: len(x) - by]])


DELAYED = [
    # D10: white noise and its negated copy shifted by 5: peak -1 at lag 5; Knapp & Carter 1976 (memory).
    pytest.param(-1, id="D10 negated"),
    pytest.param(1, id="D10 as it is"),
]


@pytest.mark.parametrize("sign", DELAYED)
def test_copy_shifted_by_five(sign):
    x = np.random.default_rng(10).standard_normal(4000)
    lag, value = most_extreme(*curve(x, shifted(x, 5, sign), 20))
    assert lag == 5
    assert value == pytest.approx(sign, abs=2e-3)


def test_mutant_of_largest_positive_value_never_says_reversed():
    """D5: the largest positive value is right where nothing is turned over, and wrong where it is."""
    x = np.random.default_rng(5).standard_normal(4000)
    negated = curve(x, shifted(x, 5, -1), 20)
    assert np.sign(most_extreme(*negated)[1]) == -1
    assert np.sign(largest_positive(*negated)[1]) == 1
    assert largest_positive(*curve(x, shifted(x, 5, 1), 20))[0] == 5


def test_mutant_on_pulses():
    """D5: the same on lifts of opposed pickups, which ``pulse_correlation`` tells apart from two alike."""
    a, b, c = (pulse(tool_take("lift", sign=s, seed=k, quick=1 + k / 4)) for k, s in enumerate((1, 1, -1)))
    _, opposed = correlation_curve(a.values, c.values, longest_lag_s=0.05)
    assert opposed.max() > 0  # what the mutant would answer by
    assert pulse_correlation(a, c) < -0.3 < 0.3 < pulse_correlation(a, b)


def pulse(take):
    (only,) = pulses_of(analysed(take))
    return only


def first_motion(take):
    """D6: ObsPy's pk_baer at 1000 samples a second, behind a filter that runs forward only."""
    forward = lfilter(*butter(2, 60.0, fs=RATE), take - take[:4000].mean())
    _, what = pk_baer(forward[:: RATE // HZ].astype(np.float32), HZ, 20, 60, 7.0, 12.0, 100, 100)
    return {"IPU0": 1, "IPD0": -1}[what]


MOTIONS = [pytest.param(a, b, id=f"{a:+d} {b:+d}") for a in (1, -1) for b in (1, -1)]


@pytest.mark.parametrize(("s_a", "s_b"), MOTIONS)
@pytest.mark.parametrize("quick", [0.5, 1.0, 2.0])
def test_first_motion_picker_agrees(s_a, s_b, quick):
    """D6: 'IPU0' / 'IPD0' of each lift by itself, against the sign between the two (ObsPy, ran here)."""
    a = tool_take("lift", sign=s_a, seed=1, noise=1e-3)
    b = tool_take("lift", sign=s_b, seed=2, noise=1e-3, quick=quick)
    motions = first_motion(a) * first_motion(b)
    assert motions == s_a * s_b
    assert np.sign(pulse_correlation(pulse(a), pulse(b))) == motions
