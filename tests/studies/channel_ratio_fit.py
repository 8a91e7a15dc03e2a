"""The fit of dsp.methods.channel_ratio: strings beside the poles or over them, one pickup or two.

    python -m studies.channel_ratio_fit --jobs 160 --seed 11

with the project's top folder and its ``tests`` on PYTHONPATH. Each job has four paired plucks on four
strings. Half of the jobs are sound, a quarter have all strings beside the poles of both pickups to opposite
sides, a quarter of one, plucked along the body; half are of the unlike world of studies.shared_causes. Units:
dB, nats, mm, degrees. Signs: a job counts as wrong where its plucks together say the wrong sign. Printed:
percentiles of the nats that the constants give, and the constants that a logistic fit to these jobs gives.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import scipy
from numpy.typing import NDArray
from simulator.workbench import Bench
from studies.shared_causes.benches import beside, draw, strings_of
from studies.shared_causes.unlike import UNLIKE, USUAL

from capture.job import note_hz
from dsp.methods.channel_ratio import ChannelRatio, beside_ratio, channel_ratio, off_level_ratio
from dsp.methods.paired import paired_statistic
from dsp.methods.plucks import analyse_plucks
from dsp.model.calibration import paired_ratio
from dsp.model.settings import Place

Kind = Literal["over", "beside both", "beside one"]
KINDS: tuple[Kind, ...] = ("over", "beside both", "beside one", "over")
RATE = 48_000
PLUCKS, FEWEST = 4, 3
PLACES_MM = 1.5
FAR_MM, NEAR_MM, ALONG_DEG = (3.0, 6.5), (1.0, 3.5), (60.0, 120.0)
COPY_DB, NOISE_DB = ((-10.0, 10.0), (-45.0, -25.0)), (-80.0, -60.0)
RIDGE = 0.5
PERCENT = (0, 1, 10, 25, 50, 75, 90, 99, 100)


@dataclass(frozen=True)
class Shown:
    """One pluck: its ratio, the level without the gains, nats for the true sign, and nats of two copies."""

    ratio: ChannelRatio
    level_db: float
    right: float
    copies: tuple[float, ...]


def bench_of(kind: Kind, rng: np.random.Generator, pair: tuple[str, str]) -> Bench:
    """A bench whose strings run over the poles, or beside them and plucked along the body."""
    bench = draw(rng, pickups=3 if "middle" in pair else 2, bass=bool(rng.random() < 0.2))
    if kind == "over":
        return bench
    first, second = pair if rng.random() < 0.5 else pair[::-1]
    side = float(rng.choice([-1.0, 1.0]))
    bench = beside(bench, first, side * float(rng.uniform(*FAR_MM)))
    if kind == "beside both":
        bench = beside(bench, second, -side * float(rng.uniform(*NEAR_MM)))
    return replace(bench, habit=replace(bench.habit, angle_deg=float(rng.uniform(*ALONG_DEG))))


def plucks_of(number: int, seed: int) -> tuple[Kind, list[Shown]]:
    """All usable plucks of one job."""
    rng = np.random.default_rng([seed, number])
    kind = KINDS[number % len(KINDS)]
    world = UNLIKE if number % (2 * len(KINDS)) >= len(KINDS) else USUAL
    pair = ("bridge", "neck") if number % 3 else ("bridge", "middle")
    bench = world.bench(bench_of(kind, rng, pair), rng)
    first, second = bench.interface.channels
    gain = 20 * np.log10(abs(second.gain / first.gain))
    truth = (1 if bench.in_phase(*pair) else -1) * (1 if bench.channels_agree() else -1)
    shown = []
    for string in strings_of(rng, bench, PLUCKS):
        samples = np.clip(world.samples(bench.paired(rng, *pair, string, rate=RATE), RATE, rng), -1, 1)
        found = analyse_plucks(
            samples, rate=RATE, channels=(0, 1), inputs_differ=True, named_hz=note_hz(string)
        )
        if not found.plucks:
            continue
        pluck, (a, b) = found.plucks[0], found.channels
        place_a, place_b = (
            Place(bench.pickup(name).centre_mm + PLACES_MM * rng.standard_normal(), bench.scale_mm)
            for name in pair
        )
        ratio = channel_ratio(a, b, onset=pluck.rough, pitch=pluck.pitch, place_a=place_a, place_b=place_b)
        said = paired_statistic(a, b, onset=pluck.rough, pitch=pluck.pitch, place_a=place_a, place_b=place_b)
        copies = []
        for span in COPY_DB:
            noise = 10 ** (rng.uniform(*NOISE_DB) / 20) * rng.standard_normal(len(a))
            copy = 10 ** (rng.uniform(*span) / 20) * a + noise
            one = channel_ratio(
                a, copy, onset=pluck.rough, pitch=pluck.pitch, place_a=place_a, place_b=place_b
            )
            copies.append(0.0 if one is None else one.alike)
        if ratio is not None and ratio.level_db is not None:
            right = truth * paired_ratio(said.value)
            shown.append(Shown(ratio, ratio.level_db - gain, right, tuple(copies)))
    return kind, shown


def fitted(features: NDArray[np.float64], wrong: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Constant and slopes of a logistic fit in which both kinds weigh alike, (1 + features,)."""
    mean, spread = features.mean(axis=0), features.std(axis=0)
    scaled = (features - mean) / spread
    weight = np.where(wrong, 0.5 / np.mean(wrong), 0.5 / np.mean(~wrong))

    def loss(b: NDArray[np.float64]) -> float:
        nats = np.where(wrong, 1, -1) * (scaled @ b[1:] + b[0])
        return float(np.sum(weight * np.logaddexp(0, -nats)) + RIDGE * np.sum(b[1:] ** 2))

    found = scipy.optimize.minimize(loss, np.zeros(features.shape[1] + 1)).x
    slopes = found[1:] / spread
    return np.array([found[0] - slopes @ mean, *slopes])


def main() -> None:
    """Simulate, and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=160)
    parser.add_argument("--seed", type=int, default=11)
    chosen = parser.parse_args()
    rows: list[tuple[float, float, float]] = []
    wrong: list[bool] = []
    alike: dict[str, list[float]] = {"two pickups": [], "one pickup": [], "one pickup, far down": []}
    for number in range(chosen.jobs):
        kind, shown = plucks_of(number, chosen.seed)
        for one in shown:
            for name, nats in zip(alike, (one.ratio.alike, *one.copies), strict=True):
                alike[name].append(nats)
        if len(shown) < FEWEST or (kind != "over" and sum(s.right for s in shown) > 0):
            continue
        told = [(s.ratio.wander_db, s.ratio.uneven_db) for s in shown]
        wander = float(np.mean([w for w, _ in told if w is not None]))
        rows.append((wander, min(u for _, u in told if u is not None), np.mean([s.level_db for s in shown])))
        wrong.append(kind != "over")
    for name, found in alike.items():
        print(f"{name}, nats for one pickup, percentiles {PERCENT}: {np.percentile(found, PERCENT).round(1)}")
    features, beside_poles = np.array(rows), np.array(wrong)
    nats = np.array([beside_ratio(w, uneven_db=u) + off_level_ratio(level) for w, u, level in rows])
    for name, mine in (("over the poles", ~beside_poles), ("beside, and wrong", beside_poles)):
        print(f"{name}, {mine.sum()} jobs, nats: {np.percentile(nats[mine], PERCENT).round(1)}")
    print("fit to these: constant, per dB of wander, per dB of the smallest uneven_db:", end=" ")
    print(fitted(features[:, :2], beside_poles).round(3))


if __name__ == "__main__":
    main()
