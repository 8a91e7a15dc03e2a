"""``coilwise list``: what is on the bench and what was done, as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.cli.shared import FolderArgument

if TYPE_CHECKING:
    pass


def list_job(folder: FolderArgument) -> None:
    """Show the job: pickups, settings and all entries.

    Voided entries are marked. A recording that cannot be used says why.

    Example: coilwise list sunday-job
    """
    from rich.console import Console

    from capture.takes.folder import JobFolder
    from reports.messages.sentences import say
    from reports.messages.wording import plain
    from reports.model.take_notes import FileNote
    from reports.render.tables import log_table, pickups_table, settings_table

    job = JobFolder.open(folder)
    remarks = {t.entry.id: say(FileNote(t.problem)) for t in job.takes() if t.problem}
    console = Console(highlight=False, markup=False, emoji=False)
    console.print(plain(job.job.title))
    console.print(pickups_table(job.job))
    if job.job.settings:
        console.print(settings_table(job.job))
    if job.log.entries:
        console.print(log_table(job.log, remarks))
    else:
        console.print("Nothing has been entered yet.")
    for warning in job.log.warnings:
        console.print(f"Warning: {plain(warning)}")
