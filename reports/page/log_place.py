"""The bench log as a table, the latest first, with entries to be taken back and brought back.

Task: what `coilwise list` shows of the log, and what `coilwise void` does. Nothing is deleted. Units, signs:
none.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from html import escape
from typing import Any

from nicegui import ui

from capture.bench_log import AnyEntry, BenchLog, Void
from dsp.errors import CoilwiseError
from reports.commands.entering import void_entry
from reports.listing import described
from reports.page import page_words as words
from reports.page.fields import text_field, typed
from reports.page.tray_list import heading
from reports.page.view import View
from reports.verdict import Verdict
from reports.words import plain

MOST_SHOWN = 40
Enter = Callable[[AnyEntry, str], Awaitable[None]]


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
        remark = words.TAKEN_BACK if logged.voided else "" if take is None else " ".join(take.faults)
        rows.append(
            LogRow(
                id=entry.id,
                kind=entry.kind,
                what=described(entry),
                stage="" if isinstance(entry, Void) else words.STAGES[entry.stage],
                remark=remark,
                can_go=not logged.voided and not isinstance(entry, Void),
                restores=entry.entry
                if isinstance(entry, Void) and not logged.voided and kinds[entry.entry] != "void"
                else None,
            )
        )
    return tuple(rows)


class LogPlace:
    """The table. While somebody types why an entry is taken back, it stays as it is."""

    def __init__(self, view: View, enter: Enter) -> None:
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
                await self._take_back(row.id, typed(why))

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
