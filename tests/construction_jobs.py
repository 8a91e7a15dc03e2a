"""Jobs with pickups that are built otherwise than coil beside coil, simulated, with the truth of each.

Task: a bench with a bridge pickup of one coil and another of the construction, recorded by one kind of
gesture into a job folder that says how it is built, or does not. Signs: as in dsp.model.signs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from new_jobs import create_job
from simulator import builds
from simulator.conditions import ORDINARY, Conditions
from simulator.gauges import Gauge
from simulator.scenes import random_bench
from simulator.workbench import Bench, On

from capture.job import Member, Pickup, Setting
from capture.log import AnyEntry, Ohms, Pole, TakeFields
from capture.log.entries import new_entry
from capture.log.writing import append_entry
from capture.takes.folder import JobFolder
from reports.verdict.building import judge

RATE = 16_000
CALM = replace(ORDINARY, humbucker_rate=0.0, magnetised_rate=0.0, careless_rate=0.0)
"""As ordinary benches, but for tools that are magnets and hands that pluck along the body, which other
studies are about; the bridge has one coil."""
OTHER = "neck"
ENDS = (("violet", "orange"), ("brown", "grey"))
"""The ends of each coil of a loose pickup, in the order of their names turned or not by draw."""


@dataclass(eq=False)
class Made:
    """A job with what is true of it; ``facts`` goes by construction."""

    folder: JobFolder
    bench: Bench
    rng: np.random.Generator
    facts: dict[str, Any] = field(default_factory=dict)

    def take(self, audio: np.ndarray, **said: Any) -> None:
        """Record a take."""
        path = self.folder.path / "new.wav"
        soundfile.write(path, audio, RATE, subtype="PCM_24")
        self.folder.add_take(path, TakeFields(**said))

    def judged(self) -> Any:
        """The verdict."""
        return judge(JobFolder.open(self.folder.path)).verdict

    def both(self, string: str) -> bool:
        """Truth: whether the two add on a string."""
        return self.bench.s_under("bridge", string) == self.bench.s_under(OTHER, string)


def job_with(
    place: Path,
    rng: np.random.Generator,
    make: Callable[[Any], Any],
    *,
    bass: bool = False,
    gauges: tuple[Gauge, ...] | None = None,
    said: dict[str, Any],
    settings: tuple[Setting, ...] = (),
    conditions: Conditions = CALM,
) -> Made:
    """A job whose second pickup is made by ``make``; ``said``: what job.toml says of it besides its name."""
    bench = random_bench(rng, conditions=conditions, pickups=2, bass=bass, gauges=gauges, mains_hz=50)
    bench = builds.with_pickup(bench, make(bench.pickup(OTHER)))
    both = Setting(name="both", on=(Member(pickup="bridge"), Member(pickup=OTHER)))
    loose = said.get("fitted") is False
    folder = create_job(
        place / "job",
        title="construction",
        pickups=[
            Pickup(name="bridge", centre_mm=bench.pickup("bridge").centre_mm),
            Pickup(name=OTHER, centre_mm=None if loose else bench.pickup(OTHER).centre_mm, **said),
        ],
        settings=settings or (both,),
        scale_mm=bench.scale_mm,
        mains_hz=50,
        strings=[s.name for s in bench.strings],
    )
    return Made(folder, bench, rng)


def paired(made: Made, strings: tuple[str, ...]) -> None:
    """A split check, and a pluck on each string with a pickup on each input."""
    bench, rng = made.bench, made.rng
    first = strings[0]
    split = bench.split_check(rng, "bridge", first, rate=RATE)
    made.take(split, gesture="pluck", inputs=["bridge", "bridge"], string=first)
    for string in strings:
        audio = bench.paired(rng, "bridge", OTHER, string, rate=RATE)
        made.take(audio, gesture="pluck", inputs=["bridge", OTHER], string=string)


def in_turn(made: Made, strings: tuple[str, ...]) -> None:
    """Presses on one pickup and on the other, each string in turn."""
    for string in strings:
        for name in ("bridge", OTHER):
            audio = made.bench.press(made.rng, name, string, rate=RATE, lead_in_s=0.8)
            made.take(audio, gesture="press", inputs=[name], string=string)


def lifts(made: Made, poles: tuple[dict[str, Any], ...] = ({}, {}, {}), **more: Any) -> None:
    """Lifts on the bridge, and one at each of ``poles`` of the other: its coil and string."""
    for _ in poles:
        audio = made.bench.lift(made.rng, "bridge", rate=RATE)
        made.take(audio, gesture="lift", inputs=["bridge"], tool="steel rod")
    for pole in poles:
        audio = made.bench.lift(made.rng, OTHER, rate=RATE, **pole)
        made.take(audio, gesture="lift", inputs=[OTHER], tool="steel rod", **pole, **more)


def hum(made: Made) -> None:
    """Hum with a pickup on each input, and on each setting in turn, at two places."""
    for place in ("on the bench", "by the window"):
        audio = made.bench.hum(made.rng, ("bridge", OTHER), rate=RATE)
        made.take(audio, gesture="hum", inputs=["bridge", OTHER], where=place)
        for name, wanted in (("bridge", "bridge"), (OTHER, OTHER), ("both", ("bridge", OTHER))):
            audio = made.bench.hum(made.rng, (wanted,), rate=RATE)
            made.take(audio, gesture="hum", inputs=[name], where=place)


def loose_leads(made: Made, *, own_poles: bool = False) -> None:
    """Ohms of a loose pickup with four leads, and two lifts on each of its coils and on the bridge.

    ``own_poles``: each coil is lifted from a row of its own, and not from the one row of a stack.
    ``facts["hot"]``: the end of each coil that is hot as the bench is wired; ``facts["cold"]``: the other.
    """
    turned = made.rng.integers(0, 2, size=2)
    hot = tuple(ends[int(t)] for ends, t in zip(ENDS, turned, strict=True))
    cold = tuple(ends[1 - int(t)] for ends, t in zip(ENDS, turned, strict=True))
    made.facts |= {"hot": hot, "cold": cold}

    def log(entry: AnyEntry) -> None:
        append_entry(made.folder.path, entry)

    for ends, kohm in zip(ENDS, (4.1, 4.0), strict=True):
        log(new_entry(Ohms, pickup=OTHER, between=ends, kohm=kohm))
    for a in ENDS[0]:
        for b in ENDS[1]:
            log(new_entry(Ohms, pickup=OTHER, between=(a, b)))
    for _ in range(2):
        audio = made.bench.lift(made.rng, "bridge", rate=RATE)
        made.take(audio, gesture="lift", inputs=["bridge"], tool="steel rod")
        for k in (1, 2):
            audio = made.bench.lift(made.rng, On(OTHER, k), coil=k if own_poles else 1, rate=RATE)
            leads = {"pickup": OTHER, "hot": hot[k - 1], "ground": cold[k - 1]}
            made.take(audio, gesture="lift", inputs=[leads], tool="steel rod")


def compass(made: Made, **said: Any) -> None:
    """A compass reading of the other pickup."""
    append_entry(made.folder.path, new_entry(Pole, pickup=OTHER, **said))


def joint_is_right(made: Made, roles: dict[str, str], chain: tuple[str, str, str, str]) -> tuple[bool, bool]:
    """Whether coils joined so cancel hum, and whether the pickup is then in phase with the bridge."""
    assert roles[chain[0]] == "hot"
    coils = made.bench.pickup(OTHER).coils
    w, s = [], 0.0
    for first, second in (chain[:2], chain[2:]):
        k = next(n for n, ends in enumerate(ENDS) if {first, second} == set(ends))
        over = 1 if first == made.facts["hot"][k] else -1
        w.append(over * coils[k].signs.winding)
        s += over * coils[k].signs.string * coils[k].balance
    return w[0] == -w[1], s * made.bench.s("bridge") > 0
