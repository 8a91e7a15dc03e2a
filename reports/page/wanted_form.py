"""The form for how to record: which input, how many, on what rig, what may be asked for.

Task: fields that show `room.wanted` and write into it, field by field. Units, signs: none. A change that is
refused (another browser acts) is put back, and what another browser changed is shown here too.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from nicegui import ui

from capture.errors import RecordingError
from reports.guide.defaults import GESTURES
from reports.page import page_words as words
from reports.page.fields import choice_field, text_field, typed
from reports.page.input_choice import BY_ITSELF, InputsThere, look_at_inputs
from reports.page.recording import Wanted
from reports.page.view import View


class WantedForm:
    """The fields."""

    def __init__(self, view: View) -> None:
        self._view, self._room = view, view.room
        self._there = InputsThere({BY_ITSELF: words.LOOKING_AT_INPUTS})
        self._shown: Wanted | None = None
        with ui.element("div").classes("form"):
            self._source = choice_field(
                words.INPUT_FIELD, self._there.options, BY_ITSELF, on_change=self._changed
            ).classes("wide")
            with ui.element("div").classes("wide actions"):
                self._button = ui.button(words.LOOK_AT_INPUTS, on_click=self.look, color=None)
                self._button.props("no-caps")
                self._told = ui.label().classes("told").props('role="status"')
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
                g: ui.checkbox(words.GOOD_FOR[g], value=True, on_change=self._changed) for g in GESTURES
            }
        self.show()

    def _line(self, label: str, hint: str) -> ui.input:
        return text_field(label, hint).on("blur", self._changed).on("keydown.enter", self._changed)

    async def look(self) -> None:
        """Ask the audio system which inputs there are."""
        self._button.disable()
        self._told.set_text(words.LOOKING_AT_INPUTS)
        try:
            self._there = await self._view.slowly(look_at_inputs)
        finally:
            self._button.enable()
        self._told.set_text(self._there.says)
        self._source.set_enabled(self._there.any)
        self._shown = None
        self.show()

    def show(self) -> None:
        """Show what is wanted now, where that is not what is shown."""
        wanted = self._room.wanted
        if self._shown is wanted:
            return
        self._shown = wanted
        word = self._there.word_of(wanted.source)
        self._source.set_options(self._there.with_word(word), value=word)
        self._inputs.set_value(wanted.inputs or 0)
        self._stage.set_value(wanted.stage)
        self._rig.set_value(wanted.rig or "")
        self._tool.set_value(wanted.tool or "")
        for gesture, box in self._gestures.items():
            box.set_value(gesture in wanted.gestures)

    async def _changed(self, _event: Any = None) -> None:
        if self._shown is not self._room.wanted or self._said() == self._room.wanted:
            return
        await self._view.act(self._keep)()
        self._shown = None
        self.show()

    def _keep(self) -> None:
        said = self._said()
        if not said.gestures:
            raise RecordingError(words.NO_GESTURE)
        self._room.wanted = said
        self._view.silent()

    def _said(self) -> Wanted:
        wanted = self._room.wanted
        word = str(self._source.value)
        source = wanted.source if word == self._there.word_of(wanted.source) else word or None
        return replace(
            wanted,
            source=source,
            inputs=self._inputs.value or None,
            stage=self._stage.value,
            rig=typed(self._rig) or None,
            tool=typed(self._tool) or None,
            gestures=tuple(g for g, box in self._gestures.items() if box.value),
        )
