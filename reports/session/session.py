"""A guided session: the next take is chosen, waited for, judged at once, until all is settled.

A session runs over an open stream and a `SessionDisplay`; it knows no terminal, no page and no sentence. All
is written to the job folder as it comes, so a session that ends in any way goes on with the next. How it
begins is the same for terminal and page: `prepare` (reports.session.options) chooses the input and how many
channels are listened to, `record` opens it and runs the session. The set-up is looked at once, in the quiet
before the first take, so that nobody waits for it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal, Protocol

from capture.audio.devices import device_label
from capture.audio.setup_check import SETTLE_S, setup_heard
from capture.audio.streams import InputStream, open_input
from capture.job import Job
from capture.log import Change, Take, TakeFields, Void, append_entry, clipped_input, new_entry, utc_now
from capture.log.entries import LeadsInput
from capture.takes.folder import JobFolder
from capture.takes.hands_free import (
    BlockStream,
    CaptureResult,
    Progress,
    Request,
    await_move,
    record_driven_coil,
    record_gesture,
)
from capture.takes.recorder import check_fields
from capture.takes.spool import Spool, keep_last
from dsp import CoilwiseError
from dsp.live.gestures import Gesture
from dsp.live.quiet import MOVED_QUIET_S, QuietWatch
from reports.entry.spelling import tag_entry
from reports.evidence.cache import take_result
from reports.evidence.leads import lead_history
from reports.evidence.results import TakeResult
from reports.inference.error_priors import NOTHING_KNOWN, KnownCare
from reports.messages.session import LOST
from reports.model.gestures import WITH_TOOL, most_takes
from reports.model.session import (
    Answered,
    BenchQuestion,
    Ending,
    InputOpened,
    Moving,
    NothingToKeep,
    OtherWay,
    OwnTakeRefused,
    SamplesLost,
    SessionNote,
    SetupSeen,
    Step,
    TagPut,
    TakeAccepted,
    TakeRefused,
    TakeVoided,
)
from reports.model.verdict import Verdict
from reports.session.choosing import HeldBack, NextRound, TapsWanted, choose, wanted_of
from reports.session.habits import BenchHabits, StepKey, step_key
from reports.session.options import MOST_INPUTS, PreparedRecording, RecordingOptions
from reports.session.promised import OpenQuestions
from reports.session.questions import TAG_S, answer_entry
from reports.session.rounds import rounds, to_move, without_enough
from reports.session.tones import WithTones
from reports.verdict.advice import may_be_outvoted
from reports.verdict.building import judge_results

LOOK_S = 1.4
"""Of quiet before the first take; a set-up check looks longer, with a pluck."""
TOOL_RESTS_S = 2.5
"""After a tool was brought to its place, so long without another bump before it listens."""
HANDS_COME_S = 4.0
"""A hand that leaves the strings for the tool may damp them first, so late, and its thump is like a lift."""
SELECTOR_COMES_S = 6.0
"""So is the pop of a selector, which a hand reaches this late: before it the tool is put down."""
ONLY_TAPS = ("tap",)
"""Allowed alone, taps are what the person asks for."""
MOST_REFUSALS = 3
"""A step refused this many times in a row is not offered again."""
WORK = BenchQuestion("work", 2.0)
MOST_WAITING_S = 600.0
"""Nobody answers a question for so long: the person has gone."""
MOST_ROUNDS_WITHOUT_TAKE = 6
"""The session ends after this many rounds in a row without an accepted take."""


class SessionDisplay(Protocol):
    """What shows a session to a person, and takes the person's requests."""

    def show_step(
        self, step: Step, *, accepted: int, to_go: int | None, moving: Moving | None = None
    ) -> None:
        """Show what to do next; so many takes were accepted.

        ``to_go``: so many are still wanted, where that is known.

        ``moving``: hands first have to move that, and nothing is recorded meanwhile.
        """

    @property
    def answers(self) -> bool:
        """Whether somebody could answer a question: without a key or a button none is asked."""

    def show_question(self, question: BenchQuestion, *, accepted: int) -> None:
        """Show a question that is answered with yes or no."""

    def show_notice(self, notice: Progress) -> None:
        """Show a level, or what is waited for."""

    def show_take(self, capture: CaptureResult, result: TakeResult) -> None:
        """Show a take that was analysed; the note on it follows, then the verdict."""

    def show_note(self, note: SessionNote) -> None:
        """Show something that happened."""

    def show_verdict(self, verdict: Verdict) -> None:
        """Show the verdict as it is now."""

    def next_request(self) -> Request | None:
        """Return what the person asks for, if anything."""

    def own_step(self, job: Job) -> Step | None:
        """Return the take that a person asked for ("mine"); None where there is none after all."""


def record(prepared: PreparedRecording, session: Session, display: SessionDisplay) -> SessionResult:
    """Open the input and run the session; the set-up is looked at unless the takes are named.

    Raises
    ------
    CoilwiseError
        The input cannot be opened or stops, or the job folder cannot be read or written.

    """
    device, rate = prepared.device, prepared.options.rate
    with closing(open_input(device, channels=prepared.channels, rate=rate)) as stream:
        display.show_note(InputOpened(device_label(device), prepared.channels, stream.rate))
        shown = display if not prepared.options.tones else WithTones(display)
        return session.run(stream, shown, looks=not prepared.options.fixed)


@dataclass(frozen=True, eq=False)
class SessionResult:
    """How a session ended, the verdict then, and how many takes were accepted and refused."""

    ending: Ending
    verdict: Verdict
    accepted: int
    refused: int


@dataclass(eq=False)
class Session:
    """The state of one session over a job folder; `run` goes through it, again after a pause."""

    path: Path
    options: RecordingOptions
    care: KnownCare = NOTHING_KNOWN
    """What is known of the bench's care from other jobs."""
    results: dict[str, TakeResult] = field(default_factory=dict)
    """By id: takes that were analysed, so that none is analysed twice."""
    bench: BenchHabits = field(default_factory=BenchHabits)
    """What this bench refuses, and what its takes are worth."""
    left: set[BenchQuestion] = field(default_factory=set)
    """Questions that the person could not answer."""
    accepted: int = 0
    refused: int = 0
    stream: BlockStream = field(init=False)
    display: SessionDisplay = field(init=False)
    recorded: list[tuple[str, tuple[int, int]]] = field(init=False)
    """Takes of this stream, each with its first frame and the one after its last."""
    plugged: tuple[tuple[int, object], ...] = field(init=False)
    """What is on each input, as the last step had it."""
    promised: tuple[StepKey, float, float] | None = field(init=False)
    """The round that was accepted last: the bits that it promised, and what was open before it."""
    played: Gesture | None = field(init=False)
    """The gesture that was asked for last."""
    floor_db: dict[tuple[object, ...], tuple[float, ...]] = field(init=False)
    """Noise and hum, by what was plugged in and set."""
    spool: Spool = field(init=False)
    looks: bool = field(init=False)
    """The set-up is yet to be looked at."""

    def run(self, stream: BlockStream, display: SessionDisplay, *, looks: bool = False) -> SessionResult:
        """Go on until all is settled, nothing more can be had, or the person ends it.

        ``looks``: whether the set-up is looked at in the first quiet.
        """
        self.stream, self.display, self.looks = stream, display, looks
        self.recorded, self.plugged, self.floor_db, self.promised = [], (), {}, None
        self.played = None
        self.spool = Spool(stream.rate)
        verdict = self._verdict()
        self.display.show_verdict(verdict)
        if self._asks_for_work():
            ending = self._ask(WORK)
            if ending is not None:
                return self._result(ending)
        if self.options.fixed:
            return self._result(self._play_named(self.options.fixed))
        return self._result(self._guide())

    def _guide(self) -> Ending:
        """Choose, play, judge, until there is a reason to end."""
        rounds_without_take = 0
        begun, most = self.accepted + self.refused, self._most()
        while True:
            chosen, ending_if_none = self._choose()
            self._learn(chosen.open_bits)
            if chosen.round is None and chosen.question is None:
                return ending_if_none
            taken = self.accepted + self.refused - begun
            takes = 0 if chosen.round is None or chosen.question is not None else len(chosen.round.steps)
            if takes and self.accepted and most / 2 <= taken and taken + takes > most:
                return "most"
            before = self.accepted
            ending = (
                self._play(chosen.round.steps)
                if chosen.question is None and chosen.round is not None
                else self._ask(chosen.question or WORK)
            )
            if ending is not None:
                return ending
            if chosen.round is None or chosen.question is not None:
                continue
            if self.accepted > before:
                self.promised = (step_key(chosen.round.first), chosen.gain, chosen.open_bits)
            rounds_without_take = 0 if self.accepted > before else rounds_without_take + 1
            if rounds_without_take >= MOST_ROUNDS_WITHOUT_TAKE:
                return "stuck"

    def _most(self) -> float:
        """Takes after which the session pauses, none of a round begun that would go on beyond.

        Of taps there are as many as there are positions.
        """
        if self.options.most is None and self.options.gestures == ONLY_TAPS:
            return math.inf
        return self.options.most or most_takes(len(wanted_of(self._folder().job).pairs))

    def _asks_for_work(self) -> bool:
        """Whether leads were changed, so that the work may be what is recorded from here on."""
        if self.options.stage == "after" or self.options.fixed or not self.display.answers:
            return False
        return WORK not in self.left and any(isinstance(e, Change) for e in self._folder().log.standing)

    def _play_named(self, steps: Sequence[Step]) -> Ending:
        """Steps that the person named: one that is refused too often is left, and the rest goes on."""
        for number, step in enumerate(steps, start=1):
            ending = self._play((step,), tries=MOST_REFUSALS, more=len(steps) - number)
            if ending is None and self.options.row and step.part == step.parts:
                ending = self._ask_for_tag(step)
            if ending is not None:
                return ending
        return "done"

    def _ask_for_tag(self, step: Step) -> Ending | None:
        """Ask for a tag on a loose pickup of a row, whose clips come off next."""
        take, pickup = self._latest_take(), self._folder().job.pickup(step.pickups[0])
        if take is None or pickup is None or pickup.fitted or not self.display.answers:
            return None
        return self._ask(BenchQuestion("tag", TAG_S, pickup=pickup.name, take=take))

    def _learn(self, open_bits: float) -> None:
        """Hold what the last round promised against what it brought."""
        if self.promised is not None:
            key, gain, before = self.promised
            if gain > 0:  # taps promise nothing by themselves
                self.bench.brought(key, (before - open_bits) / gain)
        self.promised = None

    def _ask(self, question: BenchQuestion) -> Ending | None:
        """Ask a question and write the answer down; the ending where the person ends the session."""
        self.display.show_question(question, accepted=self.accepted)
        waited = 0
        while waited < MOST_WAITING_S * self.stream.rate:
            block = self.stream.read()
            waited += 0 if block is None else len(block.samples)
            match self.display.next_request():
                case "stop":
                    return "stopped"
                case "skip":
                    self.left.add(question)
                    return None
                case "void":
                    self._void_latest_take()
                    return None
                case "tag":
                    self._tag_leads()
                    return None
                case ("yes" | "no") as answer:
                    self._answered(question, yes=answer == "yes")
                    return None
        return "gave up"

    def _answered(self, question: BenchQuestion, *, yes: bool) -> None:
        if question.what == "work":
            self.left.add(question)
            if yes:
                self.options = replace(self.options, stage="after")
                self.display.show_verdict(self._verdict())
            return
        if question.what == "tag":
            if yes:
                self._tag_leads(question.pickup)
            else:
                self.left.add(question)
            return
        written = append_entry(self.path, answer_entry(question, fault=yes == question.yes_is_fault))
        self.display.show_note(Answered(written.id))
        self.display.show_verdict(self._verdict())

    def _choose(self) -> tuple[NextRound, Ending]:
        """What comes next, and the ending if that is nothing."""
        folder = self._folder()
        heard = self._all_results(folder)
        every = rounds(
            folder.job,
            inputs=self.options.inputs or MOST_INPUTS,
            gestures=self.options.gestures,
            after=self.options.stage == "after",
            tool=self.options.tool,
            plugged=self.plugged,
            played=self.played,
        )
        offered = [
            replace(one, seconds=one.seconds * self.bench.effort(one.first))
            for one in (without_enough(each, heard, stage=self.options.stage) for each in every)
            if one is not None and self.bench.refusals[step_key(one.first)] < MOST_REFUSALS
        ]
        chosen = choose(
            folder,
            heard,
            offered,
            stage=self.options.stage,
            rig=self.options.rig,
            taps=self._taps_wanted(),
            tool=self.options.tool,
            asking=(lambda question: question not in self.left) if self.display.answers else None,
            clipped=self._latest_take(),
            stands=self._stands,
        )
        if chosen.open_bits <= 0:
            return chosen, "settled"
        if self.refused and not self.accepted:
            return chosen, "stuck"
        return chosen, "no more" if offered or self.options.gestures == ONLY_TAPS else "nothing"

    def _needs_no_more(self) -> bool:
        """Whether the takes of a round so far have settled everything that is wanted."""
        if self.options.fixed or self.options.gestures == ONLY_TAPS:
            return False
        return self._stands(wanted_of(self._folder().job)) is None

    def _stands(self, wanted: OpenQuestions) -> HeldBack | None:
        """What keeps the verdict from having settled everything that is wanted; None where it has."""
        verdict = self._verdict()
        pairs = {frozenset((p.a, p.b)): p for p in verdict.pairs}
        left = {frozenset(p) for p in wanted.pairs if pairs[frozenset(p)].standing != "settled"}
        left |= {frozenset(q) for q in wanted.quiet if pairs[frozenset(q)].hum_standing != "settled"}
        if not left:
            return None
        contradicted = {frozenset(c.pair) for c in verdict.conflicts if not may_be_outvoted(c)}
        return "contradictions" if left & contradicted else "care"

    def _latest_take(self) -> str | None:
        """The latest take of this stream that stands."""
        standing = {e.id for e in self._folder().log.standing}
        return next((i for i, _ in reversed(self.recorded) if i in standing), None)

    def _request(self) -> Request | None:
        """What the person asks for while something is recorded; an answer comes too late then."""
        request = self.display.next_request()
        return None if request in ("yes", "no") else request

    def _taps_wanted(self) -> TapsWanted:
        """Everywhere where the person allows nothing else; not at all once they were skipped or refused."""
        given_up = any(key[0] == "tap" and n >= MOST_REFUSALS for key, n in self.bench.refusals.items())
        if given_up or "tap" not in self.options.gestures:
            return "none"
        return "everywhere" if self.options.gestures == ONLY_TAPS else "in doubt"

    def _play(
        self, steps: Sequence[Step], *, tries: int = MOST_REFUSALS, more: int | None = None
    ) -> Ending | None:
        """Play a round; a step that is not accepted in ``tries`` is left, and something else is chosen.

        ``more``: so many takes are wanted after it, where that is known: a person has named them.
        """
        for left, step in zip(range(len(steps), 0, -1), steps, strict=True):
            if left < len(steps) and self._needs_no_more():
                return None
            to_go = None if more is None else left + more
            ending = self._until_accepted(step, tries=tries, to_go=to_go)
            if ending == "skipped":
                self.bench.refusals[step_key(steps[0])] = MOST_REFUSALS
                return None
            if ending == "refused":
                self.display.show_note(OtherWay(step, tries))
                self.bench.refusals[step_key(steps[0])] = MOST_REFUSALS
                return None
            if ending is not None:
                return ending
        return None

    def _until_accepted(
        self, step: Step, *, tries: int, to_go: int | None
    ) -> Ending | Literal["skipped", "refused"] | None:
        """Ask for a step until it is done: the same words, whatever was wrong, but no more than ``tries``."""
        refused = 0
        while refused < tries:
            request: Request | Literal["gave up"] | None = self._move(step, to_go=to_go)
            if request is None:
                self.display.show_step(self._fields(step), accepted=self.accepted, to_go=to_go)
                capture = self._capture(step)
                request = capture.request
                if request == "keep" and capture.take is None:
                    capture = self._kept(step)
                if capture.take is not None:
                    good = self._judge(capture, step)
                    refused += not good
                    self.bench.judged(step, good=good)
                    if good and request in (None, "keep"):
                        return None
                elif request is None:
                    return "gave up"
            if request == "gave up":
                return "gave up"
            if request in ("stop", "skip"):
                return "stopped" if request == "stop" else "skipped"
            if request == "void":
                self._void_latest_take()
            elif request == "tag":
                self._tag_leads()
            elif request == "mine":
                self._record_own()
        return "refused"

    def _record_own(self) -> None:
        """A take of the person's own choice; what is plugged in for it, the person has seen to."""
        step = self.display.own_step(self._folder().job)
        if step is None:
            return
        try:
            check_fields(self.path, self._fields(step), min(len(step.columns), self.stream.channels))
        except CoilwiseError as error:
            self.display.show_note(OwnTakeRefused(str(error)))
            return
        before, self.plugged = self.plugged, step.plugged
        self.display.show_step(self._fields(step), accepted=self.accepted, to_go=1)
        capture = self._capture(step)
        if capture.take is not None:
            self._judge(capture, step)
        self.plugged = () if len(before) > 1 else step.plugged

    def _move(self, step: Step, *, to_go: int | None) -> Request | Literal["gave up"] | None:
        """Have hands move what has to be moved before a step; what a person asks for meanwhile."""
        moving = None
        if not self.options.fixed or (self.options.row and self.plugged):
            # what a person named himself is plugged in as he said
            after = self.options.stage == "after"
            moving = to_move(self._folder().job, step, plugged=self.plugged, after=after)
        if moving is None:
            return None
        self.display.show_step(self._fields(step), accepted=self.accepted, to_go=to_go, moving=moving)
        request = await_move(
            self.stream,
            columns=step.columns,
            known=moving not in ("plug in", "selector"),
            spool=self.spool,
            on_progress=self.display.show_notice,
            next_request=self._request,
        )
        if request in (None, "moved"):
            self.plugged = step.plugged
            if request is None:
                self._remember_floor(step)
            return None
        return request

    def _remember_floor(self, step: Step) -> None:
        """Keep noise and hum of what was plugged in now, heard in the quiet in which a move ended."""
        samples, *_ = self.spool.between(
            self.spool.stop - round(MOVED_QUIET_S * self.stream.rate), self.spool.stop
        )
        quiet = QuietWatch(rate=self.stream.rate, channels=len(step.columns))
        quiet.feed(samples[:, list(step.columns)])
        if quiet.rests:
            self.floor_db[step.plugged] = quiet.floor_db

    def _look_back(self) -> None:
        """Say whether the set-up is right, from the quiet that was waited for; once, when there is enough."""
        stop, settled = self.spool.stop, round(SETTLE_S * self.stream.rate)
        wanted = round(LOOK_S * self.stream.rate)
        samples, first, lost = self.spool.between(max(stop - wanted, settled), stop)
        if len(samples) < wanted:
            return
        self.looks = False
        missing = self.stream.lost_between(first, stop) if lost else ()
        hearing = setup_heard(
            samples, rate=self.stream.rate, lost=missing, mains_hz=self._folder().job.mains_hz
        )
        self.display.show_note(SetupSeen(hearing))

    def _show_progress(self, notice: Progress) -> None:
        if notice.what == "ready" and self.looks:
            self._look_back()
        self.display.show_notice(notice)

    def _kept(self, step: Step) -> CaptureResult:
        """Make a take of what was passed over last, as the person wants."""
        kept = keep_last(self.spool, self.path, self._fields(step), columns=step.columns)
        if kept is None:
            self.display.show_note(NothingToKeep())
            return CaptureResult(None, "keep")
        take, span, onset = kept
        return CaptureResult(take, "keep", span, onset)

    def _fields(self, step: Step) -> Step:
        return replace(step, stage=self.options.stage, rig=self.options.rig, where=self.options.where)

    def _capture(self, step: Step) -> CaptureResult:
        fields, moves = self._fields(step), self.plugged != step.plugged
        self.plugged = step.plugged
        drives = step.gesture == "drive" and self.options.output is not None
        capture = (
            self._record_drive(fields, step.columns)
            if drives
            else self._record_gesture(fields, step.columns, comes_first=moves)
        )
        if capture.floor_db is not None:
            self.floor_db[step.plugged] = capture.floor_db
        self._void_takes_with_lost_samples()
        return capture

    def _record_gesture(self, fields: Step, columns: Sequence[int], *, comes_first: bool) -> CaptureResult:
        """Wait for the step's gesture; ``comes_first``: the selector or a knob is moved before it."""
        comes_s = SELECTOR_COMES_S if comes_first else HANDS_COME_S if self.played not in WITH_TOOL else 0.0
        self.played = fields.gesture
        return record_gesture(
            self.stream,
            self.path,
            fields,
            columns=columns,
            rests_s=TOOL_RESTS_S if fields.gesture in WITH_TOOL else 0.0,
            comes_s=comes_s,
            moves=self._selector_moves(fields),
            floor_db=self.floor_db.get(fields.plugged),
            spool=self.spool,
            on_progress=self._show_progress,
            next_request=self._request,
        )

    def _selector_moves(self, step: TakeFields) -> int | None:
        """How often a selector moves during a step; None where none does, or knobs are turned instead."""
        through = step.inputs[0]
        if step.gesture != "switch" or through is None or isinstance(through, str | LeadsInput):
            return None
        return None if self._folder().job.control == "volumes" else len(through) - 1

    def _record_drive(self, fields: TakeFields, columns: Sequence[int]) -> CaptureResult:
        if self.options.output is None or not isinstance(self.stream, InputStream):
            raise AssertionError("a coil is driven through an output while a real input records")
        return record_driven_coil(
            self.stream,
            self.path,
            fields,
            columns=columns,
            output=self.options.output,
            on_progress=self.display.show_notice,
            next_request=self._request,
        )

    def _judge(self, capture: CaptureResult, step: Step) -> bool:
        """Analyse the take that was made, say whether it counts, then show the verdict."""
        if capture.take is None:
            return False
        entry = capture.take.entry
        result = take_result(self._folder().job, capture.take)
        self.results[entry.id] = result
        self.recorded.append((entry.id, capture.span))
        self.display.show_take(capture, result)
        good = result.has_measurements and not result.faults
        self.accepted += good
        self.refused += not good
        self.display.show_note(
            TakeAccepted(entry.id, result.remarks) if good else TakeRefused(entry.id, result.faults, step)
        )
        if good:
            self.display.show_verdict(self._verdict())
        return good

    def _void_latest_take(self) -> None:
        """Void the latest take of this stream, as the person asked."""
        standing = {e.id for e in self._folder().log.standing}
        last = next((i for i, _ in reversed(self.recorded) if i in standing), None)
        if last is not None:
            append_entry(self.path, new_entry(Void, at=utc_now(), entry=last, why="taken back by hand"))
        self.display.show_note(TakeVoided(last))
        if last is not None:
            self.display.show_verdict(self._verdict())

    def _tag_leads(self, only: str | None = None) -> None:
        """Write down, as the person says, that tags are on: one for each loose pickup of the latest take.

        ``only``: on this pickup's lead alone.
        """
        folder = self._folder()
        takes = {e.id: e for e in folder.log.standing if isinstance(e, Take) and e.stage == "found"}
        last = next((takes[i] for i, _ in reversed(self.recorded) if i in takes), None)
        loose = [p.name for p in folder.job.pickups if not p.fitted and only in (None, p.name)]
        clipped = [n for n in loose if last is not None and clipped_input(last, n, folder.job) is not None]
        sealed = []
        for name in clipped:
            tag = tag_entry(folder.job, folder.log, pickup=name, take=None if last is None else last.id)
            written = append_entry(self.path, tag)
            on = lead_history(folder.job, [*folder.log.standing, written]).tag_of(name)
            if on is not None:
                sealed.append((name, on.sealed))
        self.display.show_note(TagPut("" if last is None else last.id, tuple(sealed)))
        if sealed:
            self.display.show_verdict(self._verdict())

    def _void_takes_with_lost_samples(self) -> None:
        """Void recent takes in which missing samples were only noticed after recording."""
        standing = {e.id for e in self._folder().log.standing}
        for take, span in self.recorded[-2:]:
            dropped = self.results[take].entry.dropped
            if take in standing and not dropped and self.stream.lost_between(*span):
                append_entry(self.path, new_entry(Void, at=utc_now(), entry=take, why=LOST))
                self.display.show_note(SamplesLost(take))

    def _folder(self) -> JobFolder:
        return JobFolder.open(self.path)

    def _all_results(self, folder: JobFolder) -> list[TakeResult]:
        for take in folder.takes():
            if take.entry.id not in self.results:
                self.results[take.entry.id] = take_result(folder.job, take)
        standing = {e.id for e in folder.log.standing}
        return [result for i, result in self.results.items() if i in standing]

    def _verdict(self) -> Verdict:
        folder = self._folder()
        return judge_results(folder, self._all_results(folder), care=self.care).verdict

    def _result(self, ending: Ending) -> SessionResult:
        return SessionResult(ending, self._verdict(), self.accepted, self.refused)
