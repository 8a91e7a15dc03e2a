"""What a page shows of files: the upload area, the table of uploads, and recordings that a crash left.

Each file is sent as soon as it is chosen: ``arrived`` gets it, ``refused`` and ``failed`` get names, a line
each. A recording that was not finished is taken in or set aside; nothing is deleted.
"""

from __future__ import annotations

from html import escape
from typing import Any

from nicegui import ui

from capture.takes.recorder import UnfinishedTake, recover_take, set_aside, unfinished_takes
from dsp import CoilwiseError
from reports.entry.recordings import UploadedFile
from reports.messages import page as words
from reports.messages.session import TAKEN_IN, WAS_SET_ASIDE, unfinished_plan
from reports.messages.wording import plain
from reports.page.server.uploads import LIMIT_BYTES, UploadStore
from reports.page.widgets.view import Handler, View

_REFUSED_JS = "(list) => emit(list.map((one) => one.file.name).join('\\n'))"
_FAILED_JS = "(info) => emit(info.files.map((one) => one.name).join('\\n'))"
_CHOOSE = f"""
<div class="drop">
  <span>{escape(words.DROP_HERE)}</span>
  <q-btn no-caps label="{escape(words.CHOOSE_FILES)}" @click="props.pickFiles"></q-btn>
  <label class="unseen">{escape(words.CHOSEN_FILES)}<q-uploader-add-trigger></q-uploader-add-trigger></label>
  <span role="status">{{{{ props.isUploading ? props.uploadProgressLabel : "" }}}}</span>
</div>
"""
_SENDING = """
<p v-for="file in props.files" :key="file.__key">{{ file.name }} {{ file.__progressLabel }}</p>
"""


def upload_area(arrived: Handler, *, refused: Handler, failed: Handler) -> ui.upload:
    """Put it here."""
    upload = ui.upload(multiple=True, auto_upload=True, max_file_size=LIMIT_BYTES, on_upload=arrived)
    upload.props("flat bordered no-thumbnails")
    upload.on("rejected", refused, js_handler=_REFUSED_JS)
    upload.on("failed", failed, js_handler=_FAILED_JS)
    upload.add_slot("header", _CHOOSE)
    upload.add_slot("list", _SENDING)
    return upload


class UploadTable:
    """The table; `look` draws it where it is out of date."""

    def __init__(self, view: View, store: UploadStore) -> None:
        self._view, self._store = view, store
        self._drawn: tuple[UploadedFile, ...] | None = None
        self._place = ui.element("div")

    def refresh(self) -> None:
        """Draw it where the files are others than those drawn."""
        if self._drawn is self._store.files:
            return
        self._drawn = self._store.files
        self._place.clear()
        with self._place:
            if not self._drawn:
                ui.label(words.NO_FILES)
                return
            heading(words.FILES_HEAD, tag="h3")
            with ui.element("table"):
                heads = "".join(f'<th scope="col">{h}</th>' for h in words.FILE_HEADS)
                ui.html(f"<tr>{heads}</tr>", sanitize=False, tag="thead")
                with ui.element("tbody"):
                    for place, one in enumerate(self._drawn):
                        self._row(one, first=place == 0)

    def _row(self, one: UploadedFile, *, first: bool) -> None:
        act = self._view.act
        shown = plain(words.FILE_CUT_OFF.format(name=one.name) if one.cut_off else one.name)
        with ui.element("tr"):
            ui.html(escape(shown), sanitize=False, tag="th").props('scope="row"')
            for cell in (f"{one.seconds:.1f}", str(one.channels)):
                ui.html(cell, sanitize=False, tag="td")
            with ui.element("td"), ui.element("div").classes("hands"):
                if not first:
                    _button(words.EARLIER, words.EARLIER_THAN, one, act(lambda: self._earlier(one)))
                _button(words.REMOVE, words.REMOVE_THAT, one, act(lambda: self._remove(one)))

    def _earlier(self, one: UploadedFile) -> None:
        self._store.move_up(one)
        self.refresh()

    def _remove(self, one: UploadedFile) -> None:
        self._store.remove(one)
        self.refresh()


def heading(text: str, *, tag: str = "h2") -> None:
    """Put a heading here."""
    ui.html(escape(text), sanitize=False, tag=tag)


def _button(text: str, told: str, one: UploadedFile, handler: Any) -> None:
    button = ui.button(text, on_click=handler, color=None).props("no-caps")
    button.props["aria-label"] = told.format(name=plain(one.name))


REFRESH_S = 2.0


class UnfinishedBar:
    """The lines; looked for anew while nothing is being recorded."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._shown: tuple[str, ...] = ()
        self._bar = ui.element("div").classes("unfinished")
        self._refresh()
        ui.timer(REFRESH_S, self._refresh)

    def _refresh(self) -> None:
        controller = self._view.controller
        if controller.path is None or controller.runner.running:
            left: tuple[UnfinishedTake, ...] = ()
        else:
            try:
                left = unfinished_takes(controller.path)
            except CoilwiseError:  # job.toml is refused just now; the screen Job says so
                left = ()
        names = tuple(str(one.path) for one in left)
        if names == self._shown:
            return
        self._shown = names
        self._bar.clear()
        with self._bar:
            for one in left:
                self._offer(one)

    def _offer(self, one: UnfinishedTake) -> None:
        act = self._view.act
        with ui.element("p").classes("notice told").props('role="status"'):
            ui.label(words.UNFINISHED.format(seconds=one.seconds, planned=plain(unfinished_plan(one))))
            ui.button(words.TAKE_IN, on_click=act(lambda: self._in(one)), color=None).props("no-caps")
            ui.button(words.SET_ASIDE, on_click=act(lambda: self._aside(one)), color=None).props("no-caps")

    async def _in(self, one: UnfinishedTake) -> None:
        take = recover_take(one)
        self._view.say(TAKEN_IN.format(id=take.entry.id), good=True)
        self._refresh()
        await self._view.in_thread(self._view.controller.judge, since=take.entry.id)

    def _aside(self, one: UnfinishedTake) -> None:
        self._view.say(WAS_SET_ASIDE.format(path=set_aside(one).name), good=True)
        self._refresh()
