"""What stands before the first take of a session, on a terminal and on the page alike.

Task: how many inputs a session listens to, a short look at the set-up, and what an unfinished recording was
to be. Units: seconds. Signs: none.

A guided session: the next take is chosen, waited for, judged at once, and so on until all is settled.

Task: `run` over an open stream and a `Face` that shows and asks; no terminal here. Everything is written
to the job folder as it comes, so a session that ends in any way goes on with the next. Signs:
dsp/model/signs.py.

A guided session in plain lines, one for each thing that happens.

Task: what is to be done, heard, accepted and believed, as it comes; reports.cli.terminal draws the same.
Levels are not written.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal, Protocol

from capture.audio.setup_check import Listenable, SetupMoment, listen_to_setup
from capture.job import Job
from capture.log import TakeFields, Void, append_entry, new_entry, utc_now
from capture.takes.folder import JobFolder
from capture.takes.hands_free import Caught, Notice, Stream, Wish, catch
from capture.takes.recorder import Unfinished
from reports.evidence.cache import take_result
from reports.evidence.results import PULSED, TakeResult
from reports.messages import session as words
from reports.messages.session import GESTURE_ON, LOOKS_RIGHT, NOTHING_SAID
from reports.messages.setup import setup_lines
from reports.messages.wording import on_words
from reports.model.gestures import GESTURES, MOST_TAKES
from reports.model.session import Round, Step, Surface
from reports.model.verdict import Verdict
from reports.session.candidates import rounds
from reports.session.choosing import choose
from reports.verdict.building import judge_heard

LOOK_S = 1.5
"""Of quiet before the first take; a set-up check looks longer, with a pluck."""


def inputs_wanted(job: Job, *, inputs: int, gestures: Sequence[str], after: bool) -> int:
    """How many inputs are listened to: a guitar's jack takes one, whatever the box has."""
    return most_columns([r.first for r in rounds(job, inputs=inputs, gestures=tuple(gestures), after=after)])


def most_columns(steps: Sequence[Step]) -> int:
    """How many inputs these steps take at most."""
    return max((len(step.columns) for step in steps), default=1)


def look_at_setup(
    stream: Listenable,
    job: Job,
    *,
    surface: Surface,
    told: Callable[[SetupMoment], None] = lambda moment: None,
) -> tuple[str, ...]:
    """What is wrong with the inputs before the first take, in sentences; the session goes on all the same."""
    hearing = listen_to_setup(stream, quiet_s=LOOK_S, pluck_s=0.0, mains_hz=job.mains_hz, told=told)
    return (LOOKS_RIGHT,) if hearing.clear else setup_lines(hearing, surface=surface)


def planned_words(left: Unfinished) -> str:
    """What an unfinished recording was to be."""
    if left.planned is None:
        return NOTHING_SAID
    on = " and ".join(on_words(i) for i in left.planned.inputs)
    return GESTURE_ON.format(gesture=left.planned.gesture, on=on)


Stage = Literal["found", "after"]
Ending = Literal["settled", "no more", "most", "stopped", "gave up", "stuck", "nothing", "done"]

SELECTOR_RESTS_S = 1.0
"""After a plug or a selector was moved, so long without another bump before it listens."""
TOOL_RESTS_S = 2.5
"""Likewise after a tool was brought to its place."""
REFUSALS = 3
"""In a row of one step; then it is left alone."""
DULL_ROUNDS = 6
"""Rounds in a row that came to nothing end the session."""


class Face(Protocol):
    """What shows a session to a person, and hears a wish."""

    def step(self, step: Step, *, count: int, to_go: int | None) -> None:
        """Say what to do next; ``count`` takes were accepted so far, ``to_go`` at least are still wanted."""

    def notice(self, notice: Notice) -> None:
        """Show a level, or that something was heard."""

    def taken(self, caught: Caught, heard: TakeResult) -> None:
        """Show a take that was heard; the word on it follows, then what is believed."""

    def word(self, text: str, *, good: bool | None = None) -> None:
        """Say something; ``good``: a take was accepted, or was not."""

    def posterior(self, verdict: Verdict) -> None:
        """Show what is believed now."""

    def asked(self) -> Wish | None:
        """Return what the person wants, if anything."""


@dataclass(frozen=True)
class Options:
    """How a session is to go. ``fixed`` are steps that the person named; then nothing is chosen."""

    inputs: int
    stage: Stage = "found"
    rig: str | None = None
    tool: str | None = None
    gestures: tuple[str, ...] = GESTURES
    most: int = MOST_TAKES
    fixed: tuple[Step, ...] = ()
    drive: Callable[[TakeFields, Sequence[int], bool], Caught] | None = None
    """Records a take of a driven coil."""


@dataclass(frozen=True, eq=False)
class Ended:
    """How a session ended, and the verdict then."""

    why: Ending
    verdict: Verdict
    accepted: int
    refused: int


@dataclass(eq=False)
class Session:
    """The state of one session; `run` goes through it."""

    path: Path
    stream: Stream
    face: Face
    options: Options
    heard: dict[str, TakeResult] = field(default_factory=dict)
    mine: list[tuple[str, tuple[int, int]]] = field(default_factory=list)
    plugged: tuple[object, ...] = ()
    floor_db: dict[tuple[int, ...], tuple[float, ...]] = field(default_factory=dict)
    failed: Counter[Hashable] = field(default_factory=Counter)
    """How often a step was not accepted in a row: it is expected to take so much longer."""
    accepted: int = 0
    refused: int = 0

    def run(self) -> Ended:
        """Go on until all is settled, nothing more can be had, or the person ends it."""
        verdict = self._judged()
        self.face.posterior(verdict)
        if self.options.fixed:
            return self._ended(self._play_named(self.options.fixed))
        dull = 0
        while True:
            chosen, nothing, further = self._choose()
            if chosen is None:
                return self._ended(nothing)
            before = self.accepted
            why = self._play(chosen.steps, more=further)
            if why is not None:
                return self._ended(why)
            dull = 0 if self.accepted > before else dull + 1
            if dull >= DULL_ROUNDS:
                return self._ended("stuck")
            if self.accepted + self.refused >= self.options.most:
                return self._ended("most")

    def _play_named(self, steps: Sequence[Step]) -> Ending:
        """Steps that the person named: one that is refused too often is left, and the rest goes on."""
        for number, step in enumerate(steps, start=1):
            why = self._play((step,), tries=REFUSALS, more=len(steps) - number)
            if why is not None:
                return why
        return "done"

    def _choose(self) -> tuple[Round | None, Ending, int]:
        """The next round, why there is none, and how many takes at least are wanted after it."""
        folder = self._folder()
        offered = [
            replace(one, seconds=one.seconds * (1 + self.failed[_key(one.first)]))
            for one in rounds(
                folder.job,
                inputs=self.options.inputs,
                gestures=self.options.gestures,
                after=self.options.stage == "after",
                tool=self.options.tool,
                plugged=self.plugged,
            )
            if self.failed[_key(one.first)] < REFUSALS
        ]
        heard = self._all_heard(folder)
        chosen = choose(folder, heard, offered, stage=self.options.stage, rig=self.options.rig)
        if chosen.open_bits <= 0:
            return None, "settled", 0
        if not offered:
            return None, "nothing", 0
        return chosen.round, "no more", chosen.further

    def _play(self, steps: Sequence[Step], *, tries: int = 1, more: int = 0) -> Ending | None:
        """Play a round; one that is not accepted in ``tries`` is broken off, and something else is chosen.

        ``more``: so many takes are wanted after it.
        """
        for left, step in zip(range(len(steps), 0, -1), steps, strict=True):
            why = self._until_accepted(step, tries=tries if len(steps) == 1 else REFUSALS, to_go=left + more)
            if why == "skipped":
                self.failed[_key(steps[0])] = REFUSALS
                return None
            if why is not None:
                return None if why == "refused" else why
        return None

    def _until_accepted(
        self, step: Step, *, tries: int, to_go: int
    ) -> Ending | Literal["skipped", "refused"] | None:
        for _ in range(tries):
            self.face.step(step, count=self.accepted, to_go=to_go)
            caught = self._caught(step)
            if caught.take is not None:
                good = self._judge(caught)
                self.failed[_key(step)] = 0 if good else self.failed[_key(step)] + 1
                if caught.wish == "void":
                    self._void_last()
                elif caught.wish is not None:
                    return "stopped" if caught.wish == "stop" else "skipped"
                elif good:
                    return None
            elif caught.wish == "void":
                self._void_last()
            elif caught.wish == "skip":
                return "skipped"
            else:
                return "stopped" if caught.wish == "stop" else "gave up"
        return "refused"

    def _caught(self, step: Step) -> Caught:
        said = replace(step, stage=self.options.stage, rig=self.options.rig)
        record = self.options.drive if step.gesture == "drive" and self.options.drive else self._catch
        caught = record(said, step.columns, step.plugged != self.plugged)
        self.plugged = step.plugged
        if caught.floor_db is not None:
            self.floor_db[step.columns] = caught.floor_db
        self._look_for_losses()
        return caught

    def _catch(self, said: TakeFields, columns: Sequence[int], moved: bool) -> Caught:
        return catch(
            self.stream,
            self.path,
            said,
            columns=columns,
            settle_s=TOOL_RESTS_S if said.gesture in PULSED else SELECTOR_RESTS_S if moved else 0.0,
            floor_db=None if said.gesture == "hum" else self.floor_db.get(tuple(columns)),
            told=self.face.notice,
            asked=self.face.asked,
        )

    def _judge(self, caught: Caught) -> bool:
        """Hear the take that was made, say the word, then what is believed now."""
        if caught.take is None:
            return False
        take = caught.take.entry
        folder = self._folder()
        heard = take_result(folder.job, caught.take)
        self.heard[take.id] = heard
        self.mine.append((take.id, caught.span))
        self.face.taken(caught, heard)
        good = heard.says_something and not heard.faults
        self.accepted += good
        self.refused += not good
        text = words.accepted(take.id, heard.remarks) if good else words.refused(take.id, heard.faults)
        self.face.word(text, good=good)
        if good:
            self.face.posterior(self._judged())
        return good

    def _void_last(self) -> None:
        standing = {e.id for e in self._folder().log.standing}
        mine = [i for i, _ in self.mine if i in standing]
        if not mine:
            self.face.word(words.NOTHING_TO_VOID)
            return
        append_entry(self.path, new_entry(Void, at=utc_now(), entry=mine[-1], why="taken back by hand"))
        self.face.word(words.VOIDED.format(id=mine[-1]))
        self.face.posterior(self._judged())

    def _look_for_losses(self) -> None:
        """Samples that are found to be lost only later: the take that they belong to is void."""
        standing = {e.id for e in self._folder().log.standing}
        for take, span in self.mine[-2:]:
            known = self.heard[take].entry.dropped
            if take in standing and not known and self.stream.lost_between(*span):
                append_entry(self.path, new_entry(Void, at=utc_now(), entry=take, why=words.LOST))
                self.face.word(words.LOST_SAID.format(id=take), good=False)

    def _folder(self) -> JobFolder:
        return JobFolder.open(self.path)

    def _all_heard(self, folder: JobFolder) -> list[TakeResult]:
        for take in folder.takes():
            if take.entry.id not in self.heard:
                self.heard[take.entry.id] = take_result(folder.job, take)
        standing = {e.id for e in folder.log.standing}
        return [h for i, h in self.heard.items() if i in standing]

    def _judged(self) -> Verdict:
        folder = self._folder()
        return judge_heard(folder, self._all_heard(folder)).verdict

    def _ended(self, why: Ending) -> Ended:
        return Ended(why, self._judged(), self.accepted, self.refused)


def _key(step: Step) -> Hashable:
    """What counts as the same step: the same thing played on the same inputs."""
    return step.gesture, step.inputs, step.string


def fixed_steps(step: Step, *, times: int) -> tuple[Step, ...]:
    """The same step so many times."""
    return tuple(replace(step, part=k + 1, parts=times, anew=step.anew and k == 0) for k in range(times))


MARKS = {True: "+ ", False: "x ", None: ""}
"""Before a word that judges a take."""
SAYS = {
    "waiting": words.WAITING,
    "ready": words.READY,
    "onset": words.ONSET,
    "too loud": words.TOO_LOUD,
    "ended": words.ENDED,
}


def nobody() -> Wish | None:
    """There is no keyboard."""
    return None


class PlainFace:
    """Lines, as they come."""

    def __init__(self, echo: Callable[[str], None], asked: Callable[[], Wish | None] = nobody) -> None:
        self._echo, self._asked, self._how = echo, asked, ""
        self._believed: tuple[str, ...] = ()

    def step(self, step: Step, *, count: int, to_go: int | None) -> None:
        """Say what to do next."""
        self._how = words.how(step)
        head = f"[{words.count_words(count, to_go)}] {words.big_words(step)}"
        for line in (head, *words.where(step), self._how):
            self._echo(line)

    def notice(self, notice: Notice) -> None:
        """Say that something was heard; levels are not written."""
        if notice.what == "nothing heard":
            self._echo(words.NOTHING_HEARD.format(how=self._how))
        elif notice.what in SAYS and notice.what != "ended":
            self._echo(SAYS[notice.what])

    def taken(self, caught: Caught, heard: TakeResult) -> None:
        """Nothing: the word on it is enough."""

    def word(self, text: str, *, good: bool | None = None) -> None:
        """Say it, with a mark where a take was judged."""
        self._echo(f"{MARKS[good]}{text}")

    def posterior(self, verdict: Verdict) -> None:
        """One line for each pair of which something new is believed."""
        lines = tuple(words.pair_line(p) for p in verdict.pairs)
        for line in lines:
            if line not in self._believed:
                self._echo(f"  {line}")
        self._believed = lines

    def asked(self) -> Wish | None:
        """Return what the person wants."""
        return self._asked()
