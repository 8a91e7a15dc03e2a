"""Sweeps with two volumes and no selector: what is heard of them, on random benches and with all hands.

Run: `python tests/studies/volume_study.py --takes 40 [--hands tidy|untidy|slow] [--wired reversed|divider]`.
Prints of all takes how many were refused and why, how many say more than two nats, and how many of these are
wrong, for pickups in phase and opposed.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from simulator.conditions import evenly
from simulator.rig import LEAD_IN_S
from simulator.scenes import random_bench
from simulator.volumes import TurnSpec, Volumes
from simulator.workbench import Bench

from dsp.methods.switch import SwitchAnalysis, analyse_switch
from dsp.model.settings import Mix, Place, Source
from dsp.signal.samples import ANALYSIS_RATE

Hands = Literal["tidy", "untidy", "slow"]
STRINGS = {"E2": 82.4069, "A2": 110.0, "D3": 146.8324}
RATE = 16_000
SURE_NATS = 2.0
NOT_HOME = 0.2


@dataclass(frozen=True)
class Swept:
    """One sweep, from the pickup ``way[0]`` over both to the other; ``in_phase`` is the truth."""

    bench: Bench
    string: str
    way: tuple[str, str]
    audio: NDArray[np.float64]
    in_phase: bool
    turned_s: tuple[float, ...]


def short(rng: np.random.Generator, *, untidy: bool, at_most: float) -> float:
    """How far a knob is left from its stop: untidy hands leave one in five there."""
    left = float(rng.uniform(0.0, at_most))
    return left if untidy and rng.random() < NOT_HOME else 0.0


def sweep(rng: np.random.Generator, *, hands: Hands, wired: Literal["reversed", "divider"]) -> Swept:
    """A random bench and one sweep on it."""
    bench = random_bench(rng, pickups=2)
    way = ("bridge", "neck") if rng.random() < 0.5 else ("neck", "bridge")
    string = str(rng.choice(list(STRINGS)))
    down = 0.2 if wired == "divider" else 0.0
    lasts = {"tidy": (0.15, 0.35), "untidy": (0.15, 0.7), "slow": (0.5, 1.0)}[hands]
    stays = {"tidy": (0.45, 0.7), "untidy": (0.3, 1.0), "slow": (0.4, 0.8)}[hands]
    untidy = hands == "untidy"
    up = 1.0 - short(rng, untidy=untidy, at_most=0.15)
    left, end = (down + short(rng, untidy=untidy, at_most=0.1) for _ in range(2))
    first = evenly(rng, (0.4, 0.9))
    one, two = (evenly(rng, lasts) for _ in range(2))
    pauses = [evenly(rng, (0.1, 0.3)) if untidy and rng.random() < 0.4 else 0.0 for _ in range(2)]
    second = first + one + pauses[0] + evenly(rng, stays)
    turns = (TurnSpec(1, first, up, one, pauses[0]), TurnSpec(0, second, end, two, pauses[1]))
    ringing = second + two + pauses[1] + evenly(rng, (0.5, 1.0))
    taper: Literal["audio", "linear"] = "audio" if rng.random() < 0.7 else "linear"
    volumes = Volumes(float(rng.choice([250e3, 500e3])), wired, taper)
    audio = bench.volumes(
        rng, way, string, volumes=volumes, start=(1.0, left), turns=turns, rate=RATE, ringing_s=ringing
    )
    turned = (first, first + one + pauses[0], second, second + two + pauses[1])
    return Swept(bench, string, way, audio[:, 0], bench.in_phase(*way), tuple(LEAD_IN_S + s for s in turned))


def mixes_of(swept: Swept, *, placed: bool = True) -> tuple[Mix, Mix]:
    """What is on at first and at the end, the places known or not."""
    a, b = (
        Source(k, Place(swept.bench.pickup(name).centre_mm, swept.bench.scale_mm) if placed else Place())
        for k, name in enumerate(swept.way)
    )
    return Mix((a,)), Mix((b,))


def ratio(heard: SwitchAnalysis) -> float:
    """Log ratio "in phase : opposed" of a table of two."""
    if heard.table is None:
        return 0.0
    t = heard.table
    return float(np.logaddexp(t[0, 0], t[1, 1]) - np.logaddexp(t[0, 1], t[1, 0]))


def main() -> None:
    """Run the study."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--takes", type=int, default=40)
    parser.add_argument("--hands", choices=("tidy", "untidy", "slow"), default="tidy")
    parser.add_argument("--wired", choices=("reversed", "divider"), default="reversed")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--unplaced", action="store_true")
    parser.add_argument("--each", action="store_true")
    args = parser.parse_args()
    refused: Counter[str] = Counter()
    ratios: list[tuple[bool, float]] = []
    for k in range(args.takes):
        swept = sweep(np.random.default_rng([args.seed, k]), hands=args.hands, wired=args.wired)
        heard = analyse_switch(
            swept.audio,
            rate=RATE,
            mixes=mixes_of(swept, placed=not args.unplaced),
            count=2,
            named_hz=STRINGS[swept.string],
            knobs=True,
        )
        refused.update(f.code for f in heard.faults)
        value = ratio(heard) * (1 if swept.in_phase else -1)
        if args.each:
            codes = [f.code for f in heard.faults] + [f"({f.code})" for f in heard.remarks]
            at = [f"{s.start / ANALYSIS_RATE:.2f}-{s.stop / ANALYSIS_RATE:.2f}" for s in heard.stretches]
            print(
                k,
                swept.string,
                swept.way[0],
                swept.in_phase,
                f"{value:.2f}",
                codes,
                at,
                [f"{s:.2f}" for s in swept.turned_s],
            )
        if heard.table is not None:
            ratios.append((swept.in_phase, value))
    print(f"{args.hands} {args.wired}: {args.takes} takes, refused {dict(refused)}")
    for truth, name in ((True, "in phase"), (False, "opposed")):
        values = np.array([v for t, v in ratios if t == truth])
        sure = np.abs(values) > SURE_NATS
        print(
            f"  {name}: {values.size} heard, median {np.median(values) if values.size else 0:.2f} nats, "
            f"sure {sure.sum()}, wrong of these {(values[sure] < 0).sum()}, wrong of all {(values < 0).sum()}"
        )


if __name__ == "__main__":
    main()
