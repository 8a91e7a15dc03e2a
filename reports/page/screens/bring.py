"""The screen for recordings from elsewhere: uploaded, described, cut where wanted, brought into the job.

It does what `coilwise take` and `coilwise bring` do, and shows the cuts before anything is written down.
Slow work is done off the page's thread, one thing at a time; times are in seconds.
"""

from __future__ import annotations

from asyncio import Lock
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from html import escape
from pathlib import Path
from time import monotonic
from typing import Literal, cast

from markupsafe import Markup
from nicegui import ui
from nicegui.events import GenericEventArguments, UploadEventArguments

from capture import LogError, RecordingError
from capture.job import Job
from capture.log import TakeFields
from capture.takes.imported import PlayedItem
from dsp import CoilwiseError
from dsp.live.gestures import WITH_ONSET
from reports.entry import recordings as bring_in
from reports.entry.recordings import Cuts, ImportedEntry, OnsetSearch, UploadedFile, entry_result, share_out
from reports.entry.spelling import take_fields
from reports.messages import page as words
from reports.messages.cautions import BARE_COIL, PHANTOM, THUMP
from reports.messages.gestures import CHOICES
from reports.messages.wording import plain
from reports.model.verdict import Verdict
from reports.page.server.uploads import LIMIT, MOST_FILES, upload_store
from reports.page.widgets.view import (
    Handler,
    UploadTable,
    View,
    choice_field,
    heading,
    text_field,
    text_of,
    upload_area,
)
from reports.page.widgets.view import button as plain_button
from reports.render.parts import html_table, inline
from reports.render.tables import CUT_HEADS, cut_cells
from reports.session.options import RecordingOptions

MOST_REFUSALS = 200
"""So many sentences on what was refused are read by nobody; each new one sends all of them again."""
NAMES, STRINGS = "bring-names", "bring-strings"
"""Where the fields find what they may suggest."""


class ImportForm:
    """The fields of what was played, for both ways; a field that a way does not need is hidden."""

    def __init__(self, wanted: RecordingOptions) -> None:
        self._suggested = ui.html(sanitize=False)
        with ui.element("div").classes("form"):
            self._order = text_field(words.ORDER_FIELD, "").classes("wide")
            self._gesture = ui.select(dict(CHOICES), value="pluck", label=words.GESTURE_FIELD).props(
                "outlined"
            )
            self._first = text_field(words.ON_FIELD.format(number=1), "", suggested=NAMES)
            self._second = text_field(words.ON_FIELD.format(number=2), words.ON_SECOND_HELP, suggested=NAMES)
            self._string = text_field(words.STRING_FIELD, words.STRING_HELP, suggested=STRINGS)
            self._fret = ui.number(words.FRET_FIELD, value=0, min=0, max=36, step=1, format="%d").props(
                f'outlined hide-bottom-space hint="{words.FRET_HELP}"'
            )
            self._coil = choice_field(words.COIL_FIELD, words.COILS, 0)
            self._tapped = text_field(words.TAPPED_FIELD, words.TAPPED_HELP, suggested=NAMES)
            self._stage = choice_field(words.STAGE_FIELD, words.STAGES, wanted.stage)
            self._rig = text_field(words.RIG_FIELD, words.RIG_HELP, value=wanted.rig or "")
            self._tool = text_field(words.TOOL_FIELD, words.TOOL_HELP, value=wanted.tool or "")
            self._clips = ui.checkbox(words.CLIPS_ANEW).classes("wide")
        self.show_way("each")

    def show_way(self, way: Literal["each", "cut"]) -> None:
        """Show the fields that this way needs."""
        for field in (self._first, self._second, self._tapped, self._clips):
            field.set_visibility(way == "each")
        self._order.set_visibility(way == "cut")
        offered = {g: t for g, t in CHOICES.items() if way == "each" or g in WITH_ONSET}
        self._gesture.set_options(
            offered, value=self._gesture.value if self._gesture.value in offered else "pluck"
        )
        _hint(self._string, words.STRING_HELP if way == "each" else words.ORDER_STRING_HELP)

    def suggest(self, job: Job) -> None:
        """Name what the open job has."""
        names = [*job.setting_names, "nothing"]
        self._suggested.set_content(names_html(NAMES, names) + names_html(STRINGS, job.strings))
        here = ", ".join(plain(name) for name in job.setting_names)
        _hint(self._first, words.ON_HELP.format(names=here))
        _hint(self._order, words.ORDER_HELP.format(names=here))

    def fields(self) -> TakeFields:
        """Return what is said of all of them alike."""
        return take_fields(
            str(self._gesture.value),
            string=text_of(self._string),
            fret=int(self._fret.value or 0),
            stage=self._stage.value,
            rig=text_of(self._rig),
            tool=text_of(self._tool),
            coil=self._coil.value or None,
            anew=bool(self._clips.value) and self._clips.visible,
            tapped=text_of(self._tapped) if self._gesture.value == "tap" else None,
        )

    def on(self) -> list[str]:
        """Return what was on each input.

        Raises
        ------
        LogError
            Nothing is said of the first.

        """
        first, second = text_of(self._first), text_of(self._second)
        if not first:
            raise LogError(words.NOTHING_ON)
        return [first, second] if second else [first]

    def order(self) -> str:
        """Return what was played, as it was typed."""
        return text_of(self._order)


def _hint(field: ui.input, hint: str) -> None:
    field.props["hint"] = hint
    field.update()


TICK_JS = (
    '(e) => { const tick = e.target.closest(".tick");'
    " if (tick) { e.preventDefault(); emit(Number(tick.dataset.onset)); } }"
)
"""A box says that it was ticked and stays as it is: the table that comes back has it as it was taken."""


def cuts_html(cuts: Cuts) -> str:
    """Return the onsets with their cuts, one a row, and a box for each to leave it out."""
    rows = [
        (*cells, _tick(onset.number, ticked=onset.left_out))
        for onset, cells in zip(cuts.onsets, cut_cells(cuts.onsets, cuts.cuts), strict=True)
    ]
    return html_table((*CUT_HEADS, words.LEAVE_OUT), rows)


def imported_html(came: Sequence[ImportedEntry], verdict: Verdict | None) -> str:
    """Return the takes that came in, with what was heard in each."""
    rows = [(c.id, c.what, entry_result(c, verdict)) for c in came]
    return html_table(words.CAME_HEADS, rows, kind="imported")


def names_html(key: str, names: Iterable[str]) -> str:
    """Return names that a field may suggest: the field's ``list`` is ``key``."""
    options = "".join(f'<option value="{escape(plain(name))}"></option>' for name in names)
    return f'<datalist id="{key}">{options}</datalist>'


def _tick(number: int, *, ticked: bool) -> Markup:
    box = f'<input type="checkbox"{" checked" * ticked}>'
    return Markup(f'<label class="tick" data-onset="{number}">{box} {words.LEAVE_OUT} {number}</label>')


FOCUS_JS = "setTimeout(() => document.querySelector('.tick[data-onset=\"{number}\"] input')?.focus(), 50)"
"""The box that was ticked is another one in the table that came back."""
CutsKey = tuple[Path, TakeFields, str, tuple[UploadedFile, ...]]
"""The job, what is said, the order and the files that cuts are shown for."""


class CutsPanel:
    """The cuts that are shown; ``lock`` is held while they are made or brought in."""

    def __init__(self, view: View, *, bring: Handler) -> None:
        self._view, self.lock = view, Lock()
        self.listened: OnsetSearch | None = None
        self._cuts: Cuts | None = None
        self._played: tuple[PlayedItem, ...] = ()
        self._left_out: frozenset[int] = frozenset()
        self._shown_for: CutsKey | None = None
        self._offered = False
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
        self._update_visibility()

    def offer(self, offered: bool) -> None:
        """Show it, once there is something to show."""
        self._offered = offered
        self._update_visibility()

    async def show(self, listened: OnsetSearch, played: Sequence[PlayedItem], *, shown_for: CutsKey) -> None:
        """Show what was listened to; the boxes stay as they are while it is the same."""
        if listened is not self.listened:
            self._left_out = frozenset()
        self.listened, self._played, self._shown_for = listened, tuple(played), shown_for
        await self._draw()

    def forget(self) -> None:
        """Nothing is shown any more."""
        self.listened = self._cuts = self._shown_for = None
        self._left_out = frozenset()
        self._update_visibility()

    def ready(self, what_for: CutsKey) -> Cuts:
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
            listened, left_out = self.listened, self._left_out
            if listened is None:
                return
            in_thread = self._view.in_thread
            cuts = await in_thread(share_out, listened, self._played, left_out=left_out)
            self._cuts = cuts
            self._table.set_content(await in_thread(cuts_html, cuts))
            if ticked is not None:
                self._view.client.run_javascript(FOCUS_JS.format(number=ticked))
            self._count.set_text(plain(cuts.refusal) or words.WILL_BE.format(count=len(cuts.cuts)))
            self._bring.set_enabled(not cuts.refusal)
            self._update_visibility()
            if left_out == self._left_out and cuts.onsets:
                self._picture.set_content(await in_thread(_drawn, cuts))

    def _update_visibility(self) -> None:
        self._section.set_visibility(self._offered and self._cuts is not None)


def _drawn(cuts: Cuts) -> str:
    from reports.render.cuts import cuts_picture

    return str(inline(cuts_picture(cuts.onsets, cuts.cuts)))


REFRESH_S, PROGRESS_EVERY_S = 1.0, 0.2


def bring_screen(view: View) -> None:
    """Build the screen."""
    BringScreen(view)


class BringScreen:
    """The parts that change, and what was listened to."""

    def __init__(self, view: View) -> None:
        self._view, self._controller, self._store = view, view.controller, upload_store(view.controller)
        self._job, self._path = cast(object, None), self._controller.path
        self._busy, self._heard_s, self._drawn_at = False, 0.0, -REFRESH_S
        with ui.element("div").classes("sheet bring"):
            self._drop_place()
            self._asked()
            self._cuts = CutsPanel(view, bring=view.act(self._bring_cuts))
            self._came_place()
            with ui.element("section").classes("cautions"):
                heading(words.CAUTIONS_HEAD)
                ui.html("".join(f"<p>{escape(c)}</p>" for c in (PHANTOM, THUMP, BARE_COIL)), sanitize=False)
        self._show_way()
        self._refresh()
        ui.timer(REFRESH_S, self._refresh)
        self._clock = ui.timer(PROGRESS_EVERY_S, self._tell_progress, active=False)

    def _drop_place(self) -> None:
        act = self._view.act
        heading(words.BRING_HEAD)
        ui.label(words.BRING_HELP.format(limit=LIMIT))
        self._upload = upload_area(
            act(self._arrived), refused=act(self._kept_out), failed=act(self._not_sent)
        )
        self._files = UploadTable(self._view, self._store)
        self._refused = ui.html(sanitize=False).props('role="status"')

    def _asked(self) -> None:
        act = self._view.act
        heading(words.WHAT_ARE_THEY)
        self._way = ui.radio(dict(words.WAYS), value="each", on_change=self._show_way).props(
            f'aria-label="{words.WHAT_ARE_THEY}"'
        )
        self._form = ImportForm(self._controller.options)
        with ui.element("div").classes("actions"):
            self._each = plain_button(words.BRING_IN, act(self._bring_each)).classes("primary")
            self._show = plain_button(words.SHOW_CUTS, act(self._show_cuts)).classes("primary")
            self._progress = ui.label().props('role="status"')

    def _came_place(self) -> None:
        with ui.element("section") as self._came_section:
            heading(words.CAME_HEAD)
            self._came = ui.html(sanitize=False)
        self._came_section.set_visibility(False)

    def _refresh(self) -> None:
        """Draw anew what depends on the job or on the files, where they changed."""
        mine = self._controller.control.holder in (None, self._view.page)
        if self._upload.enabled != mine:
            self._upload.set_enabled(mine)
        self._draw_files()
        if self._path != self._controller.path:
            self._path = self._controller.path
            self._cuts.forget()
            self._came_section.set_visibility(False)
        if self._controller.path is None:
            return
        with suppress(CoilwiseError, OSError):  # job.toml is being edited: as it was, until it can be read
            job = self._controller.job()
            if self._job is not job:
                self._job = job
                self._form.suggest(job)

    def _show_way(self) -> None:
        each = self._way.value == "each"
        self._form.show_way("each" if each else "cut")
        self._each.set_visibility(each)
        self._show.set_visibility(not each)
        self._cuts.offer(not each)

    async def _arrived(self, event: UploadEventArguments) -> None:
        path = None
        try:
            path = self._store.path_for(event.file.name)
            await event.file.save(path)
            await self._view.in_thread(self._store.add, path)
        except RecordingError as error:
            self._refuse(str(error))
        except OSError:
            if path is not None:
                self._store.delete(path)
            self._refuse(words.NOT_SENT.format(name=plain(event.file.name)))
        if monotonic() - self._drawn_at >= REFRESH_S:  # of many files together the clock draws the rest
            self._draw_files()

    def _draw_files(self) -> None:
        """Draw which files are here; those that came are no longer shown as being sent."""
        if self._files.refresh():
            self._drawn_at = monotonic()
            self._upload.run_method("removeUploadedFiles")

    def _kept_out(self, event: GenericEventArguments) -> None:
        large, too_many = event.args
        for name in str(large).split("\n") if large else ():
            self._refuse(words.TOO_LARGE.format(name=name, limit=LIMIT))
        if too_many:
            self._refuse(words.TOO_MANY.format(most=MOST_FILES))

    def _not_sent(self, event: GenericEventArguments) -> None:
        for name in str(event.args).split("\n"):
            self._refuse(words.NOT_SENT.format(name=name))

    def _refuse(self, *sentences: str) -> None:
        ended = (s if s.endswith(".") else f"{s}." for s in sentences)
        added = [line for s in ended if (line := f"<li>{escape(plain(s))}</li>") not in self._refused.content]
        begun = self._refused.content or f"<h3>{words.REFUSED_HEAD}</h3>"
        if added and begun.count("<li>") < MOST_REFUSALS:
            self._refused.set_content(begun + f"<ul>{''.join(added[:MOST_REFUSALS])}</ul>")

    async def _bring_each(self) -> None:
        files, on, fields = self._ready(), self._form.on(), self._form.fields()
        with self._working():
            folder = await self._view.in_thread(self._controller.folder)
            outcome = await self._view.in_thread(bring_in.import_each, folder, files, fields, on=on)
            await self._came_in(outcome)

    async def _show_cuts(self) -> None:
        files, shown_for = self._ready(), self._cuts_key()
        _, fields, order, _ = shown_for
        with self._working():
            folder = await self._view.in_thread(self._controller.folder)
            played = await self._view.in_thread(bring_in.parse_order, folder, files, fields, order)
            self._heard_s = 0.0
            self._clock.activate()
            try:
                listened = await self._view.in_thread(
                    bring_in.search_onsets,
                    folder,
                    files,
                    played,
                    before=self._cuts.listened,
                    progress=self._heard_so_far,
                )
            finally:
                self._clock.deactivate()
                self._progress.set_text("")
            await self._cuts.show(listened, played, shown_for=shown_for)

    async def _bring_cuts(self) -> None:
        with self._working():
            async with self._cuts.lock:
                cuts = self._cuts.ready(self._cuts_key())
                folder = await self._view.in_thread(self._controller.folder)
                outcome = await self._view.in_thread(bring_in.import_cuts, folder, cuts)
                self._cuts.forget()
            await self._came_in(outcome)

    async def _came_in(self, outcome: bring_in.ImportOutcome) -> None:
        """List what came in, then judge it and list what was heard."""
        self._refused.set_content("")
        if outcome.refused:
            self._refuse(*outcome.refused)
        self._store.remove(*outcome.done)
        self._draw_files()
        ids, refused = [c.id for c in outcome.came], len(outcome.refused)
        if not ids:
            self._view.say(words.NONE_CAME_IN, good=False)
            return
        some = words.CAME_IN_PARTLY.format(count=len(ids), refused=refused)
        said = some if refused else words.CAME_IN.format(count=len(ids), ids=", ".join(ids))
        self._view.say(said, good=not refused)
        self._came.set_content(imported_html(outcome.came, None))
        self._came_section.set_visibility(True)
        judged = await self._view.in_thread(self._controller.judge, since=ids[-1])
        self._came.set_content(imported_html(outcome.came, judged.verdict))

    def _ready(self) -> Sequence[UploadedFile]:
        if not self._store.files:
            raise RecordingError(words.NO_FILE_YET)
        return self._store.files

    def _cuts_key(self) -> CutsKey:
        return self._controller.open_path, self._form.fields(), self._form.order(), self._store.files

    @contextmanager
    def _working(self) -> Iterator[None]:
        if self._busy:
            raise LogError(words.AT_WORK)
        self._busy = True
        self._view.clear_message()
        self._each.disable()
        self._show.disable()
        try:
            yield
        finally:
            self._busy = False
            self._each.enable()
            self._show.enable()

    def _heard_so_far(self, seconds: float) -> None:
        self._heard_s = seconds

    def _tell_progress(self) -> None:
        whole = sum(f.seconds for f in self._store.files)
        self._progress.set_text(words.HEARING.format(done=self._heard_s, whole=whole))
