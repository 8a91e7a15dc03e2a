"""For every test: one thread for linear algebra, since pytest already runs on all cores."""

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

os.environ["COILWISE_CARE"] = "off"
"""Every test begins with the usual care, whatever whoever runs it lets this machine remember."""
os.environ["COILWISE_BOX"] = "off"
"""Every test begins with no box remembered, and none writes into the memory of whoever runs it."""

HEARD_BEFORE = pytest.StashKey[tempfile.TemporaryDirectory[str]]()


def pytest_configure(config: pytest.Config) -> None:
    """Begin a cache of heard takes for this run: what one test has heard no other hears again.

    Its keys have the audio, the entry, the job and the code in them (reports.evidence.cache), and nothing of
    whoever runs the tests is read or written.
    """
    if not hasattr(config, "workerinput"):
        config.stash[HEARD_BEFORE] = tempfile.TemporaryDirectory(prefix="coilwise-tests-")
        os.environ["COILWISE_CACHE"] = config.stash[HEARD_BEFORE].name


def pytest_unconfigure(config: pytest.Config) -> None:
    """Remove it."""
    if HEARD_BEFORE in config.stash:
        config.stash[HEARD_BEFORE].cleanup()


for threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(threads, "1")


@pytest.fixture
def begun(tmp_path: Path) -> Callable[[str], Path]:
    """A new job folder with this job.toml in it."""

    def begin(toml: str) -> Path:
        home = tmp_path / "job"
        home.mkdir()
        (home / "job.toml").write_text(toml, encoding="utf-8")
        return home

    return begin


WORKERS = (os.cpu_count() or 1) + 1
"""One more than there are processors: tests in real time mostly wait."""
IN_REAL_TIME = ("test_page_real", "test_page_doors_real", "test_guided_real", "test_setup_commands")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """How many workers share the tests."""
    return WORKERS


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Modules of tests in real time go one to a worker's share, in turn at its beginning and in its middle.

    So no worker is left with all the waiting, and while some wait others reckon.
    """
    waiting: dict[str, list[pytest.Item]] = {}
    for item in items:
        if item.path.stem in IN_REAL_TIME:
            waiting.setdefault(item.path.stem, []).append(item)
    others = [item for item in items if item.path.stem not in waiting]
    share = len(others) // WORKERS
    starts = [k * share + (k % 2) * share // 2 for k in range(len(waiting))]
    for start, module in sorted(zip(starts, waiting.values(), strict=True), key=lambda m: -m[0]):
        others[start:start] = module
    items[:] = others
