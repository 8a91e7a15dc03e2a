"""The clock set back, a disk that is read-only or full, and page and terminal writing at once.

Clock: the order of lines rules, so whatever stands in ``at``, the verdict is the same to the last digit.
Disk: a mount that is read-only (as root), a folder that this user may not write (as nobody), a memory disk
with room for less than is written, and a limit on the size of files: what was there stays as it was to the
byte, the refusal is one line that names the file, and nothing half is left that the next command does not
remove.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from studies.faults.harness import (
    ENTERING,
    UNFINISHED,
    Counts,
    app_for,
    bench,
    command,
    faults_of,
    forked,
    pluck,
    small_job,
    start,
)

NOBODY = 65_534
TAKE = ("take", "{job}", "{sound}", "--gesture", "pluck", "--on", "bridge", "--on", "neck", "--string", "D2")
WRITES = {
    "take": TAKE,
    **ENTERING,
    "pole": ("pole", "{job}", "bridge", "north"),
    "report": ("report", "{job}"),
    "unfinished in": (UNFINISHED, "{job}", "in"),
    "unfinished aside": (UNFINISHED, "{job}", "aside"),
}
READS = {
    "verdict": ("verdict", "{job}"),
    "list": ("list", "{job}"),
    "summary": ("summary", "{above}"),
}


def content(home: Path) -> dict[str, bytes]:
    """All recordings and the log, by name."""
    found = {p.name: p.read_bytes() for p in home.joinpath("takes").rglob("*") if p.is_file()}
    return {**found, "bench.jsonl": home.joinpath("bench.jsonl").read_bytes()}


def lost(before: dict[str, bytes], home: Path) -> list[str]:
    """What is not there any more as it was; a recording may have another name."""
    after = content(home)
    sounds = set(after.values())
    gone = [f"lost {n}" for n, raw in before.items() if n.endswith((".wav", ".flac")) and raw not in sounds]
    if not after["bench.jsonl"].startswith(before["bench.jsonl"]):
        gone.append("the log was rewritten")
    return gone


def halves(home: Path, known: set[str]) -> list[str]:
    """Hidden files that were not there before."""
    new = [p.name for p in home.rglob(".*") if p.is_file() and p.name not in known]
    return [f"left {n}" for n in new if not n.startswith(".recording")]


def clock(counts: Counts, base: Path, away: Path, times: int) -> None:
    rng = random.Random(1)
    lines = [json.loads(line) for line in base.joinpath("bench.jsonl").read_text().splitlines()]
    usual = json.loads(command("verdict", base, "--json").out)
    stamps = [line["at"] for line in lines if "at" in line]
    shuffled = [rng.sample(stamps, len(stamps)) for _ in range(times)]
    orders = {
        "backwards": [stamps[::-1]],
        "all alike": [["2026-03-14T09:12:20Z"] * len(stamps)],
        "1970": [["1970-01-01T00:00:00Z"] * len(stamps)],
        "9999": [["9999-12-31T23:59:59Z"] * len(stamps)],
        "left out": [[None] * len(stamps)],
        "shuffled": shuffled,
    }
    for kind, cases in orders.items():
        for said in cases:
            home = away / "clock"
            shutil.rmtree(home, ignore_errors=True)
            shutil.copytree(base, home)
            told = iter(said)
            changed = [{**line, "at": next(told)} if "at" in line else line for line in lines]
            kept = [{k: v for k, v in line.items() if v is not None} for line in changed]
            home.joinpath("bench.jsonl").write_text("".join(json.dumps(line) + "\n" for line in kept))
            outcome = command("verdict", home, "--json")
            wrong = faults_of(outcome)
            found = json.loads(outcome.out) if outcome.out else {}
            for one in (found, usual):
                one.pop("provenance", None)
                for take in one.get("takes", ()):
                    take.pop("at", None)
            wrong += ["another verdict"] if found != usual else []
            counts.add("clock: read", outcome.kind, case=kind, wrong=wrong)
    for kind in ("1970-01-01T00:00:00Z", "2026-03-14T09:12:19Z"):
        home = away / "clock"
        shutil.rmtree(home, ignore_errors=True)
        shutil.copytree(base, home)
        for name, words in WRITES.items():

            def work(words=words, home=home, kind=kind) -> int:
                import capture.log.writing
                import capture.takes.folder
                import capture.takes.recorder
                from reports.cli.shared import run_plainly

                for place in (capture.log.writing, capture.takes.folder, capture.takes.recorder):
                    place.utc_now = lambda: kind
                told = [w.format(job=home, sound=away / "sound.wav") for w in words]
                return run_plainly(app_for(words), told)

            before = content(home)
            outcome = forked(work)
            ids = [json.loads(line)["id"] for line in home.joinpath("bench.jsonl").read_text().splitlines()]
            wrong = faults_of(outcome, names=("t0",)) + lost(before, home)
            wrong += ["an id twice"] if len(ids) != len(set(ids)) else []
            counts.add("clock: written", outcome.kind, case=f"{name} at {kind}", wrong=wrong)


@contextmanager
def disk(place: Path, size: str) -> Iterator[Path]:
    """A disk in memory."""
    place.mkdir(exist_ok=True)
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)], check=True)
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def read_only(counts: Counts, base: Path, away: Path) -> None:
    with disk(away / "mount", "64m") as place:
        shutil.copytree(base, place / "job")
        subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True)
        run_all(counts, "read-only mount", place / "job", away, None)
    os.chmod(away, 0o755)
    home = away / "forbidden" / "job"
    shutil.copytree(base, home)
    for path in (home, *home.rglob("*")):
        os.chmod(path, 0o555 if path.is_dir() else 0o444)
    run_all(counts, "folder of another user", home, away, NOBODY)


def run_all(counts: Counts, kind: str, home: Path, away: Path, user: int | None) -> None:
    before = content(home)
    for name, words in {**WRITES, **READS}.items():

        def work(words=words) -> int:
            if user is not None:
                os.environ["COILWISE_CACHE"] = "off"
                os.setuid(user)
            from reports.cli.shared import run_plainly

            said = {"job": home, "above": home.parent, "sound": away / "sound.wav"}
            return run_plainly(app_for(words), [w.format(**said) for w in words])

        outcome = forked(work, within_s=60)
        wrong = faults_of(outcome, names=("bench.jsonl", "takes", "report"))
        if name in WRITES and outcome.status != 2:
            wrong.append(f"status {outcome.status}")
        if content(home) != before:
            wrong.append("something was changed")
        last = outcome.err.strip()[-200:].replace("\n", " / ")
        counts.add(
            f"{kind}: {'written' if name in WRITES else 'read'}",
            outcome.kind,
            case=name,
            wrong=[f"{w} ({last})" for w in wrong],
        )


def full(counts: Counts, base: Path, away: Path, steps: int) -> None:
    """Room for the first so many bytes of what is written."""
    rng = random.Random(2)
    with disk(away / "small", "6m") as place:
        for name in WRITES:
            for k in range(steps):
                home = place / "job"
                shutil.rmtree(home, ignore_errors=True)
                place.joinpath("filler").unlink(missing_ok=True)
                shutil.copytree(base, home)
                free = shutil.disk_usage(place).free
                room = 4096 * (k if k < steps // 2 else rng.randrange(200))
                with place.joinpath("filler").open("wb") as filler:
                    filler.write(bytes(max(0, free - room)))
                attempt(counts, "full disk", name, home, away, f"{room} bytes left")
    for name in WRITES:
        for k in range(steps):
            home = away / "limited"
            shutil.rmtree(home, ignore_errors=True)
            shutil.copytree(base, home)
            size = home.joinpath("bench.jsonl").stat().st_size
            most = size + 40 * k if k < steps // 2 else rng.randrange(600_000)
            attempt(counts, "limit on files", name, home, away, f"{most} bytes", most=most)


def attempt(
    counts: Counts, kind: str, name: str, home: Path, away: Path, case: str, most: int | None = None
) -> None:
    """One command where there is little room; then once more where there is."""
    before, known = content(home), {p.name for p in home.rglob(".*")}
    said = {"job": home, "sound": away / "sound.wav"}
    words = [w.format(**said) for w in WRITES[name]]
    outcome = command(*words, most_bytes=most)
    wrong = faults_of(outcome, names=("bench.jsonl", "takes", "report", "take-", "t00"))
    wrong += lost(before, home) + halves(home, known)
    opened = command("list", home)
    wrong += [f"then {opened.err[:200]}"] if opened.status else []
    if most is None:
        home.parent.joinpath("filler").unlink()
    again = command(*words)
    wrong += [f"again: {w}" for w in faults_of(again, names=("t0",)) + lost(before, home)]
    if again.status == 2:
        wrong.append(f"again refused: {again.err[:200]}")
    last = outcome.err.strip()[-200:].replace("\n", " / ")
    counts.add(f"{kind}: {name}", outcome.kind, case=case, wrong=[f"{w} ({last})" for w in wrong])


def at_once(counts: Counts, base: Path, away: Path, each: int) -> None:
    """Three terminals, two pages and one that reads, all over one job."""
    home = away / "together"
    shutil.copytree(base, home)
    before = len(home.joinpath("bench.jsonl").read_text().splitlines())

    def terminal(number: int) -> Callable[[], int]:
        def work() -> int:
            from reports.cli import app
            from reports.cli.shared import run_plainly

            failed = 0
            for k in range(each):
                sound = pluck(away / f"sound-{number}.wav", seconds=0.3, seed=1000 * number + k)
                words = TAKE if k % 5 == 4 else (*WRITES["meter"], "--tool", f"rod {number}-{k}")
                failed += run_plainly(app, [w.format(job=home, sound=sound) for w in words]) not in (0, 3)
            return failed

        return work

    def page(number: int) -> Callable[[], int]:
        def work() -> int:
            from capture.log import Meter, new_entry
            from capture.log.entries import TakeFields
            from reports.page.server.controller import PageController
            from reports.session.options import RecordingOptions

            controller = PageController(home, options=RecordingOptions(), jobs_folder=away)
            for k in range(each):
                if k % 5 == 4:
                    sound = pluck(away / f"page-{number}.wav", seconds=0.3, seed=5000 + 100 * number + k)
                    controller.folder().add_take(sound, TakeFields("pluck", ("bridge", "neck"), string="D2"))
                else:
                    said = {"move": "away", "red": "hot", "reading": "rises", "tool": f"page {number}-{k}"}
                    controller.enter(new_entry(Meter, pickup="bridge", **said))
            return 0

        return work

    def reads() -> int:
        from capture.takes.folder import JobFolder

        for _ in range(each):
            JobFolder.open(home).takes()
        return 0

    said = [(away / f"said-{k}").open("wb+") for k in range(6)]
    works = [terminal(1), terminal(2), terminal(3), page(1), page(2), reads]
    children = [start(work, out=s.fileno(), err=s.fileno()) for work, s in zip(works, said, strict=True)]
    ended = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
    lines = [json.loads(line) for line in home.joinpath("bench.jsonl").read_text().splitlines()]
    ids = [line["id"] for line in lines]
    files = {line["file"] for line in lines if line["kind"] == "take"}
    wrong = [f"ended {ended}"] if any(ended) else []
    wrong += ["an id twice"] if len(ids) != len(set(ids)) else []
    wrong += [f"{len(lines) - before} of {5 * each} entries"] if len(lines) - before != 5 * each else []
    wrong += ["a file is missing"] if any(not home.joinpath(f).is_file() for f in files) else []
    outcome = command("list", home)
    wrong += faults_of(outcome)
    for _ in range(5 * each):
        counts.add("at once", "entered")
    counts.add("at once", outcome.kind, case="afterwards", wrong=wrong)
    for k, stream in enumerate(said):
        stream.seek(0)
        text = stream.read().decode()
        if "Traceback" in text or ended[k]:
            print(k, text[-1500:], file=sys.stderr)


def main() -> None:
    said = argparse.ArgumentParser(description=__doc__)
    said.add_argument("--shuffles", type=int, default=60)
    said.add_argument("--steps", type=int, default=12, help="how many sizes of room for each command")
    said.add_argument("--each", type=int, default=60, help="entries of each of those who write at once")
    asked = said.parse_args()
    with bench() as away:
        base = small_job(away / "base" / "job")
        pluck(away / "sound.wav")
        os.chmod(away / "sound.wav", 0o644)
        counts = Counts("Clock, disk, several at once")
        clock(counts, base, away, asked.shuffles)
        if os.geteuid() == 0:
            read_only(counts, base, away)
        full(counts, base, away, asked.steps)
        at_once(counts, base, away, asked.each)
        counts.show()


if __name__ == "__main__":
    main()
