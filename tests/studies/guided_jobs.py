"""Whole guided jobs on simulated benches: how many takes until settled, and how many of those are wrong.

    python tests/studies/guided_jobs.py [--jobs 30] [--first 100] [--kind "loose neck"] [--way guided]
                                        [--rows FILE] [--times]

`loose neck`: two inputs, one pickup on clips. `two pickups`, `closed guitar`: two pickups and three settings,
three and five, one jack. Each job is played by the simulator through reports.session.session without a clock,
as fast as it is heard: the seconds are those of the sound, without the hands' own. Three ways:

- `guided`: the session chooses.
- `trade`: the plan of a person who knows the trade. A loose neck: paired plucks on D3 and on G3 and a split
  check, and again. A closed guitar: the selector through all its settings while A2 rings, then E2, then D3,
  and again. Twelve takes at most, since a person who knows the trade takes the ohmmeter then.
- `fixed order`: a split check and paired plucks on D3 and G3 in turn; or one pluck on each setting in turn,
  string by string, D3, G3, A2 and again. Of so many takes that each setting has four plucks.

In the last two what the session would ask (tag, how it was held, staple) is entered as soon as it could be
asked, and they end once all is settled. `--rows`: each job is written there as it ends, and what stands there
is not played again. `--times`: the time from the end of a take to the word, and to what is believed then,
beside the time to read the take's file and do one FFT of it.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import chain, cycle, islice
from pathlib import Path

import environment
import numpy as np
from guided_parts import bench_of, closed_guitar, closed_pair, guided, loose_neck, player
from guitarist import Blocks, Reader

from capture.audio.files import read_audio
from capture.job import Job
from capture.log import append_entry
from capture.takes.folder import JobFolder
from capture.takes.hands_free import Progress
from reports.evidence.leads import lead_history
from reports.evidence.results import TakeResult
from reports.inference.posterior import gather_evidence
from reports.model.session import SessionNote, Step, TakeAccepted, acceptance
from reports.model.verdict import Verdict
from reports.session.questions import answer_entry, open_questions
from reports.session.rounds import rounds
from reports.verdict.building import sharing_pairs

MAKERS = {"loose neck": loose_neck, "two pickups": closed_pair, "closed guitar": closed_guitar}
WAYS = ("guided", "trade", "fixed order")
STANDINGS = ("settled", "likely")
MOST_OF_TRADE = 12
PLUCKS_A_SETTING = 4
TOLD_EVERY = 10


class Timed(Reader):
    """Notes when a take ended, when the word came, and when the belief did."""

    def __init__(self, stream, guitarist, wish=lambda: None) -> None:
        super().__init__(stream, guitarist, wish)
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


class Planned(Timed):
    """Plays its own plan: says unasked what the session would ask, and stops once all is settled."""

    def __init__(self, stream, guitarist, folder: JobFolder) -> None:
        super().__init__(stream, guitarist, lambda: "stop" if self.done else None)
        self.folder, self.done, self.heard = folder, False, []

    def show_take(self, capture, result) -> None:
        super().show_take(capture, result)
        self.heard.append(result)

    def show_note(self, note: SessionNote) -> None:
        super().show_note(note)
        if isinstance(note, TakeAccepted):
            say_all(JobFolder.open(self.folder.path), self.heard, note.take)

    def show_verdict(self, verdict: Verdict) -> None:
        super().show_verdict(verdict)
        wanted = sharing_pairs(self.folder.job)
        self.done = all(p.standing == "settled" for p in verdict.pairs if frozenset((p.a, p.b)) in wanted)


def say_all(folder: JobFolder, heard: Sequence[TakeResult], take: str) -> None:
    """Enter what can be said of a bench on which everything is as it should be."""
    entries = folder.log.standing
    evidence = gather_evidence(folder.job, lead_history(folder.job, entries), entries, heard)
    graph = evidence.posterior.graph
    for question in open_questions(evidence.history, graph, entries, stage="found", clipped=take):
        append_entry(folder.path, answer_entry(question, fault=False))


def plan_of(job: Job, way: str) -> Iterator[Step]:
    """The takes of a way that is not guided, without end."""
    offered = [r.first for r in rounds(job, inputs=2)]
    paired = [s for s in offered if s.kind == "paired" and s.gesture == "pluck" and not s.anew]
    split = [s for s in offered if s.kind == "split"][:1]
    if paired:
        return cycle([*paired, *split]) if way == "trade" else chain(split, cycle(paired))
    sweeps = [s for s in offered if s.kind == "switch"]
    longest = max(sweeps, key=lambda s: len(s.pickups))
    if way == "trade":
        return (_on(longest, string) for string in cycle(("A2", "E2", "D3")))
    plucks = next(s for s in offered if s.kind == "in turn" and s.gesture == "pluck")
    return (
        _on(plucks, string, setting=name)
        for string in cycle(("D3", "G3", "A2"))
        for name in longest.inputs[0]
    )


def _on(step: Step, string: str, *, setting: str | None = None) -> Step:
    inputs = step.inputs if setting is None else (setting,)
    return replace(step, string=string, inputs=inputs, part=1, parts=1)


def most_of(job: Job, way: str) -> int:
    """How many takes such a plan has at most."""
    if way == "trade":
        return MOST_OF_TRADE
    if any(not p.fitted for p in job.pickups):
        return 1 + 2 * PLUCKS_A_SETTING
    return PLUCKS_A_SETTING * (len(job.settings) + len(job.pickups))


def main() -> None:
    """Run the jobs and print a line for each kind and way."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--jobs", type=int, default=30)
    ask.add_argument("--first", type=int, default=100)
    ask.add_argument("--times", action="store_true")
    ask.add_argument("--way", choices=WAYS)
    ask.add_argument("--kind", choices=MAKERS)
    ask.add_argument("--rows", type=Path)
    said = ask.parse_args()
    kept = read_rows(said.rows)
    print("| job | way | settled | wrong of settled, of likely | takes, median (most) | refused | seconds |")
    print("|---|---|---|---|---|---|---|")
    for kind, maker in MAKERS.items():
        for way in WAYS:
            if said.kind not in (None, kind) or said.way not in (None, way):
                continue
            jobs = []
            for seed in range(said.first, said.first + said.jobs):
                if (kind, way, seed) not in kept:
                    job = {"kind": kind, "way": way, "seed": seed, **one_job(maker, seed, way=way)}
                    if said.rows is not None:
                        with said.rows.open("a") as rows:
                            print(json.dumps(job), file=rows)
                    kept[kind, way, seed] = job
                jobs.append(kept[kind, way, seed])
                if len(jobs) % TOLD_EVERY == 0:
                    print(line(kind, way, jobs), file=sys.stderr, flush=True)
            print(line(kind, way, jobs), flush=True)
            if said.times:
                print(times(kind, jobs), flush=True)


def read_rows(path: Path | None) -> dict[tuple[str, str, int], dict]:
    """The jobs that were played before, by kind, way and seed."""
    if path is None or not path.exists():
        return {}
    jobs = [json.loads(text) for text in path.read_text().splitlines()]
    return {(job["kind"], job["way"], job["seed"]): job for job in jobs}


def one_job(maker, seed: int, *, way: str) -> dict:
    """Play one job."""
    bench = bench_of(seed)
    with tempfile.TemporaryDirectory() as place:
        folder = maker(Path(place), bench)
        guitarist = player(bench, folder, seed=seed)
        if way == "guided":
            face, steps = Timed(Blocks(guitarist), guitarist), ()
        else:
            face = Planned(Blocks(guitarist), guitarist, folder)
            steps = tuple(islice(plan_of(folder.job, way), most_of(folder.job, way)))
        ended, _ = guided(folder, guitarist, face=face, fixed=steps)
        read = [reading_s(t.path) for t in JobFolder.open(folder.path).takes()[:3]]
    wanted = sharing_pairs(folder.job)
    pairs = [p for p in ended.verdict.pairs if frozenset((p.a, p.b)) in wanted]
    right = {p: (p.phase == "in phase") == bench.in_phase(p.a, p.b) for p in pairs}
    return {
        "seconds": face.stream.start / face.stream.rate,
        "ending": ended.ending,
        "settled": all(p.standing == "settled" for p in pairs),
        "told": [[p.standing, p.p_in_phase, right[p]] for p in pairs if p.standing != "unsettled"],
        "accepted": ended.accepted,
        "refused": ended.refused,
        "words": face.words,
        "beliefs": face.beliefs,
        "read": read,
    }


def reading_s(path: Path) -> float:
    """How long it takes to read a file and to do one FFT of it."""
    began = time.perf_counter()
    np.fft.rfft(read_audio(path).samples, axis=0)
    return time.perf_counter() - began


def line(name: str, way: str, jobs: list[dict]) -> str:
    """One row."""
    settled = sum(j["settled"] for j in jobs)
    takes = [j["accepted"] + j["refused"] for j in jobs]
    told = [pair for j in jobs for pair in j["told"]]
    by_standing = [[right for standing, _, right in told if standing == k] for k in STANDINGS]
    wrong = [f"{len(each) - sum(each)} of {len(each)}" for each in by_standing]
    return (
        f"| {name} | {way} | {settled} of {len(jobs)} | {', '.join(wrong)} | {np.median(takes):.1f}"
        f" ({max(takes)}) | {sum(j['refused'] for j in jobs)} of {sum(takes)} |"
        f" {np.median([j['seconds'] for j in jobs]):.0f} |"
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
