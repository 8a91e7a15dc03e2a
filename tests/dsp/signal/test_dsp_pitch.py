import itertools

import librosa
import numpy as np
import pytest
from dsp_parts import BRIDGE, LEAD_IN_S, NECK, STRINGS, analysed, plain_string, sequence
from simulator.strings import PluckSpec

from dsp.signal.pitch import HIGHEST_HZ, HOP, note_name, pitch_of, yin_track
from dsp.signal.samples import ANALYSIS_RATE

ONSET = int(LEAD_IN_S * ANALYSIS_RATE)


def ringing(name, **changed):
    return analysed(sequence(name, **changed))[ONSET:]


def hz(note):
    """S5: equal temperament, A4 = 440 Hz (ISO 16:1975, title read; librosa.note_to_hz)."""
    return float(librosa.note_to_hz(note))


def cents(a, b):
    return 1200 * np.log2(a / b)


OPEN = [
    pytest.param("E2", 82.4069, id="S5 E2"),
    pytest.param("A2", 110.0, id="S5 A2"),
    pytest.param("D3", 146.8324, id="S5 D3"),
    pytest.param("G3", 195.9977, id="S5 G3"),
    pytest.param("B3", 246.9417, id="S5 B3"),
    pytest.param("E4", 329.6276, id="S5 E4"),
]


@pytest.mark.parametrize(("name", "expected_hz"), OPEN)
@pytest.mark.parametrize("place", [NECK, BRIDGE])
@pytest.mark.parametrize("named", [True, False], ids=["named", "not named"])
def test_open_strings(name, expected_hz, place, named):
    """S5: the figures of the page, and librosa's own."""
    assert hz(name) == pytest.approx(expected_hz, abs=6e-5)
    heard = pitch_of(ringing(name, centre_mm=place), named_hz=expected_hz if named else None)
    assert cents(heard.f0_hz, expected_hz) == pytest.approx(0, abs=10)
    assert heard.match == ("as named" if named else "none")


FRETTED = [pytest.param("A2", 5, "D3"), pytest.param("E2", 12, "E3"), pytest.param("G3", 9, "E4")]


@pytest.mark.parametrize(("name", "fret", "note"), FRETTED)
def test_fretted_strings(name, fret, note):
    """S5 through the fret: twelve to the octave."""
    heard = pitch_of(ringing(name, fret=fret), named_hz=hz(note))
    assert cents(heard.f0_hz, hz(note)) == pytest.approx(0, abs=10)
    assert heard.match == "as named"


@pytest.mark.parametrize("place", [0.15, 0.18, 0.22, 0.3])
@pytest.mark.parametrize("angle_deg", [0.0, -20.0])
def test_stiffness_of_a_plain_third_string(place, angle_deg):
    """S6, derived: .017 in plain steel at G3 on 648 mm, B about 1.1e-4; within a factor of 2.

    Near the bridge, where no partial up to the eighth has a node; over the neck it comes out lower.
    """
    assert plain_string("G3").stiffness == pytest.approx(1.1e-4, rel=0.05)
    stroke = PluckSpec(place=place, angle_deg=angle_deg)
    heard = pitch_of(ringing("G3", centre_mm=BRIDGE, stroke=stroke), named_hz=hz("G3"))
    assert 0.5 < heard.stiffness / plain_string("G3").stiffness < 2


def test_stiffness_over_the_neck():
    """S6, the same from a usual stroke over the neck pickup."""
    heard = pitch_of(ringing("G3"), named_hz=hz("G3"))
    assert 0.5 < heard.stiffness / plain_string("G3").stiffness < 2


def test_upper_partials_lie_where_the_stiffness_puts_them():
    """S6: f_n = n f0 sqrt(1 + B n^2), within 6 cents of those simulated up to the eighth."""
    heard, true = pitch_of(ringing("G3"), named_hz=hz("G3")), plain_string("G3")
    for n in range(1, 9):
        simulated = n * true.f0_hz * np.sqrt(1 + true.stiffness * n * n)
        assert cents(heard.partial_hz(n), simulated) == pytest.approx(0, abs=6)
    assert cents(8 * heard.f0_hz, 8 * true.f0_hz * np.sqrt(1 + 64 * true.stiffness)) < -4  # not by f0 alone


NEIGHBOURS = [
    pytest.param(played, named, id=f"{played} played, {named} named")
    for low, high in itertools.pairwise(STRINGS)
    for played, named in ((low, high), (high, low))
]


@pytest.mark.parametrize(("played", "named"), NEIGHBOURS)
@pytest.mark.parametrize("place", [NECK, BRIDGE])
def test_a_neighbouring_string_is_another(played, named, place):
    heard = pitch_of(ringing(played, centre_mm=place), named_hz=hz(named))
    assert heard.match == "other"
    assert cents(heard.f0_hz, hz(played)) == pytest.approx(0, abs=10)


OCTAVES = [
    pytest.param("E2", 0, "E3", id="E2 for E3"),
    pytest.param("E2", 12, "E2", id="E3 for E2"),
    pytest.param("E4", 0, "E2", id="E4 for E2"),
]


@pytest.mark.parametrize(("name", "fret", "named"), OCTAVES)
def test_octaves(name, fret, named):
    heard = pitch_of(ringing(name, fret=fret), named_hz=hz(named))
    assert heard.match == "octave"
    assert cents(heard.f0_hz, hz(name) * 2 ** (fret / 12)) == pytest.approx(0, abs=10)


OUT_OF_TUNE = [pytest.param(30, "as named"), pytest.param(-30, "as named"), pytest.param(100, "other")]


@pytest.mark.parametrize(("off_cents", "match"), OUT_OF_TUNE)
def test_out_of_tune(off_cents, match):
    """A guitar on the bench may be 30 cents out (common practice); a semitone is another note."""
    assert pitch_of(ringing("A2"), named_hz=110.0 * 2 ** (off_cents / 1200)).match == match


@pytest.mark.parametrize("name", STRINGS)
def test_sign_and_gain_do_not_matter(name):
    x = ringing(name)
    here, there = pitch_of(x, named_hz=hz(name)), pitch_of(-0.01 * x, named_hz=hz(name))
    assert there.f0_hz == pytest.approx(here.f0_hz, rel=1e-6)
    assert there.match == here.match


UNUSABLE = [
    pytest.param(np.zeros(16_000), id="silence"),
    pytest.param(np.ones(10), id="ten samples"),
    pytest.param(np.zeros(0), id="nothing"),
    pytest.param(np.append(np.ones(200), np.zeros(16_000)), id="over after the attack"),
]


@pytest.mark.parametrize("x", UNUSABLE)
def test_no_tone(x):
    assert pitch_of(x) is None
    assert pitch_of(x, named_hz=110.0) is None


@pytest.mark.parametrize("frame", [1024, 2048])
def test_the_track_is_that_of_librosa(frame):
    """librosa 0.11, yin with our settings: the same figures, for tones with noise and for noise alone."""
    rng = np.random.default_rng(frame)
    for _ in range(6):
        t = np.arange(frame + 700) / ANALYSIS_RATE
        f0, noise = rng.uniform(60.0, 1200.0), rng.choice([0.0, 0.01, 1.0])
        x = sum(rng.uniform() * np.sin(2 * np.pi * n * f0 * t) for n in (1, 2, 3))
        x = (x + noise * rng.standard_normal(len(t))).astype(np.float32)
        theirs = librosa.yin(
            x, fmin=50.0, fmax=HIGHEST_HZ, sr=ANALYSIS_RATE, frame_length=frame, hop_length=HOP, center=False
        )
        assert np.allclose(yin_track(x, frame=frame, lowest_hz=50.0), theirs, rtol=1e-12, atol=0)


@pytest.mark.parametrize("hz", [27.5, 61.7, 110.0, 113.2, 329.6, 1046.5])
def test_a_note_is_named_as_librosa_names_it(hz):
    assert note_name(hz) == librosa.hz_to_note(hz, unicode=False)
