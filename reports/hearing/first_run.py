"""One process at a time through librosa's first import.

Task: hold a lock while librosa is loaded, so that two commands started at once on a new installation do
not compile into one cache together (dsp/warming.py says what comes of that). Where there is no lock to be
had (no fcntl, a temporary folder that cannot be written), the command goes on without.
"""

from __future__ import annotations

import hashlib
import sys
import tempfile
from contextlib import ExitStack, suppress
from pathlib import Path


def load_alone() -> None:
    """Load what listening needs, under the lock of this installation."""
    from capture.locking import lock
    from dsp.warming import compile_all

    installation = hashlib.sha256(sys.prefix.encode()).hexdigest()[:16]
    with ExitStack() as held:
        with suppress(OSError):
            path = Path(tempfile.gettempdir()) / f"coilwise-{installation}.lock"
            lock(held.enter_context(path.open("a")))
        compile_all()
