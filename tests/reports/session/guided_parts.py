"""Jobs and sessions for the tests of guided takes: a bench of the simulator, and a job that describes it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from guitarist import Blocks, Guitarist, Reader
from new_jobs import create_job
from simulator.scenes import random_bench
from simulator.workbench import Bench

from capture.job import Member, Pickup, Setting
from capture.takes.folder import JobFolder
from reports.session.options import RecordingOptions
from reports.session.session import Session, SessionResult

SLOW_RATE = 16_000
"""Enough for every gesture, and soon computed."""


def bench_of(seed: int) -> Bench:
    return random_bench(np.random.default_rng(seed), pickups=3)


def pickup(bench: Bench, name: str, **said: object) -> Pickup:
    spec = bench.pickup(name)
    return Pickup(name=name, centre_mm=spec.centre_mm, coils=len(spec.coils), **said)


def loose_neck(place: Path, bench: Bench) -> JobFolder:
    """A bridge pickup that is fitted, and a new one for the neck on clips."""
    return create_job(
        place / "job",
        title="loose neck",
        scale_mm=bench.scale_mm,
        pickups=[pickup(bench, "bridge"), pickup(bench, "neck", fitted=False, hot="violet", ground="grey")],
        settings=[Setting(name="both", on=(Member(pickup="bridge"), Member(pickup="neck")))],
    )


def closed_guitar(place: Path, bench: Bench, *, quiet: bool = False) -> JobFolder:
    """Three pickups, five settings, nothing but the jack."""
    return create_job(
        place / "job",
        title="closed guitar",
        scale_mm=bench.scale_mm,
        pickups=[pickup(bench, name) for name in ("bridge", "middle", "neck")],
        settings=[
            Setting(name="rear", on=(Member(pickup="bridge"), Member(pickup="middle"))),
            Setting(name="front", on=(Member(pickup="middle"), Member(pickup="neck")), quiet=quiet),
        ],
    )


def closed_pair(place: Path, bench: Bench) -> JobFolder:
    """Two pickups, a selector with both between them, nothing but the jack."""
    names = ("bridge", "neck")
    return create_job(
        place / "job",
        title="closed guitar, two pickups",
        scale_mm=bench.scale_mm,
        pickups=[pickup(bench, name) for name in names],
        settings=[Setting(name="both", on=tuple(Member(pickup=name) for name in names))],
        strings=tuple(s.name for s in bench.strings),
    )


def guided(
    folder: JobFolder, guitarist: Guitarist, *, face: Reader | None = None, **said: object
) -> tuple[SessionResult, Reader]:
    """Run a session without a clock."""
    shown = face or Reader(Blocks(guitarist), guitarist)
    options = RecordingOptions(**{"inputs": 2, "rig": "box", **said})
    return Session(folder.path, options).run(shown.stream, shown), shown


def player(bench: Bench, folder: JobFolder, *, seed: int = 1, kind: type[Guitarist] = Guitarist) -> Guitarist:
    return kind(bench, folder.job, np.random.default_rng(seed), rate=SLOW_RATE)
