"""The screen for the bench log: what was done, the latest first, and everything taken back or brought back.

It does what `coilwise list` and `coilwise void` do. Nothing is deleted. Files are looked at once a second.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from html import escape
from typing import Any

from nicegui import ui

from capture.log import AnyEntry, BenchLog, Change, Void
from dsp import CoilwiseError
from reports.entry.changes import change_understood
from reports.entry.finding import commands_for
from reports.entry.spelling import void_entry
from reports.messages import page as words
from reports.messages.sentences import say
from reports.messages.wording import WRITTEN_DOWN, plain
from reports.model.verdict import Verdict
from reports.page.server.controller import stamp_of
from reports.page.widgets.view import View, heading, text_field, text_of
from reports.render.tables import entry_label

MOST_SHOWN = 40
EnterWithMessage = Callable[[AnyEntry, str], Awaitable[None]]


@dataclass(frozen=True)
class LogRow:
    """One entry as it is listed; ``restores`` is the entry that comes back where this one is taken back."""

    id: str
    kind: str
    what: str
    stage: str
    remark: str
    can_go: bool = False
    restores: str | None = None


def log_rows(log: BenchLog, verdict: Verdict | None) -> tuple[LogRow, ...]:
    """Return the entries, the latest first; a take that does not count says why, once it was judged."""
    judged = {} if verdict is None else {t.id: t for t in verdict.takes}
    kinds = {e.entry.id: e.entry.kind for e in log.entries}
    rows = []
    for logged in reversed(log.entries):
        entry = logged.entry
        take = judged.get(entry.id)
        faults = () if take is None else take.faults
        remark = words.TAKEN_BACK if logged.voided else " ".join(map(say, faults))
        rows.append(
            LogRow(
                id=entry.id,
                kind=entry.kind,
                what=entry_label(entry),
                stage="" if isinstance(entry, Void) else words.STAGES[entry.stage],
                remark=remark,
                can_go=not logged.voided and not isinstance(entry, Void),
                restores=entry.entry
                if isinstance(entry, Void) and not logged.voided and kinds[entry.entry] != "void"
                else None,
            )
        )
    return tuple(rows)


class LogPanel:
    """The table. While somebody types why an entry is taken back, it stays as it is."""

    def __init__(self, view: View, enter: EnterWithMessage) -> None:
        self._view, self._enter = view, enter
        self._rows: tuple[LogRow, ...] = ()
        self._asking: str | None = None
        self._all = False
        heading(words.LOG_HEAD)
        self._place = ui.element("div").classes("log")

    @property
    def asking(self) -> bool:
        """Whether somebody types just now."""
        return self._asking is not None

    def show(self, rows: tuple[LogRow, ...]) -> None:
        """Draw these entries."""
        self._rows, self._asking = rows, None
        self._draw()

    def _draw(self) -> None:
        shown = self._rows if self._all else self._rows[:MOST_SHOWN]
        self._place.clear()
        with self._place:
            if not shown:
                ui.label(words.LOG_EMPTY)
                return
            with ui.element("table"):
                heads = "".join(f'<th scope="col">{h}</th>' if h else "<td></td>" for h in words.LOG_HEADS)
                ui.html(f"<tr>{heads}</tr>", sanitize=False, tag="thead")
                with ui.element("tbody"):
                    for row in shown:
                        self._row(row)
            if len(shown) < len(self._rows):
                _button(words.SHOW_ALL.format(count=len(self._rows)), self._show_all)

    def _row(self, row: LogRow) -> None:
        with ui.element("tr").classes("gone" if row.remark == words.TAKEN_BACK else ""):
            ui.html(escape(row.id), sanitize=False, tag="th").props('scope="row"').classes("id")
            for cell in (row.kind, row.what, row.stage, row.remark):
                ui.html(escape(plain(cell)), sanitize=False, tag="td")
            with ui.element("td"):
                self._hands(row)
        if self._asking == row.id:
            with ui.element("tr"), ui.element("td").props(f'colspan="{len(words.LOG_HEADS)}"'):
                self._ask(row)

    def _hands(self, row: LogRow) -> None:
        act = self._view.act
        if row.can_go and self._asking != row.id:
            _button(words.TAKE_BACK_ENTRY, act(lambda: self._begin(row.id)), words.TAKE_BACK_THAT, row.id)
        elif row.restores is not None:
            back = row.restores
            _button(words.BRING_BACK, act(lambda: self._restore(row.id, back)), words.BRING_BACK_THAT, back)

    def _ask(self, row: LogRow) -> None:
        act = self._view.act
        with ui.element("div").classes("actions"):
            why = text_field(words.WHY_FIELD.format(id=row.id)).props("autofocus").classes("why")

            async def take_back() -> None:
                await self._take_back(row.id, text_of(why))

            why.on("keydown.enter", act(take_back))
            _button(words.TAKE_BACK_ENTRY, act(take_back), words.TAKE_BACK_THAT, row.id)
            _button(words.LEAVE_IT, self._leave)

    def _begin(self, entry_id: str) -> None:
        self._asking = entry_id
        self._draw()

    def _leave(self) -> None:
        self._asking = None
        self._draw()

    async def _take_back(self, entry_id: str, why: str) -> None:
        self._asking = None
        try:
            await self._enter(void_entry(entry=entry_id, why=why), words.WAS_TAKEN_BACK.format(id=entry_id))
        except CoilwiseError:  # what was typed stays there, to be tried again
            self._asking = entry_id
            raise

    async def _restore(self, void_id: str, restored: str) -> None:
        await self._enter(void_entry(entry=void_id, why=""), words.WAS_BROUGHT_BACK.format(id=restored))

    def _show_all(self) -> None:
        self._all = True
        self._draw()


def _button(text: str, handler: Any, told: str = "", entry_id: str = "") -> ui.button:
    button = ui.button(text, on_click=handler, color=None).props("no-caps")
    if told:
        button.props["aria-label"] = told.format(id=entry_id)
    return button


async def enter(view: View, entry: AnyEntry, message: str = "") -> None:
    """Enter something into the log, say so, and have the job judged anew; ``message``: what is said."""
    controller = view.controller
    written = await view.in_thread(controller.enter, entry)
    said = message or WRITTEN_DOWN.format(id=written.id)
    if isinstance(written, Change):
        folder = await view.in_thread(controller.folder)
        understood = change_understood(folder.job, folder.log.standing, written)
        said = f"{said} {commands_for(understood, folder.path)}"
    view.say(said, good=True)
    await view.in_thread(controller.judge, since=written.id)


REFRESH_S = 1.0


def log_screen(view: View) -> None:
    """Build the screen."""
    LogScreen(view)


class LogScreen:
    """The log, and what it was drawn from."""

    def __init__(self, view: View) -> None:
        self._view, self._controller = view, view.controller
        self._drawn: object = None
        self._path = view.controller.path
        with ui.element("div").classes("sheet"):
            self._none = ui.label(words.NO_JOB)
            self._wrong = ui.label().classes("loud").props('role="status"')
            with ui.element("div") as self._all:
                self._log = LogPanel(view, self._enter)
        ui.timer(REFRESH_S, self._refresh)

    async def _enter(self, entry: AnyEntry, message: str) -> None:
        await enter(self._view, entry, message)
        await self._refresh()

    async def _refresh(self) -> None:
        self._all.set_visibility(self._controller.path is not None)
        self._none.set_visibility(self._controller.path is None)
        if self._controller.path is None:
            return
        moved, self._path = self._path != self._controller.path, self._controller.path
        now = (stamp_of(self._controller.path), self._controller.live.now.verdict)
        if now == self._drawn or (self._log.asking and not moved):
            return
        self._drawn = now
        try:
            folder = await self._view.in_thread(self._controller.folder)
        except (CoilwiseError, OSError) as error:
            self._wrong.set_text(words.REFUSED_FILE.format(why=plain(str(error))))
            return
        self._wrong.set_text("")
        self._log.show(log_rows(folder.log, now[1]))
