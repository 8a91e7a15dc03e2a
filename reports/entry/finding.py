"""Which job is meant by a name, and which jobs there are: for a command line that is called from anywhere.

A bare name is a folder here, one under recordings/ here, or the same further up, so that a job is found from
a subfolder too; a folder inside a job stands for that job. Jobs that are listed are those a bare name reaches
from here, the latest first. Nothing is opened; a folder with a job.toml is a job. Loads nothing heavy.
"""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterator, Sequence
from pathlib import Path

from capture import JOB_FILE, LOG_FILE, JobError
from reports.messages import entering as words
from reports.messages.commands import with_job

DEFAULT_PLACE = "recordings"
"""Where new jobs are made, if there is such a folder."""
MOST_LISTED = 6
"""More jobs are counted and not named."""


def find_job(name: Path) -> Path:
    """Return the folder that a name stands for; a path that leads nowhere is returned as it was given.

    Raises
    ------
    JobError
        A bare name is none of the jobs that can be reached from here.

    """
    if name.exists():
        job = next(
            (p for p in (name, *Path(os.path.realpath(name)).parents) if (p / JOB_FILE).is_file()), None
        )
        if job is None and name.is_dir():
            inside = [quoted(p) for p in sorted(_jobs_in(name))]
            jobs = listed(inside) if inside else jobs_sentence()
            raise JobError(words.IN_NO_JOB.format(name=name, jobs=jobs))
        return job or name
    if name.is_absolute() or len(name.parts) != 1:
        return name
    for place in _places():
        if (place / name / JOB_FILE).is_file():
            return place / name
        if place.name == name.name and (place / JOB_FILE).is_file():
            return place
    raise JobError(words.NO_SUCH_JOB.format(name=name, jobs=jobs_sentence()))


def jobs_here() -> list[Path]:
    """Return the jobs that a bare name reaches from here, the one that was worked on last first."""
    found = {p.resolve(): p for place in _places() for p in _jobs_in(place)}
    return sorted(found.values(), key=_worked_on, reverse=True)


def jobs_sentence() -> str:
    """Which jobs there are, in one clause."""
    jobs = jobs_here()
    if not jobs:
        return words.NO_JOBS.format(here=Path.cwd())
    return listed([quoted(job) for job in jobs])


def listed(jobs: Sequence[str]) -> str:
    """Name some jobs, and count the rest."""
    more = words.MORE_JOBS.format(count=len(jobs) - MOST_LISTED) if len(jobs) > MOST_LISTED else ""
    return words.JOBS.format(named=", ".join(jobs[:MOST_LISTED]), more=more)


def commands_for(text: str, folder: Path) -> str:
    """Text whose commands name the job, as they are to be typed."""
    return with_job(text, quoted(folder))


def quoted(job: Path) -> str:
    """A job as it is typed after a command: by its bare name where that reaches it, quoted where needed."""
    reached = any(os.path.realpath(place / job.name) == os.path.realpath(job) for place in _places())
    return shlex.quote(job.name if reached else str(job))


def _places() -> Iterator[Path]:
    """Where a bare name is looked for: here, and further up where recordings/ lies or a job is left."""
    here = Path()
    yield here
    yield here / DEFAULT_PLACE
    for above in Path.cwd().parents:
        yield above / DEFAULT_PLACE
        if (above / JOB_FILE).is_file():
            yield above
            yield above.parent
    if (here / JOB_FILE).is_file():
        yield Path.cwd().parent


def _jobs_in(place: Path) -> Iterator[Path]:
    try:
        yield from (p for p in place.iterdir() if (p / JOB_FILE).is_file())
    except OSError:
        return


def _worked_on(job: Path) -> int:
    times = [0]
    for name in (JOB_FILE, LOG_FILE):
        try:
            times.append((job / name).stat().st_mtime_ns)
        except OSError:
            continue
    return max(times)
