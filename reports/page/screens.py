"""The screens besides the one for playing, by the name of their tab."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from reports.page.screen_bring import bring_screen
from reports.page.screen_job import job_screen
from reports.page.screen_readings import readings_screen
from reports.page.screen_report import report_screen
from reports.page.screen_setup import setup_screen
from reports.page.screen_wiring import wiring_screen
from reports.page.view import View

SCREENS: Mapping[str, Callable[[View], object]] = MappingProxyType(
    {
        "setup": setup_screen,
        "readings": readings_screen,
        "bring": bring_screen,
        "wiring": wiring_screen,
        "report": report_screen,
        "job": job_screen,
    }
)
