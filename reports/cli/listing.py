"""``coilwise list``: what is on the bench and what was done, as tables."""

from __future__ import annotations

import typer

from reports.cli.shared import FolderArgument

NO_ENTRIES = "Nothing has been entered yet."


def list_job(folder: FolderArgument) -> None:
    """Show the job: pickups, settings and all entries.

    Voided entries are marked. A recording that cannot be used says why.

    Example: coilwise list sunday-job
    """
    from capture.takes.folder import JobFolder
    from reports.messages.sentences import say
    from reports.messages.wording import plain
    from reports.model.take_notes import FileNote
    from reports.render.tables import (
        LOG_HEADS,
        PICKUP_HEADS,
        SETTING_HEADS,
        log_cells,
        pickup_cells,
        setting_cells,
    )
    from reports.render.text_table import print_table

    job = JobFolder.open(folder)
    remarks = {t.entry.id: say(FileNote(t.problem)) for t in job.takes() if t.problem}
    typer.echo(plain(job.job.title))
    print_table(PICKUP_HEADS, pickup_cells(job.job), title="Pickups")
    if job.job.settings:
        print_table(SETTING_HEADS, setting_cells(job.job), title="Settings")
    if job.log.entries:
        print_table(LOG_HEADS, log_cells(job.log, remarks), title="Log")
    else:
        typer.echo(NO_ENTRIES)
    for warning in job.log.warnings:
        typer.echo(f"Warning: {plain(warning)}")
