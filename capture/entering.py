"""Giving a recording its id, its name under takes/, and its line in the log: in that order, under one lock.

The recording lies beside its place already, whole and flushed, under a hidden name. It gets a name that
neither the log nor a file has, is never written over another, and is logged after that. Where the log cannot
be written, the new name goes again, so that no take lies there that nobody knows of.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from capture.copying import place
from capture.errors import LogError
from capture.log_entries import Take, made
from capture.log_writing import OpenLog

TAKES = "takes"


def free_take_id(log: OpenLog) -> str:
    """Return the next id that neither the log nor a file under takes/ has."""
    folder = log.folder / TAKES
    if folder.is_dir():
        log.ids.update(path.name.split(".")[0] for path in folder.iterdir() if not path.name.startswith("."))
    return log.free_id("take")


def check_take(log: OpenLog, said: dict[str, Any]) -> None:
    """Refuse what would not be logged.

    Raises
    ------
    LogError
        The entry does not fit the job.

    """
    log.check(made(Take, **said, file=f"{TAKES}/x"))


def enter(log: OpenLog, part: Path, *, suffix: str, digest: str, said: dict[str, Any]) -> Take:
    """Name the file `part`, whose SHA-256 is `digest`, and log it; `part` stays as a second name of it.

    Raises
    ------
    RecordingError
        The folder cannot be written.
    LogError
        The entry does not fit the job, or the log cannot be written.

    """
    entry_id = free_take_id(log)
    file = f"{TAKES}/{entry_id}{suffix}"
    entry = made(Take, **said, id=entry_id, file=file, sha256=digest)
    place(part, log.folder / file)
    try:
        return log.append(entry)
    except LogError:
        (log.folder / file).unlink()
        raise
