"""Bars that show how loud each input is, for every screen that listens.

Task: one bar an input; twenty times a second only widths and figures change (page.js), nothing is built anew.
Units: dB re full scale. Signs: none.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from nicegui import ui

from reports.page.view import View
from reports.words import plain

LOWEST_DB = -80.0


class LevelBars:
    """The bars, where it is built."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._names: list[str] = []
        self._bars = ui.html(sanitize=False).classes("levels")

    def show(self, names: Sequence[str], levels: Sequence[float]) -> None:
        """Show the level of each input beside its name; no bars where there are no levels."""
        if list(names) != self._names:
            self._names = list(names)
            self._bars.set_content(bars_html(names))
        if levels:
            figures = ",".join(f"{max(LOWEST_DB, db):.1f}" for db in levels)
            self._view.client.run_javascript(f"coilwiseLevels([{figures}])")


def bars_html(names: Sequence[str]) -> str:
    """Return one empty bar a name."""
    return "".join(
        f'<div class="level" role="meter" aria-label="{escape(plain(n))}" aria-valuemin="{LOWEST_DB:.0f}" '
        f'aria-valuemax="0" aria-valuenow="{LOWEST_DB:.0f}"><span class="name">{escape(plain(n))}</span>'
        '<span class="track"><span class="fill"></span></span><span class="figure"></span></div>'
        for n in names
    )
