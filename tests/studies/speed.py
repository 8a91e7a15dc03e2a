"""How fast it is, as ratios against plain library calls in the same run; --before: beside another checkout.

    python tests/studies/speed.py [--before CHECKOUT] [--runs 5]

Start: whole processes against bare Python. A job: hearing and judging it against only reading its files with
soundfile and one FFT of each channel; each kind of take likewise, by one. Growth: hearing one long take, and
judging many. Benches: judging, and choosing the next take, for three pickups with many takes and for eight
with twelve settings. Every figure is a median, each run in a process of its own. Prints one Markdown table.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from environment import ROOT

if TYPE_CHECKING:
    from capture.takes.folder import JobFolder
    from reports.evidence.results import TakeResult

HERE = Path(__file__).resolve()
RATE = 48_000
MAIN = "from reports.cli import main; main()"
MANY = (20, 200, 2000)
LONG_S = (10, 40, 160)
READINGS = (20, 80, 160)
LEAST_OF = 9
KINDS = ("paired", "plucks in turn", "hum", "switch")
EIGHT = ("one", "two", "three", "four", "five", "six", "seven", "eight")
OFF, WARM = "off", "warm"


def main() -> None:
    """Make the jobs, measure, print."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--before", type=Path)
    ask.add_argument("--runs", type=int, default=5)
    ask.add_argument("--part", help=argparse.SUPPRESS)
    ask.add_argument("--work", type=Path, help=argparse.SUPPRESS)
    said = ask.parse_args()
    if said.part:
        print(json.dumps(PARTS[said.part](said.work)))
        return
    trees = {"now": ROOT} | ({"before": said.before.resolve()} if said.before else {})
    with tempfile.TemporaryDirectory() as place:
        work = Path(place)
        make_jobs(work)
        found = {name: measured(tree, work / name, work, said.runs) for name, tree in trees.items()}
    print(f"{time.strftime('%Y-%m-%d')}, {os.cpu_count()} processors, medians of {said.runs}.\n")
    print("| what | " + " | ".join(f"{name}, s | {name}, ratio" for name in found) + " |")
    print("|---" * (1 + 2 * len(found)) + "|")
    for what in found["now"]:
        cells = []
        for figures in found.values():
            seconds, base = figures.get(what, (None, None))
            cells += (
                ["-", "-"]
                if seconds is None
                else [f"{seconds:.3f}", "1" if not base else f"{seconds / base:.1f}"]
            )
        print(f"| {what} | {' | '.join(cells)} |")


def measured(tree: Path, shelf: Path, work: Path, runs: int) -> dict[str, tuple[float | None, float | None]]:
    """Seconds and what they are a ratio of, by name."""
    demo = ROOT / "recordings" / "demo"
    bare = timed([sys.executable, "-c", "pass"], tree, OFF, runs)
    found: dict[str, tuple[float | None, float | None]] = {"bare Python": (bare, None)}
    for name, words, cache in (
        ("coilwise --help", ("--help",), OFF),
        ("coilwise list DEMO", ("list", demo), OFF),
        ("coilwise verdict DEMO, nothing heard before", ("verdict", demo), OFF),
        ("coilwise verdict DEMO, heard before", ("verdict", demo), str(shelf)),
        ("coilwise report DEMO, drawn before", ("report", demo, "--to", work / "report"), str(shelf)),
    ):
        command = [sys.executable, "-c", MAIN, *map(str, words)]
        found[name] = (timed(command, tree, cache, runs), bare)
    for part in PARTS:
        each = [part_of(tree, part, work) for _ in range(max(1, runs // 2))]
        for name, (_, base) in each[0].items():
            middle = statistics.median(e[name][0] for e in each)
            found[name] = (middle, None if base is None else statistics.median(e[name][1] for e in each))
    return found


def timed(command: list[str], tree: Path, cache: str, runs: int) -> float:
    """Seconds of a whole process, after one run that is not counted."""
    spent = []
    for _ in range(runs + 1):
        start = time.perf_counter()
        subprocess.run(command, env=variables(tree, cache), capture_output=True, check=False, cwd=tree)
        spent.append(time.perf_counter() - start)
    return statistics.median(spent[1:])


def part_of(tree: Path, part: str, work: Path) -> dict[str, list[float]]:
    """Figures of one part, measured in a process by that checkout's own study: names inside differ."""
    own = (tree / "tests" / folder / HERE.name for folder in ("studies", "benchmarks"))
    script = next(path for path in own if path.exists())
    command = [sys.executable, str(script), "--part", part, "--work", str(work)]
    ran = subprocess.run(
        command, env=variables(tree, OFF), capture_output=True, text=True, check=True, cwd=tree
    )
    return json.loads(ran.stdout.splitlines()[-1])


def variables(tree: Path, cache: str) -> dict[str, str]:
    """Environment variables of a process of that checkout."""
    return {**os.environ, "PYTHONPATH": str(tree), "COILWISE_CACHE": cache, "COILWISE_CARE": "off"}


def make_jobs(work: Path) -> None:
    """A job of twenty takes, one take of each length, and the takes that many are made of."""
    import numpy as np
    import soundfile as sf
    from new_jobs import create_job
    from simulator.scenes import random_bench

    from capture.job import Pickup
    from capture.log import TakeFields
    from capture.takes.folder import JobFolder

    rng = np.random.default_rng(5)
    bench = random_bench(rng, pickups=2, mains_hz=50)
    pickups = [Pickup(name=p.name, centre_mm=p.centre_mm, coils=len(p.coils)) for p in bench.pickups]

    def begun(name: str) -> JobFolder:
        return create_job(work / name, title=name, scale_mm=bench.scale_mm, pickups=pickups)

    def add(job: JobFolder, audio: np.ndarray, **said: object) -> None:
        path = job.path / "new.wav"
        sf.write(path, audio, RATE, subtype="PCM_24")
        job.add_take(path, TakeFields(**said))
        path.unlink()

    twenty = begun("twenty")
    for k in range(20):
        string = ("D3", "G3")[k % 2]
        audio = bench.paired(rng, "bridge", "neck", string, rate=RATE)
        add(twenty, audio, gesture="pluck", inputs=["bridge", "neck"], string=string)
    for seconds in LONG_S:
        job = begun(f"long {seconds}")
        at = tuple(2.0 * k for k in range(seconds // 2))
        audio = bench.paired(rng, "bridge", "neck", "D3", rate=RATE, onsets_s=at[:5], ringing_s=10.0)
        whole = np.tile(audio[: 10 * RATE], (seconds // 10, 1))
        add(job, whole, gesture="pluck", inputs=["bridge", "neck"], string="D3")
    for kind in ("paired", "plucks in turn", "lifts"):
        job = begun(kind)
        for _ in range(5):
            if kind == "paired":
                audio = bench.paired(rng, "bridge", "neck", "D3", rate=RATE)
                add(job, audio, gesture="pluck", inputs=["bridge", "neck"], string="D3")
                continue
            for name in ("bridge", "neck"):
                if kind == "lifts":
                    add(job, bench.lift(rng, name, rate=RATE), gesture="lift", inputs=[name], tool="rod")
                else:
                    add(
                        job,
                        bench.pluck(rng, name, "D3", rate=RATE),
                        gesture="pluck",
                        inputs=[name],
                        string="D3",
                    )
    make_kinds(work, bench, add)
    make_benches(work, bench, add)


def make_kinds(work: Path, bench: Any, add: Callable[..., None]) -> None:
    """Six takes of hum and five of a selector that was turned while a string rang."""
    import numpy as np
    from new_jobs import create_job

    from capture.job import Member, Pickup, Setting

    rng = np.random.default_rng(6)
    said = {
        "scale_mm": bench.scale_mm,
        "mains_hz": 50,
        "pickups": [Pickup(name=p.name, centre_mm=p.centre_mm) for p in bench.pickups],
        "settings": [Setting(name="both", on=(Member(pickup="bridge"), Member(pickup="neck")))],
    }
    job, sounds = create_job(work / "hum", title="hum", **said), {"both": ("bridge", "neck")}
    for name in ("bridge", "both", "neck") * 2:
        add(job, bench.hum(rng, [sounds.get(name, name)], rate=RATE), gesture="hum", inputs=[name])
    job, through = create_job(work / "switch", title="switch", **said), ("bridge", "both", "neck")
    for _ in range(5):
        audio = bench.switch(rng, [sounds.get(n, n) for n in through], "A2", at_s=(0.8, 1.8), rate=RATE)
        add(job, audio, gesture="switch", inputs=[through], string="A2")


def make_benches(work: Path, bench: Any, add: Callable[..., None]) -> None:
    """Eight pickups with twelve settings, and three pickups: two plucks each, whatever pickup they are of."""
    import numpy as np
    from new_jobs import create_job

    from capture.job import Member, Pickup, Setting

    rng = np.random.default_rng(7)
    eight = [Pickup(name=name, centre_mm=40.0 + 20.0 * k) for k, name in enumerate(EIGHT)]
    settings = [
        Setting(name=f"{a} and {b}", on=(Member(pickup=a), Member(pickup=b)), quiet=k % 3 == 0)
        for k, (a, b) in enumerate([*pairwise(EIGHT), *zip(EIGHT[:5], EIGHT[2:7], strict=True)])
    ]
    three = [Pickup(name=name, centre_mm=at) for name, at in zip(EIGHT, (44.0, 100.0, 160.0), strict=False)]
    for title, pickups, joined in (("eight", eight, settings), ("three", three, [])):
        job = create_job(
            work / title, title=title, scale_mm=648.0, mains_hz=50, pickups=pickups, settings=joined
        )
        for k, name in enumerate([p.name for p in job.job.pickups] * 2):
            audio = bench.pluck(rng, ("bridge", "neck")[k % 2], "D3", rate=RATE)
            add(job, audio, gesture="pluck", inputs=[name], string="D3")


def one_job(work: Path) -> dict[str, tuple[float, float | None]]:
    """Twenty takes: read and one FFT each; heard, by one and by all workers; judged."""
    import numpy as np
    import soundfile as sf

    from capture.takes.folder import JobFolder
    from reports.evidence.cache import take_results
    from reports.verdict.building import judge_results

    folder = JobFolder.open(work / "twenty")
    start = time.perf_counter()
    for path in sorted((work / "twenty" / "takes").glob("*.wav")):
        samples, _ = sf.read(path, always_2d=True)
        np.fft.rfft(samples, axis=0)
    base = time.perf_counter() - start
    start = time.perf_counter()
    heard = take_results(folder)
    alone = time.perf_counter() - start
    found = {"20 takes: read, one FFT each": (base, None), "20 takes: heard by one": (alone, base)}
    start = time.perf_counter()
    take_results(folder, workers=os.cpu_count() or 1)
    found["20 takes: heard by all processors"] = (time.perf_counter() - start, base)
    start = time.perf_counter()
    judge_results(folder, heard)
    found["20 takes: judged, once heard"] = (time.perf_counter() - start, base)
    return found


def kinds(work: Path) -> dict[str, tuple[float, float | None]]:
    """Each kind of take, heard by one, against reading its file and one FFT of each channel.

    Processor time, the least of several runs by turns: other programs may run beside it.
    """
    import numpy as np
    import soundfile as sf

    from capture.takes.folder import JobFolder
    from reports.evidence.cache import take_results

    def read_plainly(files: Sequence[Path]) -> None:
        for path in files:
            samples, _ = sf.read(path, always_2d=True)
            np.fft.rfft(samples, axis=0)

    take_results(JobFolder.open(work / "twenty"))  # what is loaded and tabled once is no part of it
    found: dict[str, tuple[float, float | None]] = {}
    for kind in KINDS:
        files = sorted((work / kind / "takes").glob("*.wav"))
        base, heard = [], []
        for _ in range(LEAST_OF):
            start = time.process_time()
            read_plainly(files)
            base.append(time.process_time() - start)
            start = time.process_time()
            take_results(JobFolder.open(work / kind))
            heard.append(time.process_time() - start)
        found[f"one take, {kind}, heard by one"] = (min(heard) / len(files), min(base) / len(files))
    return found


def benches(work: Path) -> dict[str, tuple[float, float | None]]:
    """Three pickups with 99 takes, and eight with twelve settings: judged, and the next take chosen."""
    from capture.takes.folder import JobFolder
    from reports.evidence.cache import take_results
    from reports.session.choosing import choose
    from reports.session.rounds import rounds
    from reports.verdict.building import judge_results

    found: dict[str, tuple[float, float | None]] = {}
    for name, count, what in (
        ("three", 99, "3 pickups, 99 takes"),
        ("eight", 48, "8 pickups, 12 settings, 48 takes"),
        ("eight", 0, "8 pickups, 12 settings, no take"),
    ):
        opened, takes = repeated(work, work / name, take_results(JobFolder.open(work / name)), count=count)
        start = time.perf_counter()
        judge_results(opened, takes)
        found[f"{what}: judged"] = (time.perf_counter() - start, None)
        start = time.perf_counter()
        choose(opened, takes, rounds(opened.job, inputs=2), stage="found", rig=None)
        found[f"{what}: next take chosen"] = (time.perf_counter() - start, None)
    return found


def repeated(
    work: Path, like: Path, heard: Sequence[TakeResult], *, count: int
) -> tuple[JobFolder, list[TakeResult]]:
    """A job like another, with ``count`` of its takes entered again under other names."""
    from capture.takes.folder import JobFolder

    place = Path(tempfile.mkdtemp(dir=work))
    (place / "job.toml").write_bytes((like / "job.toml").read_bytes())
    with (place / "bench.jsonl").open("w") as log:
        for k in range(count):
            entry = json.loads(heard[k % len(heard)].entry.model_dump_json(exclude_none=True))
            log.write(json.dumps({**entry, "id": f"t{k:04d}", "sha256": f"{k:064x}"}) + "\n")
    opened = JobFolder.open(place)
    entries = {e.id: e for e in opened.log.standing}
    return opened, [replace(heard[k % len(heard)], entry=entries[f"t{k:04d}"]) for k in range(count)]


def growth(work: Path) -> dict[str, tuple[float, float | None]]:
    """One take of growing length, and the most memory."""
    from capture.takes.folder import JobFolder
    from reports.evidence.cache import take_results

    found: dict[str, tuple[float, float | None]] = {}
    base = None
    for seconds in LONG_S:
        folder = JobFolder.open(work / f"long {seconds}")
        start = time.perf_counter()
        take_results(folder)
        spent = time.perf_counter() - start
        base = base or spent
        found[f"one take of {seconds} s, heard"] = (spent, base)
    found["... most memory then, GB"] = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6, None)
    return found


def many(work: Path) -> dict[str, tuple[float, float | None]]:
    """Many takes and many readings, judged; heard takes are entered again under other names."""
    from capture.takes.folder import JobFolder
    from reports.evidence.cache import take_results
    from reports.verdict.building import judge_results

    found: dict[str, tuple[float, float | None]] = {}
    for kind in ("paired", "plucks in turn", "lifts"):
        folder = JobFolder.open(work / kind)
        heard, base = take_results(folder), None
        for count in MANY:
            opened, takes = repeated(work, folder.path, heard, count=count)
            start = time.perf_counter()
            judge_results(opened, takes)
            spent = time.perf_counter() - start
            base = base or spent
            found[f"{count} takes, {kind}, judged"] = (spent, base)
    base = None
    for count in READINGS:
        place = Path(tempfile.mkdtemp(dir=work))
        (place / "job.toml").write_bytes((work / "paired" / "job.toml").read_bytes())
        with (place / "bench.jsonl").open("w") as log:
            for k in range(count):
                said = {"pickup": ("bridge", "neck")[k % 2], "move": "away", "reading": "rises", "red": "hot"}
                log.write(json.dumps({"kind": "meter", "id": f"m{k:03d}", **said}) + "\n")
        opened = JobFolder.open(place)
        start = time.perf_counter()
        judge_results(opened, ())
        spent = time.perf_counter() - start
        base = base or spent
        found[f"{count} meter readings, judged"] = (spent, base)
    found["... most memory then, GB"] = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6, None)
    return found


PARTS = {"job": one_job, "kinds": kinds, "benches": benches, "growth": growth, "many": many}


if __name__ == "__main__":
    main()
