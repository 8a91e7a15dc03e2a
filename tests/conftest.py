"""For every test: one thread for linear algebra, since pytest already runs on all cores."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

os.environ["COILWISE_CACHE"] = "off"
"""Every test hears for itself, and none writes into the cache of whoever runs it."""
os.environ["COILWISE_CARE"] = "off"
"""Every test begins with the usual care, whatever whoever runs it lets this machine remember."""
os.environ["COILWISE_BOX"] = "off"
"""Every test begins with no box remembered, and none writes into the memory of whoever runs it."""

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


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One worker more than there are processors: tests in real time mostly wait."""
    return (os.cpu_count() or 1) + 1
