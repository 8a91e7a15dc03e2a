"""What a terminal shows of a guided session: plain lines, or a picture of the moment; and its single keys.

`LineDisplay` writes lines as things happen. `ScreenDisplay` draws what the moment is as a band across the
screen (its colour reads from across the bench, its letters from two metres), what to do in block letters
(five rows of five columns), the level of each input in dB re full scale, and the verdict; no mark
depends on colour. `requests` reads keys without waiting, where there is a keyboard.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from rich.console import Console, Group
from rich.live import Live
from rich.text import Text

from capture.job import Job
from capture.takes.hands_free import CaptureResult, Progress, Request
from dsp import CoilwiseError
from reports.evidence.results import TakeResult
from reports.messages import session as words
from reports.messages.play import BAND as MOMENTS
from reports.messages.play import ENDINGS_BIG, MOVE_FIRST, TOO_LOUD
from reports.messages.setup import level_bar
from reports.messages.wording import plain
from reports.model.session import (
    AT_WORK,
    BAND_AT_END,
    BAND_OF,
    Activity,
    BandKind,
    BenchQuestion,
    Ending,
    Moving,
    SessionNote,
    Step,
    acceptance,
)
from reports.model.verdict import Verdict

ROWS = 5
_BLOCK = "█"
_LETTERS = {
    "A": "01110 10001 11111 10001 10001",
    "B": "11110 10001 11110 10001 11110",
    "C": "01111 10000 10000 10000 01111",
    "D": "11110 10001 10001 10001 11110",
    "E": "11111 10000 11110 10000 11111",
    "F": "11111 10000 11110 10000 10000",
    "G": "01111 10000 10011 10001 01111",
    "H": "10001 10001 11111 10001 10001",
    "I": "01110 00100 00100 00100 01110",
    "J": "00111 00010 00010 10010 01100",
    "K": "10010 10100 11000 10100 10010",
    "L": "10000 10000 10000 10000 11111",
    "M": "10001 11011 10101 10001 10001",
    "N": "10001 11001 10101 10011 10001",
    "O": "01110 10001 10001 10001 01110",
    "P": "11110 10001 11110 10000 10000",
    "Q": "01110 10001 10101 10010 01101",
    "R": "11110 10001 11110 10010 10001",
    "S": "01111 10000 01110 00001 11110",
    "T": "11111 00100 00100 00100 00100",
    "U": "10001 10001 10001 10001 01110",
    "V": "10001 10001 10001 01010 00100",
    "W": "10001 10001 10101 11011 10001",
    "X": "10001 01010 00100 01010 10001",
    "Y": "10001 01010 00100 00100 00100",
    "Z": "11111 00010 00100 01000 11111",
    "0": "01110 10011 10101 11001 01110",
    "1": "00100 01100 00100 00100 01110",
    "2": "11110 00001 01110 10000 11111",
    "3": "11110 00001 01110 00001 11110",
    "4": "10010 10010 11111 00010 00010",
    "5": "11111 10000 11110 00001 11110",
    "6": "01110 10000 11110 10001 01110",
    "7": "11111 00010 00100 01000 01000",
    "8": "01110 10001 01110 10001 01110",
    "9": "01110 10001 01111 00001 01110",
    "#": "01010 11111 01010 11111 01010",
    "+": "00000 00100 01110 00100 00000",
    "-": "00000 00000 01110 00000 00000",
    "?": "01110 10001 00110 00000 00100",
    " ": "000 000 000 000 000",
}


def block_letters(text: str, *, width: int) -> tuple[str, ...]:
    """The text in block letters, or as one plain line where it does not fit into ``width`` columns."""
    wanted = text.upper()
    if any(c not in _LETTERS for c in wanted):
        return (text,)
    each = [_LETTERS[c].split() for c in wanted]
    rows = [
        " ".join(letter[k].replace("1", _BLOCK).replace("0", " ") for letter in each) for k in range(ROWS)
    ]
    return tuple(row.rstrip() for row in rows) if max(map(len, rows), default=0) <= width else (text,)


HALVES = {(" ", " "): " ", (_BLOCK, " "): "▀", (" ", _BLOCK): "▄", (_BLOCK, _BLOCK): _BLOCK}
"""Two rows of a letter in one of the terminal."""
BAND_STYLES: dict[BandKind, str] = {
    "begin": "bold reverse",
    "ready": "bold reverse",
    "move": "bold white on magenta",
    "quiet": "bold white on blue",
    "now": "bold black on bright_yellow",
    "listening": "bold black on bright_cyan",
    "accepted": "bold black on bright_green",
    "refused": "bold white on red",
    "question": "bold black on white",
    "settled": "bold black on bright_green",
    "ended": "bold reverse",
    "stopped": "bold white on red",
}
"""Its word says the same; where there are no colours, that alone."""
ROOM_FOR_BAND = 20
ROOM_FOR_LARGE = 30
"""Rows of a terminal that has room for letters of half the height in the band, and for whole ones; with fewer
it is one row."""


def band(kind: BandKind, word: str, *, width: int, height: int) -> list[Text]:
    """The band across the screen, in letters as large as there is room for."""
    lines = list(block_letters(word, width=width - 2))
    if height < ROOM_FOR_BAND:
        lines = [word]
    elif height < ROOM_FOR_LARGE and len(lines) == ROWS:
        long = max(map(len, lines))
        rows = [line.ljust(long) for line in (*lines, "")]
        lines = ["".join(HALVES[both] for both in zip(*two, strict=True)) for two in _two_by_two(rows)]
    return [Text(f" {line}".ljust(width), style=BAND_STYLES[kind], no_wrap=True) for line in lines]


def _two_by_two(rows: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Rows of letters, two at a time."""
    return zip(rows[::2], rows[1::2], strict=True)


def band_at_end(ending: Ending, verdict: Verdict, *, width: int, height: int) -> list[Text]:
    """The band once a session has ended: settled, however it ended, where every pair is."""
    if verdict.pairs and all(p.standing == "settled" for p in verdict.pairs):
        ending = "settled"
    return band(BAND_AT_END.get(ending, "ended"), ENDINGS_BIG[ending], width=width, height=height)


MARKS = {True: "+ ", False: "x ", None: ""}
"""Before a note: a take was accepted, was not, or the note is about no take."""


def no_keyboard() -> Request | None:
    """Return nothing: there is nobody who could ask."""
    return None


class LineDisplay:
    """Plain lines, as things happen; levels are not written."""

    def __init__(
        self, echo: Callable[[str], None], request: Callable[[], Request | None] = no_keyboard
    ) -> None:
        self._echo, self.next_request = echo, request
        self._step: Step | None = None
        self._pairs: tuple[str, ...] = ()

    @property
    def answers(self) -> bool:
        """Whether somebody could press a key."""
        return self.next_request is not no_keyboard

    def show_question(self, question: BenchQuestion, *, accepted: int) -> None:
        """Write what is asked, and how it is answered."""
        self._step = None
        head = f"[{words.progress_text(accepted, None)}] {words.QUESTIONS_BIG[question.what]}"
        for line in (head, words.question_text(question), words.ANSWER["terminal"]):
            self._echo(line)

    def show_step(
        self, step: Step, *, accepted: int, to_go: int | None, moving: Moving | None = None
    ) -> None:
        """Write what to do next; what hands have to move by itself, before it."""
        self._step = step
        progress = words.stage_text(step.stage, words.progress_text(accepted, to_go))
        head = f"[{progress}] {words.large_text(step, moving)}"
        last = words.instruction(step) if moving is None else words.MOVING["terminal"]
        for line in (head, *words.to_set(step, moving), last):
            self._echo(line)

    def show_notice(self, notice: Progress) -> None:
        """Write what is waited for."""
        if notice.what == "level":
            return
        if notice.what != "ended":
            self._echo(words.activity_text(notice.what, self._step))

    def show_take(self, capture: CaptureResult, result: TakeResult) -> None:
        """Write nothing: the note on it is enough."""

    def show_note(self, note: SessionNote) -> None:
        """Write it, with a mark where a take was judged."""
        for line in words.note_lines(note, surface="terminal"):
            self._echo(f"{MARKS[acceptance(note)]}{line}")

    def own_step(self, job: Job) -> Step | None:
        """Ask for a take of the person's own choice."""
        return asked_step(job, self._echo)

    def show_verdict(self, verdict: Verdict) -> None:
        """Write one line for each pair whose posterior is another one."""
        lines = tuple(words.pair_line(p) for p in verdict.pairs)
        for line in lines:
            if line not in self._pairs:
                self._echo(f"  {line}")
        self._pairs = lines


class ScreenDisplay:
    """A picture of the moment on a terminal; notes stay above it as lines."""

    def __init__(
        self, console: Console, live: Live, request: Callable[[], Request | None] = no_keyboard
    ) -> None:
        self._console, self._live, self.next_request = console, live, request
        self._step: Step | None = None
        self._peaks: tuple[float, ...] = ()
        self._activity: Activity | None = None
        self._progress = ""
        self._moving: Moving | None = None
        self._question: BenchQuestion | None = None
        self._pairs: tuple[str, ...] = ()
        self._lately: bool | None = None

    @property
    def answers(self) -> bool:
        """Whether somebody could press a key."""
        return self.next_request is not no_keyboard

    def show_question(self, question: BenchQuestion, *, accepted: int) -> None:
        """Show what is asked, and how it is answered."""
        self._step, self._question, self._activity = None, question, None
        self._progress = words.progress_text(accepted, None)
        self._draw()

    def show_step(
        self, step: Step, *, accepted: int, to_go: int | None, moving: Moving | None = None
    ) -> None:
        """Show what to do next."""
        self._step, self._question, self._activity, self._moving = step, None, None, moving
        self._progress = words.stage_text(step.stage, words.progress_text(accepted, to_go))
        self._draw()

    def show_notice(self, notice: Progress) -> None:
        """Show a level, or what is waited for."""
        if notice.what == "level":
            self._peaks = notice.peaks_db
        else:
            self._activity = notice.what
            if notice.what not in ("waiting", "moving"):
                self._lately = None
        self._draw()

    def show_take(self, capture: CaptureResult, result: TakeResult) -> None:
        """Show nothing: the note on it is enough."""

    def show_note(self, note: SessionNote) -> None:
        """Keep it as lines above the picture; whether a take counts stands in the band until the next one."""
        counts = acceptance(note)
        self._lately = self._lately if counts is None else counts
        for line in words.note_lines(note, surface="terminal"):
            self._live.console.print(Text(f"{MARKS[acceptance(note)]}{plain(line)}"))

    def own_step(self, job: Job) -> Step | None:
        """Ask for a take of the person's own choice; the picture waits."""
        self._live.stop()
        try:
            return asked_step(job, self._console.print)
        finally:
            self._live.start()

    def show_verdict(self, verdict: Verdict) -> None:
        """Show the verdict as it is now."""
        self._pairs = tuple(words.pair_line(p) for p in verdict.pairs)
        self._draw()

    def _draw(self) -> None:
        self._live.update(self._picture(), refresh=True)

    def _picture(self) -> Group:
        if self._question is not None:
            return Group(*self._asked(self._question))
        if self._step is None:
            return Group(*(Text(line) for line in self._pairs))
        letters = block_letters(words.large_text(self._step, self._moving), width=self._console.width - 1)
        bars = [level_bar(f"input {c + 1}", p) for c, p in zip(self._step.columns, self._peaks, strict=False)]
        activity = words.activity_text(self._activity, None)
        rows = [
            *self._band(),
            Text(""),
            *(Text(line, style="bold") for line in letters),
            Text(""),
            *(Text(line, style="bold") for line in words.to_set(self._step, self._moving)),
            Text(words.instruction(self._step) if self._moving is None else words.MOVING["terminal"]),
            Text(activity, style="bold"),
            *(Text(bar) for bar in bars),
            *(Text(f"  {line}") for line in self._pairs),
            Text(f"{self._progress}. {words.KEYS}", style="dim"),
        ]
        return Group(*rows)

    def _band(self) -> list[Text]:
        """What the moment is: whether the take before counted, as long as nothing is more urgent."""
        kind: BandKind = "ready" if self._activity is None else BAND_OF[self._activity]
        if self._question is not None:
            kind = "question"
        elif self._lately is not None and kind not in AT_WORK:
            kind = "accepted" if self._lately else "refused"
        word = MOVE_FIRST if kind == "move" else MOMENTS[kind]
        if self._activity == "too loud":
            word = TOO_LOUD
        return band(kind, word, width=self._console.width, height=self._console.height)

    def _asked(self, question: BenchQuestion) -> list[Text]:
        letters = block_letters(words.QUESTIONS_BIG[question.what], width=self._console.width - 1)
        return [
            *self._band(),
            Text(""),
            *(Text(line, style="bold") for line in letters),
            Text(""),
            Text(words.question_text(question)),
            Text(words.ANSWER["terminal"], style="bold"),
            *(Text(f"  {line}") for line in self._pairs),
            Text(f"{self._progress}. {words.KEYS}", style="dim"),
        ]


def asked_step(job: Job, echo: Callable[[str], None]) -> Step | None:
    """Ask for a take, a line at a time, with the keyboard as it usually is; nothing typed leaves it."""
    from reports.entry.spelling import named_step

    with whole_lines():
        gesture = input(f"{words.OWN_GESTURE}: ").strip()
        if not gesture:
            return None
        string = input(f"{words.OWN_STRING}: ").strip()
        on = [text for n in (1, 2) if (text := input(f"{words.OWN_INPUT.format(number=n)}: ").strip())]
    try:
        return named_step(job, gesture, on, string=string or None)
    except CoilwiseError as error:
        echo(str(error))
        return None


@contextmanager
def whole_lines() -> Iterator[None]:
    """Lines with an echo while the block lasts, where single keys were read."""
    try:
        import termios
    except ImportError:
        yield
        return
    if not sys.stdin.isatty():
        yield
        return
    number = sys.stdin.fileno()
    before = termios.tcgetattr(number)
    cooked = termios.tcgetattr(number)
    cooked[3] |= termios.ICANON | termios.ECHO
    termios.tcsetattr(number, termios.TCSADRAIN, cooked)
    try:
        yield
    finally:
        termios.tcsetattr(number, termios.TCSADRAIN, before)


def _keys_of_windows() -> Callable[[], Request | None] | None:
    """Single keys from a console of Windows; None where there is none."""
    try:
        console: Any = importlib.import_module("msvcrt")
    except ImportError:
        return None

    def pressed_key() -> Request | None:
        if not console.kbhit():
            return None
        key = console.getwch()
        if key in _TWO_PARTS:
            console.getwch()
            return None
        if key == _CTRL_C:  # read as a character, it interrupts nothing by itself
            raise KeyboardInterrupt
        return KEYS.get(key.lower())

    return pressed_key


_TWO_PARTS = ("\x00", "\xe0")
"""What an arrow or a function key begins with."""
_CTRL_C = "\x03"
KEYS: dict[str, Request] = {
    "y": "yes",
    "n": "no",
    "v": "void",
    "p": "keep",
    "m": "moved",
    "o": "mine",
    "t": "tag",
    "s": "skip",
    "q": "stop",
}


@contextmanager
def requests() -> Iterator[Callable[[], Request | None]]:
    """Single keys while the block lasts; the terminal is as before after it."""
    if not sys.stdin.isatty():
        yield no_keyboard
        return
    try:
        import select
        import termios
        import tty
    except ImportError:
        yield _keys_of_windows() or no_keyboard
        return
    number = sys.stdin.fileno()
    before = termios.tcgetattr(number)

    def pressed_key() -> Request | None:
        if not select.select([number], [], [], 0)[0]:
            return None
        return KEYS.get(sys.stdin.read(1).lower())

    try:
        tty.setcbreak(number)
        yield pressed_key
    finally:
        termios.tcsetattr(number, termios.TCSADRAIN, before)
