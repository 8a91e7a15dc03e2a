"""Whole guided jobs on simulated benches: how many takes until settled, and how many of those are wrong.

    python tests/studies/guided_jobs.py [--jobs 30] [--first 100] [--times] [--guided] [--kind "loose neck"]

`loose neck`: two inputs, one pickup on clips. `closed guitar`: three pickups, five settings, one jack. Each
job is played by the simulator through reports.session.session without a clock, as fast as it is heard; beside
it the same number of takes in a fixed order: switch takes on E2 and A2 through all settings in turn, or a
split check and plucks on D3 and G3 in turn. `--times` also prints the time from the end of a take to the
word, and to what is believed then, beside the time to read the take's file and do one FFT of it.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

import environment
import numpy as np
from guided_parts import bench_of, closed_guitar, closed_pair, guided, loose_neck, player
from guitarist import Blocks, Reader

from capture.audio.files import read_audio
from capture.takes.folder import JobFolder
from capture.takes.hands_free import Progress
from reports.model.session import SessionNote, Step, acceptance
from reports.model.verdict import Verdict
from reports.session.choosing import rounds
from reports.verdict.building import sharing_pairs

MAKERS = {"loose neck": loose_neck, "two pickups": closed_pair, "closed guitar": closed_guitar}
TOLD_EVERY = 10


class Timed(Reader):
    """Notes when a take ended, when the word came, and when the belief did."""

    def __init__(self, stream, guitarist) -> None:
        super().__init__(stream, guitarist)
        self.ended, self.words, self.beliefs = 0.0, [], []

    def show_notice(self, notice: Progress) -> None:
        if notice.what == "ended":
            self.ended = time.perf_counter()
        super().show_notice(notice)

    def show_note(self, note: SessionNote) -> None:
        if acceptance(note) is not None:
            self.words.append(time.perf_counter() - self.ended)
        super().show_note(note)

    def show_verdict(self, verdict: Verdict) -> None:
        if self.words and self.ended:
            self.beliefs.append(time.perf_counter() - self.ended)
        super().show_verdict(verdict)


def main() -> None:
    """Run the jobs and print a line for each kind."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--jobs", type=int, default=30)
    ask.add_argument("--first", type=int, default=100)
    ask.add_argument("--times", action="store_true")
    ask.add_argument("--guided", action="store_true", help="no fixed order beside it")
    ask.add_argument("--kind", choices=MAKERS)
    said = ask.parse_args()
    print("| job | way | settled | wrong of settled or likely | takes, median (most) | refused |")
    print("|---|---|---|---|---|---|")
    for name, maker in MAKERS.items():
        if said.kind not in (None, name):
            continue
        chosen = []
        for seed in range(said.first, said.first + said.jobs):
            chosen.append(one_job(maker, seed))
            if len(chosen) % TOLD_EVERY == 0 or len(chosen) == said.jobs:
                print(line(name, "guided", chosen), flush=True)
        if said.guided:
            continue
        again = [
            one_job(maker, said.first + k, fixed=max(1, job["accepted"] + job["refused"]))
            for k, job in enumerate(chosen)
        ]
        print(line(name, "fixed order", again), flush=True)
        if said.times:
            print(times(name, chosen), flush=True)


def one_job(maker, seed: int, *, fixed: int = 0) -> dict:
    """Play one job; `fixed` takes in a fixed order, or as the session chooses."""
    bench = bench_of(seed)
    with tempfile.TemporaryDirectory() as place:
        folder = maker(Path(place), bench)
        guitarist = player(bench, folder, seed=seed)
        face = Timed(Blocks(guitarist), guitarist)
        steps = fixed_order(folder, fixed)
        ended, _ = guided(folder, guitarist, face=face, fixed=steps)
        read = [reading_s(t.path) for t in JobFolder.open(folder.path).takes()[:3]]
    wanted = sharing_pairs(folder.job)
    pairs = [p for p in ended.verdict.pairs if frozenset((p.a, p.b)) in wanted]
    told = [p for p in pairs if p.standing != "unsettled"]
    return {
        "seconds": face.stream.start / face.stream.rate,
        "settled": all(p.standing == "settled" for p in pairs),
        "wrong": sum((p.phase == "in phase") != bench.in_phase(p.a, p.b) for p in told),
        "told": len(told),
        "accepted": ended.accepted,
        "refused": ended.refused,
        "words": face.words,
        "beliefs": face.beliefs,
        "read": read,
    }


def fixed_order(folder: JobFolder, count: int) -> tuple[Step, ...]:
    """The takes of a fixed list, as often as it takes to come to `count`."""
    offered = [r.first for r in rounds(folder.job, inputs=2)]
    played = [s for s in offered if s.kind in ("paired", "switch")]
    longest = max(len(s.pickups) for s in played)
    each = [s for s in played if len(s.pickups) == longest]
    split = [s for s in offered if s.kind == "split"][: min(1, count)]
    return (*split, *(each[k % len(each)] for k in range(count - len(split))))


def reading_s(path: Path) -> float:
    """How long it takes to read a file and to do one FFT of it."""
    began = time.perf_counter()
    np.fft.rfft(read_audio(path).samples, axis=0)
    return time.perf_counter() - began


def line(name: str, way: str, jobs: list[dict]) -> str:
    """One row."""
    settled = sum(j["settled"] for j in jobs)
    takes = [j["accepted"] + j["refused"] for j in jobs]
    wrong, told = sum(j["wrong"] for j in jobs), sum(j["told"] for j in jobs)
    return (
        f"| {name} | {way} | {settled} of {len(jobs)} | {wrong} of {told} | {np.median(takes):.0f}"
        f" ({max(takes)}) | {sum(j['refused'] for j in jobs)} of {sum(takes)} |"
    )


def times(name: str, jobs: list[dict]) -> str:
    """Seconds from the end of a take, and the ratio to reading the file."""
    words, beliefs, read = ([x for j in jobs for x in j[k]] for k in ("words", "beliefs", "read"))
    return (
        f"{name}: from the end of a take to the word {np.median(words):.3f} s (most {max(words):.3f}), to"
        f" what is believed {np.median(beliefs):.3f} s (most {max(beliefs):.3f}); reading a take and one FFT"
        f" {np.median(read):.4f} s, so {np.median(words) / np.median(read):.0f} and"
        f" {np.median(beliefs) / np.median(read):.0f} times that"
    )


if __name__ == "__main__":
    main()
