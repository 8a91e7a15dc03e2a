"""What the screens of one open page are built from: guarded handlers, fields, tables, inputs and files.

`View` wraps what a person does, so that only the page that holds the control lock may do it, slow work runs
in another thread, and a refusal is one sentence at the top, never a traceback. All typed text is escaped.

Level bars: some twenty times a second only widths and figures change (page.js); nothing is built anew.
`InputChoices` maps the word of each option to its label; the word is what `choose_input` understands.
Uploads: each file is sent as soon as it is chosen: ``arrived`` gets it, ``refused`` and ``failed`` get names,
a line each. A recording that was not finished is taken in or set aside; nothing is deleted.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping, Sequence
from contextvars import copy_context
from dataclasses import dataclass, field
from functools import partial
from html import escape
from types import MappingProxyType
from typing import Any, TypeVar, cast

from nicegui import run, ui

from capture.audio.devices import DeviceError, InputDevice, SoundMissingError, device_label, pick_device
from capture.audio.streams import list_inputs
from capture.takes.recorder import UnfinishedTake, recover_take, set_aside, unfinished_takes
from dsp import CoilwiseError
from reports.entry.bench_memory import usual_input
from reports.entry.recordings import UploadedFile
from reports.messages import page as page_words
from reports.messages import page as words
from reports.messages import play as play_words
from reports.messages.session import TAKEN_IN, WAS_SET_ASIDE, unfinished_plan
from reports.messages.wording import as_sentence, our_fault, plain, system_error
from reports.page.server.controller import PageController
from reports.page.server.uploads import LIMIT_BYTES, MOST_FILES, UploadStore

Result = TypeVar("Result")
Handler = Callable[..., Any]


class View:
    """One open page. Build screens inside its slots, and give every handler to `act`."""

    def __init__(self, controller: PageController) -> None:
        self.controller = controller
        self.client = ui.context.client
        self.page = self.client.id
        self._notices: ui.element | None = None
        self.go_to: Callable[[str], object] = lambda screen: None
        """Shows another screen, by its key in `words.SCREENS`."""

    def notices(self) -> None:
        """Make the place where refusals and confirmations are said; once, at the top of the page."""
        self._notices = ui.element("div").classes("notices").props('role="status" aria-live="polite"')

    def say(self, text: str, *, good: bool | None = None) -> None:
        """Say one sentence at the top; ``good`` False is a refusal and stays until something else is said."""
        if self._notices is None:
            return
        self._notices.clear()
        kind = "refused" if good is False else "done" if good else "told"
        with self._notices, ui.element("p").classes(f"notice {kind}"):
            ui.label(plain(text))
            ui.button(page_words.CLOSE, on_click=self.clear_message, color=None).props(
                "flat no-caps"
            ).classes("close")

    def clear_message(self) -> None:
        """Take away what was said."""
        if self._notices is not None:
            self._notices.clear()

    def may_act(self) -> bool:
        """Whether this page acts; if not, it says so."""
        if self.controller.control.acquire(self.page):
            return True
        self.say(page_words.ANOTHER_ACTS, good=False)
        return False

    def act(self, work: Handler, *, looks: bool = False) -> Handler:
        """Return a handler that does ``work`` if this page acts, and says what is refused.

        ``looks``: it changes nothing, so that a page that watches may do it too.
        """

        async def done(*args: Any) -> None:
            if not looks and not self.may_act():
                return
            try:
                result = work(*args)
                if inspect.isawaitable(result):
                    await result
            except CoilwiseError as error:
                self.say(str(error), good=False)
            except OSError as error:
                self.say(page_words.BROKEN_OFF.format(why=as_sentence(system_error(error))), good=False)
            except Exception as error:  # above it is the page's library, which tells a person nothing
                self.say(our_fault(error), good=False)

        async def without_event() -> None:
            await done()

        async def with_event(event: Any) -> None:
            await done(event)

        return with_event if _wants_event(work) else without_event

    async def in_thread(self, work: Callable[..., Result], *args: Any, **options: Any) -> Result:
        """Do ``work`` in another thread, in this context, so that the page goes on meanwhile."""
        here = copy_context()
        return cast(Result, await run.io_bound(here.run, work, *args, **options))


def _wants_event(work: Handler) -> bool:
    return any(
        p.kind in (p.POSITIONAL_ONLY, p.POSITIONAL_OR_KEYWORD) and p.default is p.empty
        for p in inspect.signature(work).parameters.values()
    )


def text_field(label: str, hint: str = "", *, value: str = "", suggested: str | None = None) -> ui.input:
    """A line of text; ``suggested`` names a datalist."""
    field = ui.input(label, value=value).props('outlined hide-bottom-space autocomplete="off"')
    if hint:
        field.props["hint"] = hint
    if suggested is not None:
        field.props(f'list="{suggested}"')
    return field


def choice_field(
    label: str,
    options: Mapping[Any, str],
    value: Any = None,
    *,
    hint: str = "",
    on_change: Callable[..., Any] | None = None,
) -> ui.select:
    """One of several; nothing is chosen where ``value`` is none of them."""
    chosen = value if value in options else None
    field = ui.select(dict(options), value=chosen, label=label, on_change=on_change)
    field.props("outlined options-dense hide-bottom-space")
    if hint:
        field.props["hint"] = hint
    return field


def button(text: str, handler: Any = None) -> ui.button:
    """A plain button."""
    return ui.button(text, on_click=handler, color=None).props("no-caps")


def text_of(field: ui.input) -> str:
    """What stands in a field, without blanks around it."""
    return str(field.value or "").strip()


def cautions_html(head: str, shown: Sequence[str], rest: Sequence[str] = ()) -> str:
    """Return the cautions that apply now, and behind one tap the ``rest`` of them."""
    items = "".join(f"<li>{escape(caution)}</li>" for caution in shown)
    others = [caution for caution in rest if caution not in shown]
    more = "".join(f"<li>{escape(caution)}</li>" for caution in others)
    said = escape(play_words.MORE_CAUTIONS.format(count=len(others)))
    tail = f"<details><summary>{said}</summary><ul>{more}</ul></details>" if others else ""
    return f'<section class="cautions"><h2>{escape(head)}</h2><ul>{items}</ul>{tail}</section>'


LOWEST_DB = -80.0
TARGET_DB = (-30.0, -6.0)
"""Where the peak of a pluck is to lie: clear of noise and hum, and a harder one does not clip."""


class LevelBars:
    """The bars, where it is built."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._names: list[str] = []
        self._bars = ui.html(sanitize=False).classes("levels")

    def show(self, names: Sequence[str], levels: Sequence[float]) -> None:
        """Show the level of each input beside its name; no bars where there are no levels."""
        if list(names) != self._names:
            self._names = list(names)
            self._bars.set_content(bars_html(names))
        if levels:
            figures = ",".join(f"{max(LOWEST_DB, db):.1f}" for db in levels)
            self._view.client.run_javascript(f"coilwiseLevels([{figures}])")


def bars_html(names: Sequence[str]) -> str:
    """Return one empty bar a name, with the zone in which a pluck's peak is to lie."""
    left, right = (100 * (1 - db / LOWEST_DB) for db in TARGET_DB)
    zone = (
        f'<span class="zone" style="left:{left:.1f}%;width:{right - left:.1f}%">'
        f"<span>{escape(play_words.TARGET)}</span></span>"
    )
    return "".join(
        f'<div class="level" role="meter" aria-label="{escape(plain(n))}" aria-valuemin="{LOWEST_DB:.0f}" '
        f'aria-valuemax="0" aria-valuenow="{LOWEST_DB:.0f}"><span class="name">{escape(plain(n))}</span>'
        f'<span class="track"><span class="fill"></span>{zone}</span><span class="figure"></span></div>'
        for n in names
    )


AUTOMATIC = ""


@dataclass(frozen=True)
class InputChoices:
    """What can be chosen, by the word that means it, and one sentence about it."""

    options: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    sentence: str = ""
    any: bool = False
    devices: tuple[InputDevice, ...] = ()

    def option_for(self, source: str | None) -> str:
        """Return which of the options ``source`` means; itself where it means none of them."""
        if source is None:
            return AUTOMATIC
        try:
            return str(pick_device(self.devices, source).number)
        except DeviceError:
            return source

    def options_with(self, word: str) -> dict[str, str]:
        """Return the options, and ``word`` among them though nothing is called so."""
        return dict(self.options) | (
            {} if word in self.options else {word: words.INPUT_NOT_THERE.format(word=plain(word))}
        )


def list_choices() -> InputChoices:
    """Ask the audio system; slow the first time. Nothing is refused: what is wrong is said."""
    try:
        devices = list_inputs()
    except SoundMissingError as error:
        return InputChoices({AUTOMATIC: words.NO_INPUT}, words.NO_SOUND.format(why=plain(str(error))))
    return input_choices(devices)


def input_choices(devices: tuple[InputDevice, ...]) -> InputChoices:
    """Return what can be chosen from these."""
    if not devices:
        return InputChoices({AUTOMATIC: words.NO_INPUT}, words.NO_INPUTS)
    try:
        taken = words.INPUT_TAKEN.format(
            input=plain(device_label(usual_input(partial(pick_device, devices))))
        )
    except DeviceError:
        taken = words.INPUT_NONE_TAKEN
    listed = {str(device.number): plain(device_label(device)) for device in devices}
    says = words.INPUTS_THERE.format(count=len(devices))
    return InputChoices(MappingProxyType({AUTOMATIC: taken, **listed}), says, True, devices)


_REFUSED_JS = """
(list) => {
  const large = list.filter((one) => one.failedPropValidation !== "max-files");
  emit(large.map((one) => one.file.name).join("\\n"), large.length < list.length);
}
"""
"""The names of files that are too large, and whether others were too many: of those none is named."""
_FAILED_JS = "(info) => emit(info.files.map((one) => one.name).join('\\n'))"
_CHOOSE = f"""
<div class="drop">
  <span>{escape(words.DROP_HERE)}</span>
  <q-btn no-caps label="{escape(words.CHOOSE_FILES)}" @click="props.pickFiles"></q-btn>
  <label class="unseen">{escape(words.CHOSEN_FILES)}<q-uploader-add-trigger></q-uploader-add-trigger></label>
  <span role="status">{{{{ props.isUploading ? props.uploadProgressLabel : "" }}}}</span>
</div>
"""
MOST_SENDING = 8
"""So many files that are on their way are shown at once: each step of each draws all of them again."""
_UNDER_WAY = (
    f"props.files.filter((one) => !['uploaded', 'failed'].includes(one.__status)).slice(0, {MOST_SENDING})"
)
_SENDING = f"""
<p v-for="file in {_UNDER_WAY}" :key="file.__key">{{{{ file.name }}}} {{{{ file.__progressLabel }}}}</p>
"""


def upload_area(arrived: Handler, *, refused: Handler, failed: Handler) -> ui.upload:
    """Put it here."""
    upload = ui.upload(
        multiple=True,
        auto_upload=True,
        max_file_size=LIMIT_BYTES,
        max_files=MOST_FILES,
        on_upload=arrived,
    )
    upload.props("flat bordered no-thumbnails")
    upload.on("rejected", refused, js_handler=_REFUSED_JS)
    upload.on("failed", failed, js_handler=_FAILED_JS)
    upload.add_slot("header", _CHOOSE)
    upload.add_slot("list", _SENDING)
    return upload


class UploadTable:
    """The table; `refresh` draws what is out of date, row by row: a whole folder may come file after file."""

    def __init__(self, view: View, store: UploadStore) -> None:
        self._view, self._store = view, store
        self._drawn: tuple[UploadedFile, ...] = ()
        self._rows: dict[UploadedFile, tuple[ui.element, ui.button]] = {}
        self._none = ui.label(words.NO_FILES)
        with ui.element("div") as self._some:
            heading(words.FILES_HEAD, tag="h3")
            with ui.element("table"):
                heads = "".join(f'<th scope="col">{h}</th>' for h in words.FILE_HEADS)
                ui.html(f"<tr>{heads}</tr>", sanitize=False, tag="thead")
                self._body = ui.element("tbody")
        self._some.set_visibility(False)

    def refresh(self) -> bool:
        """Draw what differs where the files are others than those drawn, and say whether they were."""
        if self._drawn is self._store.files:
            return False
        self._drawn = self._store.files
        for gone in self._rows.keys() - set(self._drawn):
            self._rows.pop(gone)[0].delete()
        for place, one in enumerate(self._drawn):
            if one not in self._rows:
                with self._body:
                    self._rows[one] = self._row(one)
            row, earlier = self._rows[one]
            if self._body.default_slot.children[place] is not row:
                row.move(self._body, place)
            earlier.set_visibility(place > 0)
        self._none.set_visibility(not self._drawn)
        self._some.set_visibility(bool(self._drawn))
        return True

    def _row(self, one: UploadedFile) -> tuple[ui.element, ui.button]:
        """The row, and its button that moves it up."""
        act = self._view.act
        shown = plain(words.FILE_CUT_OFF.format(name=one.name) if one.cut_off else one.name)
        with ui.element("tr") as row:
            ui.html(escape(shown), sanitize=False, tag="th").props('scope="row"')
            for cell in (f"{one.seconds:.1f}", str(one.channels)):
                ui.html(cell, sanitize=False, tag="td")
            with ui.element("td"), ui.element("div").classes("hands"):
                earlier = _button(words.EARLIER, words.EARLIER_THAN, one, act(lambda: self._earlier(one)))
                _button(words.REMOVE, words.REMOVE_THAT, one, act(lambda: self._remove(one)))
        return row, earlier

    def _earlier(self, one: UploadedFile) -> None:
        self._store.move_up(one)
        self.refresh()

    def _remove(self, one: UploadedFile) -> None:
        self._store.remove(one)
        self.refresh()


def heading(text: str, *, tag: str = "h2") -> None:
    """Put a heading here."""
    ui.html(escape(text), sanitize=False, tag=tag)


def _button(text: str, told: str, one: UploadedFile, handler: Any) -> ui.button:
    button = ui.button(text, on_click=handler, color=None).props("no-caps")
    button.props["aria-label"] = told.format(name=plain(one.name))
    return button


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
