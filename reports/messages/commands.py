"""How commands, names and work stand inside sentences: FOLDER for the job until it is known how it is typed.

Loads nothing, since every command that is given a job comes by here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

VOID = "coilwise void FOLDER {}"
FOLDER = "FOLDER"
"""What stands for the job in a command."""


def with_job(text: str, job: str) -> str:
    """Text whose commands name a job as it is typed."""
    return re.sub(rf"(coilwise\s+[a-z-]+\s+){FOLDER}\b", lambda found: found[1] + job, text)


def voids(entries: Iterable[str]) -> str:
    """The command that takes entries back."""
    return VOID.format(" ".join(entries))


def quoted(names: Iterable[str], between: str) -> str:
    """Names in quotation marks, with a word between them."""
    return between.join(f'"{name}"' for name in names)


_CAPITALS = re.compile(r"\b[A-Z]{2,}\b")


def in_a_sentence(work: str) -> str:
    """Work in capitals as it stands inside a sentence; names of strings stay as they are."""
    return work[:1].lower() + _CAPITALS.sub(lambda word: word[0].lower(), work)[1:]
