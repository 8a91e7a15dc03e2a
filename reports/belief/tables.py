"""One table of the jack as a piece of evidence.

Task: tie the signs with which several stations were heard together to the pickups' own signs. Shapes: a
table has one axis of length 2 a station. Signs: index 0 of an axis is +1; a string's table is about ``s``, a
hum's about ``w``.

Besides flips there are doubts: a selector position that is not what the job says, harmonics that follow no
model, and hum that comes in by capacitance. Where one of these happened, the table says nothing, or says
"wound alike" whatever the windings are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reports.belief.factors import Factor, Variable, product_factor
from reports.belief.ledger import Hidden, Ledger, Piece
from reports.belief.shown import Shown, sideways
from reports.heard import Letter

Array = NDArray[np.float64]

PROFILE = "harmonic profile"
FLAT = 0.05
"""An axis along which a table differs by less than this, in nats, says nothing of its sign."""


@dataclass(frozen=True)
class HeardSign:
    """The sign with which a station was heard by one method, on one string."""

    method: str
    shown: Shown
    string: str

    def __str__(self) -> str:
        """Sort by method, pickup and string."""
        return f"heard {self.method} {self.shown.pickup} {self.string} {self.shown.variables}"


@dataclass(frozen=True, eq=False)
class Said:
    """One table with what it is about.

    ``settings`` are those it rests on; ``string`` is the one that rang (None: hum, or many);
    ``reversed_axes`` are the stations that a setting has reversed; ``rig`` is what was between the guitar
    and the file.
    """

    method: str
    letter: Letter
    shown: tuple[Shown, ...]
    log: Array
    takes: tuple[str, ...]
    settings: tuple[str, ...]
    rig: str
    string: str | None = None
    reversed_axes: tuple[bool, ...] = ()


def add_table(ledger: Ledger, said: Said) -> None:
    """Add a table to the ledger; signs it says nothing of are left away."""
    log, kept = _told(said.log)
    if len(kept) < len(("one", "other")):
        return
    shown = [said.shown[axis] for axis in kept]
    heard: tuple[Variable, ...] = tuple(HeardSign(said.method, one, said.string or "") for one in shown)
    alike = tuple(int(said.reversed_axes[axis]) for axis in kept) if said.reversed_axes else (0,) * len(kept)
    factors = [_doubted(ledger, said, heard, log, alike=alike)]
    for variable, one in zip(heard, shown, strict=True):
        aside = [] if said.string is None else [sideways(ledger, one.pickup, said.string, ringing=True)]
        factors.append(product_factor((variable, *one.variables, *aside), one.sign * np.inf))
    links = frozenset(one.pickup for one in shown)
    ledger.pieces.append(Piece(said.method, tuple(factors), links, takes=said.takes, about=said.letter))


def capacitive(ledger: Ledger, rig: str) -> Hidden:
    """The doubt that hum on a rig does not come in through the coils."""
    return ledger.mistake("capacitive hum", rig, label=rig)


def _told(log: Array) -> tuple[Array, list[int]]:
    """The table without the axes along which it is flat, and the numbers of those that are left."""
    kept = list(range(log.ndim))
    for axis in reversed(range(log.ndim)):
        first, second = np.take(log, 0, axis=axis), np.take(log, 1, axis=axis)
        if np.max(np.abs(first - second)) < FLAT:
            log = first
            del kept[axis]
    return log, kept


def _doubted(
    ledger: Ledger, said: Said, heard: tuple[Variable, ...], log: Array, *, alike: Sequence[int]
) -> Factor:
    """The table with one more axis in front for each doubt."""
    nothing = float(np.logaddexp.reduce(log, axis=None) - np.log(log.size))
    doubts: list[tuple[Hidden, float]] = []
    if said.letter == "w":
        doubts.append((capacitive(ledger, said.rig), float(log[tuple(alike)])))
    if said.method == PROFILE:
        names = " and ".join(dict.fromkeys(one.pickup for one in said.shown))
        doubts.append((ledger.mistake("profile", said.rig, label=names), nothing))
    listed = tuple(sorted(set(said.settings)))
    label = ", ".join(f'"{name}"' for name in listed)
    doubts.append((ledger.mistake("settings", *listed, label=label), nothing))
    variables = heard
    for hidden, otherwise in doubts:
        log = np.stack([log, np.full(log.shape, otherwise)])
        variables = (hidden, *variables)
    return Factor(variables, log)
