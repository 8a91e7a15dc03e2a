"""The rows of the form for a new job: pickups, and settings that join them.

Task: fields for each row, to be added and removed; `said` reads a row as it was typed. Units: as typed.
Signs: none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nicegui import ui

from reports.page import page_words as words
from reports.page.fields import choice_field, text_field, typed
from reports.page.job_said import HOW, OFF, TWO_COILS, PickupSaid, SettingSaid
from reports.words import plain

Done = Callable[[], None]


class PickupRow:
    """One pickup; ``changed`` is called when its name or its number of coils may be another."""

    def __init__(self, number: int, *, changed: Done, remove: Callable[[PickupRow], None]) -> None:
        self.number = number
        with ui.element("fieldset").classes("entry") as self.place:
            self._legend = _legend(words.PICKUP_NUMBER.format(n=number))
            with ui.element("div").classes("form"):
                self._name = text_field(words.NAME_FIELD, words.PICKUP_NAME_HELP).on("blur", changed)
                self._centre = text_field(words.CENTRE_FIELD, words.CENTRE_HELP)
                self._fitted = choice_field(words.FITTED_FIELD, words.FITTED, True)
                self._coils = choice_field(
                    words.COILS_FIELD, words.COIL_COUNTS, 1, on_change=lambda: self._coils_changed(changed)
                )
                self._hot = text_field(words.HOT_FIELD, words.LEAD_HELP)
                self._ground = text_field(words.GROUND_FIELD, words.LEAD_HELP)
                self._links = (
                    text_field(words.LINK_FIRST_FIELD, words.LINK_HELP),
                    text_field(words.LINK_SECOND_FIELD, words.LINK_HELP),
                )
                self._shield = choice_field(words.SHIELD_FIELD, words.SHIELDS, "")
                self._turnable = ui.checkbox(words.TURNABLE_FIELD)
            self._remove = _remove(lambda: remove(self))
        self.count_as(number)
        self._show_links()

    @property
    def label(self) -> str:
        """Its name, or its number while it has none."""
        return typed(self._name) or words.PICKUP_NUMBER.format(n=self.number)

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

    def said(self) -> PickupSaid:
        """Return what was typed."""
        first, second = self._links
        return PickupSaid(
            name=typed(self._name),
            centre=typed(self._centre),
            coils=self.coils,
            fitted=bool(self._fitted.value),
            turnable=bool(self._turnable.value),
            hot=typed(self._hot),
            ground=typed(self._ground),
            link=(typed(first), typed(second)),
            shield=str(self._shield.value),
        )

    def _coils_changed(self, changed: Done) -> None:
        self._show_links()
        changed()

    def _show_links(self) -> None:
        for link in self._links:
            link.set_visibility(self.coils == TWO_COILS)


class SettingRow:
    """One setting, with a choice for each pickup of the form."""

    def __init__(self, number: int, *, remove: Callable[[SettingRow], None]) -> None:
        self._members: dict[PickupRow, ui.select] = {}
        self._drawn: list[tuple[PickupRow, str, int]] = []
        with ui.element("fieldset").classes("entry") as self.place:
            self._legend = _legend(words.SETTING_NUMBER.format(n=number))
            with ui.element("div").classes("form"):
                self._name = text_field(words.NAME_FIELD, words.SETTING_NAME_HELP)
                self._join = choice_field(words.JOIN_FIELD, words.JOINS, "parallel")
                self._aim = choice_field(words.AIM_FIELD, words.AIMS, "in phase")
                self._quiet = ui.checkbox(words.QUIET_FIELD)
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
        self._choices.clear()
        self._members = {}
        with self._choices:
            for pickup, label, coils in wanted:
                offered = {k: v for k, v in words.MEMBERS.items() if k in _ways(coils)}
                before = chosen.get(pickup)
                self._members[pickup] = choice_field(
                    plain(label), offered, before if before in offered else OFF
                )

    def said(self) -> SettingSaid:
        """Return what was typed and chosen."""
        return SettingSaid(
            name=typed(self._name),
            on=tuple((pickup.label, str(field.value)) for pickup, field in self._members.items()),
            join=str(self._join.value),
            aim=str(self._aim.value),
            quiet=bool(self._quiet.value),
        )


def _ways(coils: int) -> tuple[str, ...]:
    return (OFF, *(how for how, (coil, _) in HOW.items() if coil is None or coils == TWO_COILS))


def _legend(text: str) -> ui.label:
    with ui.element("legend"):
        return ui.label(text)


def _remove(handler: Done) -> ui.button:
    return ui.button("", on_click=handler, color=None).props("no-caps")
