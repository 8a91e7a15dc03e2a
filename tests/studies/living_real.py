"""Whole sessions in real time on a virtual input, with strings that ring: the table of living_sessions.py.

    python tests/studies/living_real.py [--kinds "loose neck" "two pickups" "three pickups"] [--first 100]

The bench and the player are those of tests/reports/session/living_bench.py. What sounds goes through a sound
server into PortAudio as it is made; the session records it, hears it and decides in its own time. What is
played is rendered beside that, so that nothing waits for it. A take is of nothing where no gesture was played
within `NEAR_S` of its onset, the delay of the input taken out as the middle one of all takes.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import closing
from pathlib import Path

import environment
import numpy as np
from guided_parts import SLOW_RATE
from living_bench import LEAD_S, LivingPlayer, LivingStream
from living_sessions import KINDS, answered, table
from simulator.scenes import random_bench
from virtual_input import NAME, VirtualInput, alsa_config, reason_to_skip

from capture.audio.streams import choose_input, open_input
from capture.takes.folder import JobFolder
from reports.session.options import RecordingOptions
from reports.session.session import Session

AHEAD_S = 0.5
"""So much is with the sound server before it is heard."""
NEAR_S = 0.6


class RealStream(LivingStream):
    """The living bench, let into the virtual input block by block, as time goes."""

    def __post_init__(self) -> None:
        super().__post_init__()
        self.lock, self.ended = threading.RLock(), threading.Event()

    def feed(self, virtual: VirtualInput) -> None:
        words = ["pacat", f"--server={virtual.socket}", "--raw", "--format=float32le", "--no-remix"]
        words += [f"--rate={self.rate}", "--channels=2", "--channel-map=front-left,front-right"]
        words += [f"--device={NAME}", f"--latency-msec={round(1000 * AHEAD_S)}"]
        with subprocess.Popen(words, stdin=subprocess.PIPE, stderr=subprocess.DEVNULL) as playing:
            began = time.monotonic()
            while not self.ended.is_set():
                with self.lock:
                    block = self.read()
                playing.stdin.write(block.samples.astype("<f4").tobytes())
                playing.stdin.flush()
                time.sleep(max(0.0, began + self.start / self.rate - AHEAD_S - time.monotonic()))
            playing.kill()


class RealPlayer(LivingPlayer):
    """Renders what it plays beside the session, and plays it when that is done."""

    rendering: object = None

    def show_step(self, step, **said) -> None:
        with self.stream.lock:
            self.rendering = None
            super().show_step(step, **said)

    def show_question(self, question, **said) -> None:
        with self.stream.lock:
            super().show_question(question, **said)

    def show_notice(self, notice) -> None:
        with self.stream.lock:
            if self.rendering is None and (self.played or self._next is not None):
                super().show_notice(notice)

    def show_take(self, capture, result) -> None:
        with self.stream.lock:
            super().show_take(capture, result)
            if capture.take is not None:
                good = result.has_measurements and not result.faults
                self.heard.append((capture.take.entry.id, capture.span[0] + (capture.onset or 0), good))

    def _play(self, at: int) -> None:
        words, self._next = self._next, None
        self.rendering = token = object()

        def rendered() -> None:
            sound, (way, switched) = self._rendered(words)
            with self.stream.lock:
                if self.rendering is not token:
                    return
                self.rendering, self._next = None, words
                self.guitarist.plays = lambda _: sound
                self.guitarist.way, self.guitarist.switched_s = way, switched
                soonest = self.stream.start + round(1.5 * LEAD_S * self.stream.rate)
                LivingPlayer._play(self, max(at, soonest))
                del self.guitarist.plays

        threading.Thread(target=rendered, daemon=True).start()

    def _rendered(self, words):
        with self.one_at_a_time:
            sound = type(self.guitarist).plays(self.guitarist, words)
            return sound, (self.guitarist.way, self.guitarist.switched_s)

    def __init__(self, *said) -> None:
        super().__init__(*said)
        self.one_at_a_time = threading.Lock()
        self.heard: list[tuple[str, int, bool]] = []


def main() -> None:
    """Play the sessions, one of each kind, and print the table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument(
        "--kinds", nargs="+", choices=KINDS, default=["loose neck", "two pickups", "three pickups"]
    )
    ask.add_argument("--first", type=int, default=100)
    said = ask.parse_args()
    if reason := reason_to_skip():
        sys.exit(reason)
    home = Path(tempfile.mkdtemp(prefix="cw", dir="/tmp"))
    os.environ["ALSA_CONFIG_PATH"] = str(alsa_config(home))
    virtual = VirtualInput(home / "v", (NAME,), home / "asound.conf")
    virtual.start()
    rows = []
    try:
        for k, kind in enumerate(said.kinds):
            rows.append(one_session(virtual, kind, said.first + k))
            print(rows[-1], flush=True)
    finally:
        virtual.kill()
    print(table(rows))


def one_session(virtual: VirtualInput, kind: str, seed: int) -> dict:
    """Play one session in real time and say what came of it."""
    maker, pickups, bass = KINDS[kind]
    bench = random_bench(np.random.default_rng(500 + seed), pickups=pickups, bass=bass)
    rng = np.random.default_rng(1000 + seed)
    with tempfile.TemporaryDirectory() as place:
        folder = maker(Path(place), bench)
        stream = RealStream(bench, rng, SLOW_RATE)
        player = RealPlayer(stream, folder.job, rng)
        for name in folder.job.setting_names:
            for channel in range(2):
                stream._hum(channel, player.guitarist._on(name))
        feeder = threading.Thread(target=stream.feed, args=(virtual,))
        feeder.start()
        session = Session(folder.path, RecordingOptions(inputs=2, rig="box"))
        try:
            with closing(open_input(choose_input(NAME), channels=2, rate=SLOW_RATE)) as heard:
                began = time.monotonic()
                ended = session.run(heard, player)
                took = time.monotonic() - began
        finally:
            stream.ended.set()
            feeder.join()
        written = len(JobFolder.open(folder.path).takes())
    phantoms, missed = compared(player)
    return {
        "kind": kind,
        "seed": seed,
        **answered(ended, folder, bench),
        "takes": written,
        "phantoms": phantoms,
        "played": len(player.played),
        "missed": missed,
        "refused": ended.refused,
        "seconds": round(took),
        "why": player.refusals,
    }


def compared(player: RealPlayer) -> tuple[int, int]:
    """How many takes hold nothing that was played, and how much was played that is in no take."""
    played = np.array([one.at for one in player.played])
    onsets = np.array([onset for _, onset, _ in player.heard])
    if not len(played) or not len(onsets):
        return len(onsets), len(played)
    apart = onsets[:, np.newaxis] - played
    delay = min(apart.ravel(), key=lambda d: np.abs(apart - d).min(axis=1).sum())
    near = np.abs(apart - delay) < NEAR_S * player.stream.rate
    return int(np.sum(~near.any(axis=1))), int(np.sum(~near.any(axis=0)))


if __name__ == "__main__":
    main()
