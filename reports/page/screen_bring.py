"""The screen for recordings from elsewhere: dropped on the page, said what they are, brought into the job.

Task: what `coilwise take` and `coilwise bring` do, with the cuts to look at before anything is written down.
Units: seconds. Signs: none. Everything slow is done off the page's thread, one thing at a time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from html import escape
from typing import cast

from nicegui import ui
from nicegui.events import GenericEventArguments, UploadEventArguments

from capture.errors import LogError, RecordingError
from dsp.errors import CoilwiseError
from reports.cautions import BARE_COIL, PHANTOM, THUMP
from reports.page import bring_in
from reports.page import page_words as words
from reports.page.bring_form import BringForm
from reports.page.bring_view import came_html
from reports.page.cuts_place import CutsPlace, WhatFor
from reports.page.dropped import Dropped
from reports.page.fields import button as plain_button
from reports.page.tray_list import TrayList, heading
from reports.page.upload_place import upload_place
from reports.page.uploads import LIMIT, tray_of
from reports.page.view import View
from reports.words import plain

LOOK_EVERY_S, PROGRESS_EVERY_S = 1.0, 0.2


def bring_screen(view: View) -> None:
    """Build the screen."""
    BringScreen(view)


class BringScreen:
    """The parts that change, and what was listened to."""

    def __init__(self, view: View) -> None:
        self._view, self._room, self._tray = view, view.room, tray_of(view.room)
        self._job, self._path = cast(object, None), self._room.path
        self._busy, self._heard_s = False, 0.0
        with ui.element("div").classes("sheet bring"):
            self._drop_place()
            self._asked()
            self._cuts = CutsPlace(view, bring=view.act(self._bring_cuts))
            self._came_place()
            with ui.element("section").classes("cautions"):
                heading(words.CAUTIONS_HEAD)
                ui.html("".join(f"<p>{escape(c)}</p>" for c in (PHANTOM, THUMP, BARE_COIL)), sanitize=False)
        self._show_way()
        self._look()
        ui.timer(LOOK_EVERY_S, self._look)
        self._clock = ui.timer(PROGRESS_EVERY_S, self._tell_progress, active=False)

    def _drop_place(self) -> None:
        act = self._view.act
        heading(words.BRING_HEAD)
        ui.label(words.BRING_HELP.format(limit=LIMIT))
        self._upload = upload_place(
            act(self._arrived), refused=act(self._too_large), failed=act(self._not_sent)
        )
        self._files = TrayList(self._view, self._tray)
        self._refused = ui.html(sanitize=False).props('role="status"')

    def _asked(self) -> None:
        act = self._view.act
        heading(words.WHAT_ARE_THEY)
        self._way = ui.radio(dict(words.WAYS), value="each", on_change=self._show_way).props(
            f'aria-label="{words.WHAT_ARE_THEY}"'
        )
        self._form = BringForm(self._room.wanted)
        with ui.element("div").classes("actions"):
            self._each = plain_button(words.BRING_IN, act(self._bring_each)).classes("primary")
            self._show = plain_button(words.SHOW_CUTS, act(self._show_cuts)).classes("primary")
            self._progress = ui.label().props('role="status"')

    def _came_place(self) -> None:
        with ui.element("section") as self._came_section:
            heading(words.CAME_HEAD)
            self._came = ui.html(sanitize=False)
        self._came_section.set_visibility(False)

    def _look(self) -> None:
        """Draw anew what depends on the job or on the files, where they changed."""
        mine = self._room.seat.sitting in (None, self._view.page)
        if self._upload.enabled != mine:
            self._upload.set_enabled(mine)
        self._files.look()
        if self._path != self._room.path:
            self._path = self._room.path
            self._cuts.forget()
            self._came_section.set_visibility(False)
        if self._room.path is None:
            return
        with suppress(CoilwiseError, OSError):  # job.toml is being edited: as it was, until it can be read
            job = self._room.job()
            if self._job is not job:
                self._job = job
                self._form.suggest(job)

    def _show_way(self) -> None:
        each = self._way.value == "each"
        self._form.show_way("each" if each else "cut")
        self._each.set_visibility(each)
        self._show.set_visibility(not each)
        self._cuts.want(not each)

    async def _arrived(self, event: UploadEventArguments) -> None:
        path = self._tray.place_for(event.file.name)
        try:
            await event.file.save(path)
            await self._view.slowly(self._tray.take, path)
        except RecordingError as error:
            self._refuse(str(error))
        except OSError:
            self._tray.forget(path)
            self._refuse(words.NOT_SENT.format(name=path.name))
        self._upload.run_method("removeUploadedFiles")
        self._files.look()

    def _too_large(self, event: GenericEventArguments) -> None:
        for name in str(event.args).split("\n"):
            self._refuse(words.TOO_LARGE.format(name=name, limit=LIMIT))

    def _not_sent(self, event: GenericEventArguments) -> None:
        for name in str(event.args).split("\n"):
            self._refuse(words.NOT_SENT.format(name=name))

    def _refuse(self, *sentences: str) -> None:
        added = "".join(f"<li>{escape(plain(s))}.</li>".replace("..<", ".<") for s in sentences)
        begun = self._refused.content or f"<h3>{words.REFUSED_HEAD}</h3>"
        self._refused.set_content(begun + f"<ul>{added}</ul>")

    async def _bring_each(self) -> None:
        files, on, said = self._ready(), self._form.on(), self._form.said()
        with self._working():
            folder = await self._view.slowly(self._room.folder)
            outcome = await self._view.slowly(
                bring_in.add_each, folder, files, said, on=on, clips_anew=self._form.clips_anew()
            )
            await self._came_in(outcome)

    async def _show_cuts(self) -> None:
        files, shown_for = self._ready(), self._what_for()
        _, said, order, _ = shown_for
        with self._working():
            folder = await self._view.slowly(self._room.folder)
            played = await self._view.slowly(bring_in.order_of, folder, files, said, order)
            self._heard_s = 0.0
            self._clock.activate()
            try:
                listened = await self._view.slowly(
                    bring_in.listen_to,
                    folder,
                    files,
                    said,
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
                cuts = self._cuts.ready(self._what_for())
                folder = await self._view.slowly(self._room.folder)
                outcome = await self._view.slowly(bring_in.bring_cuts, folder, cuts)
                self._cuts.forget()
            await self._came_in(outcome)

    async def _came_in(self, outcome: bring_in.Outcome) -> None:
        """List what came in, then judge it and list what was heard."""
        self._refused.set_content("")
        if outcome.refused:
            self._refuse(*outcome.refused)
        self._tray.remove(*outcome.done)
        self._files.look()
        ids, refused = [c.id for c in outcome.came], len(outcome.refused)
        if not ids:
            self._view.say(words.NONE_CAME_IN, good=False)
            return
        some = words.CAME_IN_PARTLY.format(count=len(ids), refused=refused)
        said = some if refused else words.CAME_IN.format(count=len(ids), ids=", ".join(ids))
        self._view.say(said, good=not refused)
        self._came.set_content(came_html(outcome.came, None))
        self._came_section.set_visibility(True)
        judged = await self._view.slowly(self._room.judge, since=ids[-1])
        self._came.set_content(came_html(outcome.came, judged.verdict))

    def _ready(self) -> Sequence[Dropped]:
        if not self._tray.files:
            raise RecordingError(words.NO_FILE_YET)
        return self._tray.files

    def _what_for(self) -> WhatFor:
        return self._room.home, self._form.said(), self._form.order(), self._tray.files

    @contextmanager
    def _working(self) -> Iterator[None]:
        if self._busy:
            raise LogError(words.AT_WORK)
        self._busy = True
        self._view.silent()
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
        whole = sum(f.seconds for f in self._tray.files)
        self._progress.set_text(words.HEARING.format(done=self._heard_s, whole=whole))
