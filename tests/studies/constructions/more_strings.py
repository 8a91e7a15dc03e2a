"""Rows of more strings and other scales: seven, eight, baritone, lap steel, fan frets, slants, pairs."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
from cases import Case, Outcome
from circuits import bench_of, outcome, paired, pickup
from construction_jobs import CALM, Made, in_turn, job_with
from construction_jobs import paired as paired_on
from judging_jobs import RATE, JobOnDisk
from pickups import row, whole_phase
from simulator import builds
from simulator.conditions import Span
from simulator.gauges import BARITONE, BASS, EIGHT, FIVE, GUITAR, LAP_STEEL, SEVEN, Gauge
from simulator.workbench import Bench


def slanted(rng: np.random.Generator, home: Path, *, fan: bool, slant: bool) -> Outcome:
    """Fan frets, a neck pickup on a slant, or both, entered so: each string has its scale and place."""
    bench = bench_of(rng)
    names = [s.name for s in bench.strings]
    lean = float(rng.uniform(15, 30)) if slant else 0.0
    scales = (bench.scale_mm + (38.0 if fan else 0.0), bench.scale_mm)
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


def in_pairs(rng: np.random.Generator, home: Path) -> Outcome:
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


def _strung(
    place: Path,
    rng: np.random.Generator,
    *,
    gauges: tuple[Gauge, ...],
    scale_mm: Span,
    played: tuple[str, ...],
    pressed: bool = False,
    bass: bool = False,
    distance_mm: Span = CALM.distance_mm,
) -> Made:
    conditions = replace(CALM, scale_mm=scale_mm, bass_scale_mm=scale_mm, distance_mm=distance_mm)
    made = job_with(
        place, rng, builds.single, said={"coils": 1}, bass=bass, gauges=gauges, conditions=conditions
    )
    (in_turn if pressed else paired_on)(made, played * 2)
    return made


def _strings(construction: str, gesture: str = "paired plucks", **said: object) -> Case:
    make = partial(_strung, pressed=gesture != "paired plucks", **said)
    return row(construction, "strings, scale", gesture, make, whole_phase)


def _fan(construction: str, entered: str, *, fan: bool, slant: bool) -> Case:
    return Case(
        construction,
        entered,
        "paired plucks",
        lambda place, rng: slanted(rng, place, fan=fan, slant=slant),
    )


BARITONE_SAID = {"gauges": BARITONE, "scale_mm": (680.0, 692.0), "played": ("B1", "A2", "D3")}
FIVE_SAID = {"gauges": FIVE, "scale_mm": (838.0, 889.0), "played": ("B0", "D2", "G2"), "bass": True}
LAP_SAID = {
    "gauges": LAP_STEEL,
    "scale_mm": (560.0, 600.0),
    "played": ("C3", "G3", "A3"),
    "distance_mm": (3.5, 6.0),
}
CASES = (
    _strings("six strings, as usual", gauges=GUITAR, scale_mm=CALM.scale_mm, played=("E2", "D3", "G3")),
    _strings(
        "bass, as usual", gauges=BASS, scale_mm=CALM.bass_scale_mm, played=("E1", "D2", "G2"), bass=True
    ),
    _strings("seven strings", gauges=SEVEN, scale_mm=(640.0, 686.0), played=("B1", "D3", "G3")),
    _strings("eight strings", gauges=EIGHT, scale_mm=(680.0, 720.0), played=("F#1", "D3", "G3")),
    _strings("baritone, 686 mm", **BARITONE_SAID),
    _strings("baritone, 686 mm", "presses in turn", **BARITONE_SAID),
    _strings("bass, five strings", **FIVE_SAID),
    _strings("bass, five strings", "presses in turn", **FIVE_SAID),
    _strings("lap steel, strings high above", **LAP_SAID),
    _strings("lap steel, strings high above", "presses in turn", **LAP_SAID),
    _fan("fan frets", "scale_mm as a list", fan=True, slant=False),
    _fan("neck on a slant", "centre_mm as a list", fan=False, slant=True),
    _fan("fan frets, neck on a slant", "both lists", fan=True, slant=True),
    Case(
        "twelve in pairs, both ring",
        "strings in lists",
        "paired plucks",
        lambda place, rng: in_pairs(rng, place),
    ),
)
