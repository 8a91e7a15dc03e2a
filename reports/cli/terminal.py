"""Large letters made of blocks, to be read from a metre away.

Task: a short text as lines of block characters. Shapes: every letter is five rows of five columns, one apart.
A text with a character that has no block letter is given back as it is, one line.

A guided session as a picture of the moment on a terminal.

Task: `ScreenFace` shows what to do in large letters, the level of each input, and what is believed; what was
judged stays above it as lines. Units: dB re full scale. No mark depends on colour alone.

The keys of a session: read without waiting, one at a time, where there is a keyboard.

`wishes()` gives a function that returns what was asked for since the last call. Where standard input is no
terminal, or the system has no way to read single keys, it never returns anything.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console, Group
from rich.live import Live
from rich.text import Text

from capture.takes.hands_free import Caught, Notice, Wish
from reports.evidence.results import TakeResult
from reports.messages import session as words
from reports.messages.setup import level_bar
from reports.model.session import Step
from reports.model.verdict import Verdict
from reports.session.session import MARKS, SAYS, nobody

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
    " ": "000 000 000 000 000",
}


def big(text: str, *, width: int) -> tuple[str, ...]:
    """The text in block letters, or as one plain line where it does not fit into ``width`` columns."""
    wanted = text.upper()
    if any(c not in _LETTERS for c in wanted):
        return (text,)
    each = [_LETTERS[c].split() for c in wanted]
    rows = [
        " ".join(letter[k].replace("1", _BLOCK).replace("0", " ") for letter in each) for k in range(ROWS)
    ]
    return tuple(row.rstrip() for row in rows) if max(map(len, rows), default=0) <= width else (text,)


class ScreenFace:
    """A picture of the moment on a terminal; what was judged stays above it as lines."""

    def __init__(self, console: Console, live: Live, asked: Callable[[], Wish | None] = nobody) -> None:
        self._console, self._live, self._asked = console, live, asked
        self._step: Step | None = None
        self._peaks: tuple[float, ...] = ()
        self._state, self._count = "", ""
        self._pairs: tuple[str, ...] = ()

    def step(self, step: Step, *, count: int, to_go: int | None) -> None:
        """Show what to do next."""
        self._step, self._count, self._state = step, words.count_words(count, to_go), ""
        self._draw()

    def notice(self, notice: Notice) -> None:
        """Show a level, or that something was heard."""
        if notice.what == "level":
            self._peaks = notice.peaks_db
        elif notice.what == "nothing heard":
            self._state = words.NOTHING_HEARD.format(how="")
        else:
            self._state = SAYS[notice.what]
        self._draw()

    def taken(self, caught: Caught, heard: TakeResult) -> None:
        """Nothing: the word on it is enough."""

    def word(self, text: str, *, good: bool | None = None) -> None:
        """Keep it as a line above the picture."""
        self._live.console.print(Text(f"{MARKS[good]}{text}"))

    def posterior(self, verdict: Verdict) -> None:
        """Show what is believed now."""
        self._pairs = tuple(words.pair_line(p) for p in verdict.pairs)
        self._draw()

    def asked(self) -> Wish | None:
        """Return what the person wants."""
        return self._asked()

    def _draw(self) -> None:
        self._live.update(self._picture(), refresh=True)

    def _picture(self) -> Group:
        if self._step is None:
            return Group(*(Text(line) for line in self._pairs))
        letters = big(words.big_words(self._step), width=self._console.width - 1)
        bars = [level_bar(f"input {c + 1}", p) for c, p in zip(self._step.columns, self._peaks, strict=False)]
        rows = [
            Text(""),
            *(Text(line, style="bold") for line in letters),
            Text(""),
            *(Text(line, style="bold") for line in words.where(self._step)),
            Text(words.how(self._step)),
            Text(self._state, style="bold reverse") if self._state else Text(""),
            *(Text(bar) for bar in bars),
            *(Text(f"  {line}") for line in self._pairs),
            Text(f"{self._count}. {words.KEYS}", style="dim"),
        ]
        return Group(*rows)


KEYS: dict[str, Wish] = {"v": "void", "s": "skip", "q": "stop"}


@contextmanager
def wishes() -> Iterator[Callable[[], Wish | None]]:
    """Single keys while the block lasts; the terminal is as before after it."""
    try:
        import select
        import termios
        import tty
    except ImportError:
        yield lambda: None
        return
    if not sys.stdin.isatty():
        yield lambda: None
        return
    number = sys.stdin.fileno()
    before = termios.tcgetattr(number)

    def pressed() -> Wish | None:
        if not select.select([number], [], [], 0)[0]:
            return None
        return KEYS.get(sys.stdin.read(1).lower())

    try:
        tty.setcbreak(number)
        yield pressed
    finally:
        termios.tcsetattr(number, termios.TCSADRAIN, before)
