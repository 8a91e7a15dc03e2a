"""Inputs and outputs as the audio system lists them, and which of them is meant.

`chosen(devices, word)` takes a number, a name or any part of one; without a word it takes the input that is
most like a two-input box (`merit`). What fits several devices equally is refused with the list of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from dsp.errors import CoilwiseError

BOX_INPUTS = 2
_CUT_NAME = 31
"""One system's oldest host gives only so much of a name."""
_HOSTS = ("WASAPI", "Core Audio", "ALSA", "JACK", "ASIO", "DirectSound", "WDM-KS", "MME", "OSS")
"""Where one device is listed under several hosts: the best first. WDM-KS takes it from everybody else."""
_NOT_HARDWARE = (
    "monitor",
    "loopback",
    "stereo mix",
    "what u hear",
    "virtual",
    "aggregate",
    "null",
    "default",
    "pulse",
    "pipewire",
    "jack",
    "dmix",
    "dsnoop",
    "samplerate",
    "speex",
    "upmix",
    "vdownmix",
    "mapper",
    "primary sound",
    "primary driver",
)
_NO_BOX = ("microphone", "mic ", "webcam", "camera", "headset", "hands-free", "built-in", "hda", "hdmi")


class NoSuchInputError(CoilwiseError):
    """No input or output like that, several, or one that will not open as it was asked to."""


@dataclass(frozen=True)
class ListedDevice:
    """A device: `number` as listed, `channels` at most, `rate_hz` its own, `host` the audio system."""

    number: int
    name: str
    channels: int
    rate_hz: int
    host: str
    is_default: bool = False


@dataclass(frozen=True)
class InputDevice(ListedDevice):
    """An input."""


@dataclass(frozen=True)
class OutputDevice(ListedDevice):
    """An output."""


Device = TypeVar("Device", InputDevice, OutputDevice)


def shown(device: ListedDevice) -> str:
    """Return a device as it stands in a list: number, name, channels, rate, host."""
    channels = f"{device.channels} channel{'s' * (device.channels != 1)}"
    return f"{device.number}: {device.name} ({channels}, {device.rate_hz} Hz, {device.host})"


def chosen(devices: Sequence[Device], word: str | None, *, kind: str = "input") -> Device:
    """Return the device that `word` means: its number, its name, or parts of its name and host.

    Raises
    ------
    NoSuchInputError
        None fits, or several do: the text lists them.

    """
    if not devices:
        raise NoSuchInputError(f"there is no audio {kind} here; plug the interface in, then try again")
    if word is None:
        return _best(devices, kind)
    asked = word.strip()
    if asked.isascii() and asked.isdigit():
        fits = [d for d in devices if d.number == int(asked)]
    else:
        fits = [d for d in devices if d.name.casefold() == asked.casefold()] or _with_parts(devices, asked)
    fits = _one_host(fits)
    if not fits:
        raise NoSuchInputError(f'no {kind} is called "{word}"; there is {_listed(devices)}')
    if len(fits) > 1:
        raise NoSuchInputError(f'"{word}" fits several {kind}s; say the number: {_listed(fits)}')
    return fits[0]


def merit(device: ListedDevice) -> tuple[int, int, int]:
    """How like a two-input box a device is: hardware at all, no microphone, exactly two channels."""
    said = f"{device.name.casefold()} "
    hardware = not any(word in said for word in _NOT_HARDWARE)
    plain = not any(word in said for word in _NO_BOX)
    fitting = 2 if device.channels == BOX_INPUTS else int(device.channels > BOX_INPUTS)
    return int(hardware), int(plain), fitting


def _best(devices: Sequence[Device], kind: str) -> Device:
    most = max(merit(d) for d in devices)
    best = _one_host([d for d in devices if merit(d) == most])
    if len(best) > 1:
        best = [d for d in best if d.is_default] or best
    if len(best) > 1 and most[0]:
        raise NoSuchInputError(f"several {kind}s would do; say which is meant, by number: {_listed(best)}")
    return best[0]


def _with_parts(devices: Sequence[Device], asked: str) -> list[Device]:
    parts = asked.casefold().split()
    return [d for d in devices if parts and all(p in f"{d.name} {d.host}".casefold() for p in parts)]


def _one_host(devices: Sequence[Device]) -> list[Device]:
    """Of one device under several hosts, the entry under the best."""
    kept: dict[str, Device] = {}
    for device in sorted(devices, key=lambda d: (_host_rank(d), d.number)):
        first = kept.setdefault(device.name[:_CUT_NAME].strip(), device)
        if first is not device and first.host == device.host:
            kept[f"{device.name} {device.number}"] = device
    return sorted(kept.values(), key=lambda d: d.number)


def _host_rank(device: ListedDevice) -> int:
    return next((i for i, word in enumerate(_HOSTS) if word in device.host), len(_HOSTS))


def _listed(devices: Sequence[ListedDevice]) -> str:
    return "; ".join(shown(d) for d in devices)
