"""One browser acts, the others watch.

Task: who sits at the bench. Who comes while the seat is free takes it; it is free again when that browser's
page is gone (closed or loaded anew). Who watches may take it over, on purpose only. Signs: none.

Whether a job's files are others than those that were drawn from.

Task: something cheap to compare, once a second. Units, signs: none.

One bench: the job that is open, the session over it, and who acts. What every screen of the page works on.

Task: one `Room` a server; screens read from it, and change the job only through the same functions as the
command line. Units, signs: none of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from capture import JobError
from capture.job import Job, read_job
from capture.job.model import JOB_FILE
from capture.log import LOG_FILE, AnyEntry, append_entry
from capture.takes.folder import JobFolder
from reports.messages import page as page_words
from reports.page.server.recording import START, Board, Recording, RecordingOptions
from reports.verdict.building import Judgement, judge


@dataclass
class Seat:
    """Who acts, by the name of their page; None where nobody does."""

    sitting: str | None = None

    def came(self, page: str) -> None:
        """A page was opened."""
        if self.sitting is None:
            self.sitting = page

    def left(self, page: str) -> None:
        """A page is gone."""
        if self.sitting == page:
            self.sitting = None

    def take_over(self, page: str) -> None:
        """Somebody says that they act from now on."""
        self.sitting = page

    def may_act(self, page: str) -> bool:
        """Whether this page acts; a free seat is taken by acting."""
        self.came(page)
        return self.sitting == page


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


Written = TypeVar("Written", bound=AnyEntry)


class Room:
    """The state of one server. ``path`` is the job's folder; None until one is begun or opened."""

    def __init__(self, path: Path | None, *, wanted: RecordingOptions, place: Path) -> None:
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
