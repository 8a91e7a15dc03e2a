"""Thousands of whole simulated jobs: is what the tool says as sure as it says?

    python tests/studies/calibration/study.py [--work FOLDER] [--share 1.0] [--seed 1]

Every finished job is a line of FOLDER/jobs.jsonl; what is there is not done again, so it can be stopped and
started at will. All cores, at low priority. `summary.py` makes the tables and the diagram of it. Jobs: each
gesture and mixture of simulated.py, with and without meter readings, in four settings: ordinary conditions
at the assumed rates of human mistakes, the same at ten times those rates, wide conditions, and benches
unlike any that a number was fitted on.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

os.environ.setdefault("COILWISE_CACHE", "off")

sys.path.append(str(Path(__file__).parents[1]))

import environment
from resumed import finish, kept
from simulated import CLOSED, GESTURES, Work, one_job

PLAN = (("ordinary", 1.0, 120), ("ordinary", 10.0, 40), ("wide", 1.0, 20), ("unseen", 1.0, 20))
"""Setting, factor on human mistakes, jobs a gesture and way (with meter or without)."""
DEAR = {"switch": 0.6, "switch, a, b and both, hum": 0.4, "a, b and both": 0.7}
"""Gestures that take long get so much fewer jobs."""
FILE = "jobs.jsonl"


def main() -> None:
    """Do what is not done yet."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--work", type=Path, default=Path(".calibration"))
    ask.add_argument("--share", type=float, default=1.0)
    ask.add_argument("--seed", type=int, default=1)
    said = ask.parse_args()
    said.work.mkdir(parents=True, exist_ok=True)
    path = said.work / FILE
    done = {job["key"] for job in kept(path)}
    works = [w for w in planned(said.seed, said.share) if w.key not in done]
    finish(works, one_job, path, done=len(done), told_every=100)


def planned(seed: int, share: float) -> list[Work]:
    """All jobs, mixed, so that a part of them is a fair part."""
    works = [
        Work(setting, factor, gesture, meter, number, seed)
        for setting, factor, count in PLAN
        for gesture in GESTURES
        for meter in ((True,) if gesture == "meter alone" else (False, True))
        for number in range(max(1, round(count * share * DEAR.get(gesture, 1.0))))
    ]
    return sorted(works, key=lambda w: (w.number, w.gesture in CLOSED, w.key))


if __name__ == "__main__":
    main()
