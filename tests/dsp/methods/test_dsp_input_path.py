"""Lag, sign and phase between two inputs from one signal on both: known by construction."""

import numpy as np
import pytest
from dsp_parts import LEAD_IN_S, STRINGS, plain_string, stock_pair
from scipy.signal import butter, sosfilt, sosfreqz

from dsp.methods.input_path import STEP_S, input_path
from dsp.methods.lateness import curve_fit, lateness
from dsp.methods.paired import paired_partials, statistic_of
from dsp.signal.pitch import Pitch
from dsp.signal.samples import ANALYSIS_RATE

ONSET = int(LEAD_IN_S * ANALYSIS_RATE)
NOISE = 1e-5


def late(x, seconds):
    size = 2 * len(x)
    hz = np.fft.rfftfreq(size, 1 / ANALYSIS_RATE)
    return np.fft.irfft(np.fft.rfft(x, size) * np.exp(-2j * np.pi * hz * seconds), size)[: len(x)]


def low_cut(x, hz=90.0, order=4):
    return sosfilt(butter(order, hz, "highpass", fs=ANALYSIS_RATE, output="sos"), x)


def one_signal(name="D3", change=lambda x: x):
    x = stock_pair(name)[0]
    rng = np.random.default_rng(1)
    return x, change(x) + NOISE * rng.standard_normal(len(x))


def path_of(a, b):
    return input_path(a, b, onset=ONSET, quiet=ONSET)


def partials_of(a, b, name):
    string = plain_string(name)
    return paired_partials(a, b, onset=ONSET, pitch=Pitch(string.f0_hz, string.stiffness, "as named"))


@pytest.mark.parametrize("lag_ms", [-5.0, -0.2, 0.0, 0.3, 1.0, 3.4, 8.0])
@pytest.mark.parametrize("sign", [1, -1])
def test_lag_and_sign_of_one_signal(lag_ms, sign):
    path = path_of(*one_signal(change=lambda x: sign * late(x, lag_ms * 1e-3)))
    assert path.lag_s * 1e3 == pytest.approx(lag_ms, abs=0.03)
    assert path.sign == sign
    assert path.plain
    assert path.lag_error_s < 2e-5


def test_inputs_exchanged_turn_lag_and_angles_round():
    a, b = one_signal("A2", lambda x: 0.5 * low_cut(late(x, 2e-3)))
    there, back = path_of(a, b), path_of(b, a)
    assert np.median(there.level_db) == pytest.approx(6.0, abs=0.5)
    assert back.level_db == pytest.approx(-there.level_db)
    hz = np.array([110.0, 220.0, 330.0])
    assert back.sign == there.sign
    angles = [path.angle_at(hz)[0] for path in (there, back)]
    assert np.exp(1j * angles[0]) == pytest.approx(np.exp(-1j * angles[1]), abs=0.05)


@pytest.mark.parametrize("negated", [False, True])
def test_phase_of_a_low_cut_is_measured_between_the_partials_too(negated):
    """By construction: the phase of the filter, at a note the check was not made on."""
    path = path_of(*one_signal("A2", lambda x: (-1 if negated else 1) * low_cut(x)))
    assert not path.plain
    assert path.sign == (-1 if negated else 1)
    hz = np.array([82.4, 146.8, 196.0, 246.9, 440.0])
    sections = butter(4, 90.0, "highpass", fs=ANALYSIS_RATE, output="sos")
    truth = -np.angle(sosfreqz(sections, hz, fs=ANALYSIS_RATE)[1])
    angle, voice = path.angle_at(hz)
    assert np.exp(1j * angle) == pytest.approx(np.exp(1j * truth), abs=0.15)
    assert np.all(voice > 0.5)


def test_below_what_was_heard_the_phase_of_a_low_cut_is_not_known():
    path = path_of(*one_signal("A2", low_cut))
    assert path.angle_at(np.array([0.8 * path.hz[0]]))[1] == [0.0]


def test_white_noise_and_its_negated_copy_shifted_by_five():
    """D10: peak -1 at lag 5."""
    x = np.random.default_rng(0).standard_normal(ONSET + ANALYSIS_RATE)
    x[:ONSET] *= 1e-4
    path = path_of(x, -np.roll(x, 5))
    assert path.lag_s * ANALYSIS_RATE == pytest.approx(5, abs=0.05)
    assert path.sign == -1
    assert path.agrees == pytest.approx(1.0, abs=0.05)


def test_a_short_quiet_tells_the_noise_too():
    a, b = one_signal(change=lambda x: -late(x, 1e-3))
    cut = ONSET - int(0.07 * ANALYSIS_RATE)
    path = input_path(a[cut:], b[cut:], onset=ONSET - cut, quiet=ONSET - cut)
    assert path.lag_s * 1e3 == pytest.approx(1.0, abs=0.03)
    assert path.sign == -1


def test_silence_has_no_path():
    x = stock_pair("D3")[0]
    assert path_of(x, np.zeros(len(x))) is None


@pytest.mark.parametrize("name", ["E2", "D3", "B3"])
@pytest.mark.parametrize("lag_ms", [1.0, 5.0, 8.0])
def test_what_is_taken_out_gives_the_statistic_back(name, lag_ms):
    a, b = stock_pair(name, signs=(1, -1))
    plain = statistic_of(partials_of(a, b, name)).value
    delayed = partials_of(a, late(b, lag_ms * 1e-3), name)
    path = path_of(*one_signal("A2", lambda x: late(x, lag_ms * 1e-3)))
    assert statistic_of(delayed.turned(path.angle_at(delayed.hz)[0])).value == pytest.approx(plain, abs=0.08)


def fits(change=lambda x: x, *, negate=False, exchange=False, names=("A2", "D3", "B3")):
    made = []
    for name in names:
        a, b = stock_pair(name)
        pair = (a, (-1 if negate else 1) * change(b))
        made.append(curve_fit(partials_of(*(pair[::-1] if exchange else pair), name)))
    return made


def test_plucks_in_step_show_no_lag():
    for name in STRINGS:
        assert lateness(fits(names=(name,))).nats < 1.0
    assert lateness(fits()).nats < -1.5


@pytest.mark.parametrize("lag_ms", [0.8, 1.0, 2.2, 3.0, 5.0, 8.0])
@pytest.mark.parametrize("input_", [1, 2])
def test_late_plucks_show_their_lag(lag_ms, input_):
    found = lateness(fits(lambda x: late(x, lag_ms * 1e-3), exchange=input_ == 1))
    assert found.nats > 4.0
    assert found.kind == "lag"
    assert found.lag_s * 1e3 == pytest.approx(lag_ms if input_ == 2 else -lag_ms, abs=0.11)


def test_a_steep_low_cut_shows_in_low_plucks():
    found = lateness(fits(lambda x: low_cut(x, 110.0), names=("E2", "A2")))
    assert found.nats > 4.0
    assert found.kind == "low cut"
    assert found.cut_input == 1
    assert lateness(fits(lambda x: low_cut(x, 110.0), names=("E2", "A2"), exchange=True)).cut_input == 0


def test_odds_of_a_lag_do_not_know_the_sign():
    usual = lateness(fits(lambda x: late(x, 3e-3)))
    assert lateness(fits(lambda x: late(x, 3e-3), negate=True)).nats == pytest.approx(usual.nats, abs=1e-9)
    assert lateness(fits(lambda x: late(x, 3e-3), exchange=True)).nats == pytest.approx(usual.nats, abs=1e-6)


@pytest.mark.parametrize("parts", [0.2, 0.45, -0.35])
def test_a_lag_between_the_points_of_the_search_is_measured_to_a_twentieth_of_one(parts):
    """The search goes by `STEP_S`; the slope of the angles that are left says the rest, with its sign."""
    lag_s = (40 + parts) * STEP_S
    path = path_of(*one_signal(change=lambda x: late(x, lag_s)))
    assert path.lag_s == pytest.approx(lag_s, abs=STEP_S / 20)
