"""What the files of a report are called. Signs, units: none."""

from __future__ import annotations

PAGE = "report-{}.html"
TEXT = "report-{}.txt"
DATA = "verdict-{}.json"
"""By stage, so that the report on the guitar as found stays when the one after the work is written."""
