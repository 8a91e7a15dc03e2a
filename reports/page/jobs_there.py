"""The jobs that lie where new ones are made.

Task: every folder with a job.toml under the place for jobs and its recordings/, the one changed last first.
Units: nanoseconds since 1970. Signs: none. Titles are read; nothing is judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from capture.errors import JobError
from capture.job import read_job
from reports.entry_places import DEFAULT_PLACE
from reports.page.stamp import JobStamp, stamp_of


@dataclass(frozen=True)
class JobThere:
    """A job: its folder, its title (or why job.toml is refused), and when it was changed last."""

    path: Path
    title: str
    at_ns: int

    @property
    def at(self) -> str:
        """When it was changed last, on this machine's clock."""
        return datetime.fromtimestamp(self.at_ns / 1e9).astimezone().strftime("%Y-%m-%d %H:%M")


def stamps_in(place: Path) -> tuple[JobStamp, ...]:
    """Return which jobs there are, the one changed last first; cheap, nothing is opened."""
    found: dict[Path, JobStamp] = {}
    for folder in (place, place / DEFAULT_PLACE):
        with suppress(OSError):
            for inside in folder.iterdir():
                stamp = stamp_of(inside)
                if stamp.job is not None:
                    found.setdefault(inside, stamp)
    return tuple(sorted(found.values(), key=lambda s: (-_changed(s), str(s.path))))


def jobs_there(stamps: Sequence[JobStamp]) -> tuple[JobThere, ...]:
    """Return these jobs with their titles."""
    return tuple(JobThere(s.path, _title(s.path), _changed(s)) for s in stamps if s.path is not None)


def _changed(stamp: JobStamp) -> int:
    return max(file[0] for file in (stamp.job, stamp.log, (0, 0)) if file is not None)


def _title(path: Path) -> str:
    try:
        return read_job(path).title or path.name
    except JobError as error:
        return str(error)
