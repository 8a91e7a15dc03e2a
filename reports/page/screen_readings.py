"""The screen for what is read and done by hand, and for the log of everything.

Task: what `coilwise meter`, `ohms`, `pole`, `change`, `void` and `list` do. Units: kilohms. Signs: none.
After an entry the job is judged anew. Files are looked at once a second; forms are never drawn anew.
"""

from __future__ import annotations

from contextlib import suppress
from html import escape

from nicegui import ui

from capture.bench_log import AnyEntry
from capture.job import Job
from dsp.errors import CoilwiseError
from reports import cautions
from reports.page import page_words as words
from reports.page.log_place import LogPlace, log_rows
from reports.page.reading_forms import FORMS
from reports.page.stamp import stamp_of
from reports.page.view import View
from reports.words import WRITTEN_DOWN, plain

LOOK_EVERY_S = 1.0


def readings_screen(view: View) -> None:
    """Build the screen."""
    ReadingsScreen(view)


class ReadingsScreen:
    """The parts that change, and what they were drawn from."""

    def __init__(self, view: View) -> None:
        self._view, self._room = view, view.room
        self._job: Job | None = None
        self._drawn: object = None
        self._path = view.room.path
        with ui.element("div").classes("sheet readings"):
            self._none = ui.label(words.NO_JOB)
            with ui.element("div") as self._all:
                self._stage = ui.label().classes("told")
                self._cautions = ui.html(sanitize=False)
                with ui.element("div").classes("columns"):
                    self._forms = [form(view, self._write) for form in FORMS.values()]
                self._wrong = ui.label().classes("loud").props('role="status"')
                self._log = LogPlace(view, self._enter)
        ui.timer(LOOK_EVERY_S, self._look)

    async def _write(self, entry: AnyEntry) -> None:
        await self._enter(entry, "")

    async def _enter(self, entry: AnyEntry, said: str) -> None:
        written = await self._view.slowly(self._room.enter, entry)
        self._view.say(said or WRITTEN_DOWN.format(id=written.id), good=True)
        await self._look()
        await self._view.slowly(self._room.judge, since=written.id)

    async def _look(self) -> None:
        self._all.set_visibility(self._room.path is not None)
        self._none.set_visibility(self._room.path is None)
        self._stage.set_text(words.STAGE_NOW.format(stage=words.STAGES[self._room.wanted.stage]))
        for form in self._forms:
            form.follow(self._room.wanted)
        if self._room.path is None:
            return
        with suppress(CoilwiseError, OSError):  # job.toml is being edited: as it was, until it can be read
            self._offer(self._room.job())
        moved, self._path = self._path != self._room.path, self._room.path
        now = (stamp_of(self._room.path), self._room.board.moment.verdict)
        if now == self._drawn or (self._log.asking and not moved):
            return
        self._drawn = now
        try:
            folder = await self._view.slowly(self._room.folder)
        except (CoilwiseError, OSError) as error:
            self._wrong.set_text(words.REFUSED_FILE.format(why=plain(str(error))))
            return
        self._wrong.set_text("")
        self._log.show(log_rows(folder.log, now[1]))

    def _offer(self, job: Job) -> None:
        if job is self._job:
            return
        self._job = job
        for form in self._forms:
            form.offer(job)
        items = "".join(f"<li>{escape(caution)}</li>" for caution in reading_cautions(job))
        self._cautions.set_content(
            f'<section class="cautions"><h2>{words.CAUTIONS_HEAD}</h2><ul>{items}</ul></section>'
        )


def reading_cautions(job: Job) -> tuple[str, ...]:
    """Return the cautions that go with meter and iron at this job, each once."""
    fitted = any(p.fitted for p in job.pickups)
    joined = any(p.shield in ("on ground", None) for p in job.pickups)
    return (
        cautions.AMPLIFIER,
        cautions.BARE_COIL,
        cautions.ACTIVE,
        *((cautions.SHIELD,) if joined else ()),
        *((cautions.COMMON_GROUND,) if fitted else ()),
        cautions.SOLDERING,
    )
