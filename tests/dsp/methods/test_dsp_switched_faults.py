"""What is wrong with a switch take is named, and no answer is made up."""

from pathlib import Path

import numpy as np
import pytest
from dsp_parts import BRIDGE, NECK, SCALE_MM, pair, sequence

from dsp.methods.switch import analyse_switch
from dsp.model.settings import Mix, Place, Source

RATE = 16_000
ALONE = tuple(Mix((Source(n, Place(x, SCALE_MM)),)) for n, x in ((0, BRIDGE), (1, NECK)))
RECORDINGS = Path(__file__).resolve().parents[4] / "shared" / "recordings"


def heard(x, mixes=ALONE, *, rate=RATE, named_hz=110.0):
    return analyse_switch(x, rate=rate, mixes=mixes, count=2, named_hz=named_hz)


def spliced(*cuts_s, name="A2", gap_s=0.01, hum=0.0, mains_hz=50.0):
    """(frames,): the bridge until the first cut, then the neck, then the bridge and so on, in phase."""
    x = pair(name, places=(BRIDGE, NECK), rate=RATE, ringing_s=1.7, hum=hum, mains_hz=mains_hz)
    out = x[:, 0].copy()
    for k, cut_s in enumerate(cuts_s, start=1):
        at = int((0.4 + cut_s) * RATE)
        out[at:] = x[at:, k % 2]
        out[at : at + int(gap_s * RATE)] = 0.0
    return out


def refused(result, code):
    assert [f.code for f in result.faults] == [code]
    assert result.table is None
    assert result.stretches == ()
    assert result.step_ratios == ()
    return result.faults[0]


def test_a_splice_of_two_channels_of_one_pluck_is_heard():
    table = heard(spliced(0.8)).table
    assert table[0, 0] - table[0, 1] > 3.0


def test_a_tenth_of_a_second_before_the_pluck_is_enough():
    """What is quiet there shows that the first rise is the pluck, and no step of a string that rang."""
    whole, late = heard(spliced(0.8)), heard(spliced(0.8)[int(0.3 * RATE) :])
    assert not late.faults and not late.remarks
    assert late.table == pytest.approx(whole.table, abs=0.5)


def test_a_string_that_only_fades_is_not_switched():
    refused(heard(sequence("A2", rate=RATE, ringing_s=2.0)), "not switched")


def test_a_gap_that_changes_nothing_is_not_switched():
    x = sequence("A2", rate=RATE, ringing_s=1.7).copy()
    x[int(1.2 * RATE) : int(1.21 * RATE)] = 0.0
    refused(heard(x), "not switched")


def test_too_many_steps_are_counted():
    assert refused(heard(spliced(0.6, 1.0)), "too many steps").detail == 2


def test_a_hand_that_stops_the_string_is_no_step():
    """Nothing rings after it, so it is the end of the sound; turned over, the answer turns over."""
    stopped = np.clip((1.75 - np.arange(len(spliced(0.8))) / RATE) / 0.02, 0.0, 1.0)
    noise = 1e-5 * np.random.default_rng(4).standard_normal(len(stopped))
    table = heard(spliced(0.8) * stopped + noise).table
    assert table is not None
    assert table[0, 0] - table[0, 1] > 3.0


def test_too_few_steps_are_counted():
    three = (ALONE[0], Mix((*ALONE[0].sources, *ALONE[1].sources)), ALONE[1])
    assert refused(heard(spliced(0.8), three), "too few steps").detail == 1


def test_a_step_in_the_attack_is_named():
    assert refused(heard(spliced(0.12)), "switched in the attack").detail < 0.2


def test_a_take_that_ends_right_after_the_step_is_cut_off():
    refused(heard(spliced(0.8)[: int(1.29 * RATE)]), "cut off at the end")


def test_another_string_than_the_named_one():
    fault = refused(heard(spliced(0.8), named_hz=146.83), "wrong string")
    assert fault.detail == pytest.approx(110.0, rel=0.02)
    assert fault.note_name == "A2"


def test_the_octave_of_the_named_string():
    refused(heard(spliced(0.8), named_hz=220.0), "wrong octave")


def test_silence_and_zeros():
    refused(heard(np.zeros(2 * RATE)), "exact zeros")
    refused(heard(1e-6 * np.random.default_rng(0).standard_normal(2 * RATE)), "silent")


@pytest.mark.parametrize("seed", range(3))
def test_noise_gives_no_answer(seed):
    result = heard(0.01 * np.random.default_rng(seed).standard_normal(2 * RATE))
    assert result.table is None or np.ptp(result.table) < 0.5


def test_hum_alone_gives_no_answer():
    t = np.arange(2 * RATE) / RATE
    noise = 1e-4 * np.random.default_rng(0).standard_normal(len(t))
    assert heard(0.01 * np.sin(2 * np.pi * 50 * t) * np.where(t < 1, 1, -1) + noise).table is None


def test_clipping_of_the_ringing_refuses_and_of_a_pop_does_not():
    x = spliced(0.8)
    top = np.max(np.abs(x[int(0.7 * RATE) :]))
    assert "clipped" in [f.code for f in heard(np.clip(x, -0.3 * top, 0.3 * top)).faults]
    at = int(1.2 * RATE)
    x[at : at + 40] = 10 * top
    popped = heard(x)
    assert popped.table is not None
    assert [f.code for f in popped.remarks] == ["clipped"]


def beating(*, null_s, turned, pull=0.97):
    """(frames,): six partials that all beat at 0.6 Hz; half the level, and ``turned``, after 0.833 s."""
    t = np.arange(int(2.6 * RATE)) / RATE - 0.4
    beat = 0.5 / null_s
    x = sum(
        np.cos(2 * np.pi * (110 * n - beat / 2) * t) / n
        + pull * np.cos(2 * np.pi * (110 * n + beat / 2) * t) / n
        for n in range(1, 7)
    )
    x *= 0.05 * (t > 0) * np.exp(-np.maximum(t, 0))
    step = t > 0.833
    x = np.where(step, (-0.5 if turned else 0.5) * x, x)
    x[(t > 0.828) & (t < 0.838)] = 0.0
    return x + 1e-5 * np.random.default_rng(0).standard_normal(len(t))


@pytest.mark.parametrize("turned", [True, False])
def test_a_string_in_the_null_of_its_beating_gives_no_answer(turned):
    result = heard(beating(null_s=0.833, turned=turned))
    assert result.table is None
    assert result.faults[0].code in ("beating null", "not switched")


@pytest.mark.parametrize("turned", [True, False])
def test_the_same_string_away_from_its_null_answers(turned):
    result = heard(beating(null_s=2.5, turned=turned))
    assert result.faults == ()
    assert (result.step_ratios[0] < -2) if turned else (result.step_ratios[0] > 2)


def test_a_first_partial_under_a_mains_line_is_a_remark():
    """D3 of 146.8 Hz (sources S5) beside the third line of 50 Hz mains."""
    x = spliced(0.8, name="D3", hum=0.01)
    t = np.arange(len(x)) / RATE
    result = heard(x + 0.01 * np.cos(2 * np.pi * 150 * t), named_hz=146.83)
    assert ("partials in mains", 1.0) in [(f.code, f.detail) for f in result.remarks]


@pytest.mark.skipif(not RECORDINGS.is_dir(), reason="real plucks are not here")
@pytest.mark.parametrize("name", ["a3_f", "e3_f", "g4_f"])
def test_real_plucks_and_their_negated_halves(name):
    soundfile = pytest.importorskip("soundfile")
    x, rate = soundfile.read(RECORDINGS / "black_green" / f"green_twang_{name}_rr1.wav", always_2d=True)
    quiet = 1e-6 * np.random.default_rng(0).standard_normal(int(0.3 * rate))
    x = np.concatenate([quiet, x[: 2 * rate, 0]])
    at, on = int(1.1 * rate), int(1.11 * rate)
    unplaced = (Mix((Source(0),)), Mix((Source(1),)))
    results = []
    for factor in (1.0, -1.0):
        y = x.copy()
        y[at:on] = 0.0
        y[on:] *= factor
        results.append(analyse_switch(y, rate=rate, mixes=unplaced, count=2))
    refused(results[0], "not switched")
    assert results[1].table[0, 0] - results[1].table[0, 1] < -3.0
