import math

import numpy as np
import pytest
from bench_parts import RATE, rms, seeded
from simulator.hum import MainsSpec, capacitive_hum, field_hum, mains_clock
from simulator.interfaces import ChannelSpec, InterfaceSpec, high_pass, quantise, record

from dsp import SignalError

TONE = np.sin(2 * math.pi * 200.0 * np.arange(4000) / RATE)


def recorded(volts, *channels, **interface):
    columns = np.repeat(volts[:, None], len(channels), axis=1)
    return record(seeded(), columns, InterfaceSpec(channels=channels, **interface), rate=RATE)


def test_step_through_ac_coupling():
    """P6: first order, so a step decays as exp(-2 pi f t)."""
    step = np.concatenate([np.zeros(100), np.ones(2000)])
    passed = high_pass(step, corner_hz=10.0, rate=RATE)
    t = np.arange(2000) / RATE
    assert passed[100:] == pytest.approx(np.exp(-2 * math.pi * 10.0 * t), abs=5e-3)


def test_an_inverted_channel_turns_the_signal_and_not_the_offset():
    plain, turned = recorded(
        0.5 * TONE, ChannelSpec(offset=0.1), ChannelSpec(offset=0.1, inverted=True), bits=None
    ).T
    assert turned - 0.1 == pytest.approx(-(plain - 0.1), abs=1e-15)
    assert rms(plain - 0.1) > 0.3


@pytest.mark.parametrize(("bits", "step"), [(8, 2**-7), (16, 2**-15)])
def test_quantisation(bits, step):
    coarse = quantise(0.9 * TONE, bits=bits)
    assert np.max(np.abs(coarse / step - np.round(coarse / step))) == 0.0
    assert np.max(np.abs(coarse - 0.9 * TONE)) == pytest.approx(step / 2, rel=0.1)
    assert rms(coarse - 0.9 * TONE) == pytest.approx(step / math.sqrt(12), rel=0.2)


@pytest.mark.parametrize("clip", [1.0, 0.7])
def test_clipping(clip):
    loud = recorded(TONE, ChannelSpec(gain=2.0, high_pass_hz=0.0), bits=None, clip=clip)[:, 0]
    assert (np.max(loud), np.min(loud)) == (clip, -clip)
    assert np.mean(np.abs(loud) == clip) > 0.3


def test_gain_noise_and_latency():
    quiet, late = recorded(
        0.1 * TONE,
        ChannelSpec(gain=3.0, high_pass_hz=0.0),
        ChannelSpec(gain=3.0, high_pass_hz=0.0, latency_frames=3),
        bits=None,
    ).T
    assert quiet == pytest.approx(0.3 * TONE, abs=1e-15)
    assert late[3:] == pytest.approx(quiet[:-3], abs=1e-15)
    hiss = recorded(np.zeros(4000), ChannelSpec(noise=0.01), bits=None)
    assert rms(hiss) == pytest.approx(0.01, rel=0.05)


def test_hum_has_its_level_and_its_lines():
    mains = MainsSpec(nominal_hz=60.0, drift=0.001, field_v=2e-3, capacitive_v=1e-3)
    angle = mains_clock(seeded(), mains).angle(5 * RATE, rate=RATE)
    magnetic, stray = field_hum(mains, angle), capacitive_hum(mains, angle)
    assert (rms(magnetic), rms(stray)) == pytest.approx((2e-3, 1e-3), rel=0.01)
    spectrum = np.abs(np.fft.rfft(magnetic * np.hanning(magnetic.size)))
    line_hz = np.argmax(spectrum) * RATE / magnetic.size
    assert line_hz == pytest.approx(60.06, abs=0.2)
    assert abs(np.mean(magnetic * stray)) < 0.5 * rms(magnetic) * rms(stray)


def test_impossible_interfaces_are_refused():
    with pytest.raises(SignalError, match="for an interface with 1 inputs"):
        record(seeded(), np.zeros((10, 2)), InterfaceSpec(channels=(ChannelSpec(),)), rate=RATE)
    with pytest.raises(SignalError, match="50 or 60"):
        MainsSpec(nominal_hz=55.0)
    with pytest.raises(SignalError, match="bits"):
        InterfaceSpec(bits=1)
