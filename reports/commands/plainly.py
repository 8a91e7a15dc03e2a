"""Running the command line so that a person only ever reads one plain line when something is refused.

`run_plainly(app, args)` returns the exit status: what the command gave (0 if nothing), 2 for a call or a
job at fault, 130 where it was stopped from the keyboard. The line goes to standard error.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

import typer

from dsp.errors import CoilwiseError

AT_FAULT = 2
STOPPED = 130
PROGRAM = "coilwise"


def run_plainly(app: typer.Typer, args: Sequence[str] | None = None) -> int:
    """Run `app` with `args` (the process's own where left out) and return the exit status."""
    try:
        status = app(
            args=list(sys.argv[1:] if args is None else args), prog_name=PROGRAM, standalone_mode=False
        )
        sys.stdout.flush()
    except CoilwiseError as error:
        return _say(str(error))
    except (KeyboardInterrupt, typer.Abort):
        _say("stopped; what was written down before this command is kept")
        return STOPPED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return AT_FAULT
    except OSError as error:
        place = f"{error.filename}: " if error.filename else ""
        return _say(f"{place}{error.strerror or error}; check permissions and free space, then try again")
    except Exception as error:
        wording = getattr(error, "format_message", None)  # usage errors, whichever click stands behind typer
        if wording is None:
            raise
        return _say(f'{wording()} "{PROGRAM} --help" shows how it is called.')
    return status if isinstance(status, int) else 0


def _say(text: str) -> int:
    line = " ".join(text.split())
    sys.stderr.write(f"{PROGRAM}: {line}\n")
    return AT_FAULT
