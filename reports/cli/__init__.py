"""The command line, `coilwise`: thin commands over functions that return text.

Only typer is imported on the way to a help text; what a command needs it imports when it runs.
"""

from __future__ import annotations

import gc
import io
import os
import sys
from collections.abc import Callable

import typer

from reports.cli.care import care
from reports.cli.job import list_job, new
from reports.cli.readings import change, check, jack, meter, ohms, pole, tag, void
from reports.cli.record import page, record
from reports.cli.recordings import bring, take
from reports.cli.setup import inputs, setup
from reports.cli.shared import run_plainly
from reports.cli.verdict import demo, report, summary, verdict

COMMANDS: tuple[Callable[..., None], ...] = (
    *(new, inputs, setup, record, page, take, bring, meter, ohms, jack, pole, check, change, tag, void),
    *(list_job, summary, verdict, report, care, demo),
)


def register(app: typer.Typer) -> None:
    """Add all commands to `app`."""
    for command in COMMANDS:
        app.command(name="list" if command is list_job else None)(command)


HELP = """Tell which pickups are in phase by listening to them.

You record each pickup while a string or a steel tool moves over it, enter what the meter said if you
used one, and ask for the verdict. Everything about one guitar lies in one folder, the job.

\b
  coilwise demo                     the whole job on an invented bass, with a report to look at
  coilwise new sunday               begin a job: which pickups, which settings
  coilwise setup sunday             listen to the inputs: is anything wrong?
  coilwise record sunday            record hands-free: it says what to play, and judges it at once
  coilwise take sunday pluck.wav    add a recording made elsewhere
  coilwise meter sunday bridge ...  add a meter reading
  coilwise verdict sunday           what is in phase, how sure that is, what to exchange
  coilwise report sunday            the same as a page to print and hand over
  coilwise page sunday              all of it in the browser, in type that reads from a metre
  coilwise summary recordings       all jobs below a folder in one table
  coilwise care                     how careful this bench is by its jobs, if it may remember

Unplug the guitar from any amplifier first. The tool advises; local codes and a licensed technician's
judgement go first.
"""

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""Set before numpy is imported: the matrices are small, and several threads cost more than they save."""

SELDOM = 200_000
"""Objects between two collections: a tenth of a short run went into collecting what imports made."""

app = typer.Typer(
    help=HELP,
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
register(app)


def main() -> None:
    """Run the command line and leave with its exit status."""
    for threads in ONE_THREAD:
        os.environ.setdefault(threads, "1")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal that lacks a character shows that one is there
            stream.reconfigure(errors="replace")
    gc.set_threshold(SELDOM)
    sys.exit(run_plainly(app))
