"""An hour at 96 kHz stereo brought in: memory, speed and onsets, beside plain librosa in the same run.

    python tests/studies/bring_hour.py [--minutes 60] [--librosa-minutes 10] [--every 12] [--seed 1]

Makes a recording of simulated plucks on two inputs over noise, block by block, in a temporary folder (2 GB
for an hour, deleted afterwards); runs ``coilwise bring`` on it, dry with a picture and then for good, each as
a process of its own; and runs librosa.load and librosa.onset.onset_detect with their defaults on its first
minutes, as a process of its own. Speed is a multiple of real time, memory the peak resident set of the
process (VmHWM of Linux), start-up and imports included in both. Onsets are held against the times at which
the strings were let go, within 50 ms.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import environment
import mir_eval
import numpy as np
import soundfile
from new_jobs import create_job
from simulator.scenes import random_bench

from capture.job import Pickup
from capture.takes.folder import JobFolder

RATE = 96_000
STRINGS = ("E2", "A2", "D3", "G3", "B3", "E4")
LEAD_IN_S = 0.4
NOISE = 1e-4
WINDOW_S = 0.05
PEAK = """
import atexit, os
def peak():
    status = open("/proc/self/status").read()
    open(os.environ["PEAK_FILE"], "w").write(status.split("VmHWM:")[1].split()[0])
atexit.register(peak)
"""
LIBROSA = """
import sys, librosa
y, rate = librosa.load(sys.argv[1], duration=float(sys.argv[2]))
print(*librosa.onset.onset_detect(y=y, sr=rate, units="time"))
"""
BRING = "from reports.cli import main; main()"


@dataclass(frozen=True)
class Ran:
    """What a process said, how long it took and how much memory it had at most."""

    said: str
    seconds: float
    peak_mb: float


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--minutes", type=float, default=60.0)
    asked.add_argument("--librosa-minutes", type=float, default=10.0)
    asked.add_argument("--every", type=float, default=12.0, help="seconds from pluck to pluck")
    asked.add_argument("--seed", type=int, default=1)
    said = asked.parse_args()
    with tempfile.TemporaryDirectory(prefix="bring-hour-") as place:
        home = Path(place)
        began = time.perf_counter()
        long = home / "long.wav"
        times = make(long, minutes=said.minutes, every_s=said.every, seed=said.seed)
        print(f"made: {said.minutes:g} min, {long.stat().st_size / 1e9:.2f} GB, {len(times)} plucks,"
              f" {time.perf_counter() - began:.0f} s")  # fmt: skip
        job = home / "job"
        create_job(job, title="hour", pickups=[Pickup(name="bridge"), Pickup(name="neck")])
        order = f"bridge|neck {len(times)}"
        words = ["bring", str(job), str(long), "--order", order, "--gesture", "pluck"]
        dry = run(BRING, *words, "--dry-run", "--picture", str(home / "cuts.svg"))
        found = np.array(
            [float(t) for t in re.findall(r"^ +\d+ +long\.wav +([\d.]+).*bridge", dry.said, re.M)]
        )
        show("bring, dry run with picture", dry, said.minutes, times, found)
        whole = run(BRING, *words)
        show(f"bring, {len(list((job / 'takes').glob('*.wav')))} takes written", whole, said.minutes)
        part = min(said.librosa_minutes, said.minutes)
        plain = run(LIBROSA, str(long), str(60 * part))
        found = np.array([float(t) for t in plain.said.split()])
        show(f"librosa, first {part:g} min", plain, part, times[times < 60 * part], found)


def make(path: Path, *, minutes: float, every_s: float, seed: int) -> np.ndarray:
    """Write the recording and return when each string was let go."""
    rng = np.random.default_rng(seed)
    bench = random_bench(rng, pickups=2)
    plucks = [
        bench.paired(rng, "bridge", "neck", s, rate=RATE, lead_in_s=LEAD_IN_S, ringing_s=4.0) for s in STRINGS
    ]
    fade = np.minimum(1.0, np.arange(len(plucks[0]), 0, -1) / (0.5 * RATE))[:, np.newaxis]
    times = []
    with soundfile.SoundFile(path, "w", RATE, 2, "PCM_24") as file:
        for k in range(round(60 * minutes / every_s)):
            block = NOISE * rng.standard_normal((round(every_s * RATE), 2))
            start = int(rng.uniform(0.2, every_s - 6.0) * RATE)
            block[start : start + len(fade)] += fade * plucks[k % len(plucks)]
            times.append(k * every_s + start / RATE + LEAD_IN_S)
            file.write(block)
    return np.array(times)


def run(code: str, *words: str) -> Ran:
    """Run Python code as a process to its end; what the parent holds is not counted."""
    with tempfile.NamedTemporaryFile("r") as peak:
        surroundings = {**os.environ, "COLUMNS": "120", "PEAK_FILE": peak.name}
        began = time.perf_counter()
        ran = subprocess.run(
            [sys.executable, "-c", PEAK + code, *words],
            env=surroundings,
            capture_output=True,
            text=True,
            check=False,
        )
        seconds = time.perf_counter() - began
        if ran.returncode:
            raise SystemExit(f"status {ran.returncode}: {ran.stderr[-500:]}")
        return Ran(ran.stdout, seconds, int(peak.read()) / 1024)


def show(
    what: str, ran: Ran, minutes: float, times: np.ndarray | None = None, found: np.ndarray | None = None
) -> None:
    heard = ""
    if times is not None and found is not None:
        f, precision, recall = mir_eval.onset.f_measure(times, found, window=WINDOW_S)
        heard = f"; {len(found)} onsets for {len(times)}, F {f:.3f}, P {precision:.3f}, R {recall:.3f}"
    print(f"{what}: {ran.seconds:.1f} s, {60 * minutes / ran.seconds:.0f} times real time,"
          f" {ran.peak_mb:.0f} MB at most{heard}")  # fmt: skip


if __name__ == "__main__":
    main()
