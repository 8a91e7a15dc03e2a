"""A guided session as data: the steps to be played, what happened on the way, and how it can end.

A step keeps some channels of the input (``columns``, from 0). What happened is a note with parameters, never
a sentence; reports.messages.session spells it for a terminal or for the page.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field, replace
from math import log
from typing import TYPE_CHECKING, Final, Literal, TypeGuard

from capture.job import Job, note_hz
from capture.log.entries import TakeFields
from reports.model.take_notes import AnyTakeNote

if TYPE_CHECKING:
    from capture.audio.setup_check import SetupResult

QuestionCode = Literal["work", "tag", "held", "clip lead", "tool"]
Surface = Literal["terminal", "page"]
"""Where a person reads a sentence; remedies differ, since one has options and the other has fields."""
StepKind = Literal["paired", "split", "switch", "in turn", "lift", "hum", "tap"]
Ending = Literal["settled", "no more", "most", "stopped", "gave up", "stuck", "nothing", "done"]
Moving = Literal["plug in", "plug", "clips", "selector"]
"""What hands have to move before a step: nothing is known to be plugged in yet, or something else is."""
Activity = Literal[
    "opening",
    "quiet",
    "pluck",
    "moving",
    "not moved",
    "waiting",
    "ready",
    "onset",
    "too loud",
    "nothing heard",
    "passed over",
    "still ringing",
    "ended",
]
"""What a recording does at the moment: it opens the input, looks at the set-up, or waits for a gesture."""
BandKind = Literal[
    "begin",
    "ready",
    "move",
    "quiet",
    "now",
    "listening",
    "accepted",
    "refused",
    "question",
    "settled",
    "ended",
    "stopped",
]
"""What the moment is for the person, as the band of page and terminal shows it."""
BAND_OF: Final[dict[Activity, BandKind]] = {
    "opening": "ready",
    "quiet": "quiet",
    "pluck": "now",
    "moving": "move",
    "not moved": "move",
    "waiting": "quiet",
    "ready": "now",
    "onset": "listening",
    "too loud": "refused",
    "ended": "listening",
    "nothing heard": "now",
    "passed over": "now",
    "still ringing": "quiet",
}
AT_WORK: Final[tuple[BandKind, ...]] = ("now", "listening", "refused")
"""What is more urgent than whether the take before counted."""

TOOL = "steel tool"
"""What is pulled off a pole piece, where the person names no tool."""
USUAL_STRINGS = ("E2", "A2", "D3", "G3", "B3", "E4")
"""Of a guitar, where the job names none: common practice."""
PLUCKED_NEAR_HZ = 165.0
"""Between D3 and G3: loud, and with a fundamental well above hum."""
SWITCHED_NEAR_HZ = 110.0
PARTIALS_OFF_HUM = 3
HUM_NEAR_HZ = 4.5
"""A2 is best: of eight simulated sweeps each on A2, on E2 and on D3 all on A2 spoke for what is so of the
last pair, three on E2 and four on D3 did not. Partials so near to a mains line are hard to tell from it."""


@dataclass(frozen=True, kw_only=True)
class Step(TakeFields):
    """One take to be recorded.

    ``kind`` is what it is evidence as; ``pickups`` are those it speaks of; ``columns`` are the channels of
    the input that are kept, counted from 0. ``part`` and ``parts``: its place in a round of takes that belong
    together. ``by_clips``: the clips of both inputs hang on one loose pickup at once, which tries
    both clip leads. The session gives it its stage and rig.
    """

    kind: StepKind
    columns: tuple[int, ...]
    pickups: tuple[str, ...]
    by_clips: bool = False
    part: int = 1
    parts: int = 1
    volumes: tuple[tuple[str, bool], ...] = ()
    """Where there is no selector: each pickup at the jack, and whether its own volume is up as it begins."""

    @property
    def plugged(self) -> tuple[tuple[int, object], ...]:
        """What is plugged in and set for it, to see whether hands have to change something before it."""
        return tuple((c, i) for c, i in zip(self.columns, self.inputs, strict=True))


def with_volumes(job: Job, step: Step) -> Step:
    """Return the step with where the volumes stand as it begins, where these choose among the pickups."""
    first = step.inputs[0] if len(step.inputs) == 1 else None
    setting = job.setting(first[0] if isinstance(first, tuple) else first) if _is_setting(first) else None
    if job.control != "volumes" or setting is None:
        return step
    up = {m.pickup for m in setting.on}
    jack = [p.name for p in job.own_pickups if p.fitted or step.stage == "after"]
    return replace(step, volumes=tuple((name, name in up) for name in jack)) if up <= set(jack) else step


def _is_setting(item: object) -> TypeGuard[str | tuple[str, ...]]:
    return isinstance(item, str | tuple)


@dataclass(frozen=True)
class Round:
    """Takes that only together say something; most rounds are of one."""

    steps: tuple[Step, ...]
    seconds: float
    """What it takes a person, plugging and moving the selector included; assumed, to rank rounds by."""
    moving_s: float = 0.0
    """How much of it hands take to plug in and set what is not so yet."""

    @property
    def first(self) -> Step:
        """The step that it begins with."""
        return self.steps[0]

    def numbered(self) -> Round:
        """The same, with each step's place in it."""
        each = enumerate(self.steps, start=1)
        return replace(self, steps=tuple(replace(step, part=k, parts=len(self.steps)) for k, step in each))


@dataclass(frozen=True)
class BenchQuestion:
    """Something that a person answers with yes or no, without a take.

    ``work``: leads were changed, and what is recorded from here on is of the guitar as it is after that.
    ``tag``: a tag is on the lead of `pickup` under the tip's clip, as in `take`. ``held``: `pickup` was held
    between strings and body. ``clip lead``: the tip of the lead at `input` of `rig` goes to the red clip.
    ``tool``: `tool` lifts a staple. ``error`` is the doubt that it lifts; a tag lifts several.
    """

    what: QuestionCode
    seconds: float = field(compare=False)
    error: Hashable = None
    pickup: str | None = None
    take: str | None = field(default=None, compare=False)
    rig: str | None = None
    input: int | None = None
    tool: str | None = None

    @property
    def yes_is_fault(self) -> bool:
        """Whether "yes" means that something is the other way round."""
        return self.what == "tool"


@dataclass(frozen=True)
class InputOpened:
    """The input is open: its label, how many channels are listened to, samples a second."""

    label: str
    channels: int
    rate: int


@dataclass(frozen=True, eq=False)
class SetupSeen:
    """What a look at the set-up found; the session goes on all the same."""

    hearing: SetupResult


@dataclass(frozen=True)
class TakeAccepted:
    """A take counts."""

    take: str
    remarks: tuple[AnyTakeNote, ...] = ()


@dataclass(frozen=True)
class TakeRefused:
    """A take does not count; without ``faults`` no sign could be read from it. ``step`` stays."""

    take: str
    faults: tuple[AnyTakeNote, ...] = ()
    step: Step | None = None


@dataclass(frozen=True)
class OtherWay:
    """A step was refused so often that something else is asked for."""

    step: Step
    refused: int


@dataclass(frozen=True)
class OwnTakeRefused:
    """A take of the person's own choice cannot be recorded; ``why`` is the text of the error."""

    why: str


@dataclass(frozen=True)
class NothingToKeep:
    """The person says that there was a gesture, and nothing was heard lately of which there is no take."""


@dataclass(frozen=True)
class Answered:
    """A question was answered, and ``entry`` says so in the log."""

    entry: str


@dataclass(frozen=True)
class TakeVoided:
    """The person took back a take of this session; without ``take`` there was none."""

    take: str | None


@dataclass(frozen=True)
class SamplesLost:
    """A take is void because samples were lost, which was found only after it had been judged."""

    take: str


@dataclass(frozen=True)
class TagPut:
    """Tags are on leads of these pickups, as in ``take``, each with the takes it seals; none: no clips."""

    take: str
    sealed: tuple[tuple[str, frozenset[str]], ...] = ()


SessionNote = (
    InputOpened
    | SetupSeen
    | TakeAccepted
    | TakeRefused
    | TakeVoided
    | SamplesLost
    | TagPut
    | Answered
    | OtherWay
    | NothingToKeep
    | OwnTakeRefused
)


FailureKind = Literal["input lost", "recorded elsewhere", "session", "check", "judging", "internal"]


BAND_AT_END: Final[dict[Ending, BandKind]] = {"settled": "settled", "stuck": "stopped", "nothing": "stopped"}
"""How a session that ended so looks; else it has merely ended."""


@dataclass(frozen=True)
class Failure:
    """What broke off a session, a set-up check or a judgement; ``why`` is the text of the error."""

    kind: FailureKind
    why: str


def acceptance(note: SessionNote) -> bool | None:
    """Whether a note says that a take counts (True) or does not (False); None where it is about no take."""
    if isinstance(note, TakeAccepted):
        return True
    return False if isinstance(note, TakeRefused | SamplesLost) else None


def pluck_strings(job: Job) -> tuple[str, ...]:
    """The two strings that plucks are best on, the better first."""
    return tuple(sorted(_strings(job), key=lambda s: abs(note_hz(s) / PLUCKED_NEAR_HZ - 1))[:2])


def switch_strings(job: Job) -> tuple[str, ...]:
    """The three strings that switch takes are best on, the best first.

    Low ones ring longest, but the lowest swings widest and beats; and hum is near some partials.
    """

    def order(string: str) -> tuple[int, float, float]:
        hz = note_hz(string)
        partials = [n * hz for n in range(1, PARTIALS_OFF_HUM + 1)]
        mains = (50, 60) if job.mains_hz is None else (job.mains_hz,)
        near = max(sum(abs(f / m - round(f / m)) * m < HUM_NEAR_HZ for f in partials) for m in mains)
        return near, round(abs(log(hz / SWITCHED_NEAR_HZ)), 3), -hz

    return tuple(sorted(_strings(job), key=order)[:3])


def _strings(job: Job) -> Sequence[str]:
    return job.main_strings or USUAL_STRINGS
