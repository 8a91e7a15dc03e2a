"""The form for recordings from elsewhere: the fields, and what was typed into them.

Task: one form for both ways; a field that a way does not need is not shown. Units, signs: none.
"""

from __future__ import annotations

from typing import Literal, cast, get_args

from nicegui import ui

from capture.bench_log import Stage
from capture.errors import LogError
from capture.job import Job
from dsp.streamed_onsets import Streamed
from reports.page import page_words as words
from reports.page.bring_in import Said
from reports.page.bring_view import names_html
from reports.page.fields import choice_field, text_field, typed
from reports.page.recording import Wanted
from reports.words import plain

NAMES, STRINGS = "bring-names", "bring-strings"
"""Where the fields find what they may suggest."""


class BringForm:
    """Fields; `said`, `on` and `order` read them."""

    def __init__(self, wanted: Wanted) -> None:
        self._suggested = ui.html(sanitize=False)
        with ui.element("div").classes("form"):
            self._order = text_field(words.ORDER_FIELD, "").classes("wide")
            self._gesture = ui.select(
                dict(words.GESTURES_HELP), value="pluck", label=words.GESTURE_FIELD
            ).props("outlined")
            self._first = text_field(words.ON_FIELD.format(number=1), "", suggested=NAMES)
            self._second = text_field(words.ON_FIELD.format(number=2), words.ON_SECOND_HELP, suggested=NAMES)
            self._string = text_field(words.STRING_FIELD, words.STRING_HELP, suggested=STRINGS)
            self._fret = ui.number(words.FRET_FIELD, value=0, min=0, max=36, step=1, format="%d").props(
                f'outlined hide-bottom-space hint="{words.FRET_HELP}"'
            )
            self._coil = choice_field(words.COIL_FIELD, words.COILS, 0)
            self._stage = choice_field(words.STAGE_FIELD, words.STAGES, wanted.stage)
            self._rig = text_field(words.RIG_FIELD, words.RIG_HELP, value=wanted.rig or "")
            self._tool = text_field(words.TOOL_FIELD, words.TOOL_HELP, value=wanted.tool or "")
            self._clips = ui.checkbox(words.CLIPS_ANEW).classes("wide")
        self.show_way("each")

    def show_way(self, way: Literal["each", "cut"]) -> None:
        """Show the fields that this way needs."""
        for field in (self._first, self._second, self._clips):
            field.set_visibility(way == "each")
        self._order.set_visibility(way == "cut")
        offered = {g: t for g, t in words.GESTURES_HELP.items() if way == "each" or g in get_args(Streamed)}
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

    def said(self) -> Said:
        """Return what is said of all of them alike."""
        return Said(
            gesture=str(self._gesture.value),
            string=typed(self._string),
            fret=int(self._fret.value or 0),
            stage=cast(Stage, self._stage.value),
            rig=typed(self._rig),
            tool=typed(self._tool),
            coil=self._coil.value or None,
        )

    def on(self) -> list[str]:
        """Return what was on each input.

        Raises
        ------
        LogError
            Nothing is said of the first.

        """
        first, second = typed(self._first), typed(self._second)
        if not first:
            raise LogError(words.NOTHING_ON)
        return [first, second] if second else [first]

    def order(self) -> str:
        """Return what was played, as it was typed."""
        return typed(self._order)

    def clips_anew(self) -> bool:
        """Whether the clips were put on anew before."""
        return bool(self._clips.value)


def _hint(field: ui.input, hint: str) -> None:
    field.props["hint"] = hint
    field.update()
