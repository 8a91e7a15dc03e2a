"""A sounddevice that does what a test says, with a laptop and a box plugged into it."""

from __future__ import annotations

import sys
from types import SimpleNamespace

RATE = 48_000


class PortAudioError(Exception):
    """As sounddevice has it: a text and a number."""


class FakeStream:
    """A stream that does what the test says.

    `refuses` is what opening it raises, `stuck` an event that ending it waits for.
    """

    refuses: Exception | None = None
    stuck = None

    def __init__(self, **said):
        if self.refuses is not None:
            raise self.refuses
        self.said, self.ended = said, []

    def start(self):
        self.ended.append("started")

    def abort(self, ignore_errors=True):
        if self.stuck is not None:
            self.stuck.wait(timeout=60)
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


def fake_sounddevice(monkeypatch):
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
