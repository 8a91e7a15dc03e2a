"""The screen before anything is recorded: how to record, what nobody can hear, and the set-up check.

Task: what `coilwise setup` and the options of `coilwise record` do. Units, signs: none.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from nicegui import ui

from reports.page import page_words as words
from reports.page.check_place import CheckPlace
from reports.page.tray_list import heading
from reports.page.view import View
from reports.page.wanted_form import WantedForm
from reports.questions import BEFORE
from reports.setup_words import BEFORE_PLUGGING_IN

LOOK_EVERY_S = 1.0


def setup_screen(view: View) -> None:
    """Build the screen."""
    with ui.element("div").classes("sheet setup") as sheet, ui.element("div").classes("columns"):
        with ui.element("div"):
            _listed(words.CAUTIONS, BEFORE_PLUGGING_IN, kind="cautions")
            _listed(words.LOOK_HEAD, BEFORE, kind="ask")
            with ui.element("section"):
                heading(words.WANTED_HEAD)
                form = WantedForm(view)
        CheckPlace(view)
    looked: list[bool] = []

    async def first_opening() -> None:
        if not looked:
            looked.append(True)
            await form.look()

    sheet.on("vnodeMounted", first_opening, args=[])
    ui.timer(LOOK_EVERY_S, form.show)


def _listed(head: str, lines: Sequence[str], *, kind: str) -> None:
    with ui.element("section").classes(kind):
        heading(head)
        items = "".join(f"<li>{escape(line)}</li>" for line in lines)
        ui.html(f"<ul>{items}</ul>", sanitize=False)
