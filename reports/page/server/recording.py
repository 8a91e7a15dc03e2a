"""The recording behind the page: what every open page shows of it, and the thread that it runs in.

`PageState` is one immutable snapshot; `LiveState` holds the current one and gives each a higher ``revision``.
Levels (dB re full scale) come far more often than anything else, so they stand beside it. `SessionRunner`
runs one session or set-up check at a time, whichever browsers come and go. Whatever breaks it off (a lost
input, a full disk) is shown as a `Failure`, and the next start goes on from the last whole take.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from threading import Lock, Thread
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from capture.audio.setup_check import SetupProgress, SetupResult, run_setup_check
from capture.audio.streams import InputLostError, choose_input, open_input
from capture.job import Job
from capture.log import Input
from capture.takes.folder import JobFolder
from capture.takes.hands_free import CaptureResult, Progress, Request
from capture.takes.recording_lock import AlreadyRecordingError, recording
from dsp import CoilwiseError
from reports.entry.bench_memory import usual_input
from reports.evidence.results import TakeResult
from reports.messages.wording import our_fault, system_error
from reports.model.session import (
    Activity,
    BenchQuestion,
    Failure,
    FailureKind,
    Moving,
    SessionNote,
    Step,
)
from reports.model.verdict import Verdict
from reports.session.boxes import box_remembered
from reports.session.options import RecordingOptions, input_count, prepare
from reports.session.session import Session, SessionResult, record
from reports.verdict.care_memory import remembered_care

Phase = Literal["resting", "opening", "checking", "playing", "ended", "failed"]
Pair = tuple[str, str]
NOTES_KEPT = 50
MOST_BEFORE = 30
"""So many results are kept, to draw a take beside one before it."""
START = "start"
"""Stands for the take of a posterior before the first take of a session."""


@dataclass(frozen=True)
class PosteriorStep:
    """A pair's probability of "in phase" after a take, or at the start; None where there is no evidence."""

    take: str
    p_in_phase: float | None


@dataclass(frozen=True, eq=False)
class TakeWaveform:
    """The take that was recorded last: samples (frames, channels), its onset, what each channel carried."""

    id: str
    samples: NDArray[np.floating[Any]]
    rate: int
    onset_s: float | None
    inputs: tuple[Input, ...]
    result: TakeResult | None = None
    """What was heard in it."""
    before: tuple[TakeResult, ...] = ()
    """What was heard before it, the latest last."""

    @property
    def end_s(self) -> float:
        """How long it lasts."""
        return len(self.samples) / self.rate


@dataclass(frozen=True, eq=False)
class PageState:
    """What the pages show at one moment; ``outcome`` is how the last session ended, or what broke it off."""

    phase: Phase = "resting"
    revision: int = 0
    step: Step | None = None
    question: BenchQuestion | None = None
    accepted: int = 0
    to_go: int | None = None
    moving: Moving | None = None
    """What hands have to move before the step."""
    changed: tuple[int, ...] = ()
    """The channels of the input at which they move it."""
    activity: Activity | None = None
    notes: tuple[SessionNote, ...] = ()
    outcome: SessionResult | Failure | None = None
    take: TakeWaveform | None = None
    verdict: Verdict | None = None
    posteriors: Mapping[Pair, tuple[PosteriorStep, ...]] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def latest(self) -> str:
        """The take or entry that brought the verdict that is shown."""
        return next((steps[-1].take for steps in self.posteriors.values() if steps), START)


class LiveState:
    """The current snapshot, the levels, and what persons at the pages ask for; safe between threads."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._requests: deque[Request] = deque(maxlen=4)
        self.now = PageState()
        self.own: Step | None = None
        """The take of a person's own choice that is to come next."""
        self.levels: tuple[float, ...] = ()
        """The peak of each input in dB since the last level."""

    def update(self, **changed: Any) -> None:
        """Put a new snapshot in the place of the old one."""
        with self._lock:
            self.now = replace(self.now, **changed, revision=self.now.revision + 1)

    def add_note(self, note: SessionNote) -> None:
        """Add something that happened."""
        self.update(notes=(*self.now.notes[-NOTES_KEPT:], note))

    def set_verdict(self, verdict: Verdict, *, since: str) -> None:
        """Show a verdict; ``since`` is the take (or entry) that brought it."""
        before = self.now.posteriors
        posteriors = {
            (p.a, p.b): _extended(before.get((p.a, p.b), ()), PosteriorStep(since, p.p_in_phase))
            for p in verdict.pairs
        }
        self.update(verdict=verdict, posteriors=MappingProxyType(posteriors))

    def request(self, request: Request) -> None:
        """Keep what a person asks for until the session takes it."""
        self._requests.append(request)

    def next_request(self) -> Request | None:
        """Take the oldest request."""
        try:
            return self._requests.popleft()
        except IndexError:
            return None

    def clear_requests(self) -> None:
        """Forget requests that were meant for what is over."""
        self._requests.clear()


def _extended(steps: tuple[PosteriorStep, ...], last: PosteriorStep) -> tuple[PosteriorStep, ...]:
    """One step more, unless the posterior is the same: nothing new was heard."""
    return steps if steps and steps[-1].p_in_phase == last.p_in_phase else (*steps, last)


class PageDisplay:
    """A `SessionDisplay` that writes into the live state."""

    def __init__(self, live: LiveState) -> None:
        self._live, self._since = live, live.now.latest
        self._plugged: tuple[tuple[int, object], ...] = ()
        self._heard: tuple[TakeResult, ...] = ()

    @property
    def answers(self) -> bool:
        """Whoever has the page open can press a button."""
        return True

    def show_question(self, question: BenchQuestion, *, accepted: int) -> None:
        """Show what is asked."""
        self._live.update(
            phase="playing", step=None, question=question, accepted=accepted, to_go=None, activity=None
        )

    def show_step(
        self, step: Step, *, accepted: int, to_go: int | None, moving: Moving | None = None
    ) -> None:
        """Show what to do next."""
        before = dict(self._plugged)
        changed = tuple(column for column, item in step.plugged if before.get(column) != item)
        if moving is None:
            self._plugged = step.plugged
        self._live.update(
            phase="playing",
            question=None,
            step=step,
            accepted=accepted,
            to_go=to_go,
            moving=moving,
            changed=changed,
            activity=None,
        )

    def show_notice(self, notice: Progress) -> None:
        """Show a level, or what the session waits for."""
        if notice.what == "level":
            self._live.levels = notice.peaks_db
        else:
            self._live.update(activity=notice.what)

    def show_take(self, capture: CaptureResult, result: TakeResult) -> None:
        """Show the waveform of a take."""
        if capture.take is None:
            return
        self._since = result.entry.id
        if capture.take.status == "refused":
            return
        audio = capture.take.load()
        onset_s = None if capture.onset is None else capture.onset / audio.rate
        entry = result.entry
        take = TakeWaveform(
            entry.id, audio.samples, audio.rate, onset_s, entry.inputs, result=result, before=self._heard
        )
        self._heard = (*self._heard[-MOST_BEFORE:], result)
        self._live.update(take=take)

    def show_note(self, note: SessionNote) -> None:
        """Show something that happened."""
        self._live.add_note(note)

    def show_verdict(self, verdict: Verdict) -> None:
        """Show the verdict as it is now, and since which take."""
        self._live.set_verdict(verdict, since=self._since)

    def next_request(self) -> Request | None:
        """Return what somebody at a page asks for."""
        return self._live.next_request()

    def own_step(self, job: Job) -> Step | None:
        """The take that somebody at a page named."""
        step, self._live.own = self._live.own, None
        return step


class SessionRunner:
    """One session or set-up check at a time; its methods are called from the page's own thread."""

    def __init__(self, live: LiveState) -> None:
        self._live = live
        self._lock = Lock()
        self._thread: Thread | None = None
        self._session: Session | None = None

    @property
    def running(self) -> bool:
        """Whether a session or a check listens just now."""
        return self._thread is not None and self._thread.is_alive()

    def begin(self, folder: Path, options: RecordingOptions) -> None:
        """Begin a session, or go on with it; nothing happens where one runs already."""
        self._start(lambda: self._record(folder, options))

    def check(
        self,
        folder: Path,
        options: RecordingOptions,
        *,
        pluck_s: float,
        done: Callable[[SetupResult], None],
    ) -> None:
        """Listen to the inputs, and hand what was found to ``done``; nothing is kept."""
        self._start(lambda: self._check(folder, options, pluck_s=pluck_s, done=done))

    def end(self, *, within_s: float = 5.0) -> None:
        """Ask the session to stop, and wait for it so long; what was recorded is kept."""
        thread = self._thread
        if thread is not None and thread.is_alive():
            self._live.request("stop")
            thread.join(within_s)

    def _start(self, work: Callable[[], None]) -> None:
        with self._lock:
            if self.running:
                return
            self._live.clear_requests()
            self._live.update(
                phase="opening", step=None, question=None, activity="opening", outcome=None, notes=()
            )
            self._thread = Thread(target=self._run, args=(work,), daemon=True)
            self._thread.start()

    def _run(self, work: Callable[[], None]) -> None:
        try:
            work()
        except InputLostError as error:
            self._fail("input lost", str(error))
        except AlreadyRecordingError as error:
            self._fail("recorded elsewhere", error.holder)
        except CoilwiseError as error:
            self._fail("session", str(error))
        except OSError as error:
            self._fail("session", system_error(error))
        except Exception as error:  # nothing is above it in this thread, and the page would wait for ever
            self._fail("internal", our_fault(error))
        finally:
            self._live.levels = ()

    def _fail(self, kind: FailureKind, why: str) -> None:
        if kind != "internal" and self._live.now.phase == "checking":
            kind = "check"
        self._live.update(phase="failed", step=None, question=None, activity=None, outcome=Failure(kind, why))

    def _record(self, folder: Path, options: RecordingOptions) -> None:
        prepared = prepare(JobFolder.open(folder).job, options)
        before = self._session
        if before is None or (before.path, before.options) != (folder, prepared.options):
            known = remembered_care().before(folder)
            self._session = before = Session(folder, prepared.options, known)
        with recording(folder, who="page"), box_remembered(prepared, before):
            result = record(prepared, before, PageDisplay(self._live))
        self._live.update(
            phase="ended", step=None, question=None, activity=None, outcome=result, accepted=result.accepted
        )

    def _check(
        self,
        folder: Path,
        options: RecordingOptions,
        *,
        pluck_s: float,
        done: Callable[[SetupResult], None],
    ) -> None:
        job = JobFolder.open(folder).job
        device = usual_input(choose_input, options.source)
        channels = input_count(device, options.inputs)
        self._live.update(phase="checking")
        with closing(open_input(device, channels=channels, rate=options.rate)) as stream:
            hearing = run_setup_check(
                stream, pluck_s=pluck_s, mains_hz=job.mains_hz, on_progress=self._show_moment
            )
        done(hearing)
        self._live.update(phase="resting", activity=None)

    def _show_moment(self, moment: SetupProgress) -> None:
        self._live.levels = moment.peaks_db
        if self._live.now.activity != moment.part:
            self._live.update(activity=moment.part)
