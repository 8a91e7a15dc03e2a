"""Judgement on what stood between pickups and files, as codes with typed parameters: recorders, boxes.

reports.messages.faults and reports.messages.boxes have the sentences. Takes are named by their ids.
"""

from __future__ import annotations

from dataclasses import dataclass

from reports.model.notes import MakeUp, Note


@dataclass(frozen=True)
class OtherRecorderNote(Note):
    """``takes`` were written as ``made``, and most on their rig, ``others``, as ``others_made``.

    So they count as recorded on another rig.
    """

    takes: tuple[str, ...]
    made: MakeUp
    others: tuple[str, ...]
    others_made: MakeUp


@dataclass(frozen=True)
class RememberedBoxNote(Note):
    """The inputs of ``rig`` count as a split check of another job found them on the day ``seen``.

    ``opposed`` or in step, ``days`` before this job began; ``doubt``: the probability that it is otherwise
    now, None where the memory is not used, because it is too old or the rate is another one.
    """

    rig: str
    opposed: bool
    seen: str
    days: int
    doubt: float | None
