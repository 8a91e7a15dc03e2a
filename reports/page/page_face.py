"""A guided session on the page: what the session says, put on the board.

Task: a `reports.guide.session.Face` whose eyes are the browsers and whose ears are their buttons and keys.
Shapes, units, signs: as in reports.page.board.
"""

from __future__ import annotations

from capture.hands_free import Caught, Notice, Wish
from reports.guide import guide_words as words
from reports.guide.faces import SAYS
from reports.guide.steps import Step
from reports.heard import HeardTake
from reports.page.board import Board, LastTake
from reports.verdict import Verdict
from reports.words import on_words


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

    def taken(self, caught: Caught, heard: HeardTake) -> None:
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

    def belief(self, verdict: Verdict) -> None:
        """Show what is believed now, and since which take."""
        self._board.believe(verdict, since=self._since)

    def asked(self) -> Wish | None:
        """Return what somebody at the page wants."""
        return self._board.asked()
