"""A watcher: no gesture is missed, whatever the blocks, and each take holds what dsp needs around it."""

import mir_eval
import numpy as np
import pytest
from dsp_parts import STRINGS, rig, sequence, setting, tool_take
from hypothesis import given, settings
from hypothesis import strategies as st
from simulator.scenes import random_bench
from simulator.takes import hum

from dsp import SignalError
from dsp.live.gestures import plan_for
from dsp.live.watching import Watcher
from dsp.signal.samples import ANALYSIS_RATE

RATE = ANALYSIS_RATE
QUICK = settings.get_profile("dsp")
D8_WINDOW_S = 0.05
QUIET_S = 1.2
TWO_PLUCKS = sequence("A2", onsets_s=(0.0, 1.6), rate=RATE, lead_in_s=QUIET_S, ringing_s=1.5, hum=1e-3)


def events(x, gesture, *, rate=RATE, block=512, floor_db=None, moves=None):
    x = np.atleast_2d(x.T).T
    watcher = Watcher(plan_for(gesture), rate=rate, channels=x.shape[1], floor_db=floor_db, moves=moves)
    return [e for start in range(0, len(x), block) for e in watcher.feed(x[start : start + block])]


def onsets_s(x, gesture, **said):
    return np.array([e.at / RATE for e in events(x, gesture, **said) if e.kind == "onset"])


@pytest.mark.parametrize("string", STRINGS)
def test_plucks_of_known_times(string):
    """D8's F-measure, 50 ms window, is 1; the times are those of the simulated plucks."""
    times = np.array([0.0, 1.3, 2.7])
    x = sequence(string, onsets_s=tuple(times), rate=RATE, lead_in_s=QUIET_S, ringing_s=1.5, hum=3e-3)
    f, _, _ = mir_eval.onset.f_measure(times + QUIET_S, onsets_s(x, "pluck"), window=D8_WINDOW_S)
    assert f == 1.0


def ordinary_take(gesture, seed):
    rng = np.random.default_rng(40 + seed)
    bench = random_bench(rng)
    a, b = bench.pickups[0].name, bench.pickups[1].name
    around = {"rate": RATE, "lead_in_s": QUIET_S, "ringing_s": 1.6}
    if gesture in ("lift", "touch"):
        return getattr(bench, gesture)(rng, a, **around)
    wanted = {"pluck": [a, b], "press": a, "switch": [a, b]}[gesture]
    return getattr(bench, gesture)(rng, wanted, STRINGS[seed], **around)


@pytest.mark.parametrize("gesture", ["pluck", "press", "lift", "touch", "switch"])
@pytest.mark.parametrize("seed", range(4))
def test_no_gesture_of_an_ordinary_bench_is_missed(gesture, seed):
    last = events(ordinary_take(gesture, seed), gesture)[-1]
    assert last.keep_from <= (QUIET_S - 0.45) * RATE
    assert last.keep_to >= (QUIET_S + 0.5) * RATE


@QUICK
@given(cuts=st.lists(st.integers(0, len(TWO_PLUCKS)), max_size=12), gesture=st.sampled_from(["pluck", "hum"]))
def test_blocks_change_nothing(cuts, gesture):
    whole = events(TWO_PLUCKS, gesture, block=len(TWO_PLUCKS))
    watcher = Watcher(plan_for(gesture), rate=RATE, channels=1)
    pieces = np.split(TWO_PLUCKS[:, None], sorted(cuts))
    assert [e for piece in pieces for e in watcher.feed(piece)] == whole
    assert whole


def test_tiny_blocks_change_nothing():
    """A sound server hands over 1 to 8 frames at a time."""
    x = TWO_PLUCKS[: 2 * RATE]
    assert events(x, "pluck", block=7) == events(x, "pluck", block=len(x))


def test_turning_over_changes_nothing():
    assert events(-TWO_PLUCKS, "pluck") == events(TWO_PLUCKS, "pluck")


def test_gain_and_offset_change_nothing():
    assert events(0.25 * TWO_PLUCKS + 0.125, "pluck") == events(TWO_PLUCKS, "pluck")


def test_what_is_kept_around_a_pluck_and_a_press():
    for gesture, before, after in (("pluck", 0.55, 0.9), ("press", 0.85, 1.3)):
        ended = next(e for e in events(TWO_PLUCKS, gesture) if e.kind == "ended")
        assert ended.keep_from == pytest.approx((QUIET_S - before) * RATE, abs=D8_WINDOW_S * RATE)
        assert ended.keep_to == pytest.approx((QUIET_S + after) * RATE, abs=D8_WINDOW_S * RATE)


def test_pluck_on_the_second_input_alone_is_heard():
    x = np.stack([np.random.default_rng(0).standard_normal(len(TWO_PLUCKS)) * 1e-5, TWO_PLUCKS], axis=1)
    assert len(onsets_s(x, "pluck")) == 2


def test_bump_before_the_pluck_does_not_cost_the_pluck():
    """The hand bumps the guitar 0.5 s before: the take goes on until the pluck has rung long enough."""
    x = TWO_PLUCKS.copy()
    t = np.arange(round(0.1 * RATE)) / RATE
    at = round((QUIET_S - 0.5) * RATE)
    x[at : at + len(t)] += 0.2 * np.exp(-t / 0.02) * np.sin(2 * np.pi * 60 * t)
    ended = next(e for e in events(x, "pluck") if e.kind == "ended")
    assert ended.keep_from < at
    assert ended.keep_to >= (QUIET_S + 0.85) * RATE


def test_selector_that_pops_early_does_not_cost_the_pluck():
    """Louder than the string, before it is known that it rings: the take still begins at the pluck."""
    x = TWO_PLUCKS[: round(2.6 * RATE)].copy()
    at = round((QUIET_S + 0.36) * RATE)
    pop = np.exp(-np.arange(round(0.05 * RATE)) / (0.002 * RATE))
    x[at : at + len(pop)] += 12 * np.abs(x).max() * pop
    assert onsets_s(x, "switch")[0] == pytest.approx(QUIET_S, abs=D8_WINDOW_S)


def test_switch_take_lasts_until_the_string_has_died():
    """110 Hz has eleven periods in a tenth of a second: what takes hum out must not call it dead."""
    x = np.random.default_rng(3).standard_normal(9 * RATE) * 1e-4
    t = np.arange(8 * RATE) / RATE
    x[RATE:] += 0.1 * np.sin(2 * np.pi * 110 * t) * 10 ** (-60 * t / 40)
    ended = next(e for e in events(x, "switch") if e.kind == "ended")
    assert 2.5 * RATE < ended.keep_to < 5.5 * RATE
    rings_on = np.random.default_rng(3).standard_normal(9 * RATE) * 1e-4
    rings_on[RATE:] += 0.1 * np.sin(2 * np.pi * 110 * t)
    ended = next(e for e in events(rings_on, "switch") if e.kind == "ended")
    assert ended.keep_to == pytest.approx(6 * RATE, abs=0.05 * RATE)


@pytest.mark.parametrize("hz", [82.4, 110.0, 246.9, 740.0])
def test_hand_that_stops_a_string_begins_nothing(hz):
    """110 and 740 Hz have whole periods in a tenth of a second; the watcher goes on to the next take."""
    x = np.random.default_rng(4).standard_normal(5 * RATE) * 1e-4
    t = np.arange(4 * RATE) / RATE
    stopped = np.clip((2.03 - t) / 0.03, 0.0, 1.0)
    x[RATE:] += 0.1 * np.sin(2 * np.pi * hz * t) * 10 ** (-8 * t / 20) * stopped
    assert onsets_s(x, "pluck") == pytest.approx([1.0], abs=0.02)


def test_last_bit_of_a_converter_begins_nothing():
    """Exact zeros, and now and then sixteen steps of 24 bits."""
    x = np.zeros(6 * RATE)
    x[3 * RATE :: 2001] = 2.0**-19
    for gesture in ("pluck", "lift"):
        assert events(x, gesture) == []


def test_noise_and_steady_hum_begin_nothing():
    quiet = hum(
        np.random.default_rng(1), [setting(90.0)], rig(rate=RATE, hum=0.02, ringing_s=8.0, drift=1e-3)
    )
    for gesture in ("pluck", "press", "lift", "touch", "switch"):
        assert not [e for e in events(quiet, gesture) if e.kind == "onset"]


def test_nothing_for_a_minute_times_out():
    nothing = np.zeros((61 * RATE, 1))
    assert [(e.kind, e.at) for e in events(nothing, "pluck", block=RATE)] == [("timed out", 60 * RATE)]


def test_hum_is_three_seconds_that_stay():
    quiet = hum(np.random.default_rng(1), [setting(90.0)], rig(rate=RATE, hum=0.02, ringing_s=5.0))
    first = next(e for e in events(quiet, "hum") if e.kind == "ended")
    assert first.keep_to - first.keep_from == 3 * RATE
    quiet[RATE : 2 * RATE] *= 4.0
    later = next(e for e in events(quiet, "hum") if e.kind == "ended")
    assert later.keep_from >= 2 * RATE


def test_driven_coil_is_heard_from_where_it_begins():
    rng = np.random.default_rng(5)
    bench = random_bench(rng)
    take = bench.drive(rng, bench.pickups[0].name, rate=RATE, ringing_s=1.0)
    ended = next(e for e in events(take, "drive") if e.kind == "ended")
    assert ended.keep_from == 0
    assert 3.2 * RATE <= ended.keep_to <= 3.7 * RATE


def test_too_loud_is_said_once_a_take():
    x = np.clip(4.0 * TWO_PLUCKS / np.abs(TWO_PLUCKS).max(), -1.0, 1.0)
    assert [e.kind for e in events(x, "pluck")] == ["onset", "too loud", "ended"] * 2


def test_floor_that_is_given_spares_the_learning():
    x = TWO_PLUCKS[round((QUIET_S - 0.15) * RATE) :]
    watcher = Watcher(plan_for("pluck"), rate=RATE, channels=1)
    watcher.feed(TWO_PLUCKS[: round(QUIET_S * 0.8 * RATE), None])
    assert watcher.floor_db is not None
    assert onsets_s(x, "pluck", floor_db=watcher.floor_db)[0] == pytest.approx(0.15, abs=D8_WINDOW_S)


def test_watcher_that_begins_in_hum_hears_no_pulse_in_its_own_filter():
    t = np.arange(RATE) / RATE
    hum = (
        0.05 * np.sin(2 * np.pi * 50 * t + 1.0) + 0.05 + 1e-4 * np.random.default_rng(1).standard_normal(RATE)
    )
    assert not len(onsets_s(hum, "lift", floor_db=(-80.0,)))


def test_lift_is_where_the_pulse_begins():
    x = tool_take("lift", rate=RATE, lead_in_s=QUIET_S)
    f, _, _ = mir_eval.onset.f_measure(np.array([QUIET_S]), onsets_s(x, "lift"), window=D8_WINDOW_S)
    assert f == 1.0


@pytest.mark.parametrize(
    ("samples", "words"),
    [(np.zeros((10, 3)), r"\(frames, 2\) is needed"), (np.full((10, 2), np.nan), "no numbers")],
)
def test_blocks_that_cannot_be_read(samples, words):
    with pytest.raises(SignalError, match=words):
        Watcher(plan_for("pluck"), rate=RATE, channels=2).feed(samples)


def test_what_cannot_be_watched():
    with pytest.raises(SignalError, match="no gesture 'strum'"):
        plan_for("strum")
    with pytest.raises(SignalError, match="one floor for each"):
        Watcher(plan_for("pluck"), rate=RATE, channels=2, floor_db=(-80.0,))


@pytest.mark.parametrize("taps", [0, 3])
def test_taps_are_kept_for_a_fixed_time_whether_heard_or_not(taps):
    """A pickup that is not on gives nothing to wait for."""
    x = 1e-4 * np.random.default_rng(8).standard_normal((6 * RATE, 1))
    for k in range(taps):
        x[int((1.0 + 0.5 * k) * RATE), 0] = 0.5
    plan = plan_for("tap")
    begun, ended = events(x, "tap")[:2]
    assert (begun.kind, ended.kind) == ("onset", "ended")
    assert ended.keep_to - ended.keep_from == pytest.approx(
        (plan.preroll_s + plan.rings_s) * RATE, abs=0.02 * RATE
    )


AT_S = (0.6, 1.15)
SWEPT_S = 5.5


def sweep(seed, *, damped_s=None):
    """A string through three settings; ``damped_s`` after the pluck a hand stops it with a thump."""
    rng = np.random.default_rng(seed)
    bench = random_bench(rng, pickups=2)
    through = ("bridge", ("bridge", "neck"), "neck")
    around = {"rate": RATE, "lead_in_s": QUIET_S, "ringing_s": SWEPT_S}
    x = bench.switch(rng, through, "A2", at_s=AT_S, **around)
    if damped_s is None:
        return x
    at = round((QUIET_S + damped_s) * RATE)
    x[at:] *= 0.02
    x[at : at + 200] += 0.1 * np.abs(x).max() * rng.standard_normal((200, 1))
    return x


@pytest.mark.parametrize("seed", [0, 1, 3, 4, 6])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_sweep_ends_soon_after_the_selectors_last_move(seed, sign):
    """1.3 s after the second step, however long it rings; what rings on is not asked to be damped first."""
    ended = events(sign * sweep(seed), "switch", moves=2)[-1]
    assert ended.kind == "ended"
    assert (ended.keep_to / RATE - QUIET_S - AT_S[-1]) == pytest.approx(1.3, abs=0.15)


@pytest.mark.parametrize("seed", [2, 5])
def test_a_sweep_of_which_a_move_is_not_heard_ends_as_it_would(seed):
    assert events(sweep(seed), "switch", moves=2) == events(sweep(seed), "switch")


def test_what_comes_after_that_is_not_in_the_take():
    """Without a count of moves the take goes on until the string is damped."""
    stopped = sweep(0, damped_s=3.5)
    counted, not_counted = (
        next(e for e in events(stopped, "switch", moves=moves) if e.kind == "ended") for moves in (2, None)
    )
    assert counted.keep_to < (QUIET_S + 3.0) * RATE < (QUIET_S + 3.5) * RATE < not_counted.keep_to


def test_a_selector_that_moves_once_more_is_waited_for():
    """One move more than the list has: it goes on for as long after that one."""
    rng = np.random.default_rng(3)
    bench = random_bench(rng, pickups=2)
    through = ("bridge", ("bridge", "neck"), "neck", ("bridge", "neck"))
    around = {"rate": RATE, "lead_in_s": QUIET_S, "ringing_s": SWEPT_S}
    x = bench.switch(rng, through, "A2", at_s=(*AT_S, 2.0), **around)
    assert events(x, "switch", moves=2)[-1].keep_to / RATE - QUIET_S == pytest.approx(3.3, abs=0.15)
