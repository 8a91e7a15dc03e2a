"""Every way in which the named leads of a pickup can hang on its coils.

Task: enumerate which leads are joined to each other, and between which points one coil or two lie. Shapes:
none. Units: none. Signs: none; an ohmmeter knows no direction, so each structure stands once, whatever
the order of its coils and ends.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

Pair = tuple[str, str]
SHIELD_WORDS = ("shield", "bare", "braid", "screen", "cover")
"""What a lead that is no end of a coil is called where it is measured."""
MOST_LEADS = 6
"""Besides the shield: two coils with a tap each."""
MOST_COILS = 2


def is_shield(lead: str) -> bool:
    """Whether the name of a lead says that it is a shield."""
    return lead.strip().casefold() in SHIELD_WORDS


@dataclass(frozen=True)
class Structure:
    """Which leads are joined, and which points each coil lies between.

    ``points``: groups of leads that are one, in order of their names, the shield last in its group.
    ``coils``: two points each, by number.
    """

    points: tuple[tuple[str, ...], ...]
    coils: tuple[tuple[int, int], ...]

    def ends(self, coil: int) -> Pair:
        """The two ends of a coil, in order of their names."""
        one, other = sorted(self.points[k][0] for k in self.coils[coil])
        return one, other

    @property
    def meeting(self) -> tuple[tuple[str, ...], ...]:
        """The points at which two coils meet."""
        held = [k for coil in self.coils for k in coil]
        return tuple(p for k, p in enumerate(self.points) if held.count(k) > 1)

    @property
    def joined(self) -> tuple[tuple[str, ...], ...]:
        """Leads that are joined to each other, the shield left out."""
        named = (tuple(lead for lead in p if not is_shield(lead)) for p in self.points)
        return tuple(p for p in named if len(p) > 1)

    @property
    def loose(self) -> tuple[str, ...]:
        """Leads on no coil, the shield left out."""
        held = {k for coil in self.coils for k in coil}
        return tuple(
            lead for k, p in enumerate(self.points) if k not in held for lead in p if not is_shield(lead)
        )

    @property
    def shield_on(self) -> str | None:
        """The lead that the shield is joined to."""
        return next((p[0] for p in self.points if not is_shield(p[0]) and is_shield(p[-1])), None)

    @property
    def faults(self) -> int:
        """Loose leads that no shield explains: one may be the shield under another name."""
        shield = any(is_shield(lead) for p in self.points for lead in p)
        return max(0, len(self.loose) - (0 if shield else 1))

    def way(self, pair: Pair) -> tuple[int, ...] | None:
        """The coils between two leads: () where they are joined, None where nothing conducts."""
        start, goal = (next(k for k, p in enumerate(self.points) if lead in p) for lead in pair)
        if start == goal:
            return ()
        for k, coil in enumerate(self.coils):
            if {start, goal} == set(coil):
                return (k,)
        if len(self.coils) == MOST_COILS:
            first, second = (set(coil) for coil in self.coils)
            if first & second and {start, goal} == first ^ second:
                return (0, 1)
        return None


@lru_cache(maxsize=32)
def structures(leads: tuple[str, ...]) -> tuple[Structure, ...]:
    """All structures of the named leads, each once."""
    return tuple(
        Structure(points, coils)
        for points in _groups(leads)
        for count in range(MOST_COILS + 1)
        for coils in combinations(tuple(combinations(range(len(points)), 2)), count)
    )


def _groups(leads: Sequence[str]) -> Iterator[tuple[tuple[str, ...], ...]]:
    """All ways in which leads can be joined in groups."""
    if not leads:
        yield ()
        return
    *before, last = sorted(leads, key=lambda lead: (is_shield(lead), lead))
    for groups in _groups(before):
        yield (*groups, (last,))
        for k, group in enumerate(groups):
            yield (*groups[:k], (*group, last), *groups[k + 1 :])
