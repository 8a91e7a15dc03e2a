"""Whether a job's files are others than those that were drawn from.

Task: something cheap to compare, once a second. Units, signs: none.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from capture.bench_log import LOG_FILE
from capture.job_models import JOB_FILE

FileStamp = tuple[int, int] | None


@dataclass(frozen=True)
class JobStamp:
    """Which folder, and when each file was changed and how long it is; None where it is not there."""

    path: Path | None
    job: FileStamp = None
    log: FileStamp = None


def stamp_of(path: Path | None) -> JobStamp:
    """Look at the files of a job folder."""
    if path is None:
        return JobStamp(None)
    return JobStamp(path, _stamp(path / JOB_FILE), _stamp(path / LOG_FILE))


def _stamp(file: Path) -> FileStamp:
    try:
        said = file.stat()
    except OSError:
        return None
    return said.st_mtime_ns, said.st_size
