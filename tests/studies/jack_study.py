"""What one output jack tells, in whole simulated jobs: how many settle, and how many of those are wrong.

    python tests/studies/jack_study.py [--jobs 100] [--seed 1] [--only switch] [--pair bridge-neck]
        [--places known|unknown] [--conditions ordinary]

For each gesture and each pair of places, that many benches of simulator.scenes with three pickups, each
made into a real job folder and judged by reports.verdict.building. `switch`: three takes, on E2, A2 and E2
again, every second bench through a stretch of both. `combination`: five plucks on a, on b and on both, D3 and
A2.
`hum level`: two takes each on a, b and both. `hum, two inputs`: a split check and two takes. `drive`: three
takes each. A row about the winding ("w") counts the jobs of two single coils. Prints one table. All cores.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import environment
import numpy as np
import soundfile
from new_jobs import create_job
from simulator.conditions import ORDINARY
from simulator.scenes import random_bench

from capture.job import Member, Pickup, Setting
from capture.log import TakeFields
from capture.takes.folder import JobFolder
from reports.model.verdict import standing_of
from reports.verdict.building import judge

PAIRS = ("bridge-neck", "bridge-middle", "middle-neck")
GESTURES = ("switch", "combination", "hum level", "hum, two inputs", "drive")
PROFILE = "harmonic profile"
CONDITIONS = {
    "ordinary": ORDINARY,
    "no pops": replace(ORDINARY, pop=(0.0, 0.0)),
    "bounces": replace(ORDINARY, switch_bounce_rate=1.0),
    "large pops": replace(ORDINARY, pop=(4.0, 12.0)),
    "magnetic hum": replace(ORDINARY, capacitive_rate=0.0),
    "capacitive hum": replace(ORDINARY, capacitive_rate=1.0),
    "turned": replace(ORDINARY, turned_rate=0.1),
    "sideways": replace(ORDINARY, habit_deg=60.0, careless_rate=0.3, off_centre_mm=2.0),
}


def main() -> None:
    """Run the study and print its table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--jobs", type=int, default=100)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--rate", type=int, default=16_000)
    ask.add_argument("--only", choices=GESTURES)
    ask.add_argument("--pair", choices=PAIRS)
    ask.add_argument("--places", choices=("known", "unknown"))
    ask.add_argument("--conditions", choices=tuple(CONDITIONS), default="ordinary")
    said = ask.parse_args()
    print(f"{said.jobs} jobs a row, {said.conditions} conditions, seed {said.seed}, {said.rate} Hz; per cent")
    head = ("gesture", "pair", "places", "jobs", "settled", "likely", "unsettled", "wrong of settled")
    print(f"| {' | '.join(head)} | wrong of likely |")
    print("|---|---|---|---|---|---|---|---|---|")
    with ProcessPoolExecutor() as pool:
        for gesture in (said.only,) if said.only else GESTURES:
            for pair in (said.pair,) if said.pair else PAIRS:
                for places in (said.places,) if said.places else ("known", "unknown"):
                    if places == "unknown" and gesture not in ("switch", "combination"):
                        continue
                    drawn = (gesture, pair, places, said.seed, said.rate, said.conditions)
                    work = [(*drawn, k) for k in range(said.jobs)]
                    for line in rows(pair, places, list(pool.map(one_job, work, chunksize=5))):
                        print(line, flush=True)


def rows(pair: str, places: str, results: list[dict]) -> list[str]:
    """One line for each name of the results."""
    said = []
    for name in dict.fromkeys(name for r in results for name in r):
        mine = [r[name] for r in results if name in r]
        standing = np.array([standing for standing, _ in mine])
        wrong = np.array([wrong for _, wrong in mine])
        settled, likely = standing == "settled", standing == "likely"
        shares = [100 * np.mean(standing == kind) for kind in ("settled", "likely", "unsettled")]
        said.append(
            f"| {name} | {pair} | {places} | {len(mine)} | {' | '.join(f'{x:.1f}' for x in shares)} | "
            f"{int((wrong & settled).sum())} of {int(settled.sum())} | "
            f"{int((wrong & likely).sum())} of {int(likely.sum())} |"
        )
    return said


def one_job(work: tuple[str, str, str, int, int, str, int]) -> dict:
    """Make one job, judge it, compare with the truth: (standing, wrong) by row."""
    gesture, pair, places, seed, rate, conditions, number = work
    rng = np.random.default_rng([seed, number, PAIRS.index(pair)])
    bench = random_bench(rng, conditions=CONDITIONS[conditions], pickups=3)
    a, b = pair.split("-")
    known = places == "known"
    with tempfile.TemporaryDirectory() as place:
        folder = create_job(
            Path(place) / "job",
            title="study",
            pickups=[
                Pickup(
                    name=n,
                    centre_mm=bench.pickup(n).centre_mm if known else None,
                    coils=len(bench.pickup(n).coils),
                )
                for n in (a, b)
            ],
            scale_mm=bench.scale_mm if known else None,
            settings=[Setting(name="both", on=(Member(pickup=a), Member(pickup=b)))],
        )
        for audio, said in takes(bench, rng, gesture, (a, b), rate=rate, number=number):
            path = folder.path / "new.wav"
            soundfile.write(path, audio, rate, subtype="PCM_24")
            folder.add_take(path, TakeFields(**said))
        verdict = judge(JobFolder.open(folder.path)).verdict
    (found,) = verdict.pairs
    results = {}
    if gesture in ("switch", "combination"):
        results[gesture] = _against(found.p_in_phase, bench.in_phase(a, b))
    if gesture == "combination":
        alone = next((word.p_in_phase for word in found.by if word.method == PROFILE), None)
        results["combination, profile alone"] = _against(alone, bench.in_phase(a, b))
    single = all(len(bench.pickup(n).coils) == 1 for n in (a, b))
    if gesture != "combination" and single:
        results[f"{gesture}: w"] = _against(found.p_hum_cancels, bench.w(a) != bench.w(b))
    return results


def _against(p: float | None, truth: bool) -> tuple[str, bool]:
    standing = standing_of(p)
    return standing, standing != "unsettled" and p is not None and (p > 0.5) != truth


def takes(bench, rng, gesture, pair, *, rate, number):
    """The takes of one job with what they are entered as."""
    a, b = pair
    if gesture == "switch":
        for string in ("E2", "A2", "E2"):
            through, listed = ([a, b], (a, b)) if number % 2 else ([a, (a, b), b], (a, "both", b))
            at_s = (0.8,) if number % 2 else (0.8, 1.3)
            audio = bench.switch(rng, through, string, at_s=at_s, rate=rate, ringing_s=at_s[-1] + 1.7)
            yield audio, {"gesture": "switch", "inputs": [listed], "string": string}
    if gesture == "hum, two inputs":
        audio = bench.split_check(rng, a, "D3", rate=rate)
        yield audio, {"gesture": "pluck", "inputs": [a, a], "string": "D3"}
        for _ in range(2):
            yield bench.hum(rng, [a, b], rate=rate, ringing_s=2.0), {"gesture": "hum", "inputs": [a, b]}
    each = ((a, a), ("both", (a, b)), (b, b))
    for k in range({"combination": 5, "hum level": 2, "drive": 3}.get(gesture, 0)):
        for name, wanted in each:
            if gesture == "combination":
                string = "D3" if k % 2 == 0 else "A2"
                audio = bench.pluck(rng, wanted, string, rate=rate)
                yield audio, {"gesture": "pluck", "inputs": [name], "string": string}
            elif gesture == "hum level":
                yield bench.hum(rng, [wanted], rate=rate, ringing_s=2.0), {"gesture": "hum", "inputs": [name]}
            elif name != "both":
                coil = {"coil": 1} if len(bench.pickup(name).coils) > 1 else {}
                yield bench.drive(rng, name, rate=rate), {"gesture": "drive", "inputs": [name], **coil}


if __name__ == "__main__":
    main()
