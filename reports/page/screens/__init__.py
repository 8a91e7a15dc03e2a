"""The screens besides the one for playing, by the name of their tab."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from reports.page.screens.bring import bring_screen
from reports.page.screens.door import door_screen
from reports.page.screens.job import job_screen
from reports.page.screens.log import log_screen
from reports.page.screens.readings import readings_screen
from reports.page.screens.report import report_screen, wiring_screen
from reports.page.screens.setup import setup_screen
from reports.page.widgets.view import View

SCREENS: Mapping[str, Callable[[View], object]] = MappingProxyType(
    {
        "start": door_screen,
        "setup": setup_screen,
        "readings": readings_screen,
        "bring": bring_screen,
        "wiring": wiring_screen,
        "report": report_screen,
        "log": log_screen,
        "job": job_screen,
    }
)
