import librosa
import mir_eval
import numpy as np
import pytest
from dsp_parts import BOX_RATE, RATE, STRINGS, analysed, sequence
from hypothesis import given, settings
from hypothesis import strategies as st
from simulator.scenes import random_bench

from dsp.methods.plucks import analyse_plucks
from dsp.signal.onsets import APART_S, FRAME, HOP, flux_places, onset_band, rough_onsets, steepest_rise
from dsp.signal.samples import ANALYSIS_RATE

QUICK = settings.get_profile("dsp")
TIMES = (0.0, 0.85, 1.5, 2.6)
LEAD_IN_S = 0.4
WINDOW_S = 0.05


@pytest.mark.parametrize("name", STRINGS)
@pytest.mark.parametrize("sign", [1, -1])
def test_several_plucks_of_a_take(name, sign):
    """D8: F-measure of onsets within 50 ms, on simulated takes whose releases are known."""
    x = analysed(sequence(name, sign=sign, onsets_s=TIMES, rate=BOX_RATE), rate=BOX_RATE)
    found = np.array(rough_onsets(x)) / ANALYSIS_RATE
    f, precision, recall = mir_eval.onset.f_measure(np.array(TIMES) + LEAD_IN_S, found, window=WINDOW_S)
    assert (f, precision, recall) == (1.0, 1.0, 1.0)


def test_plucks_of_random_benches():
    """D8, over benches with hum, noise and sloppy hands; the releases are those simulated."""
    reference, found = [], []
    for seed in range(24):
        rng = np.random.default_rng(seed)
        bench = random_bench(rng)
        take = bench.pluck(rng, "neck", STRINGS[seed % 6], turned=False, rate=RATE)
        heard = analyse_plucks(
            take, rate=RATE, channels=(0,), inputs_differ=True, mains_hz=int(bench.mains.nominal_hz)
        )
        if any(fault.code == "clipped" for fault in heard.faults):
            continue
        reference.append(10 * seed + LEAD_IN_S)
        found += [10 * seed + pluck.onsets[0].sample / ANALYSIS_RATE for pluck in heard.plucks]
    assert len(reference) > 20
    f, _, _ = mir_eval.onset.f_measure(np.array(reference), np.array(found), window=WINDOW_S)
    assert f > 0.97
    f, _, _ = mir_eval.onset.f_measure(np.array(reference), np.array(found), window=1.5e-3)
    assert f > 0.9  # one pluck in fifty is a period off


@QUICK
@given(st.sampled_from(STRINGS), st.sampled_from([-1.0, -0.01, 0.5, -20.0]))
def test_neither_sign_nor_gain_moves_a_rough_onset(name, factor):
    x = analysed(sequence(name, onsets_s=(0.0, 0.9)))
    here = rough_onsets(x)
    assert len(here) == 2
    assert rough_onsets(factor * x) == here
    assert steepest_rise(factor * x) == steepest_rise(x)


@QUICK
@given(st.sampled_from(STRINGS), st.integers(1, 8000))
def test_silence_in_front_moves_rough_onsets_by_itself(name, frames):
    x = analysed(sequence(name))
    (here,) = rough_onsets(x)
    (there,) = rough_onsets(np.append(np.zeros(frames), x))
    assert abs(there - here - frames) <= ANALYSIS_RATE // 1000


SILENT = [
    pytest.param(lambda rng: np.zeros(16_000), id="zeros"),
    pytest.param(lambda rng: 0.01 * rng.standard_normal(16_000), id="noise"),
    pytest.param(lambda rng: 0.1 * np.sin(2 * np.pi * 50 * np.arange(16_000) / 16_000), id="hum"),
    pytest.param(lambda rng: np.ones(500), id="shorter than four frames"),
]


@pytest.mark.parametrize("made", SILENT)
def test_nothing_begins(made):
    for seed in range(5):
        assert rough_onsets(made(np.random.default_rng(seed))) == []


def test_a_take_that_begins_in_sound_begins_at_zero():
    x = analysed(sequence("D3"))
    assert rough_onsets(x[int(0.45 * ANALYSIS_RATE) :]) == [0]


@pytest.mark.parametrize("seed", range(6))
def test_places_are_those_of_librosa(seed):
    """librosa 0.11, onset_strength and onset_detect with our settings: the same places."""
    rng = np.random.default_rng(seed)
    bench = random_bench(rng)
    takes = [
        bench.pluck(rng, name, STRINGS[int(rng.integers(6))], rate=RATE, lead_in_s=0.5, ringing_s=1.5)
        for name in ("neck", "bridge")
    ]
    banded = onset_band(analysed(np.concatenate(takes)[:, 0]))
    strength = librosa.onset.onset_strength(
        y=banded.astype(np.float32), sr=RATE, hop_length=HOP, n_fft=FRAME, n_mels=40, fmin=35.0, fmax=4000.0
    )
    frames = librosa.onset.onset_detect(
        onset_envelope=strength, sr=RATE, hop_length=HOP, delta=0.06, wait=int(APART_S * RATE / HOP)
    )
    assert len(frames) > 1
    assert flux_places(banded) == [int(frame) * HOP for frame in frames]
