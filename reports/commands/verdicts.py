"""The commands that answer: `verdict`, `report`, `demo`.

Each prints what a function returned. Exit status of `verdict` and `report`: 0 every pair that matters is
settled or likely and nothing contradicts, 3 otherwise.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from reports.commands.shared import FolderArgument

if TYPE_CHECKING:
    from reports.judging import Judgement

NOT_CLEAR = 3
DEMO = Path(__file__).resolve().parents[2] / "recordings" / "demo"


def register_verdicts(app: typer.Typer) -> None:
    """Add `verdict`, `report` and `demo` to `app`."""
    for command in (verdict, report, demo):
        app.command()(command)


def verdict(
    folder: FolderArgument,
    json: Annotated[
        bool, typer.Option("--json", help="Print the verdict as JSON, for other programs.")
    ] = False,
) -> None:
    """Say which pickups are in phase, how sure that is, and which leads to exchange.

    Example: coilwise verdict sunday

    The exit status is 0 where every pair that shares a setting is settled or likely, 3 where something is
    unsettled or contradicts, and 2 where the job itself is at fault.
    """
    judged = _judged(folder)
    typer.echo(_as_json(judged) if json else _as_text(judged), nl=json)
    raise typer.Exit(_status(folder, judged))


def report(
    folder: FolderArgument,
    to: Annotated[
        Path | None,
        typer.Option("--to", help="Folder for the report; the job's own report folder if left out."),
    ] = None,
) -> None:
    """Write the report that goes with the guitar: a page to print, the same as text, and as JSON.

    Example: coilwise report sunday
    """
    judged = _judged(folder)
    from reports.writing import written

    page = written(folder, judged, to)
    typer.echo(f"The report is {page}")
    raise typer.Exit(_status(folder, judged))


def demo(
    to: Annotated[
        Path | None,
        typer.Option("--to", help="Folder for the demo's report; beside the demo's recordings if left out."),
    ] = None,
) -> None:
    """Run the whole job on an invented bass that got another neck pickup, and write its report.

    Example: coilwise demo
    """
    judged = _judged(DEMO)
    from reports.writing import written

    page = written(DEMO, judged, to)
    typer.echo(_as_text(judged), nl=False)
    typer.echo(f"\nThe report to print is {page}")


def _judged(folder: Path) -> Judgement:
    from capture.folder import JobFolder
    from reports.hearing.door import processors
    from reports.judging import judge

    return judge(JobFolder.open(folder), workers=processors())


def _as_text(judged: Judgement) -> str:
    from reports.text import as_text

    return as_text(judged.verdict)


def _as_json(judged: Judgement) -> str:
    return judged.verdict.model_dump_json(indent=2)


def _status(folder: Path, judged: Judgement) -> int:
    from capture.job import read_job
    from reports.judging import all_clear

    return 0 if all_clear(judged.verdict, read_job(folder)) else NOT_CLEAR
