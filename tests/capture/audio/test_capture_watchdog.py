"""An input that stops or loses samples; time is the test's own."""

from __future__ import annotations

import queue
import threading

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sound_parts import RATE

from capture.audio import streams as watchdog
from capture.audio.streams import (
    BlockQueue,
    InputLostError,
)


class Clock:
    def __init__(self):
        self.now = 100.0

    def __call__(self):
        return self.now


BLOCK = np.zeros((480, 2), dtype=np.float32)


class Waiting:
    """A queue in which waiting passes at once."""

    def __init__(self, clock):
        self.held, self.clock = queue.SimpleQueue(), clock
        self.put = self.held.put

    def get(self, timeout):
        try:
            return self.held.get(block=False)
        except queue.Empty:
            self.clock.now += timeout
            raise


def feed_on(clock):
    return BlockQueue(RATE, "box", clock, _queue=Waiting(clock))


@pytest.fixture
def clock():
    return Clock()


def come(feed, clock, seconds, *, late=0.0):
    """Blocks of a hundredth second, each when it is full, or later; all are read."""
    dropped = []
    for _ in range(round(seconds * 100)):
        clock.now += 0.01
        at, clock.now = clock.now, clock.now + late
        feed.take(BLOCK, False)
        clock.now = at
        dropped.append(feed.read(timeout_s=0.0).dropped)
    return dropped


def test_a_stall_is_noticed_within_a_second(clock):
    feed = feed_on(clock)
    come(feed, clock, 1.0)
    stopped = clock.now
    with pytest.raises(InputLostError, match='the input "box" gives no more sound; check its cable'):
        while True:
            feed.read(timeout_s=0.2)
    assert 0.5 < clock.now - stopped < 1.0


def test_a_stream_that_ends_gives_all_that_came_first(clock):
    feed = feed_on(clock)
    feed.take(BLOCK, False)
    feed.ended()
    assert len(feed.read(timeout_s=1.0).samples) == 480
    for _ in range(2):
        with pytest.raises(InputLostError, match="has ended by itself"):
            feed.read(timeout_s=1.0)


def test_an_input_may_take_its_time_to_begin(clock):
    feed = feed_on(clock)
    assert feed.read(timeout_s=2.0) is None
    with pytest.raises(InputLostError, match="gives no sound at all"):
        feed.read(timeout_s=2.0)


def test_a_computer_that_slept_is_no_lost_input(clock):
    feed = feed_on(clock)
    come(feed, clock, 0.1)
    clock.now += 3600
    assert feed.read(timeout_s=0.2) is None
    feed.take(BLOCK, False)
    assert feed.read(timeout_s=0.2) is not None


def test_a_reader_that_only_looks_in_notices_too(clock):
    feed = feed_on(clock)
    come(feed, clock, 0.1)
    with pytest.raises(InputLostError):
        for _ in range(200):
            clock.now += 0.01
            feed.read(timeout_s=0.0)


def test_what_nobody_reads_is_dropped_in_the_end_and_said(clock, monkeypatch):
    monkeypatch.setattr(watchdog, "MOST_WAITING_S", 0.1)
    feed = feed_on(clock)
    for _ in range(20):
        feed.take(BLOCK, False)
    assert feed.waiting == 11 * 480
    read = [feed.read(timeout_s=0.0) for _ in range(11)]
    assert not any(b.dropped for b in read)
    feed.take(BLOCK, False)
    assert feed.read(timeout_s=0.0).dropped


@pytest.mark.parametrize("at", [0.0, 1.3, 5.0])
@pytest.mark.parametrize("missing", [0.12, 0.5, 3.0])
def test_samples_that_are_lost_without_a_flag_are_seen_by_the_clock(clock, at, missing):
    feed = feed_on(clock)
    come(feed, clock, 1.0 + at)
    frame = feed.read_frames
    clock.now += missing
    dropped = come(feed, clock, 2.0)
    assert sum(dropped) == 1 and dropped.index(True) <= 150
    (loss,) = feed.losses
    assert loss.frames == pytest.approx(missing * RATE, abs=0.011 * RATE)
    assert loss.start <= frame <= loss.stop
    assert not any(come(feed, clock, 5.0))


@given(late=st.lists(st.floats(0.0, 0.45), min_size=50, max_size=50), drift=st.floats(-0.0005, 0.0005))
def test_blocks_that_come_late_and_a_clock_that_runs_otherwise_are_no_loss(late, drift):
    clock = Clock()
    feed = feed_on(clock)
    for n in range(1000):
        clock.now = 100.0 + n * 0.01 * (1 + drift) + (late[n // 20] if n % 20 < 15 else 0.0)
        feed.take(BLOCK, False)
        assert not feed.read(timeout_s=0.0).dropped
    assert feed.losses == []


def test_a_reader_is_woken_by_another_thread():
    feed = BlockQueue(RATE, "box")
    timer = threading.Timer(0.05, feed.take, (BLOCK, False))
    timer.start()
    assert feed.read(timeout_s=5.0) is not None
    timer.join()
