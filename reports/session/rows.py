"""A row of pickups against the bench's reference coil: which lifts are still to be recorded.

The coil first, then each pickup as often as one slip needs to show, and the coil once more at the end: what
turned the input over meanwhile is then seen. Nothing that stands is asked for twice.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from capture.job import Job, Pickup
from capture.log import Take
from capture.takes.folder import JobFolder
from reports.model.session import TOOL, Step
from reports.session.options import RecordingOptions
from reports.session.rounds import lifted_coil

LIFTS = 3
"""Of each pickup: of two that differ nobody knows which is the slip."""


def row_steps(folder: JobFolder, *, tool: str | None) -> tuple[Step, ...]:
    """Return the lifts that a row still lacks, the coil's first; none where it has all."""
    named = tool or TOOL
    done: Counter[str] = Counter()
    for entry in folder.log.standing:
        if isinstance(entry, Take) and entry.gesture == "lift" and (entry.tool or named) == named:
            done.update(str(item) for item in entry.inputs if item is not None)
    coils = [p for p in folder.job.pickups if p.shelf is not None][:1]
    steps = [
        step
        for one in (*coils, *folder.job.own_pickups)
        for step in _lifts(folder.job, one, LIFTS - done[one.name], tool=named)
    ]
    end = [step for coil in coils for step in _lifts(folder.job, coil, 1, tool=named)] if steps else []
    return (*steps, *end)


MOST_TRIES = 4
"""Takes to a lift, the refused ones too."""


def row_recording(folder: JobFolder, options: RecordingOptions) -> RecordingOptions | None:
    """How what a row still lacks is recorded, with the tool and input of ``options``; None: it has all."""
    steps = row_steps(folder, tool=options.tool)
    if not steps:
        return None
    return replace(options, inputs=1, fixed=steps, most=len(steps) * MOST_TRIES, row=True)


def _lifts(job: Job, pickup: Pickup, times: int, *, tool: str) -> list[Step]:
    return [
        Step(
            "lift",
            (pickup.name,),
            tool=tool,
            coil=lifted_coil(job, pickup.name),
            kind="lift",
            columns=(0,),
            pickups=(pickup.name,),
            part=k + 1,
            parts=times,
        )
        for k in range(times)
    ]
