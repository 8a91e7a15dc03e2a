"""The report as a page of its own, behind the same doors.

Task: serve the report of the open job as it was written last, to look at and to print. Signs, units: none.
"""

from __future__ import annotations

from fastapi import FastAPI
from fastapi.responses import HTMLResponse, PlainTextResponse, Response

from reports.page.room import Room
from reports.report_files import PAGE

ADDRESS = "/report/{stage}"
NONE_YET = "No report was written yet. Write it on the page, then look again."


def add_report(app: FastAPI, room: Room) -> None:
    """Add the address under which reports are found."""

    @app.get(ADDRESS)
    def report(stage: str) -> Response:
        path = (
            None
            if room.path is None or stage not in ("found", "after")
            else room.path / "report" / PAGE.format(stage)
        )
        if path is None or not path.is_file():
            return PlainTextResponse(NONE_YET, status_code=404)
        return HTMLResponse(path.read_text(encoding="utf-8"), headers={"cache-control": "no-store"})
