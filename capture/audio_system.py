"""The door to PortAudio: the only module that uses sounddevice, and only when something is recorded.

Task: `library()` gives sounddevice, or says with one command how to get what is missing; around it stands
what every stream needs: `listed` devices, errors in words (`refused`), a quiet terminal (`hushed`), and an
end that does not hang (`end_stream`).
"""

from __future__ import annotations

import atexit
import contextlib
import os
import shutil
import sys
import threading
from collections.abc import Callable, Iterator
from typing import Any

from capture.closing import ClosedAtEnd
from capture.inputs import NoSuchInputError
from dsp.errors import CoilwiseError

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


def listed(kind: str) -> list[tuple[int, str, int, int, str, bool]]:
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
    with hushed():
        try:
            import sounddevice as sd
        except ImportError:
            raise SoundMissingError(
                f"the Python package sounddevice is missing; install it: {_WITH_SOUND}; {_WITHOUT}"
            ) from None
        except OSError:
            raise SoundMissingError(
                f"PortAudio is missing, so nothing can be recorded; install it: {_remedy()}; {_WITHOUT}"
            ) from None
        except Exception as error:  # sounddevice raises PortAudioError, which without it cannot be named here
            raise SoundMissingError(
                f"the audio system does not start ({error}); start it or restart; {_WITHOUT}"
            ) from None
    return sd


def _remedy() -> str:
    """The one command that installs PortAudio on this system."""
    if sys.platform == "darwin":
        return "brew install portaudio"
    if sys.platform.startswith("linux"):
        return next(
            (said for name, said in _INSTALLERS.items() if shutil.which(name)), _INSTALLERS["apt-get"]
        )
    return _WITH_SOUND


class OpenStream(ClosedAtEnd):
    """A stream of the audio system that has begun, until it is closed or its `with` block ends."""

    def __init__(self, begin: Callable[..., Any], what: str, sd: Any, **said: Any) -> None:
        self._closed = False
        with hushed(), refused(what, sd):
            self._stream = begin(**said)
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
def refused(what: str, sd: Any) -> Iterator[None]:
    """Turn what the audio system says on opening a stream into words."""
    try:
        yield
    except (sd.PortAudioError, ValueError) as error:
        code = error.args[1] if len(error.args) > 1 else None
        said = _REASONS.get(code) if isinstance(code, int) else None
        raise NoSuchInputError(f"{what}: {said or error.args[0]}") from None


@contextlib.contextmanager
def hushed() -> Iterator[None]:
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
