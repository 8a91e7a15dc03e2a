"""Rows of circuits, sources and the shelf: what else than a selector can be in the way of two pickups.

A stage is a gain of either sign, a piezo the magnetic pickup's own sound at an angle that goes with
frequency; of the latter an octave that is told is right where the angle there says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path
from typing import Literal

import numpy as np
from cases import Case, Outcome, counted
from judging_jobs import RATE, JobOnDisk
from simulator import takes
from simulator.circuits import Join
from simulator.conditions import Conditions
from simulator.hands import draw_lift
from simulator.scenes import random_bench
from simulator.workbench import Bench, On, Wanted

from capture.takes.folder import JobFolder
from reports.model.verdict import standing_of
from reports.verdict.blends import BlendRow
from reports.verdict.shelf import relation_from

NECK = '"neck"'
"""The neck as wired, in a list of job.toml."""
LOOSE = 'fitted = false\nhot = "tagged"\nground = "other"\nshield = "own lead"\n'
COIL = '[[pickup]]\nname = "coil"\nshelf = "coil A"\n'
BOTH = '[[setting]]\nname = "both"\non = ["bridge", {neck}]\n{more}'
Proof = Literal["none", "bypass thrown", "before and behind", "known signal"]
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


def on_the_shelf(rng: np.random.Generator, home: Path, *, staple: bool) -> Outcome:
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


def through_a_sum(rng: np.random.Generator, home: Path, *, join: str) -> Outcome:
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


def behind_a_stage(rng: np.random.Generator, home: Path, *, proof: Proof) -> Outcome:
    """The bridge comes through a stage of unknown sign, the neck does not; ``proof`` of that sign."""
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
    if proof == "known signal":
        job.log("check", what="bypass", pickup="bridge", inverts=stage < 0)
    for string in ("D3", "G3") if proof == "before and behind" else ():
        audio = bench.paired(rng, "bridge", "bridge", string, rate=RATE) * [stage, 1]
        job.take(audio, ["bridge", "bypassed"], string=string)
    for string in ("E2", "A2") if proof == "bypass thrown" else ():
        audio = bench.pluck(rng, "bridge", string, rate=RATE, ringing_s=3.0)
        at = int((1.4 + 0.4 * rng.random()) * RATE)
        gain = np.where(np.arange(len(audio)) < at, stage, rng.uniform(0.4, 1.6))[:, np.newaxis]
        pop = np.zeros_like(audio)
        pop[at : at + 8] += 0.02
        job.take(audio * gain + pop, [["bridge", "bypassed"]], gesture="switch", string=string)
    return outcome(job, bench.in_phase("bridge", "neck"))


def mixed_bench(rng: np.random.Generator, home: Path, *, join: Join) -> tuple[Bench, JobOnDisk, Wanted]:
    """Three single coils, the middle and the neck in a group of a position that has all three."""
    conditions = Conditions(humbucker_rate=0.0, careless_rate=0.0)
    bench = random_bench(rng, conditions=conditions, pickups=3, mains_hz=50)
    on = '["bridge", {pickup = "middle", group = "g"}, {pickup = "neck", group = "g"}]'
    each = "".join(pickup(p.name, f"centre_mm = {p.centre_mm:.1f}\n") for p in bench.pickups)
    setting = f'[[setting]]\nname = "mixed"\non = {on}\njoin = "{join}"\n'
    toml = f"format = 1\nscale_mm = {bench.scale_mm:.1f}\nmains_hz = 50\n{each}{setting}"
    return bench, JobOnDisk(home / "job", toml), ("bridge", On("middle", group=1), On("neck", group=1))


def mixed_plucked(rng: np.random.Generator, home: Path, *, join: Join) -> Outcome:
    """Plucks on each of the three alone and on the mixed position, in turn: is it full?"""
    bench, job, mixed = mixed_bench(rng, home, join=join)
    for string in ("A2", "D3") * 3:
        for name in ("bridge", "middle", "neck", "mixed"):
            wanted = mixed if name == "mixed" else name
            audio = bench.pluck(rng, wanted, string, join=join, rate=RATE, lead_in_s=0.8)
            job.take(audio, [name], string=string)
    verdict = job.verdict
    for pair in verdict.pairs:
        if pair.standing == "settled" and (pair.phase == "in phase") != bench.in_phase(pair.a, pair.b):
            return "wrong"
    row = next(s for s in verdict.settings if s.name == "mixed")
    full = len({bench.s(p.name) for p in bench.pickups}) == 1
    standing = "unsettled" if row.sounds == "unknown" else row.standing
    return counted((str(standing), (row.sounds == "full") == full))


def mixed_humming(rng: np.random.Generator, home: Path) -> Outcome:
    """Hum of each alone and of the mixed position in parallel, at two places: does it cancel there?"""
    bench, job, mixed = mixed_bench(rng, home, join="parallel")
    inside = bench.setting(mixed)
    for place in ("on the bench", "by the window"):
        for name in ("bridge", "middle", "neck", "mixed"):
            setting = inside if name == "mixed" else bench.setting(name)
            audio = takes.hum(rng, [setting], bench.around(rate=RATE))
            job.take(audio, [name], gesture="hum", where=place)
    row = next(s for s in job.verdict.settings if s.name == "mixed")
    p = row.p_hum_cancels
    cancels = bench.w("middle") == bench.w("neck") != bench.w("bridge")
    return counted((standing_of(p), p is not None and (p > 0.5) == cancels))


def stereo(rng: np.random.Generator, home: Path) -> Outcome:
    """A stereo jack: both fitted pickups at once on two inputs."""
    bench = bench_of(rng)
    toml = f'format = 1\nstereo = ["bridge", "neck"]\n{pickup("bridge")}{pickup("neck")}'
    return paired(rng, bench, JobOnDisk(home / "job", toml), lambda string: bench)


def outcome(job: JobOnDisk, in_phase: bool) -> Outcome:
    """How the pair of bridge and neck came out."""
    pair = next(p for p in job.verdict.pairs if {p.a, p.b} == {"bridge", "neck"})
    return counted((pair.standing, (pair.phase == "in phase") == in_phase))


def beside_a_piezo(rng: np.random.Generator, home: Path) -> Iterator[Outcome]:
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
            yield counted(("settled", bool(np.max(inside * says) > 0.35)))
        else:
            yield "unsettled"


def paired(rng: np.random.Generator, bench: Bench, job: JobOnDisk, under: Callable[[str], Bench]) -> Outcome:
    """A split check and a paired pluck on each of two strings."""
    job.take(bench.split_check(rng, "bridge", "D3", rate=RATE), ["bridge", "bridge"], string="D3")
    for string in ("D3", "G3"):
        job.take(
            under(string).paired(rng, "bridge", "neck", string, rate=RATE), ["bridge", "neck"], string=string
        )
    return outcome(job, bench.in_phase("bridge", "neck"))


Make = Callable[[np.random.Generator, Path], Outcome | Iterable[Outcome]]


def row(construction: str, entered: str, gesture: str, make: Make, wanted: str = "right") -> Case:
    """A row of the table."""
    return Case(construction, entered, gesture, lambda place, rng: make(rng, place), wanted)


CASES = (
    row("shelf, two jobs", "shelf, tag, staple", "lifts", partial(on_the_shelf, staple=True)),
    row("shelf, two jobs", "shelf, tag", "lifts", partial(on_the_shelf, staple=False)),
    row(
        "both on in parallel, one perhaps reversed",
        "reversed",
        "lifts, tapped",
        partial(through_a_sum, join="parallel"),
    ),
    row(
        "both on in series, one perhaps reversed",
        "reversed",
        "lifts, tapped",
        partial(through_a_sum, join="series"),
    ),
    row(
        "one behind an active stage",
        "active",
        "paired plucks",
        partial(behind_a_stage, proof="none"),
        "unsettled",
    ),
    row(
        "one behind an active stage",
        "active",
        "and a bypass thrown, two strings",
        partial(behind_a_stage, proof="bypass thrown"),
    ),
    row(
        "one behind an active stage",
        "active",
        "and plucks before and behind it",
        partial(behind_a_stage, proof="before and behind"),
    ),
    row(
        "one behind an active stage",
        "active",
        "and a known signal",
        partial(behind_a_stage, proof="known signal"),
    ),
    row(
        "mixed: bridge before middle beside neck",
        "group, series",
        "plucks in turn",
        partial(mixed_plucked, join="series"),
    ),
    row(
        "mixed: bridge beside middle before neck",
        "group",
        "plucks in turn",
        partial(mixed_plucked, join="parallel"),
    ),
    row("mixed: bridge beside middle before neck", "group", "hum, two places", mixed_humming),
    row("stereo jack", "stereo", "paired plucks", stereo),
    row("piezo beside magnetic, octaves", "source", "paired plucks", beside_a_piezo),
)
