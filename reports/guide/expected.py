"""What a round of takes would say, before it is played: evidence of a usual strength.

Task: from a `Round` and one outcome (which of its pickups would be heard turned over) to the pieces of
evidence in a copy of the ledger. Units: natural logarithms. Signs: an outcome is +1 or -1 for each of the
round's pickups, the first always +1: only relations are heard.

The mistakes that a round shares with what was heard before are the same as in reports.belief: so a third take
of one kind promises less than the first of another.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from capture.log_entries import Take
from reports.analysis_jack import SWITCH
from reports.belief.factors import Factor, product_factor
from reports.belief.in_turn import METHODS, magnetised
from reports.belief.jacked import HUM_LEVEL
from reports.belief.ledger import Ledger, Piece
from reports.belief.listened import paired_piece, split_piece
from reports.belief.runs import ClipRuns
from reports.belief.shown import Shown, shown_by
from reports.belief.tables import Said, add_table
from reports.guide.steps import Round
from reports.heard import HeardTake, Letter, Station
from reports.jack import on_jack, settings_of, station_of
from reports.wires import Wires

USUAL = {"paired": 3.0, "split": 5.0, "switch": 3.0, "in turn": 3.0, "lift": 4.0, "hum": 2.5}
"""Nats a round says of each relation; about the middle of what simulated benches give."""


@dataclass(frozen=True, eq=False)
class Standing:
    """What is known when a round is weighed: the evidence, and the takes it came from."""

    ledger: Ledger
    entries: tuple[Take, ...]


def letter_of(one: Round) -> Letter:
    """Whether a round is about the strings' sign or the winding."""
    return "w" if one.first.kind == "hum" else "s"


def outcomes(one: Round) -> Iterator[tuple[int, ...]]:
    """Every way a round can come out."""
    for rest in product((1, -1), repeat=len(one.first.pickups) - 1):
        yield (1, *rest)


def with_outcome(now: Standing, one: Round, entry: Take, wires: Wires, outcome: Sequence[int]) -> Ledger:
    """A copy of the ledger to which the round's evidence was added; ``entry`` is its first take."""
    old = now.ledger
    ledger = Ledger(wires, list(old.pieces), dict(old.hidden), dict(old.ties))
    runs = ClipRuns(wires.job)
    for before in now.entries:
        runs.of(before)
    run = runs.of(entry)
    letter = letter_of(one)
    stations = _stations(ledger, one, entry)
    shown = [shown_by(ledger, entry, s, run=run, letter=letter) for s in stations]
    each = [s for s in shown if s is not None]
    if len(each) < len(shown):
        return ledger
    _PIECES[one.first.kind](ledger, one, entry, each, outcome)
    return ledger


def _stations(ledger: Ledger, one: Round, entry: Take) -> Sequence[Station]:
    job, step = ledger.wires.job, one.first
    if step.kind in ("paired", "split"):
        members = [job.setting(str(name)) for name in step.inputs]
        return [
            station_of(job, s.on[0], column=c, stage=entry.stage)
            for c, s in enumerate(members)
            if s is not None
        ]
    if step.kind == "switch":
        return on_jack(job, settings_of(entry.inputs), stage=entry.stage).stations
    alone = [job.setting(name) for name in step.pickups]
    return [
        station_of(job, s.on[0].model_copy(update={"coil": step.coil}), column=0, stage=entry.stage)
        for s in alone
        if s is not None
    ]


def _paired(ledger: Ledger, one: Round, entry: Take, each: list[Shown], outcome: Sequence[int]) -> None:
    a, b = each
    key = (*sorted((a.pickup, b.pickup)), str(entry.string))
    ratio = USUAL["paired"] * outcome[1]
    ledger.pieces.append(paired_piece(ledger, (HeardTake(entry), a, b, ratio), key=key))


def _split(ledger: Ledger, one: Round, entry: Take, each: list[Shown], outcome: Sequence[int]) -> None:
    split_piece(ledger, HeardTake(entry), each[0], each[1], USUAL["split"])


def _switch(ledger: Ledger, one: Round, entry: Take, each: list[Shown], outcome: Sequence[int]) -> None:
    _table(ledger, one, entry, each, outcome, method=SWITCH, string=entry.string)


def _hum(ledger: Ledger, one: Round, entry: Take, each: list[Shown], outcome: Sequence[int]) -> None:
    _table(ledger, one, entry, each, outcome, method=HUM_LEVEL, string=None)


def _table(
    ledger: Ledger,
    one: Round,
    entry: Take,
    each: list[Shown],
    outcome: Sequence[int],
    *,
    method: str,
    string: str | None,
) -> None:
    log = np.zeros((2,) * len(each))
    wanted = dict(zip(one.first.pickups, outcome, strict=True))
    for index in np.ndindex(log.shape):
        signs = [(1 - 2 * k) * wanted[s.pickup] for k, s in zip(index, each, strict=True)]
        log[index] = -USUAL[one.first.kind] * sum(x != signs[0] for x in signs[1:])
    names = tuple(name for step in one.steps for name, _ in settings_of(step.inputs))
    add_table(
        ledger,
        Said(method, letter_of(one), tuple(each), log, (entry.id,), names, entry.rig or "", string=string),
    )


def _in_turn(ledger: Ledger, one: Round, entry: Take, each: list[Shown], outcome: Sequence[int]) -> None:
    a, b = each
    hands = [ledger.mistake("hand", s.pickup, entry.gesture, label=s.pickup) for s in each]
    ratio = a.sign * b.sign * outcome[1] * USUAL["in turn"]
    factor = product_factor((*a.variables, *b.variables, *hands), ratio)
    _append(ledger, factor, entry, each)


def _lift(ledger: Ledger, one: Round, entry: Take, each: list[Shown], outcome: Sequence[int]) -> None:
    a, b = each
    ratio = a.sign * b.sign * outcome[1] * USUAL["lift"]
    straight = product_factor((*a.variables, *b.variables), ratio)
    _append(ledger, magnetised(ledger, straight, tool=str(entry.tool)), entry, each)


def _append(ledger: Ledger, factor: Factor, entry: Take, each: list[Shown]) -> None:
    links = frozenset(s.pickup for s in each)
    ledger.pieces.append(Piece(METHODS[entry.gesture], (factor,), links, takes=(entry.id,)))


_PIECES = {
    "paired": _paired,
    "split": _split,
    "switch": _switch,
    "hum": _hum,
    "in turn": _in_turn,
    "lift": _lift,
}
