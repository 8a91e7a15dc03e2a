"""The screen for the job: what is on the bench, another one that is there, and a new one.

Task: what `coilwise new` and `coilwise list` do. Units: millimetres. Signs: none. job.toml of the open job is
looked at once a second; when it was edited, the job is judged anew.
"""

from __future__ import annotations

from html import escape
from pathlib import Path

from nicegui import ui

from capture.errors import JobError
from capture.job import Job
from capture.job_models import JOB_FILE
from dsp.errors import CoilwiseError
from reports.listing import PICKUP_HEADS, SETTING_HEADS, pickup_cells, setting_cells
from reports.page import page_words as words
from reports.page.fields import button as plain_button
from reports.page.fields import text_field, typed
from reports.page.job_form import JobForm
from reports.page.job_said import begin_job, typed_place
from reports.page.jobs_there import JobThere, jobs_there, stamps_in
from reports.page.stamp import JobStamp, stamp_of
from reports.page.table_view import table_html
from reports.page.tray_list import heading
from reports.page.view import View
from reports.words import plain

LOOK_EVERY_S, LIST_EVERY_S = 1.0, 5.0
MOST_LISTED = 12


def job_screen(view: View) -> None:
    """Build the screen."""
    JobScreen(view)


class JobScreen:
    """The parts that change, and what they were drawn from."""

    def __init__(self, view: View) -> None:
        self._view, self._room = view, view.room
        self._stamp: JobStamp | None = None
        self._listed: object = None
        self._all = False
        with ui.element("div").classes("sheet job-screen"):
            self._open_job = ui.html(sanitize=False)
            self._wrong = ui.label().classes("loud").props('role="status"')
            heading(words.OPEN_HEAD)
            self._list = ui.element("div")
            with ui.element("div").classes("form"):
                self._elsewhere = text_field(words.ELSEWHERE_FIELD, words.ELSEWHERE_HELP)
                with ui.element("div"):
                    plain_button(words.OPEN, view.act(self._open_typed))
            heading(words.BEGIN_HEAD)
            ui.label(words.BEGIN_HELP)
            self._form_place = ui.element("div")
            self._new_form()
        ui.timer(LOOK_EVERY_S, self._look)
        ui.timer(LIST_EVERY_S, self._look_at_list)

    def _new_form(self) -> None:
        self._form_place.clear()
        with self._form_place:
            self._form = JobForm(place=self._room.place, begin=self._view.act(self._begin))

    async def _begin(self) -> None:
        path = await self._view.slowly(begin_job, self._form.said(), under=self._room.place)
        await self._view.slowly(self._room.open, path)
        made = self._room.job()
        names = ", ".join(p.name for p in made.pickups)
        self._view.say(words.BEGUN.format(path=path.resolve(), pickups=names), good=True)
        self._new_form()
        await self._opened()

    async def _open(self, path: Path) -> None:
        await self._view.slowly(self._room.open, path)
        self._view.say(words.OPENED.format(title=self._room.job().title), good=True)
        await self._opened()

    async def _open_typed(self) -> None:
        said = typed(self._elsewhere)
        if not said:
            raise JobError(words.NO_FOLDER_NAMED)
        await self._open(typed_place(said, under=self._room.place))
        self._elsewhere.set_value("")

    async def _opened(self) -> None:
        self._stamp = stamp_of(self._room.path)
        self._draw_open()
        await self._look_at_list()
        await self._view.slowly(self._room.judge)

    async def _look(self) -> None:
        """Draw the open job anew where its job.toml is another one, and have it judged."""
        stamp, before = stamp_of(self._room.path), self._stamp
        if before is not None and (stamp.path, stamp.job) == (before.path, before.job):
            return
        self._stamp = stamp
        if not self._draw_open() or before is None or before.path != stamp.path:
            return
        if self._room.seat.sitting == self._view.page and not self._room.recording.running:
            try:
                await self._view.slowly(self._room.judge, since=self._room.board.since)
            except (CoilwiseError, OSError) as error:  # the log names what the new job.toml has no more
                self._wrong.set_text(words.REFUSED_FILE.format(why=plain(str(error))))

    def _draw_open(self) -> bool:
        """Draw the open job; where job.toml is refused, say why, and leave what was drawn."""
        try:
            job = None if self._room.path is None else self._room.job()
        except (CoilwiseError, OSError) as error:
            self._wrong.set_text(words.REFUSED_FILE.format(why=plain(str(error))))
            return False
        self._wrong.set_text("")
        self._open_job.set_content(open_html(job, self._room.path))
        return True

    async def _look_at_list(self) -> None:
        stamps = await self._view.slowly(stamps_in, self._room.place)
        wanted = (stamps, self._room.path, self._all)
        if wanted == self._listed:
            return
        shown = stamps if self._all else stamps[:MOST_LISTED]
        found = await self._view.slowly(jobs_there, shown)
        self._listed = wanted
        self._list.clear()
        with self._list:
            if not found:
                ui.label(words.NO_JOBS.format(place=self._room.place.resolve()))
                return
            self._table(found)
            if len(shown) < len(stamps):
                plain_button(words.SHOW_ALL.format(count=len(stamps)), self._show_all)

    def _table(self, found: tuple[JobThere, ...]) -> None:
        with ui.element("table"):
            heads = "".join(f'<th scope="col">{h}</th>' if h else "<td></td>" for h in words.OPEN_HEADS)
            ui.html(f"<tr>{heads}</tr>", sanitize=False, tag="thead")
            with ui.element("tbody"):
                for one in found:
                    self._row(one)

    def _row(self, one: JobThere) -> None:
        async def open_it() -> None:
            await self._open(one.path)

        with ui.element("tr"):
            ui.html(escape(plain(one.title)), sanitize=False, tag="th").props('scope="row"')
            for cell in (one.path.name, one.at):
                ui.html(escape(plain(cell)), sanitize=False, tag="td")
            with ui.element("td"):
                if self._is_open(one.path):
                    ui.label(words.OPEN_NOW)
                    return
                button = plain_button(words.OPEN, self._view.act(open_it))
                button.props["aria-label"] = words.OPEN_IT.format(title=plain(one.title))

    def _is_open(self, path: Path) -> bool:
        return self._room.path is not None and self._room.path.resolve() == path.resolve()

    async def _show_all(self) -> None:
        self._all = True
        await self._look_at_list()


def open_html(job: Job | None, path: Path | None) -> str:
    """Return what is on the bench, and where it is written."""
    if job is None or path is None:
        return f"<h2>{words.NO_TITLE}</h2><p>{words.JOB_NONE}</p>"
    home = path.resolve()
    settings = (
        table_html(words.SETTINGS_HEAD, SETTING_HEADS, setting_cells(job))
        if job.settings
        else f"<p>{words.NO_SETTINGS}</p>"
    )
    return "".join(
        (
            f"<h2>{escape(words.JOB_OPEN_HEAD.format(title=plain(job.title)))}</h2>",
            f"<p>{escape(words.JOB_LIES.format(path=plain(str(home))))}</p>",
            table_html(words.PICKUPS_HEAD, PICKUP_HEADS, pickup_cells(job)),
            settings,
            f"<p>{escape(words.JOB_EDIT.format(path=plain(str(home / JOB_FILE))))}</p>",
        )
    )
