"""Judgement on what came of the work: heard as aimed at or not, and what is heard against the log, as codes.

reports.messages.work has the sentence of each. ``entries`` and the like are ids of log entries.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reports.model.notes import Hum, Note, Sounds


@dataclass(frozen=True)
class NamedLeads:
    """Hot and ground of a pickup by name; empty where they have none."""

    pickup: str
    hot: str
    ground: str


@dataclass(frozen=True)
class WorkContradicted(Note):
    """What is heard after the work is the opposite of what was found with the change that was entered.

    ``pickups``: those that were changed by the entries ``changes``, or, where none was entered, that may have
    been. ``others``: at which it may have been made instead. ``heard``: the entries after the work.
    """

    pickups: tuple[str, ...]
    changes: tuple[str, ...]
    others: tuple[str, ...]
    heard: tuple[str, ...]


@dataclass(frozen=True)
class SettleWork(Note):
    """How such a contradiction is ended: what to look at, and the entry for each thing that is seen.

    ``exchanged``: the leads of pickups as a change has them that was made and not entered; ``first_after``:
    the entry before which it was. ``before``: the entries before the work.
    """

    cause: WorkContradicted
    exchanged: tuple[NamedLeads, ...]
    first_after: str
    before: tuple[str, ...]


@dataclass(frozen=True)
class SettingResult:
    """What a setting was to be after the work, and what it is; ``hum``: where it was to be quiet."""

    setting: str
    planned: Sounds
    after: Sounds
    hum: Hum | None = None


@dataclass(frozen=True)
class WorkResult(Note):
    """Whether what was aimed at is heard after the work.

    ``settings``: all of them, but of "not as planned" those that came out otherwise, and of "as planned so
    far" those that are not known yet. "not entered": all do what was aimed at, but no change was entered, so
    that nothing says what the work was; "as found": they did so before, and none was needed; "against the
    log": they do, and the change that was entered says they should not. ``entered``: a change was.
    """

    code: Literal[
        "as planned",
        "as planned so far",
        "not as planned",
        "not recorded",
        "not entered",
        "as found",
        "against the log",
    ]
    settings: tuple[SettingResult, ...] = ()
    entered: bool = True


@dataclass(frozen=True)
class EnterWiring(Note):
    """How a loose pickup was wired in is to be entered, before the first entry after the work.

    Until then its takes after the work are as doubtful as those through clips.
    """

    leads: NamedLeads
    first_after: str


@dataclass(frozen=True)
class ReadElsewhere(Note):
    """A meter reading whose resistance at rest is that of another pickup, ``fits``: probably read there."""

    entry: str
    pickup: str
    fits: str
    kohm: float
    usual_kohm: float
    move: str
    reading: str
    red: str


@dataclass(frozen=True)
class EnteredTurned(Note):
    """Takes in which the clips on a loose pickup were entered the other way round than in the others.

    The two sides contradict each other. ``tip``: the lead that was on the tip in the ``others``, ``sleeve``
    the other one.
    """

    pickup: str
    takes: tuple[str, ...]
    tip: str
    sleeve: str
    others: tuple[str, ...]


AnyWorkNote = WorkContradicted | SettleWork | WorkResult | EnterWiring | ReadElsewhere | EnteredTurned
