"""The screen for the wiring, and the screen for the report that goes with the guitar.

Both are drawn anew only when the verdict is another one. The wiring shows the parts of the report that are
about leads; the report is written on request and shown as it was written, as found and after the work.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from html import escape
from pathlib import Path

from nicegui import ui

from capture import JOB_FILE, LOG_FILE
from capture.job import Job
from dsp import CoilwiseError
from reports.messages import page as words
from reports.messages import play as play_words
from reports.messages.cautions import JUDGEMENT
from reports.messages.wording import SECTIONS
from reports.model.verdict import Verdict
from reports.page.widgets.view import View, button, heading
from reports.render.circuit_drawing import built_figures
from reports.render.lead_drawing import lead_pictures
from reports.render.parts import PAGE, REPORT, answer, fragments
from reports.verdict.building import Judgement

REFRESH_S = 1.0


def wiring_screen(view: View) -> None:
    """Build the screen."""
    controller = view.controller
    drawn: list[object] = [None, None]
    with ui.element("div").classes("sheet wiring"):
        told = ui.label(words.WIRING_NOT_YET).props('role="status"')
        parts = ui.html(sanitize=False)
        with ui.element("div").classes("actions"):
            onward = button(play_words.SEE_REPORT, lambda: view.go_to("report")).classes("primary")

    async def refresh() -> None:
        verdict = controller.live.now.verdict
        if verdict is not None and drawn == [controller.path, verdict]:
            return
        drawn[:] = [controller.path, verdict]
        told.set_text(
            words.NO_JOB if controller.path is None else words.WIRING_NOT_YET if verdict is None else ""
        )
        told.set_visibility(verdict is None)
        onward.set_visibility(verdict is not None)
        if verdict is None:
            parts.set_content("")
            return
        try:
            with controller.naming_commands():
                parts.set_content(await view.in_thread(wiring_html, controller.job(), verdict))
        except (CoilwiseError, OSError):  # job.toml is being edited: as it was, until it can be read
            drawn[:] = [None, None]

    ui.timer(REFRESH_S, refresh)


def wiring_html(job: Job, verdict: Verdict) -> str:
    """Return the parts with the cautions that go with the work."""
    listed = "".join(f"<li>{escape(caution)}</li>" for caution in verdict.cautions or (JUDGEMENT,))
    cautions = f'<section class="cautions"><h2>{SECTIONS["cautions"]}</h2><ul>{listed}</ul></section>'
    return fragments(verdict, leads=lead_pictures(job, verdict), built=built_figures(job)) + cautions


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
    controller = view.controller
    drawn: list[object] = [None, None]

    async def write() -> None:
        home = controller.open_path
        writes.disable()
        doing.set_text(words.WRITING)
        try:
            judged = await view.in_thread(controller.judge, since=controller.live.now.latest)
            page = await view.in_thread(_written, home, judged)
        finally:
            writes.enable()
            doing.set_text("")
        view.say(words.REPORT_WRITTEN.format(path=page), good=True)
        await refresh()

    async def refresh() -> None:
        verdict = controller.live.now.verdict
        if drawn[0] is not verdict or verdict is None:
            drawn[0] = verdict
            with controller.naming_commands():
                short.set_content("" if verdict is None else await view.in_thread(answer, verdict))
        found = reports_in(controller.path)
        if drawn[1] != (controller.path, found):
            drawn[1] = (controller.path, found)
            shown.clear()
            with shown:
                _show(found)

    with ui.element("div").classes("sheet"):
        heading(words.SCREENS["report"])
        ui.label(words.REPORT_HELP)
        short = ui.html(sanitize=False).classes("wiring")
        with ui.element("div").classes("actions"):
            writes = button(words.WRITE_REPORT, view.act(write)).classes("primary")
            doing = ui.label().props('role="status"')
        shown = ui.element("div")
    ui.timer(REFRESH_S, refresh)


def reports_in(folder: Path | None) -> tuple[WrittenReport, ...]:
    """Return the reports that were written of a job, the one after the work first."""
    if folder is None:
        return ()
    changed = max((_time_ns(folder / name) for name in (JOB_FILE, LOG_FILE)), default=0)
    pages = ((stage, folder / REPORT / PAGE.format(stage)) for stage in ("after", "found"))
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
        frame.props["sandbox"] = ""  # it is a file from the job's folder, which may come from anywhere
        frame.props["src"] = one.address


def _time_ns(path: Path) -> int:
    """When a file was changed last; 0 where there is none."""
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0


def _written(home: Path, judged: Judgement) -> Path:
    """Write a report and return its page; not on the server's own thread, since drawing loads here."""
    from reports.render.report import write_judgement

    return write_judgement(home, judged)
