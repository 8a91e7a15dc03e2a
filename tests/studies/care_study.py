"""What a machine learns of a bench's care, at benches that are careful, usual and careless.

    python tests/studies/care_study.py [--jobs 120] [--remembered 10]

Each job is a loose pickup metered twice a side before the work and twice after it. Meter leads exchanged,
swings misread, joints made otherwise and joints turned over unasked are drawn at the rates of each level of
care. Printed for each level: how jobs come out, the log-likelihood of careful and careless against usual
(nats, mean a job), and the prior after so many remembered jobs: of all that were checked after the work, and
of those alone that came out as planned.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections import Counter
from pathlib import Path

import environment
import numpy as np

from capture.takes.folder import JobFolder
from reports.inference.error_priors import CARE_LEVELS, ErrorRates, at_care
from reports.verdict.building import Judgement, judge
from reports.verdict.care_memory import JobCare, RememberedCare, care_of_job, is_checked

JOB = """format = 1
title = "Loose neck"
[[pickup]]
name = "bridge"
[[pickup]]
name = "neck"
fitted = false
hot = "violet"
ground = "grey"
shield = "own lead"
[[setting]]
name = "both"
on = ["bridge", "neck"]
"""
EXCHANGED = {"grey": "hot", "violet": "ground"}
A_SIDE = 2
DRAWS = 400


class MeteredJob:
    """A job folder that meter readings fill, with the mistakes of a person at these rates."""

    def __init__(self, home: Path, rng: np.random.Generator, rates: ErrorRates) -> None:
        home.mkdir()
        (home / "job.toml").write_text(JOB, encoding="utf-8")
        self.home, self.rng, self.rates = home, rng, rates
        self.lines: list[dict[str, object]] = []
        self.signs = {"bridge": 1, "neck": -1}

    def judged(self) -> Judgement:
        text = "".join(json.dumps({"id": f"e{k}", **line}) + "\n" for k, line in enumerate(self.lines))
        (self.home / "bench.jsonl").write_text(text, encoding="utf-8")
        return judge(JobFolder.open(self.home))

    def read(self, stage: str) -> None:
        """Meter readings of both pickups."""
        leads = {p: -1 if self.rng.random() < self.rates.of("meter leads") else 1 for p in self.signs}
        for pickup in list(self.signs) * A_SIDE:
            seen = -1 if self.rng.random() < self.rates.of("misread swing") else 1
            rises = self.signs[pickup] * leads[pickup] * seen > 0
            said = {"pickup": pickup, "reading": "rises" if rises else "falls", "stage": stage}
            self.lines.append({"kind": "meter", "move": "away", "red": "hot", "tool": "rod", **said})

    def work(self) -> None:
        """What the plan asks for, done well or not."""
        exchange = any(row.exchange for row in self.judged().verdict.wiring)
        if exchange:
            self.lines.append({"kind": "change", "pickup": "neck", "leads": EXCHANGED})
        slip = self.rng.random() < self.rates.of("work" if exchange else "no work")
        if exchange != slip:
            self.signs["neck"] *= -1


def one_job(home: Path, rng: np.random.Generator, rates: ErrorRates) -> Judgement:
    """A job from the first reading to the last."""
    job = MeteredJob(home, rng, rates)
    job.read("found")
    job.work()
    job.read("after")
    return job.judged()


def learned(rng: np.random.Generator, jobs: list[JobCare], count: int) -> str:
    """The mean prior after ``count`` of these jobs, and what they say each."""
    priors = []
    for _ in range(DRAWS):
        drawn = [jobs[k] for k in rng.choice(len(jobs), count)]
        lines = tuple(job.model_copy(update={"job": f"{k:016x}"}) for k, job in enumerate(drawn))
        priors.append(list(RememberedCare(lines).known.prior.values()))
    prior = ", ".join(f"{name} {p:.2f}" for name, p in zip(CARE_LEVELS, np.mean(priors, axis=0), strict=True))
    nats = [float(np.mean([getattr(job, name) for job in jobs])) for name in ("careful", "careless")]
    return f"nats a job {nats[0]:+.2f} and {nats[1]:+.2f}; after {count}: {prior}"


def main() -> None:
    """Print what is learned of each level of care."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--jobs", type=int, default=120)
    parser.add_argument("--remembered", type=int, default=10)
    asked = parser.parse_args()
    rng = np.random.default_rng(5)
    with tempfile.TemporaryDirectory() as place:
        for level in CARE_LEVELS:
            judged = [one_job(Path(place) / f"{level}{k}", rng, at_care(level)) for k in range(asked.jobs)]
            codes = [j.verdict.came_out.code if j.verdict.came_out else "nothing found" for j in judged]
            said = [care_of_job("0" * 16, j.posterior) for j in judged]
            every = [s for s, j in zip(said, judged, strict=True) if is_checked(j)]
            planned = [s for s, code in zip(said, codes, strict=True) if code == "as planned"]
            print(f"{level}: {dict(Counter(codes))}")
            print(f"  all that were checked: {learned(rng, every, asked.remembered)}")
            print(f"  as planned alone:      {learned(rng, planned, asked.remembered)}")


if __name__ == "__main__":
    main()
