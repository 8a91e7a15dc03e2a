"""``coilwise shelf``: what another job found of a pickup and the bench's coil; ``coilwise batch``: a row."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from capture import JobError
from reports.cli.shared import FolderArgument, InputOption, PickupArgument, RateOption, job_folder, log_entry

MOST_IN_ROW = 40
"""As reports.entry.new_job has it, which help does not wait for."""
MADE = "{place}: made, a row of {count} pickups beside the reference coil {shelf}."
NEXT_OF_ROW = (
    "Next: coilwise batch {named} --record --tool YOUR-TOOL. Name colours in job.toml, or tag the lead under "
    "the tip's clip before it comes off."
)
ROW_DONE = "Every pickup of the row was lifted three times; nothing is left to record."
PAGE_IS = "The labels to print are {path}"


def shelf(
    *,
    folder: FolderArgument,
    pickup: PickupArgument,
    other: Annotated[
        Path,
        typer.Option("--from", help="The job in which it was lifted beside the coil.", callback=job_folder),
    ],
    there: Annotated[
        str | None, typer.Option("--called", help="Its name in that job; left out: the same as here.")
    ] = None,
) -> None:
    """Count on what another job found of a pickup and the bench's reference coil.

    Both jobs have the coil, a pickup with the key shelf in job.toml, and the same tool was lifted off it in
    both. Then Monday's loose pickup and Thursday's guitar compare. It is an entry like any other, with a
    doubt that grows with each day, and is taken back with coilwise void.

    Example: coilwise shelf thursday neck --from monday
    """
    from capture.job import read_job
    from capture.takes.folder import JobFolder
    from reports.verdict.shelf import relation_for

    log_entry(folder, relation_for(read_job(folder), pickup, other=JobFolder.open(other), called=there))


def batch(
    *,
    folder: Annotated[str, typer.Argument(help="The row's folder, or the name of a new one with --count.")],
    count: Annotated[
        int | None,
        typer.Option(help="Begin a row of so many loose pickups, 01, 02 …", min=1, max=MOST_IN_ROW),
    ] = None,
    shelf: Annotated[
        str | None,
        typer.Option("--shelf", help="With --count: the reference coil, by its name on the shelf."),
    ] = None,
    coils: Annotated[int, typer.Option(help="With --count: coils of each pickup, 1 or 2.", min=1, max=2)] = 1,
    hot: Annotated[str | None, typer.Option(help="With --count: the colour of hot, if all have it.")] = None,
    ground: Annotated[str | None, typer.Option(help="With --count: the colour of ground.")] = None,
    do_record: Annotated[
        bool, typer.Option("--record", help="Lift: the coil first, then each pickup, three times each.")
    ] = False,
    tool: Annotated[str | None, typer.Option(help="With --record: which steel tool, in your words.")] = None,
    rig: Annotated[str | None, typer.Option(help="With --record: box and cable, in your words.")] = None,
    source: InputOption = None,
    rate: RateOption = None,
) -> None:
    """Sort a row of pickups: lift each beside the bench's reference coil, and print a label for each.

    A label says how the pickup stands to the coil, how sure that is, and what does not fit the row: one that
    goes the other way, another resistance, weak lifts. Ohms are entered with coilwise ohms.

    Example: coilwise batch winding-0412 --count 12 --shelf "coil A" --hot white --ground black

    Then: coilwise batch winding-0412 --record --tool "steel rod"
    """
    from capture.takes.folder import JobFolder
    from reports.render.labels import labels_text, write_labels
    from reports.verdict.shelf import batch_of

    if count is not None:
        _begin(folder, count, shelf=shelf, coils=coils, hot=hot, ground=ground)
        return
    home = job_folder(Path(folder))
    if do_record:
        _record(home, tool=tool, rig=rig, source=source, rate=rate)
    found = batch_of(JobFolder.open(home))
    typer.echo(labels_text(found), nl=False)
    from capture.disk.reading import require_own
    from reports.render.parts import REPORT

    typer.echo(f"\n{PAGE_IS.format(path=write_labels(found, require_own(home, REPORT)))}")
    if any(row.standing == "unsettled" for row in found.rows):
        raise typer.Exit(3)


def _begin(
    folder: str, count: int, *, shelf: str | None, coils: int, hot: str | None, ground: str | None
) -> None:
    from reports.entry.finding import quoted
    from reports.entry.new_job import RowFields, create_row, jobs_folder

    if not shelf:
        raise JobError("--count: say with --shelf how the reference coil is called")
    row = RowFields(folder, count, shelf, coils=coils, hot=hot or "", ground=ground or "")
    place = create_row(row, under=jobs_folder())
    typer.echo(MADE.format(place=place, count=count, shelf=shelf))
    typer.echo(NEXT_OF_ROW.format(named=quoted(place)))


def _record(home: Path, *, tool: str | None, rig: str | None, source: str | None, rate: int | None) -> None:
    """Record what is missing of the row, with a step for each plug or clip that is moved."""
    from capture.takes.folder import JobFolder
    from reports.cli.record import run_session
    from reports.session.options import RecordingOptions
    from reports.session.rows import row_recording

    said = RecordingOptions(source=source, rate=rate, rig=rig, tool=tool)
    options = row_recording(JobFolder.open(home), said)
    if options is None:
        typer.echo(ROW_DONE)
        return
    run_session(home, options)
