from functools import partial

import dsp_parts
import numpy as np
import pytest
from dsp_parts import BOX_RATE as RATE
from dsp_parts import BRIDGE, LEAD_IN_S, NECK, STRINGS, plain_string
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import butter, sosfilt

from dsp.methods.plucks import analyse_plucks, analyse_pulses
from dsp.signal.faults import clipped_share, has_gap, recording_faults, same_signal

ONSET = int(LEAD_IN_S * RATE)
QUICK = settings.get_profile("dsp")
sequence = partial(dsp_parts.sequence, rate=RATE)
pair = partial(dsp_parts.pair, rate=RATE)
tool_take = partial(dsp_parts.tool_take, rate=RATE)


def sound(name="A2"):
    return sequence(name)


def noise(like, seed=0):
    return np.random.default_rng(seed).standard_normal(np.shape(like))


def columns(x):
    return x[:, np.newaxis] if x.ndim == 1 else x


def plucks(x, *, rate=RATE, **changed):
    x = columns(np.asarray(x))
    wanted = {"inputs_differ": True, "named_hz": 110.0, **changed}
    return analyse_plucks(x, rate=rate, channels=tuple(range(x.shape[1])), **wanted)


def codes(faults):
    return {fault.code for fault in faults}


@pytest.mark.parametrize("name", STRINGS)
@pytest.mark.parametrize("mains_hz", [None, 50], ids=["mains not told", "50 Hz"])
def test_a_sound_take_has_no_fault(name, mains_hz):
    heard = plucks(sound(name), named_hz=plain_string(name).f0_hz, mains_hz=mains_hz)
    assert (heard.faults, heard.remarks, len(heard.plucks)) == ((), (), 1)


def test_a_sound_pair_has_no_fault():
    heard = plucks(pair("A2"))
    assert (heard.faults, heard.remarks, len(heard.plucks), len(heard.channels)) == ((), (), 1, 2)


def clipped_at(share):
    return lambda x: np.clip(x, -share * np.abs(x).max(), share * np.abs(x).max())


def with_gap(seconds):
    def made(x):
        x = x.copy()
        x[ONSET + 4000 : ONSET + 4000 + int(seconds * RATE)] = 0.0
        return x

    return made


def with_one(value):
    def made(x):
        x = x.copy()
        x[1000] = value
        return x

    return made


def over_noise(snr_db):
    return lambda x: x + np.std(x[ONSET : ONSET + 12_000]) * 10 ** (-snr_db / 20) * noise(x)


# Each fault by construction, from a take that has none; sources R9.
BROKEN = [
    pytest.param(np.zeros_like, "exact zeros", id="a denied microphone"),
    pytest.param(lambda x: 5e-5 * np.clip(noise(x) / 5, -1, 1), "silent", id="nothing plugged in"),
    pytest.param(with_one(np.nan), "no numbers", id="NaN"),
    pytest.param(with_one(np.inf), "no numbers", id="infinity"),
    pytest.param(clipped_at(0.9), "clipped", id="clipped a little"),
    pytest.param(clipped_at(0.3), "clipped", id="clipped a lot"),
    pytest.param(lambda x: np.minimum(x, 0.7 * x.max()), "clipped", id="clipped above only"),
    pytest.param(lambda x: np.maximum(x, 0.7 * x.min()), "clipped", id="clipped below only"),
    pytest.param(lambda x: 0.2 * clipped_at(0.5)(x), "clipped", id="clipped, then turned down"),
    pytest.param(lambda x: 0.1 + clipped_at(0.5)(x), "clipped", id="clipped, with an offset"),
    pytest.param(lambda x: np.tanh(30 * x / np.abs(x).max()), "clipped", id="driven softly into its limit"),
    pytest.param(lambda x: x + 0.15, "offset", id="an offset of 0.15"),
    pytest.param(with_gap(0.006), "gap", id="6 ms lost"),
    pytest.param(with_gap(0.03), "gap", id="30 ms lost"),
    pytest.param(over_noise(0), "too quiet", id="as loud as its noise"),
    pytest.param(lambda x: x[:ONSET], "no onset", id="nothing played"),
    pytest.param(lambda x: x[ONSET + 1000 :], "cut off at the start", id="begins in the ringing"),
    pytest.param(lambda x: x[: ONSET + 8000], "cut off at the end", id="ends 0.17 s after"),
    pytest.param(
        lambda x: np.append(x[: ONSET + 8000], np.zeros(40_000)),
        "cut off at the end",
        id="zeros 0.17 s after",
    ),
    pytest.param(lambda x: sequence("D3"), "wrong string", id="D3 for A2"),
    pytest.param(lambda x: sequence("A2", fret=1), "wrong string", id="a fret too high"),
    pytest.param(lambda x: sequence("A2", fret=12), "wrong octave", id="A3 for A2"),
    pytest.param(lambda x: sequence("A2", onsets_s=(0.0, 0.2)), "overlapping", id="two plucks 0.2 s apart"),
]


@pytest.mark.parametrize(("broken", "code"), BROKEN)
@pytest.mark.parametrize("turned", [1, -1], ids=["", "turned over"])
def test_each_fault_is_found_and_kept_out(broken, code, turned):
    heard = plucks(turned * broken(sound()))
    assert codes(heard.faults) == {code}
    assert heard.plucks == ()


# And what is nearly one of them, and is none.
NEARLY = [
    pytest.param(lambda x: x + 0.01, id="an offset of a hundredth"),
    pytest.param(with_gap(0.002), id="2 ms of zeros"),
    pytest.param(over_noise(20), id="20 dB over its noise"),
    pytest.param(lambda x: x[: ONSET + int(0.33 * RATE)], id="ends 0.33 s after"),
    pytest.param(lambda x: x[ONSET - int(0.05 * RATE) :], id="begins 50 ms before"),
    pytest.param(lambda x: 0.002 * x, id="very soft"),
]


@pytest.mark.parametrize("made", NEARLY)
def test_not_every_blemish_is_a_fault(made):
    heard = plucks(made(sound()))
    assert heard.faults == ()
    assert len(heard.plucks) == 1


def test_an_offset_worth_a_remark():
    heard = plucks(0.05 * sound() + 0.02)
    assert codes(heard.remarks) == {"offset"}
    assert heard.remarks[0].detail == pytest.approx(0.02, abs=1e-3)
    assert heard.faults == () and len(heard.plucks) == 1


def test_a_spoiled_pluck_among_sound_ones_is_a_remark():
    heard = plucks(sequence("A2", onsets_s=(0.0, 2.0, 2.2)))
    assert heard.faults == ()
    assert "overlapping" in codes(heard.remarks)
    assert len(heard.plucks) == 1  # the last rings over the one before it


def test_the_wrong_string_is_named():
    (fault,) = plucks(sequence("D3")).faults
    assert fault.note_name == "D3"
    assert fault.detail == pytest.approx(146.8324, rel=0.006)  # S5


def test_faults_name_their_channel():
    """Counted from 1, as on the box; the second of the two is at fault."""
    good = sound()
    for bad, code in ((np.zeros_like(good), "exact zeros"), (clipped_at(0.3)(good), "clipped")):
        (fault,) = plucks(np.stack([good, bad], axis=1)).faults
        assert (fault.code, fault.channel) == (code, 2)
    heard = plucks(np.stack([pair("A2")[:, 0], with_gap(0.02)(pair("A2")[:, 1])], axis=1))
    assert [(f.code, f.channel) for f in heard.faults] == [("gap", 2)]


def test_an_unused_channel_does_not_matter():
    good = sound()
    x = np.stack([np.zeros_like(good), good], axis=1)
    heard = analyse_plucks(x, rate=RATE, channels=(1,), inputs_differ=True, named_hz=110.0)
    assert heard.faults == () and len(heard.plucks) == 1


def low_pass(x):
    return sosfilt(butter(2, 300.0, fs=RATE, output="sos"), x)


LSB = 2.0**-15
TWICE = [
    # D3: coefficient near 1 at zero lag between two channels: one signal sent twice (MUSTANG, cross_talk).
    pytest.param(lambda x: x, True, id="D3 the same"),
    pytest.param(lambda x: 0.3 * x, True, id="D3 at another gain"),
    pytest.param(lambda x: x + 3 * LSB * np.sign(noise(x)), True, id="D3 a few LSB apart"),
    pytest.param(lambda x: 0.5 * x + 0.05, True, id="D3 with an offset"),
    pytest.param(lambda x: -x, False, id="its negated copy"),
    pytest.param(low_pass, False, id="its filtered copy"),
    pytest.param(lambda x: np.roll(x, 24), False, id="half a millisecond late"),
    pytest.param(np.zeros_like, False, id="nothing"),
]


@pytest.mark.parametrize(("made", "same"), TWICE)
def test_same_signal(made, same):
    x = sound()
    assert same_signal(x, made(x)) is same
    assert same_signal(made(x), x) is same


@QUICK
@given(st.integers(0, 10_000), st.integers(2, 5000))
def test_two_noises_are_two_signals(seed, length):
    a, b = np.random.default_rng(seed).standard_normal((2, length))
    assert not same_signal(a, b) or length < 10


@pytest.mark.parametrize("places", [(NECK, BRIDGE), (NECK, NECK - 25)])
@pytest.mark.parametrize("name", ["E2", "D3", "E4"])
def test_two_pickups_in_phase_are_two_signals(places, name):
    assert not same_signal(*pair(name, places=places).T)


def test_one_signal_twice_is_a_fault_only_where_inputs_differ():
    x = np.stack([sound(), 0.5 * sound()], axis=1)
    (fault,) = recording_faults(x, rate=RATE, inputs_differ=True, channels=(0, 1))
    assert (fault.code, fault.channel, fault.detail) == ("same signal twice", 2, 1.0)
    assert recording_faults(x, rate=RATE, inputs_differ=False, channels=(0, 1)) == ()
    assert recording_faults(x * [1, -1], rate=RATE, inputs_differ=True, channels=(0, 1)) == ()


def sixteen_bits(x):
    return np.round(x * 32768) / 32768


CLEAN = [
    pytest.param(lambda t, hz: np.sin(2 * np.pi * hz * t), id="sine"),
    pytest.param(lambda t, hz: np.exp(-t / 0.3) * np.sin(2 * np.pi * hz * t), id="decaying"),
    pytest.param(
        lambda t, hz: 0.7 * np.sin(2 * np.pi * hz * t) + 0.3 * np.sin(4 * np.pi * hz * t), id="two partials"
    ),
]


@pytest.mark.parametrize("rate", [16_000, 48_000, 192_000])
@pytest.mark.parametrize("wave", CLEAN)
@pytest.mark.parametrize("peak", [0.99, 0.3, 0.01, 0.002, 0.001, 0.0005, 0.0002])
def test_no_clipping_where_there_is_none(rate, wave, peak):
    """By construction: a smooth top is not a flat one, low notes and coarse steps too."""
    t = np.arange(2 * rate) / rate
    for hz in (30.0, 41.2, 82.4, 110.0, 331.7):
        x = peak * wave(t, hz)
        assert clipped_share(x, rate=rate) == 0
        assert clipped_share(sixteen_bits(x), rate=rate) == 0


@pytest.mark.parametrize("rate", [16_000, 48_000, 192_000])
@pytest.mark.parametrize("wave", CLEAN)
def test_clipping_where_there_is_some(rate, wave):
    t = np.arange(2 * rate) / rate
    for hz in (41.2, 110.0, 331.7):
        x = wave(t, hz)
        cut = sixteen_bits(np.minimum(x, 0.6 * x.max()))
        share = clipped_share(0.9 * cut, rate=rate)
        assert share == pytest.approx(np.mean(x >= 0.6 * x.max()), rel=0.2)


def test_clipping_of_plucks_in_sixteen_bits():
    for name in STRINGS:
        x = sound(name) / np.abs(sound(name)).max()
        for peak in (0.9, 0.1, 0.005, 0.0005):
            assert clipped_share(sixteen_bits(peak * x), rate=RATE) == 0


GAPS = [
    pytest.param(np.r_[np.ones(10), np.zeros(144), np.ones(10)], True, id="3 ms with sound on both sides"),
    pytest.param(np.r_[np.ones(10), np.zeros(143), np.ones(10)], False, id="a sample less"),
    pytest.param(np.r_[np.zeros(500), np.ones(10), np.zeros(500)], False, id="silence around"),
    pytest.param(np.zeros(500), False, id="silence"),
    pytest.param(np.zeros(0), False, id="nothing"),
]


@pytest.mark.parametrize(("x", "gap"), GAPS)
def test_gaps(x, gap):
    assert has_gap(x, rate=RATE) is gap


def pulses(x, *, toward=False, rate=RATE):
    return analyse_pulses(columns(x), rate=rate, channel=0, toward=toward)


def test_a_sound_lift_has_no_fault():
    heard = pulses(tool_take("lift"))
    assert (heard.faults, heard.remarks, len(heard.pulses)) == ((), (), 1)


BROKEN_LIFTS = [
    pytest.param(np.zeros_like, "exact zeros", id="a denied microphone"),
    pytest.param(lambda x: x[ONSET - 1000 :], "cut off at the start", id="begins 20 ms before"),
    pytest.param(lambda x: x[: ONSET + 2000], "cut off at the end", id="ends 40 ms after"),
    pytest.param(lambda x: x[::-1], "other gesture", id="run backwards: a touch"),
    pytest.param(with_one(np.nan), "no numbers", id="NaN"),
]


@pytest.mark.parametrize(("broken", "code"), BROKEN_LIFTS)
def test_each_fault_of_a_lift(broken, code):
    heard = pulses(broken(tool_take("lift", high_pass_hz=0.0, ringing_s=0.4)))
    assert codes(heard.faults) == {code}
    assert heard.pulses == ()


def test_a_clipped_lift_is_used_with_a_remark():
    take = tool_take("lift")
    heard = pulses(np.clip(take, -0.5 * np.abs(take).max(), 0.5 * np.abs(take).max()))
    assert (codes(heard.faults), codes(heard.remarks), len(heard.pulses)) == (set(), {"clipped"}, 1)


NO_PLUCK = [
    pytest.param(lambda t, rng: 0.01 * rng.standard_normal(len(t)), id="noise"),
    pytest.param(lambda t, rng: 0.1 * np.sin(2 * np.pi * 50.02 * t), id="hum alone"),
    pytest.param(
        lambda t, rng: (
            sum(0.05 / n * np.sin(2 * np.pi * 60 * n * t + n) for n in (1, 2, 3, 5, 7))
            + 1e-4 * rng.standard_normal(len(t))
        ),
        id="hum with its harmonics and noise",
    ),
    pytest.param(
        lambda t, rng: 0.5 * np.exp(-np.abs(t - 0.5) / 3e-4) + 1e-4 * rng.standard_normal(len(t)),
        id="a click",
    ),
]


@pytest.mark.parametrize("made", NO_PLUCK)
@pytest.mark.parametrize(
    ("rate", "named_hz"), [(16_000, 110.0), (48_000, None)], ids=["A2 named", "not named, at 48 kHz"]
)
def test_what_is_no_pluck_gives_none(made, rate, named_hz):
    t = np.arange(int(1.5 * rate)) / rate
    one, two, three = (made(t, np.random.default_rng(seed)) for seed in range(3))
    for channels in (one, two, np.stack([three, -three], axis=1)):
        heard = plucks(channels, rate=rate, named_hz=named_hz)
        assert heard.plucks == ()
        assert heard.faults


SHAPES = {
    "noise": lambda n, rng: rng.standard_normal(n),
    "zeros": lambda n, rng: np.zeros(n),
    "one": lambda n, rng: np.ones(n),
    "step": lambda n, rng: np.repeat([0.0, 0.5], [n // 2, n - n // 2]),
    "impulse": lambda n, rng: np.eye(1, n, n // 2)[0],
    "ramp": lambda n, rng: np.linspace(-1, 1, n),
    "huge": lambda n, rng: 1e30 * rng.standard_normal(n),
    "tiny": lambda n, rng: 1e-300 * rng.standard_normal(n),
}


@settings(QUICK, max_examples=60)
@given(
    st.sampled_from(sorted(SHAPES)),
    st.one_of(st.integers(1, 40), st.integers(40, 20_000)),
    st.integers(1, 2),
    st.sampled_from([16_000, 22_050, 44_100, 192_000]),
    st.sampled_from([None, 82.4, 329.6]),
)
def test_nothing_raises(shape, frames, count, rate, named_hz):
    """One sample is enough to be heard, and never a traceback at the bench."""
    rng = np.random.default_rng(frames)
    x = np.stack([SHAPES[shape](frames, rng) for _ in range(count)], axis=1)
    heard = plucks(x, rate=rate, named_hz=named_hz)
    assert heard.plucks or heard.faults
    lifted = analyse_pulses(x, rate=rate, channel=count - 1, toward=False)
    assert lifted.pulses or lifted.faults
