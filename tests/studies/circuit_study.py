"""Circuits, strings, sources and the shelf: how many simulated jobs are settled rightly, wrongly, or not.

    python tests/studies/circuit_study.py [--jobs 12]

Each row is a construction with the gesture that is to tell of it; the truth is the simulator's. A stage is a
gain of either sign, a piezo the magnetic pickup's own sound at an angle that goes with frequency; of the
latter a band that is told is right where the angle there says so.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import environment
import numpy as np
from simulator import takes
from simulator.conditions import Conditions
from simulator.hands import draw_lift
from simulator.scenes import random_bench
from simulator.workbench import Bench, On

sys.path[:0] = [str(Path(__file__).parents[1] / "reports" / "verdict")]
from judging_jobs import RATE, JobOnDisk

from capture.takes.folder import JobFolder
from reports.verdict.blends import BlendRow
from reports.verdict.shelf import relation_from

NECK = '"neck"'
"""The neck as wired, in a list of job.toml."""
LOOSE = 'fitted = false\nhot = "tagged"\nground = "other"\nshield = "own lead"\n'
COIL = '[[pickup]]\nname = "coil"\nshelf = "coil A"\n'
BOTH = '[[setting]]\nname = "both"\non = ["bridge", {neck}]\n{more}'
OUTCOMES = ("settled right", "settled wrong", "likely right", "likely wrong", "unsettled")
ACTIVE, PIEZO = "active = true\n", 'source = "piezo"\n'


def bench_of(rng: np.random.Generator, **said: object) -> Bench:
    """A bench of two single coils whose inputs agree."""
    conditions = Conditions(humbucker_rate=0.0, careless_rate=0.0)
    return random_bench(rng, conditions=conditions, pickups=2, inverted=(False, False), **said)


def pickup(name: str, more: str = "") -> str:
    """Lines of job.toml."""
    return f'[[pickup]]\nname = "{name}"\n{more}'


def lift_each(
    job: JobOnDisk, rng: np.random.Generator, bench: Bench, on: dict[str, tuple[str, object]], *, day: str
) -> None:
    """Three lifts of each: the name in the job, the bench's pickup, and the setting that it is lifted in."""
    for name, (real, setting) in on.items():
        for _ in range(3):
            where, more = (name, {}) if setting is None else (str(setting), {"tapped": name})
            audio = bench.lift(rng, real, rate=RATE)
            job.take(audio, [where], gesture="lift", tool="rod", rig="box", at=f"{day}T10:00:00Z", **more)


def checked(job: JobOnDisk, *, staple: bool) -> None:
    """What a careful bench has proved."""
    job.log("check", what="clip lead", tip="red", kohm=0.0)
    if staple:
        job.log("check", what="tool", tool="rod", staple="not lifted")


def on_the_shelf(rng: np.random.Generator, home: Path, *, staple: bool) -> str:
    """Monday's loose neck and Thursday's bridge, each lifted beside one coil; a neck of two benches."""
    bench = bench_of(rng)
    coil, bridge, neck = (int(s) for s in rng.choice((-1, 1), 3))
    real = {1: "bridge", -1: "neck"} if bench.s("bridge") > 0 else {1: "neck", -1: "bridge"}
    if bench.in_phase("bridge", "neck"):
        return on_the_shelf(rng, home, staple=staple)
    monday = JobOnDisk(home / "m", f"format = 1\n{COIL}{pickup('neck', LOOSE)}")
    lift_each(monday, rng, bench, {"coil": (real[coil], None), "neck": (real[neck], None)}, day="2026-11-23")
    monday.log("tag", pickup="neck", take=f"t{monday.entries:03d}")
    checked(monday, staple=staple)
    toml = f"format = 1\n{pickup('bridge')}{COIL}{pickup('neck', LOOSE)}{BOTH.format(neck=NECK, more='')}"
    thursday = JobOnDisk(home / "t", toml)
    lift_each(
        thursday, rng, bench, {"coil": (real[coil], None), "bridge": (real[bridge], None)}, day="2026-11-26"
    )
    checked(thursday, staple=staple)
    entry = relation_from(JobFolder.open(monday.home), "neck", shelf="coil A", called="neck")
    days = {"id": "k900", "at": "2026-11-26T10:00:00Z", "seen": "2026-11-23"}
    thursday.log(**{**entry.line(), **days})
    return outcome(thursday, bridge == neck)


def through_a_sum(rng: np.random.Generator, home: Path, *, join: str) -> str:
    """Both pickups on in one position, one perhaps reversed, and the tool at each one's pole."""
    bench, turned = bench_of(rng), bool(rng.random() < 0.5)
    neck = "{pickup = 'neck', reversed = true}" if turned else NECK
    setting_lines = BOTH.format(neck=neck, more=f'join = "{join}"')
    toml = f"format = 1\n{pickup('bridge')}{pickup('neck')}{setting_lines}"
    job = JobOnDisk(home / "job", toml)
    setting = bench.setting(
        ("bridge", On("neck", reversed=turned)), join="series" if join == "series" else "parallel"
    )
    for _ in range(3):
        for member, name in enumerate(("bridge", "neck")):
            audio = takes.lift(
                rng,
                setting,
                [draw_lift(rng, bench.conditions, at_s=0.0)],
                bench.around(rate=RATE, for_tool=True),
                tool=bench.tool,
                hand=bench._hand(rng),
                member=member,
            )
            job.take(audio, ["both"], gesture="lift", tool="rod", tapped=name)
    checked(job, staple=True)
    return outcome(job, bench.in_phase("bridge", "neck"))


def behind_a_stage(rng: np.random.Generator, home: Path, *, bypass: bool) -> str:
    """The bridge comes through a stage of unknown sign, the neck does not; its bypass is thrown or not."""
    bench, stage = bench_of(rng), int(rng.choice((-1, 1)))
    toml = (
        f"format = 1\n{pickup('bridge', ACTIVE)}{pickup('neck')}"
        '[[setting]]\nname = "bypassed"\non = ["bridge"]\nbypass = true\n'
    )
    job = JobOnDisk(home / "job", toml)
    job.take(bench.split_check(rng, "bridge", "D3", rate=RATE), ["bridge", "bridge"], string="D3")
    for string in ("D3", "G3"):
        audio = bench.paired(rng, "bridge", "neck", string, rate=RATE) * [stage, 1]
        job.take(audio, ["bridge", "neck"], string=string)
    for string in ("E2", "A2") if bypass else ():
        audio = bench.pluck(rng, "bridge", string, rate=RATE, ringing_s=3.0)
        at = int((1.4 + 0.4 * rng.random()) * RATE)
        gain = np.where(np.arange(len(audio)) < at, stage, rng.uniform(0.4, 1.6))[:, np.newaxis]
        pop = np.zeros_like(audio)
        pop[at : at + 8] += 0.02
        job.take(audio * gain + pop, [["bridge", "bypassed"]], gesture="switch", string=string)
    return outcome(job, bench.in_phase("bridge", "neck"))


def stereo(rng: np.random.Generator, home: Path) -> str:
    """A stereo jack: both fitted pickups at once on two inputs."""
    bench = bench_of(rng)
    toml = f'format = 1\nstereo = ["bridge", "neck"]\n{pickup("bridge")}{pickup("neck")}'
    return paired(rng, bench, JobOnDisk(home / "job", toml), lambda string: bench)


def slanted(rng: np.random.Generator, home: Path) -> str:
    """Fan frets and a neck pickup on a slant, entered so: each string has a scale and a place of its own."""
    bench = bench_of(rng)
    names = [s.name for s in bench.strings]
    lean, scales = float(rng.uniform(15, 30)), (bench.scale_mm + 38.0, bench.scale_mm)
    each = {n: k / (len(names) - 1) for k, n in enumerate(names)}
    bridge, neck = (bench.pickup(n).centre_mm for n in ("bridge", "neck"))

    def under(string: str) -> Bench:
        """The bench as this string meets it; lengths as parts of its own scale."""
        part = each[string]
        longer = (scales[0] + (scales[1] - scales[0]) * part) / bench.scale_mm
        place = neck - lean / 2 + lean * part
        moved = (
            replace(bench.pickup("bridge"), centre_mm=bridge / longer),
            replace(bench.pickup("neck"), centre_mm=place / longer),
        )
        return replace(bench, pickups=moved)

    listed = ", ".join(f'"{name}"' for name in names)
    places = (f"centre_mm = {bridge:.1f}\n", f"centre_mm = [{neck - lean / 2:.1f}, {neck + lean / 2:.1f}]\n")
    toml = (
        f"format = 1\nscale_mm = [{scales[0]:.1f}, {scales[1]:.1f}]\nstrings = [{listed}]\n"
        f"{pickup('bridge', places[0])}{pickup('neck', places[1])}"
    )
    return paired(rng, bench, JobOnDisk(home / "job", toml), under)


def in_pairs(rng: np.random.Generator, home: Path) -> str:
    """Strings in pairs, the partner rings along: a second pluck of the string an octave up, or in unison."""
    bench = bench_of(rng)
    partner = {"D3": "D4", "G3": "G4"}
    courses = '[["E2", "E3"], ["A2", "A3"], ["D3", "D4"], ["G3", "G4"], ["B3", "B3"], ["E4", "E4"]]'
    toml = f"format = 1\nstrings = {courses}\n{pickup('bridge')}{pickup('neck')}"
    job = JobOnDisk(home / "job", toml)
    job.take(bench.split_check(rng, "bridge", "D3", rate=RATE), ["bridge", "bridge"], string="D3")
    for string in partner:
        main = bench.paired(rng, "bridge", "neck", string, rate=RATE)
        octave = bench.paired(rng, "bridge", "neck", string, fret=12, rate=RATE)
        job.take(0.6 * main + 0.4 * octave[: len(main)], ["bridge", "neck"], string=string)
    return outcome(job, bench.in_phase("bridge", "neck"))


def paired(rng: np.random.Generator, bench: Bench, job: JobOnDisk, under: Callable[[str], Bench]) -> str:
    """A split check and a paired pluck on each of two strings."""
    job.take(bench.split_check(rng, "bridge", "D3", rate=RATE), ["bridge", "bridge"], string="D3")
    for string in ("D3", "G3"):
        job.take(
            under(string).paired(rng, "bridge", "neck", string, rate=RATE), ["bridge", "neck"], string=string
        )
    return outcome(job, bench.in_phase("bridge", "neck"))


def outcome(job: JobOnDisk, in_phase: bool) -> str:
    """How the pair of bridge and neck came out."""
    pair = next(p for p in job.verdict.pairs if {p.a, p.b} == {"bridge", "neck"})
    if pair.standing == "unsettled":
        return "unsettled"
    return f"{pair.standing} {'right' if (pair.phase == 'in phase') == in_phase else 'wrong'}"


def beside_a_piezo(rng: np.random.Generator, home: Path) -> Iterator[str]:
    """Each octave that is told, against the angle that the piezo was given there."""
    bench = bench_of(rng)
    knots = np.log2([80, 320, 1280, 5120])
    degrees = np.cumsum(rng.uniform(-120, 120, 4))
    toml = f"format = 1\n{pickup('magnetic')}{pickup('saddle', PIEZO)}"
    job = JobOnDisk(home / "job", toml)
    job.take(bench.split_check(rng, "neck", "D3", rate=RATE), ["magnetic", "magnetic"], string="D3")
    for string in ("D3", "G3") * 2:
        two = bench.paired(rng, "neck", "neck", string, rate=RATE)
        spectrum = np.fft.rfft(two[:, 1], 4 * len(two))
        hz = np.maximum(np.fft.rfftfreq(4 * len(two), 1 / RATE), 1)
        spectrum *= np.exp(1j * np.radians(np.interp(np.log2(hz), knots, degrees)))
        two[:, 1] = np.fft.irfft(spectrum)[: len(two)]
        job.take(two, ["magnetic", "saddle"], string=string)
    rows: tuple[BlendRow, ...] = job.verdict.blends
    for band in (b for row in rows for b in row.bands):
        inside = np.cos(
            np.radians(np.interp(np.log2(np.linspace(band.low_hz, band.high_hz, 9)), knots, degrees))
        )
        if band.sense in ("add", "take away"):
            says = 1 if band.sense == "add" else -1
            yield "settled right" if np.max(inside * says) > 0.35 else "settled wrong"
        else:
            yield "unsettled"


ROWS: dict[str, Callable[[np.random.Generator, Path], str | Iterator[str]]] = {
    "shelf, two jobs, tag and staple tried | lift": lambda r, h: on_the_shelf(r, h, staple=True),
    "shelf, two jobs, tool not tried | lift": lambda r, h: on_the_shelf(r, h, staple=False),
    "both on in parallel, one perhaps reversed | lift": lambda r, h: through_a_sum(r, h, join="parallel"),
    "both on in series, one perhaps reversed | lift": lambda r, h: through_a_sum(r, h, join="series"),
    "one behind a stage, nothing proved | paired pluck": lambda r, h: behind_a_stage(r, h, bypass=False),
    "one behind a stage, bypass thrown | pluck, switch": lambda r, h: behind_a_stage(r, h, bypass=True),
    "stereo jack | paired pluck": stereo,
    "fan frets, neck on a slant | paired pluck": slanted,
    "strings in pairs, both ring | paired pluck": in_pairs,
    "piezo beside magnetic, octaves | paired pluck": beside_a_piezo,
}


def main() -> None:
    """Print the table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--jobs", type=int, default=12)
    jobs = ask.parse_args().jobs
    print(f"| construction | gesture | {' | '.join(OUTCOMES)} |\n|{'---|' * (2 + len(OUTCOMES))}")
    for number, (name, made) in enumerate(ROWS.items()):
        counted: Counter[str] = Counter()
        for seed in range(jobs):
            with tempfile.TemporaryDirectory() as home:
                found = made(np.random.default_rng([19, number, seed]), Path(home))
                counted.update((found,) if isinstance(found, str) else found)
        print(f"| {name} | {' | '.join(str(counted[o]) for o in OUTCOMES)} |", flush=True)


if __name__ == "__main__":
    main()
