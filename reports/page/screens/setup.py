"""The screen before anything is recorded: how to record, what nobody can hear, and the set-up check.

It does what `coilwise setup` and the options of `coilwise record` do. The form writes into the controller's
`RecordingOptions` field by field; a change that is refused is put back. The check runs in the recording's
thread, which only stores what was found; the page's timer shows it in every browser alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from html import escape
from typing import Any
from weakref import WeakKeyDictionary

from nicegui import ui

from capture import RecordingError
from capture.audio.setup_check import PLUCK_S, SetupResult
from capture.audio.streams import choose_input
from reports.entry.bench_memory import BenchMemory, BenchMemoryError, bench_lines
from reports.messages import boxes
from reports.messages import page as words
from reports.messages.cautions import BEFORE, cautions_of_step
from reports.messages.gestures import GOOD_FOR
from reports.messages.session import activity_text
from reports.messages.setup import BEFORE_PLUGGING_IN, finding_lines, input_lines
from reports.messages.wording import plain
from reports.model.session import Failure
from reports.page.server.controller import PageController
from reports.page.server.recording import PageState
from reports.page.widgets.view import (
    AUTOMATIC,
    InputChoices,
    LevelBars,
    View,
    cautions_html,
    choice_field,
    heading,
    list_choices,
    text_field,
    text_of,
)
from reports.session.options import RecordingOptions
from reports.verdict.box_memory import BoxMemory, BoxMemoryError, RememberedBox


class RecordingForm:
    """The fields."""

    def __init__(self, view: View) -> None:
        self._view, self._controller = view, view.controller
        self._choices = InputChoices({AUTOMATIC: words.LOOKING_AT_INPUTS})
        self._shown: RecordingOptions | None = None
        with ui.element("div").classes("form"):
            self._source = choice_field(
                words.INPUT_FIELD, self._choices.options, AUTOMATIC, on_change=self._changed
            ).classes("wide")
            with ui.element("div").classes("wide actions"):
                self._button = ui.button(words.LOOK_AT_INPUTS, on_click=self.list_inputs, color=None)
                self._button.props("no-caps")
                self._status = ui.label().classes("told").props('role="status"')
            self._inputs = choice_field(words.HOW_MANY_FIELD, words.HOW_MANY, 0, on_change=self._changed)
            self._stage = choice_field(
                words.STAGE_FIELD,
                words.STAGES,
                "found",
                hint=words.WANTED_STAGE_HELP,
                on_change=self._changed,
            )
            self._rig = self._line(words.RIG_FIELD, words.WANTED_RIG_HELP)
            self._tool = self._line(words.TOOL_FIELD, words.TOOL_HELP)
        with ui.element("fieldset").classes("entry"):
            with ui.element("legend"):
                ui.label(words.GESTURES_HEAD)
            self._gestures = {
                gesture: ui.checkbox(label, value=True, on_change=self._changed)
                for gesture, label in GOOD_FOR.items()
            }
        self.show()

    def _line(self, label: str, hint: str) -> ui.input:
        return text_field(label, hint).on("blur", self._changed).on("keydown.enter", self._changed)

    async def list_inputs(self) -> None:
        """Ask the audio system which inputs there are."""
        self._button.disable()
        self._status.set_text(words.LOOKING_AT_INPUTS)
        try:
            self._choices = await self._view.in_thread(list_choices)
        finally:
            self._button.enable()
        self._status.set_text(self._choices.sentence)
        self._source.set_enabled(self._choices.any)
        self._shown = None
        self.show()

    def show(self) -> None:
        """Show what is wanted now, where that is not what is shown."""
        wanted = self._controller.options
        if self._shown is wanted:
            return
        self._shown = wanted
        word = self._choices.option_for(wanted.source)
        self._source.set_options(self._choices.options_with(word), value=word)
        self._inputs.set_value(wanted.inputs or 0)
        self._stage.set_value(wanted.stage)
        self._rig.set_value(wanted.rig or "")
        self._tool.set_value(wanted.tool or "")
        for gesture, box in self._gestures.items():
            box.set_value(gesture in wanted.gestures)

    async def _changed(self, _event: Any = None) -> None:
        if self._shown is not self._controller.options or self._entered() == self._controller.options:
            return
        await self._view.act(self._keep)()
        self._shown = None
        self.show()

    def _keep(self) -> None:
        options = self._entered()
        if not options.gestures:
            raise RecordingError(words.NO_GESTURE)
        self._controller.options = options
        self._view.clear_message()

    def _entered(self) -> RecordingOptions:
        wanted = self._controller.options
        word = str(self._source.value)
        source = wanted.source if word == self._choices.option_for(wanted.source) else word or None
        return replace(
            wanted,
            source=source,
            inputs=self._inputs.value or None,
            stage=self._stage.value,
            rig=text_of(self._rig) or None,
            tool=text_of(self._tool) or None,
            gestures=tuple(g for g, box in self._gestures.items() if box.value),
        )


class BoxesPanel:
    """What is remembered of the bench, and the button that forgets it."""

    def __init__(self, view: View) -> None:
        self._view = view
        with ui.element("section").classes("boxes"):
            heading(boxes.BOX_HEAD)
            self._list = ui.html(sanitize=False)
            self._forget = ui.button(boxes.BOX_FORGET, on_click=view.act(self._forget_all), color=None)
            self._forget.props("no-caps")
        self._shown: object = None
        self.show()

    def show(self) -> None:
        """Show what is remembered, where that is not what is shown."""
        memory = BoxMemory.default()
        bench: tuple[str, ...] = ()
        try:
            known: tuple[RememberedBox, ...] | str = memory.read()
            bench = bench_lines(BenchMemory.default().read())
        except (BoxMemoryError, BenchMemoryError) as error:
            known = str(error)
        if (known, bench) == self._shown:
            return
        self._shown = (known, bench)
        self._forget.set_visibility(bool(known or bench))
        if isinstance(known, str):
            self._list.set_content(f"<p>{escape(plain(known))}</p>")
            return
        lines = [*bench] + [boxes.box_line(**b.model_dump(), counts=b.counts(date.today())) for b in known]
        kept = f"<p>{escape(boxes.BOX_KEPT_IN.format(memory.path))}</p>"
        self._list.set_content(_list(lines, "remembered") + kept if lines else f"<p>{boxes.BOX_NONE}</p>")

    def _forget_all(self) -> None:
        BoxMemory.default().forget()
        BenchMemory.default().forget()
        self._view.say(boxes.BOX_FORGOTTEN, good=True)
        self.show()


REFRESH_S = 0.1
INTO_VIEW = 'getHtmlElement({id}).scrollIntoView({{block: "nearest"}})'
"""Who began it below the end of the window sees what to do and the bars."""


@dataclass
class SetupCheck:
    """The last check of a server: whether it goes on, what was heard, or why nothing was."""

    running: bool = False
    hearing: SetupResult | None = None
    failure: Failure | None = None

    def begin(self) -> None:
        """One begins; what was heard before is about another moment."""
        self.running, self.hearing, self.failure = True, None, None

    def finish(self, hearing: SetupResult) -> None:
        """It came to its end; called from the recording's thread."""
        self.running, self.hearing = False, hearing

    def update(self, state: PageState, *, running: bool) -> None:
        """See whether it ended otherwise, or never began because a session did first."""
        if self.running and not running:
            self.running = False
            self.failure = state.outcome if isinstance(state.outcome, Failure) else None


_CHECKS: WeakKeyDictionary[PageController, SetupCheck] = WeakKeyDictionary()


def setup_check_of(controller: PageController) -> SetupCheck:
    """Return the last check of a server's controller."""
    return _CHECKS.setdefault(controller, SetupCheck())


class SetupCheckPanel:
    """The button, the bars and the findings."""

    def __init__(self, view: View) -> None:
        self._view, self._controller, self._check = view, view.controller, setup_check_of(view.controller)
        self._drawn: object = None
        self._levels: tuple[float, ...] = ()
        self._mine = False
        with ui.element("section").classes("check") as self._section:
            heading(words.CHECK_HEAD)
            ui.label(words.CHECK_HELP)
            with ui.element("div").classes("actions"):
                self._button = ui.button(words.CHECK, on_click=view.act(self._begin), color=None)
                self._button.props("no-caps").classes("primary")
            self._doing = ui.label().classes("moment").props('role="status" aria-live="assertive"')
            self._bars = LevelBars(view)
            self._findings = ui.html(sanitize=False).classes("found").props('role="status"')
        ui.timer(REFRESH_S, self._refresh)

    async def _begin(self) -> None:
        home = self._controller.open_path
        if self._controller.runner.running:
            raise RecordingError(words.CHECK_GOES_ON if self._check.running else words.CHECK_RUNS)
        await self._view.in_thread(
            choose_input, self._controller.options.source
        )  # refused before anything begins
        self._view.clear_message()
        self._check.begin()
        self._mine = True
        self._controller.runner.check(
            home, self._controller.options, pluck_s=PLUCK_S, done=self._check.finish
        )

    def _refresh(self) -> None:
        state = self._controller.live.now
        self._check.update(state, running=self._controller.runner.running)
        going_on = self._check.running
        self._doing.set_text(plain(activity_text(state.activity, None)) if going_on else "")
        levels = self._controller.live.levels if going_on else ()
        if levels != self._levels:
            begins, self._levels = not self._levels, levels
            self._bars.show([words.ON_INPUT.format(number=k + 1) for k in range(len(levels))], levels)
            if begins and self._mine:
                self._view.client.run_javascript(INTO_VIEW.format(id=self._section.id))
        now = (going_on, self._check.hearing, self._check.failure)
        if now != self._drawn:
            self._drawn = now
            self._mine = self._mine and going_on
            self._button.set_enabled(not going_on)
            self._findings.set_content("" if going_on else check_html(self._check))


def check_html(check: SetupCheck) -> str:
    """Return what the last check found, and what comes next."""
    if check.failure is not None:
        return f'<p class="loud">{escape(words.failure_text(check.failure))}</p>'
    if check.hearing is None:
        return f"<p>{words.CHECK_FIRST}</p>"
    wrong, levels = finding_lines(check.hearing, surface="page"), input_lines(check.hearing)
    then = words.CHECK_THEN_PLAY if check.hearing.clear else words.CHECK_AGAIN
    return (
        f"<h3>{words.FOUND_HEAD}</h3>{_list(wrong, 'heard')}<p><strong>{then}</strong></p>"
        f"<h3>{words.INPUT_LEVELS_HEAD}</h3>{_list(levels, 'figures')}"
    )


def _list(lines: Sequence[str], kind: str) -> str:
    items = "".join(f"<li>{escape(plain(line))}</li>" for line in lines)
    return f'<ul class="{kind}">{items}</ul>'


FORM_REFRESH_S = 1.0


def setup_screen(view: View) -> None:
    """Build the screen."""
    with ui.element("div").classes("sheet setup") as sheet, ui.element("div").classes("columns"):
        with ui.element("div"):
            now = cautions_of_step(gesture=None, plugs=True)
            ui.html(cautions_html(words.CAUTIONS, now, BEFORE_PLUGGING_IN), sanitize=False)
            _listed(words.LOOK_HEAD, BEFORE, kind="ask")
            with ui.element("section"):
                heading(words.WANTED_HEAD)
                form = RecordingForm(view)
            remembered = BoxesPanel(view)
        SetupCheckPanel(view)
    looked: list[bool] = []

    async def first_opening() -> None:
        if not looked:
            looked.append(True)
            await form.list_inputs()

    sheet.on("vnodeMounted", first_opening, args=[])
    ui.timer(FORM_REFRESH_S, form.show)
    ui.timer(FORM_REFRESH_S, remembered.show)


def _listed(head: str, lines: Sequence[str], *, kind: str) -> None:
    with ui.element("section").classes(kind):
        heading(head)
        items = "".join(f"<li>{escape(line)}</li>" for line in lines)
        ui.html(f"<ul>{items}</ul>", sanitize=False)
