"""What stands before the first take of a session, on a terminal and on the page alike.

Task: how many inputs a session listens to, a short look at the set-up, and what an unfinished recording was
to be. Units: seconds. Signs: none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from capture.job import Job
from capture.setup_listening import Listenable, Moment, listen_to_setup
from capture.unfinished import Unfinished
from reports.guide.candidates import rounds
from reports.guide.guide_words import GESTURE_ON, LOOKS_RIGHT, NOTHING_SAID
from reports.guide.steps import Step
from reports.setup_sheet import setup_lines
from reports.words import on_words

LOOK_S = 1.5
"""Of quiet before the first take; a set-up check looks longer, with a pluck."""


def inputs_wanted(job: Job, *, inputs: int, gestures: Sequence[str], after: bool) -> int:
    """How many inputs are listened to: a guitar's jack takes one, whatever the box has."""
    return most_columns([r.first for r in rounds(job, inputs=inputs, gestures=tuple(gestures), after=after)])


def most_columns(steps: Sequence[Step]) -> int:
    """How many inputs these steps take at most."""
    return max((len(step.columns) for step in steps), default=1)


def look_at_setup(
    stream: Listenable, job: Job, *, told: Callable[[Moment], None] = lambda moment: None
) -> tuple[str, ...]:
    """What is wrong with the inputs before the first take, in sentences; the session goes on all the same."""
    hearing = listen_to_setup(stream, quiet_s=LOOK_S, pluck_s=0.0, mains_hz=job.mains_hz, told=told)
    return (LOOKS_RIGHT,) if hearing.clear else setup_lines(hearing)


def planned_words(left: Unfinished) -> str:
    """What an unfinished recording was to be."""
    if left.planned is None:
        return NOTHING_SAID
    on = " and ".join(on_words(i) for i in left.planned.inputs)
    return GESTURE_ON.format(gesture=left.planned.gesture, on=on)
