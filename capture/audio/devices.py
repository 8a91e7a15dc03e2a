"""Audio inputs and outputs as the system lists them, and the only import of sounddevice.

`library()` gives sounddevice, loaded at first use, or raises `SoundMissingError` with the command that
installs what is missing. `pick_device(devices, word)` takes a number, a name or parts of one; without a word
it takes the input that is most like a two-input box (`box_rank`). What fits several devices equally is
refused with their list. `OpenStream` is what inputs and outputs have in common: errors in plain words,
nothing of the audio library's own output on the terminal, and an end that does not wait for a device that
hangs.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import shutil
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from dsp import CoilwiseError

CLOSES_WITHIN_S = 0.3
_STDERR = 2
_INSTALLERS = {
    "apt-get": "sudo apt-get install libportaudio2",
    "dnf": "sudo dnf install portaudio",
    "pacman": "sudo pacman -S portaudio",
    "zypper": "sudo zypper install libportaudio2",
    "apk": "sudo apk add portaudio",
}
_WITH_SOUND = "python -m pip install --force-reinstall sounddevice"
_WITHOUT = "everything that needs no sound card works without it, also recordings made in another program"
_REASONS = {
    -9999: "the audio system refused it; close other programs that use it",
    -9998: "it does not have so many channels",
    -9997: "it does not run at that rate",
    -9996: "it is not there any more; plug it in and list the inputs again",
    -9993: "it is not there any more; plug it in and list the inputs again",
    -9985: "another program is using it; close that",
}


class SoundMissingError(CoilwiseError):
    """PortAudio or sounddevice cannot be loaded."""


def device_entries(kind: str) -> list[tuple[int, str, int, int, str, bool]]:
    """Return number, name, channels, rate and host of every device, and whether it is the system's own."""
    sd = library()
    hosts = list(sd.query_hostapis())
    own = hosts[sd.default.hostapi][f"default_{kind}_device"] if hosts else -1
    return [
        (
            number,
            " ".join(str(device["name"]).split()),
            int(device[f"max_{kind}_channels"]),
            round(device["default_samplerate"]),
            str(hosts[device["hostapi"]]["name"]),
            number == own,
        )
        for number, device in enumerate(sd.query_devices())
        if device[f"max_{kind}_channels"] > 0
    ]


def library() -> Any:
    """Return sounddevice; it is imported here and nowhere else.

    Raises
    ------
    SoundMissingError
        It is not installed, or finds no PortAudio, or the audio system does not start.

    """
    with quiet_stderr():
        try:
            import sounddevice as sd
        except ImportError:
            raise SoundMissingError(
                f"the Python package sounddevice is missing; install it: {_WITH_SOUND}; {_WITHOUT}"
            ) from None
        except OSError:
            raise SoundMissingError(
                "PortAudio is missing, so nothing can be recorded; install it:"
                f" {_install_command()}; {_WITHOUT}"
            ) from None
        except Exception as error:  # sounddevice raises PortAudioError, which without it cannot be named here
            raise SoundMissingError(
                f"the audio system does not start ({error}); start it or restart; {_WITHOUT}"
            ) from None
    return sd


def _install_command() -> str:
    """The one command that installs PortAudio on this system."""
    if sys.platform == "darwin":
        return "brew install portaudio"
    if sys.platform.startswith("linux"):
        return next(
            (command for name, command in _INSTALLERS.items() if shutil.which(name)), _INSTALLERS["apt-get"]
        )
    return _WITH_SOUND


class OpenStream:
    """A stream of the audio system that has begun, until it is closed."""

    def __init__(self, begin: Callable[..., Any], what: str, sd: Any, **options: Any) -> None:
        self._closed = False
        with quiet_stderr(), translate_errors(what, sd):
            self._stream = begin(**options)
            try:
                self._stream.start()
            except BaseException:
                self.close()
                raise

    def close(self) -> None:
        """End it at once, without waiting for a device that stalled."""
        if not self._closed:
            self._closed = True
            end_stream(self._stream)


def end_stream(stream: Any) -> None:
    """Abort and close a stream, and do not wait for either.

    `stop` would wait for a device that stalled; an audio server that hangs holds up even these, so they get
    `CLOSES_WITHIN_S` and are left alone after that, also when the program ends.
    """

    def end() -> None:
        for step in (stream.abort, stream.close):
            with contextlib.suppress(Exception):
                step(ignore_errors=True)

    closing = threading.Thread(target=end, daemon=True)
    closing.start()
    closing.join(CLOSES_WITHIN_S)
    if closing.is_alive():
        atexit.unregister(library()._exit_handler)


@contextlib.contextmanager
def translate_errors(what: str, sd: Any) -> Iterator[None]:
    """Turn what the audio system says on opening a stream into words."""
    try:
        yield
    except (sd.PortAudioError, ValueError) as error:
        code = error.args[1] if len(error.args) > 1 else None
        reason = _REASONS.get(code) if isinstance(code, int) else None
        raise DeviceError(f"{what}: {reason or error.args[0]}") from None


@contextlib.contextmanager
def quiet_stderr() -> Iterator[None]:
    """Keep the audio system's own chatter off the terminal: it writes to the error stream below Python."""
    try:
        sys.stderr.flush()
        kept = os.dup(_STDERR)
    except (OSError, AttributeError, ValueError):
        yield
        return
    try:
        with open(os.devnull, "wb") as nowhere:
            os.dup2(nowhere.fileno(), _STDERR)
        yield
    finally:
        os.dup2(kept, _STDERR)
        os.close(kept)


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


class DeviceError(CoilwiseError):
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


def device_label(device: ListedDevice) -> str:
    """Return a device as it stands in a list: number, name, channels, rate, host."""
    channels = f"{device.channels} channel{'s' * (device.channels != 1)}"
    return f"{device.number}: {device.name} ({channels}, {device.rate_hz} Hz, {device.host})"


def pick_device(devices: Sequence[Device], word: str | None, *, kind: str = "input") -> Device:
    """Return the device that `word` means: its number, its name, or parts of its name and host.

    Raises
    ------
    DeviceError
        None fits, or several do: the text lists them.

    """
    if not devices:
        raise DeviceError(f"there is no audio {kind} here; plug the interface in, then try again")
    if word is None:
        return _best(devices, kind)
    asked = word.strip()
    if asked.isascii() and asked.isdigit():
        fits = [d for d in devices if d.number == int(asked)]
    else:
        fits = [d for d in devices if d.name.casefold() == asked.casefold()] or _matching_parts(
            devices, asked
        )
    fits = _best_host_of_each(fits)
    if not fits:
        raise DeviceError(f'no {kind} is called "{word}"; there is {_device_list(devices)}')
    if len(fits) > 1:
        raise DeviceError(f'"{word}" fits several {kind}s; say the number: {_device_list(fits)}')
    return fits[0]


def box_rank(device: ListedDevice) -> tuple[int, int, int]:
    """How like a two-input box a device is: hardware at all, no microphone, exactly two channels."""
    name = f"{device.name.casefold()} "
    hardware = not any(word in name for word in _NOT_HARDWARE)
    plain = not any(word in name for word in _NO_BOX)
    fitting = 2 if device.channels == BOX_INPUTS else int(device.channels > BOX_INPUTS)
    return int(hardware), int(plain), fitting


def _best(devices: Sequence[Device], kind: str) -> Device:
    most = max(box_rank(d) for d in devices)
    best = _best_host_of_each([d for d in devices if box_rank(d) == most])
    if len(best) > 1:
        best = [d for d in best if d.is_default] or best
    if len(best) > 1 and most[0]:
        raise DeviceError(f"several {kind}s would do; say which is meant, by number: {_device_list(best)}")
    return best[0]


def _matching_parts(devices: Sequence[Device], asked: str) -> list[Device]:
    parts = asked.casefold().split()
    return [d for d in devices if parts and all(p in f"{d.name} {d.host}".casefold() for p in parts)]


def _best_host_of_each(devices: Sequence[Device]) -> list[Device]:
    """Of one device under several hosts, the entry under the best."""
    kept: dict[str, Device] = {}
    for device in sorted(devices, key=lambda d: (_host_rank(d), d.number)):
        first = kept.setdefault(device.name[:_CUT_NAME].strip(), device)
        if first is not device and first.host == device.host:
            kept[f"{device.name} {device.number}"] = device
    return sorted(kept.values(), key=lambda d: d.number)


def _host_rank(device: ListedDevice) -> int:
    return next((i for i, word in enumerate(_HOSTS) if word in device.host), len(_HOSTS))


def _device_list(devices: Sequence[ListedDevice]) -> str:
    return "; ".join(device_label(d) for d in devices)
