"""Judgement as data: what is found, advised or refused is a code with typed parameters.

A `Note` is made where something is decided, compared and counted as it is, and becomes a sentence only where
a person reads it: reports.messages.sentences.say is the one way from a note to text. Each kind of note is a
frozen dataclass, so two notes are equal when code and parameters are; no parameter is a sentence.

Here: notes on settings that are not sound, on pairs, settings and the job. Others: reports.model.take_notes,
lead_notes, build_notes, rig_notes and work_notes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dsp.signal.codes import HealthCode

Phase = Literal["in phase", "out of phase"]
Standing = Literal["settled", "likely", "unsettled"]
Sounds = Literal["full", "thin", "unknown"]
Hum = Literal["cancels", "hums", "unknown"]


@dataclass(frozen=True)
class Note:
    """One judgement; the kinds of it are its subclasses."""


@dataclass(frozen=True)
class HealthProblem(Note):
    """A setting that is not as it should be, which is no matter of phase.

    ``detail_db`` is by how much, in dB; ``other`` the setting it was compared with, if there is one.
    """

    code: HealthCode
    detail_db: float
    other: str | None


@dataclass(frozen=True)
class HealthRemedy(Note):
    """What to do about such a setting."""

    code: HealthCode


@dataclass(frozen=True)
class SignsByString(Note):
    """Signs that go with the string: at one of these pickups some strings have another sign than others.

    "poles alternate": each second string; "halves opposed": the low strings against the high ones.
    """

    code: Literal["poles alternate", "halves opposed"]
    pickups: tuple[str, ...]


PlaceCode = Literal["from the nut", "exchanged", "wrong way round"]


@dataclass(frozen=True)
class PlaceProblem(Note):
    """A pickup that is not where the job says.

    Mm from the bridge, ``typed_mm`` in the job, ``heard_mm`` by its sound; None where it is not known.
    """

    code: PlaceCode
    typed_mm: float | None
    heard_mm: float | None


@dataclass(frozen=True)
class PlaceRemedy(Note):
    """What to do about such a place."""

    code: PlaceCode


@dataclass(frozen=True, order=True)
class TappedCoil:
    """A pickup whose poles were tapped, or one coil of it; ``coil`` None: the whole."""

    pickup: str
    coil: int | None


@dataclass(frozen=True)
class ListContradicted(Note):
    """Taps at ``setting`` were heard on the coils ``on``, and not on ``off``, which is not what is listed."""

    setting: str
    on: tuple[TappedCoil, ...]
    off: tuple[TappedCoil, ...]


@dataclass(frozen=True)
class CorrectList(Note):
    """What to do where taps contradict the list at ``settings``; ``mirrored``: it fits from its other end."""

    settings: tuple[str, ...]
    mirrored: bool = False


CareLevel = Literal["careful", "usual", "careless"]
"""How much care is taken at a bench: it multiplies every human error."""

ErrorKind = Literal[
    "clips",
    "clip habit",
    "one clip-up for both",
    "colours",
    "tag",
    "clip-up not said",
    "meter leads",
    "misread swing",
    "turned stroke",
    "turned press",
    "hand",
    "hand throughout",
    "magnetised tool",
    "magnetised drawer",
    "channels",
    "late input",
    "compass",
    "sideways string",
    "sideways ringing",
    "strings beside poles",
    "poles alternate",
    "halves opposed",
    "one pickup twice",
    "channels misplaced",
    "work",
    "no work",
    "work not entered",
    "unnamed change",
    "inner joint",
    "coil's face",
    "inner winding",
    "selector list",
    "settings",
    "pickup names",
    "same setting twice",
    "profile",
    "capacitive hum",
    "field differs",
    "field differs everywhere",
    "hum levels",
    "clip lead",
    "late path",
    "held over the strings",
    "other recorder",
    "shelf coil",
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
    """Why a pair is not settled.

    "recordings lost": this rests on what is left of them; "little care": so much in this job contradicts
    itself that human errors must be more frequent here than usual; "contradictions": methods or takes
    disagree; "recorded otherwise": what was recorded of the two came through recorders that are not known to
    agree; "active stage": one of the two was heard through a stage of which nothing says whether it inverts;
    "from before the work": it rests on what was found, carried over by the change that was entered; "leads
    not named": what was found does not carry over, since nothing says how the leads were changed.
    """

    code: Literal[
        "no evidence",
        "too little evidence",
        "recordings lost",
        "recorded otherwise",
        "active stage",
        "contradictions",
        "little care",
        "list contradicted",
        "hears no string",
        "from before the work",
        "leads not named",
    ]


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
class ProveStage(Note):
    """The active stage that ``pickup`` is heard through has to be proved: whether it inverts."""

    pickup: str


@dataclass(frozen=True)
class RecordPair(Note):
    """A take to record of two pickups.

    "One recorder": both through the same one; "lift both": one is a coil of the shelf, without strings.
    """

    code: Literal[
        "paired or in turn",
        "switch",
        "volumes",
        "two more",
        "sweep again",
        "one recorder",
        "after the work",
        "lift both",
    ]
    a: str
    b: str


@dataclass(frozen=True)
class NameLeads(Note):
    """Say which lead of a loose pickup was hot when it was recorded, so that a change says what it did."""

    pickup: str


@dataclass(frozen=True)
class CheckError(Note):
    """What tells whether an error happened; ``also``: another of that kind that is as likely.

    ``take_back``: the entries that are voided if it did.
    """

    error: BenchError
    also: tuple[BenchError, ...] = ()
    take_back: tuple[str, ...] = ()


@dataclass(frozen=True)
class TakeBack(Note):
    """Entries to be voided: ``error`` was checked and explains them, or (None) all others are against."""

    entries: tuple[str, ...]
    error: BenchError | None = None


@dataclass(frozen=True)
class StopHere(Note):
    """More of the same settles nothing between these two: the meter is read, and goes before the takes."""

    a: str
    b: str


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
class CorrectMains(Note):
    """Mains hum of another frequency than job.toml says is in these takes; put right, they count."""

    hz: int
    takes: tuple[str, ...]


@dataclass(frozen=True)
class EnterFrets(Note):
    """These takes sound so many frets above what was entered, all alike; entered so, they count."""

    frets: int
    takes: tuple[str, ...]


@dataclass(frozen=True)
class PutRecordingsBack(Note):
    """Recordings of these takes are missing or changed."""

    takes: tuple[str, ...]


@dataclass(frozen=True)
class LikelyCause(Note):
    """The errors that most probably explain a conflict; none: one of the takes was entered wrongly."""

    errors: tuple[BenchError, ...]


@dataclass(frozen=True)
class InputsCompared(Note):
    """What the split checks ``takes`` say of one input (from 1) of a rig against its first input.

    Doubted: they heard it so, and all the rest of the job speaks against it.
    """

    code: Literal["opposite", "alike", "not clear", "opposite, doubted", "alike, doubted"]
    number: int
    rig: str
    takes: tuple[str, ...]


SettingCode = Literal[
    "measured thin",
    "measured full",
    "imbalanced",
    "twin settings",
    "fewer harmonics",
    "one source not heard alone",
    "tapped as listed",
]


@dataclass(frozen=True)
class SettingRemark(Note):
    """Something about the measurements of a setting; ``below_db``: of "measured thin", how far below.

    ``cannot_be``: so far from what its pickups say that the list of the selector cannot be as it stands.
    """

    code: SettingCode
    below_db: float = 0.0
    cannot_be: bool = False


HumBasis = Literal["heard", "compass", "coils"]
"""What a word about hum rests on: hum or a driven coil was heard, a compass was read, or how the coils of a
pickup are built (two in one cancel hum between them, one left over hums: common practice)."""
HumLeftBasis = Literal["heard", "turns", "levels", "ohms"]
"""Whether the hum that is left was heard, or what it was reckoned from: turns in job.toml, hum of each alone,
ohms of both."""


@dataclass(frozen=True)
class HumLeft(Note):
    """Hum that is left where two coils cancel: (Hz, dB re the louder pickup alone) of some mains lines."""

    lines: tuple[tuple[int, float], ...]
    basis: HumLeftBasis


@dataclass(frozen=True)
class PairPhase:
    """The answer for one pair; ``phase`` None: not settled."""

    a: str
    b: str
    phase: Phase | None
    standing: Standing
    oppose: tuple[str, ...] = ()
    """Strings on which they oppose each other, where they add on others."""
    about: Literal["strings", "hum"] = "strings"
    hum: Hum = "unknown"


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


@dataclass(frozen=True)
class ListHeadline(Note):
    """Settings that measure as they cannot, if the list of the selector is right; said before all else.

    ``settings``: each with what it should sound like by its pickups; ``headline``: the answer for the pairs.
    """

    settings: tuple[tuple[str, Sounds], ...]
    headline: PhaseHeadline


QuestionCode = Literal[
    "selector order",
    "knobs",
    "phase switch",
    "plug",
    "battery",
    "phantom power",
    "input buttons",
    "split lead",
    "magnets near",
    "same string",
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
    | ProveStage
    | CheckError
    | TakeBack
    | StopHere
    | NameLeads
    | WireThenRecord
    | RecordAfterWork
    | RecordHum
    | PutRecordingsBack
    | CorrectMains
    | EnterFrets
    | LikelyCause
    | InputsCompared
    | SettingRemark
    | HumLeft
    | SignsByString
    | PhaseHeadline
    | PromisedHeadline
    | LostHeadline
    | ListHeadline
    | Question
    | ListContradicted
    | CorrectList
)
