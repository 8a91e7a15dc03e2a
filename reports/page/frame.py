"""The page around the screens: title, screens to choose from, who acts, and what is said.

Task: build one open page. Units, signs: none.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from nicegui import ui
from nicegui.events import KeyEventArguments

from dsp.errors import CoilwiseError
from reports.page import page_words as words
from reports.page.room import Room
from reports.page.screen_play import PlayScreen
from reports.page.screens import SCREENS
from reports.page.unfinished_bar import UnfinishedBar
from reports.page.view import View
from reports.words import plain

HERE = Path(__file__).parent
ACCENT = "#1b4d89"
Screen = Callable[[View], object]
NAMES = {key: name for name, key in words.KEYS.items()}


def build(room: Room) -> None:
    """Build the page for one browser."""
    ui.add_head_html(f"<style>{(HERE / 'page.css').read_text(encoding='utf-8')}</style>")
    ui.add_head_html(f"<script>{(HERE / 'page.js').read_text(encoding='utf-8')}</script>")
    ui.colors(primary=ACCENT)
    view = View(room)
    room.seat.came(view.page)
    view.client.on_disconnect(lambda: room.seat.left(view.page))
    view.client.on_connect(lambda: room.seat.came(view.page))
    with ui.element("header").classes("top"):
        ui.label(words.TITLE).classes("name")
        title = ui.label().classes("job")
        seat = ui.label().classes("seat").props('role="status"')
        take_over = ui.button(
            words.TAKE_OVER, on_click=lambda: room.seat.take_over(view.page), color=None
        ).props("no-caps")
    first = "play" if room.path is not None else "job"
    with ui.tabs().props("no-caps inline-label").classes("screens") as tabs:
        for key, name in words.SCREENS.items():
            ui.tab(key, label=name)
    tabs.set_value(first)
    tabs.on_value_change(view.silent)
    view.notices()
    UnfinishedBar(view)
    play: PlayScreen | None = None
    with ui.tab_panels(tabs, value=first, animated=False, keep_alive=True).classes("screen"):
        for key in words.SCREENS:
            with ui.tab_panel(key):
                if key == "play":
                    play = PlayScreen(view)
                else:
                    SCREENS.get(key, _not_there_yet)(view)

    def pressed(event: KeyEventArguments) -> None:
        wanted = NAMES.get(str(event.key).lower())
        plainly = not (event.modifiers.ctrl or event.modifiers.alt or event.modifiers.meta)
        once = bool(event.action.keydown) and not event.action.repeat
        if play is not None and wanted and once and plainly and tabs.value == "play" and view.may_act():
            play.key(wanted)

    ui.keyboard(on_key=pressed, ignore=["input", "select", "textarea"])

    def who() -> None:
        title.set_text(_title(room))
        mine = room.seat.sitting == view.page
        nobody = room.seat.sitting is None
        seat.set_text(words.YOU_ACT if mine else words.NOBODY_ACTS if nobody else words.ANOTHER_ACTS)
        take_over.set_visibility(not mine)

    ui.timer(1.0, who)


def _not_there_yet(view: View) -> None:
    view.silent()


def _title(room: Room) -> str:
    """The job's title; its folder's name where job.toml cannot be read just now."""
    if room.path is None:
        return words.NO_TITLE
    try:
        return plain(room.job().title or room.path.name)
    except (CoilwiseError, OSError):
        return plain(room.path.name)
