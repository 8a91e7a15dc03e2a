"""How often taps confirm a sound list and find a wrong one, on random simulated benches.

    python tests/studies/tap_study.py [--benches 60]

For each bench the selector is as listed, listed from the wrong end, has one position that gives one pickup
instead of two, and, where a pickup has two coils, leaves the other coil of a split. Every pole of every
pickup is tapped at each position, and levels are compared as in a job.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Mapping
from itertools import pairwise

import environment
import numpy as np
from simulator.conditions import Conditions
from simulator.scenes import random_bench
from simulator.workbench import Bench, On, Wanted

from capture.job import Job, Member, Pickup, Setting
from capture.log import Take, new_entry
from dsp.methods.taps import analyse_taps
from reports.evidence.results import SettingTaps, TakeResult
from reports.inference.taps import TapFindings, tap_findings

RATE = 8000
SPLIT = "split"


def job_of(bench: Bench) -> tuple[Job, dict[str, Wanted]]:
    """A job with every pickup alone, neighbours together and one split, and what each position is to give."""
    names = [p.name for p in bench.pickups]
    real: dict[str, Wanted] = {name: name for name in names}
    settings = []
    for pair in pairwise(names):
        real["+".join(pair)] = pair
        settings.append(Setting(name="+".join(pair), on=tuple(Member(pickup=n) for n in pair)))
    two = next((p.name for p in bench.pickups if len(p.coils) > 1), None)
    if two is not None:
        real[SPLIT] = On(two, 1)
        settings.append(Setting(name=SPLIT, on=(Member(pickup=two, coil=1),)))
    pickups = tuple(Pickup(name=p.name, centre_mm=p.centre_mm, coils=len(p.coils)) for p in bench.pickups)
    return Job(format=1, title="taps", pickups=pickups, settings=tuple(settings)), real


def tapped(rng: np.random.Generator, bench: Bench, job: Job, real: Mapping[str, Wanted]) -> TapFindings:
    """What taps say where ``real`` is what each position gives."""
    results = []
    for position, on in real.items():
        for pickup in bench.pickups:
            for coil in (1, 2) if len(pickup.coils) > 1 else (None,):
                audio = bench.tap(rng, on, pickup.name, coil=coil or 1, rate=RATE)
                level = analyse_taps(audio, rate=RATE, channel=0).level
                if level is None:
                    continue
                entry = new_entry(
                    Take,
                    id=f"t{len(results)}",
                    file="takes/x",
                    gesture="tap",
                    inputs=(position,),
                    tapped=pickup.name,
                    coil=coil,
                )
                results.append(TakeResult(entry, taps=(SettingTaps(position, 0, level),)))
    return tap_findings(job, results)


def wrong_positions(found: TapFindings) -> frozenset[str]:
    """The positions that taps contradict."""
    return frozenset(p.setting for p in found.positions if p.check == "contradicted")


def main() -> None:
    """Print the table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--benches", type=int, default=60)
    benches = ask.parse_args().benches
    sound: Counter[str] = Counter()
    found: dict[str, Counter[bool]] = {
        "from the wrong end": Counter(),
        "one for two": Counter(),
        SPLIT: Counter(),
    }
    for seed in range(benches):
        rng = np.random.default_rng([9, seed])
        bench = random_bench(rng, conditions=Conditions(humbucker_rate=0.4))
        job, real = job_of(bench)
        sound.update(str(p.check) for p in tapped(rng, bench, job, real).positions)
        names = [p.name for p in bench.pickups]
        mirror = dict(zip(names, reversed(names), strict=True))
        plain = {k: on for k, on in real.items() if k != SPLIT}
        turned = {
            k: mirror[on] if isinstance(on, str) else tuple(mirror[str(n)] for n in on)
            for k, on in plain.items()
        }
        differs = frozenset(k for k in plain if set(np.atleast_1d(plain[k])) != set(np.atleast_1d(turned[k])))
        heard = tapped(rng, bench, job, turned)
        found["from the wrong end"][heard.mirrored and wrong_positions(heard) == differs] += 1
        pair = "+".join(names[:2])
        found["one for two"][
            wrong_positions(tapped(rng, bench, job, {**plain, pair: names[1]})) == {pair}
        ] += 1
        split = real.get(SPLIT)
        if isinstance(split, On):
            other = tapped(rng, bench, job, {**real, SPLIT: On(split.pickup, 2)})
            found[SPLIT][wrong_positions(other) == {SPLIT}] += 1
    print(f"{benches} benches; positions of a sound list: {dict(sound)}")
    for story, counts in found.items():
        print(f"{story}: found, and nothing else: {counts[True]} of {counts.total()}")


if __name__ == "__main__":
    main()
