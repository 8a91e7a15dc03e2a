"""Commands of coilwise run by the hundred: each in a fork of a process that has loaded everything before.

`command(*words)` runs the command line as a person would call it and gives its `Outcome`: exit status (None
where it had to be killed), what it printed, seconds, memory in megabytes. `faults_of` says what no outcome
may be: a traceback, a fault of the tool itself, waiting, more than one line of refusal, a refusal that does
not name the file. `Counts` collects outcomes for a table, and prints it.
"""

from __future__ import annotations

import os
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import typer
from studies import environment

DEMO = environment.ROOT / "recordings" / "demo"
LONGEST_S = 30.0
"""An answer takes a tenth of a second; whoever takes so long waits for something."""
MOST_MB = 700
"""What loading everything takes, and as much again."""
UNFINISHED = "unfinished"
"""What `command` understands besides the commands."""
ENTERING = {
    "bring": (
        "bring",
        "{job}",
        "{sound}",
        "--order",
        "bridge|neck 1",
        "--string",
        "D2",
        "--gesture",
        "pluck",
    ),
    "meter": ("meter", "{job}", "bridge", "--move", "away", "--red", "hot", "--reading", "rises"),
    "void": ("void", "{job}", "t002"),
    "change": ("change", "{job}", "neck", "grey=hot", "violet=ground"),
}
"""Commands that enter something, by name; a job of its own and a recording are filled in."""
KEPT = ("t001", "t002", "t003", "t004")
"""The takes of the worked job that a small copy of it has."""
REFUSED, FAULT = 2, 70
NAMED_OTHERWISE = ("job", "folder", "recording")


@dataclass(frozen=True)
class Outcome:
    """How a command ended."""

    status: int | None
    out: str
    err: str
    seconds: float
    memory_mb: float

    @property
    def kind(self) -> str:
        """One word for the table."""
        named = {0: "answered", 3: "answered", REFUSED: "refused", FAULT: "fault", None: "waits"}
        return named.get(self.status, f"status {self.status}")


def load() -> None:
    """Load what the commands load, once, and keep what they would keep out of this user's folders."""
    place = os.environ.setdefault("COILWISE_CACHE", tempfile.mkdtemp(prefix="coilwise-heard-"))
    Path(place).mkdir(parents=True, exist_ok=True)
    os.environ.update(COILWISE_CARE="off", COILWISE_BOX="off")
    own = tempfile.mkdtemp(prefix="coilwise-own-")
    os.environ.update(
        {f"XDG_{kind}_HOME": f"{own}/{kind.lower()}" for kind in ("CACHE", "DATA", "STATE", "CONFIG")}
    )
    import matplotlib.backends.backend_pdf
    import matplotlib.backends.backend_svg
    import rich.console
    import rich.progress
    import scipy.signal

    import reports.cli.verdict
    import reports.render.figures
    import reports.render.jack_plots
    import reports.render.report
    from reports.evidence.cache import load_hearing

    load_hearing()


def command(*words: object, within_s: float = LONGEST_S, most_bytes: int | None = None) -> Outcome:
    """Run ``coilwise WORDS`` in a fork; ``most_bytes`` is how large a file it may write."""

    def run() -> int:
        if most_bytes is not None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes))
        from reports.cli.shared import run_plainly

        return run_plainly(app_for(words), [str(word) for word in words])

    return forked(run, within_s=within_s)


def app_for(words: Sequence[object]) -> typer.Typer:
    """The command line, or what of `coilwise record` concerns unfinished recordings alone."""
    if words[0] != UNFINISHED:
        from reports.cli import app

        return app
    from capture.takes.recorder import recover_take, set_aside, unfinished_takes

    own = typer.Typer()

    @own.command()
    def unfinished(folder: Path, way: str) -> None:
        for left in unfinished_takes(folder):
            recover_take(left) if way == "in" else set_aside(left)

    @own.callback()
    def nothing() -> None:
        """Make the command one of several."""

    return own


def forked(work: Callable[[], int], *, within_s: float = LONGEST_S) -> Outcome:
    """Do ``work`` in a fork, and say how it ended; what it returns is its status."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        began = time.monotonic()
        child = start(work, out=out.fileno(), err=err.fileno())
        status, used = _wait(child, within_s)
        seconds = time.monotonic() - began
        said = []
        for stream in (out, err):
            stream.seek(0)
            said.append(stream.read().decode(errors="replace"))
        return Outcome(status, said[0], said[1], seconds, used.ru_maxrss / 1024)


def start(work: Callable[[], int], *, out: int, err: int) -> int:
    """Begin ``work`` in a fork that is a session of its own; its process's number."""
    sys.stdout.flush()
    child = os.fork()
    if child:
        return child
    status = FAULT
    try:
        os.setsid()
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.dup2(out, 1)
        os.dup2(err, 2)
        status = work()
        sys.stdout.flush()
    except BaseException:
        import traceback

        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)


def _wait(child: int, within_s: float) -> tuple[int | None, resource.struct_rusage]:
    end = time.monotonic() + within_s
    while True:
        done, status, used = os.wait4(child, os.WNOHANG)
        if done:
            return (os.WEXITSTATUS(status) if os.WIFEXITED(status) else None), used
        if time.monotonic() > end:
            os.killpg(child, signal.SIGKILL)
            _, _, used = os.wait4(child, 0)
            return None, used
        time.sleep(0.002)


def faults_of(outcome: Outcome, *, names: Iterable[str] = ()) -> list[str]:
    """What is wrong with it; a refusal has to hold one of ``names``, where there are any."""
    found = []
    lines = outcome.err.strip().splitlines()
    if outcome.status is None:
        found.append("it waits")
    if "Traceback" in outcome.err + outcome.out:
        found.append("a traceback")
    elif outcome.status not in (0, 3, REFUSED, None):
        found.append(f"status {outcome.status}")
    elif outcome.status == REFUSED and len(lines) != 1 and "Not judged" not in outcome.out:
        found.append(f"{len(lines)} lines of refusal")
    elif outcome.status == REFUSED and list(names) and not any(n in outcome.err + outcome.out for n in names):
        found.append("the file is not named")
    if outcome.memory_mb > MOST_MB:
        found.append(f"{outcome.memory_mb:.0f} MB")
    if max(map(len, lines), default=0) > 2000:
        found.append("an endless line")
    return found


@dataclass
class Counts:
    """Outcomes by what they are of; ``wrong`` are the cases that fell."""

    title: str
    by: dict[str, Counter[str]] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)

    def add(self, of: str, kind: str, *, case: str = "", wrong: Iterable[str] = ()) -> None:
        """Count one."""
        self.by.setdefault(of, Counter())[kind] += 1
        for one in wrong:
            self.by[of]["fell"] += 1
            self.wrong.append(f"{of}: {case}: {one}")
            print(f"FELL {self.wrong[-1]}", flush=True)

    def show(self) -> None:
        """Print the table, and every case that fell."""
        kinds = sorted({kind for counted in self.by.values() for kind in counted} - {"fell"})
        print(f"\n{self.title}\n\n| of | cases | {' | '.join(kinds)} | fell |")
        print("|---" * (len(kinds) + 3) + "|")
        for of, counted in [*self.by.items(), ("all", sum(self.by.values(), Counter()))]:
            cases = sum(counted[kind] for kind in kinds)
            print(f"| {of} | {cases} | {' | '.join(str(counted[k]) for k in kinds)} | {counted['fell']} |")


def small_job(home: Path) -> Path:
    """Copy the worked job's first takes and readings, with a report and a recording that was not finished."""
    import json

    from capture.log.entries import TakeFields
    from capture.takes.recorder import TakeWriter, set_aside, unfinished_takes

    (home / "takes").mkdir(parents=True)
    shutil.copy(DEMO / "job.toml", home)
    lines = []
    for line in (DEMO / "bench.jsonl").read_text(encoding="utf-8").splitlines():
        entry = json.loads(line)
        if entry["kind"] == "take" and entry["id"] in KEPT:
            shutil.copy(DEMO / entry["file"], home / "takes")
            lines.append(line)
        elif entry["kind"] == "meter":
            lines.append(line)
    (home / "bench.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
    silence = np.zeros((4800, 2), dtype=np.float32)
    for kept in (False, True):
        with closing(
            TakeWriter(
                home, rate=48_000, channels=2, planned=TakeFields("pluck", ("bridge", "neck"), string="D2")
            )
        ) as writer:
            writer.write(silence)
        if not kept:
            set_aside(unfinished_takes(home)[0])
    written = command("report", home, "--pdf")
    assert written.status in (0, 3), written.err
    return home


@contextmanager
def bench() -> Iterator[Path]:
    """A place for jobs, which goes afterwards."""
    load()
    with tempfile.TemporaryDirectory(prefix="coilwise-faults-") as place:
        yield Path(place)


def pluck(path: Path, *, seconds: float = 2.0, rate: int = 48_000, seed: int = 1) -> Path:
    """Write a recording of two inputs: a decaying string over noise."""
    import soundfile

    rng = np.random.default_rng(seed)
    t = np.arange(round(seconds * rate)) / rate
    string = sum(
        np.sin(2 * np.pi * 73.4 * n * t + rng.random()) * np.exp(-1.5 * n * t) / n for n in range(1, 9)
    )
    sound = np.outer(np.where(t > 0.5, np.roll(string, rate // 2), 0.0), [0.2, 0.15])
    soundfile.write(path, sound + rng.normal(0, 1e-4, sound.shape), rate, subtype="PCM_24")
    return path
