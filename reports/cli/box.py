"""``coilwise box``: the boxes whose two inputs this machine remembers."""

from __future__ import annotations

from typing import Annotated

import typer


def box(
    forget: Annotated[bool, typer.Option("--forget", help="Forget all of them.")] = False,
) -> None:
    """Show what split checks of earlier jobs found of a box's two inputs, or forget it.

    The next job on such a box begins with that, with a doubt that grows each day, and says so.

    Example: coilwise box --forget
    """
    from datetime import date

    from reports.messages import boxes as words
    from reports.verdict.box_memory import BoxMemory

    memory = BoxMemory.default()
    if forget:
        typer.echo(words.BOX_FORGOTTEN if memory.forget() else words.BOX_NONE)
        return
    known = memory.read()
    if not known:
        typer.echo(words.BOX_NONE)
        return
    for one in known:
        typer.echo(words.box_line(**one.model_dump(), counts=one.counts(date.today())))
    typer.echo(words.BOX_KEPT_IN.format(memory.path))
