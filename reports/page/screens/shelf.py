"""The part of the job's screen about the bench's reference coil, and about a row of pickups beside it.

It does what `coilwise shelf` and `coilwise batch` do: compares the open job's pickups with its coil, records
the lifts that they lack, writes the sheet of labels, brings what another job found, and begins a new row.
"""

from __future__ import annotations

from dataclasses import replace
from html import escape
from pathlib import Path

from nicegui import ui

from capture import JobError, RecordingError
from capture.disk.reading import require_own
from capture.job import Job
from capture.log import Check
from capture.takes.folder import JobFolder
from reports.entry.new_job import RowFields, create_row, typed_job_folder
from reports.messages import page as words
from reports.messages.wording import plain
from reports.page.widgets.view import View, button, choice_field, heading, text_field, text_of
from reports.render.labels import labels_of, sheet_says, write_labels
from reports.render.parts import REPORT, html_table
from reports.session.rows import row_recording
from reports.verdict.shelf import Batch, batch_of, relation_for

LABELS_ADDRESS = "/report/labels?at={at}"


class ShelfPart:
    """What changes with the open job: its pickups against the coil, and what may be done."""

    def __init__(self, view: View) -> None:
        self._view, self._controller = view, view.controller
        with ui.expansion(words.SHELF_HEAD).classes("more-form"):
            ui.label(words.SHELF_SAYS)
            self._place = ui.element("div")
            heading(words.ROW_HEAD, tag="h3")
            with ui.element("div").classes("form"):
                self._folder = text_field(
                    words.ROW_FOLDER_FIELD,
                    words.FOLDER_HELP.format(place=self._controller.jobs_folder.resolve()),
                )
                self._count = text_field(words.ROW_COUNT_FIELD, words.ROW_COUNT_HELP)
                self._coil = text_field(words.ROW_COIL_FIELD, words.ROW_COIL_HELP)
                self._coils = choice_field(words.COILS_FIELD, {1: "1", 2: "2"}, 1)
                self._hot = text_field(words.HOT_FIELD, words.LEAD_HELP)
                self._ground = text_field(words.GROUND_FIELD, words.LEAD_HELP)
            with ui.element("div").classes("actions"):
                button(words.BEGIN_ROW, view.act(self._begin))

    def show(self, job: Job | None) -> None:
        """Draw the part of the open job anew."""
        self._place.clear()
        coil = None if job is None else next((p for p in job.pickups if p.shelf is not None), None)
        with self._place:
            if job is None or coil is None:
                ui.label(words.SHELF_NONE)
                return
            self._table = ui.html(sanitize=False)
            with ui.element("div").classes("actions"):
                button(words.COMPARE, self._view.act(self._compare, looks=True)).classes("primary")
                button(words.WRITE_LABELS, self._view.act(self._write))
                self._link = ui.link(words.SHOW_LABELS, "", new_tab=True).classes("print")
                self._link.set_visibility(False)
            ui.label(words.ROW_IS_RECORDED)
            with ui.element("div").classes("form"):
                tool = self._controller.options.tool or ""
                self._tool = text_field(words.ROW_TOOL_FIELD, words.ROW_TOOL_HELP, value=tool)
            with ui.element("div").classes("actions"):
                button(words.RECORD_ROW, self._view.act(self._record))
            heading(words.FROM_ANOTHER, tag="h3")
            with ui.element("div").classes("form"):
                self._other = text_field(words.OTHER_JOB_FIELD, words.OTHER_JOB_HELP)
                names = {p.name: plain(p.name) for p in job.own_pickups}
                self._here = choice_field(words.HERE_FIELD, names, next(iter(names), None))
                self._called = text_field(words.CALLED_FIELD, words.CALLED_HELP)
            with ui.element("div").classes("actions"):
                button(words.COUNT_ON_IT, self._view.act(self._count_on))

    async def _compare(self) -> None:
        found = await self._view.in_thread(_batch, self._controller.open_path)
        self._table.set_content(batch_html(found))

    async def _write(self) -> None:
        home = self._controller.open_path
        found = await self._view.in_thread(_batch, home)
        self._table.set_content(batch_html(found))
        path = await self._view.in_thread(write_labels, found, require_own(home, REPORT))
        self._link.props["href"] = LABELS_ADDRESS.format(at=path.stat().st_mtime_ns)
        self._link.set_visibility(True)
        self._view.say(words.LABELS_WRITTEN.format(path=path), good=True)

    async def _record(self) -> None:
        if self._controller.runner.running:
            raise RecordingError(words.PAUSE_FIRST)
        home = self._controller.open_path
        wanted = replace(self._controller.options, tool=text_of(self._tool) or None)
        options = await self._view.in_thread(row_recording, JobFolder.open(home), wanted)
        if options is None:
            self._view.say(words.ROW_IS_WHOLE)
            return
        self._controller.runner.begin(home, options)
        self._view.go_to("play")

    async def _count_on(self) -> None:
        said = text_of(self._other)
        if not said:
            raise JobError(words.NO_FOLDER_NAMED)
        other = typed_job_folder(said, under=self._controller.jobs_folder)
        name = str(self._here.value)
        entry = await self._view.in_thread(
            _relation, self._controller.job(), name, other, text_of(self._called) or None
        )
        written = await self._view.in_thread(self._controller.enter, entry)
        self._view.say(words.COUNTED_ON.format(id=written.id, pickup=name), good=True)
        await self._view.in_thread(self._controller.judge)

    async def _begin(self) -> None:
        row = RowFields(
            text_of(self._folder),
            int(count) if (count := text_of(self._count)).isdecimal() else 0,
            text_of(self._coil),
            coils=int(self._coils.value),
            hot=text_of(self._hot),
            ground=text_of(self._ground),
        )
        path = await self._view.in_thread(create_row, row, under=self._controller.jobs_folder)
        await self._view.in_thread(self._controller.open, path)
        said = words.ROW_BEGUN.format(path=path.resolve(), count=row.count, shelf=row.shelf)
        self._view.say(said, good=True)


def batch_html(found: Batch) -> str:
    """A row of pickups against the coil, and what it rests on."""
    labels = {one.name: one for one in labels_of(found)}
    rows = [
        (
            one.name,
            str(row.lifts),
            row.last or words.NEVER_LIFTED,
            one.relation,
            one.sure,
            " ".join(filter(None, (one.leads, one.kohm))),
            "; ".join(one.wrong) or (words.FITS_ROW if row.lifts else words.NOT_LIFTED),
        )
        for row in found.rows
        for one in (labels[plain(row.pickup)],)
    ]
    heads = [head.format(coil=plain(found.shelf)) for head in words.SHELF_HEADS]
    return html_table(heads, rows, caption=plain(found.title)) + f"<p>{escape(sheet_says(found))}</p>"


def _batch(home: Path) -> Batch:
    return batch_of(JobFolder.open(home))


def _relation(job: Job, name: str, other: Path, called: str | None) -> Check:
    return relation_for(job, name, other=JobFolder.open(other), called=called)
