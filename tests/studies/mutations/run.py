"""Do the tests notice when a sign is turned over in the code? Mutants of sign-bearing modules, tried.

Task: each mutant of a sample is run, in a process of its own and in memory alone, against the tests that
execute its line, until one fails. Results are lines of JSON and are kept: what is done is not done again
while the line stands as it was. The table is printed from them, each kind of mutant by itself.

    python -m studies.mutations.run --map            which test executes which line (once, and after changes)
    python -m studies.mutations.run --sample 200     so many sign mutants, drawn from all modules alike
    python -m studies.mutations.run --kind measure   and of the other kind
    python -m studies.mutations.run --table          what is there
    python -m studies.mutations.run --only dsp/methods/paired.py --sample 500 --again

A sample is the same one for a seed: mutants are put in an order by their text, so that a larger sample holds
the smaller one, and that what is changed elsewhere moves little of it.
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
import resource
import signal
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

import librosa
import numpy as np
import pytest
from scipy.stats import binomtest

from studies.mutations.mutators import Kind, Mutant, changed_tree, mutants_of

ROOT = environment.ROOT
NO_SIGNS = (
    "dsp/model/quasi_random.py",
    *(f"reports/evidence/{name}.py" for name in ("cache", "store", "shelf")),
)
"""What is kept and drawn from, no sign."""
MODULES = (
    *(
        path
        for place in ("dsp/model", "dsp/methods", "reports/evidence", "reports/inference")
        for path in sorted(p.relative_to(ROOT).as_posix() for p in (ROOT / place).glob("[a-z]*.py"))
        if path not in NO_SIGNS
    ),
    "reports/plan/search.py",
)
TESTS = (
    "dsp/methods",
    "dsp/model",
    "reports/inference",
    "reports/plan",
    "reports/verdict",
    "reports/evidence",
    "reports/ohms",
)
TOO_SLOW = ("test_verdict_same_again", "test_verdict_demo")
"""Left out: minutes of processor time. What they alone would notice counts as unnoticed."""
BUDGET_S = 20.0
"""Of tests a mutant (``--budget``), as they take without coverage; one test at least."""
NEAREST = 8
LIMIT_S = 90
"""Processor seconds after which a mutant is taken to hang."""
UNUSED = ("cacheprovider", "xdist", "unraisableexception")
PYTEST = ("-q", *(f"-pno:{name}" for name in UNUSED), "-o", "addopts=", "--no-header", "--tb=no")
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


def _text_digest(module: str) -> str:
    return hashlib.sha256((ROOT / module).read_bytes()).hexdigest()[:12]


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
    """Which lines of the modules each test that passes executes, and how long it takes."""

    def __init__(self, out: Path) -> None:
        self.files = {str(ROOT / m): m for m in MODULES}
        self.texts = {m: _text_digest(m) for m in MODULES}
        self.lines: dict[str, set[int]] = defaultdict(set)
        self.failed: set[str] = set()
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

    def pytest_runtest_logreport(self, report):  # type: ignore[no-untyped-def]
        """A test that fails as the code is would notice every mutant."""
        if not report.passed:
            self.failed.add(report.nodeid)

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
            row = {
                "test": item.nodeid,
                "seconds": time.process_time() - start,
                "lines": told,
                "of": {m: self.texts[m] for m in told},
            }
            if item.nodeid not in self.failed:
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


class _InChild:
    """Tells the tests that librosa is compiled already, and the parent which of them failed."""

    def __init__(self, told: int) -> None:
        self.told = told

    @pytest.hookimpl(tryfirst=True)
    def pytest_configure(self, config):  # type: ignore[no-untyped-def]
        """As if a first process had done it."""
        config.workerinput = {}

    def pytest_runtest_logreport(self, report):  # type: ignore[no-untyped-def]
        """The first that fails is the last one run."""
        if report.failed:
            os.write(self.told, report.nodeid.encode()[:500])


def _tests_for(mutant: Mutant, rows: list[dict], budget_s: float) -> list[str]:  # type: ignore[type-arg]
    """The tests that execute the mutant's line, or, of a line outside functions, its module.

    Nearest first: a test that is quick and executes little else is about this line. Each further case of one
    test counts as farther, so that a budget is not spent on its cases.
    """
    here = [r for r in rows if mutant.module in r["lines"]]
    told = [r for r in here if mutant.line in r["lines"][mutant.module]]
    anywhere = {n for r in here for n in r["lines"][mutant.module]}
    asked = [
        (row["seconds"] * sum(map(len, row["lines"].values())), row["test"], row)
        for row in (told if mutant.line in anywhere else here)
    ]
    cases: Counter[str] = Counter()
    order = []
    for far, test, row in sorted(asked, key=lambda o: o[:2]):
        cases[test.split("[")[0]] += 1
        order.append((far * cases[test.split("[")[0]], test, row["seconds"]))
    chosen, spent = [], 0.0
    for _, test, seconds in sorted(order):
        if not chosen or spent + seconds <= budget_s:
            spent += seconds
            chosen.append(test)
    return chosen


def _tried(mutant: Mutant, tests: list[str]) -> tuple[str, str]:
    """What becomes of a mutant, and which test told.

    It is "noticed", "hangs", is "not loaded", "survived", or there is "no test".
    """
    if not tests:
        return "no test", ""
    path = ROOT / mutant.module
    code = compile(changed_tree(path, mutant), str(path), "exec")
    heard, told = os.pipe()
    child = os.fork()
    if child == 0:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        resource.setrlimit(resource.RLIMIT_CPU, (LIMIT_S, LIMIT_S))
        sys.meta_path.insert(0, _InMemory(_name(mutant.module), path, code))
        status = 99
        try:
            for some in (tests[:NEAREST], tests[NEAREST:]):  # most fall at once, with few modules loaded
                asked = [*PYTEST, *ALREADY, "-x", "--rootdir", str(ROOT), *some]
                status = int(pytest.main(asked, plugins=[_InChild(told)])) if some else 0
                if status:
                    break
        finally:
            os._exit(status)
    os.close(told)
    by = ""
    _, status = os.waitpid(child, 0)
    os.set_blocking(heard, False)  # a process that a test left behind may hold the other end
    with contextlib.suppress(BlockingIOError):
        by = os.read(heard, 1000).decode(errors="replace")
    os.close(heard)
    if os.WIFSIGNALED(status):
        return ("hangs" if os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL) else "not loaded"), by
    return {0: "survived", 1: "noticed"}.get(os.WEXITSTATUS(status), "not loaded"), by


def _rows(path: Path) -> list[dict]:  # type: ignore[type-arg]
    return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []


def _sample(modules: list[str], kind: Kind, count: int, seed: int) -> list[Mutant]:
    """The first so many of the modules' mutants of a kind, in an order that is the same for a seed."""
    order = []
    for module in modules:
        alike: Counter[tuple[str, str]] = Counter()
        for mutant in mutants_of(module, ROOT / module):
            if mutant.kind != kind:
                continue
            text = (mutant.was, mutant.became)
            told = f"{seed} {module} {text} {alike[text]}"
            alike[text] += 1
            order.append((hashlib.sha256(told.encode()).digest(), mutant))
    return [mutant for _, mutant in sorted(order, key=lambda o: o[0])[:count]]


def _share(noticed: int, tried: int) -> str:
    """In per cent, with the exact 95 % interval."""
    if not tried:
        return "| |"
    low, high = binomtest(noticed, tried).proportion_ci()
    return f"{100 * noticed / tried:.0f} | {100 * low:.0f} to {100 * high:.0f} |"


def _print_table(rows: list[dict], modules: list[str], *, survivors: bool) -> None:  # type: ignore[type-arg]
    known = {m.key: m for module in modules for m in mutants_of(module, ROOT / module)}
    told = {r["key"]: r["outcome"] for r in rows if r["key"] in known}
    for kind in ("sign", "measure"):
        of_kind = Counter(m.module for m in known.values() if m.kind == kind)
        by: dict[str, Counter[str]] = defaultdict(Counter)
        for key, outcome in told.items():
            if known[key].kind == kind:
                by[known[key].module][outcome] += 1
        print(f"\n| {kind} mutants of | there are | tried | noticed | % | 95 % interval |")
        print("|---|---|---|---|---|---|")
        whole: Counter[str] = Counter()
        for module in (*modules, "all"):
            of = by[module] if module != "all" else whole
            noticed = of.total() - of["survived"] - of["no test"]
            count = of_kind[module] if module != "all" else of_kind.total()
            if of.total():
                print(f"| `{module}` | {count} | {of.total()} | {noticed} | {_share(noticed, of.total())}")
            if module != "all":
                whole.update(of)
        if survivors:
            print()
            for key, outcome in told.items():
                m = known[key]
                if outcome in ("survived", "no test") and m.kind == kind:
                    print(f"{m.module}:{m.line}:{m.column} [{outcome}] {m.was}  ->  {m.became}")


def main() -> None:
    """Map, run or print."""
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--kind", choices=("sign", "measure"), default="sign")
    ask.add_argument("--sample", type=int, default=200, help="mutants, of all modules together")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--part", default="1/1", help="2/3 is the second of three processes that share a sample")
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
    modules = list(asked.only)
    if not asked.table:
        _warm()
        lines = _rows(asked.lines)
        for module in modules:
            if {r["of"][module] for r in lines if module in r["lines"]} - {_text_digest(module)}:
                ask.error(f"{module} is not the text that was mapped: --map again")
        done = {
            r["key"]
            for r in _rows(asked.out)
            if not (asked.again and r["outcome"] in ("survived", "no test"))
        }
        part, parts = map(int, asked.part.split("/"))
        sample = _sample(modules, asked.kind, asked.sample, asked.seed)[part - 1 :: parts]
        for mutant in sample:
            if mutant.key in done:
                continue
            start = time.monotonic()
            outcome, by = _tried(mutant, _tests_for(mutant, lines, asked.budget))
            told = f"{mutant.module}:{mutant.line} {mutant.was} -> {mutant.became}"
            seconds = time.monotonic() - start
            row = {"key": mutant.key, "outcome": outcome, "told": told, "by": by, "seconds": seconds}
            with asked.out.open("a") as out:
                out.write(json.dumps(row) + "\n")
            print(f"{outcome:10} {told[:150]}", flush=True)
    _print_table(_rows(asked.out), modules, survivors=asked.table)


if __name__ == "__main__":
    main()
