"""Moved.

What the page shows of a recording session at this moment, and what it was told to do.

Task: one record that the recording thread writes and every open page reads. Shapes: waveforms are (frames,
channels). Units: dB re full scale, seconds, probabilities in 0..1. Signs: as they come.

A `PageState` never changes; a new one takes its place, with a higher ``revision``. Levels come far more often
than anything else, so they stand beside it.

A guided session on the page: what the session says, put on the board.

Task: a `reports.session.session.Face` whose eyes are the browsers and whose ears are their buttons and keys.
Shapes, units, signs: as in reports.page.server.recording.

The session behind the page: it runs in a thread of its own, whoever looks at it.

Task: open the input, look at the set-up, go through `reports.session.session.Session`, and put what happens
on the board; end it when asked to. Shapes, units, signs: as in reports.page.server.recording. A browser that
is closed or loaded anew changes nothing here. Whatever ends it (a wish, a lost input, a full disk) is told on
the board in one sentence, and the next start goes on from the last whole take.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from threading import Lock, Thread
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from capture.audio.setup_check import SetupHearing, SetupMoment, listen_to_setup
from capture.audio.streams import InputLostError, InputStream, choose_input, device_label, open_input
from capture.takes.folder import JobFolder
from capture.takes.hands_free import Caught, Notice, Wish
from dsp import CoilwiseError
from reports.evidence.results import TakeResult
from reports.messages import page as page_words
from reports.messages import session as words
from reports.messages.session import LISTENING, LOOKING, ending_lines
from reports.messages.setup import DO
from reports.messages.wording import as_sentence, on_words, our_fault, plain
from reports.model.gestures import GESTURES, MOST_TAKES
from reports.model.session import Step
from reports.model.verdict import Verdict
from reports.session.session import SAYS, Options, Session, inputs_wanted, look_at_setup

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass(frozen=True)
class BeliefStep:
    """What was believed after a take, or at the start: probability of "in phase", None for no evidence."""

    take: str
    p_in_phase: float | None


Phase = Literal["resting", "opening", "looking", "checking", "playing", "ended", "failed"]
Pair = tuple[str, str]
LINES_KEPT = 50
START = "start"
"""What is believed before the first take of a session."""


@dataclass(frozen=True)
class Line:
    """Something that was said; ``good``: a take was accepted, or was not."""

    text: str
    good: bool | None = None


@dataclass(frozen=True, eq=False)
class LastTake:
    """The take that was recorded last: its waveform with its bounds, and what each channel carried."""

    id: str
    samples: NDArray[np.floating[Any]]
    rate: int
    onset_s: float | None
    end_s: float
    labels: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class PageState:
    """All of it; ``doing`` is what the session waits for, ``ended`` are the lines that it ended with."""

    phase: Phase = "resting"
    revision: int = 0
    step: Step | None = None
    count: int = 0
    to_go: int | None = None
    doing: str = ""
    lines: tuple[Line, ...] = ()
    ended: tuple[str, ...] = ()
    take: LastTake | None = None
    verdict: Verdict | None = None
    beliefs: Mapping[Pair, tuple[BeliefStep, ...]] = field(default_factory=lambda: MappingProxyType({}))


def _further(steps: tuple[BeliefStep, ...], last: BeliefStep) -> tuple[BeliefStep, ...]:
    """One step more, unless nothing happened: the same belief, since nothing new."""
    return steps if steps and steps[-1].p_in_phase == last.p_in_phase else (*steps, last)


class Board:
    """The moment, the levels, and the wishes; safe between threads."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._moment = PageState()
        self._levels: tuple[float, ...] = ()
        self._wishes: deque[Wish] = deque(maxlen=4)

    @property
    def moment(self) -> PageState:
        """What is shown now."""
        return self._moment

    @property
    def levels(self) -> tuple[float, ...]:
        """The peak of each input in dB since the last level."""
        return self._levels

    def show(self, **changed: Any) -> None:
        """Put a new moment in the place of the old one."""
        with self._lock:
            self._moment = replace(self._moment, **changed, revision=self._moment.revision + 1)

    @property
    def since(self) -> str:
        """What brought the belief that is shown."""
        return next((steps[-1].take for steps in self._moment.beliefs.values() if steps), START)

    def say(self, text: str, *, good: bool | None = None) -> None:
        """Add a line to what was said."""
        self.show(lines=(*self._moment.lines[-LINES_KEPT:], Line(text, good)))

    def believe(self, verdict: Verdict, *, since: str) -> None:
        """Show a verdict; ``since`` is the take (or entry) that brought it."""
        known = self._moment.beliefs
        beliefs = {
            (p.a, p.b): _further(known.get((p.a, p.b), ()), BeliefStep(since, p.p_in_phase))
            for p in verdict.pairs
        }
        self.show(verdict=verdict, beliefs=MappingProxyType(beliefs))

    def level(self, peaks_db: tuple[float, ...]) -> None:
        """Show the level of each input."""
        self._levels = peaks_db

    def wish(self, wish: Wish) -> None:
        """Remember what the person wants until the session asks."""
        self._wishes.append(wish)

    def asked(self) -> Wish | None:
        """Return the oldest wish, and forget it."""
        try:
            return self._wishes.popleft()
        except IndexError:
            return None

    def forget_wishes(self) -> None:
        """Nothing that was wished before counts for what begins now."""
        self._wishes.clear()


class PageFace:
    """Writes on a board; no wording of its own."""

    def __init__(self, board: Board) -> None:
        self._board, self._since, self._how = board, board.since, ""

    def step(self, step: Step, *, count: int, to_go: int | None) -> None:
        """Show what to do next."""
        self._how = words.how(step)
        self._board.show(phase="playing", step=step, count=count, to_go=to_go, doing="")

    def notice(self, notice: Notice) -> None:
        """Show a level, or what the session waits for."""
        if notice.what == "level":
            self._board.level(notice.peaks_db)
        elif notice.what == "nothing heard":
            self._board.show(doing=words.NOTHING_HEARD.format(how=self._how))
        else:
            self._board.show(doing=SAYS[notice.what])

    def taken(self, caught: Caught, heard: TakeResult) -> None:
        """Show the waveform of a take."""
        if caught.take is None:
            return
        audio = caught.take.load() if caught.take.status != "refused" else None
        self._since = heard.entry.id
        if audio is None:
            return
        onset = None if caught.onset is None else caught.onset / audio.rate
        self._board.show(
            take=LastTake(
                heard.entry.id,
                audio.samples,
                audio.rate,
                onset,
                len(audio.samples) / audio.rate,
                tuple(on_words(i) for i in heard.entry.inputs),
            )
        )

    def word(self, text: str, *, good: bool | None = None) -> None:
        """Keep it as a line."""
        self._board.say(text, good=good)

    def posterior(self, verdict: Verdict) -> None:
        """Show what is believed now, and since which take."""
        self._board.believe(verdict, since=self._since)

    def asked(self) -> Wish | None:
        """Return what somebody at the page wants."""
        return self._board.asked()


@dataclass(frozen=True)
class RecordingOptions:
    """How the person wants to record: which input, how many of them, what may be asked for, on what rig."""

    source: str | None = None
    inputs: int | None = None
    rate: int | None = None
    gestures: tuple[str, ...] = GESTURES
    stage: Literal["found", "after"] = "found"
    rig: str | None = None
    tool: str | None = None
    most: int = MOST_TAKES


class Recording:
    """One session at a time over one job; `begin`, `check` and `end` come from the page's own thread."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self._lock = Lock()
        self._thread: Thread | None = None
        self._last: Session | None = None

    @property
    def running(self) -> bool:
        """Whether something is being listened to just now."""
        return self._thread is not None and self._thread.is_alive()

    def begin(self, folder: Path, wanted: RecordingOptions) -> None:
        """Go on with the job; nothing happens where a session runs already."""
        self._start(lambda: self._session(folder, wanted))

    def check(
        self, folder: Path, wanted: RecordingOptions, *, pluck_s: float, told: Callable[[SetupHearing], None]
    ) -> None:
        """Listen to the inputs and say what is wrong with them; nothing is kept."""
        self._start(lambda: self._look(folder, wanted, pluck_s=pluck_s, told=told))

    def end(self, *, within_s: float = 5.0) -> None:
        """Ask the session to stop, and wait for it so long; what was recorded is kept."""
        thread = self._thread
        if thread is None or not thread.is_alive():
            return
        self._board.wish("stop")
        thread.join(within_s)

    def _start(self, work: Callable[[], None]) -> None:
        with self._lock:
            if self.running:
                return
            self._board.forget_wishes()
            self._board.show(phase="opening", step=None, doing=page_words.OPENING, ended=(), lines=())
            self._thread = Thread(target=self._run, args=(work,), daemon=True)
            self._thread.start()

    def _run(self, work: Callable[[], None]) -> None:
        try:
            work()
        except InputLostError as error:
            self._fail(self._sentence(page_words.INPUT_LOST), error)
        except CoilwiseError as error:
            self._fail(self._sentence(page_words.BROKEN_OFF), error)
        except OSError as error:
            self._fail(self._sentence(page_words.BROKEN_OFF), error.strerror or error)
        except Exception as error:  # nothing is above it in this thread, and the page would wait for ever
            self._fail("{why}", our_fault(error))
        finally:
            self._board.level(())

    def _sentence(self, of_a_session: str) -> str:
        """What to say where it broke off: a check keeps nothing, so there is nothing to go on with."""
        return page_words.CHECK_BROKEN if self._board.moment.phase == "checking" else of_a_session

    def _fail(self, sentence: str, why: object) -> None:
        said = plain(sentence.format(why=as_sentence(str(why))))
        self._board.show(phase="failed", step=None, doing="", ended=(said,))

    def _session(self, folder: Path, wanted: RecordingOptions) -> None:
        job = JobFolder.open(folder).job
        device = choose_input(wanted.source)
        inputs = min(wanted.inputs or 2, 2, device.channels)
        after = wanted.stage == "after"
        channels = inputs_wanted(job, inputs=inputs, gestures=wanted.gestures, after=after)
        options = Options(
            inputs=inputs,
            stage=wanted.stage,
            rig=wanted.rig or device.name,
            tool=wanted.tool,
            gestures=wanted.gestures,
            most=wanted.most,
        )
        face = PageFace(self._board)
        with closing(open_input(device, channels=channels, rate=wanted.rate)) as stream:
            said = LISTENING.format(input=plain(device_label(device)), count=channels, rate=stream.rate)
            self._board.say(said)
            self._board.show(phase="looking", doing=LOOKING)
            for line in look_at_setup(stream, job, surface="page", told=self._set_up_level):
                self._board.say(line)
            session = self._going_on(folder, stream, face, options)
            ended = session.run()
        lines = ending_lines(
            ended.why, ended.verdict, accepted=ended.accepted, folder=None, then=page_words.AFTER_ENDING
        )
        self._board.show(phase="ended", step=None, doing="", ended=lines, count=ended.accepted)

    def _going_on(self, folder: Path, stream: InputStream, face: PageFace, options: Options) -> Session:
        """The session as it was before a pause, on a new stream: what was heard is not heard anew."""
        before = self._last
        if before is not None and before.path == folder and before.options == options:
            self._last = replace(before, stream=stream, face=face, mine=[], plugged=(), floor_db={})
        else:
            self._last = Session(folder, stream, face, options)
        return self._last

    def _look(
        self, folder: Path, wanted: RecordingOptions, *, pluck_s: float, told: Callable[[SetupHearing], None]
    ) -> None:
        job = JobFolder.open(folder).job
        device = choose_input(wanted.source)
        channels = min(wanted.inputs or 2, 2, device.channels)
        self._board.show(phase="checking")
        with closing(open_input(device, channels=channels, rate=wanted.rate)) as stream:
            hearing = listen_to_setup(stream, pluck_s=pluck_s, mains_hz=job.mains_hz, told=self._set_up_level)
        told(hearing)
        self._board.show(phase="resting", doing="")

    def _set_up_level(self, moment: SetupMoment) -> None:
        self._board.level(moment.peaks_db)
        if self._board.moment.doing != DO[moment.part] and self._board.moment.phase != "looking":
            self._board.show(doing=DO[moment.part])
