"""What a crash left is offered on the page, as it is in the terminal.

Task: one line for each recording that was not finished, to be taken in or set aside; nothing is deleted.
"""

from __future__ import annotations

from nicegui import ui

from capture.recorder import Unfinished, set_aside, take_in, unfinished
from dsp.errors import CoilwiseError
from reports.guide.guide_words import TAKEN_IN, WAS_SET_ASIDE
from reports.guide.opening import planned_words
from reports.page import page_words as words
from reports.page.view import View
from reports.words import plain

LOOK_EVERY_S = 2.0


class UnfinishedBar:
    """The lines; looked for anew while nothing is being recorded."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._shown: tuple[str, ...] = ()
        self._bar = ui.element("div").classes("unfinished")
        self._look()
        ui.timer(LOOK_EVERY_S, self._look)

    def _look(self) -> None:
        room = self._view.room
        if room.path is None or room.recording.running:
            left: tuple[Unfinished, ...] = ()
        else:
            try:
                left = unfinished(room.path)
            except CoilwiseError:  # job.toml is refused just now; the screen Job says so
                left = ()
        names = tuple(str(one.path) for one in left)
        if names == self._shown:
            return
        self._shown = names
        self._bar.clear()
        with self._bar:
            for one in left:
                self._offer(one)

    def _offer(self, one: Unfinished) -> None:
        act = self._view.act
        with ui.element("p").classes("notice told").props('role="status"'):
            ui.label(words.UNFINISHED.format(seconds=one.seconds, planned=plain(planned_words(one))))
            ui.button(words.TAKE_IN, on_click=act(lambda: self._in(one)), color=None).props("no-caps")
            ui.button(words.SET_ASIDE, on_click=act(lambda: self._aside(one)), color=None).props("no-caps")

    async def _in(self, one: Unfinished) -> None:
        take = take_in(one)
        self._view.say(TAKEN_IN.format(id=take.entry.id), good=True)
        self._look()
        await self._view.slowly(self._view.room.judge, since=take.entry.id)

    def _aside(self, one: Unfinished) -> None:
        self._view.say(WAS_SET_ASIDE.format(path=set_aside(one).name), good=True)
        self._look()
