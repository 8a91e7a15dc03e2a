"""Programs killed at random moments, hundreds of times: no finished take is lost, every folder still opens.

A worker writes into a job without a pause (takes, recordings cut at their onsets, readings, changes, voids,
takes recorded from a stand-in for an input, reports) and says on a pipe what it has finished, with the hash
of what was recorded. It is killed with SIGKILL after a random time; then the job is opened, and all that was
said to be finished must be in it, as it was, and what is unfinished must be taken in or set aside. The same
folder goes through many kills.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import shutil
import signal
import time
from contextlib import closing
from pathlib import Path

import numpy as np
from studies.faults.harness import Counts, bench, command, faults_of, forked, pluck, small_job, start

PLUCKED = ("bridge", "neck")


def write_on(home: Path, sounds: list[Path], said: int, seed: int, *, whole: bool) -> int:
    """Write into the job until somebody puts an end to it; what is finished is said to `said`."""
    from capture.log import Change, Meter, Void, append_entry, new_entry
    from capture.log.entries import TakeFields
    from capture.takes.folder import JobFolder
    from capture.takes.recorder import TakeWriter
    from reports.cli import app
    from reports.cli.shared import run_plainly

    rng = np.random.default_rng(seed)
    fields = TakeFields("pluck", PLUCKED, string="D2")

    def finished(kind: str, **keys: object) -> None:
        os.write(said, json.dumps({"kind": kind, **keys}).encode() + b"\n")

    def take() -> None:
        sound = sounds[rng.integers(len(sounds))]
        added = JobFolder.open(home).add_take(sound, fields)
        finished("take", id=added.entry.id, sha256=hashlib.sha256(sound.read_bytes()).hexdigest())

    def record() -> None:
        samples = rng.normal(0, 0.1, (20 * 480, 2)).astype(np.float32)
        with closing(TakeWriter(home, rate=48_000, channels=2, planned=fields)) as writer:
            for k in range(0, len(samples), 480):
                writer.write(samples[k : k + 480])
            done = writer.finish(fields)
        finished("recorded", id=done.entry.id, sha256=done.entry.sha256)

    def meter() -> None:
        entry = new_entry(Meter, pickup="bridge", move="away", red="hot", reading="rises")
        finished("meter", id=append_entry(home, entry).id)

    def change() -> None:
        entry = new_entry(Change, pickup="neck", stage="after", leads={"grey": "hot", "violet": "ground"})
        finished("change", id=append_entry(home, entry).id)

    def void() -> None:
        finished("void", id=append_entry(home, new_entry(Void, entry="t002", why="buzz")).id)

    def run(*words: object) -> None:
        run_plainly(app, [str(word) for word in words])
        finished(str(words[0]))

    def bring() -> None:
        run("bring", home, sounds[0], "--order", "bridge|neck 1", "--string", "D2", "--gesture", "pluck")

    def report() -> None:
        run("report", home)

    works = [take, take, record, record, record, meter, change, void]
    while True:
        works[rng.integers(len(works))]()
        if whole and rng.random() < 0.2:
            (bring, report)[int(rng.integers(2))]()


def looked_at(home: Path, said: list[dict]) -> list[str]:
    """What is wrong with a job after a kill."""
    from capture.takes.folder import JobFolder
    from capture.takes.recorder import recover_take, set_aside, unfinished_takes
    from dsp import CoilwiseError

    wrong = []
    try:
        entries = {one.entry.id: one.entry for one in JobFolder.open(home).log.entries}
        for one in said:
            if "id" in one and one["id"] not in entries:
                wrong.append(f"{one['kind']} {one['id']} is not in the log")
            if "sha256" in one and one["id"] in entries:
                path = home / entries[one["id"]].file
                if not path.is_file() or hashlib.sha256(path.read_bytes()).hexdigest() != one["sha256"]:
                    wrong.append(f"{one['kind']} {one['id']} is lost")
        left = unfinished_takes(home)
        for k, one in enumerate(left):
            if k % 2:
                set_aside(one)
            else:
                recover_take(one)
        if unfinished_takes(home):
            wrong.append("something stays unfinished")
        opened = JobFolder.open(home)
        bad = [
            t for t in opened.takes() if t.problem and t.problem.code not in ("duplicate audio", "truncated")
        ]
        wrong += [f"{t.entry.id}: {t.problem.code}" for t in bad]
        named = {one.entry.file for one in opened.log.entries if one.entry.kind == "take"}
        copies = {p.stat().st_ino for p in home.glob("takes/.copying-*")}  # the next take removes them
        strays = [p for p in home.glob("takes/t*") if f"takes/{p.name}" not in named]
        stray = [p.name for p in strays if p.stat().st_ino not in copies]
        if stray:
            wrong.append(f"stray {stray}")
    except (CoilwiseError, OSError) as error:
        wrong.append(str(error))
    return wrong


def main() -> None:
    said = argparse.ArgumentParser(description=__doc__)
    said.add_argument("--kills", type=int, default=400)
    said.add_argument("--each", type=int, default=40, help="kills of one folder")
    said.add_argument("--seed", type=int, default=1)
    asked = said.parse_args()
    rng = random.Random(asked.seed)
    with bench() as away:
        base = small_job(away / "base")
        sounds = [pluck(away / f"sound-{k}.wav", seconds=0.8, seed=k) for k in range(6)]
        counts, finished, unfinished = Counts("Kills"), 0, 0
        home = away / "job"
        for k in range(asked.kills):
            if k % asked.each == 0:
                shutil.rmtree(home, ignore_errors=True)
                shutil.copytree(base, home)
            reading, writing = os.pipe()
            with (away / "said").open("wb") as out:
                child = start(
                    lambda k=k, w=writing: write_on(
                        home, sounds, w, asked.seed * 10_000 + k, whole=k % 4 == 0
                    ),
                    out=out.fileno(),
                    err=out.fileno(),
                )
            os.close(writing)
            time.sleep(rng.uniform(0.02, 2.0 if k % 4 == 0 else 0.5))
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            with os.fdopen(reading) as pipe:
                told = [json.loads(line) for line in pipe if line.endswith("\n")]
            finished += len(told)
            unfinished += len(list(home.glob("takes/.*.part.wav")))
            seen = forked(lambda told=told: print("\n".join(looked_at(home, told))) or 0)
            wrong = [line for line in seen.out.splitlines() if line] + faults_of(seen)
            if "Traceback" in (away / "said").read_text(errors="replace"):
                wrong.append("the worker fell: " + (away / "said").read_text(errors="replace")[-500:])
            counts.add(
                "whole commands too" if k % 4 == 0 else "writing", "killed", case=f"kill {k}", wrong=wrong
            )
            if k % 20 == 19:
                outcome = command("verdict", home, "--json", within_s=120)
                counts.add("verdict after kills", outcome.kind, case=f"kill {k}", wrong=faults_of(outcome))
        counts.show()
        print(f"\n{finished} entries and takes finished; {unfinished} unfinished, taken in or set aside")


if __name__ == "__main__":
    main()
