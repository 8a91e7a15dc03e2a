"""Import this first in a study: one thread a process for linear algebra, and `tests/` on the import path.

The thread limits are read when numpy is loaded, so this is imported before it. The path holds the bench
simulator (`simulator`), the helpers of the recording and page tests, and the folder of the studies.
"""

import os
import sys
from pathlib import Path

STUDIES = Path(__file__).resolve().parent
TESTS = STUDIES.parent
ROOT = TESTS.parent

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
sys.path[:0] = [
    str(place) for place in (TESTS, TESTS / "capture", TESTS / "page", TESTS / "reports" / "session", STUDIES)
]
