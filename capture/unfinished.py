"""Recordings that were not finished: found at the next start, then taken in or set aside, never deleted.

Whatever ends a program while it records (a crash, a kill, a full disk) leaves a hidden part file under takes/
(capture.part_files); all whole frames of it can be read.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from os import PathLike
from pathlib import Path

from capture.audio_files import sha256_of
from capture.copying import place
from capture.entering import TAKES
from capture.errors import LogError, RecordingError
from capture.folder import TakeFile
from capture.job_reading import read_job
from capture.log_entries import Take
from capture.log_reading import read_log
from capture.part_files import PART, LeftOver, forget, note_of
from capture.said import Said, checked, entered, planned_of

SET_ASIDE = "set-aside"


@dataclass(frozen=True)
class Unfinished:
    """A recording that was not finished: how much of it can be read, when it began, what it was to be."""

    folder: Path
    path: Path
    rate: int
    channels: int
    frames: int
    at: str | None
    planned: Said | None
    dropped: int | bool

    @property
    def seconds(self) -> float:
        """How long it is."""
        return self.frames / self.rate


def unfinished(folder: str | PathLike[str]) -> tuple[Unfinished, ...]:
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
    parts = sorted((home / TAKES).glob(f".*{PART}"))
    logged = (
        {e.entry.sha256 for e in read_log(home, job).entries if isinstance(e.entry, Take)} if parts else ()
    )
    found = []
    for path in parts:
        try:
            left = LeftOver(path)
            known = sha256_of(path) in logged
        except RecordingError:
            continue
        if known:
            forget(path)
        if known or not left.frames or not left.rate:
            continue
        note = left.note()
        found.append(
            Unfinished(
                folder=home,
                path=path,
                rate=left.rate,
                channels=left.channels,
                frames=left.frames,
                at=note["at"] if isinstance(note.get("at"), str) else None,
                planned=planned_of(note.get("planned")),
                dropped=note["dropped"] if isinstance(note.get("dropped"), int) else False,
            )
        )
    return tuple(found)


def take_in(left: Unfinished, said: Said | None = None) -> TakeFile:
    """Make a take of an unfinished recording; without `said` it is what it was to be.

    Raises
    ------
    RecordingError
        It is not there any more or being recorded, has other channels, or the folder cannot be written.
    LogError
        Nothing is said of it, it does not fit the job, or cannot be logged.

    """
    said = said or left.planned
    if said is None:
        raise LogError(f"{left.path}: nothing is known of it; say its gesture and what was on each input")
    checked(left.folder, said, left.channels)
    LeftOver(left.path).mend()
    _drop_second_name(left)
    keys = said.keys() | ({"at": left.at} if left.at else {})
    take = entered(left.folder, left.path, keys | ({"dropped": left.dropped} if left.dropped else {}))
    forget(left.path)
    return take


def set_aside(left: Unfinished) -> Path:
    """Move an unfinished recording to takes/set-aside/, where it is offered no more, and return its path.

    Raises
    ------
    RecordingError
        It is not there any more or being recorded, or the folder cannot be written.

    """
    LeftOver(left.path).mend()
    target = left.folder / TAKES / SET_ASIDE / f"{left.path.name.removesuffix(PART).lstrip('.')}.wav"
    try:
        target.parent.mkdir(exist_ok=True)
    except OSError as error:
        raise RecordingError(f"{target.parent}: cannot be made ({error.strerror})") from None
    place(left.path, target)
    if note_of(left.path).exists():
        place(note_of(left.path), target.with_suffix(".json"))
    forget(left.path)
    return target


def _drop_second_name(left: Unfinished) -> None:
    """Take away a take's name that it got but was not logged under: killed in between."""
    log = read_log(left.folder, read_job(left.folder))
    logged = {left.folder / e.entry.file for e in log.entries if isinstance(e.entry, Take)}
    for path in (left.folder / TAKES).glob("t*.wav"):
        if path not in logged and os.path.samefile(path, left.path):
            path.unlink()
