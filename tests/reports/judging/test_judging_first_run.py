"""Two commands started together on a new installation: both answer, and so does every later one."""

from __future__ import annotations

import os
import subprocess
import sys
import time

from judging_jobs import DEMO

CALL = "import sys; from reports.cli import main; sys.argv[1:] = ['verdict', sys.argv[1], '--json']; main()"
UNSETTLED_OR_IN_CONFLICT = 3
APART_S = 1.5
"""The second starts while the first compiles: without a lock, 0.6 to 4 seconds apart crashed it here."""


def test_two_cold_starts_together_leave_a_cache_that_works(tmp_path):
    """By construction: an empty cache for compiled code, and two processes that both have to fill it."""
    cold = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path)}
    words = [sys.executable, "-c", CALL, str(DEMO)]
    both = []
    for _ in range(2):
        both.append(subprocess.Popen(words, env=cold, stdout=subprocess.DEVNULL))
        time.sleep(APART_S)
    assert [one.wait(timeout=150) for one in both] == [UNSETTLED_OR_IN_CONFLICT] * 2
    assert any(tmp_path.rglob("*.nbi"))
    later = subprocess.run(words, env=cold, stdout=subprocess.DEVNULL, check=False, timeout=150)
    assert later.returncode == UNSETTLED_OR_IN_CONFLICT
