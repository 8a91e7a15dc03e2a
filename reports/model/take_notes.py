"""Notes on takes and readings: what keeps one out of the evidence, marks it down, or only informs.

They are what is cached of a take besides its measurements, so nothing here is a sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from capture.audio.problems import FileProblem, ProblemCode
from dsp.signal.codes import Fault, FaultCode
from reports.model.notes import Note


@dataclass(frozen=True)
class SoundNote(Note):
    """What is wrong with the sound of a take.

    ``gesture``, ``string`` and ``fret`` are what the take was entered as. ``remark``: the take still counts.
    """

    fault: Fault
    gesture: str
    string: str | None = None
    fret: int = 0
    remark: bool = False

    @property
    def code(self) -> FaultCode:
        """What is wrong."""
        return self.fault.code


@dataclass(frozen=True)
class FileNote(Note):
    """What is wrong with the file of a take."""

    problem: FileProblem

    @property
    def code(self) -> ProblemCode:
        """What is wrong."""
        return self.problem.code


TakeCode = Literal[
    "several pickups together",
    "leads or a list of settings",
    "nothing plugged in",
    "no list of settings",
    "list of one setting",
    "pulse on several inputs",
    "leads not known",
    "coil not named",
]


@dataclass(frozen=True)
class TakeNote(Note):
    """An entry of a take that does not say enough, or says what does not go together."""

    code: TakeCode


@dataclass(frozen=True)
class NotComparedNote(Note):
    """A pluck that is not compared, because something other than phase is wrong with ``setting``."""

    setting: str


@dataclass(frozen=True)
class MeterLeadsNote(Note):
    """A meter reading, the log entry ``entry``, on leads of ``pickup`` that job.toml does not name."""

    entry: str
    pickup: str


AnyTakeNote = SoundNote | FileNote | TakeNote | NotComparedNote
