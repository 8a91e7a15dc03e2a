"""From a note to the one sentence a person reads of it.

`say` knows every kind of note; a kind without a sentence does not pass the type check.
"""

from __future__ import annotations

from typing import assert_never

from reports.messages.faults import health_problem, health_remedy
from reports.model.notes import HealthProblem, HealthRemedy

AnyNote = HealthProblem | HealthRemedy


def say(note: AnyNote) -> str:
    """The sentence for a note."""
    match note:
        case HealthProblem():
            return health_problem(note)
        case HealthRemedy():
            return health_remedy(note)
        case _:
            assert_never(note)
