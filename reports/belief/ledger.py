"""The ledger of evidence: pieces, and the hidden mistakes they share.

Task: name the unknown signs and hidden mistakes, and turn what an entry shows of a pickup into the
variables whose product it is evidence about. Signs: variables are +1 / -1 (reports.belief.factors); a
mistake that happened turns over every piece that shares it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from reports.belief.factors import Factor, Variable, prior_factor, product_factor
from reports.belief.mistakes import MISTAKES, Kind
from reports.wires import Seen, Wires


@dataclass(frozen=True)
class Hidden:
    """A hidden mistake of one kind, on one thing; ``label`` fills its words."""

    kind: Kind
    key: tuple[str, ...]
    label: str

    def __str__(self) -> str:
        """Sort by kind and key."""
        return f"hidden {self.kind} {self.key}"


@dataclass(frozen=True)
class Unknown:
    """An unknown sign: ``s`` or ``w`` of a pickup (or coil) in an era; era -1 is now."""

    letter: str
    pickup: str
    coil: int | None = None
    era: int = -1

    def __str__(self) -> str:
        """Sort by letter, pickup and coil."""
        return f"sign {self.letter} {self.pickup} {self.coil} {self.era}"


@dataclass(frozen=True, eq=False)
class Piece:
    """One piece of evidence: a method's word about the pickups in ``links``, with its sources.

    ``about`` is "s" or "w": whether its links connect pickups in phase or in winding.
    """

    method: str
    factors: tuple[Factor, ...]
    links: frozenset[str]
    takes: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()
    about: str = "s"


@dataclass(eq=False)
class Ledger:
    """Pieces of evidence as they come in, with the mistakes seen so far."""

    wires: Wires
    pieces: list[Piece] = field(default_factory=list)
    hidden: dict[Hidden, None] = field(default_factory=dict)
    ties: dict[Variable, Factor] = field(default_factory=dict)

    def mistake(self, kind: Kind, *key: str, label: str) -> Hidden:
        """The hidden mistake of that kind and key, noted once."""
        known = Hidden(kind, key, label)
        self.hidden.setdefault(known, None)
        return known

    def sign_of(self, seen: Seen, *, letter: str = "s") -> tuple[tuple[Variable, ...], int]:
        """The variables whose product an entry shows, and the sign it comes with.

        Coils whose joint is not made yet are not tied to the pickup, nor to each other.
        """
        era = -1 if seen.now else seen.era
        joined = seen.pickup not in self.wires.unjoined
        variables: list[Variable] = []
        if seen.coil is None:
            variables.append(Unknown(letter, seen.pickup, None, era))
        else:
            coil = Unknown(letter, seen.pickup, seen.coil, era)
            if joined and letter == "s" and coil not in self.ties:
                whole = Unknown("s", seen.pickup, None, era)
                joint = self.mistake("inner joint", seen.pickup, str(seen.coil), label=seen.pickup)
                self.ties[coil] = product_factor((coil, whole, joint), np.inf)
            if joined and letter == "w" and coil not in self.ties:
                both = tuple(Unknown("w", seen.pickup, k, era) for k in (1, 2))
                alike = self.mistake("inner winding", seen.pickup, label=seen.pickup)
                self.ties |= dict.fromkeys(both, product_factor((*both, alike), -np.inf))
            variables.append(coil)
        if seen.now and seen.before_work:
            touched = seen.pickup in self.wires.changed or not self._fitted(seen.pickup)
            kind: Kind = "work" if touched else "no work"
            variables.append(self.mistake(kind, seen.pickup, label=seen.pickup))
        return tuple(variables), -1 if seen.turned else 1

    def factors(self, pieces: Iterable[Piece], *, also: Iterable[Variable] = ()) -> list[Factor]:
        """Factors of some pieces, with the priors of the mistakes they share and the ties of coils.

        ``also`` are signs that are asked for, though no piece names them.
        """
        found = [f for piece in pieces for f in piece.factors]
        named = {v for f in found for v in f.variables} | set(also)
        tied: dict[int, Factor] = {}
        for coil, tie in self.ties.items():
            if coil in named:
                tied[id(tie)] = tie
                named.update(tie.variables)
        found.extend(tied.values())
        found.extend(prior_factor(h, MISTAKES[h.kind].probability) for h in self.hidden if h in named)
        return found

    def _fitted(self, name: str) -> bool:
        pickup = self.wires.job.pickup(name)
        return pickup is None or pickup.fitted


def now(pickup: str, *, letter: str = "s") -> Unknown:
    """The sign of a pickup as it is wired now."""
    return Unknown(letter, pickup)
