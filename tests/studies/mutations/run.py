"""Do the tests notice when a sign is turned over in the code? Mutants of sign-bearing modules, tried.

Task: each mutant of a sample is run, in a process of its own and in memory alone, against the tests that
execute its line, the quickest first, until one fails. Results are lines of JSON and are kept: what is done is
not done again while the line stands as it was. The table is printed from them.

    python -m studies.mutations.run --map         which test executes which line (once, and after changes)
    python -m studies.mutations.run --each 12     so many mutants a module
    python -m studies.mutations.run --table       what is there
    python -m studies.mutations.run --only dsp/methods/paired.py --each 500 --again
"""

# ruff: noqa: I001
from __future__ import annotations

from studies import environment  # first: it limits the threads

import argparse
import contextlib
import hashlib
import importlib
import importlib.abc
import importlib.util
import json
import os
import random
import resource
import signal
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

import librosa
import numpy as np
import pytest

from studies.mutations.mutators import Mutant, changed_tree, mutants_of

ROOT = environment.ROOT
MODULES = (
    "dsp/model/signs.py",
    "dsp/model/settings.py",
    "dsp/model/calibration.py",
    *sorted(p.relative_to(ROOT).as_posix() for p in (ROOT / "dsp/methods").glob("[a-z]*.py")),
    "reports/evidence/leads.py",
    "reports/evidence/settings.py",
    *sorted(p.relative_to(ROOT).as_posix() for p in (ROOT / "reports/inference").glob("[a-z]*.py")),
    "reports/plan/search.py",
)
TESTS = (
    "dsp/methods",
    "dsp/model",
    "reports/inference",
    "reports/plan",
    "reports/verdict",
    "reports/evidence",
)
TOO_SLOW = ("test_verdict_jack", "test_verdict_same_again", "test_verdict_first_run", "test_verdict_demo")
"""Left out: minutes of processor time. What they alone would notice counts as unnoticed."""
BUDGET_S = 3.0
"""Of tests a mutant (``--budget``), the quickest of those that execute its line; one test at least."""
LIMIT_S = 90
"""Processor seconds after which a mutant is taken to hang."""
PYTEST = ("-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-o", "addopts=", "--no-header", "--tb=no")

ALREADY = ("-W", "ignore::pytest.PytestAssertRewriteWarning")
LOADED_ONCE = (
    *("hypothesis.strategies", "hypothesis.extra.numpy", "networkx", "mir_eval.onset"),
    *(
        "obspy.signal.trigger",
        "obspy.signal.cross_correlation",
        "scipy.signal",
        "scipy.stats",
        "scipy.optimize",
        "scipy.fft",
    ),
    *("pydantic", "tomlkit", "typer.testing", "rich.table", "rich.progress", "jinja2", "soundfile"),
    *("portalocker", "platformdirs", "threadpoolctl", "matplotlib.figure", "xml.etree.ElementTree"),
)
"""Nothing of these is ours, so a mutant changes none of it."""


def _name(module: str) -> str:
    return module.removesuffix(".py").replace("/", ".")


class _InMemory(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Loads one module from a changed tree."""

    def __init__(self, name: str, path: Path, code: object) -> None:
        self.name, self.path, self.code = name, path, code

    def find_spec(self, name, path=None, target=None):  # type: ignore[no-untyped-def]
        """The spec of the changed module, and none for any other."""
        return (
            importlib.util.spec_from_file_location(name, self.path, loader=self)
            if name == self.name
            else None
        )

    def exec_module(self, module):  # type: ignore[no-untyped-def]
        """Run the changed code."""
        exec(self.code, module.__dict__)


class _Coverage:
    """Which lines of the modules each test executes, and how long it takes."""

    def __init__(self, out: Path) -> None:
        self.files = {str(ROOT / m): m for m in MODULES}
        self.lines: dict[str, set[int]] = defaultdict(set)
        self.out = out

    def _frame(self, frame, event, arg):  # type: ignore[no-untyped-def]
        module = self.files.get(frame.f_code.co_filename)
        if module is None or frame.f_code.co_name == "<module>":
            return None
        lines = self.lines[module]

        def line(frame, event, arg):  # type: ignore[no-untyped-def]
            lines.add(frame.f_lineno)
            return line

        lines.add(frame.f_lineno)
        return line

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item, nextitem):  # type: ignore[no-untyped-def]
        """Trace one test with its fixtures."""
        self.lines.clear()
        start = time.process_time()
        sys.settrace(self._frame)
        try:
            return (yield)
        finally:
            sys.settrace(None)
            told = {m: sorted(lines) for m, lines in self.lines.items()}
            row = {"test": item.nodeid, "seconds": time.process_time() - start, "lines": told}
            with self.out.open("a") as out:
                out.write(json.dumps(row) + "\n")


def _make_map(path: Path, tests: list[str]) -> None:
    """Of all tests anew, or of some, which are added."""
    if not tests:
        path.unlink(missing_ok=True)
    ignored = [f"--ignore-glob=*{name}.py" for name in TOO_SLOW]
    where = [str(ROOT / "tests" / place) for place in tests or TESTS]
    pytest.main([*PYTEST, *ignored, "--rootdir", str(ROOT), *where], plugins=[_Coverage(path)])


def _warm() -> None:
    """What every mutant would load and compile anew, once before the forks."""
    for name in LOADED_ONCE:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    librosa.yin(np.sin(np.arange(4000) / 20), fmin=60, fmax=500, sr=16000)
    librosa.hz_to_note(110.0)


class _Compiled:
    """Tells the tests that librosa is compiled already."""

    @pytest.hookimpl(tryfirst=True)
    def pytest_configure(self, config):  # type: ignore[no-untyped-def]
        """As if a first process had done it."""
        config.workerinput = {}


def _tests_for(mutant: Mutant, rows: list[dict], budget_s: float) -> list[str]:  # type: ignore[type-arg]
    """The tests that execute the mutant's line, or, of a line outside functions, its module."""
    here = [r for r in rows if mutant.module in r["lines"]]
    told = [r for r in here if mutant.line in r["lines"][mutant.module]]
    anywhere = {n for r in here for n in r["lines"][mutant.module]}
    chosen, spent = [], 0.0
    for row in sorted(told if mutant.line in anywhere else here, key=lambda r: r["seconds"]):
        spent += row["seconds"]
        if chosen and spent > budget_s:
            break
        chosen.append(row["test"])
    return chosen


def _tried(mutant: Mutant, tests: list[str]) -> str:
    """What becomes of a mutant: "noticed", "hangs", "not loaded" or "survived"."""
    if not tests:
        return "no test"
    path = ROOT / mutant.module
    code = compile(changed_tree(path, mutant), str(path), "exec")
    child = os.fork()
    if child == 0:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        resource.setrlimit(resource.RLIMIT_CPU, (LIMIT_S, LIMIT_S))
        sys.meta_path.insert(0, _InMemory(_name(mutant.module), path, code))
        status = 99
        try:
            asked = [*PYTEST, *ALREADY, "-x", "--rootdir", str(ROOT), *tests]
            status = int(pytest.main(asked, plugins=[_Compiled()]))
        finally:
            os._exit(status)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return "hangs" if os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL) else "not loaded"
    return {0: "survived", 1: "noticed"}.get(os.WEXITSTATUS(status), "not loaded")


def _rows(path: Path) -> list[dict]:  # type: ignore[type-arg]
    return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []


def _sample(module: str, each: int) -> list[Mutant]:
    every = mutants_of(module, ROOT / module)
    seed = int(hashlib.sha256(module.encode()).hexdigest()[:8], 16)
    random.Random(seed).shuffle(every)
    return every[:each]


def _print_table(rows: list[dict], *, survivors: bool) -> None:  # type: ignore[type-arg]
    known = {m.key: m for module in MODULES for m in mutants_of(module, ROOT / module)}
    count = Counter(m.module for m in known.values())
    told = {r["key"]: r["outcome"] for r in rows if r["key"] in known}
    by: dict[str, Counter[str]] = defaultdict(Counter)
    for key, outcome in told.items():
        by[known[key].module][outcome] += 1
    print("| module | mutants | tried | noticed | survived | % |\n|---|---|---|---|---|---|")
    whole: Counter[str] = Counter()
    for module in MODULES:
        of = by[module]
        whole.update(of)
        unseen = of["survived"] + of["no test"]
        tried = of.total()
        share = f"{100 * (tried - unseen) / tried:.0f}" if tried else ""
        print(f"| `{module}` | {count[module]} | {tried} | {tried - unseen} | {unseen} | {share} |")
    unseen = whole["survived"] + whole["no test"]
    share = f"{100 * (whole.total() - unseen) / max(1, whole.total()):.0f}"
    print(
        f"| all | {sum(count.values())} | {whole.total()} | {whole.total() - unseen} | {unseen} | {share} |"
    )
    if survivors:
        for key, outcome in told.items():
            if outcome in ("survived", "no test"):
                m = known[key]
                print(f"{m.module}:{m.line}:{m.column} [{outcome}] {m.was}  ->  {m.became}")


def main() -> None:
    """Map, run or print."""
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--each", type=int, default=12, help="mutants a module")
    ask.add_argument("--only", nargs="*", default=MODULES, help="modules")
    ask.add_argument("--out", type=Path, default=Path("mutations.jsonl"))
    ask.add_argument("--lines", type=Path, default=Path("mutations-lines.jsonl"))
    ask.add_argument("--map", action="store_true", help="see which test executes which line, and stop")
    ask.add_argument("--tests", nargs="*", default=[], help="map these alone, in tests/, and add them")
    ask.add_argument("--table", action="store_true", help="print what is there, with the survivors, and stop")
    ask.add_argument("--budget", type=float, default=BUDGET_S, help="seconds of tests a mutant")
    ask.add_argument("--again", action="store_true", help="try survivors again")
    asked = ask.parse_args()
    os.environ["COILWISE_CACHE"] = "off"
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    if asked.map:
        _make_map(asked.lines, asked.tests)
        return
    if not asked.table:
        _warm()
        lines = _rows(asked.lines)
        done = {
            r["key"]
            for r in _rows(asked.out)
            if not (asked.again and r["outcome"] in ("survived", "no test"))
        }
        wanted = [m for module in asked.only for m in _sample(module, asked.each) if m.key not in done]
        random.Random(1).shuffle(wanted)  # stopped early, every module has had its share
        for mutant in wanted:
            start = time.monotonic()
            outcome = _tried(mutant, _tests_for(mutant, lines, asked.budget))
            told = f"{mutant.module}:{mutant.line} {mutant.was} -> {mutant.became}"
            row = {"key": mutant.key, "outcome": outcome, "told": told, "seconds": time.monotonic() - start}
            with asked.out.open("a") as out:
                out.write(json.dumps(row) + "\n")
            print(f"{outcome:10} {told[:150]}", flush=True)
    _print_table(_rows(asked.out), survivors=asked.table)


if __name__ == "__main__":
    main()
