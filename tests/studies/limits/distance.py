"""How far every method is from the best that noise allows.

    python tests/studies/limits/distance.py [--work FOLDER] [--share 1.0] [--seed 1]
        [--out FOLDER] [--tables]

Simulated takes without noise (limit_takes), white noise added in steps of 3 dB, every method's forced
decision (limit_methods) at each step, beside the error of the best detector (limit_bounds). Every finished
trial is a line of trials.jsonl in the work folder; what is there is not done again. All cores, at low
priority. Writes DISTANCE.md and distance.png. One trial is one bench; the same noise, louder and softer, goes
through all steps.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import Any

sys.path.append(str(Path(__file__).parents[1]))

import environment
import numpy as np
from limit_methods import FAMILY
from limit_takes import ABOUT_HUM, Trial, trial
from numpy.typing import NDArray
from resumed import finish, kept

Array = NDArray[np.float64]

STEP_DB = 3
SHOWN_DB = 110
"""Signal to noise of the takes that show the attack, the pitch and the step to the told decision."""
HANDS_DB = (35, 47, 60, 100)
"""The ordinary span, and as good as no noise."""
PLAN = {
    "paired": (170, -36, 5, 41),
    "pluck": (85, -36, 11, 41),
    "press": (110, -30, 11, 41),
    "lift": (200, -36, -18, 30),
    "touch": (200, -36, -18, 30),
    "switch": (145, -36, -3, 41),
    "switch, hum": (105, -15, 9, 54),
    "profile": (45, -12, 15, 45),
    "hum, two inputs": (145, -21, 0, 48),
    "hum by level": (120, -21, 0, 54),
    "drive": (150, -39, -21, 18),
}
"""Trials a family; from where on the told decision is made, from where on the whole way is gone, and until
where. Below the second nearly every take is refused."""
MOST_PEAK = 0.9
FILE = "trials.jsonl"

Work = tuple[str, int, bool, int]


def main() -> None:
    """Do what is not done yet, then write the table and the picture."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--work", type=Path, default=Path(__file__).parents[1] / "out" / "limits")
    ask.add_argument("--share", type=float, default=1.0)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--out", type=Path, default=Path(__file__).parent)
    ask.add_argument("--tables", action="store_true", help="no more trials: the tables of what is there")
    said = ask.parse_args()
    said.work.mkdir(parents=True, exist_ok=True)
    path = said.work / FILE
    done = {tuple(one["key"]) for one in kept(path)}
    works = [work for work in planned(said.share, said.seed) if work not in done and not said.tables]
    finish(works, one_trial, path, done=len(done), told_every=200)
    from limit_tables import written

    wanted = set(planned(said.share, said.seed))
    found = kept(path)
    print(written([one for one in found if tuple(one["key"]) in wanted], said.out))


def planned(share: float, seed: int) -> list[Work]:
    """All trials, mixed, so that a part of them is a fair part."""
    works = [
        (number / count, (family, number, still, seed))
        for family, (count, *_) in PLAN.items()
        for still in (True, False)
        for number in range(max(1, round(count * share)))
    ]
    return [work for _, work in sorted(works)]


def one_trial(work: Work) -> dict[str, Any]:
    """Every decision of one family about one bench: 1 right, 0 wrong, None refused or nothing said."""
    family, number, still, seed = work
    made = trial(family, number, seed=seed, still=still)
    _, lowest, heard_from, highest = PLAN[family]
    steps = tuple(range(lowest, highest + 1, STEP_DB)) if still else HANDS_DB
    how = FAMILY[family]
    shown = how.show(made, noisy(made, SHOWN_DB, number)) if still else None
    truth = made.agree["w" if family in ABOUT_HUM or family == "drive" else "s"]
    heard: dict[str, list[int | None]] = {}
    told: dict[str, list[int | None]] = {}
    reasons: list[list[str]] = []
    for snr_db in steps:
        takes = noisy(made, snr_db, number)
        if not still or snr_db >= heard_from:
            said, why = how.heard(made, takes)
            reasons.append(sorted(set(why)))
            for method, value in said.items():
                heard.setdefault(method, []).append(None if not value else int(value * truth > 0))
        if still:
            for method, value in how.told(made, takes, shown).items():
                told.setdefault(method, []).append(None if not value else int(value * truth > 0))
    return {
        "key": list(work),
        "steps": list(steps),
        "heard": heard,
        "told": told,
        "why": reasons,
        "bounds": {method: made.bounds[method] for method in heard},
    }


def noisy(made: Trial, snr_db: float, number: int) -> list[Array]:
    """The takes with white noise, turned down where they would clip."""
    takes = []
    for k, (_, clean) in enumerate(made.takes):
        noise = np.random.default_rng([number, k]).standard_normal(clean.shape)
        x = clean - clean.mean(axis=0) + made.level * 10 ** (-snr_db / 20) * noise
        takes.append(x * min(1.0, MOST_PEAK / float(np.abs(x).max())))
    return takes


if __name__ == "__main__":
    main()
