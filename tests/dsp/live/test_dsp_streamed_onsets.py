"""Onsets of a stream: those of the whole signal, whatever the blocks, and in memory that does not grow."""

import csv
import tracemalloc
from functools import cache
from pathlib import Path

import mir_eval
import numpy as np
import pytest
import soundfile
from dsp_parts import STRINGS, analysed, sequence, tool_take
from hypothesis import given, settings
from hypothesis import strategies as st
from simulator.scenes import random_bench

from dsp import SignalError
from dsp.live.onset_stream import (
    LEAST_ONSET_DB,
    WINDOW_S,
    OnsetStream,
    StreamedOnset,
    with_doubts,
)
from dsp.signal.onsets import rough_onsets, steepest_rise
from dsp.signal.samples import ANALYSIS_RATE

D3_THRICE = sequence("D3", onsets_s=(0.0, 0.9, 11.3), rate=ANALYSIS_RATE, ringing_s=13.0)
QUICK = settings.get_profile("dsp")
RATE = ANALYSIS_RATE
LEAD_IN_S = 0.4


def streamed(x, *, gesture="pluck", rate=RATE, channels=None, block=4096, mains_hz=None):
    x = np.atleast_2d(x.T).T
    stream = OnsetStream(
        gesture=gesture, rate=rate, channels=channels or range(x.shape[1]), mains_hz=mains_hz
    )
    for start in range(0, len(x), block):
        stream.feed(x[start : start + block])
    return stream.finish()


def counted(x, **said):
    rate = said.get("rate", RATE)
    return [o.frame / rate for o in streamed(x, **said) if o.doubt is None]


def played(bench, rng, settings_played, *, ringing_s=1.5, rate=RATE):
    """(frames, 1): one pluck after another, and when the string was let go."""
    parts, times, length = [], [], 0
    for wanted in settings_played:
        string = STRINGS[int(rng.integers(6))]
        take = bench.pluck(rng, wanted, string, rate=rate, lead_in_s=LEAD_IN_S, ringing_s=ringing_s)
        times.append(length / rate + LEAD_IN_S)
        length += len(take)
        parts.append(take)
    return np.concatenate(parts), times


@pytest.mark.parametrize("name", ["E2", "E4"])
def test_a_stream_agrees_with_the_whole(name):
    """Longer than a window, so that what is found comes from several."""
    times = (0.0, 0.9, 2.2, 5.0, 10.95, 11.7, 14.0, 17.5)
    x = sequence(name, onsets_s=times, rate=RATE, ringing_s=19.0)
    assert len(x) > 1.5 * WINDOW_S * RATE
    whole = np.array(rough_onsets(analysed(x, rate=RATE))) / RATE
    assert whole == pytest.approx(np.array(times) + LEAD_IN_S, abs=0.01)
    assert counted(x) == pytest.approx(whole, abs=0.002)


@cache
def as_it_is():
    return counted(D3_THRICE)


@settings(QUICK, max_examples=8)
@given(st.integers(200, 40_000), st.sampled_from([1.0, -1.0, 0.03]), st.floats(-0.2, 0.2))
def test_neither_blocks_nor_sign_nor_gain_nor_offset_change_anything(block, factor, offset):
    here = as_it_is()
    assert here == pytest.approx([0.4, 1.3, 11.7], abs=0.01)
    assert counted(factor * D3_THRICE + offset, block=block) == pytest.approx(here, abs=0.001)


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_frames_are_those_of_the_streams_own_rate(rate):
    one = sequence("A2", rate=rate)
    quiet = np.zeros(int(12.4 * rate) - len(one))
    found = counted(np.concatenate([one, quiet, one]), rate=rate)
    assert found == pytest.approx([0.4, 12.8], abs=0.01)


def test_wherever_a_window_ends():
    """A pluck just before, at and just after the end of a window is found once."""
    x = sequence("G3", rate=RATE, ringing_s=1.0)
    for shift in np.arange(-1.3, 0.5, 0.1):
        quiet = np.zeros(int((WINDOW_S + shift) * RATE))
        late = counted(np.concatenate([quiet, x, np.zeros(RATE)]))
        assert late == pytest.approx([WINDOW_S + shift + LEAD_IN_S], abs=0.01)


def test_settings_one_after_another_of_random_benches():
    """Every pluck, and nothing else, on alone and joined settings; each bench's levels are its own."""
    wrong = []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        bench = random_bench(rng, pickups=2)
        x, times = played(bench, rng, ["neck"] * 2 + [("neck", "bridge")] * 2 + ["bridge"] * 2)
        found = counted(x)
        if len(found) != len(times) or np.abs(np.array(found) - times).max() > 0.05:
            wrong.append(seed)
    assert wrong == []


RECORDINGS = Path(__file__).resolve().parents[4] / "shared" / "recordings"


@pytest.mark.skipif(
    not (RECORDINGS / "manifest.tsv").is_file(), reason=f"the real plucks are not at {RECORDINGS}"
)
def test_real_plucks_one_after_another():
    """D8: F-measure of onsets within 50 ms; the reference is where each file's level jumps most."""
    rows = csv.DictReader(
        (RECORDINGS / "manifest.tsv").read_text(encoding="utf-8").splitlines(), delimiter="\t"
    )
    gap, parts, reference = np.zeros(RATE), [], []
    for row in rows:
        x, rate = soundfile.read(RECORDINGS / row["file"], always_2d=True)
        one = analysed(x[: 3 * rate, 0], rate=rate)
        fading = np.minimum(1.0, np.arange(len(one), 0, -1) / (0.05 * RATE))
        before = sum(map(len, parts))
        parts.append(np.concatenate([gap, one * fading]))
        reference.append((before + steepest_rise(parts[-1])) / RATE)
    noise = 1e-5 * np.random.default_rng(0).standard_normal(sum(map(len, parts)))
    found = counted(np.concatenate(parts) + noise)
    f, _, recall = mir_eval.onset.f_measure(np.array(reference), np.array(found), window=0.05)
    assert len(reference) > 30
    assert recall == 1.0
    assert f > 0.98


def test_two_inputs_are_heard_together():
    """One pluck on both is one onset; a pluck on either alone is one too; an empty input adds none."""
    rng = np.random.default_rng(3)
    both = sequence("D3", rate=RATE)
    alone = 1e-5 * rng.standard_normal(len(both))
    x = np.column_stack([np.concatenate([both, both, alone]), np.concatenate([0.5 * both, alone, both])])
    step = len(both) / RATE
    expected = [0.4, 0.4 + step, 0.4 + 2 * step]
    assert counted(x) == pytest.approx(expected, abs=0.01)
    assert counted(x, channels=[1]) == pytest.approx([expected[0], expected[2]], abs=0.01)
    assert [o.channel for o in streamed(x)] == [0, 0, 1]


@pytest.mark.parametrize("gesture", ["lift", "touch"])
def test_tool_pulses(gesture):
    times = (0.0, 2.0, 4.5, 9.0, 11.0, 13.0)
    x = tool_take(gesture, at_s=times, rate=RATE, ringing_s=15.0)
    assert counted(x, gesture=gesture) == pytest.approx(np.array(times) + LEAD_IN_S, abs=0.08)


def test_the_tool_coming_back_is_no_lift():
    """Listed, with the reason, but not counted; the other way round for touches."""
    lift, touch = (tool_take(g, rate=RATE, ringing_s=1.4) for g in ("lift", "touch"))
    x = np.concatenate([lift, touch, lift, touch])
    step = len(lift) / RATE
    found = streamed(x, gesture="lift")
    assert [o.frame / RATE for o in found] == pytest.approx([k * step + 0.4 for k in range(4)], abs=0.08)
    assert [o.doubt for o in found] == [None, "other gesture"] * 2
    assert [o.doubt for o in streamed(x, gesture="touch")] == ["other gesture", None] * 2


def test_a_weak_pickups_lifts_beside_a_strong_ones():
    """Each is measured against its neighbours: dsp.methods.tool_pulse wants 0.35 of the largest."""
    strong, weak = (gain * tool_take("lift", rate=RATE, ringing_s=2.0) for gain in (1.0, 0.08))
    assert len(counted(np.concatenate([strong] * 3 + [weak] * 3), gesture="lift")) == 6


@pytest.mark.parametrize("seed", range(3))
def test_the_selector_of_a_switch_take_is_no_pluck(seed):
    rng = np.random.default_rng(seed)
    bench = random_bench(rng)
    order = ("neck", ("neck", "bridge"), "bridge")
    takes = [bench.switch(rng, order, "A2", at_s=(0.8, 1.6), rate=RATE) for _ in range(3)]
    step = len(takes[0]) / RATE
    found = counted(np.concatenate(takes), gesture="switch")
    assert found == pytest.approx([0.4, 0.4 + step, 0.4 + 2 * step], abs=0.02)


NOTHING = [
    pytest.param(lambda rng: np.zeros(15 * RATE), id="zeros"),
    pytest.param(lambda rng: 0.01 * rng.standard_normal(15 * RATE), id="noise"),
    pytest.param(lambda rng: 0.1 * np.sin(2 * np.pi * 50 * np.arange(15 * RATE) / RATE), id="hum"),
    pytest.param(lambda rng: np.full(15 * RATE, 0.4), id="offset"),
    pytest.param(lambda rng: 0.1 * np.ones(40), id="forty frames"),
]


@pytest.mark.parametrize("gesture", ["pluck", "lift"])
@pytest.mark.parametrize("made", NOTHING)
def test_nothing_begins(made, gesture):
    assert counted(made(np.random.default_rng(2)), gesture=gesture) == []


def onset(second, level, rise_db=30.0):
    return StreamedOnset(int(second * RATE), level, rise_db, 0)


def test_what_is_too_soft_depends_on_what_is_left_out():
    """A plug's thump 40 dB over the plucks makes them soft, until it is left out."""
    heard = [onset(1, 0.0), onset(3, -40.0), onset(5, -41.0), onset(30, -41.0)]
    assert [o.doubt for o in with_doubts(heard, gesture="pluck", rate=RATE)] == [None, "soft", "soft", None]
    without = with_doubts(heard, gesture="pluck", rate=RATE, left_out={0})
    assert [o.doubt for o in without] == [None] * 4
    just = [onset(1, 0.0), onset(2, LEAST_ONSET_DB + 0.1), onset(3, LEAST_ONSET_DB - 0.1)]
    assert [o.doubt for o in with_doubts(just, gesture="pluck", rate=RATE)] == [None, None, "soft"]


def test_the_hand_that_stops_a_string_is_no_pluck():
    """A press that is cut off in its ringing: what begins there is softer than it rang."""
    rng = np.random.default_rng(134)
    bench = random_bench(rng, pickups=2)
    takes = [bench.press(rng, "neck", "A2", rate=RATE, ringing_s=1.5)[:, 0] for _ in range(3)]
    found = streamed(np.concatenate(takes), gesture="press")
    step = len(takes[0]) / RATE
    assert [o.frame / RATE for o in found if o.doubt is None] == pytest.approx(
        [0.4 + k * step for k in range(3)], abs=0.02
    )
    assert "still ringing" in {o.doubt for o in found}
    heard = [onset(1, -20.0), onset(2, -27.0, rise_db=-7.0), onset(3, -25.0, rise_db=-5.0)]
    assert [o.doubt for o in with_doubts(heard, gesture="pluck", rate=RATE)] == [None, "still ringing", None]


def test_memory_does_not_grow_with_the_recording():
    """Nearly a minute more, 6 MB of samples, takes hardly more: a number each 20 ms and channel to draw."""
    pluck = np.tile(sequence("E2", rate=RATE, ringing_s=8.0), (2, 1)).T.astype(np.float32)
    stream = OnsetStream(gesture="pluck", rate=RATE, channels=(0, 1))
    held = []
    tracemalloc.start()
    try:
        for k in range(12):
            stream.feed(pluck)
            if k in (5, 11):
                tracemalloc.reset_peak()
                stream.feed(pluck)
                held.append(tracemalloc.get_traced_memory()[1])
    finally:
        tracemalloc.stop()
    more_s = 6 * len(pluck) / RATE
    assert held[1] - held[0] < 0.5e6
    assert more_s > 45 and held[1] < 25e6
    assert len(stream.finish()) == 14


def test_the_envelope_is_what_was_fed():
    rng = np.random.default_rng(1)
    x = rng.uniform(-1, 1, (RATE + 100, 2)) * np.array([1.0, 0.25])
    x[:, 1] -= 0.5
    stream = OnsetStream(gesture="pluck", rate=RATE, channels=(0,))
    for start in range(0, len(x), 777):
        stream.feed(x[start : start + 777])
    drawn = stream.envelope
    size = round(drawn.bin_s * RATE)
    assert drawn.peaks.shape == (-(-len(x) // size), 2)
    expected = [np.abs(x[k : k + size]).max(axis=0) for k in range(0, len(x), size)]
    np.testing.assert_allclose(drawn.peaks, expected, rtol=1e-6)


REFUSED = [
    pytest.param({"gesture": "hum"}, "a hum has no onset", id="hum"),
    pytest.param({"channels": ()}, "no channel is named", id="no channel"),
]


@pytest.mark.parametrize(("said", "words"), REFUSED)
def test_what_cannot_be_streamed(said, words):
    with pytest.raises(SignalError, match=words):
        OnsetStream(**{"gesture": "pluck", "rate": RATE, "channels": (0,), **said})


def test_no_numbers_are_refused():
    stream = OnsetStream(gesture="pluck", rate=RATE, channels=(0,))
    with pytest.raises(SignalError, match="NaN or infinity"):
        stream.feed(np.array([[0.0], [0.1], [np.nan]]))
    with pytest.raises(SignalError, match="samples a second"):
        OnsetStream(gesture="pluck", rate=8000, channels=(0,)).feed(np.zeros((10, 1)))
