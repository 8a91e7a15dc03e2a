"""Job folders as they lie on the disk, written by hand: job.toml, bench.jsonl and takes from the simulator.

Nothing of capture or reports writes here, so the tests stand on the file formats (sources R11) alone.
"""

from __future__ import annotations

import functools
import hashlib
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile as sf
from simulator.conditions import Conditions
from simulator.scenes import random_bench

from capture.takes.folder import JobFolder
from reports.cli import app
from reports.cli.shared import run_plainly
from reports.verdict.building import judge

ROOT = Path(__file__).parents[3]
DEMO = ROOT / "recordings" / "demo"
RATE = 16_000
ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
STRINGS = ("D3", "G3")
PLAIN = """format = 1
title = "Test bench"
[[pickup]]
name = "bridge"
centre_mm = 44.0
[[pickup]]
name = "neck"
centre_mm = 160.0
"""
BRIDGE = """[[pickup]]
name = "bridge"
hot = "white"
ground = "green"
"""
LEADS = f"""format = 1
title = "Loose neck"
{BRIDGE}[[pickup]]
name = "neck"
fitted = false
hot = "violet"
ground = "grey"
shield = "own lead"
[[setting]]
name = "both"
on = ["bridge", "neck"]
"""


@dataclass(frozen=True, eq=False)
class Recordings:
    """What one simulated bench gave; ``in_phase`` is the truth the simulator was built with."""

    in_phase: bool
    toml: str
    split: np.ndarray
    paired: tuple[np.ndarray, ...]
    in_turn: dict[str, tuple[tuple[str, np.ndarray], ...]]


@functools.cache
def recorded(*, in_phase: bool) -> Recordings:
    """One split check, a paired pluck on each of two strings, and two takes in turn of each gesture."""
    rng = np.random.default_rng(20261125 + in_phase)
    conditions = Conditions(humbucker_rate=0.0, off_centre_mm=0.3, careless_rate=0.0, turned_rate=0.0)
    bench = random_bench(rng, conditions=conditions, pickups=2, mains_hz=50, inverted=(False, False))
    while bench.in_phase("bridge", "neck") != in_phase:
        bench = random_bench(rng, conditions=conditions, pickups=2, mains_hz=50, inverted=(False, False))
    places = {p.name: p.centre_mm for p in bench.pickups}
    toml = PLAIN.replace("44.0", f"{places['bridge']:.2f}").replace("160.0", f"{places['neck']:.2f}")
    toml = toml.replace("[[pickup]]", f"scale_mm = {bench.scale_mm:.2f}\n[[pickup]]", 1)
    twice = ("bridge", "neck", "bridge", "neck")
    return Recordings(
        in_phase,
        toml,
        bench.split_check(rng, "bridge", "D3", rate=RATE),
        tuple(bench.paired(rng, "bridge", "neck", s, rate=RATE) for s in STRINGS),
        {
            "lift": tuple((n, bench.lift(rng, n, rate=RATE)) for n in twice),
            "pluck": tuple((n, bench.pluck(rng, n, "D3", turned=False, rate=RATE)) for n in twice),
            "press": tuple(
                (n, bench.press(rng, n, "D3", turned=False, rate=RATE, lead_in_s=0.8)) for n in twice
            ),
        },
    )


class JobOnDisk:
    """A job folder written line by line."""

    def __init__(self, home: Path, toml: str = PLAIN) -> None:
        self.home = home
        (home / "takes").mkdir(parents=True)
        (home / "job.toml").write_text(toml, encoding="utf-8")
        (home / "bench.jsonl").write_text("", encoding="utf-8")
        self.entries = 0

    def log(self, kind: str, **said) -> str:
        """Append one line; returns its id."""
        self.entries += 1
        entry_id = said.pop("id", f"{kind[0]}{self.entries:03d}")
        with (self.home / "bench.jsonl").open("a", encoding="utf-8") as log:
            log.write(json.dumps({"kind": kind, "id": entry_id, **said}) + "\n")
        return entry_id

    def meter(self, pickup: str, reading: str = "rises", move: str = "away", red: str = "hot", **said) -> str:
        return self.log("meter", pickup=pickup, move=move, reading=reading, red=red, **said)

    def take(
        self, audio, inputs, *, gesture="pluck", rate=RATE, subtype="PCM_24", hashed=True, **said
    ) -> str:
        """Write the audio and its line."""
        name = f"t{self.entries + 1:03d}"
        path = self.home / "takes" / f"{name}.wav"
        sf.write(path, audio, rate, subtype=subtype)
        if hashed:
            said["sha256"] = hashlib.sha256(path.read_bytes()).hexdigest()
        return self.log("take", id=name, file=f"takes/{name}.wav", gesture=gesture, inputs=inputs, **said)

    def path(self, take_id: str) -> Path:
        return self.home / "takes" / f"{take_id}.wav"

    @property
    def verdict(self):
        return judge(JobFolder.open(self.home)).verdict

    @property
    def pair(self):
        """The one pair of a job with two pickups."""
        (pair,) = self.verdict.pairs
        return pair


def as_is(audio):
    return audio


def paired_job(home, sounds, *, split=as_is, change=as_is, rate=RATE, names=("bridge", "neck"), toml=None):
    """A job of a split check (none where ``split`` is None) and the paired plucks, each ``change``d."""
    job = JobOnDisk(home, sounds.toml if toml is None else toml)
    if split is not None:
        job.take(split(sounds.split), ["bridge", "bridge"], string="D3", rate=rate)
    for string, audio in zip(STRINGS, sounds.paired, strict=True):
        job.take(change(audio), list(names), string=string, rate=rate)
    return job


def turn_job(home, sounds, gesture, *, change=lambda name, audio: audio, rate=RATE, toml=None):
    """A job of takes in turn of one gesture, each ``change``d by its pickup's name."""
    job = JobOnDisk(home, sounds.toml if toml is None else toml)
    string = {} if gesture == "lift" else {"string": "D3"}
    for name, audio in sounds.in_turn[gesture]:
        job.take(change(name, audio), [name], gesture=gesture, rate=rate, **string)
    return job


def exchanged_order(toml: str) -> str:
    """The same job.toml with its two pickups the other way round."""
    head, first, second = toml.split("[[pickup]]")
    return f"{head}[[pickup]]{second}\n[[pickup]]{first}"


def sureness(pair) -> float:
    """max(p, 1 - p); one half where nothing is known."""
    return 0.5 if pair.p_in_phase is None else max(pair.p_in_phase, 1 - pair.p_in_phase)


def called(*args):
    """Exit status of the command line, run here."""
    return run_plainly(app, [str(a) for a in args])


def run(*args, code="from reports.cli import main; main()"):
    """A real process of the command line."""
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, args)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), **ONE_THREAD},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
