"""The commands that answer: `verdict`, `report`, `demo`, and `summary` of all jobs below a folder."""

from __future__ import annotations

import codecs
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer

from capture import JobError
from reports.cli.care import complain, remembered
from reports.cli.kept_answers import Answer, answered
from reports.cli.shared import AT_FAULT, FolderArgument, clear_in, leave, progress_bar, require_free

if TYPE_CHECKING:
    from reports.render.blocks import Paper
    from reports.render.exports import JobRow
    from reports.verdict.building import Judgement


PAPERS = ("a4", "letter")
MORE = "The rest, and why: with --all. On paper: coilwise report {job} --pdf."
MORE_SHORT = "The rest, and why: with --all. On paper: coilwise report, with --pdf."
MORE_OF_DEMO = "The rest, and why: coilwise verdict {job} --all"
DEMO_HERE = "coilwise-demo"
DEMO = Path(__file__).resolve().parents[2] / "recordings" / "demo"


def verdict(
    folder: FolderArgument,
    json: Annotated[
        bool, typer.Option("--json", help="Print the verdict as JSON, for other programs.")
    ] = False,
    everything: Annotated[
        bool, typer.Option("--all", help="Print the reasons, tables and cautions as well.")
    ] = False,
) -> None:
    """Say which pickups are in phase, how sure that is, and which leads to exchange.

    The answer in twelve lines; the rest with --all, or on paper with coilwise report.

    Example: coilwise verdict sunday

    The exit status is 0 where every pair that shares a setting is settled or likely, 3 where something is
    unsettled or contradicts, and 2 where the job itself is at fault.
    """
    from reports.entry.finding import quoted

    utf8 = codecs.lookup(sys.stdout.encoding or "ascii").name == "utf-8"

    def judged_anew() -> Answer:
        judged = _judged_here(folder)
        if json:
            text = _as_json(judged, ascii_only=not utf8) + "\n"
        else:
            text = _as_text(judged, folder) if everything else _as_short_text(judged, folder)
        return Answer(text, clear_in(judged.verdict, folder))

    answer = answered(folder, f"verdict {json} {everything} {utf8} {quoted(folder)}", judged_anew)
    typer.echo(answer.text, nl=False)
    leave(clear=answer.clear)


def report(
    folder: FolderArgument,
    to: Annotated[
        Path | None,
        typer.Option("--to", help="Folder for the report; the job's own report folder if left out."),
    ] = None,
    pdf: Annotated[bool, typer.Option("--pdf", help="Write it as a PDF as well, ready to print.")] = False,
    paper: Annotated[str, typer.Option(help="The paper of the PDF: a4 or letter.")] = "a4",
) -> None:
    """Write the report that goes with the guitar: a page to print, the same as text, and as JSON.

    The first sheet goes with the guitar, the bench sheet behind it has the evidence.

    Example: coilwise report sunday --pdf --paper letter
    """
    wanted = paper.lower()
    if wanted not in PAPERS:
        raise JobError(f'--paper: "{paper}" is neither a4 nor letter')
    if to is not None and to.exists() and not to.is_dir():
        from reports.messages.entering import NO_FOLDER_FOR_REPORT

        raise JobError(NO_FOLDER_FOR_REPORT.format(path=to))
    judged = _judged_here(folder)
    from reports.render.parts import PRINTED
    from reports.render.report import write_judgement

    page = write_judgement(folder, judged, to, paper=cast("Paper", wanted) if pdf else None)
    typer.echo(f"The report is {page}")
    if pdf:
        typer.echo(f"To print: {page.with_name(PRINTED.format(judged.verdict.stage))}")
    leave(clear=clear_in(judged.verdict, folder))


def demo(
    to: Annotated[
        Path | None,
        typer.Option("--to", help="Folder for the demo's report; in the copy of the job if left out."),
    ] = None,
) -> None:
    """Run the whole job on an invented bass that got another neck pickup, and write its report.

    The job is copied into the folder coilwise-demo here, to be looked at and tried on.

    Example: coilwise demo
    """
    from capture.takes.folder import JobFolder
    from reports.entry.new_job import copy_job
    from reports.evidence.cache import processors
    from reports.verdict.building import judge

    home = copy_job(DEMO, Path(DEMO_HERE))
    judged = judge(JobFolder.open(home), workers=processors())
    from reports.render.report import write_judgement

    page = write_judgement(home, judged, to)
    typer.echo(_as_short_text(judged, home, more=MORE_OF_DEMO), nl=False)
    typer.echo(f"\nThe job is {home}, the report to print is {page}")


def _judged_here(folder: Path) -> Judgement:
    """The verdict with the care that this machine remembers, which learns from a job that was checked."""
    from capture.takes.folder import JobFolder
    from reports.evidence.cache import hearing, processors

    opened = JobFolder.open(folder)
    with hearing(opened, workers=processors()) as heard:
        from reports.verdict.building import judge_results
        from reports.verdict.care_memory import CareMemory, CareMemoryError

        memory = CareMemory.default()
        try:
            known = memory.read()
        except CareMemoryError as error:
            complain(str(error))
            known = None
        takes = heard()
    if known is None:
        return judge_results(opened, takes)
    judged = judge_results(opened, takes, care=known.before(folder))
    try:
        memory.learn(folder, judged)
    except CareMemoryError as error:
        complain(str(error))
    return judged


def _as_text(judged: Judgement, folder: Path) -> str:
    from reports.entry.finding import quoted
    from reports.messages.sentences import commands_naming
    from reports.render.text import as_text

    with commands_naming(quoted(folder)):
        return as_text(judged.verdict, judged.entries)


def _as_short_text(judged: Judgement, folder: Path, *, more: str = MORE) -> str:
    from reports.entry.finding import quoted
    from reports.messages.sentences import commands_naming
    from reports.render.text import SHORT_WIDTH, as_short_text

    said = more.format(job=quoted(folder))
    with commands_naming(quoted(folder)):
        return as_short_text(judged.verdict, more=said if len(said) <= SHORT_WIDTH else MORE_SHORT)


def _as_json(judged: Judgement, *, ascii_only: bool) -> str:
    from reports.render.exports import as_json

    return as_json(judged.verdict, ascii_only=ascii_only)


LEAST_AT_ONCE = 4
"""Fewer jobs are judged one after another."""
NONE_HERE = "{}: no job lies here; a job is a folder with job.toml"
SUMMARY_HEADS = ("job", "outcome", "what it says, and what to do", "thin", "takes")


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
    from capture.disk.writing import write_new
    from reports.render.exports import as_csv, find_jobs, totals

    if not folder.is_dir():
        raise JobError(f"{folder}: there is no such folder; name the one that the jobs lie in")
    require_free(csv)
    jobs = list(find_jobs(folder))
    if not jobs:
        raise JobError(NONE_HERE.format(folder))
    rows = _summary_rows(jobs)
    _print_summary(rows, folder)
    if csv is not None:
        write_new(csv, as_csv(rows, folder).encode("utf-8", errors="replace"))
        typer.echo(f"The table is {csv}")
    typer.echo(totals(rows))
    outcomes = {row.outcome for row in rows}
    if "failed" in outcomes:
        raise typer.Exit(AT_FAULT)
    leave(clear="open" not in outcomes)


def _summary_rows(jobs: Sequence[Path]) -> list[JobRow]:
    """Every job, several at once where there are many; rows come in the order of the jobs."""
    from concurrent.futures import ProcessPoolExecutor

    from reports.evidence.cache import ignore_interrupts, processors
    from reports.render.exports import summary_row

    workers = min(processors(), len(jobs)) if len(jobs) >= LEAST_AT_ONCE else 1
    judge_one = partial(summary_row, remembered=remembered(), workers=1 if workers > 1 else processors())
    rows: list[JobRow] = []
    with progress_bar("judging", len(jobs)) as progress, ExitStack() as stack:
        pool = None
        if workers > 1:
            pool = ProcessPoolExecutor(max_workers=workers, initializer=ignore_interrupts)
            stack.enter_context(pool)
        try:
            for row in (pool.map if pool else map)(judge_one, jobs):
                rows.append(row)
                progress(len(rows))
        except KeyboardInterrupt:
            if pool:
                pool.shutdown(wait=False, cancel_futures=True)
            raise
    return rows


def _print_summary(rows: Sequence[JobRow], place: Path) -> None:
    from reports.render.exports import summary_cells
    from reports.render.layout import print_table

    print_table(SUMMARY_HEADS, [summary_cells(row, place) for row in rows])
    failed = [row for row in rows if row.outcome == "failed"]
    for row in failed:
        typer.echo(f"Not judged: {row.folder}: {row.failure}")
