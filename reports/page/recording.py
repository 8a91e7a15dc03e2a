"""The session behind the page: it runs in a thread of its own, whoever looks at it.

Task: open the input, look at the set-up, go through `reports.guide.session.Session`, and put what happens on
the board; end it when asked to. Shapes, units, signs: as in reports.page.board. A browser that is closed or
loaded anew changes nothing here. Whatever ends it (a wish, a lost input, a full disk) is told on the board in
one sentence, and the next start goes on from the last whole take.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from threading import Lock, Thread
from typing import TYPE_CHECKING, Literal

from capture.folder import JobFolder
from capture.setup_listening import Moment as SetupMoment
from capture.setup_listening import SetupHearing, listen_to_setup
from capture.sound import InputStream, choose_input, open_input, shown
from capture.watchdog import InputLostError
from dsp.errors import CoilwiseError
from reports.guide.defaults import GESTURES, MOST_TAKES
from reports.guide.guide_words import LISTENING, LOOKING, ending_lines
from reports.guide.opening import inputs_wanted, look_at_setup
from reports.guide.session import Options, Session
from reports.page import page_words
from reports.page.board import Board
from reports.page.page_face import PageFace
from reports.setup_sheet import DO
from reports.words import as_sentence, our_fault, plain

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass(frozen=True)
class Wanted:
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

    def begin(self, folder: Path, wanted: Wanted) -> None:
        """Go on with the job; nothing happens where a session runs already."""
        self._start(lambda: self._session(folder, wanted))

    def check(
        self, folder: Path, wanted: Wanted, *, pluck_s: float, told: Callable[[SetupHearing], None]
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

    def _session(self, folder: Path, wanted: Wanted) -> None:
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
        with open_input(device, channels=channels, rate=wanted.rate) as stream:
            said = LISTENING.format(input=plain(shown(device)), count=channels, rate=stream.rate)
            self._board.say(said)
            self._board.show(phase="looking", doing=LOOKING)
            for line in look_at_setup(stream, job, told=self._set_up_level):
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
        self, folder: Path, wanted: Wanted, *, pluck_s: float, told: Callable[[SetupHearing], None]
    ) -> None:
        job = JobFolder.open(folder).job
        device = choose_input(wanted.source)
        channels = min(wanted.inputs or 2, 2, device.channels)
        self._board.show(phase="checking")
        with open_input(device, channels=channels, rate=wanted.rate) as stream:
            hearing = listen_to_setup(stream, pluck_s=pluck_s, mains_hz=job.mains_hz, told=self._set_up_level)
        told(hearing)
        self._board.show(phase="resting", doing="")

    def _set_up_level(self, moment: SetupMoment) -> None:
        self._board.level(moment.peaks_db)
        if self._board.moment.doing != DO[moment.part] and self._board.moment.phase != "looking":
            self._board.show(doing=DO[moment.part])
