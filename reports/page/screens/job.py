"""The screen for the job: the open one, others that are there, and the form for a new one.

It does what `coilwise new` and `coilwise list` do; lengths are in millimetres. job.toml of the open job is
looked at once a second, and the job is judged anew when it was edited. Listed jobs are those with a job.toml
in the place for jobs or in its recordings/, the one changed last first; none of them is judged.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from html import escape
from pathlib import Path
from typing import Any

from nicegui import ui

from capture import JOB_FILE, JobError, RecordingError
from capture.job import Job, read_job
from dsp import CoilwiseError
from reports.entry.changed_job import change_job, fields_of
from reports.entry.changes import lead_colours
from reports.entry.finding import DEFAULT_PLACE
from reports.entry.new_job import (
    MEMBER_FORMS,
    OFF,
    TWO_COILS,
    FieldError,
    JobFields,
    MemberFields,
    PickupFields,
    SettingFields,
    create_job_folder,
    field_errors,
    typed_job_folder,
)
from reports.messages import page as words
from reports.messages.wording import as_sentence, plain
from reports.page.screens.bring import names_html
from reports.page.screens.shelf import ShelfPart
from reports.page.server.controller import JobStamp, stamp_of
from reports.page.widgets.view import View, choice_field, heading, text_field, text_of
from reports.page.widgets.view import button as plain_button
from reports.render.parts import html_table
from reports.render.tables import PICKUP_HEADS, SETTING_HEADS, pickup_cells, setting_cells


@dataclass(frozen=True)
class ListedJob:
    """A job: its folder, its title (or why job.toml is refused), and when it was changed last."""

    path: Path
    title: str
    at_ns: int

    @property
    def at(self) -> str:
        """When it was changed last, on this machine's clock."""
        return datetime.fromtimestamp(self.at_ns / 1e9).astimezone().strftime("%Y-%m-%d %H:%M")


def stamps_in(jobs_folder: Path) -> tuple[JobStamp, ...]:
    """Return which jobs there are, the one changed last first; cheap, nothing is opened."""
    found: dict[Path, JobStamp] = {}
    for folder in (jobs_folder, jobs_folder / DEFAULT_PLACE):
        with suppress(OSError):
            for inside in folder.iterdir():
                stamp = stamp_of(inside)
                if stamp.job is not None:
                    found.setdefault(inside, stamp)
    return tuple(sorted(found.values(), key=lambda s: (-_changed(s), str(s.path))))


def listed_jobs(stamps: Sequence[JobStamp]) -> tuple[ListedJob, ...]:
    """Return these jobs with their titles."""
    return tuple(ListedJob(s.path, _title(s.path), _changed(s)) for s in stamps if s.path is not None)


def _changed(stamp: JobStamp) -> int:
    return max(file[0] for file in (stamp.job, stamp.log, (0, 0)) if file is not None)


def _title(path: Path) -> str:
    try:
        return read_job(path).title or path.name
    except JobError as error:
        return str(error)


Callback = Callable[[], None]
KNOWN_LEADS = "leads-known"
"""The list of colours that fields for leads offer."""


def _lead_field(label: str, hint: str, value: str) -> ui.input:
    return text_field(label, hint, value=value, suggested=KNOWN_LEADS)


class PickupRow:
    """One pickup; ``changed`` is called when its name or its number of coils may be another."""

    def __init__(
        self,
        number: int,
        filled: PickupFields,
        *,
        changed: Callback,
        remove: Callable[[PickupRow], None],
    ) -> None:
        self.number, self._was = number, filled.was
        with ui.element("fieldset").classes("entry") as self.place:
            self._legend = _legend(words.PICKUP_NUMBER.format(n=number))
            with ui.element("div").classes("form"):
                self.name_field = text_field(words.NAME_FIELD, words.PICKUP_NAME_HELP, value=filled.name)
                self.name_field.on("blur", changed)
                self.centre_field = text_field(words.CENTRE_FIELD, words.CENTRE_HELP, value=filled.centre)
                self._fitted = choice_field(words.FITTED_FIELD, words.FITTED, filled.fitted)
                self._coils = choice_field(
                    words.COILS_FIELD,
                    words.COIL_COUNTS,
                    filled.coils,
                    on_change=lambda: self._coils_changed(changed),
                )
                self._hot = _lead_field(words.HOT_FIELD, words.LEAD_HELP, filled.hot)
                self._ground = _lead_field(words.GROUND_FIELD, words.LEAD_HELP, filled.ground)
                first, second = filled.link
                self._links = (
                    _lead_field(words.LINK_FIRST_FIELD, words.LINK_HELP, first),
                    _lead_field(words.LINK_SECOND_FIELD, words.LINK_HELP, second),
                )
                self._shield = choice_field(words.SHIELD_FIELD, words.SHIELDS, filled.shield)
                self._unusual = ui.checkbox(
                    words.UNUSUAL_FIELD, value=filled.unusual, on_change=self._show_unusual
                )
                self._built = {
                    "build": choice_field(
                        words.BUILD_FIELD, words.BUILDS, filled.build, hint=words.BUILD_HELP
                    ),
                    "upper": text_field(words.UPPER_FIELD, words.UPPER_HELP, value=filled.upper),
                    "under": text_field(words.UNDER_FIELD, words.UNDER_HELP, value=filled.under),
                    "poles": text_field(words.POLES_FIELD, words.POLES_HELP, value=filled.poles),
                    "circuit": text_field(words.CIRCUIT_FIELD, words.CIRCUIT_HELP, value=filled.circuit),
                    "coil_kohm": text_field(
                        words.COIL_KOHM_FIELD, words.COIL_KOHM_HELP, value=filled.coil_kohm
                    ),
                    "source": choice_field(words.SOURCE_FIELD, words.SOURCES, filled.source),
                    "stage": choice_field(words.ACTIVE_STAGE_FIELD, words.ACTIVE_STAGES, filled.stage),
                    "always": choice_field(words.ALWAYS_FIELD, words.ALWAYS, filled.always),
                    "shelf": text_field(words.SHELF_FIELD, words.SHELF_HELP, value=filled.shelf),
                }
                self._turnable = ui.checkbox(words.TURNABLE_FIELD, value=filled.turnable)
                self._active = ui.checkbox(words.ACTIVE_FIELD, value=filled.active)
            self._remove = _remove(lambda: remove(self))
        self.count_as(number)
        self._show_links()
        self._show_unusual()

    @property
    def label(self) -> str:
        """Its name, or its number while it has none."""
        return text_of(self.name_field) or words.PICKUP_NUMBER.format(n=self.number)

    @property
    def coils(self) -> int:
        """How many coils it has."""
        return int(self._coils.value)

    def count_as(self, number: int) -> None:
        """Give it another number."""
        self.number = number
        row = words.PICKUP_NUMBER.format(n=number)
        self._legend.set_text(row.capitalize())
        self._remove.set_text(words.REMOVE_ROW.format(row=row))

    def fields(self) -> PickupFields:
        """Return what was typed."""
        first, second = self._links
        return PickupFields(
            name=text_of(self.name_field),
            centre=text_of(self.centre_field),
            coils=self.coils,
            fitted=bool(self._fitted.value),
            turnable=bool(self._turnable.value),
            active=bool(self._active.value),
            hot=text_of(self._hot),
            ground=text_of(self._ground),
            link=(text_of(first), text_of(second)),
            shield=str(self._shield.value),
            **self._said(),
            was=self._was,
        )

    def _said(self) -> dict[str, str]:
        """How it is built; nothing where it is not said to be unusual."""
        if not self._unusual.value:
            return {}
        return {key: str(field.value or "").strip() for key, field in self._built.items()}

    def _show_unusual(self) -> None:
        for field in self._built.values():
            field.set_visibility(bool(self._unusual.value))

    def _coils_changed(self, changed: Callback) -> None:
        self._show_links()
        changed()

    def _show_links(self) -> None:
        for link in self._links:
            link.set_visibility(self.coils == TWO_COILS)


class SettingRow:
    """One setting, with a choice for each pickup of the form."""

    def __init__(self, number: int, filled: SettingFields, *, remove: Callable[[SettingRow], None]) -> None:
        self._was, self._wanted, self._wired = filled.was, dict(filled.on), dict(filled.wired)
        self._members: dict[PickupRow, ui.select] = {}
        self._odd: dict[PickupRow, dict[str, Any]] = {}
        self._unusual = False
        self._drawn: list[tuple[PickupRow, str, int]] = []
        with ui.element("fieldset").classes("entry") as self.place:
            self._legend = _legend(words.SETTING_NUMBER.format(n=number))
            with ui.element("div").classes("form"):
                self.name_field = text_field(words.NAME_FIELD, words.SETTING_NAME_HELP, value=filled.name)
                self._join = choice_field(words.JOIN_FIELD, words.JOINS, filled.join)
                self._aim = choice_field(words.AIM_FIELD, words.AIMS, filled.aim)
                self._quiet = ui.checkbox(words.QUIET_FIELD, value=filled.quiet)
                self._bypass = ui.checkbox(words.BYPASS_FIELD, value=filled.bypass)
            self._choices = ui.element("div").classes("form")
            self._remove = _remove(lambda: remove(self))
        self.count_as(number)

    def count_as(self, number: int) -> None:
        """Give it another number."""
        row = words.SETTING_NUMBER.format(n=number)
        self._legend.set_text(row.capitalize())
        self._remove.set_text(words.REMOVE_ROW.format(row=row))

    def offer(self, pickups: Sequence[PickupRow]) -> None:
        """Offer these pickups; what was chosen of one that stays is kept."""
        wanted = [(p, p.label, p.coils) for p in pickups]
        if wanted == self._drawn:
            return
        self._drawn = wanted
        chosen = {pickup: field.value for pickup, field in self._members.items()}
        typed = {pickup: _typed(fields) for pickup, fields in self._odd.items()}
        self._choices.clear()
        self._members, self._odd = {}, {}
        with self._choices:
            for pickup, label, coils in wanted:
                offered = {k: v for k, v in words.MEMBERS.items() if k in _ways(coils)}
                before = chosen.get(pickup, self._wanted.get(label))
                self._members[pickup] = choice_field(
                    plain(label), offered, before if before in offered else OFF
                )
                self._odd[pickup] = _wiring_fields(
                    plain(label), typed.get(pickup) or self._wired.get(label, MemberFields())
                )
        self.show_unusual(self._unusual)

    def show_unusual(self, unusual: bool) -> None:
        """Show what goes beyond a plain sum, or not; what is not shown is not kept."""
        self._unusual = unusual
        self._bypass.set_visibility(unusual)
        for fields in self._odd.values():
            for field in fields.values():
                field.set_visibility(unusual)

    def fields(self) -> SettingFields:
        """Return what was typed and chosen."""
        return SettingFields(
            name=text_of(self.name_field),
            on=tuple((pickup.label, str(field.value)) for pickup, field in self._members.items()),
            wired=tuple((pickup.label, _typed(fields)) for pickup, fields in self._odd.items())
            if self._unusual
            else (),
            bypass=self._unusual and bool(self._bypass.value),
            join=str(self._join.value),
            aim=str(self._aim.value),
            quiet=bool(self._quiet.value),
            was=self._was,
        )


def _wiring_fields(label: str, filled: MemberFields) -> dict[str, Any]:
    """The fields of how one pickup is wired in a position that is no plain sum."""
    groups = words.GROUPS if filled.group in words.GROUPS else {**words.GROUPS, filled.group: filled.group}
    return {
        "group": choice_field(
            words.GROUP_FIELD.format(pickup=label), groups, filled.group, hint=words.GROUP_HELP
        ),
        "share": text_field(words.SHARE_OF.format(pickup=label), words.SHARE_HELP, value=filled.share),
        "circuit": text_field(
            words.CIRCUIT_HERE.format(pickup=label), words.CIRCUIT_HERE_HELP, value=filled.circuit
        ),
    }


def _typed(fields: dict[str, Any]) -> MemberFields:
    return MemberFields(**{key: str(field.value or "").strip() for key, field in fields.items()})


def _ways(coils: int) -> tuple[str, ...]:
    """How a pickup of so many coils can be on: whole, or one of its coils."""
    each = ((how, coil) for how, (coil, _) in MEMBER_FORMS.items())
    return (OFF, *(how for how, coil in each if coil is None or 1 < coils >= coil))


def _legend(text: str) -> ui.label:
    with ui.element("legend"):
        return ui.label(text)


def _remove(handler: Callback) -> ui.button:
    return ui.button("", on_click=handler, color=None).props("no-caps")


NEW_JOB = JobFields(pickups=(PickupFields(), PickupFields()), settings=(SettingFields(),))
"""What the form for a new job begins with."""


class JobForm:
    """The fields, filled in; ``press``: its button's text and work; ``folder``: where a new job goes.

    ``colours``: those that leads have already, which fields for leads offer.
    """

    def __init__(
        self, filled: JobFields, *, press: tuple[str, Any], folder: str | None, colours: Sequence[str] = ()
    ) -> None:
        self._pickups: list[PickupRow] = []
        self._settings: list[SettingRow] = []
        if colours:
            ui.html(names_html(KNOWN_LEADS, colours), sanitize=False)
        with ui.element("div").classes("form"):
            self._folder = text_field(words.FOLDER_FIELD, folder or "")
            self._folder.set_visibility(folder is not None)
            self._title = text_field(words.TITLE_FIELD, words.TITLE_HELP, value=filled.title)
            self._scale = text_field(words.SCALE_FIELD, words.SCALE_HELP, value=filled.scale)
            self._mains = choice_field(words.MAINS_FIELD, words.MAINS, filled.mains_hz or 0)
            self._strings = text_field(words.STRINGS_FIELD, words.STRINGS_HELP, value=filled.strings)
        heading(words.PICKUPS_HEAD, tag="h3")
        self._pickup_place = ui.element("div")
        plain_button(words.ADD_PICKUP, self._add_pickup)
        heading(words.SETTINGS_HEAD, tag="h3")
        ui.label(words.SETTINGS_HELP)
        self._unusual = ui.checkbox(
            words.UNUSUAL_CIRCUIT_FIELD, value=filled.unusual, on_change=self._show_unusual
        )
        self._stereo = text_field(words.STEREO_FIELD, words.STEREO_HELP, value=filled.stereo)
        self._setting_place = ui.element("div")
        plain_button(words.ADD_SETTING, self._add_setting)
        with ui.element("div").classes("actions"):
            plain_button(*press).classes("primary")
        for pickup in filled.pickups:
            self._add_pickup(pickup)
        for setting in filled.settings:
            self._add_setting(setting)
        self._show_unusual()

    def _show_unusual(self) -> None:
        shown = bool(self._unusual.value)
        self._stereo.set_visibility(shown)
        for setting in self._settings:
            setting.show_unusual(shown)

    def fields(self) -> JobFields:
        """Return what was typed."""
        self._renamed()
        return JobFields(
            folder=text_of(self._folder),
            title=text_of(self._title),
            scale=text_of(self._scale),
            mains_hz=self._mains.value or None,
            strings=text_of(self._strings),
            pickups=tuple(row.fields() for row in self._pickups),
            settings=tuple(row.fields() for row in self._settings),
            stereo=text_of(self._stereo) if self._unusual.value else "",
        )

    def mark(self, errors: Sequence[FieldError]) -> None:
        """Say at each field what is wrong there, and nothing at the others.

        Raises
        ------
        JobError
            Something is wrong; the text has all of it.

        """
        marked: dict[ui.input, str] = {}
        for error in errors:
            field = self._field(error)
            marked[field] = " ".join(filter(None, (marked.get(field), as_sentence(plain(error.why)))))
        for field in self._fields():
            field.props["error"] = field in marked
            field.props["error-message"] = marked.get(field, "")
            field.update()
        if errors:
            said = words.TO_PUT_RIGHT.format(count=len(errors)) if len(errors) > 1 else ""
            raise JobError(" ".join(filter(None, (said, *marked.values()))))

    def _fields(self) -> Iterator[ui.input]:
        yield from (self._folder, self._scale, self._strings, self._stereo)
        for row in self._pickups:
            yield from (row.name_field, row.centre_field)
        yield from (row.name_field for row in self._settings)

    def _field(self, error: FieldError) -> ui.input:
        if error.rows == "job":
            own = {"folder": self._folder, "scale": self._scale, "strings": self._strings}
            return {**own, "stereo": self._stereo}[error.field]
        if error.rows == "setting":
            return self._settings[error.row].name_field
        pickup = self._pickups[error.row]
        return pickup.centre_field if error.field == "centre" else pickup.name_field

    def _add_pickup(self, filled: PickupFields | None = None) -> None:
        with self._pickup_place:
            row = PickupRow(
                len(self._pickups) + 1,
                filled or PickupFields(),
                changed=self._renamed,
                remove=self._remove_pickup,
            )
        self._pickups.append(row)
        self._renamed()

    def _add_setting(self, filled: SettingFields | None = None) -> None:
        with self._setting_place:
            row = SettingRow(len(self._settings) + 1, filled or SettingFields(), remove=self._remove_setting)
        self._settings.append(row)
        row.show_unusual(bool(self._unusual.value))
        self._renamed()

    def _remove_pickup(self, row: PickupRow) -> None:
        self._pickups.remove(row)
        row.place.delete()
        for number, one in enumerate(self._pickups, start=1):
            one.count_as(number)
        self._renamed()

    def _remove_setting(self, row: SettingRow) -> None:
        self._settings.remove(row)
        row.place.delete()
        for number, one in enumerate(self._settings, start=1):
            one.count_as(number)

    def _renamed(self) -> None:
        for setting in self._settings:
            setting.offer(self._pickups)


REFRESH_S, LIST_EVERY_S = 1.0, 5.0
MOST_LISTED = 12


def job_screen(view: View) -> None:
    """Build the screen."""
    JobScreen(view)


class JobScreen:
    """The parts that change, and what they were drawn from."""

    def __init__(self, view: View) -> None:
        self._view, self._controller = view, view.controller
        self._stamp: JobStamp | None = None
        self._listed: object = None
        self._all = False
        with ui.element("div").classes("sheet job-screen"):
            self._open_job = ui.html(sanitize=False)
            self._wrong = ui.label().classes("loud").props('role="status"')
            self._more_place = ui.element("div")
            heading(words.OPEN_HEAD)
            self._list = ui.element("div")
            with ui.element("div").classes("form"):
                self._elsewhere = text_field(words.ELSEWHERE_FIELD, words.ELSEWHERE_HELP)
                with ui.element("div"):
                    plain_button(words.OPEN, view.act(self._open_typed))
            self._form_place = ui.element("div")
            self._offer_new()
            self._shelf = ShelfPart(view)
            self._shelf.show(None)
        ui.timer(REFRESH_S, self._refresh)
        ui.timer(LIST_EVERY_S, self._refresh_list)

    def _offer_new(self) -> None:
        """Put the form for a new job here; beside an open one only once it is asked for."""
        self._form_place.clear()
        with self._form_place:
            if self._controller.path is None:
                self._new_form()
            else:
                plain_button(words.BY_HAND, self._new_form_instead)

    def _new_form_instead(self) -> None:
        self._form_place.clear()
        with self._form_place:
            self._new_form()

    def _new_form(self) -> None:
        heading(words.BEGIN_HEAD)
        ui.label(words.BEGIN_HELP)
        self._form = JobForm(
            NEW_JOB,
            press=(words.BEGIN_JOB, self._view.act(self._begin)),
            folder=words.FOLDER_HELP.format(place=self._controller.jobs_folder.resolve()),
        )

    def _draw_more(self, job: Job | None) -> None:
        """Put the form for the open job here, as job.toml has it now."""
        self._more_place.clear()
        if job is None:
            return
        with self._more_place, ui.expansion(words.MORE_HEAD).classes("more-form"):
            ui.label(words.MORE_HELP)
            self._more = JobForm(
                fields_of(job),
                press=(words.KEEP_CHANGES, self._view.act(self._keep)),
                folder=None,
                colours=lead_colours(job, self._controller.entries()),
            )

    async def _keep(self) -> None:
        if self._controller.runner.running:
            raise RecordingError(words.PAUSE_FIRST)
        fields = self._more.fields()
        self._more.mark(field_errors(fields, new=False))
        await self._view.in_thread(change_job, self._controller.open_path, fields)
        self._view.say(words.CHANGES_KEPT, good=True)
        await self._opened()

    async def _begin(self) -> None:
        fields = self._form.fields()
        self._form.mark(field_errors(fields, new=True))
        path = await self._view.in_thread(create_job_folder, fields, under=self._controller.jobs_folder)
        await self._view.in_thread(self._controller.open, path)
        made = self._controller.job()
        names = ", ".join(p.name for p in made.pickups)
        self._view.say(words.BEGUN.format(path=path.resolve(), pickups=names), good=True)
        await self._opened()

    async def _open(self, path: Path) -> None:
        await self._view.in_thread(self._controller.open, path)
        self._view.say(words.OPENED.format(title=self._controller.job().title), good=True)
        await self._opened()

    async def _open_typed(self) -> None:
        said = text_of(self._elsewhere)
        if not said:
            raise JobError(words.NO_FOLDER_NAMED)
        await self._open(typed_job_folder(said, under=self._controller.jobs_folder))
        self._elsewhere.set_value("")

    async def _opened(self) -> None:
        self._stamp = stamp_of(self._controller.path)
        self._draw_open()
        self._offer_new()
        await self._refresh_list()
        await self._view.in_thread(self._controller.judge)

    async def _refresh(self) -> None:
        """Draw the open job anew where its job.toml is another one, and have it judged."""
        stamp, before = stamp_of(self._controller.path), self._stamp
        if before is not None and (stamp.path, stamp.job) == (before.path, before.job):
            return
        self._stamp = stamp
        if before is not None and before.path != stamp.path:
            self._offer_new()
        if not self._draw_open() or before is None or before.path != stamp.path:
            return
        if self._controller.control.holder == self._view.page and not self._controller.runner.running:
            try:
                await self._view.in_thread(self._controller.judge, since=self._controller.live.now.latest)
            except (CoilwiseError, OSError) as error:  # the log names what the new job.toml has no more
                self._wrong.set_text(words.REFUSED_FILE.format(why=plain(str(error))))

    def _draw_open(self) -> bool:
        """Draw the open job; where job.toml is refused, say why, and leave what was drawn."""
        try:
            job = None if self._controller.path is None else self._controller.job()
        except (CoilwiseError, OSError) as error:
            self._wrong.set_text(words.REFUSED_FILE.format(why=plain(str(error))))
            return False
        self._wrong.set_text("")
        self._open_job.set_content(open_html(job, self._controller.path))
        self._draw_more(job)
        self._shelf.show(job)
        return True

    async def _refresh_list(self) -> None:
        stamps = await self._view.in_thread(stamps_in, self._controller.jobs_folder)
        wanted = (stamps, self._controller.path, self._all)
        if wanted == self._listed:
            return
        shown = stamps if self._all else stamps[:MOST_LISTED]
        found = await self._view.in_thread(listed_jobs, shown)
        self._listed = wanted
        self._list.clear()
        with self._list:
            if not found:
                ui.label(words.NO_JOBS.format(place=self._controller.jobs_folder.resolve()))
                return
            self._table(found)
            if len(shown) < len(stamps):
                plain_button(words.SHOW_ALL.format(count=len(stamps)), self._show_all)

    def _table(self, found: tuple[ListedJob, ...]) -> None:
        with ui.element("table"):
            heads = "".join(f'<th scope="col">{h}</th>' if h else "<td></td>" for h in words.OPEN_HEADS)
            ui.html(f"<tr>{heads}</tr>", sanitize=False, tag="thead")
            with ui.element("tbody"):
                for one in found:
                    self._row(one)

    def _row(self, one: ListedJob) -> None:
        async def open_it() -> None:
            await self._open(one.path)

        with ui.element("tr"):
            ui.html(escape(plain(one.title)), sanitize=False, tag="th").props('scope="row"')
            for cell in (one.path.name, one.at):
                ui.html(escape(plain(cell)), sanitize=False, tag="td")
            with ui.element("td"):
                if self._is_open(one.path):
                    ui.label(words.OPEN_NOW)
                    return
                button = plain_button(words.OPEN, self._view.act(open_it))
                button.props["aria-label"] = words.OPEN_IT.format(title=plain(one.title))

    def _is_open(self, path: Path) -> bool:
        return self._controller.path is not None and self._controller.path.resolve() == path.resolve()

    async def _show_all(self) -> None:
        self._all = True
        await self._refresh_list()


def open_html(job: Job | None, path: Path | None) -> str:
    """Return what is on the bench, and where it is written."""
    if job is None or path is None:
        return f"<h2>{words.NO_TITLE}</h2><p>{words.JOB_NONE}</p>"
    home = path.resolve()
    settings = (
        html_table(SETTING_HEADS, setting_cells(job), caption=words.SETTINGS_HEAD)
        if job.settings
        else f"<p>{words.NO_SETTINGS}</p>"
    )
    return "".join(
        (
            f"<h2>{escape(words.JOB_OPEN_HEAD.format(title=plain(job.title)))}</h2>",
            f"<p>{escape(words.JOB_LIES.format(path=plain(str(home))))}</p>",
            html_table(PICKUP_HEADS, pickup_cells(job), caption=words.PICKUPS_HEAD),
            settings,
            f"<p>{escape(words.JOB_EDIT.format(path=plain(str(home / JOB_FILE))))}</p>",
        )
    )
