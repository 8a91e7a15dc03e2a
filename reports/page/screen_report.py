"""The screen for the report that goes with the guitar.

Task: write it, say where it lies, and show it as it was written, as found and after the work. Signs, units:
none.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from html import escape
from pathlib import Path

from nicegui import ui

from capture.bench_log import LOG_FILE
from capture.job_models import JOB_FILE
from reports.html_parts import answer
from reports.page import page_words as words
from reports.page.tray_list import heading
from reports.page.view import View
from reports.report_files import PAGE
from reports.writing import written

LOOK_EVERY_S = 1.0
ADDRESS = "/report/{stage}?at={at}"
"""Another address whenever it was written anew, so that no browser shows an old one."""


@dataclass(frozen=True)
class WrittenReport:
    """A report on the disk; ``old``: the job was changed since."""

    stage: str
    path: Path
    at_ns: int
    old: bool

    @property
    def address(self) -> str:
        """Where the page finds it."""
        return ADDRESS.format(stage=self.stage, at=self.at_ns)

    @property
    def at(self) -> str:
        """When it was written, on this machine's clock."""
        return datetime.fromtimestamp(self.at_ns / 1e9).astimezone().strftime("%Y-%m-%d %H:%M")


def report_screen(view: View) -> None:
    """Build the screen."""
    room = view.room
    drawn: list[object] = [None, None]

    async def write() -> None:
        home = room.home
        button.disable()
        doing.set_text(words.WRITING)
        try:
            judged = await view.slowly(room.judge, since=room.board.since)
            page = await view.slowly(written, home, judged)
        finally:
            button.enable()
            doing.set_text("")
        view.say(words.REPORT_WRITTEN.format(path=page), good=True)
        await look()

    async def look() -> None:
        verdict = room.board.moment.verdict
        if drawn[0] is not verdict or verdict is None:
            drawn[0] = verdict
            short.set_content("" if verdict is None else await view.slowly(answer, verdict))
        found = reports_in(room.path)
        if drawn[1] != (room.path, found):
            drawn[1] = (room.path, found)
            shown.clear()
            with shown:
                _show(found)

    with ui.element("div").classes("sheet"):
        heading(words.SCREENS["report"])
        ui.label(words.REPORT_HELP)
        short = ui.html(sanitize=False).classes("wiring")
        with ui.element("div").classes("actions"):
            button = ui.button(words.WRITE_REPORT, on_click=view.act(write), color=None).props("no-caps")
            button.classes("primary")
            doing = ui.label().props('role="status"')
        shown = ui.element("div")
    ui.timer(LOOK_EVERY_S, look)


def reports_in(folder: Path | None) -> tuple[WrittenReport, ...]:
    """Return the reports that were written of a job, the one after the work first."""
    if folder is None:
        return ()
    changed = max((_time_ns(folder / name) for name in (JOB_FILE, LOG_FILE)), default=0)
    pages = ((stage, folder / "report" / PAGE.format(stage)) for stage in ("after", "found"))
    return tuple(
        WrittenReport(stage, path, at, old=at < changed) for stage, path in pages if (at := _time_ns(path))
    )


def _show(found: tuple[WrittenReport, ...]) -> None:
    if not found:
        ui.label(words.REPORT_NONE)
    for place, one in enumerate(found):
        title = words.REPORT_HEADS[one.stage]
        heading(title)
        ui.label(words.REPORT_LIES.format(path=one.path, at=one.at))
        if one.old and place == 0:
            ui.label(words.REPORT_OLD).classes("loud")
        ui.link(words.REPORT_PRINT, one.address, new_tab=True).classes("print").props(
            f'aria-label="{escape(words.REPORT_PRINT)}: {escape(title)}"'
        )
        frame = ui.element("iframe").classes("report")
        frame.props["title"] = words.REPORT_FRAME.format(stage=title)
        frame.props["src"] = one.address


def _time_ns(path: Path) -> int:
    """When a file was changed last; 0 where there is none."""
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0
