"""Judgement on pairs, settings and the job as a whole, as codes with typed parameters.

reports.messages.advice has the sentence of each.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reports.model.notes import Note, Phase, Sounds, Standing

ErrorKind = Literal[
    "clips",
    "colours",
    "meter leads",
    "misread swing",
    "hand",
    "magnetised tool",
    "channels",
    "compass",
    "sideways string",
    "sideways ringing",
    "one pickup twice",
    "work",
    "no work",
    "inner joint",
    "coil's face",
    "inner winding",
    "settings",
    "same setting twice",
    "profile",
    "capacitive hum",
]
"""Kinds of latent errors: what can turn evidence over, or make it say nothing."""


@dataclass(frozen=True)
class OnPickups:
    """An error on these pickups."""

    names: tuple[str, ...]


@dataclass(frozen=True)
class OnString:
    """An error on one string at one pickup."""

    string: str
    pickup: str


@dataclass(frozen=True)
class OnReading:
    """An error on one reading of a pickup, the log entry ``entry``."""

    pickup: str
    entry: str


@dataclass(frozen=True)
class OnInput:
    """An error on one input of a rig, counted from 1."""

    number: int
    rig: str


@dataclass(frozen=True)
class OnRig:
    """An error on everything recorded through one rig."""

    rig: str


@dataclass(frozen=True)
class OnTool:
    """An error on one tool."""

    tool: str


@dataclass(frozen=True)
class OnSettings:
    """An error on one of these selector settings."""

    names: tuple[str, ...]


ErrorSubject = OnPickups | OnString | OnReading | OnInput | OnRig | OnTool | OnSettings


@dataclass(frozen=True)
class BenchError:
    """A latent error as a person knows it: its kind, and what it is on."""

    kind: ErrorKind
    subject: ErrorSubject


@dataclass(frozen=True)
class NotSettled(Note):
    """Why a pair is not settled; "recordings lost": this rests on what is left of them."""

    code: Literal["no evidence", "too little evidence", "recordings lost"]


@dataclass(frozen=True)
class OneErrorLeft(Note):
    """A pair is likely, and this one error bounds how sure it can be."""

    error: BenchError


@dataclass(frozen=True)
class CoilsNotJoined(Note):
    """The coils of a pickup of the pair are not joined; ``planned``: the plan says how."""

    pickup: str
    planned: bool


@dataclass(frozen=True)
class RecordPair(Note):
    """A take to record of two pickups."""

    code: Literal["paired or in turn", "switch", "two more"]
    a: str
    b: str


@dataclass(frozen=True)
class CheckError(Note):
    """What tells whether an error happened."""

    error: BenchError


@dataclass(frozen=True)
class WireThenRecord(Note):
    """Join the coils of a pickup as planned, then record it."""

    pickup: str


@dataclass(frozen=True)
class RecordAfterWork(Note):
    """The leads of these pickups were changed, and nothing has been recorded since."""

    pickups: tuple[str, ...]


@dataclass(frozen=True)
class RecordHum(Note):
    """The hum of a setting that is meant to be quiet is not known; ``again``: recorded, and not settled."""

    setting: str
    again: bool


@dataclass(frozen=True)
class PutRecordingsBack(Note):
    """Recordings of these takes are missing or changed."""

    takes: tuple[str, ...]


@dataclass(frozen=True)
class LikelyCause(Note):
    """The errors that most probably explain a conflict; none: one of the takes was entered wrongly."""

    errors: tuple[BenchError, ...]


SettingCode = Literal[
    "measured thin",
    "measured full",
    "imbalanced",
    "twin settings",
    "fewer harmonics",
    "one source not heard alone",
]


@dataclass(frozen=True)
class SettingRemark(Note):
    """Something about the measurements of a setting; ``below_db``: of "measured thin", how far below."""

    code: SettingCode
    below_db: float = 0.0


@dataclass(frozen=True)
class SettingResult:
    """What a setting was to be after the work, and what it is."""

    setting: str
    planned: Sounds
    after: Sounds


@dataclass(frozen=True)
class WorkResult(Note):
    """Whether the harness came out as planned.

    ``settings``: those that did not, or (of "as planned so far") those that are not known yet.
    """

    code: Literal["as planned", "as planned so far", "not as planned", "not recorded", "no plan"]
    settings: tuple[SettingResult, ...] = ()


@dataclass(frozen=True)
class PairPhase:
    """The answer for one pair; ``phase`` None: not settled."""

    a: str
    b: str
    phase: Phase | None
    standing: Standing


@dataclass(frozen=True)
class PhaseHeadline(Note):
    """Which pairs are out of phase, and which are not settled."""

    pairs: tuple[PairPhase, ...]


@dataclass(frozen=True)
class PromisedHeadline(Note):
    """The same with the leads as changed in the log, which nothing was recorded through yet."""

    headline: PhaseHeadline


@dataclass(frozen=True)
class LostHeadline(Note):
    """Recordings of these takes are missing or changed, so that there is no answer."""

    takes: tuple[str, ...]


QuestionCode = Literal[
    "selector order", "knobs", "phase switch", "plug", "battery", "phantom power", "same string"
]


@dataclass(frozen=True)
class Question(Note):
    """Something that no recording can tell."""

    code: QuestionCode


AdviceNote = (
    NotSettled
    | OneErrorLeft
    | CoilsNotJoined
    | RecordPair
    | CheckError
    | WireThenRecord
    | RecordAfterWork
    | RecordHum
    | PutRecordingsBack
    | LikelyCause
    | SettingRemark
    | WorkResult
    | PhaseHeadline
    | PromisedHeadline
    | LostHeadline
    | Question
)
