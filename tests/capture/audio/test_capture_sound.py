"""The sound card through a sounddevice of our own: missing, opened, played through, closed."""

from __future__ import annotations

import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from sound_parts import RATE, PortAudioError

from capture.audio import devices as audio_system
from capture.audio import streams as playing
from capture.audio.devices import DeviceError, InputDevice, SoundMissingError
from capture.audio.streams import (
    choose_input,
    choose_output,
    list_inputs,
    open_input,
)
from dsp import SignalError

ROOT = Path(__file__).resolve().parents[3]


MISSING = """
import ctypes.util, os, sys
from types import SimpleNamespace
ctypes.util.find_library = lambda name: None
from capture.audio import devices, streams
folder, *asked = sys.argv[1:]
for platform, tools in (one.split("|") for one in asked):
    sys.modules.pop("sounddevice", None)
    devices.sys = SimpleNamespace(platform=platform, stderr=sys.stderr)
    os.environ["PATH"] = tools
    try:
        streams.list_inputs()
    except devices.SoundMissingError as error:
        print(error)
from reports.cli import main
sys.argv = ["coilwise", "list", folder]
main()
"""


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere sounddevice brings PortAudio with it")
def test_missing_portaudio_names_the_one_command_and_all_else_works(folder: Path, tmp_path: Path):
    """Asked on one system after another; importing is dear, so all of them in one process."""
    commands = {
        ("linux", "apt-get"): "sudo apt-get install libportaudio2;",
        ("linux", "dnf"): "sudo dnf install portaudio;",
        ("linux", "pacman"): "sudo pacman -S portaudio;",
        ("linux", "none"): "sudo apt-get install libportaudio2;",
        ("darwin", "none"): "brew install portaudio;",
        ("win32", "none"): "python -m pip install --force-reinstall sounddevice;",
    }
    for tools in ("apt-get", "dnf", "pacman", "none"):
        (tmp_path / tools).mkdir()
        if tools != "none":
            (tmp_path / tools / tools).write_text("#!/bin/sh\n")
            (tmp_path / tools / tools).chmod(0o755)
    ran = subprocess.run(
        [sys.executable, "-c", MISSING, folder, *(f"{p}|{tmp_path / tools}" for p, tools in commands)],
        cwd=ROOT,
        env={"PATH": str(tmp_path / "none"), "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (ran.stderr, ran.returncode) == ("", 0)
    lines = ran.stdout.splitlines()
    for line, command in zip(lines, commands.values(), strict=False):
        assert line.startswith("PortAudio is missing, so nothing can be recorded; install it: ")
        assert command in line
    assert "Baritone" in "\n".join(lines[len(commands) :])


def test_missing_package_and_an_audio_system_that_does_not_start(monkeypatch, tmp_path: Path):
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(
        SoundMissingError, match="the Python package sounddevice is missing; install it: python -m"
    ):
        list_inputs()
    monkeypatch.delitem(sys.modules, "sounddevice")
    (tmp_path / "sounddevice.py").write_text("raise RuntimeError('Error initializing PortAudio')")
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(SoundMissingError, match=r"does not start \(Error initializing PortAudio\)"):
        list_inputs()


def test_chatter_below_python_stays_off_the_terminal(capfd):
    with audio_system.quiet_stderr():
        subprocess.run([sys.executable, "-c", "import os; os.write(2, b'cannot find card')"], check=True)
    print("after", file=sys.stderr)
    assert capfd.readouterr().err == "after\n"


# A stream


def test_a_stream_is_opened_as_the_device_is(fake):
    with closing(open_input(choose_input("eight"))) as stream:
        said = stream._stream.said
        assert (stream.rate, stream.channels) == (48_000, 2)
    assert (said["device"], said["channels"], said["samplerate"], said["dtype"]) == (2, 2, 48_000, "float32")
    assert stream._stream.ended == ["started", "aborted", "closed"]
    with closing(open_input(choose_input("eight"), channels=1, rate=96_000)) as stream:
        assert (stream.rate, stream.channels) == (96_000, 1)
        assert stream._stream.said["channels"] == 2
        stream._stream.said["callback"](np.array([[0.5, -1.0]], dtype=np.float32), 1, None, None)
        assert np.array_equal(stream.read().samples, [[0.5]])


def test_an_input_of_one_channel_is_opened_as_it_is(fake):
    with closing(open_input(InputDevice(7, "One", 1, 48_000, "host"))) as stream:
        assert (stream.channels, stream._stream.said["channels"]) == (1, 1)


def test_blocks_come_as_they_are_given_and_are_copied(fake):
    with closing(open_input(choose_input())) as stream:
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
    with pytest.raises(DeviceError, match=words) as said:
        open_input(choose_input())
    assert "Two In Box" in str(said.value)


def test_closing_does_not_wait_for_an_audio_server_that_hangs(fake):
    stream = open_input(choose_input())
    fake.InputStream.stuck = threading.Event()
    stream.close()
    stream.close()
    assert "aborted" not in stream._stream.ended, "it was waited for"
    fake.InputStream.stuck.set()


def test_what_is_played_is_faded_by_whoever_made_it_and_never_loud(fake):
    output = choose_output()
    for wave in (np.full(10, 0.26), np.full(10, -0.26), np.array([np.nan]), np.array([np.inf])):
        with pytest.raises(SignalError, match=r"at most 0\.25"):
            playing.play(wave, rate=RATE, output=output)
    wave = np.linspace(-0.25, 0.25, 700)
    with closing(playing.play(wave, rate=RATE, output=output)) as played:
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
    with pytest.raises(DeviceError, match="cannot play at 96000 Hz: it does not run at that rate"):
        playing.play(np.zeros(10), rate=96_000)
