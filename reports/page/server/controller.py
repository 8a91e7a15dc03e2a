"""One server's state: the job that is open, the session over it, and which browser may act.

Every screen reads from the one `PageController` and changes the job only through the same functions as the
command line. `ControlLock` is held by one browser; `JobStamp` tells cheaply whether files of a job changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from capture import JOB_FILE, LOG_FILE, JobError, RecordingError
from capture.audio.files import read_stretch, wav_bytes
from capture.job import Job, read_job
from capture.log import AnyEntry, append_entry
from capture.takes.folder import JobFolder
from dsp import CoilwiseError
from dsp.live.gestures import LONGEST_TAKE_S
from reports.entry.finding import quoted
from reports.evidence.cache import take_result
from reports.messages import page as page_words
from reports.messages.commands import FOLDER
from reports.messages.sentences import commands_naming
from reports.page.server.recording import START, LiveState, SessionRunner, TakeWaveform
from reports.session.options import RecordingOptions
from reports.verdict.building import Judgement, judge
from reports.verdict.care_memory import remembered_care


@dataclass
class ControlLock:
    """Which page may act; the others watch. ``holder`` is a page's id, None while no page holds it."""

    holder: str | None = None

    def acquire(self, page: str) -> bool:
        """Take the lock if it is free; whether the page holds it now."""
        if self.holder is None:
            self.holder = page
        return self.holder == page

    def release(self, page: str) -> None:
        """Free the lock if this page holds it: the page is gone."""
        if self.holder == page:
            self.holder = None

    def seize(self, page: str) -> None:
        """Take the lock from whoever holds it, as a person at this page wants."""
        self.holder = page


FileStamp = tuple[int, int] | None
TAKES_BESIDE = 8
"""So many takes before an old one are looked through for one to draw beside it."""


@dataclass(frozen=True)
class JobStamp:
    """A job folder with time of change (ns) and size of its files; None where a file is not there."""

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
        status = file.stat()
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size


Entry = TypeVar("Entry", bound=AnyEntry)


class PageController:
    """The state of one server.

    ``path``: the folder of the open job, None until one is begun or opened; ``jobs_folder``: where new jobs
    are made.
    """

    def __init__(self, path: Path | None, *, options: RecordingOptions, jobs_folder: Path) -> None:
        self.path, self.options, self.jobs_folder = path, options, jobs_folder
        self.live, self.control = LiveState(), ControlLock()
        self.runner = SessionRunner(self.live)
        self._job: tuple[tuple[Path, int], Job] | None = None

    @property
    def open_path(self) -> Path:
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
        return JobFolder.open(self.open_path)

    def naming_commands(self) -> AbstractContextManager[None]:
        """Within it, commands in sentences name the open job as it is typed here."""
        return commands_naming(FOLDER if self.path is None else quoted(self.path))

    def entries(self) -> Sequence[AnyEntry]:
        """What counts in the open job's log; nothing where none is open, or it cannot be read just now."""
        with suppress(CoilwiseError, OSError):
            return self.folder().log.standing
        return ()

    def job(self) -> Job:
        """The open job alone, read anew only when job.toml was changed: asked for often."""
        path = self.open_path / JOB_FILE
        key = (path, path.stat().st_mtime_ns)
        if self._job is None or self._job[0] != key:
            self._job = (key, read_job(self.open_path))
        return self._job[1]

    def open(self, path: Path) -> None:
        """Work on another job from here on; a session over the one before is ended first."""
        JobFolder.open(path)
        self.runner.end()
        self.path = path
        self.live.update(
            phase="resting",
            step=None,
            accepted=0,
            to_go=None,
            activity=None,
            notes=(),
            outcome=None,
            take=None,
            verdict=None,
            posteriors=MappingProxyType({}),
        )

    def open_take(self, take: str) -> TakeWaveform:
        """Return a take that was recorded before, with what was heard in it; slow the first time.

        Raises
        ------
        CoilwiseError
            There is none of that id, or its recording cannot be used.

        """
        folder = self.folder()
        files = folder.takes()
        number = next((k for k, one in enumerate(files) if one.entry.id == take), None)
        if number is None:
            raise RecordingError(page_words.NO_SUCH_TAKE.format(id=take))
        audio = files[number].load()
        results = [take_result(folder.job, one) for one in files[max(0, number - TAKES_BESIDE) : number + 1]]
        return TakeWaveform(
            take,
            audio.samples,
            audio.rate,
            None,
            files[number].entry.inputs,
            result=results[-1],
            before=tuple(results[:-1]),
        )

    def take_sound(self, take: str) -> bytes:
        """Return a take as a WAV file, as it was recorded.

        Raises
        ------
        CoilwiseError
            There is none of that id, or its recording cannot be used.

        """
        found = next((one for one in self.folder().takes() if one.entry.id == take), None)
        if found is None or found.status == "refused" or found.header is None:
            raise RecordingError(page_words.NO_SUCH_TAKE.format(id=take))
        frames = min(found.header.frames, LONGEST_TAKE_S * found.header.rate)
        return wav_bytes(read_stretch(found.path, start=0, stop=int(frames)))

    def judge(self, *, since: str = START) -> Judgement:
        """Judge the job as it stands and show the verdict; slow, so call it off the page's thread."""
        folder = self.folder()
        judged = judge(folder, care=remembered_care().before(folder.path))
        if folder.path == self.path:  # another job may have been opened meanwhile
            self.live.set_verdict(judged.verdict, since=since)
        return judged

    def enter(self, entry: Entry) -> Entry:
        """Append an entry to the log; judging is up to the caller."""
        return append_entry(self.open_path, entry)
