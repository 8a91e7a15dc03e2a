"""Whole simulated jobs, judged: how many settle, and how many of those are wrong.

    python tests/studies/job_study.py [--jobs 300] [--seed 1] [--rate 16000] [--conditions sideways]

For each gesture, that many benches of simulator.scenes in ordinary conditions, five takes a side (paired:
a split check and five takes on three strings), each made into a real job folder and judged by
reports.verdict.building. In the same run, on the same paired takes, the plain way: the largest magnitude of
the whole-band cross-correlation within 5 ms, majority of the takes. Prints one table. All cores.
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

from capture.job import Pickup
from capture.log import TakeFields
from capture.takes.folder import JobFolder
from dsp.methods.tool_pulse import correlation_curve
from reports.verdict.building import judge

STRINGS = ("D3", "G3", "A2", "D3", "G3")
GESTURES = ("paired", "paired, places unknown", "pluck in turn", "press in turn", "lift", "lift and paired")
TAKES = 5
CONDITIONS = {
    "ordinary": ORDINARY,
    "sideways": replace(ORDINARY, habit_deg=60.0, careless_rate=0.3, off_centre_mm=2.0),
    "turned": replace(ORDINARY, turned_rate=0.1),
    "noisy": replace(ORDINARY, snr_db=(15.0, 35.0), hum_db=(10.0, 30.0)),
}
"""Besides ordinary benches: hands that pluck along the body and strings well off the poles' centres;
one stroke in ten turned; much noise and hum."""


def main() -> None:
    """Run the study and print its table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--jobs", type=int, default=300)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--rate", type=int, default=16_000)
    ask.add_argument("--only", choices=GESTURES)
    ask.add_argument("--conditions", choices=tuple(CONDITIONS), default="ordinary")
    said = ask.parse_args()
    print(f"{said.jobs} jobs a gesture, {said.conditions} conditions, seed {said.seed}, {said.rate} Hz;")
    print("shares in per cent of jobs")
    print(f"{'gesture':24s} settled  likely  unsettled  wrong/settled  wrong/likely  takes refused")
    for gesture in (said.only,) if said.only else GESTURES:
        work = [(gesture, said.seed, k, said.rate, said.conditions) for k in range(said.jobs)]
        with ProcessPoolExecutor() as pool:
            results = list(pool.map(one_job, work, chunksize=5))
        print(row(gesture, results), flush=True)
        if gesture == "paired":
            plain = [r["plain"] for r in results]
            single = [w for r in results for w in r["plain_each"]]
            print(
                f"{'  plain whole-band':24s} always answers; wrong jobs {100 * np.mean(plain):.1f} % "
                f"({sum(plain)} of {len(plain)}), wrong takes {100 * np.mean(single):.1f} %",
                flush=True,
            )


def row(gesture: str, results: list[dict]) -> str:
    """One line of the table."""
    standing = np.array([r["standing"] for r in results])
    wrong = np.array([r["wrong"] for r in results])
    settled, likely = standing == "settled", standing == "likely"
    refused = sum(r["refused"] for r in results)
    made = sum(r["made"] for r in results)
    return (
        f"{gesture:24s} {100 * settled.mean():6.1f} {100 * likely.mean():7.1f} "
        f"{100 * (standing == 'unsettled').mean():9.1f}   "
        f"{int((wrong & settled).sum()):4d} of {int(settled.sum()):4d} {int((wrong & likely).sum()):4d} of "
        f"{int(likely.sum()):4d}   {refused} of {made}"
    )


def one_job(work: tuple[str, int, int, int, str]) -> dict:
    """Make one job, judge it, compare with the truth."""
    gesture, seed, number, rate, conditions = work
    rng = np.random.default_rng([seed, number, GESTURES.index(gesture)])
    bench = random_bench(rng, conditions=CONDITIONS[conditions])
    names = [p.name for p in bench.pickups]
    a, b = names[0], str(rng.choice(names[1:]))
    known = gesture != "paired, places unknown"
    with tempfile.TemporaryDirectory() as place:
        folder = create_job(
            Path(place) / "job",
            title="study",
            pickups=[Pickup(name=n, centre_mm=bench.pickup(n).centre_mm if known else None) for n in (a, b)],
            scale_mm=bench.scale_mm if known else None,
        )
        paired = _record(folder, bench, rng, gesture, (a, b), rate=rate)
        verdict = judge(JobFolder.open(folder.path)).verdict
    pair = verdict.pairs[0]
    truth = "in phase" if bench.in_phase(a, b) else "out of phase"
    guesses = [np.sign(_plain(x, rate=rate)) for x in paired]
    sign = (1 if bench.in_phase(a, b) else -1) * (1 if bench.channels_agree() else -1)
    return {
        "standing": pair.standing,
        "wrong": pair.phase is not None and pair.phase != truth,
        "p": pair.p_in_phase,
        "truth": bench.in_phase(a, b),
        "refused": sum(not t.used for t in verdict.takes),
        "made": len(verdict.takes),
        "plain": bool(guesses) and bool(np.sum(guesses) * sign < 0),
        "plain_each": [bool(g != sign) for g in guesses],
    }


def _record(folder, bench, rng, gesture, pair, *, rate) -> list[np.ndarray]:
    a, b = pair
    made = []

    def add(audio, **said):
        path = folder.path / "new.wav"
        soundfile.write(path, audio, rate, subtype="PCM_24")
        folder.add_take(path, TakeFields(**said))

    if "paired" in gesture:
        add(bench.split_check(rng, a, "D3", rate=rate), gesture="pluck", inputs=[a, a], string="D3")
        for string in STRINGS:
            made.append(bench.paired(rng, a, b, string, rate=rate))
            add(made[-1], gesture="pluck", inputs=[a, b], string=string)
    for k in range(TAKES):
        for name in pair:
            if "turn" in gesture:
                kind = gesture.split()[0]
                string = STRINGS[0] if k < 3 else STRINGS[1]
                lead = {"lead_in_s": 0.8} if kind == "press" else {}
                audio = getattr(bench, kind)(rng, name, string, rate=rate, **lead)
                add(audio, gesture=kind, inputs=[name], string=string)
            if "lift" in gesture:
                add(bench.lift(rng, name, rate=rate), gesture="lift", inputs=[name], tool="steel rod")
    return made


def _plain(audio: np.ndarray, *, rate: int) -> float:
    """Whole-band cross-correlation: the signed value of the largest magnitude within 5 ms."""
    x = audio - audio.mean(axis=0)
    _, curve = correlation_curve(x[:, 0], x[:, 1], longest_lag_s=0.005, rate=rate)
    return float(curve[np.argmax(np.abs(curve))])


if __name__ == "__main__":
    main()
