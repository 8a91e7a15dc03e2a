"""What can be wrong with the file of a recording, as codes, and the clauses that errors say.

No audio library is loaded here, so that a listing can word a problem without one.
"""

from __future__ import annotations

from dataclasses import dataclass
from os import PathLike
from typing import Final, Literal

from capture import RecordingError

LOWEST_RATE: Final = 16_000
HIGHEST_RATE: Final = 192_000
"""Samples a second."""

RefusalCode = Literal[
    "is a folder",
    "no such file",
    "not readable",
    "empty",
    "no audio",
    "rate out of range",
    "no sound",
    "no numbers",
    "too long",
    "cut short",
]

CLAUSES: dict[RefusalCode, str] = {
    "is a folder": "is a folder, not an audio file; name the file in it",
    "no such file": "there is no such file; check the name",
    "not readable": "cannot be read ({detail})",
    "empty": "the file is empty; record again",
    "no audio": (
        "is no audio that can be read, or its head is damaged; bring it as WAV, AIFF, FLAC or CAF, or record"
        " again"
    ),
    "rate out of range": (
        f"{{detail}} samples a second, and only {LOWEST_RATE} to {HIGHEST_RATE} will do; record at 48000"
    ),
    "no sound": "there is no sound in it; the recorder was stopped too early, so record again",
    "no numbers": (
        "frame {detail} is no finite number (NaN or infinity); the file is damaged, so record again"
    ),
    "too long": "too long to work on; cut it into takes of a few minutes",
    "cut short": (
        "cut short, {detail} s of it can be read; finish it in the recorder, or save it anew from an audio "
        "editor, then bring that file"
    ),
}


@dataclass(frozen=True)
class Refusal:
    """Why a file cannot be read; ``detail`` is the figure, or the system's own word, that goes with it."""

    code: RefusalCode
    detail: str = ""

    @property
    def clause(self) -> str:
        """What is wrong and what to do, without the file's name."""
        return CLAUSES[self.code].format(detail=self.detail)


class UnreadableError(RecordingError):
    """An audio file that cannot be read as it is; ``refusal`` says why."""

    def __init__(self, path: str | PathLike[str], code: RefusalCode, detail: object = "") -> None:
        """Say that the file at ``path`` cannot be read."""
        self.refusal = Refusal(code, str(detail))
        super().__init__(f"{path}: {self.refusal.clause}")


ProblemCode = Literal[
    "missing", "hash mismatch", "unreadable", "truncated", "duplicate audio", "channels", "samples lost"
]


@dataclass(frozen=True)
class FileProblem:
    """What is wrong with the file of a take.

    ``refusal`` goes with "unreadable"; ``channels`` of the file and ``inputs`` of the entry with "channels";
    ``same_as``, the id of the earlier take, and ``entered_alike``, whether both entries say the same was
    played, with "duplicate audio".
    """

    code: ProblemCode
    refusal: Refusal | None = None
    channels: int = 0
    inputs: int = 0
    same_as: str = ""
    entered_alike: bool = True


def channels_differ(channels: int, inputs: int, *, where: str = "in the file") -> str:
    """The clause for a recording with another number of ``channels`` than ``inputs`` are named."""
    return (
        f"{channels} channel{'s' * (channels != 1)} {where}, {inputs} input{'s' * (inputs != 1)} named;"
        " name what was on each channel, and nothing where nothing was plugged in"
    )
