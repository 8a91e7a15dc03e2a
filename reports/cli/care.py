"""``coilwise care`` and ``box``: what this machine remembers of its bench's care, and of its boxes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from reports.verdict.care_memory import RememberedCare


def care(
    remember: Annotated[
        bool, typer.Option("--remember", help="Agree: learn from jobs checked after soldering.")
    ] = False,
    forget: Annotated[
        bool, typer.Option("--forget", help="Remove what was learned, and learn no more.")
    ] = False,
) -> None:
    """Show how careful this bench is by its earlier jobs, begin to remember it, or forget it.

    A careful person makes fewer mistakes, so takes that agree are worth more. Where you agree, each job that
    is checked after soldering is remembered: how well it agrees with itself, no title and no name. It stays
    on this machine.

    Example: coilwise care --remember
    """
    from reports.inference.error_priors import usual_care
    from reports.messages import care as words
    from reports.render.layout import text_table
    from reports.verdict.care_memory import CareMemory

    if remember and forget:
        raise typer.BadParameter(words.CARE_EITHER)
    memory = CareMemory.default()
    if forget:
        typer.echo(words.CARE_FORGOTTEN if memory.forget() else words.CARE_NONE_TO_FORGET)
        return
    if remember:
        typer.echo(words.CARE_BEGUN if memory.agree() else words.CARE_REMEMBERED_ALREADY)
    kept = memory.read()
    if kept is None:
        typer.echo(words.CARE_NOT_REMEMBERED)
        typer.echo(text_table(words.CARE_HEADS, words.care_cells(usual_care())))
        return
    typer.echo(words.care_known_from(len(kept.jobs), str(memory.path)))
    typer.echo(text_table(words.CARE_HEADS, words.care_cells(usual_care(), kept.learned, kept.known.prior)))


def complain(text: str) -> None:
    """One line on standard error; the command goes on."""
    from reports.cli.shared import PROGRAM

    typer.echo(f"{PROGRAM}: {' '.join(text.split())}", err=True)


def remembered() -> RememberedCare:
    """What this machine remembers of care; a file that cannot be read is complained of and not used."""
    from reports.verdict.care_memory import remembered_care

    return remembered_care(complain=complain)


def box(
    forget: Annotated[bool, typer.Option("--forget", help="Forget all of them.")] = False,
) -> None:
    """Show what split checks of earlier jobs found of a box's two inputs, mains and input, or forget it.

    The next job on such a box begins with that, with a doubt that grows each day, and says so.

    Example: coilwise box --forget
    """
    from datetime import date

    from reports.entry.bench_memory import BenchMemory, bench_lines
    from reports.messages import boxes as words
    from reports.verdict.box_memory import BoxMemory

    memory, bench = BoxMemory.default(), BenchMemory.default()
    if forget:
        forgotten = (memory.forget(), bench.forget())
        typer.echo(words.BOX_FORGOTTEN if any(forgotten) else words.BOX_NONE)
        return
    known, lines = memory.read(), bench_lines(bench.read())
    if not known and not lines:
        typer.echo(words.BOX_NONE)
        return
    for line in lines:
        typer.echo(line)
    for one in known:
        typer.echo(words.box_line(**one.model_dump(), counts=one.counts(date.today())))
    typer.echo(words.BOX_KEPT_IN.format(memory.path))
