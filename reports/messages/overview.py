"""What ``coilwise`` says when it is called by itself, and of its entry among a user's programs.

In: the job that was worked on last, spelled as it is typed; out: text of `MOST_LINES` lines at most.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final

MOST_LINES = 10
WIDE = 88

_WITH_A_JOB = (
    ("coilwise record {job}", "record hands-free: it says what to play, and judges it at once"),
    ("coilwise take {job} FILE ...", "add a recording made elsewhere; bring: many, or a long one"),
    ("coilwise meter {job} ...", "add a reading; ohms, pole, change, check, tag; void takes back"),
    ("coilwise verdict {job}", "what is in phase, how sure that is, what to do"),
    ("coilwise report {job} --pdf", "the same on paper, to go with the guitar"),
    ("coilwise page {job}", "all of it in the browser"),
)
_BEGIN = ("coilwise new NAME", "begin a job: one guitar, which pickups, which settings")
_PAGE = ("coilwise page", "the bench page in the browser: say what is on the bench, then play")
_TRY = ("coilwise demo", "the whole job on an invented bass, with a report to look at")
JOBS = "Jobs: {jobs}."
USAGE = "Usage: coilwise COMMAND ...; COMMAND --help says how; coilwise help is the manual."
COMMANDS = "Commands: {commands}."
LAST_WORD = "Unplug the guitar from any amplifier first. The judgement of a licensed technician goes first."

SHORTCUT_COMMENT: Final = "Tell which pickups are in phase by listening to them"
SHORTCUT_MADE: Final = (
    "coilwise is among your programs now: {path}. It opens the bench page, and works without a network. "
    "coilwise shortcut --remove takes it away."
)
SHORTCUT_REMOVED: Final = (
    "The entry among your programs is gone. coilwise itself stays, and so does every job."
)
NO_SHORTCUT: Final = "There is no such entry, so nothing was removed."


def overview(*, latest: str | None, jobs: str, commands: Sequence[str]) -> str:
    """What to type next: with the job that was worked on last, or how to begin one."""
    if latest is None:
        named = ", ".join(commands)
        rows, rest = [_PAGE, _TRY, _BEGIN], textwrap.wrap(COMMANDS.format(commands=named), WIDE, max_lines=3)
    else:
        rows, rest = [*((words.format(job=latest), does) for words, does in _WITH_A_JOB), _BEGIN], []
    wide = max(len(typed) for typed, _ in rows) + 2
    lines = [USAGE, *(f"{typed:<{wide}}{does}" for typed, does in rows)]
    lines += [*rest, *textwrap.wrap(JOBS.format(jobs=jobs), WIDE, max_lines=1), LAST_WORD]
    return "".join(f"{line}\n" for line in lines[:MOST_LINES])
