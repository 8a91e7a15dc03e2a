"""The screen with the iron in hand: which lead goes where, and what that makes of every setting.

Task: the parts of the report that are about leads, as the verdict of this moment has them; drawn anew only
when the verdict is another one. Signs, units: those of the verdict.
"""

from __future__ import annotations

from html import escape

from nicegui import ui

from capture.job import Job
from dsp.errors import CoilwiseError
from reports.cautions import JUDGEMENT
from reports.html_parts import fragments
from reports.lead_drawing import lead_pictures
from reports.page import page_words as words
from reports.page.view import View
from reports.verdict import Verdict
from reports.words import SECTIONS

LOOK_EVERY_S = 1.0


def wiring_screen(view: View) -> None:
    """Build the screen."""
    room = view.room
    drawn: list[object] = [None, None]
    with ui.element("div").classes("sheet wiring"):
        told = ui.label(words.WIRING_NOT_YET).props('role="status"')
        parts = ui.html(sanitize=False)

    async def look() -> None:
        verdict = room.board.moment.verdict
        if verdict is not None and drawn == [room.path, verdict]:
            return
        drawn[:] = [room.path, verdict]
        told.set_text(words.NO_JOB if room.path is None else words.WIRING_NOT_YET if verdict is None else "")
        told.set_visibility(verdict is None)
        if verdict is None:
            parts.set_content("")
            return
        try:
            parts.set_content(await view.slowly(wiring_html, room.job(), verdict))
        except (CoilwiseError, OSError):  # job.toml is being edited: as it was, until it can be read
            drawn[:] = [None, None]

    ui.timer(LOOK_EVERY_S, look)


def wiring_html(job: Job, verdict: Verdict) -> str:
    """Return the parts with the cautions that go with the work."""
    listed = "".join(f"<li>{escape(caution)}</li>" for caution in verdict.cautions or (JUDGEMENT,))
    cautions = f'<section class="cautions"><h2>{SECTIONS["cautions"]}</h2><ul>{listed}</ul></section>'
    return fragments(verdict, leads=lead_pictures(job, verdict)) + cautions
