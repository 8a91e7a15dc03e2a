"""Samples lost in a long recording with a busy processor, through the real PortAudio on a virtual input.

    python tests/studies/recording_endurance.py [--minutes 10] [--busy 2] [--threads 0]

Plays a recording in which every frame carries its own number (22 bits on channel 1, the rest on channel 2)
into a PulseAudio null sink and records it with InputStream and TakeWriter while `--busy` processes, and
`--threads` threads of the recording process itself, count as fast as they can. Then every frame of the take
is looked at: a number left out is a lost sample, one that comes twice a repeated one, and silence in
between is the player's. Beside them stands what the recorder itself noticed.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import closing
from pathlib import Path

import environment
import numpy as np
import soundfile
from new_jobs import create_job
from virtual_input import NAME, RATE, VirtualInput, alsa_config, reason_to_skip

from capture.audio.streams import choose_input, open_input
from capture.job import Pickup
from capture.log import TakeFields
from capture.takes.folder import JobFolder
from capture.takes.recorder import TakeWriter

LOW_BITS = 22
CHUNK = 1 << 20
BEFORE_S = 0.5
AFTER_S = 2.0
BUSY = "while True: sum(range(1000))"


def write_numbered(path: Path, frames: int) -> None:
    with soundfile.SoundFile(path, "w", RATE, 2, "PCM_24") as file:
        for start in range(0, frames, CHUNK):
            n = np.arange(start, min(start + CHUNK, frames), dtype=np.int32)
            low, high = n & ((1 << LOW_BITS) - 1), (n >> LOW_BITS) + 1
            file.write(np.stack([low, high], axis=1).astype(np.int32) << 8)


def look(path: Path, frames: int) -> dict[str, int]:
    """Count what is missing, repeated and silent between the first frame and the last."""
    found = {"frames": 0, "lost": 0, "repeated": 0, "silent between": 0, "gaps": 0}
    expected = silent = 0
    for block in soundfile.blocks(path, CHUNK, dtype="int32", always_2d=True):
        low, high = block[:, 0] >> 8, block[:, 1] >> 8
        sound = high > 0
        numbers = low[sound] + (np.asarray(high[sound], dtype=np.int64) - 1 << LOW_BITS)
        if len(numbers):
            inner = np.flatnonzero(sound)
            found["silent between"] += (silent if expected else 0) + int(
                np.count_nonzero(~sound[inner[0] : inner[-1]])
            )
            found["silent between"] += int(inner[0]) if expected else 0
            silent = len(block) - 1 - int(inner[-1])
            steps = np.diff(numbers, prepend=expected - 1) - 1
            found["lost"] += int(steps[steps > 0].sum())
            found["repeated"] -= int(steps[steps < 0].sum())
            found["gaps"] += int(np.count_nonzero(steps))
            expected = int(numbers[-1]) + 1
        else:
            silent += len(block)
        found["frames"] += len(numbers)
    found["lost"] += frames - expected
    return found


def spin() -> None:
    while True:
        sum(range(1000))


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--minutes", type=float, default=10.0)
    asked.add_argument("--busy", type=int, default=os.cpu_count() or 2)
    asked.add_argument("--threads", type=int, default=0)
    said = asked.parse_args()
    if reason := reason_to_skip():
        raise SystemExit(reason)
    frames = round(said.minutes * 60 * RATE)
    with tempfile.TemporaryDirectory(prefix="cw", dir="/tmp") as place:
        home = Path(place)
        os.environ["ALSA_CONFIG_PATH"] = str(alsa_config(home))
        write_numbered(home / "numbered.wav", frames)
        job = create_job(home / "job", title="endurance", pickups=[Pickup(name="a"), Pickup(name="b")])
        virtual = VirtualInput(home / "v", (NAME,), home / "asound.conf")
        virtual.start()
        busy = [subprocess.Popen([sys.executable, "-c", BUSY]) for _ in range(said.busy)]
        for _ in range(said.threads):
            threading.Thread(target=spin, daemon=True).start()
        try:
            record(job.path, virtual, home, frames)
        finally:
            for process in busy:
                process.kill()
                process.wait()
            virtual.kill()


def record(job: Path, virtual: VirtualInput, home: Path, frames: int) -> None:
    longest_wait = most_waiting = 0.0
    cpu, began = time.process_time(), time.monotonic()
    with (
        closing(open_input(choose_input(NAME), rate=RATE)) as stream,
        closing(TakeWriter(job, rate=RATE, channels=2)) as writer,
    ):
        player, end, last = None, None, time.monotonic()
        while end is None or time.monotonic() < end:
            block = stream.read()
            now = time.monotonic()
            if block is not None:
                longest_wait, last = max(longest_wait, now - last), now
                most_waiting = max(most_waiting, stream.waiting / RATE)
                writer.write(block.samples, dropped=block.dropped)
            if player is None and now - began > BEFORE_S:
                player = virtual.play_file(home / "numbered.wav", channels=2)
            if player is not None and end is None and player.poll() is not None:
                end = now + AFTER_S
        noticed = stream.lost
        seconds, cpu = time.monotonic() - began, time.process_time() - cpu
        finishing = time.monotonic()
        take = writer.finish(TakeFields("hum", ("a", "b")))
        finishing = time.monotonic() - finishing
    found = look(take.path, frames)
    print(f"{seconds:.1f} s recorded; load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    print(f"played {frames} frames: {found}")
    print(f"noticed: {len(noticed)} losses, {sum(loss.frames for loss in noticed)} frames; {noticed[:5]}")
    print(f"longest wait between blocks {longest_wait:.3f} s, most waiting in the queue {most_waiting:.3f} s")
    print(
        f"processor of the recorder {100 * cpu / seconds:.1f} %, finishing the take {finishing:.2f} s,",
        end=" ",
    )
    print(f"memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
