"""For every test: one thread for linear algebra, since pytest already runs on all cores.

Before the workers start, librosa's functions are compiled once, in one process (dsp/warming.py says why).
"""

import os

import pytest

for threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(threads, "1")


def pytest_configure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):
        from dsp.warming import compile_all

        compile_all()
