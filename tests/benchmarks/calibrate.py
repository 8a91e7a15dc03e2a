"""How much a statistic is worth: the fits behind dsp/calibration.py.

    python tests/benchmarks/calibrate.py [--benches 100] [--seed 4] > tests/benchmarks/CALIBRATION.md

Draws benches of dsp.bench.scenes in ordinary conditions with inputs that agree, records paired plucks,
separate plucks, lifts and touches, and prints for each statistic, turned so that positive is right: how
often it is wrong, its low quantiles, and the slope of a logistic fit through zero (nats a unit). The
numbers in dsp/calibration.py are those slopes, rounded down, with clips chosen by hand. All cores.
"""

from __future__ import annotations

import argparse
import datetime
import os
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy.optimize import minimize_scalar

from capture.job import note_hz
from dsp.bench.scenes import random_bench
from dsp.listening import hear_plucks, hear_pulses
from dsp.paired import paired_statistic
from dsp.places import Place
from dsp.pulses import compared
from dsp.turns import Turn, turn_ratio
from dsp.warming import compile_all

RATE = 16_000
TAKES = 3
STRINGS = ("D3", "G3", "A2")
STEEPEST = 60.0


def main() -> None:
    """Run the fits and print them as a table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--benches", type=int, default=100)
    ask.add_argument("--seed", type=int, default=4)
    said = ask.parse_args()
    compile_all()
    with ProcessPoolExecutor() as pool:
        each = pool.map(one_bench, [(said.seed, k) for k in range(said.benches)], chunksize=4)
        pooled: dict[str, list[float]] = defaultdict(list)
        for found in each:
            for name, values in found.items():
                pooled[name].extend(values)
    print("# Calibration\n")
    print(f"`python tests/benchmarks/calibrate.py --benches {said.benches} --seed {said.seed}`, ", end="")
    print(f"{datetime.date.today()}, {RATE} Hz.\n")
    print("| statistic | values | wrong % | 1 % quantile | 5 % | median | slope, nats a unit |")
    print("|---|---|---|---|---|---|---|")
    for name, values in pooled.items():
        v = np.array(values)
        low, five, half = np.quantile(v, [0.01, 0.05, 0.5])
        slope = f"{fitted_slope(v):.1f}" if np.any(v < 0) else f"none wrong (over {STEEPEST:.0f})"
        wrong = 100 * np.mean(v < 0)
        print(f"| {name} | {len(v)} | {wrong:.2f} | {low:.2f} | {five:.2f} | {half:.2f} | {slope} |")


def fitted_slope(v: np.ndarray) -> float:
    """Slope of the logistic fit through zero: P(right) = 1 / (1 + exp(-slope v))."""
    fit = minimize_scalar(
        lambda a: np.mean(np.log1p(np.exp(-a * v))), bounds=(0.05, STEEPEST), method="bounded"
    )
    return float(fit.x)


def one_bench(work: tuple[int, int]) -> dict[str, list[float]]:
    """All statistics of one bench, positive where they are right."""
    rng = np.random.default_rng(list(work))
    bench = random_bench(rng, inverted=(False, False))
    names = [p.name for p in bench.pickups]
    pair = names[0], str(rng.choice(names[1:]))
    truth = 1 if bench.in_phase(*pair) else -1
    places = {n: Place(bench.pickup(n).centre_mm, bench.scale_mm) for n in pair}
    found: dict[str, list[float]] = defaultdict(list)
    for string in STRINGS:
        heard = hear_plucks(
            bench.paired(rng, *pair, string, rate=RATE),
            rate=RATE,
            channels=(0, 1),
            inputs_differ=True,
            named_hz=note_hz(string),
        )
        for pluck in heard.plucks:
            for label, (a, b) in (
                ("known", (places[pair[0]], places[pair[1]])),
                ("unknown", (Place(), Place())),
            ):
                value = paired_statistic(
                    *heard.channels, onset=pluck.rough, pitch=pluck.pitch, place_a=a, place_b=b
                ).value
                found[f"paired pluck, places {label}"].append(truth * value)
    _in_turn(bench, rng, places, truth=truth, found=found)
    _pulses(bench, rng, pair, truth=truth, found=found)
    return dict(found)


def _in_turn(bench, rng, places, *, truth, found) -> None:
    turns = []
    for _ in range(TAKES):
        for name in places:
            heard = hear_plucks(
                bench.pluck(rng, name, "D3", rate=RATE),
                rate=RATE,
                channels=(0,),
                inputs_differ=False,
                named_hz=note_hz("D3"),
            )
            turns += [
                (name, Turn(p.onsets[0], p.pitch, "D3", 0, places[name])) for p in heard.plucks if p.onsets[0]
            ]
    for i, (name, a) in enumerate(turns):
        for other, b in turns[:i]:
            same = name == other
            label = "two plucks, same pickup" if same else "two plucks, two pickups"
            found[label].append((1 if same else truth) * turn_ratio(a, b))


def _pulses(bench, rng, pair, *, truth, found) -> None:
    pulses = []
    for _ in range(TAKES):
        for name in pair:
            for gesture in ("lift", "touch"):
                audio = getattr(bench, gesture)(rng, name, rate=RATE)
                heard = hear_pulses(audio, rate=RATE, channel=0, toward=gesture == "touch")
                for pulse in heard.pulses:
                    pulses.append((name, gesture, pulse))
                    lift_like = pulse.abrupt_start * (1 if gesture == "lift" else -1)
                    found[f"shape of a {gesture}"].append(lift_like)
    for i, (name, gesture, a) in enumerate(pulses):
        for other, also, b in pulses[:i]:
            sign = (1 if name == other else truth) * (1 if gesture == also else -1)
            label = " and ".join(sorted((gesture, also)))
            found[f"two pulses, {label}"].append(sign * compared(a, b))


if __name__ == "__main__":
    main()
