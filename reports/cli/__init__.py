"""The command line, `coilwise`: thin commands over functions that return text.

Only typer is imported on the way to a help text; what a command needs it imports when it runs.
"""

from __future__ import annotations

import gc
import io
import os
import sys
from collections.abc import Callable, Iterable, Sequence
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from reports.cli.care import box, care
from reports.cli.job import list_job, new, unusual
from reports.cli.manual import manual
from reports.cli.readings import change, check, jack, meter, ohms, pole, tag, void
from reports.cli.record import page, page_can_be_had, record
from reports.cli.recordings import bring, take
from reports.cli.setup import inputs, setup
from reports.cli.shared import run_plainly
from reports.cli.shelf import batch, shelf
from reports.cli.shortcut import shortcut
from reports.cli.verdict import demo, report, summary, verdict

COMMANDS: tuple[Callable[..., None], ...] = (
    *(new, inputs, setup, record, page, take, bring, meter, ohms, jack, pole, check, change, tag, void),
    *(shelf, batch, unusual),
    *(list_job, summary, verdict, report, care, box, shortcut, demo, manual),
)
NAMES: dict[Callable[..., None], str] = {list_job: "list", manual: "help"}
"""Of commands whose names are Python's own."""


def register(app: typer.Typer, commands: Iterable[Callable[..., None]] = COMMANDS) -> None:
    """Add commands to `app`."""
    for command in commands:
        app.command(name=_name(command))(command)


def _name(command: Callable[..., None]) -> str:
    return NAMES.get(command, command.__name__)


HELP = "Tell which pickups are in phase by listening to them."


class Overview(TyperGroup):
    """The commands as a group whose help says what to type next, and which jobs there are."""

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the overview in place of the list of all options."""
        from reports.entry.finding import jobs_here, jobs_sentence, quoted
        from reports.messages.overview import overview

        jobs = jobs_here()
        names = [name for name in self.list_commands(ctx) if name not in ("demo", "care", "box", "shortcut")]
        formatter.write(
            overview(latest=quoted(jobs[0]) if jobs else None, jobs=jobs_sentence(), commands=names)
        )


def _version(asked: bool) -> None:
    if asked:
        from importlib.metadata import PackageNotFoundError, version

        try:
            typer.echo(f"coilwise {version('coilwise')}")
        except PackageNotFoundError:
            typer.echo("coilwise, not installed")
        raise typer.Exit


def program(
    ctx: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", help="Say which version this is.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    """Tell which pickups are in phase by listening to them."""
    if ctx.invoked_subcommand is None:
        if page_can_be_had():
            page()
        else:
            typer.echo(ctx.get_help())


ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""Set before numpy is imported: the matrices are small, and several threads cost more than they save."""

SELDOM = 200_000
"""Objects between two collections: a tenth of a short run went into collecting what imports made."""


def command_line(commands: Iterable[Callable[..., None]] = COMMANDS) -> typer.Typer:
    """The command line with these commands."""
    made = typer.Typer(
        cls=Overview,
        help=HELP,
        add_completion=False,
        invoke_without_command=True,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    made.callback()(program)
    register(made, commands)
    return made


app = command_line()


def _called(words: Sequence[str]) -> typer.Typer:
    """The command line for these words: their command alone, since to read the options of all takes time."""
    alone = [command for command in COMMANDS if words and _name(command) == words[0]]
    return command_line(alone) if alone and alone != [manual] else app


def main() -> None:
    """Run the command line and leave with its exit status."""
    for threads in ONE_THREAD:
        os.environ.setdefault(threads, "1")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal that lacks a character shows that one is there
            stream.reconfigure(errors="replace")
    gc.set_threshold(SELDOM)
    sys.exit(run_plainly(_called(sys.argv[1:])))
