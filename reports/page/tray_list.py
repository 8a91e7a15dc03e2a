"""The files on the tray as a table, each to be put earlier or removed.

Task: draw the table, anew only where the files changed. Units: seconds. Signs: none.
"""

from __future__ import annotations

from html import escape
from typing import Any

from nicegui import ui

from reports.page import page_words as words
from reports.page.dropped import Dropped
from reports.page.uploads import Tray
from reports.page.view import View
from reports.words import plain


class TrayList:
    """The table; `look` draws it where it is out of date."""

    def __init__(self, view: View, tray: Tray) -> None:
        self._view, self._tray = view, tray
        self._drawn: tuple[Dropped, ...] | None = None
        self._place = ui.element("div")

    def look(self) -> None:
        """Draw it where the files are others than those drawn."""
        if self._drawn is self._tray.files:
            return
        self._drawn = self._tray.files
        self._place.clear()
        with self._place:
            if not self._drawn:
                ui.label(words.NO_FILES)
                return
            heading(words.FILES_HEAD, tag="h3")
            with ui.element("table"):
                heads = "".join(f'<th scope="col">{h}</th>' for h in words.FILE_HEADS)
                ui.html(f"<tr>{heads}</tr>", sanitize=False, tag="thead")
                with ui.element("tbody"):
                    for place, one in enumerate(self._drawn):
                        self._row(one, first=place == 0)

    def _row(self, one: Dropped, *, first: bool) -> None:
        act = self._view.act
        shown = plain(words.FILE_CUT_OFF.format(name=one.name) if one.cut_off else one.name)
        with ui.element("tr"):
            ui.html(escape(shown), sanitize=False, tag="th").props('scope="row"')
            for cell in (f"{one.seconds:.1f}", str(one.channels)):
                ui.html(cell, sanitize=False, tag="td")
            with ui.element("td"), ui.element("div").classes("hands"):
                if not first:
                    _button(words.EARLIER, words.EARLIER_THAN, one, act(lambda: self._earlier(one)))
                _button(words.REMOVE, words.REMOVE_THAT, one, act(lambda: self._remove(one)))

    def _earlier(self, one: Dropped) -> None:
        self._tray.earlier(one)
        self.look()

    def _remove(self, one: Dropped) -> None:
        self._tray.remove(one)
        self.look()


def heading(text: str, *, tag: str = "h2") -> None:
    """Put a heading here."""
    ui.html(escape(text), sanitize=False, tag=tag)


def _button(text: str, told: str, one: Dropped, handler: Any) -> None:
    button = ui.button(text, on_click=handler, color=None).props("no-caps")
    button.props["aria-label"] = told.format(name=plain(one.name))
