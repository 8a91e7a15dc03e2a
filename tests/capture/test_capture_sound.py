"""Which input is meant, what is said where there is none, and how an input that stops is noticed."""

from __future__ import annotations

import queue
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture import audio_system, playing, sound, watchdog
from capture.inputs import InputDevice, NoSuchInput, chosen, shown
from capture.sound import InputLost, SoundMissing, choose_input, choose_output, list_inputs, open_input
from capture.watchdog import Feed
from dsp.errors import SignalError

ROOT = Path(__file__).resolve().parents[2]


class PortAudioError(Exception):
    """As sounddevice has it: a text and a number."""


class FakeStream:
    """A stream that does what the test says; `refuses` is what opening it raises."""

    refuses: Exception | None = None
    stuck = False

    def __init__(self, **said):
        if self.refuses is not None:
            raise self.refuses
        self.said, self.ended = said, []

    def start(self):
        self.ended.append("started")

    def abort(self, ignore_errors=True):
        if self.stuck:
            time.sleep(60)
        self.ended.append("aborted")

    def close(self, ignore_errors=True):
        self.ended.append("closed")
        self.said["finished_callback"]()

    def stop(self, ignore_errors=True):
        raise AssertionError("stop() hangs on a device that stalled")


def device(name, inputs=2, outputs=0, *, host=0, rate=48_000.0):
    return {
        "name": name,
        "max_input_channels": inputs,
        "max_output_channels": outputs,
        "default_samplerate": rate,
        "hostapi": host,
    }


LAPTOP = [
    device("HDA Analog (hw:0,0)", 2, 2),
    device("Two In\n Box: USB Audio (hw:1,0)", 2, 2, rate=44_100.0),
    device("Eight In: USB Audio (hw:2,0)", 8, 8),
    device("monitor of something", 2),
    device("pulse", 32, 32),
    device("default", 32, 32),
    device("speakers only", 0, 2),
]


@pytest.fixture
def fake(monkeypatch):
    """sounddevice with a laptop that a box is plugged into; the own input of the system is "default"."""
    stream = type("Stream", (FakeStream,), {})
    there = SimpleNamespace(
        devices=list(LAPTOP),
        hosts=[{"name": "ALSA", "default_input_device": 5, "default_output_device": 6}],
        default=SimpleNamespace(hostapi=0),
        PortAudioError=PortAudioError,
        CallbackStop=type("CallbackStop", (Exception,), {}),
        InputStream=stream,
        OutputStream=stream,
        _exit_handler=lambda: None,
        begun=[],
    )
    there.query_devices = lambda: there.devices
    there.query_hostapis = lambda: there.hosts
    there._terminate = lambda: there.begun.append("ended")
    there._initialize = lambda: there.begun.append("begun")
    monkeypatch.setitem(sys.modules, "sounddevice", there)
    return there


# Which input


def test_the_list_has_inputs_alone(fake):
    assert [(d.number, d.channels) for d in list_inputs()] == [
        (0, 2),
        (1, 2),
        (2, 8),
        (3, 2),
        (4, 32),
        (5, 32),
    ]
    assert list_inputs()[1] == InputDevice(1, "Two In Box: USB Audio (hw:1,0)", 2, 44_100, "ALSA")
    assert shown(list_inputs()[1]) == "1: Two In Box: USB Audio (hw:1,0) (2 channels, 44100 Hz, ALSA)"


def test_without_a_word_it_is_the_two_input_box(fake):
    assert choose_input().number == 1


@pytest.mark.parametrize(
    ("kept", "number"),
    [
        ([0, 2, 4, 5], 2),  # eight inputs rather than the laptop's own two
        ([0, 3, 4, 5], 0),  # hardware rather than what only looks like it
        ([3, 4, 5], 3),  # two channels among what is no hardware
        ([4, 5], 5),  # the system's own
    ],
)
def test_without_a_box_it_is_what_is_most_like_one(fake, kept, number):
    fake.devices = [d if i in kept else {**d, "max_input_channels": 0} for i, d in enumerate(LAPTOP)]
    assert choose_input().number == number


def test_of_two_boxes_one_must_be_named(fake):
    fake.devices[2] = device("Other Box: USB Audio (hw:2,0)")
    with pytest.raises(
        NoSuchInput, match=r"several inputs would do; .*1: Two In Box.*; 2: Other Box"
    ) as said:
        choose_input()
    assert "pulse" not in str(said.value)
    fake.hosts[0]["default_input_device"] = 2
    assert choose_input().number == 2


@pytest.mark.parametrize(
    ("word", "number"), [("0", 0), (" 2 ", 2), ("box", 1), ("EIGHT usb", 2), ("default", 5), ("hw:1", 1)]
)
def test_a_number_or_a_part_of_a_name(fake, word, number):
    assert choose_input(word).number == number


def test_a_whole_name_is_meant_though_it_is_part_of_another(fake):
    fake.devices += [device("Box"), device("Box two")]
    assert choose_input("box").number == 7


def test_an_ambiguous_name_lists_what_fits(fake):
    with pytest.raises(NoSuchInput, match=r'"usb" fits several inputs; say the number: 1: .*; 2: ') as said:
        choose_input("usb")
    assert "HDA" not in str(said.value)


@pytest.mark.parametrize("word", ["9", "6", "microphone", "", "-1", "²"])
def test_a_name_that_fits_nothing_lists_what_there_is(fake, word):
    with pytest.raises(NoSuchInput, match=r"no input is called .*there is 0: HDA.*5: default"):
        choose_input(word)


def test_no_input_at_all(fake):
    fake.devices, fake.hosts = [], []
    for word in (None, "box"):
        with pytest.raises(NoSuchInput, match="there is no audio input here; plug the interface in"):
            choose_input(word)


HOSTS = ["MME", "Windows DirectSound", "Windows WASAPI", "Windows WDM-KS"]


@pytest.mark.parametrize("word", [None, "line"])
def test_one_box_under_four_hosts_is_one(word):
    """One system lists each device once a host, and cuts the name under the oldest to 31 characters."""
    name = "Line (1-2) of a box with a very long name"
    listed = [
        InputDevice(0, "Sound Mapper - Input", 2, 44_100, "MME", True),
        *(InputDevice(n, name[: 31 if n == 1 else None], 2, 48_000, h) for n, h in enumerate(HOSTS, 1)),
        InputDevice(8, "Microphone (built-in)", 2, 48_000, "Windows WASAPI"),
    ]
    assert chosen(listed, word).host == "Windows WASAPI"


@given(st.permutations(range(len(LAPTOP) - 1)))
def test_the_order_of_the_list_does_not_matter(order):
    listed = [
        InputDevice(n, d["name"], d["max_input_channels"], 48_000, "ALSA", n == 5)
        for n, d in enumerate(LAPTOP[:-1])
    ]
    assert chosen([listed[n] for n in order], None).number == 1


def test_outputs(fake):
    assert choose_output().name == "speakers only"
    assert choose_output("box").channels == 2
    fake.hosts[0]["default_output_device"], fake.devices = -1, LAPTOP[:-1]
    assert choose_output().number == 1


def test_devices_are_looked_for_anew(fake):
    sound.look_again()
    assert fake.begun == ["ended", "begun"]


# PortAudio is missing

MISSING = """
import ctypes.util, sys
from types import SimpleNamespace
ctypes.util.find_library = lambda name: None
from capture import audio_system, sound
sys.modules.pop("sounddevice", None)
platform = sys.argv[1]
audio_system.sys = SimpleNamespace(platform=platform, stderr=sys.stderr)
try:
    sound.list_inputs()
except sound.SoundMissing as error:
    print(error)
from reports.cli import main
sys.argv = ["coilwise", "list", sys.argv[2]]
main()
"""


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere sounddevice brings PortAudio with it")
@pytest.mark.parametrize(
    ("platform", "installer", "command"),
    [
        ("linux", "apt-get", "sudo apt-get install libportaudio2;"),
        ("linux", "dnf", "sudo dnf install portaudio;"),
        ("linux", "pacman", "sudo pacman -S portaudio;"),
        ("linux", None, "sudo apt-get install libportaudio2;"),
        ("darwin", None, "brew install portaudio;"),
        ("win32", None, "python -m pip install --force-reinstall sounddevice;"),
    ],
)
def test_missing_portaudio_names_the_one_command_and_all_else_works(
    folder: Path, tmp_path: Path, platform, installer, command
):
    tools = tmp_path / "bin"
    tools.mkdir()
    if installer:
        (tools / installer).write_text("#!/bin/sh\n")
        (tools / installer).chmod(0o755)
    ran = subprocess.run(
        [sys.executable, "-c", MISSING, platform, str(folder)],
        cwd=ROOT,
        env={"PATH": str(tools), "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    first, rest = ran.stdout.split("\n", 1)
    assert first.startswith("PortAudio is missing, so nothing can be recorded; install it: ")
    assert command in first
    assert "Baritone" in rest
    assert (ran.stderr, ran.returncode) == ("", 0)


def test_missing_package_and_an_audio_system_that_does_not_start(monkeypatch, tmp_path: Path):
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(
        SoundMissing, match="the Python package sounddevice is missing; install it: python -m"
    ):
        list_inputs()
    monkeypatch.delitem(sys.modules, "sounddevice")
    (tmp_path / "sounddevice.py").write_text("raise RuntimeError('Error initializing PortAudio')")
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(SoundMissing, match=r"does not start \(Error initializing PortAudio\)"):
        list_inputs()


def test_chatter_below_python_stays_off_the_terminal(capfd):
    with audio_system.hushed():
        subprocess.run([sys.executable, "-c", "import os; os.write(2, b'cannot find card')"], check=True)
    print("after", file=sys.stderr)
    assert capfd.readouterr().err == "after\n"


# A stream


def test_a_stream_is_opened_as_the_device_is(fake):
    with open_input(choose_input("eight")) as stream:
        said = stream._stream.said
        assert (stream.rate, stream.channels) == (48_000, 2)
    assert (said["device"], said["channels"], said["samplerate"], said["dtype"]) == (2, 2, 48_000, "float32")
    assert stream._stream.ended == ["started", "aborted", "closed"]
    with open_input(choose_input("eight"), channels=1, rate=96_000) as stream:
        assert (stream.rate, stream.channels) == (96_000, 1)


def test_blocks_come_as_they_are_given_and_are_copied(fake):
    with open_input(choose_input()) as stream:
        given_it = np.array([[0.25, -0.5], [1.0, 0.0]], dtype=np.float32)
        call = stream._stream.said["callback"]
        call(given_it, 2, None, SimpleNamespace(input_overflow=False))
        given_it[:] = 9.0  # the audio thread uses its buffer again
        call(given_it[:1], 1, None, SimpleNamespace(input_overflow=True))
        first, second = stream.read(), stream.read()
        assert np.array_equal(first.samples, [[0.25, -0.5], [1.0, 0.0]])
        assert (first.start, first.dropped, second.start, second.dropped) == (0, False, 2, True)
        assert stream.read(timeout_s=0.01) is None
        assert [loss.start for loss in stream.lost] == [2]
        assert stream.lost_between(0, 2) == ()
        assert stream.lost_between(1, 3) == stream.lost


REASONS = [
    ((-9997, "Invalid sample rate"), "cannot record 2 channels at 44100 Hz: it does not run at that rate"),
    ((-9998, "Invalid number of channels"), "it does not have so many channels"),
    ((-9985, "Device unavailable"), "another program is using it; close that"),
    ((-9993, "Illegal combination of I/O devices"), "it is not there any more; plug it in"),
    ((-9992, "Something else"), "44100 Hz: Something else"),
    ((), "44100 Hz: Something else"),
]


@pytest.mark.parametrize(("code", "words"), REASONS)
def test_an_input_that_does_not_open_says_why(fake, code, words):
    fake.InputStream.refuses = PortAudioError(*(code[::-1] or ("Something else",)))
    with pytest.raises(NoSuchInput, match=words) as said:
        open_input(choose_input())
    assert "Two In Box" in str(said.value)


def test_closing_does_not_wait_for_an_audio_server_that_hangs(fake):
    stream = open_input(choose_input())
    fake.InputStream.stuck = True
    before = time.monotonic()
    stream.close()
    stream.close()
    assert time.monotonic() - before < 3 * audio_system.CLOSES_WITHIN_S


# An input that stops; time is the test's own


class Clock:
    def __init__(self):
        self.now = 100.0

    def __call__(self):
        return self.now


RATE = 48_000
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
    return Feed(RATE, "box", clock, _queue=Waiting(clock))


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
    with pytest.raises(InputLost, match='the input "box" gives no more sound; check its cable'):
        while True:
            feed.read(timeout_s=0.2)
    assert 0.5 < clock.now - stopped < 1.0


def test_a_stream_that_ends_gives_all_that_came_first(clock):
    feed = feed_on(clock)
    feed.take(BLOCK, False)
    feed.ended()
    assert len(feed.read(timeout_s=1.0).samples) == 480
    for _ in range(2):
        with pytest.raises(InputLost, match="has ended by itself"):
            feed.read(timeout_s=1.0)


def test_an_input_may_take_its_time_to_begin(clock):
    feed = feed_on(clock)
    assert feed.read(timeout_s=2.0) is None
    with pytest.raises(InputLost, match="gives no sound at all"):
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
    with pytest.raises(InputLost):
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
    frame = feed.came
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
    feed = Feed(RATE, "box")
    timer = threading.Timer(0.05, feed.take, (BLOCK, False))
    timer.start()
    assert feed.read(timeout_s=5.0) is not None
    timer.join()


# Playing


def test_what_is_played_is_faded_by_whoever_made_it_and_never_loud(fake):
    output = choose_output()
    for wave in (np.full(10, 0.26), np.full(10, -0.26), np.array([np.nan]), np.array([np.inf])):
        with pytest.raises(SignalError, match=r"at most 0\.25"):
            playing.play(wave, rate=RATE, output=output)
    wave = np.linspace(-0.25, 0.25, 700)
    with playing.play(wave, rate=RATE, output=output) as played:
        call = played._stream.said["callback"]
        assert played._stream.said["channels"] == 2
        room = np.ones((500, 2), dtype=np.float32)
        call(room, 500, None, None)
        assert np.array_equal(room, np.repeat(wave[:500, np.newaxis], 2, axis=1).astype(np.float32))
        call(room, 500, None, None)
        assert np.array_equal(room[:200, 1], wave[500:].astype(np.float32))
        assert not room[200:].any()
        with pytest.raises(fake.CallbackStop):
            for _ in range(RATE):
                call(room, 500, None, None)
                assert not room.any()
        assert not played.done
        played._stream.said["finished_callback"]()
        assert played.done
    assert played._stream.ended == ["started", "aborted", "closed"]


def test_an_output_that_does_not_open_says_why(fake):
    fake.OutputStream.refuses = PortAudioError("Invalid sample rate", -9997)
    with pytest.raises(NoSuchInput, match="cannot play at 96000 Hz: it does not run at that rate"):
        playing.play(np.zeros(10), rate=96_000)
