import numpy as np
import pytest
from dsp_parts import (
    BRIDGE,
    LEAD_IN_S,
    MIDDLE,
    NECK,
    SCALE_MM,
    STRINGS,
    analysed,
    pair,
    plain_string,
    stock_pair,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import butter, resample_poly, sosfiltfilt
from simulator.strings import PluckSpec

from dsp.methods.paired import paired_statistic
from dsp.methods.tool_pulse import correlation_curve
from dsp.model.settings import Place
from dsp.signal.pitch import Pitch
from dsp.signal.samples import ANALYSIS_RATE

ONSET = int(LEAD_IN_S * ANALYSIS_RATE)
QUICK = settings.get_profile("dsp")
PLACES = {x: Place(x, SCALE_MM) for x in (NECK, MIDDLE, BRIDGE)}
names = st.sampled_from(STRINGS)


def pitch(name):
    one = plain_string(name)
    return Pitch(one.f0_hz, one.stiffness, "as named")


def statistic(a, b, name, *, onset=ONSET, places=(NECK, BRIDGE)):
    where = (None, None) if places is None else tuple(PLACES[x] for x in places)
    return paired_statistic(a, b, onset=onset, pitch=pitch(name), place_a=where[0], place_b=where[1]).value


CASES = [
    pytest.param(
        name, places, signs, id=f"{name} {places[0]:.0f} & {places[1]:.0f} mm {signs[0]:+d}{signs[1]:+d}"
    )
    for name in STRINGS
    for places in ((NECK, BRIDGE), (NECK, MIDDLE))
    for signs in ((1, 1), (-1, -1), (1, -1), (-1, 1))
]


@pytest.mark.parametrize(("name", "places", "signs"), CASES)
@pytest.mark.parametrize("known", [True, False], ids=["places known", "places unknown"])
def test_sign_of_two_pickups(name, places, signs, known):
    """By construction, on the simulator; sound takes gave 0.5 and up in trials (T1)."""
    a, b = stock_pair(name, places=places, signs=signs)
    value = statistic(a, b, name, places=places if known else None)
    assert value * signs[0] * signs[1] > 0.5


@QUICK
@given(names, st.integers(0, 1), st.booleans())
def test_negated_channel_negates_the_value(name, which, known):
    channels = list(stock_pair(name))
    places = (NECK, BRIDGE) if known else None
    value = statistic(*channels, name, places=places)
    channels[which] = -channels[which]
    assert abs(value) > 0.5
    assert statistic(*channels, name, places=places) == pytest.approx(-value, abs=1e-12)


@QUICK
@given(names, st.sampled_from([(1, 1), (1, -1)]))
def test_exchanged_channels_change_nothing(name, signs):
    a, b = stock_pair(name, signs=signs)
    there = statistic(a, b, name, places=(NECK, BRIDGE))
    assert abs(there) > 0.5
    assert statistic(b, a, name, places=(BRIDGE, NECK)) == pytest.approx(there, abs=1e-12)


@QUICK
@given(names, st.floats(-60, 40), st.floats(-60, 40))
def test_gain_changes_nothing(name, a_db, b_db):
    a, b = stock_pair(name)
    plain = statistic(a, b, name)
    assert plain > 0.5
    assert statistic(a * 10 ** (a_db / 20), b * 10 ** (b_db / 20), name) == pytest.approx(plain, abs=1e-9)


RATES = [16_000, 44_100, 48_000, 96_000, 192_000]


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("signs", [(1, 1), (1, -1)], ids=["in phase", "opposed"])
@pytest.mark.parametrize("name", ["E2", "G3"])
def test_sample_rate_changes_little(rate, signs, name):
    """By construction: the same pluck simulated at another rate."""
    take = pair(name, signs=signs, rate=rate, ringing_s=0.7)
    value = statistic(*(analysed(c, rate=rate) for c in take.T), name)
    a, b = stock_pair(name, signs=signs)
    assert value == pytest.approx(statistic(a, b, name), abs=0.02)
    assert value * signs[0] * signs[1] > 0.5


def test_resampled_copy_of_the_other_channel():
    """By construction: 44.1 kHz and back is a filter and a rate of its own, and no change of sign."""
    a, b = stock_pair("A2")
    through = resample_poly(resample_poly(b, 441, 160), 160, 441)[: len(b)]
    assert statistic(a, through, "A2") == pytest.approx(statistic(a, b, "A2"), abs=0.01)


@QUICK
@given(names, st.integers(1, 20_000), st.sampled_from(["front", "end"]), st.sampled_from([0.0, 3e-5]))
def test_silence_or_noise_added_changes_little(name, frames, where, noise):
    a, b = stock_pair(name)
    plain = statistic(a, b, name)
    more = noise * np.random.default_rng(frames).standard_normal((2, frames))
    if where == "front":
        value = statistic(np.append(more[0], a), np.append(more[1], b), name, onset=ONSET + frames)
    else:
        value = statistic(np.append(a, more[0]), np.append(b, more[1]), name)
    assert plain > 0.5
    assert value == pytest.approx(plain, abs=0.01)


@QUICK
@given(st.integers(0, 1000), names, st.booleans())
def test_noise_on_both_channels_says_little(seed, name, known):
    noise = np.random.default_rng(seed).standard_normal((2, ONSET + ANALYSIS_RATE))
    value = statistic(*noise, name, places=(NECK, BRIDGE) if known else None)
    assert abs(value) < 0.2


@pytest.mark.parametrize(("turn_deg", "value"), [(0, 1.0), (30, 0.433), (60, 0.0), (90, 0.0), (150, -0.433)])
def test_an_angle_that_is_neither_none_nor_half_a_turn_says_less_than_its_cosine(turn_deg, value):
    """cos(30) = 0.866 of it agrees, and half of that is counted; from 45 degrees on nothing is."""
    t = np.arange(ONSET + ANALYSIS_RATE) / ANALYSIS_RATE
    sounding = np.where(t >= LEAD_IN_S, np.exp(-2 * (t - LEAD_IN_S)), 0.0)
    a, b = (
        sum(sounding * np.cos(2 * np.pi * 110 * n * t + np.radians(turn)) for n in (1, 2, 3))
        for turn in (0, turn_deg)
    )
    note = Pitch(110.0, 0.0, "as named")
    assert paired_statistic(a, b, onset=ONSET, pitch=note).value == pytest.approx(value, abs=0.02)


def test_silence_says_nothing():
    x = stock_pair("D3")[0]
    nothing = np.zeros(len(x))
    assert statistic(x, nothing, "D3") == 0
    assert statistic(nothing, nothing, "D3") == 0


@QUICK
@given(names, st.floats(5, 30))
def test_noise_over_the_string_weakens_and_never_turns(name, snr_db):
    """By construction: white noise that far below the ringing, on both channels."""
    plain = np.stack(stock_pair(name))
    rng = np.random.default_rng(int(snr_db * 1000))
    level = np.sqrt(np.mean(plain[:, ONSET : ONSET + 4800] ** 2, axis=1, keepdims=True)) * 10 ** (
        -snr_db / 20
    )
    noisy = plain + level * rng.standard_normal(plain.shape)
    value = statistic(*noisy, name)
    assert 0.3 < value <= statistic(*plain, name) + 0.02


BRIGHT = PluckSpec(place=0.08, angle_deg=5.0, width_m=1e-3)
"""Near the bridge, so that harmonics 5 to 7 are strong."""


@pytest.mark.parametrize("name", ["E2", "A2", "D3"])
def test_in_phase_although_harmonics_five_to_seven_disagree(name):
    """S4: 162 & 41 mm on 648 mm, derived from S3: harmonics 5 to 7 rightly oppose each other."""
    a, b = (analysed(c) for c in pair(name, stroke=BRIGHT).T)
    f0 = plain_string(name).f0_hz
    sos = butter(4, (4.5 * f0, 7.5 * f0), "bandpass", fs=ANALYSIS_RATE, output="sos")
    high = [sosfiltfilt(sos, x)[ONSET : ONSET + 4800] for x in (a, b)]
    assert np.corrcoef(*high)[0, 1] < -0.3
    _, values = correlation_curve(*high, longest_lag_s=1e-4)
    assert values[np.argmax(np.abs(values))] < -0.3  # a whole-band method on what is there says "opposed"
    assert statistic(a, b, name) > 0.5
    assert statistic(a, b, name, places=None) > 0.5


def test_harmonics_vote_as_their_places_say():
    """S4: each harmonic's own correlation has the sign of the row, and so agrees with what was expected."""
    a, b = (analysed(c) for c in pair("E2", stroke=BRIGHT).T)
    heard = paired_statistic(
        a, b, onset=ONSET, pitch=pitch("E2"), place_a=PLACES[NECK], place_b=PLACES[BRIDGE]
    )
    signs = {vote.n: int(np.sign(vote.correlation)) for vote in heard.votes}
    assert signs == {1: 1, 2: 1, 3: 1, 5: -1, 6: -1, 7: -1}
    assert {vote.n: vote.expected_sign for vote in heard.votes} == signs


@pytest.mark.parametrize("name", ["A2", "D3"])
def test_a_line_that_was_there_before_has_no_voice(name):
    """By construction: a steady tone on the third harmonic, opposed on the channels, far over the string."""
    plain = np.stack(stock_pair(name))
    hz = pitch(name).partial_hz(3)
    tone = 0.3 * np.sin(2 * np.pi * hz * np.arange(plain.shape[1]) / ANALYSIS_RATE)
    heard = paired_statistic(plain[0] + tone, plain[1] - tone, onset=ONSET, pitch=pitch(name))
    third = next(vote for vote in heard.votes if vote.n == 3)
    assert third.correlation < -0.5
    assert third.voice < 0.05
    assert heard.value > 0.5


def test_wrong_places_are_heard_to_contradict():
    """By construction: opposed above the third harmonic only; without places the first three decide."""
    a, b = (analysed(c) for c in pair("E2", stroke=BRIGHT).T)
    right = statistic(a, b, "E2", places=(NECK, BRIDGE))
    wrong = statistic(a, b, "E2", places=(BRIDGE, BRIDGE))
    assert 0.3 < wrong < right - 0.2


FRETTED = [pytest.param(fret, id=f"fret {fret}") for fret in (0, 3, 7, 12)]


@pytest.mark.parametrize("fret", FRETTED)
@pytest.mark.parametrize("signs", [(1, 1), (1, -1)], ids=["in phase", "opposed"])
def test_fretted_notes(fret, signs):
    take = pair("A2", signs=signs, fret=fret)
    a, b = (analysed(c) for c in take.T)
    note = Pitch(110.0 * 2 ** (fret / 12), 0.0, "as named")
    length = SCALE_MM / 2 ** (fret / 12)
    known = paired_statistic(
        a, b, onset=ONSET, pitch=note, place_a=Place(NECK, length), place_b=Place(BRIDGE, length)
    )
    unknown = paired_statistic(a, b, onset=ONSET, pitch=note, fret=fret)
    assert known.value * signs[1] > 0.4
    assert unknown.value * signs[1] > 0.4
