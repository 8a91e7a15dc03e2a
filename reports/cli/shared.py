"""What several commands share: options, exit status, cautions, the progress bar, and plain refusals.

`run_plainly(app, args)` runs the command line and returns the exit status; when something is refused, a
person reads one plain line on standard error.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn, cast

import typer

from capture import JobError
from dsp import CoilwiseError, plain

if TYPE_CHECKING:
    from capture.log.writing import Written
    from reports.model.verdict import Verdict


def job_folder(name: Path) -> Path:
    """The job's folder: as given, or of that name here, under recordings/ or further up."""
    from reports.entry.finding import find_job

    return find_job(name)


def optional_job_folder(name: Path | None) -> Path | None:
    """The same, where no job need be named."""
    return None if name is None else job_folder(name)


FolderArgument = Annotated[
    Path,
    typer.Argument(
        help="The job: its folder, or the bare name of one under recordings/.", callback=job_folder
    ),
]
PickupArgument = Annotated[str, typer.Argument(help="The pickup, by its name in the job.")]
InputOption = Annotated[
    str | None,
    typer.Option("--input", help="Which input: number, name or a part of it; see coilwise inputs."),
]
InputsOption = Annotated[
    int | None, typer.Option(help="How many inputs of the box are used, 1 or 2.", min=1, max=2)
]
RateOption = Annotated[int | None, typer.Option(help="Samples a second; the input's own if left out.")]
StageOption = Annotated[str, typer.Option(help="found (before any work) or after.")]
ToolOption = Annotated[str | None, typer.Option(help="Which steel tool, in your words.")]
ClipsAnewOption = Annotated[
    bool,
    typer.Option(
        "--clips-anew", help="The clips were taken off, the leads read anew, the clips put on again."
    ),
]
TappedOption = Annotated[
    str | None, typer.Option(help="Of a tap: the pickup whose poles were tapped; --coil is one of its coils.")
]
WhereOption = Annotated[
    str | None,
    typer.Option(
        help="For hum: where the guitar is and how it lies, in your words; other words are another place."
    ),
]
CoilOption = Annotated[int | None, typer.Option(help="Which coil of a two-coil pickup: 1 (hot's) or 2.")]


InsteadOption = Annotated[
    str | None,
    typer.Option("--instead", help="The entry that this one replaces: its id, such as m002, or: last."),
]


def log_entry(
    folder: Path, entry: Written, *, instead: str | None = None, cautions: Sequence[str] = ()
) -> Written:
    """Append an entry to the log, say what it says, and return it as written; see `log_entries`."""
    return log_entries(folder, [entry], instead=instead, cautions=cautions)[0]


def log_entries(
    folder: Path, entries: Sequence[Written], *, instead: str | None = None, cautions: Sequence[str] = ()
) -> list[Written]:
    """Append entries of one kind to the log, all of them or none, and say what each says.

    ``instead`` is the entry that the first of them replaces, which is voided; ``cautions`` are printed where
    nothing of the kind stood in the log before.
    """
    from capture.job import read_job
    from capture.log import Void, append_entries, read_log
    from reports.entry.taking_back import take_back_for
    from reports.messages.entering import ENTERED
    from reports.messages.wording import plain
    from reports.render.tables import entry_label

    before = read_log(folder, read_job(folder))
    voids = () if instead is None else take_back_for(before, instead, kind=entries[0].kind).voids
    written = append_entries(folder, [*voids, *entries])
    for one in written:
        if not isinstance(one, Void):
            typer.echo(ENTERED.format(id=one.id, what=plain(entry_label(one))))
    if not any(e.kind == entries[0].kind for e in before.standing):
        caution(*cautions)
    return cast("list[Written]", written[len(voids) :])


def caution(*cautions: str) -> None:
    """Print cautions, each once, one a line."""
    for text in dict.fromkeys(cautions):
        typer.echo(f"Caution: {text}")


THERE_ALREADY = "{}: is there already, and nothing is written over; name another file"


def require_free(file: Path | None) -> None:
    """Refuse a file to be written that is there already, before any work is done for it.

    Raises
    ------
    JobError
        Something has that name.

    """
    if file is not None and os.path.lexists(file):
        raise JobError(THERE_ALREADY.format(file))


CLEAR, AT_FAULT, NOT_CLEAR, BROKEN, STOPPED = 0, 2, 3, 70, 130
"""Exit status: all settled or likely; the call or the job is at fault; something unsettled, in conflict or
missing; a fault of the tool itself; stopped from the keyboard."""
PROGRAM = "coilwise"


def leave(*, clear: bool) -> NoReturn:
    """End the command with the exit status of an answer."""
    raise typer.Exit(CLEAR if clear else NOT_CLEAR)


def clear_in(verdict: Verdict, folder: Path) -> bool:
    """Whether a verdict leaves nothing open in the job in ``folder``, as its exit status says."""
    from capture.job import read_job
    from reports.verdict.building import all_clear

    return all_clear(verdict, read_job(folder))


@contextmanager
def progress_bar(what: str, total: float) -> Iterator[Callable[[float], None]]:
    """Give what is called with how much of ``total`` is done; the bar shows only on a terminal."""
    from rich.console import Console
    from rich.progress import Progress

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task(what, total=total)
        yield lambda done: bar.update(task, completed=done)


def run_plainly(app: typer.Typer, args: Sequence[str] | None = None) -> int:
    """Run `app` with `args` (the process's own where left out) and return the exit status."""
    try:
        status = app(
            args=list(sys.argv[1:] if args is None else args), prog_name=PROGRAM, standalone_mode=False
        )
        sys.stdout.flush()
    except (KeyboardInterrupt, typer.Abort):
        return _say("stopped; what was written down before this command is kept", status=STOPPED)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return AT_FAULT
    except Exception as error:  # nothing is above it but the interpreter, which would print a traceback
        wording = _wording(error)
        if wording:
            return _say(wording, status=AT_FAULT)
        from reports.messages.wording import TRACE, our_fault

        if os.environ.get(TRACE):
            raise
        return _say(our_fault(error), status=BROKEN)
    return status if isinstance(status, int) else 0


def _wording(error: Exception) -> str:
    """What to say of a refusal; nothing for a fault of the tool itself."""
    if isinstance(error, CoilwiseError):
        return str(error)
    if isinstance(error, OSError):
        from reports.messages.wording import system_error

        return system_error(error)
    usage = getattr(error, "format_message", None)  # usage errors, whichever click stands behind typer
    if usage is None:
        return ""
    missing = getattr(getattr(error, "param", None), "name", None)
    if missing == "folder" and type(error).__name__ == "MissingParameter":
        from reports.entry.finding import jobs_sentence
        from reports.messages.entering import NAME_FOR, NAME_THE_JOB

        command = getattr(getattr(error, "ctx", None), "info_name", "")
        return NAME_FOR.get(command) or NAME_THE_JOB.format(jobs=jobs_sentence())
    command = getattr(getattr(error, "ctx", None), "command_path", PROGRAM)
    wanted = getattr(getattr(error, "param", None), "help", None)
    if type(error).__name__ == "MissingParameter" and wanted:
        return f'{usage().rstrip(".")}: {wanted} "{command} --help" shows how it is called.'
    return f'{usage()} "{command} --help" shows how it is called.'


def _say(text: str, *, status: int) -> int:
    sys.stderr.write(f"{PROGRAM}: {plain(text)}\n")
    return status
