"""``coilwise help``: the manual's pages in the terminal."""

from __future__ import annotations

import shutil
from typing import Annotated, Any

import typer

FIRST = "What the manual has; coilwise help TOPIC shows it:"
LAST = "How a command is called: coilwise COMMAND --help, or coilwise help COMMAND."


def manual(
    *,
    ctx: typer.Context,
    topic: Annotated[
        str | None, typer.Argument(help="What to look up; left out, the topics are listed.")
    ] = None,
) -> None:
    """Show what is for looking up: how to record each gesture, what the verdict means, and more.

    Example: coilwise help gestures
    """
    from reports.render.manual import WIDE, shown, topics

    if topic is None:
        wide = max(map(len, topics())) + 2
        for line in (FIRST, *(f"  {name:<{wide}}{about}" for name, about in topics().items()), LAST):
            typer.echo(line)
        return
    whole: Any = ctx.parent
    command = whole.command.commands.get(topic)
    if command is not None and topic not in topics():
        typer.echo(command.get_help(type(whole)(command, parent=whole, info_name=topic)))
        return
    typer.echo(shown(topic, width=min(WIDE, shutil.get_terminal_size().columns)), nl=False)
