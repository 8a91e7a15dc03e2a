"""Running the command line so that a person only ever reads one plain line when something is refused.

`run_plainly(app, args)` returns the exit status: what the command gave (0 if nothing), 2 for a call or a
job at fault, 70 for a fault of the tool itself, 130 where it was stopped from the keyboard. The line
goes to standard error.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

import typer

from dsp.errors import CoilwiseError

AT_FAULT = 2
STOPPED = 130
BROKEN = 70
PROGRAM = "coilwise"


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
        from reports.words import TRACE, our_fault

        if os.environ.get(TRACE):
            raise
        return _say(our_fault(error), status=BROKEN)
    return status if isinstance(status, int) else 0


def _wording(error: Exception) -> str:
    """What to say of a refusal; nothing for a fault of the tool itself."""
    if isinstance(error, CoilwiseError):
        return str(error)
    if isinstance(error, OSError):
        place = f"{error.filename}: " if error.filename else ""
        return f"{place}{error.strerror or error}; check permissions and free space, then try again"
    usage = getattr(error, "format_message", None)  # usage errors, whichever click stands behind typer
    return f'{usage()} "{PROGRAM} --help" shows how it is called.' if usage else ""


def _say(text: str, *, status: int) -> int:
    line = " ".join(text.split())
    sys.stderr.write(f"{PROGRAM}: {line}\n")
    return status
