"""The screen for readings by hand.

It does what `coilwise meter`, `ohms`, `pole`, `check` and `change` do; each form makes one entry from its
fields (kilohms), after which the job is judged anew. Forms are never built anew.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import Any

from nicegui import ui

from capture import LogError
from capture.job import Job, Pickup
from capture.log import AnyEntry
from dsp import CoilwiseError
from reports.entry.changes import lead_colours
from reports.entry.spelling import (
    black_lead,
    change_entry,
    check_entry,
    meter_entry,
    number_from,
    ohms_entry,
    pole_entry,
    resistance_from,
    tag_entry,
)
from reports.messages import cautions
from reports.messages import page as words
from reports.messages.wording import plain
from reports.page.screens.bring import names_html
from reports.page.screens.log import enter
from reports.page.widgets.view import View, cautions_html, choice_field, heading, text_field, text_of
from reports.session.options import RecordingOptions

Enter = Callable[[AnyEntry], Any]
WORDS = {"meter": ("hot", "ground"), "ohms": ("hot", "ground", "shield"), "change": ()}
"""What may stand for a lead's colour in each form."""


class ReadingForm:
    """A form with a pickup; the kinds below say what else it asks."""

    kind = ""
    head = ""
    help = ""
    staged = False
    """Whether it says at which stage the reading was made."""

    def __init__(self, view: View, enter: Enter) -> None:
        self._view, self._enter = view, enter
        self._job: Job | None = None
        self._string: ui.input | None = None
        with ui.element("section").classes("reading"):
            heading(self.head)
            if self.help:
                ui.label(self.help)
            self._suggested = ui.html(sanitize=False)
            with ui.element("div").classes("form"):
                self._pickup = choice_field(words.PICKUP_FIELD, {}, on_change=self._suggest)
                self.build()
                self._followed_stage = view.controller.options.stage
                self._stage = (
                    choice_field(words.STAGE_FIELD, words.STAGES, self._followed_stage)
                    if self.staged
                    else None
                )
            with ui.element("div").classes("actions"):
                ui.button(words.WRITE_DOWN, on_click=view.act(self._write), color=None).props("no-caps")

    def build(self) -> None:
        """Make the fields after the pickup."""

    def entry(self) -> AnyEntry:
        """Return what was typed as an entry."""
        raise NotImplementedError

    def forget(self) -> None:
        """Empty what belongs to one reading alone."""

    def string_field(self) -> ui.input:
        """Make a field for the string over a pole, which shows where the poles of the pickup may differ."""
        self._string = text_field(words.POLE_STRING_FIELD, words.POLE_STRING_HELP)
        self._string.set_visibility(False)
        return self._string

    def offer(self, job: Job) -> None:
        """Offer the pickups of a job."""
        self._job = job
        names = {p.name: plain(p.name) for p in job.pickups}
        self._pickup.set_options(names, value=self._pickup.value if self._pickup.value in names else None)
        self._suggest()

    def follow(self, wanted: RecordingOptions) -> None:
        """Take over what is said on the screen Set-up, where it is said anew."""
        if self._stage is not None and wanted.stage != self._followed_stage:
            self._followed_stage = wanted.stage
            self._stage.set_value(wanted.stage)

    def pickup(self) -> str:
        """Return the pickup that was chosen."""
        return required_choice(self._pickup)

    def lead(self, label: str, hint: str = "") -> ui.input:
        """Make a field for a lead."""
        return text_field(label, hint, suggested=self._list)

    @property
    def _list(self) -> str:
        return f"leads-{self.kind}"

    def _suggest(self) -> None:
        job = self._job
        pickup = None if job is None else job.pickup(str(self._pickup.value))
        entered = self._view.controller.entries()
        colours = () if job is None or pickup is None else lead_colours(job, entered, pickup=pickup.name)
        self._suggested.set_content(names_html(self._list, [*WORDS.get(self.kind, ()), *colours]))
        if self._string is not None:
            self._string.set_visibility(pickup is not None and _poles_matter(pickup, self.kind))

    async def _write(self) -> None:
        await self._enter(self.entry())
        self.forget()
        self._suggest()

    def stage(self) -> str:
        """Return the stage that entries are written down for."""
        return self._view.controller.options.stage if self._stage is None else required_choice(self._stage)


def _poles_matter(pickup: Pickup, kind: str) -> bool:
    """Whether a reading has to say over which string; a compass may, to find out."""
    return pickup.made.by_string or (kind == "pole" and pickup.poles is None and pickup.made.rows == 1)


class MeterForm(ReadingForm):
    """Which way the ohmmeter swung."""

    kind, head, help, staged = "meter", words.METER_HEAD, words.METER_HELP, True

    def build(self) -> None:
        """Make the fields after the pickup."""
        self._move = choice_field(words.MOVE_FIELD, words.MOVES, "away")
        self._reading = choice_field(words.READING_FIELD, words.READINGS)
        self._red = self.lead(words.RED_FIELD, words.RED_HELP)
        self._black = self.lead(words.BLACK_FIELD, words.BLACK_HELP)
        self._kohm = text_field(words.KOHM_FIELD, words.AT_REST_HELP)
        self._tool = text_field(words.TOOL_FIELD, words.TOOL_HELP)
        self._over = self.string_field()
        self._anew = ui.checkbox(words.CLIPS_ANEW).classes("wide")
        self._followed: str | None = None

    def entry(self) -> AnyEntry:
        """Return the swing."""
        pickup, red = self.pickup(), required_text(self._red)
        known = None if self._job is None else self._job.pickup(pickup)
        return meter_entry(
            pickup=pickup,
            move=required_choice(self._move),
            reading=required_choice(self._reading),
            red=red,
            black=black_lead(known, red, text_of(self._black) or None),
            kohm=resistance_from(text_of(self._kohm), what=words.KOHM_FIELD),
            tool=text_of(self._tool) or None,
            stage=self.stage(),
            anew=bool(self._anew.value),
            string=text_of(self._over) or None,
        )

    def follow(self, wanted: RecordingOptions) -> None:
        """The tool is the one of the session."""
        super().follow(wanted)
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

    kind, head, staged = "ohms", words.OHMS_HEAD, True

    def build(self) -> None:
        """Make the fields after the pickup."""
        self._first = self.lead(words.FIRST_LEAD_FIELD, words.OHMS_LEAD_HELP)
        self._second = self.lead(words.SECOND_LEAD_FIELD, words.OHMS_LEAD_HELP)
        self._kohm = text_field(words.KOHM_FIELD)
        self._open = ui.checkbox(words.OPEN_FIELD)

    def entry(self) -> AnyEntry:
        """Return the reading."""
        kohm = resistance_from(text_of(self._kohm), what=words.KOHM_FIELD, may_be_zero=True)
        if (kohm is None) != bool(self._open.value):
            raise LogError(words.OHMS_EITHER)
        return ohms_entry(
            pickup=self.pickup(),
            first=required_text(self._first),
            second=required_text(self._second),
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

    kind, head, help, staged = "pole", words.POLE_HEAD, words.POLE_HELP, True

    def build(self) -> None:
        """Make the fields after the pickup."""
        self._facing = choice_field(words.FACING_FIELD, words.FACINGS)
        self._coil = choice_field(words.COIL_FIELD_OF_TWO, words.WHICH_COIL, 0)
        self._over = self.string_field()

    def entry(self) -> AnyEntry:
        """Return what the compass showed."""
        return pole_entry(
            pickup=self.pickup(),
            facing=required_choice(self._facing),
            coil=self._coil.value or None,
            string=text_of(self._over) or None,
            stage=self.stage(),
        )

    def forget(self) -> None:
        """The next is another pole."""
        self._facing.set_value(None)
        self._over.set_value("")


class TagForm(ReadingForm):
    """The tag on the lead that is under the tip's clip."""

    kind, head, help = "tag", words.TAG_HEAD, words.TAG_HELP

    def build(self) -> None:
        """Make the fields after the pickup."""
        self._take = text_field(words.TAG_TAKE_FIELD, words.TAG_TAKE_HELP)

    def entry(self) -> AnyEntry:
        """Return the tag."""
        folder = self._view.controller.folder()
        return tag_entry(folder.job, folder.log, pickup=self.pickup(), take=text_of(self._take) or None)

    def forget(self) -> None:
        """The next tag is put on in another take."""
        self._take.set_value("")


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
        leads = [f"{text_of(field)}={role}" for role, field in self._leads if text_of(field)]
        return change_entry(pickup=self.pickup(), leads=leads, stage=self.stage())

    def forget(self) -> None:
        """The next change is another one."""
        for _, field in self._leads:
            field.set_value("")

    def stage(self) -> str:
        """Leads are changed by the work alone."""
        return "after"


class CheckForm(ReadingForm):
    """What was verified on the bench, but for takes of one recorder."""

    kind, head, help = "check", words.CHECKED_HEAD, words.CHECKED_HELP

    def build(self) -> None:
        """Make the fields after the pickup."""
        self._what = choice_field(words.CHECKED_FIELD, words.CHECKED)
        self._input = text_field(words.CHECKED_INPUT_FIELD, words.CHECKED_INPUT_HELP)
        self._tool = text_field(words.CHECKED_TOOL_FIELD, words.CHECKED_TOOL_HELP)

    def entry(self) -> AnyEntry:
        """Return what was checked."""
        required_choice(self._what)
        return check_of(
            self._what.value,
            pickup=str(self._pickup.value or ""),
            at_input=text_of(self._input),
            tool=text_of(self._tool),
        )

    def forget(self) -> None:
        """The next is another check."""
        self._what.set_value(None)


def check_of(what: tuple[str, str], *, pickup: str, at_input: str, tool: str) -> AnyEntry:
    """Return a check from what was chosen and typed; what it is not about is left out.

    Raises
    ------
    LogError
        What it is about was not said.

    """
    kind, found = what
    match kind:
        case "clip lead":
            number = number_from(at_input, what=words.CHECKED_INPUT_FIELD)
            whole = int(number) if number is not None and number.is_integer() else number
            return check_entry(kind, tip=found, input=whole)
        case "tool":
            return check_entry(kind, tool=tool, staple=found)
        case "held":
            return check_entry(kind, pickup=pickup, side=found)
        case _:
            return check_entry(kind, pickup=pickup, inverts=found == "inverts")


FORMS: Mapping[str, type[ReadingForm]] = {
    form.kind: form for form in (MeterForm, OhmsForm, PoleForm, TagForm, CheckForm, ChangeForm)
}


def required_choice(field: ui.select) -> str:
    """Return what was chosen.

    Raises
    ------
    LogError
        Nothing was.

    """
    if field.value is None:
        raise LogError(words.NOT_CHOSEN.format(field=field.props["label"]))
    return str(field.value)


def required_text(field: ui.input) -> str:
    """Return what was typed.

    Raises
    ------
    LogError
        Nothing was.

    """
    if not text_of(field):
        raise LogError(words.NOT_TYPED.format(field=field.props["label"]))
    return text_of(field)


REFRESH_S = 1.0


def readings_screen(view: View) -> None:
    """Build the screen."""
    ReadingsScreen(view)


class ReadingsScreen:
    """The parts that change, and what they were drawn from."""

    def __init__(self, view: View) -> None:
        self._view, self._controller = view, view.controller
        self._job: Job | None = None
        with ui.element("div").classes("sheet readings"):
            self._none = ui.label(words.NO_JOB)
            with ui.element("div") as self._all:
                self._stage = ui.label().classes("told")
                self._cautions = ui.html(sanitize=False)
                with ui.element("div").classes("columns"):
                    self._forms = [form(view, self._write) for form in FORMS.values()]
        ui.timer(REFRESH_S, self._refresh)

    async def _write(self, entry: AnyEntry) -> None:
        await enter(self._view, entry)

    def _refresh(self) -> None:
        self._all.set_visibility(self._controller.path is not None)
        self._none.set_visibility(self._controller.path is None)
        self._stage.set_text(words.STAGE_NOW.format(stage=words.STAGES[self._controller.options.stage]))
        for form in self._forms:
            form.follow(self._controller.options)
        if self._controller.path is None:
            return
        with suppress(CoilwiseError, OSError):  # job.toml is being edited: as it was, until it can be read
            self._offer(self._controller.job())

    def _offer(self, job: Job) -> None:
        if job is self._job:
            return
        self._job = job
        for form in self._forms:
            form.offer(job)
        listed = reading_cautions(job)
        self._cautions.set_content(cautions_html(words.CAUTIONS_HEAD, listed[:CAUTIONS_FIRST], listed))


CAUTIONS_FIRST = 3
"""Those of a meter come first; those of the iron are behind a tap."""


def reading_cautions(job: Job) -> tuple[str, ...]:
    """Return the cautions that go with meter and iron at this job, each once."""
    fitted = any(p.fitted for p in job.pickups)
    joined = any(p.shield in ("on ground", None) for p in job.pickups)
    return (
        cautions.AMPLIFIER,
        cautions.BARE_COIL,
        cautions.ACTIVE,
        *((cautions.SHIELD,) if joined else ()),
        *((cautions.COMMON_GROUND,) if fitted else ()),
        cautions.SOLDERING,
    )
