"""Where a recording is cut: the drawing and the list of onsets, each with a box to leave it out.

Task: show cuts, cut anew when a box is ticked, and hand out what is shown to be brought in. Units: seconds.
Signs: none. Whatever takes longer is done off the page's thread.
"""

from __future__ import annotations

from asyncio import Lock
from collections.abc import Sequence
from pathlib import Path

from nicegui import ui
from nicegui.events import GenericEventArguments

from capture.cutting import Played
from capture.errors import LogError
from reports.cuts_rows import cuts_picture
from reports.html_parts import inline
from reports.page import page_words as words
from reports.page.bring_in import Cuts, Listened, Said, cut_up
from reports.page.bring_view import TICK_JS, cuts_html
from reports.page.dropped import Dropped
from reports.page.tray_list import heading
from reports.page.view import Handler, View
from reports.words import plain

FOCUS_JS = "setTimeout(() => document.querySelector('.tick[data-onset=\"{number}\"] input')?.focus(), 50)"
"""The box that was ticked is another one in the table that came back."""
WhatFor = tuple[Path, Said, str, tuple[Dropped, ...]]
"""The job, what is said, the order and the files that cuts are shown for."""


class CutsPlace:
    """The cuts that are shown; ``lock`` is held while they are made or brought in."""

    def __init__(self, view: View, *, bring: Handler) -> None:
        self._view, self.lock = view, Lock()
        self.listened: Listened | None = None
        self._cuts: Cuts | None = None
        self._played: tuple[Played, ...] = ()
        self._left_out: frozenset[int] = frozenset()
        self._shown_for: WhatFor | None = None
        self._wanted = False
        with ui.element("section") as self._section:
            heading(words.CUTS_HEAD)
            ui.label(words.CUTS_HELP)
            self._picture = ui.html(sanitize=False).classes("cuts")
            ticked = view.act(self._ticked)
            self._table = ui.html(sanitize=False).on("click", ticked, js_handler=TICK_JS)
            self._count = ui.label().classes("count").props('role="status"')
            with ui.element("div").classes("actions"):
                self._bring = ui.button(words.BRING_IN, on_click=bring, color=None).props("no-caps")
                self._bring.classes("primary")
        self._see()

    def want(self, wanted: bool) -> None:
        """Show it, once there is something to show."""
        self._wanted = wanted
        self._see()

    async def show(self, listened: Listened, played: Sequence[Played], *, shown_for: WhatFor) -> None:
        """Show what was listened to; the boxes stay as they are while it is the same."""
        if listened is not self.listened:
            self._left_out = frozenset()
        self.listened, self._played, self._shown_for = listened, tuple(played), shown_for
        await self._draw()

    def forget(self) -> None:
        """Nothing is shown any more."""
        self.listened = self._cuts = self._shown_for = None
        self._left_out = frozenset()
        self._see()

    def ready(self, what_for: WhatFor) -> Cuts:
        """Return the cuts to be brought in.

        Raises
        ------
        LogError
            None are shown, or something else is said than they were made for.

        """
        if self._cuts is None or not self._cuts.cuts:
            raise LogError(words.NO_CUTS_YET)
        if self._shown_for != what_for:
            raise LogError(words.FORM_CHANGED)
        return self._cuts

    async def _ticked(self, event: GenericEventArguments) -> None:
        number = int(event.args)
        self._left_out ^= {number}
        await self._draw(ticked=number)

    async def _draw(self, *, ticked: int | None = None) -> None:
        """The table at once, the drawing when it is there; of several ticks in a row the last is drawn."""
        async with self.lock:
            listened, left_out, shown_for = self.listened, self._left_out, self._shown_for
            if listened is None or shown_for is None:
                return
            slowly, saying = self._view.slowly, shown_for[1].saying()
            cuts = await slowly(cut_up, listened, self._played, saying, left_out=left_out)
            self._cuts = cuts
            self._table.set_content(await slowly(cuts_html, cuts))
            if ticked is not None:
                self._view.client.run_javascript(FOCUS_JS.format(number=ticked))
            self._count.set_text(plain(cuts.refusal) or words.WILL_BE.format(count=len(cuts.cuts)))
            self._bring.set_enabled(not cuts.refusal)
            self._see()
            if left_out == self._left_out and cuts.onsets:
                self._picture.set_content(await slowly(_drawn, cuts))

    def _see(self) -> None:
        self._section.set_visibility(self._wanted and self._cuts is not None)


def _drawn(cuts: Cuts) -> str:
    return str(inline(cuts_picture(cuts.onsets, cuts.cuts)))
