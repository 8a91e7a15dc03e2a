"""Judgement on what stood between pickups and files, or came from elsewhere, as codes with parameters.

Recorders, boxes, the bench's reference coil.

reports.messages.faults and reports.messages.boxes have the sentences. Takes are named by their ids.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reports.model.notes import Note
from reports.model.take_notes import MakeUp


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


@dataclass(frozen=True)
class ShelfNote(Note):
    """What another job found of ``pickup`` and the reference coil ``shelf``, ``days`` before it was entered.

    ``doubt``: the probability that it does not hold here; None where it is not used: it is too old
    (``why``: "old"), or does not reach a pickup here yet ("not lifted").
    ``other``: what is another one here than there.
    """

    pickup: str
    shelf: str
    seen: str
    days: int
    doubt: float | None
    why: Literal["old", "not lifted"] | None = None
    other: tuple[Literal["tool", "box"], ...] = ()


MisfitCode = Literal["opposed to the row", "resistance", "weak", "lifts disagree", "faulty takes"]


@dataclass(frozen=True)
class Misfit(Note):
    """What a pickup of a row has otherwise than the row: ``value`` where the row's median is ``usual``.

    "resistance" in kilo-ohm, "weak" in dB of the lifts' peaks; "lifts disagree": nothing follows from them.
    """

    code: MisfitCode
    value: float | None = None
    usual: float | None = None
