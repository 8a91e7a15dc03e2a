"""The forms for what is read at the bench: meter, ohms, compass, and leads that were soldered another way.

Task: fields in, one entry of the log out, with the values that the commands take. Units: kilohms. Signs:
none.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from nicegui import ui

from capture.bench_log import AnyEntry
from capture.errors import LogError
from capture.job import Job
from reports.commands.entering import change_entry, meter_entry, ohms_entry, pole_entry
from reports.entry_places import number_from
from reports.page import page_words as words
from reports.page.bring_view import names_html
from reports.page.fields import choice_field, text_field, typed
from reports.page.recording import Wanted
from reports.page.tray_list import heading
from reports.page.view import View
from reports.words import plain

Enter = Callable[[AnyEntry], Any]
WORDS = {"meter": ("hot", "ground"), "ohms": ("hot", "ground", "shield"), "change": ()}
"""What may stand for a lead's colour in each form."""


class ReadingForm:
    """A form with a pickup; the kinds below say what else it asks."""

    kind = ""
    head = ""
    help = ""

    def __init__(self, view: View, enter: Enter) -> None:
        self._view, self._enter = view, enter
        self._job: Job | None = None
        with ui.element("section").classes("reading"):
            heading(self.head)
            if self.help:
                ui.label(self.help)
            self._suggested = ui.html(sanitize=False)
            with ui.element("div").classes("form"):
                self._pickup = choice_field(words.PICKUP_FIELD, {}, on_change=self._suggest)
                self.build()
            with ui.element("div").classes("actions"):
                ui.button(words.WRITE_DOWN, on_click=view.act(self._write), color=None).props("no-caps")

    def build(self) -> None:
        """Make the fields after the pickup."""

    def entry(self) -> AnyEntry:
        """Return what was typed as an entry."""
        raise NotImplementedError

    def forget(self) -> None:
        """Empty what belongs to one reading alone."""

    def offer(self, job: Job) -> None:
        """Offer the pickups of a job."""
        self._job = job
        names = {p.name: plain(p.name) for p in job.pickups}
        self._pickup.set_options(names, value=self._pickup.value if self._pickup.value in names else None)
        self._suggest()

    def follow(self, wanted: Wanted) -> None:
        """Take over what is said on the screen Set-up, where it is said anew."""

    def pickup(self) -> str:
        """Return the pickup that was chosen."""
        return picked(self._pickup)

    def lead(self, label: str, hint: str = "") -> ui.input:
        """Make a field for a lead."""
        return text_field(label, hint, suggested=self._list)

    @property
    def _list(self) -> str:
        return f"leads-{self.kind}"

    def _suggest(self) -> None:
        pickup = None if self._job is None else self._job.pickup(str(self._pickup.value))
        colours = () if pickup is None else pickup.leads
        self._suggested.set_content(names_html(self._list, [*WORDS.get(self.kind, ()), *colours]))

    async def _write(self) -> None:
        await self._enter(self.entry())
        self.forget()

    def stage(self) -> str:
        """Return the stage that entries are written down for."""
        return self._view.room.wanted.stage


class MeterForm(ReadingForm):
    """Which way the ohmmeter swung."""

    kind, head, help = "meter", words.METER_HEAD, words.METER_HELP

    def build(self) -> None:
        """Make the fields after the pickup."""
        self._move = choice_field(words.MOVE_FIELD, words.MOVES, "away")
        self._reading = choice_field(words.READING_FIELD, words.READINGS)
        self._red = self.lead(words.RED_FIELD, words.RED_HELP)
        self._black = self.lead(words.BLACK_FIELD, words.BLACK_HELP)
        self._kohm = text_field(words.KOHM_FIELD, words.AT_REST_HELP)
        self._tool = text_field(words.TOOL_FIELD, words.TOOL_HELP)
        self._anew = ui.checkbox(words.CLIPS_ANEW).classes("wide")
        self._followed: str | None = None

    def entry(self) -> AnyEntry:
        """Return the swing."""
        return meter_entry(
            pickup=self.pickup(),
            move=picked(self._move),
            reading=picked(self._reading),
            red=said(self._red),
            black=typed(self._black) or None,
            kohm=number_from(typed(self._kohm), what=words.KOHM_FIELD),
            tool=typed(self._tool) or None,
            stage=self.stage(),
            anew=bool(self._anew.value),
        )

    def follow(self, wanted: Wanted) -> None:
        """The tool is the one of the session."""
        if wanted.tool != self._followed:
            self._followed = wanted.tool
            self._tool.set_value(wanted.tool or "")

    def forget(self) -> None:
        """The next swing is another one."""
        self._reading.set_value(None)
        self._kohm.set_value("")
        self._anew.set_value(False)


class OhmsForm(ReadingForm):
    """The resistance between two leads."""

    kind, head = "ohms", words.OHMS_HEAD

    def build(self) -> None:
        """Make the fields after the pickup."""
        self._first = self.lead(words.FIRST_LEAD_FIELD, words.OHMS_LEAD_HELP)
        self._second = self.lead(words.SECOND_LEAD_FIELD, words.OHMS_LEAD_HELP)
        self._kohm = text_field(words.KOHM_FIELD)
        self._open = ui.checkbox(words.OPEN_FIELD)

    def entry(self) -> AnyEntry:
        """Return the reading."""
        kohm = number_from(typed(self._kohm), what=words.KOHM_FIELD)
        if (kohm is None) != bool(self._open.value):
            raise LogError(words.OHMS_EITHER)
        return ohms_entry(
            pickup=self.pickup(),
            first=said(self._first),
            second=said(self._second),
            kohm=kohm,
            stage=self.stage(),
        )

    def forget(self) -> None:
        """The next reading is between other leads."""
        for field in (self._second, self._kohm):
            field.set_value("")
        self._open.set_value(False)


class PoleForm(ReadingForm):
    """Which pole faces the strings."""

    kind, head, help = "pole", words.POLE_HEAD, words.POLE_HELP

    def build(self) -> None:
        """Make the fields after the pickup."""
        self._facing = choice_field(words.FACING_FIELD, words.FACINGS)
        self._coil = choice_field(words.COIL_FIELD_OF_TWO, words.WHICH_COIL, 0)

    def entry(self) -> AnyEntry:
        """Return what the compass showed."""
        return pole_entry(
            pickup=self.pickup(),
            facing=picked(self._facing),
            coil=self._coil.value or None,
            stage=self.stage(),
        )

    def forget(self) -> None:
        """The next is another pole."""
        self._facing.set_value(None)


class ChangeForm(ReadingForm):
    """Leads as they are from here on."""

    kind, head, help = "change", words.CHANGE_HEAD, words.CHANGE_HELP

    def build(self) -> None:
        """Make the fields after the pickup."""
        self._leads = [
            (role, self.lead(label)) for role, labels in words.NEW_LEADS.items() for label in labels
        ]

    def entry(self) -> AnyEntry:
        """Return the change."""
        leads = [f"{typed(field)}={role}" for role, field in self._leads if typed(field)]
        return change_entry(pickup=self.pickup(), leads=leads, stage=self.stage())

    def forget(self) -> None:
        """The next change is another one."""
        for _, field in self._leads:
            field.set_value("")

    def stage(self) -> str:
        """Leads are changed by the work alone."""
        return "after"


FORMS: Mapping[str, type[ReadingForm]] = {
    form.kind: form for form in (MeterForm, OhmsForm, PoleForm, ChangeForm)
}


def picked(field: ui.select) -> str:
    """Return what was chosen.

    Raises
    ------
    LogError
        Nothing was.

    """
    if field.value is None:
        raise LogError(words.NOT_CHOSEN.format(field=field.props["label"]))
    return str(field.value)


def said(field: ui.input) -> str:
    """Return what was typed.

    Raises
    ------
    LogError
        Nothing was.

    """
    if not typed(field):
        raise LogError(words.NOT_TYPED.format(field=field.props["label"]))
    return typed(field)
