"""What is said of a take that is recorded here, and its way into the log.

`Said` holds the keys of a take's line that a person, or the plan, knows beforehand; `checked` refuses early
what would be refused late; `entered` names and logs a recording that lies hidden in its place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from capture.audio_files import sha256_of
from capture.entering import TAKES, check_take, enter
from capture.errors import LogError, RecordingError
from capture.folder import TakeFile, taken
from capture.job_reading import read_job
from capture.log_checks import doubts, refuse
from capture.log_entries import Gesture, Input, Stage, Take, made
from capture.log_writing import open_log


@dataclass(frozen=True)
class Said:
    """What a take is entered as; one item of `inputs` for each channel, as in the log."""

    gesture: Gesture
    inputs: Sequence[Input]
    string: str | None = None
    fret: int = 0
    stage: Stage = "found"
    rig: str | None = None
    tool: str | None = None
    coil: Literal[1, 2] | None = None
    anew: bool = False

    def keys(self) -> dict[str, Any]:
        """Return the keys of the log line."""
        said: dict[str, Any] = {"gesture": self.gesture, "inputs": tuple(self.inputs), "string": self.string}
        said |= {"fret": self.fret} if self.fret or self.string is not None else {}
        said |= {"stage": self.stage, "rig": self.rig, "tool": self.tool, "coil": self.coil}
        return said | ({"anew": True} if self.anew else {})


def checked(folder: Path, said: Said, channels: int) -> dict[str, Any]:
    """Refuse what would not be logged, and return it as it would be.

    Raises
    ------
    JobError, LogError
        The folder is no job, or what is said does not fit it.
    RecordingError
        Other inputs are named than there are channels.

    """
    job = read_job(folder)
    entry = made(Take, **said.keys(), file=f"{TAKES}/x")
    if len(entry.inputs) != channels:
        raise RecordingError(
            f"{channels} channel{'s' * (channels != 1)} recorded, {len(entry.inputs)} named in inputs;"
            " name one for each channel, and null (nothing) where nothing was plugged in"
        )
    refuse(entry, job)
    for doubt in doubts(entry, job):
        raise LogError(doubt)
    return entry.line()


def entered(folder: Path, part: Path, keys: dict[str, Any]) -> TakeFile:
    """Name and log the recording that lies hidden at `part`.

    Raises
    ------
    LogError, RecordingError
        See capture.entering.

    """
    digest = sha256_of(part)
    with open_log(folder) as log:
        check_take(log, keys)
        entry = enter(log, part, suffix=".wav", digest=digest, said=keys)
    return taken(folder, log.job, entry)


def planned_of(line: object) -> Said | None:
    """Return what a note says that a take was to be, if it says that."""
    if not isinstance(line, Mapping):
        return None
    known = {k: v for k, v in line.items() if k in Take.model_fields and k not in ("id", "kind")}
    try:
        entry = made(Take, **{k: _tuples(v) for k, v in known.items()})
    except LogError:
        return None
    return Said(
        gesture=entry.gesture,
        inputs=entry.inputs,
        string=entry.string,
        fret=entry.fret,
        stage=entry.stage,
        rig=entry.rig,
        tool=entry.tool,
        coil=entry.coil,
        anew=entry.anew,
    )


def _tuples(value: Any) -> Any:
    return tuple(_tuples(v) for v in value) if isinstance(value, list) else value
