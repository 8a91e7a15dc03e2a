"""The inputs before anything is recorded: each trouble has its own code, and ordinary inputs have none."""

import numpy as np
import pytest
from dsp_parts import pair, rig, setting
from scipy import signal
from simulator.scenes import random_bench
from simulator.takes import hum

from dsp import SignalError
from dsp.health.inputs import check_setup, climb_db, quiet_levels, raggedness_db
from dsp.signal.samples import ANALYSIS_RATE

RATE = ANALYSIS_RATE
NOISE = 1e-4
SETTINGS = [setting(162.0), setting(41.0)]


def nothing(seed=0, *, hum_v=2e-3, mains_hz=50.0, noise=NOISE):
    around = rig(rate=RATE, ringing_s=2.6, lead_in_s=0.4, hum=hum_v, mains_hz=mains_hz, noise=noise)
    return hum(np.random.default_rng(seed), SETTINGS, around)


QUIET = nothing()
PLUCKED = pair("D3", rate=RATE, lead_in_s=1.2, ringing_s=2.5, hum=2e-3, noise=NOISE)
SECONDS = np.arange(len(QUIET)) / RATE


def codes(x, **said):
    return {(f.code, f.channel) for f in check_setup(x, rate=RATE, **said)}


def test_nothing_is_wrong_with_a_usual_input():
    assert codes(QUIET) == set()
    assert codes(PLUCKED) == set()


@pytest.mark.parametrize("seed", range(5))
def test_ordinary_benches(seed):
    rng = np.random.default_rng(900 + seed)
    bench = random_bench(rng)
    both = [bench.pickups[0].name, bench.pickups[1].name]
    assert codes(bench.hum(rng, both, rate=RATE, lead_in_s=0.4, ringing_s=2.0)) == set()


@pytest.mark.parametrize("turned", [(1, 1), (-1, 1), (1, -1), (-1, -1)])
def test_turning_channels_over_changes_nothing(turned):
    x = QUIET + np.array([0.05, 0.0])
    there = [(f.code, f.channel) for f in check_setup(x * turned, rate=RATE)]
    assert there == [("offset", 1)]


def test_exact_zeros():
    assert codes(QUIET * [1, 0]) == {("exact zeros", 2)}


def test_offset_and_its_figure():
    (found,) = check_setup(QUIET + np.array([0.0, -0.05]), rate=RATE)
    assert (found.code, found.channel) == ("offset", 2)
    assert found.detail == pytest.approx(0.05, abs=1e-3)


def test_loud_noise_and_its_figure():
    """White noise of RMS 10^(-45/20) lies at -45 dB by definition."""
    noise = np.random.default_rng(1).standard_normal(len(QUIET)) * 10 ** (-45 / 20)
    (found,) = check_setup(QUIET + np.stack([noise, 0 * noise], axis=1), rate=RATE)
    assert (found.code, found.channel) == ("loud noise", 1)
    assert found.detail == pytest.approx(-45.0, abs=0.5)


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
def test_much_hum_and_its_frequency(mains_hz):
    """A sine of amplitude a has the level 20 log10(a / sqrt 2)."""
    x = nothing(mains_hz=mains_hz, hum_v=0.0)
    x[:, 1] += 0.05 * np.sin(2 * np.pi * mains_hz * SECONDS)
    (found,) = check_setup(x, rate=RATE)
    assert (found.code, found.channel) == ("much hum", 2)
    assert found.detail == pytest.approx(20 * np.log10(0.05 / np.sqrt(2)), abs=0.3)
    assert quiet_levels(x, rate=RATE)[1].mains_hz == pytest.approx(mains_hz, abs=0.05)


@pytest.mark.parametrize("x", [QUIET, PLUCKED], ids=["quiet", "plucked"])
def test_one_signal_on_both(x):
    """By construction; that a coefficient near 1 at zero lag is one signal sent twice is D3."""
    assert ("one signal on both", 2) in codes(np.stack([x[:, 0], 0.6 * x[:, 0]], axis=1))


def test_one_signal_on_both_with_noise_of_each_input():
    """By construction, as through a Y lead: each preamplifier adds its own noise."""
    own = NOISE * np.random.default_rng(9).standard_normal(PLUCKED.shape)
    assert ("one signal on both", 2) in codes(PLUCKED[:, :1] * [1.0, 0.6] + own)


def test_one_signal_turned_over_is_left_to_the_split_check():
    assert codes(np.stack([QUIET[:, 0], -QUIET[:, 0]], axis=1)) == set()


def test_the_same_hum_on_both_inputs_is_not_one_signal():
    x = nothing(hum_v=0.0) + 0.01 * np.sin(2 * np.pi * 50 * SECONDS)[:, None]
    assert codes(x) == set()


@pytest.mark.parametrize("channel", [1, 2])
def test_gain_that_climbs_in_the_quiet(channel):
    gain = np.ones_like(QUIET)
    gain[:, channel - 1] = 10 ** (4 * np.clip(SECONDS - 0.5, 0, 2) / 20)
    assert codes(QUIET * gain) == {("gain rides", channel)}


def test_string_that_fades_is_no_gain_that_rides():
    for seed in range(2):
        x = pair("E4", rate=RATE, seed=seed, lead_in_s=1.2, ringing_s=2.5)
        assert not {c for c, _ in codes(x)} & {"gain rides", "noise is cut off"}


@pytest.mark.parametrize("left", [0.0, 1e-6])
def test_noise_that_is_cut_off_between_sounds(left):
    sounds = (np.arange(len(PLUCKED)) > 1.15 * RATE)[:, None]
    cut = {c for c in codes(PLUCKED * np.where(sounds, 1.0, left)) if c[0] == "noise is cut off"}
    assert cut == {("noise is cut off", 1), ("noise is cut off", 2)}


def test_seconds_of_nothing_at_all():
    sounds = np.arange(len(PLUCKED)) > 1.15 * RATE
    (found,) = check_setup(PLUCKED[:, 0] * sounds, rate=RATE)
    assert (found.code, found.channel) == ("noise is cut off", 1)
    assert found.detail == pytest.approx(1.15, abs=0.01)


def gate(x, *, left_db):
    """Shut but for 0.8 s from each sound on, opened at once, ``left_db`` when shut."""
    step = RATE // 100
    peaks = np.abs(x[: len(x) // step * step]).reshape(-1, step).max(axis=1)
    loud = peaks > 8 * np.median(peaks[:60])
    is_open = np.array([loud[max(0, k - 80) : k + 1].any() for k in range(len(loud))])
    gain = np.repeat(np.where(is_open, 1.0, 10 ** (left_db / 20)), step)
    return x[: len(gain)] * gain


def suppressed(x, *, left_db=-30.0):
    """Spectral subtraction as it is commonly done: each cell less the usual noise of its bin."""
    _, _, cells = signal.stft(x, RATE, nperseg=512)
    usual = np.median(np.abs(cells[:, :30]), axis=1, keepdims=True)
    gain = np.clip(1 - 1.6 * usual / np.maximum(np.abs(cells), 1e-12), 10 ** (left_db / 20), 1.0)
    return signal.istft(cells * gain, RATE)[1][: len(x)]


def automatic(x, *, most=0.05, climb_db_per_s=8.0):
    """Down at once to keep peaks under ``most``, and slowly up again."""
    step = RATE // 100
    peaks = np.abs(x[: len(x) // step * step]).reshape(-1, step).max(axis=1)
    gains = [0.0]
    for peak in peaks:
        wanted = min(0.0, -20 * np.log10(max(peak, 1e-9) / most))
        gains.append(min(wanted, gains[-1] + climb_db_per_s / 100))
    return x[: step * len(peaks)] * 10 ** (np.repeat(gains[1:], step) / 20)


STRUCK = PLUCKED[:, 0] * 0.3 / np.abs(PLUCKED[:, 0]).max()
MEDDLED = [
    pytest.param(gate(STRUCK, left_db=-15.0), "noise is cut off", id="a gate that leaves 15 dB less"),
    pytest.param(suppressed(STRUCK), "noise is cut off", id="noise suppression with a pluck"),
    pytest.param(suppressed(QUIET[:, 0]), "noise is cut off", id="noise suppression in the quiet"),
    pytest.param(automatic(STRUCK), "gain rides", id="automatic gain after a pluck"),
]


@pytest.mark.parametrize(("x", "code"), MEDDLED)
def test_what_a_recorder_does_by_itself(x, code):
    assert codes(x) == {(code, 1)}


def test_without_that_nothing_is_wrong():
    assert codes(STRUCK) == set()


@pytest.mark.parametrize("slope", [-6.0, 0.0, 6.0])
def test_raggedness_of_noise_is_that_of_an_exponential(slope):
    """The natural logarithm of an exponential spreads by pi / sqrt 6; here in dB, whatever the spectrum."""
    noise = np.random.default_rng(7).standard_normal(2 * RATE)
    hz = np.fft.rfftfreq(len(noise), 1 / RATE)
    coloured = np.fft.irfft(np.fft.rfft(noise) * (np.maximum(hz, 50) / 1000) ** (slope / 6))
    expected = 10 / np.log(10) * np.pi / np.sqrt(6)
    assert raggedness_db(coloured, rate=RATE) == pytest.approx(expected, abs=0.15)


def test_climb_has_its_figure():
    """Gain that rises evenly by 5 dB a second."""
    noise = 1e-3 * np.random.default_rng(8).standard_normal(3 * RATE)
    rising = noise * 10 ** (5 * np.arange(len(noise)) / RATE / 20)
    assert climb_db(rising, rate=RATE) == pytest.approx(5.0, abs=0.6)
    assert climb_db(noise, rate=RATE) < 1.0
    assert climb_db(rising[::-1], rate=RATE) == 0.0


def test_level_that_will_clip():
    near = PLUCKED / np.abs(PLUCKED).max(axis=0) * [0.95, 0.8]
    (found,) = check_setup(near, rate=RATE)
    assert (found.code, found.channel) == ("clips", 1)
    assert found.detail == pytest.approx(0.95)


def test_clipping():
    loud = np.clip(PLUCKED * [1.0, 3.0 / np.abs(PLUCKED[:, 1]).max()], -1, 1)
    assert ("clips", 2) in codes(loud)
    assert ("clips", 1) not in codes(loud)


def test_nothing_plugged_in():
    empty = np.random.default_rng(2).standard_normal(len(QUIET)) * 1e-5
    assert codes(np.stack([QUIET[:, 0], empty], axis=1)) == {("nothing plugged in", 2)}
    hears_nothing = np.random.default_rng(2).standard_normal(len(PLUCKED)) * NOISE
    assert codes(np.stack([hears_nothing, PLUCKED[:, 1]], axis=1)) == {("nothing plugged in", 1)}

    assert codes(hears_nothing[:, None]) == set()
    assert codes(hears_nothing[:, None], plucked=True) == {("nothing plugged in", 1)}
    assert codes(PLUCKED, plucked=True) == set()


def test_what_cannot_be_read():
    with pytest.raises(SignalError, match="no numbers"):
        check_setup(np.full((RATE, 2), np.nan), rate=RATE)
