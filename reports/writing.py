"""Writing the report folder: page, text and JSON.

Only takes of the stage the verdict is about are drawn: older ones show leads that have changed since.
Task: the three faces of one judgement into files. A report is made anew each time; recordings and log are
only read. Each file is replaced whole, so that a reader never sees half of one.
"""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

from reports.drawn import exhibits_of
from reports.drawn_jack import jack_exhibits
from reports.html import as_html
from reports.judging import Judgement
from reports.lead_drawing import lead_pictures
from reports.report_files import DATA, PAGE, TEXT
from reports.text import as_text


def write_report(judged: Judgement, folder: Path) -> Path:
    """Write all faces into ``folder`` and return the page's path.

    Raises
    ------
    OSError
        If the folder cannot be written to.

    """
    pickups = [p.name for p in judged.belief.ledger.wires.job.pickups]
    made_at = datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC")
    stage = judged.verdict.stage
    latest = [h for h in judged.heard if h.entry.stage == stage]
    jack = jack_exhibits(latest, judged.jack, stage=stage)
    leads = lead_pictures(judged.belief.ledger.wires.job, judged.verdict)
    page = as_html(judged.verdict, exhibits_of(latest, pickups), made_at=made_at, jack=jack, leads=leads)
    folder.mkdir(parents=True, exist_ok=True)
    _replace(folder / TEXT.format(stage), as_text(judged.verdict))
    _replace(folder / DATA.format(stage), judged.verdict.model_dump_json(indent=2) + "\n")
    _replace(folder / PAGE.format(stage), page)
    return folder / PAGE.format(stage)


def _replace(path: Path, text: str) -> None:
    part = path.with_name(f".{path.name}.part")
    part.write_text(text, encoding="utf-8")
    os.replace(part, path)


def written(folder: Path, judged: Judgement, to: Path | None = None) -> Path:
    """Write the report of a judgement and return its page; the first time, drawing takes a second to load."""
    from reports.writing import write_report

    return write_report(judged, to if to is not None else folder / "report")
