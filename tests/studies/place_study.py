"""How near a pickup's place is found from the sound, and whether one note a setting tells a turned list.

    python tests/studies/place_study.py [--benches 40] [--world usual]

Each pickup of a random simulated guitar is plucked by itself, twelve notes on six strings from the open
string to the seventh fret, and placed from 1, 3, 5 and 12 of them: by the sound alone, and with what its
name says beforehand. Beside it the list of the selector: one note on each of two settings, heard as listed
and as from the wrong end, the places known. Errors in mm from the true centre. Compare sources S7 (3.5 mm on
average, recordings of one guitar) and S8 (2.1 to 7.3 mm in the median).
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from itertools import combinations

import environment
import numpy as np
from simulator.scenes import random_bench
from simulator.workbench import Bench
from studies.shared_causes.unlike import WORLDS, World

from capture.job import Job, Pickup
from dsp.methods.place import PLACES_MM, HeardPluck, log_likelihoods, place_estimate, place_template
from dsp.methods.plucks import analyse_plucks
from dsp.methods.profile import pluck_levels
from reports.inference.places import named_place

RATE = 24000
NOTES = (1, 3, 5, 12)
FRETS = (0, 2, 3, 5, 7)


def heard_pluck(
    rng: np.random.Generator, bench: Bench, name: str, string: str, fret: int, *, world: World
) -> HeardPluck | None:
    """One pluck on one pickup alone, as its partials' levels; None where the take was refused."""
    samples = world.samples(bench.pluck(rng, name, string, fret=fret, rate=RATE), RATE, rng)
    found = analyse_plucks(samples, rate=RATE, channels=(0,), inputs_differ=True)
    if not found.plucks:
        return None
    first = found.plucks[0]
    levels = pluck_levels(found.channels[0], onset=first.rough, quiet=first.rough, pitch=first.pitch)
    length = bench.scale_mm / 2 ** (fret / 12)
    return HeardPluck(levels.levels_db[np.newaxis], levels.usable[np.newaxis], length, levels.f0_hz)


def fit(pluck: HeardPluck, at_mm: tuple[float, float], rows: tuple[int, int]) -> np.ndarray:
    """The log likelihood of a pluck at each of two places, (2,)."""
    return np.array(
        [
            log_likelihoods(
                pluck,
                place_template(np.array([mm / pluck.length_mm]), rows=n, length_mm=pluck.length_mm)[
                    :, np.newaxis
                ],
            )[0][0]
            for mm, n in zip(at_mm, rows, strict=True)
        ]
    )


def main() -> None:
    """Print both tables."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--benches", type=int, default=40)
    ask.add_argument("--world", choices=sorted(WORLDS), default="usual")
    said = ask.parse_args()
    world = WORLDS[said.world]
    errors: dict[tuple[str, bool, int], list[float]] = defaultdict(list)
    margins: dict[str, list[float]] = defaultdict(list)
    for seed in range(said.benches):
        rng = np.random.default_rng([17, seed])
        bench = world.bench(random_bench(rng), rng)
        job = Job(
            format=1,
            title="places",
            scale_mm=round(bench.scale_mm, 1),
            pickups=tuple(Pickup(name=p.name, coils=len(p.coils)) for p in bench.pickups),
        )
        plucks: dict[str, list[HeardPluck]] = defaultdict(list)
        for pickup in bench.pickups:
            for k in range(max(NOTES)):
                string = bench.strings[int(rng.integers(len(bench.strings)))].name
                fret = FRETS[k % len(FRETS)]
                heard = heard_pluck(rng, bench, pickup.name, string, fret, world=world)
                if heard is not None:
                    plucks[pickup.name].append(heard)
            place = named_place(job, pickup.name)
            prior = None if place is None else -0.5 * np.square((PLACES_MM - place.mm) / place.error_mm)
            for count in NOTES:
                for named in (False, True):
                    found = place_estimate(
                        plucks[pickup.name][:count],
                        rows=len(pickup.coils),
                        prior=prior if named else None,
                    )
                    if found is not None:
                        errors[pickup.name, named, count].append(abs(found.mm - pickup.centre_mm))
        for a, b in combinations(bench.pickups, 2):
            at, rows = (a.centre_mm, b.centre_mm), (len(a.coils), len(b.coils))
            for one, other in zip(plucks[a.name], plucks[b.name], strict=False):
                mine, its = fit(one, at, rows), fit(other, at, rows)
                margins[f"{a.name} and {b.name}"].append(float(mine[0] + its[1] - mine[1] - its[0]))
    print(f"{said.benches} {said.world} benches; error of the place, mm: median (mean)")
    for (name, named, count), off in sorted(errors.items()):
        how = "sound and name" if named else "sound alone"
        middle, mean = np.median(off), np.mean(off)
        print(f"{name:8} {how:15} {count:3} notes: {middle:5.1f} ({mean:.1f}), {len(off)} pickups")
    for pair, found in margins.items():
        right = sum(m > 0 for m in found)
        sure = sum(m < -3 for m in found)
        print(f"{pair}: list told from one note a setting {right} of {len(found)}; wrong by 3 nats {sure}")


if __name__ == "__main__":
    main()
