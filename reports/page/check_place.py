"""The set-up check on the page: what to do in large type, how loud each input is, and what was heard.

Task: begin the check, and show how it stands and how it ended, in every browser alike. Units: dB re full
scale. Signs: none. The recording's thread only stores what was heard; the page's timer shows it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from weakref import WeakKeyDictionary

from nicegui import ui

from capture.errors import RecordingError
from capture.setup_listening import PLUCK_S, SetupHearing
from capture.sound import choose_input
from reports.page import page_words as words
from reports.page.board import Moment
from reports.page.level_bars import LevelBars
from reports.page.room import Room
from reports.page.tray_list import heading
from reports.page.view import View
from reports.setup_sheet import setup_lines
from reports.words import plain

LOOK_EVERY_S = 0.1
INTO_VIEW = 'getHtmlElement({id}).scrollIntoView({{block: "nearest"}})'
"""Who began it below the end of the window sees what to do and the bars."""


@dataclass
class LastCheck:
    """The last check of a server: whether it goes on, what was heard, or why nothing was."""

    goes_on: bool = False
    hearing: SetupHearing | None = None
    failed: tuple[str, ...] = ()

    def begin(self) -> None:
        """One begins; what was heard before is about another moment."""
        self.goes_on, self.hearing, self.failed = True, None, ()

    def told(self, hearing: SetupHearing) -> None:
        """It was heard to its end; called from the recording's thread."""
        self.goes_on, self.hearing = False, hearing

    def look(self, moment: Moment, *, running: bool) -> None:
        """See whether it ended otherwise, or never began because a session did first."""
        if self.goes_on and not running:
            self.goes_on = False
            self.failed = moment.ended if moment.phase == "failed" else ()


_CHECKS: WeakKeyDictionary[Room, LastCheck] = WeakKeyDictionary()


def last_check(room: Room) -> LastCheck:
    """Return the last check of a server's room."""
    return _CHECKS.setdefault(room, LastCheck())


class CheckPlace:
    """The button, the bars and the findings."""

    def __init__(self, view: View) -> None:
        self._view, self._room, self._check = view, view.room, last_check(view.room)
        self._drawn: object = None
        self._levels: tuple[float, ...] = ()
        self._mine = False
        with ui.element("section").classes("check") as self._section:
            heading(words.CHECK_HEAD)
            ui.label(words.CHECK_HELP)
            with ui.element("div").classes("actions"):
                self._button = ui.button(words.CHECK, on_click=view.act(self._begin), color=None)
                self._button.props("no-caps").classes("primary")
            self._doing = ui.label().classes("moment").props('role="status" aria-live="assertive"')
            self._bars = LevelBars(view)
            self._found = ui.html(sanitize=False).classes("found").props('role="status"')
        ui.timer(LOOK_EVERY_S, self._look)

    async def _begin(self) -> None:
        home = self._room.home
        if self._room.recording.running:
            raise RecordingError(words.CHECK_GOES_ON if self._check.goes_on else words.CHECK_RUNS)
        await self._view.slowly(choose_input, self._room.wanted.source)  # refused before anything begins
        self._view.silent()
        self._check.begin()
        self._mine = True
        self._room.recording.check(home, self._room.wanted, pluck_s=PLUCK_S, told=self._check.told)

    def _look(self) -> None:
        moment = self._room.board.moment
        self._check.look(moment, running=self._room.recording.running)
        going_on = self._check.goes_on
        self._doing.set_text(plain(moment.doing) if going_on else "")
        levels = self._room.board.levels if going_on else ()
        if levels != self._levels:
            begins, self._levels = not self._levels, levels
            self._bars.show([words.ON_INPUT.format(number=k + 1) for k in range(len(levels))], levels)
            if begins and self._mine:
                self._view.client.run_javascript(INTO_VIEW.format(id=self._section.id))
        now = (going_on, self._check.hearing, self._check.failed)
        if now != self._drawn:
            self._drawn = now
            self._mine = self._mine and going_on
            self._button.set_enabled(not going_on)
            self._found.set_content("" if going_on else found_html(self._check))


def found_html(check: LastCheck) -> str:
    """Return what the last check found, and what comes next."""
    if check.failed:
        return "".join(f'<p class="loud">{escape(plain(line))}</p>' for line in check.failed)
    if check.hearing is None:
        return f"<p>{words.CHECK_FIRST}</p>"
    lines = setup_lines(check.hearing)
    wrong, levels = lines[: -check.hearing.channels], lines[-check.hearing.channels :]
    then = words.CHECK_THEN_PLAY if check.hearing.clear else words.CHECK_AGAIN
    return (
        f"<h3>{words.FOUND_HEAD}</h3>{_list(wrong, 'heard')}<p><strong>{then}</strong></p>"
        f"<h3>{words.INPUT_LEVELS_HEAD}</h3>{_list(levels, 'figures')}"
    )


def _list(lines: Sequence[str], kind: str) -> str:
    items = "".join(f"<li>{escape(plain(line))}</li>" for line in lines)
    return f'<ul class="{kind}">{items}</ul>'
