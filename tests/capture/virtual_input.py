"""A virtual input for the real PortAudio: the monitor of a PulseAudio null sink, real time, sample-exact.

`virtual_input` (a fixture; import it into the test module) lends the sink of this process to one test: what
is played into it with `play` comes in at the device named `NAME`. Its daemon has a folder and a socket of
its own and meets no other daemon; the ALSA configuration is its own too, on top of the system's.
`mortal_input` is one more whose daemon a test may kill. Skipped, with the reason, where a package is missing.
"""

from __future__ import annotations

import atexit
import ctypes.util
import os
import shutil
import signal
import subprocess
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

NAME = "vin48000_2"
MORTAL_NAME = "mortal48000_2"
WIDE_NAME = "wide96000_8"
OUTPUT_NAME = "vout48000_2"
"""An output into NAME."""
RATE = 48_000
_MAPS = {
    1: "mono",
    2: "front-left,front-right",
    8: "front-left,front-right,rear-left,rear-right,front-center,lfe,side-left,side-right",
}
_SINKS = {NAME: (RATE, 2), WIDE_NAME: (96_000, 8), MORTAL_NAME: (RATE, 2)}
_SYSTEM_ALSA = Path("/usr/share/alsa/alsa.conf")
_STARTS_WITHIN_S = 10.0
_LEFT_ALONE_S = 120
"""A daemon whose test run was killed ends by itself; one that is wanted again is started again."""
_hung: list[threading.Thread] = []
"""A thread that PortAudio keeps for ever."""
_DEBIAN = "apt-get install libportaudio2 libasound2-plugins pulseaudio pulseaudio-utils"


@dataclass
class VirtualInput:
    """A running daemon with its sinks; `home` is short, since a socket's path has 107 bytes at most."""

    home: Path
    names: tuple[str, ...]
    alsa: Path
    daemon: subprocess.Popen[bytes] | None = None
    players: list[subprocess.Popen[bytes]] = field(default_factory=list)

    @property
    def socket(self) -> str:
        return f"unix:{self.home}/native"

    @property
    def environment(self) -> dict[str, str]:
        """For a subprocess that is to record from it."""
        return {**os.environ, "ALSA_CONFIG_PATH": str(self.alsa)}

    def start(self) -> None:
        modules = [f"module-native-protocol-unix socket={self.home}/native auth-anonymous=1"]
        for name in self.names:
            rate, channels = _SINKS[name]
            modules.append(
                f"module-null-sink sink_name={name} format=float32le rate={rate} channels={channels}"
                f" channel_map={_MAPS[channels]} norewinds=1"
            )
        plain = "--daemonize=no --use-pid-file=no --disable-shm=yes --realtime=no --high-priority=no"
        words = ["pulseaudio", "-n", f"--exit-idle-time={_LEFT_ALONE_S}", *plain.split()]
        where = {key: str(self.home) for key in ("HOME", "PULSE_RUNTIME_PATH", "PULSE_STATE_PATH")}
        with (self.home / "pulse.log").open("wb") as log:
            self.daemon = subprocess.Popen(
                [*words, *(part for module in modules for part in ("-L", module))],
                env={"PATH": os.environ["PATH"], **where},
                stdout=log,
                stderr=log,
            )
        end = time.monotonic() + _STARTS_WITHIN_S
        asking = ["pactl", "-s", self.socket, "info"]
        while subprocess.run(asking, check=False, capture_output=True).returncode:
            if time.monotonic() > end or self.daemon.poll() is not None:
                said = (self.home / "pulse.log").read_text(errors="replace").strip()
                reason = f"pulseaudio does not start here: {said[-200:]}"
                pytest.skip(reason)  # it wants a runtime folder and sockets; not every sandbox grants them
            time.sleep(0.05)

    def play(self, samples: np.ndarray, *, name: str = "", rate: int = RATE) -> subprocess.Popen[bytes]:
        """Play (frames, channels), each channel into its own; whole numbers are stored as they are."""
        path = self.home / f"play{len(self.players)}.wav"
        sf.write(path, samples, rate, subtype="PCM_24")
        return self.play_file(path, channels=samples.shape[1], name=name)

    def play_file(self, path: Path, *, channels: int, name: str = "") -> subprocess.Popen[bytes]:
        player = subprocess.Popen(
            [
                *("paplay", f"--server={self.socket}", "--no-remix"),
                *(f"--channel-map={_MAPS[channels]}", f"--device={name or self.names[0]}"),
                str(path),
            ],
            stderr=subprocess.DEVNULL,
        )
        self.players.append(player)
        return player

    def hold(self) -> None:
        """Freeze the daemon, so that nothing comes in though nothing has ended."""
        assert self.daemon is not None
        self.daemon.send_signal(signal.SIGSTOP)

    def let_go(self) -> None:
        assert self.daemon is not None
        self.daemon.send_signal(signal.SIGCONT)

    def kill(self) -> None:
        """End the daemon as a pulled cable would: without a word."""
        if self.daemon is not None:
            self.daemon.kill()
            self.daemon.wait()
        for player in self.players:
            player.kill()
            player.wait()
        self.players.clear()


def look_again() -> None:
    """Have PortAudio look for devices anew; ends open streams."""
    from capture.audio.devices import library

    sd = library()
    sd._terminate()
    sd._initialize()


def see(name: str) -> None:
    """Have PortAudio list the input of that name, and look for devices anew only if it does not yet.

    Looking anew ends PortAudio first, and after a daemon was killed that now and then never comes back. So
    both kinds of input are listed before the first one dies, and never looked for again.
    """
    from capture.audio.devices import library
    from capture.audio.streams import list_inputs

    if not _hung and name not in {device.name for device in list_inputs()}:
        looking = threading.Thread(target=look_again, daemon=True)
        looking.start()
        looking.join(_STARTS_WITHIN_S)
        if looking.is_alive():
            _hung.append(looking)
            atexit.unregister(library()._exit_handler)
    if _hung:
        pytest.skip("PortAudio does not come back in this process")  # its fault; a run must not hang on it


def reason_to_skip() -> str:
    """Return what is missing here, or nothing."""
    missing = [word for word in ("pulseaudio", "paplay", "pactl") if shutil.which(word) is None]
    if ctypes.util.find_library("portaudio") is None:
        missing.append("PortAudio")
    if not any(Path("/usr/lib").glob("**/alsa-lib/libasound_module_pcm_pulse.so")):
        missing.append("the ALSA plugin for PulseAudio")
    if not _SYSTEM_ALSA.is_file():
        missing.append("the ALSA configuration")
    return f"no virtual input here: {', '.join(missing)} missing ({_DEBIAN})" if missing else ""


def alsa_config(home: Path) -> Path:
    """Write the configuration with all virtual inputs; daemons run in home/v, the mortal one in home/m."""
    told = [f"<{_SYSTEM_ALSA}>"]
    for name in _SINKS:
        place = home / ("m" if name == MORTAL_NAME else "v")
        place.mkdir(exist_ok=True)
        told.append(_one_way("capture", name, place, f"{name}.monitor"))
    told.append(_one_way("playback", OUTPUT_NAME, home / "v", NAME))
    (home / "asound.conf").write_text("\n".join(told) + "\n")
    return home / "asound.conf"


def _one_way(way: str, name: str, place: Path, device: str) -> str:
    """One direction only: PortAudio tries both, and the plugin can hang where the daemon refuses one."""
    pulse = f'type pulse server "unix:{place}/native" device "{device}"'
    return f"pcm.{name} {{ type asym {way}.pcm {{ {pulse} }} }}"


@pytest.fixture(scope="session")
def _virtual_home() -> Iterator[Path]:
    if reason := reason_to_skip():
        pytest.skip(reason)  # recording in real time needs a sound server, which belongs to the machine
    home = Path(tempfile.mkdtemp(prefix="cw", dir="/tmp"))
    alsa_config(home)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("ALSA_CONFIG_PATH", str(home / "asound.conf"))
        yield home
    shutil.rmtree(home, ignore_errors=True)


@pytest.fixture(scope="session")
def _running_input(_virtual_home: Path) -> Iterator[VirtualInput]:
    virtual = VirtualInput(_virtual_home / "v", (NAME, WIDE_NAME), _virtual_home / "asound.conf")
    try:
        virtual.start()
        yield virtual
    finally:
        virtual.kill()


@pytest.fixture
def virtual_input(_running_input: VirtualInput) -> Iterator[VirtualInput]:
    if _running_input.daemon is None or _running_input.daemon.poll() is not None:
        _running_input.start()
    see(NAME)
    yield _running_input
    for player in _running_input.players:
        player.kill()
        player.wait()
    _running_input.players.clear()


@pytest.fixture
def mortal_input(_running_input: VirtualInput, _virtual_home: Path) -> Iterator[VirtualInput]:
    from capture.audio.devices import library

    virtual = VirtualInput(_virtual_home / "m", (MORTAL_NAME,), _virtual_home / "asound.conf")
    try:
        virtual.start()
        see(MORTAL_NAME)
        atexit.unregister(library()._exit_handler)  # PortAudio may wait for ever at the end of the process
        yield virtual
    finally:
        virtual.kill()
        (virtual.home / "native").unlink(missing_ok=True)
