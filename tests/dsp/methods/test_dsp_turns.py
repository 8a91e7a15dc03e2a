from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from dsp_parts import (
    BOX_RATE,
    BRIDGE,
    LEAD_IN_S,
    NECK,
    SCALE_MM,
    STRINGS,
    analysed,
    plain_string,
    read_only,
    sequence,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from simulator.strings import PluckSpec

from dsp.methods.sequential import MOST_NATS, SequentialPluck, sequential_ratio
from dsp.model.settings import Place
from dsp.signal.onsets import Onset, fine_onset
from dsp.signal.pitch import pitch_of
from dsp.signal.samples import ANALYSIS_RATE

ONSET = int(LEAD_IN_S * ANALYSIS_RATE)
QUICK = settings.get_profile("dsp")
STROKES = (
    PluckSpec(place=0.2, angle_deg=5.0),
    PluckSpec(place=0.26, angle_deg=-15.0, width_m=2e-3, height_m=1.4e-3),
    PluckSpec(place=0.17, angle_deg=20.0, release_s=0.3e-3, height_m=0.7e-3),
)
names = st.sampled_from(STRINGS)
strokes = st.integers(0, len(STROKES) - 1)


@cache
def struck(name, stroke=0, centre_mm=NECK, sign=1, *, rate=ANALYSIS_RATE):
    """One of STROKES at the analysis rate, as a box of ``rate`` recorded it."""
    take = sequence(name, centre_mm=centre_mm, sign=sign, seed=stroke, stroke=STROKES[stroke], rate=rate)
    return read_only(analysed(take, rate=rate))


@cache
def turn(name, stroke=0, centre_mm=NECK, sign=1, *, factor=1.0, known=True):
    x = factor * struck(name, stroke, centre_mm, sign)
    pitch = pitch_of(x[ONSET:], named_hz=plain_string(name).f0_hz)
    onset = fine_onset(x, rough=ONSET, pitch=pitch)
    return SequentialPluck(onset, pitch, name, 0, Place(centre_mm, SCALE_MM) if known else Place())


PAIRS = [
    pytest.param(name, strokes, signs, id=f"{name} strokes {strokes} {signs[0]:+d}{signs[1]:+d}")
    for name in STRINGS
    for strokes in ((0, 1), (0, 2), (1, 2))
    for signs in ((1, 1), (1, -1))
]


@pytest.mark.parametrize(("name", "strokes", "signs"), PAIRS)
@pytest.mark.parametrize("known", [True, False], ids=["places known", "places unknown"])
def test_sign_between_separate_plucks(name, strokes, signs, known):
    """By construction: two strokes of one hand, at the neck and at the bridge."""
    a = turn(name, strokes[0], NECK, signs[0], known=known)
    b = turn(name, strokes[1], BRIDGE, signs[1], known=known)
    assert sequential_ratio(a, b) * signs[0] * signs[1] > 1.0


@QUICK
@given(names, strokes, strokes, st.sampled_from([1, -1]))
def test_exchanged_turns_change_nothing(name, i, j, sign):
    a, b = turn(name, i), turn(name, j, BRIDGE, sign)
    assert sequential_ratio(a, b) == pytest.approx(sequential_ratio(b, a), abs=1e-9)


@QUICK
@given(names, strokes, strokes, st.sampled_from([1, -1]))
def test_negated_turn_turns_the_ratio_over(name, i, j, sign):
    a, b = turn(name, i), turn(name, j, BRIDGE, sign)
    ratio = sequential_ratio(a, b)
    assert abs(ratio) > 1.0
    assert sequential_ratio(turn(name, i, factor=-1.0), b) == pytest.approx(-ratio, abs=1e-6)


@pytest.mark.parametrize("name", STRINGS)
def test_a_pluck_against_itself(name):
    one = turn(name)
    assert 2.0 < sequential_ratio(one, one) <= MOST_NATS
    assert sequential_ratio(one, turn(name, factor=0.01)) == pytest.approx(
        sequential_ratio(one, one), abs=1e-6
    )
    assert sequential_ratio(one, turn(name, factor=-1.0)) == pytest.approx(
        -sequential_ratio(one, one), abs=1e-6
    )


def test_partials_count_with_the_sign_of_their_places():
    """S4: at 162 & 41 mm two pickups in phase oppose each other on the fifth harmonic."""
    amplitudes = np.array([1, 1, 1, 0, 1], dtype=complex)
    partials = replace(turn("A2").onset.partials, amplitudes=amplitudes)
    opposed = replace(partials, amplitudes=amplitudes * [1, 1, 1, 1, -1])
    a = replace(turn("A2"), onset=Onset(ONSET, partials))
    b = turn("A2", 0, BRIDGE)
    as_placed, against = (
        sequential_ratio(a, replace(b, onset=Onset(ONSET, each))) for each in (opposed, partials)
    )
    assert as_placed > against + 0.1


def test_a_copy_says_much_and_no_two_plucks_say_more_than_four_nats():
    partials = replace(turn("A2").onset.partials, amplitudes=np.ones(5, dtype=complex))
    bright = replace(turn("A2"), onset=Onset(ONSET, partials))
    assert 3.0 < sequential_ratio(bright, bright) <= 4.0


def test_strings_without_names_are_one_where_their_pitches_agree():
    """A half tone apart they are two, and say less; named, the name decides."""
    a, b = turn("D3", 0), turn("D3", 1)
    nameless = [replace(one, string=None) for one in (a, b)]
    half_a_tone = replace(nameless[1].pitch, f0_hz=nameless[1].pitch.f0_hz * 2 ** (1 / 12))
    assert sequential_ratio(*nameless) == sequential_ratio(a, b)
    apart = sequential_ratio(nameless[0], replace(nameless[1], pitch=half_a_tone))
    assert 0 < apart < 0.8 * sequential_ratio(*nameless)


def test_other_strings_say_less_and_the_same():
    """By construction: a lower and a higher string, pushed towards the body both times."""
    same, other = (
        sequential_ratio(turn("D3", 0), turn("D3", 1)),
        sequential_ratio(turn("D3", 0), turn("G3", 1)),
    )
    assert 0.2 < other < same
    assert sequential_ratio(turn("D3", 0), turn("G3", 1, sign=-1)) == pytest.approx(-other, rel=0.05)


ONSETS = [
    pytest.param(name, stroke, place, id=f"{name} stroke {stroke} {place:.0f} mm")
    for name in STRINGS
    for stroke in range(3)
    for place in (NECK, BRIDGE)
]


@pytest.mark.parametrize(("name", "stroke", "place"), ONSETS)
@pytest.mark.parametrize(("off_ms", "rate"), [(-8, BOX_RATE), (5, ANALYSIS_RATE)])
def test_fine_onset_finds_the_release(name, stroke, place, off_ms, rate):
    """By construction: the simulated release, from a rough place up to 8 ms off it."""
    x = struck(name, stroke, place, rate=rate)
    rough = ONSET + off_ms * ANALYSIS_RATE // 1000
    found = fine_onset(x, rough=rough, pitch=turn(name).pitch)
    assert (found.sample - ONSET) / ANALYSIS_RATE * 1e3 == pytest.approx(0, abs=1.5)
    assert found.partials.misfit < 0.1


@QUICK
@given(names, strokes, st.floats(-40, 40))
def test_neither_sign_nor_gain_moves_the_fine_onset(name, stroke, db):
    x = struck(name, stroke)
    pitch = turn(name).pitch
    here = fine_onset(x, rough=ONSET + 30, pitch=pitch)
    there = fine_onset(-x * 10 ** (db / 20), rough=ONSET + 30, pitch=pitch)
    assert here.sample == there.sample
    assert there.partials.amplitudes * 10 ** (-db / 20) == pytest.approx(-here.partials.amplitudes, rel=1e-6)


@QUICK
@given(names, st.integers(1, 9000))
def test_silence_in_front_moves_the_fine_onset_by_itself(name, frames):
    x = struck(name)
    pitch = turn(name).pitch
    here = fine_onset(x, rough=ONSET, pitch=pitch)
    there = fine_onset(np.append(np.zeros(frames), x), rough=ONSET + frames, pitch=pitch)
    assert there.sample == here.sample + frames


def test_too_little_ringing_gives_none():
    """Nine periods are needed: 82 ms of A2."""
    x = struck("A2")
    pitch = turn("A2").pitch
    assert fine_onset(x[: ONSET + int(0.080 * ANALYSIS_RATE)], rough=ONSET, pitch=pitch) is None
    assert fine_onset(x[: ONSET + int(0.085 * ANALYSIS_RATE)], rough=ONSET, pitch=pitch) is not None
