import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dsp import SignalError
from dsp.methods.driven_coil import DRIVE_HZ, LEVEL, DriveAnalysis, analyse_drive, drive_ratio, drive_waveform
from dsp.signal.samples import ANALYSIS_RATE

settings.load_profile("dsp")

RATE = ANALYSIS_RATE
OPEN_STRINGS_HZ = (82.4069, 110.0, 146.8324, 195.9977, 246.9417, 329.6276)
"""S5: ISO 16:1975."""


def came_back(sign=1, *, level=0.1, start_s=0.3, end_s=0.2, noise=1e-4, seed=0, rate=RATE):
    """The waveform's rate of change, as a coil gives it, somewhere in a take."""
    wave = drive_waveform(rate=rate)
    change = np.gradient(wave)
    take = np.concatenate([np.zeros(int(start_s * rate)), change, np.zeros(int(end_s * rate))])
    take = sign * level * take / np.abs(take).max()
    return take + noise * np.random.default_rng(seed).standard_normal(len(take))


def hear(x, **more):
    return analyse_drive(x, rate=more.pop("rate", RATE), **more)


def turned(degrees, *, quality=1.0, error=0.01):
    return DriveAnalysis(quality * np.exp(1j * math.radians(degrees)), error, -20.0, (), ())


def test_the_waveform():
    wave = drive_waveform(rate=48_000)
    assert len(wave) == 3 * 48_000
    assert np.abs(wave).max() == pytest.approx(LEVEL, rel=1e-3)
    assert LEVEL <= 0.25
    assert wave[0] == wave[-1] == 0
    assert np.abs(wave[:480]).max() < 0.1 * LEVEL
    assert wave.max() > 1.5 * -wave.min()
    assert np.abs(drive_waveform(rate=48_000, level=0.1)).max() == pytest.approx(0.1, rel=1e-3)


@pytest.mark.parametrize("kwargs", [{"level": 0.26}, {"level": 0.0}, {"level": -0.1}, {"seconds": 0.5}])
def test_a_waveform_out_of_bounds_is_refused(kwargs):
    with pytest.raises(SignalError, match=r"drive"):
        drive_waveform(rate=48_000, **kwargs)


@pytest.mark.parametrize("hz", [DRIVE_HZ, 2 * DRIVE_HZ])
def test_the_waveform_keeps_clear_of_mains_and_open_strings(hz):
    """F2: 50 Hz within 1 %; S5: open strings; a Hann window of the frames used is 5 Hz wide to its null."""
    mains = [n * nominal for nominal in (50, 60) for n in range(1, 12)]
    assert min(abs(hz - line) - 0.01 * line for line in mains) > 5
    assert min(abs(hz - n * f0) for f0 in OPEN_STRINGS_HZ for n in range(1, 6)) > 5


@given(sign=st.sampled_from([1, -1]), gain_db=st.floats(-40, 10), start_s=st.floats(0.0, 1.0))
def test_the_sign_shows_without_a_clock(sign, gain_db, start_s):
    """R7: twice the fundamental's phase less the second's turns by half with the sign."""
    one = hear(came_back())
    other = came_back(sign, level=0.1 * 10 ** (gain_db / 20), start_s=start_s, noise=1e-5)
    ratio = drive_ratio(one, hear(other))
    assert ratio * sign > 3
    assert drive_ratio(one, hear(-other)) == pytest.approx(-ratio)
    assert drive_ratio(hear(other), one) == pytest.approx(ratio)


def test_another_rate_and_an_offset_change_nothing():
    one = hear(came_back())
    other = hear(came_back(rate=48_000) + 0.01, rate=48_000)
    assert drive_ratio(one, other) > 3
    assert abs(np.angle(one.turn * np.conj(other.turn))) < 0.05
    assert abs(one.turn) == pytest.approx(1, abs=0.01)


@pytest.mark.parametrize("mains_hz", [50, 60])
@pytest.mark.parametrize("told", [True, False])
def test_hum_as_loud_as_the_drive_does_not_matter(mains_hz, told):
    x = came_back(-1, level=0.05)
    t = np.arange(len(x)) / RATE
    for n in range(1, 9):
        x = x + 0.05 / n * np.cos(2 * np.pi * n * mains_hz * 1.001 * t + n)
    ratio = drive_ratio(hear(came_back()), hear(x, mains_hz=mains_hz if told else None))
    assert ratio < -3


def test_sway_of_the_hand_does_not_matter():
    x = came_back(-1)
    x = x * (1 + 0.5 * np.sin(2 * np.pi * 1.3 * np.arange(len(x)) / RATE))
    assert drive_ratio(hear(came_back()), hear(x)) < -3


def codes(heard):
    assert heard.turn is None
    assert drive_ratio(heard, hear(came_back())) == 0
    return [fault.code for fault in heard.faults]


@pytest.mark.parametrize("seed", range(6))
def test_noise_is_no_drive(seed):
    assert codes(hear(0.01 * np.random.default_rng(seed).standard_normal(3 * RATE))) == ["no drive"]


def test_hum_or_a_string_is_no_drive():
    t = np.arange(3 * RATE) / RATE
    hum = sum(0.05 / n * np.cos(2 * np.pi * n * 60.0 * t) for n in range(1, 9))
    string = sum(0.1 / n * np.cos(2 * np.pi * n * 185.0 * t) for n in range(1, 9))  # F#3 of S5's temperament
    for x in (hum, string):
        assert codes(hear(x + 1e-4 * np.random.default_rng(0).standard_normal(len(x)))) == ["no drive"]


def test_too_short_or_too_weak_or_clipped():
    assert codes(hear(came_back()[: int(1.0 * RATE)])) == ["no drive"]
    t = np.arange(3 * RATE) / RATE
    lone = 0.01 * np.cos(2 * np.pi * DRIVE_HZ * t) + 1e-3 * np.random.default_rng(0).standard_normal(len(t))
    assert codes(hear(lone)) == ["drive too weak"]
    assert codes(hear(np.clip(20 * came_back(), -1, 1))) == ["clipped"]
    assert codes(hear(np.zeros(RATE))) == ["exact zeros"]


@pytest.mark.parametrize(
    ("degrees", "least", "most"), [(0, 3, 4), (15, 2, 4), (90, 0, 0.01), (60, -0.5, 0.5)]
)
def test_an_angle_in_between_says_little(degrees, least, most):
    assert least <= drive_ratio(turned(40), turned(40 + degrees)) <= most
    assert -most <= drive_ratio(turned(40), turned(220 + degrees)) <= -least


def test_the_ratio_shrinks_with_error_and_unsteadiness():
    assert drive_ratio(turned(0), turned(0, error=1.8)) < 0.5 * drive_ratio(turned(0), turned(0))
    assert drive_ratio(turned(0), turned(0, quality=0.3)) < 0.5 * drive_ratio(turned(0), turned(0))
