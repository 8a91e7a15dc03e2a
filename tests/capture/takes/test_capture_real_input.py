"""Recorded through the real PortAudio, in real time, on a virtual input: exact, or said not to be."""

from __future__ import annotations

import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
import virtual_input as virtual
from virtual_input import MORTAL_NAME, NAME, OUTPUT_NAME, RATE, WIDE_NAME, VirtualInput

from capture.audio import streams as watchdog
from capture.audio.devices import DeviceError
from capture.audio.files import read_audio
from capture.audio.problems import FileProblem
from capture.audio.streams import (
    InputLostError,
    InputStream,
    choose_input,
    choose_output,
    list_inputs,
    open_input,
    play_and_record,
)
from capture.log import TakeFields
from capture.takes.folder import JobFolder
from capture.takes.recorder import TakeWriter, recover_take, unfinished_takes
from dsp.methods.driven_coil import analyse_drive, drive_waveform

virtual_input, mortal_input = virtual.virtual_input, virtual.mortal_input
_virtual_home, _running_input = virtual._virtual_home, virtual._running_input

PLUCK = TakeFields("pluck", ("bridge", "neck"), string="D3")
ONE_BIT = 2.0**-23


def numbers(seconds: float, *, channels: int = 2, rate: int = RATE) -> np.ndarray:
    """24-bit noise, uppermost in 32 bits: every channel another, no frame silent, the first known."""
    whole = np.random.default_rng(1).integers(-(2**22), 2**22, (round(seconds * rate), channels)) | 1
    whole[0] = 1 + 2 * np.arange(channels)
    return (whole << 8).astype(np.int32)


def record(stream: InputStream, writer: TakeWriter, seconds: float) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        block = stream.read()
        if block is not None:
            writer.write(block.samples, dropped=block.dropped)


def sounding(samples: np.ndarray) -> np.ndarray:
    """From the first frame that is not silent to the last."""
    heard = np.flatnonzero(samples.any(axis=1))
    return samples[heard[0] : heard[-1] + 1]


def until(what, *, seconds: float = 5.0) -> bool:
    end = time.monotonic() + seconds
    while not what() and time.monotonic() < end:
        time.sleep(0.01)
    return bool(what())


def test_what_is_played_is_what_is_recorded(virtual_input: VirtualInput, folder: Path):
    """Every sample and its sign, both channels; it took as long as it lasted."""
    played = numbers(1.0)
    device = choose_input(NAME)
    assert device in list_inputs()
    with (
        closing(open_input(device, rate=RATE)) as stream,
        closing(TakeWriter(folder, rate=RATE, channels=stream.channels)) as writer,
    ):
        assert (stream.channels, stream.rate) == (2, RATE)
        began = time.monotonic()
        record(stream, writer, 0.3)
        player = virtual_input.play(played)
        while player.poll() is None:
            record(stream, writer, 0.05)
        record(stream, writer, 0.7)
        took = time.monotonic() - began
        assert stream.lost == ()
        take = writer.finish(PLUCK)
    assert take.status == "usable"
    read = take.load().samples
    assert np.array_equal(sounding(read), played / 2**31)
    assert len(read) / RATE == pytest.approx(took, abs=0.25)


@pytest.mark.parametrize("channel", [0, 1])
def test_two_channels_are_two(virtual_input: VirtualInput, folder: Path, channel: int):
    """What is played into one input is nowhere in the other."""
    played = numbers(0.3)
    played[:, 1 - channel] = 0
    with (
        closing(open_input(choose_input(NAME), rate=RATE)) as stream,
        closing(TakeWriter(folder, rate=RATE, channels=2)) as writer,
    ):
        record(stream, writer, 0.2)
        player = virtual_input.play(played)
        while player.poll() is None:
            record(stream, writer, 0.05)
        record(stream, writer, 0.5)
        read = writer.finish(PLUCK).load().samples
    assert np.array_equal(sounding(read)[:, channel], played[:, channel] / 2**31)
    assert not read[:, 1 - channel].any()


def test_a_source_that_dies_in_a_take_leaves_what_came_before(mortal_input: VirtualInput, folder: Path):
    played = numbers(5.0)
    with closing(open_input(choose_input(MORTAL_NAME), rate=RATE)) as stream:
        writer = TakeWriter(folder, rate=RATE, channels=2, planned=PLUCK)
        mortal_input.play(played)
        record(stream, writer, 1.5)
        mortal_input.kill()
        died = time.monotonic()
        with pytest.raises(InputLostError, match=MORTAL_NAME):
            record(stream, writer, 5.0)
        assert time.monotonic() - died < 1.2
    writer.close()
    (left,) = unfinished_takes(folder)
    assert left.planned == PLUCK
    heard = sounding(recover_take(left).load().samples)
    assert len(heard) > 0.5 * RATE
    assert np.array_equal(heard, played[: len(heard)] / 2**31)


def test_a_source_that_stalls_is_lost_too(mortal_input: VirtualInput, folder: Path):
    """It says nothing and ends nothing; only waiting shows it."""
    with (
        closing(open_input(choose_input(MORTAL_NAME), rate=RATE)) as stream,
        closing(TakeWriter(folder, rate=RATE, channels=2)) as writer,
    ):
        record(stream, writer, 0.4)
        mortal_input.hold()
        stalled = time.monotonic()
        try:
            with pytest.raises(InputLostError, match="gives no more sound"):
                record(stream, writer, 5.0)
            assert 0.5 < time.monotonic() - stalled < 1.6
        finally:
            mortal_input.let_go()
        assert writer.frames > 0.1 * RATE


def test_samples_that_are_lost_are_seen(virtual_input: VirtualInput, folder: Path, monkeypatch):
    """The audio thread is held up until its buffers run over: a wide, fast input runs over soonest."""
    monkeypatch.setattr(watchdog, "STALLED_S", 30.0)
    take, held = watchdog.BlockQueue.take, []

    def hold_up(feed, samples, overflowed):
        take(feed, samples, overflowed)
        if feed.read_frames > 96_000 // 2 and not held:
            held.append(True)
            time.sleep(3.0)

    monkeypatch.setattr(watchdog.BlockQueue, "take", hold_up)
    with (
        closing(open_input(choose_input(WIDE_NAME), channels=8, rate=96_000)) as stream,
        closing(TakeWriter(folder, rate=96_000, channels=8)) as writer,
    ):
        end = time.monotonic() + 6.5
        while time.monotonic() < end and not stream.lost:
            record(stream, writer, 0.1)
        assert stream.lost
        lines = writer.finish(TakeFields("hum", ("bridge", "neck", *[None] * 6)))
    assert (lines.status, lines.problem) == ("refused", FileProblem("samples lost"))


KILLED = """
import sys
from contextlib import closing
from capture.log import TakeFields
from capture.takes.recorder import TakeWriter
from capture.audio.streams import choose_input, open_input
with closing(open_input(choose_input(sys.argv[2]), rate=48000)) as stream:
    said = TakeFields("pluck", ("bridge", "neck"), string="D3")
    writer = TakeWriter(sys.argv[1], rate=48000, channels=2, planned=said)
    while True:
        block = stream.read()
        if block is not None:
            writer.write(block.samples)
"""


def test_kill_9_in_the_middle_of_a_take(virtual_input: VirtualInput, folder: Path):
    """Started again, the recording is there to be taken in, with every sample that had come."""
    played = numbers(5.0)
    recorder = subprocess.Popen(
        [sys.executable, "-c", KILLED, str(folder), NAME],
        env=virtual_input.environment,
        stderr=subprocess.PIPE,
    )
    try:
        assert until(lambda: list(folder.glob("takes/.*.part.wav")))
        virtual_input.play(played)
        time.sleep(1.2)
        assert unfinished_takes(folder) == ()  # somebody is recording it
    finally:
        recorder.kill()
        recorder.communicate()
    assert JobFolder.open(folder).takes() == ()
    (left,) = unfinished_takes(folder)
    assert left.planned == PLUCK
    heard = sounding(recover_take(left).load().samples)
    assert len(heard) > 0.5 * RATE
    assert np.array_equal(heard, played[: len(heard)] / 2**31)
    assert [t.status for t in JobFolder.open(folder).takes()] == ["usable"]


def test_a_driven_coil_is_played_and_recorded_at_once(virtual_input: VirtualInput, folder: Path):
    """The output is the sink itself, the input its monitor: what is heard has the sign that was played."""
    wave = drive_waveform(rate=RATE, seconds=1.6)
    with (
        closing(open_input(choose_input(NAME), rate=RATE)) as stream,
        closing(TakeWriter(folder, rate=RATE, channels=2)) as writer,
    ):
        for block in play_and_record(stream, wave, rate=RATE, output=choose_output(OUTPUT_NAME)):
            writer.write(block.samples)
        take = writer.finish(TakeFields("drive", ("bridge", "bridge")))
    heard = sounding(read_audio(take.path).samples)
    expected = sounding(np.rint(np.stack([wave, wave], axis=1) / ONE_BIT) * ONE_BIT)
    assert heard.shape == expected.shape
    assert np.max(np.abs(heard - expected)) <= ONE_BIT
    hearing = analyse_drive(heard[:, 0], rate=RATE)
    assert hearing.faults == () and hearing.turn is not None
    assert hearing.turn.real > 0.9


def test_one_input_of_a_box_has_nothing_of_the_other(virtual_input: VirtualInput, folder: Path):
    """An audio system that is asked for one channel of two mixes them."""
    played = numbers(1.0)
    with (
        closing(open_input(choose_input(NAME), channels=1, rate=RATE)) as stream,
        closing(TakeWriter(folder, rate=RATE, channels=1)) as writer,
    ):
        virtual_input.play(played)
        record(stream, writer, 2.0)
        take = writer.finish(TakeFields("pluck", ("bridge",), string="D3"))
    heard = sounding(read_audio(take.path).samples)[:, 0]
    assert len(heard) > 0.5 * RATE
    assert np.array_equal(heard, played[: len(heard), 0] / 2**31)


def test_what_an_input_does_not_do_is_said(virtual_input: VirtualInput):
    device = choose_input(NAME)
    with pytest.raises(DeviceError, match=rf"{NAME}.*cannot record 64 channels.*not have so many channels"):
        open_input(device, channels=64)
