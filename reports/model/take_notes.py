"""What is said of one take, reading or tag: why it does not count, counts for less, or what it tells.

Notes (reports.model.notes), cached with a take. No parameter is a sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from capture.audio.problems import FileProblem, ProblemCode
from dsp.signal.codes import Fault, FaultCode
from reports.model.notes import Note


@dataclass(frozen=True)
class SoundNote(Note):
    """What is wrong with the sound of a take, which ``remark`` says still counts; the rest is as entered."""

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
    "not from one alone to another",
    "pulse on several inputs",
    "leads not known",
    "string not named",
    "hears no string",
    "coil not named",
    "taps need one position",
    "tapped pickup not named",
    "taps not compared",
    "no magnetic pickup",
    "sound where nothing was plugged in",
    "compressed with loss",
]


@dataclass(frozen=True)
class TakeNote(Note):
    """An entry of a take that does not say enough, or says what does not go together."""

    code: TakeCode


@dataclass(frozen=True)
class NoStringNote(Note):
    """A pluck or press whose string is not named; ``heard``: the note that sounds at ``hz``."""

    heard: str
    hz: float


@dataclass(frozen=True)
class NotComparedNote(Note):
    """A pluck that is not compared, because something other than phase is wrong with ``setting``."""

    setting: str


@dataclass(frozen=True)
class OutvotedNote(Note):
    """A switch take that says otherwise of ``a`` and ``b`` than the many takes ``others``; it counts."""

    a: str
    b: str
    others: tuple[str, ...]


@dataclass(frozen=True)
class MeterLeadsNote(Note):
    """A meter reading, the log entry ``entry``, on leads of ``pickup`` that job.toml does not name.

    ``string``: what is missing is over which string the tool was, since the poles of this pickup differ;
    ``compass``: it is of a compass, and another one of the same magnet reads the other way.
    """

    entry: str
    pickup: str
    string: bool = False
    compass: bool = False


@dataclass(frozen=True)
class MakeUp:
    """How a recording is written: ``rate`` in Hz, ``depth`` as "24 bit", ``family`` as "WAV"."""

    rate: int
    depth: str
    family: str

    def __str__(self) -> str:
        """The three facts in one, as a part of a rig's name."""
        return f"{self.rate / 1000:g} kHz, {self.depth}, {self.family}"


@dataclass(frozen=True)
class IdleTagNote(Note):
    """A tag, the log entry ``entry``, that says nothing: of a voided take, or on one coil alone."""

    code: Literal["take voided", "coil alone"]
    entry: str
    take: str
    pickup: str


@dataclass(frozen=True)
class ShortStretchNote(Note):
    """Positions of a sweep that rang too shortly; ``shortest_s``: the shortest of them."""

    settings: tuple[str, ...]
    shortest_s: float


@dataclass(frozen=True)
class LongTakeNote(Note):
    """A recording longer than any gesture, ``whole_s`` seconds, of which a part alone was heard."""

    start_s: float
    stop_s: float
    whole_s: float


@dataclass(frozen=True)
class NotAsListedNote(Note):
    """A take that is not used, because taps contradict what job.toml has on at ``setting``."""

    setting: str


InputCode = Literal[
    "lag taken out",
    "phase taken out",
    "not one signal",
    "lag wanders",
    "one input late",
    "late after the split check",
    "low cut",
    "phase not known here",
    "silent split check",
]


@dataclass(frozen=True)
class InputNote(Note):
    """How two inputs of a rig differ, or what a take suffers from it.

    ``later`` is the input that comes later, or is turned by a low cut, ``other`` the one that it is compared
    with, both counted from 1; ``ms`` the lag and ``most_ms`` the largest where several were measured; ``hz``
    where a low cut begins, or where the phase is turned by ``degrees``; ``pickup`` is the one that
    came late, or whose split check is silent.
    """

    code: InputCode
    later: int
    other: int
    ms: float = 0.0
    most_ms: float = 0.0
    hz: float = 0.0
    degrees: float = 0.0
    pickup: str = ""


TakePartNote = LongTakeNote | ShortStretchNote
AnyTakeNote = (
    SoundNote
    | FileNote
    | TakeNote
    | NoStringNote
    | NotComparedNote
    | OutvotedNote
    | NotAsListedNote
    | TakePartNote
    | InputNote
)
