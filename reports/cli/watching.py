"""Watching a job that another process records into: its new lines and what is believed, as they come."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from capture import LOG_FILE
from capture.takes.folder import JobFolder
from capture.takes.recording_lock import is_recording
from reports.messages.session import OVER_THERE, WATCHED, pair_line
from reports.verdict.building import judge

LOOK_EVERY_S = 1.0


def watch_job(folder: Path, echo: Callable[[str], None]) -> None:
    """Write what is entered and believed until nobody records any more, or Ctrl-C."""
    seen, size = {e.id for e in JobFolder.open(folder).log.standing}, -1
    told: tuple[str, ...] = ()
    while True:
        now = (folder / LOG_FILE).stat().st_size if (folder / LOG_FILE).exists() else 0
        if now != size:
            size, opened = now, JobFolder.open(folder)
            for entry in (e for e in opened.log.standing if e.id not in seen):
                seen.add(entry.id)
                echo(WATCHED.format(entry=entry.id, kind=entry.kind))
            lines = tuple(pair_line(p) for p in judge(opened).verdict.pairs)
            for line in lines:
                if line not in told:
                    echo(f"  {line}")
            told = lines
        if not is_recording(folder):
            echo(OVER_THERE)
            return
        time.sleep(LOOK_EVERY_S)
