"""Takes recorded straight into the job: written as they come, named when whole, logged after that.

A `TakeWriter` is fed with blocks and finished with the `TakeFields` of the take. Whatever ends the program
leaves every finished take as it was and at most the running one unfinished: a hidden part file
(capture.takes.part_files), of which all whole frames can be read. `unfinished_takes` lists them at the next
start; `recover_take` makes a take of one, `set_aside` moves it away. Nothing is written over or thrown away.

Blocks are (frames, channels), full scale 1, with the sign they came with; files are 24-bit WAV.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from os import PathLike
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from capture import LogError, RecordingError
from capture.audio.files import sha256_of
from capture.audio.problems import channels_differ
from capture.disk.reading import is_link
from capture.disk.writing import make_folder
from capture.job.reading import read_job
from capture.log.entries import TAKES, Take, TakeFields, new_entry, path_inside
from capture.log.reading import read_log
from capture.log.requirements import check_new_entry
from capture.log.writing import open_log, utc_now
from capture.takes.folder import (
    TakeFile,
    enter_take,
    last_take_file,
    link_to_name,
    remove_unlogged_name,
)
from capture.takes.part_files import PART, AbandonedPart, PartFile, note_of, remove_empty, remove_part


def check_fields(folder: Path, fields: TakeFields, channels: int) -> Take:
    """Refuse what would not be logged, and return the entry that it will be but for its file.

    Raises
    ------
    JobError, LogError
        The folder is no job, or what is said does not fit it.
    RecordingError
        Other inputs are named than there are channels.

    """
    job = read_job(folder)
    entry = fields.entry()
    if len(entry.inputs) != channels:
        raise RecordingError(channels_differ(channels, len(entry.inputs), where="recorded"))
    check_new_entry(entry, job)
    return entry


def log_recording(folder: Path, part: Path, entry: Take, *, digest: str) -> Take:
    """Name and log the recording that lies hidden at `part`, whose SHA-256 is `digest`.

    Raises
    ------
    LogError, RecordingError
        See capture.takes.folder.

    """
    with open_log(folder) as log:
        log.check(entry)
        return enter_take(log, part, entry, suffix=".wav", digest=digest)


def planned_fields(line: object) -> TakeFields | None:
    """Return what a note says that a take was to be, if it says that."""
    if not isinstance(line, Mapping):
        return None
    known = {k: v for k, v in line.items() if k in Take.model_fields and k not in ("id", "kind")}
    try:
        return TakeFields.of(new_entry(Take, **{k: _tuples(v) for k, v in known.items()}))
    except LogError:
        return None


def _tuples(value: Any) -> Any:
    return tuple(_tuples(v) for v in value) if isinstance(value, list) else value


SET_ASIDE = "set-aside"


@dataclass(frozen=True)
class UnfinishedTake:
    """A recording that was not finished: how much of it can be read, when it began, what it was to be."""

    folder: Path
    path: Path
    rate: int
    channels: int
    frames: int
    at: str | None
    planned: TakeFields | None
    dropped: int | bool

    @property
    def seconds(self) -> float:
        """How long it is."""
        return self.frames / self.rate


def unfinished_takes(folder: str | PathLike[str]) -> tuple[UnfinishedTake, ...]:
    """Return the recordings that a crash, a kill or a full disk left, oldest first.

    One that is being recorded just now is none, nor one that holds no frame. One that was logged and whose
    hidden name alone was left (killed in between) loses that name.

    Raises
    ------
    JobError, LogError
        The folder is no job, or its log is refused.

    """
    home = Path(folder)
    job = read_job(home)
    if is_link(home / TAKES):
        return ()
    remove_empty(home / TAKES)
    parts = sorted((home / TAKES).glob(f".*{PART}"))
    logged = (
        {e.entry.sha256 for e in read_log(home, job).entries if isinstance(e.entry, Take)} if parts else ()
    )
    found = []
    for path in parts:
        try:
            left = AbandonedPart(path)
            known = sha256_of(path) in logged
        except RecordingError:
            continue
        if known:
            remove_part(path)
        if known or not left.frames or not left.rate:
            continue
        note = left.note()
        found.append(
            UnfinishedTake(
                folder=home,
                path=path,
                rate=left.rate,
                channels=left.channels,
                frames=left.frames,
                at=note["at"] if isinstance(note.get("at"), str) else None,
                planned=planned_fields(note.get("planned")),
                dropped=note["dropped"] if isinstance(note.get("dropped"), int) else False,
            )
        )
    return tuple(found)


def recover_take(left: UnfinishedTake, fields: TakeFields | None = None) -> TakeFile:
    """Make a take of an unfinished recording; without `fields` it is what it was to be.

    Raises
    ------
    RecordingError
        It is not there any more or being recorded, has other channels, or the folder cannot be written.
    LogError
        Nothing is said of it, it does not fit the job, or cannot be logged.

    """
    fields = fields or left.planned
    if fields is None:
        raise LogError(f"{left.path}: nothing is known of it; say its gesture and what was on each input")
    check_fields(left.folder, fields, left.channels)
    AbandonedPart(left.path).mend()
    _forget_unlogged_name(left)
    entry = fields.entry(at=left.at, dropped=left.dropped or None)
    entry = log_recording(left.folder, left.path, entry, digest=sha256_of(left.path))
    remove_part(left.path)
    return last_take_file(left.folder, read_job(left.folder), entry)


def set_aside(left: UnfinishedTake) -> Path:
    """Move an unfinished recording to takes/set-aside/, where it is offered no more, and return its path.

    Raises
    ------
    RecordingError
        It is not there any more or being recorded, or the folder cannot be written.

    """
    AbandonedPart(left.path).mend()
    target = left.folder / TAKES / SET_ASIDE / f"{left.path.name.removesuffix(PART).lstrip('.')}.wav"
    try:
        make_folder(left.folder, TAKES, SET_ASIDE)
    except OSError as error:
        raise RecordingError(f"{target.parent}: cannot be made ({error.strerror})") from None
    link_to_name(left.path, target)
    _forget_unlogged_name(left)
    if note_of(left.path).exists():
        link_to_name(note_of(left.path), target.with_suffix(".json"))
    remove_part(left.path)
    return target


def _forget_unlogged_name(left: UnfinishedTake) -> None:
    log = read_log(left.folder, read_job(left.folder))
    remove_unlogged_name(left.folder, left.path, (e.entry for e in log.entries))


class TakeWriter:
    """A take that is being recorded into a job folder; closed before its end, it stays unfinished."""

    def __init__(
        self, folder: str | PathLike[str], *, rate: int, channels: int, planned: TakeFields | None = None
    ) -> None:
        """Begin a take; `planned` is what it is going to be, and is refused now rather than afterwards.

        Raises
        ------
        JobError
            The folder is no job.
        LogError
            What is planned does not fit the job.
        RecordingError
            The folder cannot be written.

        """
        self._folder, self._at, self._dropped = Path(folder), utc_now(), 0
        self._marked = self._closed = False
        path_inside(self._folder, f"{TAKES}/x")
        note: dict[str, Any] = {"at": self._at}
        if planned is not None:
            note["planned"] = check_fields(self._folder, planned, channels).line()
        self._part = PartFile(self._folder / TAKES, rate=rate, channels=channels, note=note)

    @property
    def frames(self) -> int:
        """How many frames are in the file."""
        return self._part.frames

    @property
    def path(self) -> Path:
        """The hidden file; another name of the take once it is finished."""
        return self._part.path

    def write(self, samples: npt.NDArray[np.floating], *, dropped: int | bool = False) -> None:
        """Append (frames, channels); `dropped` says that samples are missing, and how many if that is known.

        Raises
        ------
        RecordingError
            The disk is full or gone; what was written stays.

        """
        if dropped:
            self.mark_dropped(dropped)
        self._part.write(samples)

    def mark_dropped(self, frames: int | bool = True) -> None:
        """Enter the take as one with missing samples; frames add up."""
        self._marked = True
        self._dropped += 0 if frames is True else int(frames)
        self._part.mark(dropped=self._dropped or True)

    def finish(self, fields: TakeFields, *, keep_to: int | None = None) -> TakeFile:
        """Flush, name and log the take; `keep_to` leaves away what comes after so many frames.

        Raises
        ------
        RecordingError
            No sound, other channels than inputs, or the folder cannot be written. It stays unfinished.
        LogError
            What is said does not fit the job, or cannot be logged. It stays unfinished.

        """
        if self._closed:
            raise RecordingError(f"{self.path}: this take was finished or left before")
        check_fields(self._folder, fields, self._part.channels)
        if not self.frames or keep_to == 0:
            raise RecordingError(f"{self.path}: nothing was recorded; check the input, then record again")
        if keep_to is not None:
            self._part.cut(keep_to)
        digest = self._part.complete()
        entry = fields.entry(at=self._at, dropped=(self._dropped or True) if self._marked else None)
        entry = log_recording(self._folder, self.path, entry, digest=digest)
        self._closed = True
        self._part.remove()
        return last_take_file(self._folder, read_job(self._folder), entry)

    def close(self) -> None:
        """Let go; what is not finished is offered later."""
        if not self._closed:
            self._closed = True
            self._part.close()
