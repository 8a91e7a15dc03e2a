"""Under which key a heard take is kept: everything that hearing depends on.

Task: one name from the bytes of the recording, its entry in the log, the job, and the code that hears. Units,
signs: none. If any of these changes in the least, the key is another and the take is heard anew.
"""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.metadata import version
from pathlib import Path

from capture.folder import TakeFile
from capture.job import Job

ROOT = Path(__file__).resolve().parents[2]
CODE = ("dsp", "capture", "reports")
PACKAGES = ("numpy", "scipy", "librosa", "soundfile", "soxr", "numba")
_NO_MATTER = {"title"}
"""Of a job: what no hearing depends on."""


def key_of(job: Job, take: TakeFile) -> str | None:
    """The key of a take; None where its bytes are not known."""
    if take.digest is None:
        return None
    said = "\n".join(
        (code_version(), take.digest, take.entry.model_dump_json(), job.model_dump_json(exclude=_NO_MATTER))
    )
    return hashlib.sha256(said.encode()).hexdigest()


@cache
def code_version() -> str:
    """A name for the code that hears: what is written in its files, and the versions of what it uses."""
    digest = hashlib.sha256()
    for room in CODE:
        for path in sorted((ROOT / room).rglob("*.py")):
            digest.update(f"{path.relative_to(ROOT)}\n".encode())
            digest.update(path.read_bytes())
    digest.update("\n".join(f"{package} {version(package)}" for package in PACKAGES).encode())
    return digest.hexdigest()
