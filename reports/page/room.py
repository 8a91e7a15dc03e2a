"""One bench: the job that is open, the session over it, and who acts. What every screen of the page works on.

Task: one `Room` a server; screens read from it, and change the job only through the same functions as the
command line. Units, signs: none of its own.
"""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from capture.bench_log import AnyEntry, append_entry
from capture.errors import JobError
from capture.folder import JobFolder
from capture.job import Job, read_job
from capture.job_models import JOB_FILE
from reports.judging import Judgement, judge
from reports.page import page_words
from reports.page.board import START, Board
from reports.page.recording import Recording, Wanted
from reports.page.seat import Seat

Written = TypeVar("Written", bound=AnyEntry)


class Room:
    """The state of one server. ``path`` is the job's folder; None until one is begun or opened."""

    def __init__(self, path: Path | None, *, wanted: Wanted, place: Path) -> None:
        self.path, self.wanted, self.place = path, wanted, place
        self.board, self.seat = Board(), Seat()
        self.recording = Recording(self.board)
        self.judgement: Judgement | None = None
        self._job: tuple[tuple[Path, int], Job] | None = None

    @property
    def home(self) -> Path:
        """The folder of the open job.

        Raises
        ------
        JobError
            None is open.

        """
        if self.path is None:
            raise JobError(page_words.NO_JOB)
        return self.path

    def folder(self) -> JobFolder:
        """The open job, as it is on the disk now."""
        return JobFolder.open(self.home)

    def job(self) -> Job:
        """The open job alone, read anew only when job.toml was changed: asked for often."""
        path = self.home / JOB_FILE
        key = (path, path.stat().st_mtime_ns)
        if self._job is None or self._job[0] != key:
            self._job = (key, read_job(self.home))
        return self._job[1]

    def open(self, path: Path) -> None:
        """Work on another job from here on; a session over the one before is ended first."""
        JobFolder.open(path)
        self.recording.end()
        self.path, self.judgement = path, None
        self.board.show(
            phase="resting",
            step=None,
            count=0,
            to_go=None,
            doing="",
            lines=(),
            ended=(),
            take=None,
            verdict=None,
            beliefs=MappingProxyType({}),
        )

    def judge(self, *, since: str = START) -> Judgement:
        """Judge the job as it stands and show what is believed; slow, so call it off the page's thread."""
        folder = self.folder()
        judged = judge(folder)
        if folder.path == self.path:  # another job may have been opened meanwhile
            self.judgement = judged
            self.board.believe(judged.verdict, since=since)
        return judged

    def enter(self, entry: Written) -> Written:
        """Append an entry to the log; judging is up to the caller."""
        return append_entry(self.home, entry)
