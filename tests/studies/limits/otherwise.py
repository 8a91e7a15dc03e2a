"""The tool against what one would do otherwise, on the same takes.

    python tests/studies/limits/otherwise.py [--jobs 100] [--seed 1] [--out FOLDER]

Simulated jobs of five takes (paired), or five a side (in turn, lifts), and real plucks where they are at
hand: each take through the three plain ways of limit_plain and through the tool's method. A tool that
refuses a take gives no answer; the plain ways nearly always answer. A job is the majority of its takes;
"weighed" counts a take, or a job (the sum of what its takes say), from nine to one on only. Writes
OTHERWISE.md. All cores.
"""

from __future__ import annotations

import argparse
import math
import os
import sys
from collections import defaultdict
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1]))

import environment
import numpy as np
from job_study import CONDITIONS, STRINGS, TAKES
from limit_plain import WAYS, apart_answers, paired_answers
from limit_real import Case, real_cases
from limit_tool import TOOL, WEIGHED, Said, Taken, in_turn, paired, pulses
from numpy.typing import NDArray
from scipy.stats import binomtest
from simulator.scenes import random_bench

from dsp.model.settings import Place

Array = NDArray[np.float64]

RATE = 16_000
SIMULATED = (
    ("paired pluck", "ordinary"),
    ("paired pluck", "sideways"),
    ("plucks in turn", "ordinary"),
    ("plucks in turn", "turned"),
    ("lifts", "ordinary"),
)
WORDS = {"ordinary": "ordinary", "sideways": "sideways motion", "turned": "one stroke in ten turned"}
LIKELY = math.log(9)
NICE = 10

Answers = dict[str, tuple[list[int], int | None]]
"""By way: for each take +1 right, -1 wrong, 0 no answer; the same for the job, None where there is no job."""


def main() -> None:
    """Run all and write the table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--jobs", type=int, default=100)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--out", type=Path, default=Path(__file__).parent)
    said = ask.parse_args()
    os.nice(NICE)
    rows = [
        f"{said.jobs} simulated jobs a condition, seed {said.seed}, {RATE} Hz; in brackets 95 % (Wilson).",
        "",
        "Wrong of those answered, in per cent with the span, then how many got no answer.",
        "",
        f"| takes | {' | '.join((*WAYS, TOOL, WEIGHED))} |",
        f"|---|{'---|' * (len(WAYS) + 2)}",
    ]
    with ProcessPoolExecutor() as pool:
        for gesture, conditions in SIMULATED:
            work = [(gesture, conditions, said.seed, k) for k in range(said.jobs)]
            rows += table(f"{gesture}, {WORDS[conditions]}", pool.map(one_job, work, chunksize=5))
        for kind, cases in real_cases(seed=said.seed).items():
            rows += table(kind, pool.map(one_real, cases))
    text = "\n".join(rows)
    (said.out / "OTHERWISE.md").write_text(text + "\n")
    print(text)


def one_job(work: tuple[str, str, int, int]) -> Answers:
    """Make the takes of one job and ask everybody."""
    gesture, conditions, seed, number = work
    rng = np.random.default_rng([seed, number, SIMULATED.index((gesture, conditions))])
    bench = random_bench(rng, conditions=CONDITIONS[conditions])
    a, b = bench.pickups[0].name, str(rng.choice([p.name for p in bench.pickups[1:]]))
    places = {name: Place(bench.pickup(name).centre_mm, bench.scale_mm) for name in (a, b)}
    truth = 1 if bench.in_phase(a, b) else -1
    if gesture == "paired pluck":
        truth *= 1 if bench.channels_agree() else -1
        takes = [bench.paired(rng, a, b, string, rate=RATE) for string in STRINGS]
        plain = [paired_answers(x, rate=RATE) for x in takes]
        tool = paired(takes, strings=STRINGS, places=(places[a], places[b]), rate=RATE)
        return judged(plain, tool, truth=truth)
    made: list[tuple[Taken, Taken]] = []
    for k in range(TAKES):
        string = None if gesture == "lifts" else STRINGS[0] if k < 3 else STRINGS[1]
        both = []
        for name in (a, b):
            x = (
                bench.lift(rng, name, rate=RATE)
                if string is None
                else bench.pluck(rng, name, string, rate=RATE)
            )
            both.append(Taken(x, string, places[name]))
        made.append((both[0], both[1]))
    is_tool = gesture == "lifts"
    plain = [apart_answers(p.samples[:, 0], q.samples[:, 0], rate=RATE, tool=is_tool) for p, q in made]
    return judged(plain, (pulses if is_tool else in_turn)(made, rate=RATE), truth=truth)


def one_real(case: Case) -> Answers:
    """One pair of recordings whose truth is by construction."""
    if case.together:
        x = np.hstack([case.a, case.b])
        plain = [paired_answers(x, rate=case.rate)]
        tool = paired([x], strings=(case.string,), places=(Place(), Place()), rate=case.rate)
    else:
        plain = [apart_answers(case.a[:, 0], case.b[:, 0], rate=case.rate, tool=False)]
        both = (Taken(case.a, case.string, Place()), Taken(case.b, case.string, Place()))
        tool = in_turn([both], rate=case.rate)
    return {way: (said, None) for way, (said, _) in judged(plain, tool, truth=case.truth).items()}


def judged(plain: list[tuple[int, int, int]], tool: Said, *, truth: int) -> Answers:
    """Right, wrong or no answer, by way."""
    found: Answers = {}
    for k, way in enumerate(WAYS):
        said = [truth * answers[k] for answers in plain]
        found[way] = (said, int(np.sign(sum(said))))
    each, total = tool
    said = [truth * int(np.sign(one)) for one in each]
    found[TOOL] = (said, int(np.sign(sum(said))))
    found[WEIGHED] = ([truth * sure(one) for one in each], truth * sure(total))
    return found


def sure(ratio: float) -> int:
    """The sign of a log ratio from nine to one on, else 0."""
    return int(np.sign(ratio)) if abs(ratio) >= LIKELY else 0


def table(name: str, results: Iterable[Answers]) -> list[str]:
    """The rows of one kind of takes."""
    takes: dict[str, list[int]] = defaultdict(list)
    jobs: dict[str, list[int]] = defaultdict(list)
    for answers in results:
        for way, (each, job) in answers.items():
            takes[way] += each
            if job is not None:
                jobs[way].append(job)
    rows = [f"| {name}: takes | {' | '.join(counted(said) for said in takes.values())} |"]
    if any(jobs.values()):
        rows.append(f"| {name}: jobs | {' | '.join(counted(said) for said in jobs.values())} |")
    return rows


def counted(said: list[int]) -> str:
    """Wrong of answered with its span, and how many gave no answer."""
    if not said:
        return "-"
    answered = sum(one != 0 for one in said)
    wrong = sum(one < 0 for one in said)
    none = f"; none {len(said) - answered}" if answered < len(said) else ""
    if not answered:
        return f"none {len(said)}"
    span = binomtest(wrong, answered).proportion_ci(method="wilson")
    share = f"{100 * wrong / answered:.1f} % ({100 * span.low:.1f} to {100 * span.high:.1f})"
    return f"{wrong} of {answered}, {share}{none}"


if __name__ == "__main__":
    main()
