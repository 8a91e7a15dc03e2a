"""Links and special files in every place of a job, against every command and the page.

Each place of a small job (its files, folders, files that are still to be made) is given each kind of thing;
then each command is run, and the page is asked for all it shows. Nothing may wait, read or write outside the
folder, or break; a refusal is one line that names the file. The same for the files that a command is given.
"""

import argparse
import hashlib
import os
import random
import shutil
import socket
import stat
import sys
import time
from collections.abc import Callable
from contextlib import closing
from itertools import product
from pathlib import Path

import numpy as np
from studies.faults.harness import (
    ENTERING,
    UNFINISHED,
    Counts,
    Outcome,
    bench,
    command,
    faults_of,
    forked,
    pluck,
    small_job,
)

SECRET = b"nobody else's\n"
HUGE, VAST = 10 << 30, 1 << 42


def _socket(place: Path, outside: Path) -> None:
    here = os.getcwd()
    os.chdir(place.parent)  # a socket's path has 107 bytes at most
    try:
        with socket.socket(socket.AF_UNIX) as made:
            made.bind(place.name)
    finally:
        os.chdir(here)


def _sparse(size: int) -> Callable[[Path, Path], None]:
    def make(place: Path, outside: Path) -> None:
        place.touch()
        os.truncate(place, size)

    return make


def _within(place: Path, outside: Path) -> None:
    other = place.with_name("kept-elsewhere")
    shutil.copy(outside / "as it was", other) if (outside / "as it was").is_file() else other.mkdir()
    place.symlink_to(other.name)


def _same_outside(place: Path, outside: Path) -> None:
    kept = outside / "as it was"
    if kept.is_file():
        place.symlink_to(kept)
    else:
        place.symlink_to(outside)


def _hard(place: Path, outside: Path) -> None:
    os.link(outside / "as it was" if (outside / "as it was").is_file() else outside / "file", place)


KINDS: dict[str, Callable[[Path, Path], object]] = {
    "link to what it was, outside": _same_outside,
    "link inside the job": _within,
    "link to another's file": lambda place, outside: place.symlink_to(outside / "file"),
    "link to a folder": lambda place, outside: place.symlink_to(outside),
    "link to nothing": lambda place, outside: place.symlink_to(outside / "missing"),
    "link to itself": lambda place, outside: place.symlink_to(place.name),
    "link to an endless device": lambda place, outside: place.symlink_to("/dev/zero"),
    "link to a pipe": lambda place, outside: place.symlink_to(outside / "pipe"),
    "hard link to what it was": _hard,
    "hard link to an empty file": lambda place, outside: os.link(outside / "empty", place),
    "pipe": lambda place, outside: os.mkfifo(place),
    "endless device": lambda place, outside: os.mknod(place, 0o666 | stat.S_IFCHR, os.makedev(1, 5)),
    "socket": _socket,
    "folder": lambda place, outside: place.mkdir(),
    "file of 10 GB": _sparse(HUGE),
    "file of 4 TB": _sparse(VAST),
    "empty file": lambda place, outside: place.touch(),
}
TO_BE_MADE = ("takes/t005.wav", "takes/.recording", "takes/.recording.json", "report/report-after.html")
READINGS = {
    "verdict": ("verdict", "{job}"),
    "verdict --json": ("verdict", "{job}", "--json"),
    "list": ("list", "{job}"),
    "summary": ("summary", "{above}"),
    "take": (
        "take",
        "{job}",
        "{sound}",
        "--gesture",
        "pluck",
        "--on",
        "bridge",
        "--on",
        "neck",
        "--string",
        "D2",
    ),
    **ENTERING,
    "report": ("report", "{job}", "--pdf"),
    "tag": ("tag", "{job}", "neck"),
    "unfinished in": (UNFINISHED, "{job}", "in"),
    "unfinished aside": (UNFINISHED, "{job}", "aside"),
}


def page_of(home: Path) -> Callable[[], int]:
    """All that the page shows and does of a job, without a browser; 2 where something was refused."""

    def work() -> int:
        from fastapi import FastAPI

        from capture.log import Meter, new_entry
        from capture.takes.recorder import recover_take, unfinished_takes
        from capture.takes.recording_lock import holder_of, is_recording
        from dsp import CoilwiseError, plain
        from reports.page.server.controller import PageController, stamp_of
        from reports.page.serving import add_report, add_takes
        from reports.session.options import RecordingOptions

        controller = PageController(home, options=RecordingOptions(), jobs_folder=home.parent)
        site = FastAPI()
        add_report(site, controller)
        add_takes(site, controller)
        asked = {route.path: route.endpoint for route in site.routes if hasattr(route, "endpoint")}
        stamp_of(home)
        refused = 0
        for what in (
            controller.job,
            controller.judge,
            lambda: controller.open_take("t001"),
            lambda: controller.enter(
                new_entry(Meter, pickup="bridge", move="away", red="hot", reading="rises")
            ),
            lambda: [recover_take(left) for left in unfinished_takes(home)],
            lambda: (is_recording(home), holder_of(home)),
            lambda: _begin_recording(home),
        ):
            try:
                what()
            except (CoilwiseError, OSError) as error:  # both are shown as one sentence
                said = plain(str(error))
                assert "\n" not in said
                if not refused:
                    print(said, file=sys.stderr)
                refused = 2
        for address in ("/report/{stage}", "/take/{take}"):
            answer = asked[address]("t001" if "take" in address else "found")
            assert SECRET not in answer.body
        return refused

    return work


def _begin_recording(home: Path) -> None:
    from capture.takes.recorder import TakeWriter
    from capture.takes.recording_lock import recording

    with recording(home, who="page"), closing(TakeWriter(home, rate=48_000, channels=2)) as writer:
        writer.write(np.zeros((480, 2), dtype=np.float32))


def look(outside: Path) -> dict[str, str]:
    """What is outside the job, and what is in it."""
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "other"
        for path in sorted(outside.iterdir())
    }


def put(kind: str, home: Path, place: str, outside: Path) -> None:
    """Make `kind` stand at `place` of the job; what stood there is known outside."""
    path = home / place
    if path.is_dir():
        shutil.copytree(path, outside / "as it was")
        shutil.rmtree(path)
    elif path.exists():
        shutil.copy(path, outside / "as it was")
        path.unlink()
    KINDS[kind](path, outside)


def recorded(home: Path) -> dict[str, str]:
    """Every recording that lies in the takes of a job, finished or not, by its content."""
    found = {}
    for path in home.joinpath("takes").rglob("*") if not home.joinpath("takes").is_symlink() else ():
        ours = path.suffix in (".wav", ".flac") and not path.is_symlink() and path.is_file()
        if ours and path.stat().st_size < HUGE:
            found[hashlib.sha256(path.read_bytes()).hexdigest()] = path.name
    return found


def case(counts: Counts, base: Path, away: Path, kind: str, place: str, name: str) -> None:
    """One command on one job."""
    home, outside = away / "jobs" / "job", away / "outside"
    for old in (away / "jobs", outside):
        shutil.rmtree(old, ignore_errors=True)
    shutil.copytree(base, home)
    outside.mkdir()
    os.mkfifo(outside / "pipe")
    (outside / "empty").touch()
    (outside / "file").write_bytes(SECRET)
    put(kind, home, place, outside)
    before, kept = look(outside), recorded(home)
    if name == "page":
        outcome = forked(page_of(home))
    else:
        said = {"job": home, "above": home.parent, "sound": away / "sound.wav"}
        outcome = command(*(word.format(**said) for word in READINGS[name]))
    wrong = faults_of(outcome, names=() if name == "page" else _names(place))
    if look(outside) != before:
        wrong.append("it wrote outside")
    if "nobody else's" in outcome.out + outcome.err:
        wrong.append("it read outside")
    if lost := set(kept) - set(recorded(home)) - {hashlib.sha256(b"").hexdigest()}:
        wrong.append(f"lost {[kept[one] for one in lost]}")
    if os.environ.get("SHOW"):
        print(kind, place, name, outcome.status, _last(outcome), flush=True)
    counts.add(
        name, outcome.kind, case=f"{kind} at {place}", wrong=[f"{w} ({_last(outcome)})" for w in wrong]
    )


def _names(place: str) -> tuple[str, ...]:
    own = tuple(Path(place).parts)
    return (*own, "t00")


def _last(outcome: Outcome) -> str:
    return (outcome.err or outcome.out).strip()[-200:].replace("\n", " / ")


GIVEN = {
    "take AUDIO": ("take", "{job}", "{given}", "--gesture", "pluck", "--on", "bridge", "--on", "neck"),
    "bring AUDIO": (
        *("bring", "{job}", "{given}", "--order", "bridge|neck 1"),
        *("--string", "D2", "--gesture", "pluck"),
    ),
    "bring --notes": ("bring", "{job}", "{sound}", "--notes", "{given}", "--yes"),
    "bring --picture": (*READINGS["bring"], "--dry-run", "--picture", "{given}"),
    "summary --csv": ("summary", "{above}", "--csv", "{given}"),
    "report --to": ("report", "{job}", "--to", "{given}"),
    "verdict FOLDER": ("verdict", "{given}"),
    "summary FOLDER": ("summary", "{given}"),
    "page FOLDER": ("page", "{given}", "--no-show"),
}


def given(counts: Counts, base: Path, away: Path, kind: str, name: str) -> None:
    """One command that is given a file or a folder of that kind; links are the person's own here."""
    home, outside, place = away / "jobs" / "job", away / "outside", away / "given.wav"
    for old in (away / "jobs", outside):
        shutil.rmtree(old, ignore_errors=True)
    if place.is_dir() and not place.is_symlink():
        shutil.rmtree(place)
    place.unlink(missing_ok=True)
    shutil.copytree(base, home)
    outside.mkdir()
    os.mkfifo(outside / "pipe")
    (outside / "empty").touch()
    (outside / "file").write_bytes(SECRET)
    KINDS[kind](place, outside)
    before = {k: v for k, v in look(outside).items()}
    said = {"job": home, "above": home.parent, "sound": away / "sound.wav", "given": place}
    words = [word.format(**said) for word in GIVEN[name]]
    outcome = command(*words, within_s=8 if name.startswith("page") else 30)
    wrong = faults_of(outcome, names=("given.wav", "sound.wav", "its name or note"))
    after = look(outside)
    if {k: v for k, v in after.items() if k in before} != before:
        wrong.append("it wrote over a file")
    counts.add(name, outcome.kind, case=kind, wrong=[f"{w} ({_last(outcome)})" for w in wrong])
    (away / "kept-elsewhere").unlink(missing_ok=True) if (
        away / "kept-elsewhere"
    ).is_file() else shutil.rmtree(away / "kept-elsewhere", ignore_errors=True)


def main() -> None:
    said = argparse.ArgumentParser(description=__doc__)
    said.add_argument("--only", default="", help="commands whose names begin so")
    said.add_argument("--kind", default="", help="kinds whose names begin so")
    said.add_argument("--place", default="", help="places whose names hold this")
    said.add_argument("--minutes", type=float, default=60.0, help="what is not done by then is left out")
    said.add_argument("--seed", type=int, default=1, help="in which order the cases come")
    asked = said.parse_args()
    with bench() as away:
        base = small_job(away / "base")
        pluck(away / "sound.wav")
        here = [str(p.relative_to(base)) for p in sorted(base.rglob("*"))]
        here = [p for p in here if not p.startswith("report/report-found.") or not p.endswith("txt")]
        places = [*here, *TO_BE_MADE]
        kinds = [k for k in KINDS if k.startswith(asked.kind)]
        names = [n for n in (*READINGS, "page") if n.startswith(asked.only)]
        cases = list(product(names, [p for p in places if asked.place in p], kinds))
        random.Random(asked.seed).shuffle(cases)
        inside, outside = Counts("In a place of the job"), Counts("As what a command is given")
        end = time.monotonic() + 60 * asked.minutes
        for name, kind in product([n for n in GIVEN if n.startswith(asked.only)], kinds):
            if time.monotonic() < end:
                given(outside, base, away, kind, name)
        for name, place, kind in cases:
            if time.monotonic() < end:
                case(inside, base, away, kind, place, name)
        print(f"\n{len(places)} places: {', '.join(places)}; {len(kinds)} kinds: {', '.join(kinds)}")
        inside.show()
        outside.show()


if __name__ == "__main__":
    main()
