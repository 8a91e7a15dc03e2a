"""A new job folder, opened: what `coilwise new` makes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from capture.job.writing import new_job
from capture.takes.folder import JobFolder


def create_job(path: Path, **said: Any) -> JobFolder:
    new_job(path, **said)
    return JobFolder.open(path)
