"""The form for a new job.

Task: all of what `coilwise new` takes, as fields; `said` reads it. Units, signs: none.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nicegui import ui

from reports.page import page_words as words
from reports.page.fields import button as plain_button
from reports.page.fields import choice_field, text_field, typed
from reports.page.job_rows import PickupRow, SettingRow
from reports.page.job_said import JobSaid
from reports.page.tray_list import heading

FIRST_PICKUPS = 2


class JobForm:
    """The fields; ``begin`` is what its button does."""

    def __init__(self, *, place: Path, begin: Any) -> None:
        self._pickups: list[PickupRow] = []
        self._settings: list[SettingRow] = []
        under = words.FOLDER_HELP.format(place=place.resolve())
        with ui.element("div").classes("form"):
            self._folder = text_field(words.FOLDER_FIELD, under)
            self._title = text_field(words.TITLE_FIELD, words.TITLE_HELP)
            self._scale = text_field(words.SCALE_FIELD, words.SCALE_HELP)
            self._mains = choice_field(words.MAINS_FIELD, words.MAINS, 0)
            self._strings = text_field(words.STRINGS_FIELD, words.STRINGS_HELP)
        heading(words.PICKUPS_HEAD, tag="h3")
        self._pickup_place = ui.element("div")
        plain_button(words.ADD_PICKUP, self._add_pickup)
        heading(words.SETTINGS_HEAD, tag="h3")
        ui.label(words.SETTINGS_HELP)
        self._setting_place = ui.element("div")
        plain_button(words.ADD_SETTING, self._add_setting)
        with ui.element("div").classes("actions"):
            plain_button(words.BEGIN_JOB, begin).classes("primary")
        for _ in range(FIRST_PICKUPS):
            self._add_pickup()
        self._add_setting()

    def said(self) -> JobSaid:
        """Return what was typed."""
        self._renamed()
        return JobSaid(
            folder=typed(self._folder),
            title=typed(self._title),
            scale=typed(self._scale),
            mains_hz=self._mains.value or None,
            strings=typed(self._strings),
            pickups=tuple(row.said() for row in self._pickups),
            settings=tuple(row.said() for row in self._settings),
        )

    def _add_pickup(self) -> None:
        with self._pickup_place:
            row = PickupRow(len(self._pickups) + 1, changed=self._renamed, remove=self._remove_pickup)
        self._pickups.append(row)
        self._renamed()

    def _add_setting(self) -> None:
        with self._setting_place:
            self._settings.append(SettingRow(len(self._settings) + 1, remove=self._remove_setting))
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
