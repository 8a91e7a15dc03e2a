"""A guided session as a picture of the moment on a terminal.

Task: `ScreenFace` shows what to do in large letters, the level of each input, and what is believed; what was
judged stays above it as lines. Units: dB re full scale. No mark depends on colour alone.
"""

from __future__ import annotations

from collections.abc import Callable

from rich.console import Console, Group
from rich.live import Live
from rich.text import Text

from capture.hands_free import Caught, Notice, Wish
from reports.guide import guide_words as words
from reports.guide.big_letters import big
from reports.guide.faces import MARKS, SAYS, nobody
from reports.guide.steps import Step
from reports.heard import HeardTake
from reports.setup_sheet import level_bar
from reports.verdict import Verdict


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

    def taken(self, caught: Caught, heard: HeardTake) -> None:
        """Nothing: the word on it is enough."""

    def word(self, text: str, *, good: bool | None = None) -> None:
        """Keep it as a line above the picture."""
        self._live.console.print(Text(f"{MARKS[good]}{text}"))

    def belief(self, verdict: Verdict) -> None:
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
