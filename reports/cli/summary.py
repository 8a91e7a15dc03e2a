"""``coilwise summary``: all jobs below a folder in one table."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from capture import JobError
from reports.cli.verdict import NOT_CLEAR

if TYPE_CHECKING:
    from reports.render.archive import JobRow


AT_FAULT = 2
LEAST_AT_ONCE = 4
"""Fewer jobs are judged one after another."""
NONE_HERE = "{}: no job lies here; a job is a folder with job.toml"
THERE_ALREADY = "{}: is there already, and nothing is written over; name another file"
HEADS = ("job", "outcome", "what it says, and what to do", "thin", "takes")


def summary(
    folder: Annotated[Path, typer.Argument(help="The folder that the jobs lie in, however deep.")],
    csv: Annotated[
        Path | None,
        typer.Option("--csv", help="Write this file as well: a line for each pair of each job."),
    ] = None,
) -> None:
    """Judge every job below a folder: a shop's archive, a winder's batch.

    A job that cannot be judged is listed with its reason, and the rest goes on. What was heard before is not
    heard again.

    Example: coilwise summary recordings --csv archive.csv

    The exit status is 0 where every job is clear (settled or likely, no conflict), 3 where one is open, 2
    where one could not be judged.
    """
    from reports.render.archive import as_csv, find_jobs, totals

    if not folder.is_dir():
        raise JobError(f"{folder}: there is no such folder; name the one that the jobs lie in")
    if csv is not None and csv.exists():
        raise JobError(THERE_ALREADY.format(csv))
    jobs = list(find_jobs(folder))
    if not jobs:
        raise JobError(NONE_HERE.format(folder))
    rows = _judged(jobs)
    _show(rows, folder)
    if csv is not None:
        with csv.open("x", encoding="utf-8", newline="") as file:
            file.write(as_csv(rows, folder))
        typer.echo(f"The table is {csv}")
    typer.echo(totals(rows))
    raise typer.Exit(_status(rows))


def _judged(jobs: Sequence[Path]) -> list[JobRow]:
    """Every job, several at once where there are many; rows come in the order of the jobs."""
    from reports.evidence.cache import ignore_interrupts, processors
    from reports.render.archive import summary_row

    workers = min(processors(), len(jobs))
    with _progress(len(jobs)) as told:
        if workers <= 1 or len(jobs) < LEAST_AT_ONCE:
            return [told(summary_row(job)) for job in jobs]
        with ProcessPoolExecutor(max_workers=workers, initializer=ignore_interrupts) as pool:
            try:
                return [told(row) for row in pool.map(summary_row, jobs)]
            except KeyboardInterrupt:
                pool.shutdown(wait=False, cancel_futures=True)
                raise


@contextmanager
def _progress(count: int) -> Iterator[Callable[[JobRow], JobRow]]:
    """A bar on the terminal; nothing where it is not one."""
    from rich.console import Console

    console = Console(stderr=True)
    if not console.is_terminal:
        yield lambda row: row
        return
    from rich.progress import Progress

    with Progress(console=console, transient=True) as bar:
        task = bar.add_task("judging", total=count)

        def told(row: JobRow) -> JobRow:
            bar.advance(task)
            return row

        yield told


def _show(rows: Sequence[JobRow], place: Path) -> None:
    from reports.render.archive import summary_cells
    from reports.render.text_table import print_table

    print_table(HEADS, [summary_cells(row, place) for row in rows])
    failed = [row for row in rows if row.outcome == "failed"]
    for row in failed:
        typer.echo(f"Not judged: {row.folder}: {row.failure}")


def _status(rows: Sequence[JobRow]) -> int:
    kinds = {row.outcome for row in rows}
    return AT_FAULT if "failed" in kinds else NOT_CLEAR if "open" in kinds else 0
