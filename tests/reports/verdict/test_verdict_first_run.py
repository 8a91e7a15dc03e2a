"""Two commands started together on a new installation: the second waits until the first has compiled.

Why: two that compile into one cache together leave it so that every later process crashes
(reports/evidence/cache.py). Compiling itself takes 15 s of a processor, so here a stub stands where it
happens, and the lock is real.
"""

from __future__ import annotations

import os
import select
import subprocess
import sys

import pytest
from judging_jobs import DEMO, ROOT

PROGRAM = """
import os, sys
import portalocker

def lock(stream, flags, real=portalocker.lock):
    if str(stream.name).startswith(os.environ["TMPDIR"]):
        print("asks", "numba" in sys.modules, flush=True)
    real(stream, flags)

def first_of_librosa(tone):
    print("compiles", flush=True)
    sys.stdin.readline()
    sys.exit(0)

portalocker.lock = lock
import reports.evidence.cache
reports.evidence.cache.pitch_of = first_of_librosa
from reports.cli import main
sys.argv[1:] = ["verdict", sys.argv[1]]
main()
"""
LOOKED_S = 0.5
"""How long a second process is watched that must stay where it is."""


@pytest.fixture
def command(tmp_path):
    """Starts the command line, which stops where librosa is compiled; its lines come unbuffered."""
    around = {**os.environ, "TMPDIR": str(tmp_path), "PYTHONPATH": str(ROOT), "COILWISE_CACHE": "off"}
    started = []

    def start():
        words = [sys.executable, "-c", PROGRAM, str(DEMO)]
        pipe = subprocess.PIPE
        started.append(subprocess.Popen(words, env=around, stdin=pipe, stdout=pipe, bufsize=0))
        return started[-1]

    yield start
    for one in started:
        one.kill()
        one.communicate()


def test_a_second_cold_start_waits_for_the_first(command):
    """By construction: the first is held where it compiles, and asked for the lock before any of that."""
    first = command()
    assert first.stdout.readline() == b"asks False\n"
    assert first.stdout.readline() == b"compiles\n"
    second = command()
    assert second.stdout.readline() == b"asks False\n"
    assert select.select([second.stdout], [], [], LOOKED_S)[0] == []
    first.communicate(b"go on\n", timeout=60)
    assert second.stdout.readline() == b"compiles\n"
    second.communicate(b"go on\n", timeout=60)
    assert (first.returncode, second.returncode) == (0, 0)
