"""What one output jack tells, in whole simulated jobs: how many settle, and how many of those are wrong.

    python tests/benchmarks/jack_study.py [--jobs 100] [--seed 1] [--only switch] [--pair bridge-neck]
        [--places known|unknown] [--conditions ordinary]

For each gesture and each pair of places, that many benches of dsp.bench.scenes with three pickups, each made
into a real job folder and judged by reports.judging. Gestures about the string: `switch` (three takes, on E2,
A2 and E2 again, every second bench through a stretch of both), `combination` (five plucks on a, on b and on
both, D3 and A2). About the winding: `hum level` (two takes each on a, b and both), `hum, two inputs` (a split
check and two takes), `switch, hum` (the hum beside the string of the switch takes), `drive` (three takes each).
Prints one table. All cores.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import soundfile

from capture.folder import JobFolder
from capture.job import Member, Pickup, Setting
from dsp.bench.conditions import ORDINARY
from dsp.bench.scenes import random_bench
from dsp.warming import compile_all
from reports.judging import judge
from reports.verdict import standing_of

PAIRS = ("bridge-neck", "bridge-middle", "middle-neck")
STRING_GESTURES = ("switch", "combination", "combination, profile alone")
HUM_GESTURES = ("hum level", "hum, two inputs", "switch, hum", "drive")
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
    ask.add_argument("--only", choices=(*STRING_GESTURES, *HUM_GESTURES))
    ask.add_argument("--pair", choices=PAIRS)
    ask.add_argument("--places", choices=("known", "unknown"))
    ask.add_argument("--conditions", choices=tuple(CONDITIONS), default="ordinary")
    said = ask.parse_args()
    compile_all()
    print(f"{said.jobs} jobs a row, {said.conditions} conditions, seed {said.seed}, {said.rate} Hz; per cent")
    print("| gesture | pair | places | settled | likely | unsettled | wrong of settled | wrong of likely | takes |")
    print("|---|---|---|---|---|---|---|---|---|")
    with ProcessPoolExecutor() as pool:
        for gesture in (said.only,) if said.only else (*STRING_GESTURES, *HUM_GESTURES):
            for pair in (said.pair,) if said.pair else PAIRS:
                for places in (said.places,) if said.places else ("known", "unknown"):
                    if places == "unknown" and gesture in HUM_GESTURES:
                        continue
                    work = [
                        (gesture, pair, places, said.seed, k, said.rate, said.conditions)
                        for k in range(said.jobs)
                    ]
                    print(row(gesture, pair, places, list(pool.map(one_job, work, chunksize=5))), flush=True)


def row(gesture: str, pair: str, places: str, results: list[dict]) -> str:
    """One line of the table."""
    standing = np.array([r["standing"] for r in results])
    wrong = np.array([r["wrong"] for r in results])
    settled, likely = standing == "settled", standing == "likely"
    refused = sum(r["refused"] for r in results)
    made = sum(r["made"] for r in results)
    return (
        f"| {gesture} | {pair} | {places} | {100 * settled.mean():.1f} | {100 * likely.mean():.1f} | "
        f"{100 * (standing == 'unsettled').mean():.1f} | {int((wrong & settled).sum())} of {int(settled.sum())} | "
        f"{int((wrong & likely).sum())} of {int(likely.sum())} | {refused} of {made} refused |"
    )


def one_job(work: tuple[str, str, str, int, int, int, str]) -> dict:
    """Make one job, judge it, compare with the truth."""
    gesture, pair, places, seed, number, rate, conditions = work
    about_hum = gesture in HUM_GESTURES
    drawn = CONDITIONS[conditions]
    if about_hum:
        drawn = replace(drawn, humbucker_rate=0.0)
    rng = np.random.default_rng([seed, number, PAIRS.index(pair)])
    bench = random_bench(rng, conditions=drawn, pickups=3)
    a, b = pair.split("-")
    known = places == "known"
    with tempfile.TemporaryDirectory() as place:
        folder = JobFolder.create(
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
        _record(folder, bench, rng, gesture, (a, b), rate=rate, number=number)
        verdict = judge(JobFolder.open(folder.path)).verdict
    (found,) = verdict.pairs
    truth = bench.w(a) != bench.w(b) if about_hum else bench.in_phase(a, b)
    p = found.p_hum_cancels if about_hum else found.p_in_phase
    if gesture == "combination, profile alone":
        p = next((word.p_in_phase for word in found.by if word.method == "harmonic profile"), None)
    standing = standing_of(p)
    return {
        "standing": standing,
        "wrong": standing != "unsettled" and p is not None and (p > 0.5) != truth,
        "p": p,
        "truth": truth,
        "refused": sum(not t.used for t in verdict.takes),
        "made": len(verdict.takes),
    }


def _record(folder, bench, rng, gesture, pair, *, rate, number) -> None:
    a, b = pair

    def add(audio, **said):
        path = folder.path / "new.wav"
        soundfile.write(path, audio, rate, subtype="PCM_24")
        folder.add_take(path, **said)

    if gesture.startswith("switch"):
        for string in ("E2", "A2", "E2"):
            if number % 2:
                audio = bench.switch(rng, [a, b], string, at_s=(0.8,), rate=rate)
                listed = (a, b)
            else:
                audio = bench.switch(rng, [a, (a, b), b], string, at_s=(0.8, 1.3), rate=rate, ringing_s=3.0)
                listed = (a, "both", b)
            add(audio, gesture="switch", inputs=[listed], string=string)
    if gesture.startswith("combination"):
        for k in range(5):
            for name, wanted in ((a, a), ("both", (a, b)), (b, b)):
                string = "D3" if k % 2 == 0 else "A2"
                add(
                    bench.pluck(rng, wanted, string, rate=rate),
                    gesture="pluck",
                    inputs=[name],
                    string=string,
                )
    if gesture == "hum level":
        for _ in range(2):
            for name, wanted in ((a, a), (b, b), ("both", (a, b))):
                add(bench.hum(rng, [wanted], rate=rate, ringing_s=2.0), gesture="hum", inputs=[name])
    if gesture == "hum, two inputs":
        add(bench.split_check(rng, a, "D3", rate=rate), gesture="pluck", inputs=[a, a], string="D3")
        for _ in range(2):
            add(bench.hum(rng, [a, b], rate=rate, ringing_s=2.0), gesture="hum", inputs=[a, b])
    if gesture == "drive":
        for _ in range(3):
            for name in pair:
                add(bench.drive(rng, name, rate=rate), gesture="drive", inputs=[name])


if __name__ == "__main__":
    main()
