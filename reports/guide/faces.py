"""A guided session in plain lines, one for each thing that happens.

Task: what is to be done, heard, accepted and believed, as it comes; reports.guide.screen_face draws the same.
Levels are not written.
"""

from __future__ import annotations

from collections.abc import Callable

from capture.hands_free import Caught, Notice, Wish
from reports.guide import guide_words as words
from reports.guide.steps import Step
from reports.heard import HeardTake
from reports.verdict import Verdict

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

    def taken(self, caught: Caught, heard: HeardTake) -> None:
        """Nothing: the word on it is enough."""

    def word(self, text: str, *, good: bool | None = None) -> None:
        """Say it, with a mark where a take was judged."""
        self._echo(f"{MARKS[good]}{text}")

    def belief(self, verdict: Verdict) -> None:
        """One line for each pair of which something new is believed."""
        lines = tuple(words.pair_line(p) for p in verdict.pairs)
        for line in lines:
            if line not in self._believed:
                self._echo(f"  {line}")
        self._believed = lines

    def asked(self) -> Wish | None:
        """Return what the person wants."""
        return self._asked()
