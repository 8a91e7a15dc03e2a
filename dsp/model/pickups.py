"""What a pickup is made of, as data: its coils, what each hears of the strings, and its poles.

Task: from what a bench says of a construction to the answers that the rest of the house asks for: does the
pickup hum as a whole, how many rows of poles does a string pass, which coil is under which string, with what
sign does a coil stand in the whole. Shapes: none; strings are places, 0 the lowest. Units: none.
Sign: ``w_in_whole`` is the ``w`` of a coil against the first one's, ``s_in_whole`` its ``s`` against that of
the whole, where it is joined as it was built to be; that it was joined otherwise is what evidence is about.
Poles are each against the one under the lowest string.

Constructions (common practice; the patents they come from are long expired). Side by side: a coil for each
row of poles, magnets and windings opposite, so that strings add and hum cancels. Stacked: one coil above the
other around one row of poles, one magnet through both, wound against each other: hum cancels, and what the
lower coil hears of the strings it takes away, but it hears little of them. Halves: two coils, each under its
own strings, magnets and windings opposite. Dummy: a coil without magnet or pole, which hears hum alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from dsp.model.network import CoilElectrics, Part, two_pole

Layout = Literal["side by side", "stacked", "halves", "dummy"]

LOWER_HEARS = 0.25
"""What the lower coil of a stack hears of a string, against the upper one (assumed: the field of a pole falls
off within the height of a coil, and much of it returns above the lower one)."""


@dataclass(frozen=True)
class CoilBuild:
    """One coil as built.

    ``hears``: its share of the strings' motion, 1 for a usual coil, 0 for one without a magnet.
    ``s_in_whole``: +1 where its strings add to the whole, -1 where they are taken away from it, 0 for a coil
    that hears none, None where that is not known. ``under``: the strings it lies under, by name; None: all.
    """

    number: int
    hears: float = 1.0
    s_in_whole: int | None = 1
    w_in_whole: int = 1
    under: tuple[str, ...] | None = None
    weight: float = 1.0
    """How much of it is in the whole at the mains frequency, by the pickup's circuit."""


STILL_HUMS = 0.25
"""Windings that cancel to less than this part of one coil are said to cancel, as unlike coils do."""


@dataclass(frozen=True)
class PickupBuild:
    """A pickup as built; ``poles``: the sign of the pole under each string, empty where all are alike."""

    layout: Layout
    coils: tuple[CoilBuild, ...]
    poles: tuple[int, ...] = ()

    @property
    def count(self) -> int:
        """How many coils it has."""
        return len(self.coils)

    @property
    def several(self) -> bool:
        """Whether one of its coils can be meant by its number."""
        return self.count > 1

    @property
    def hums(self) -> bool:
        """Whether hum does not cancel within it: its windings do not come out even."""
        left = abs(sum(coil.w_in_whole * coil.weight for coil in self.coils))
        return left > STILL_HUMS * max(coil.weight for coil in self.coils)

    @property
    def rows(self) -> Literal[1, 2]:
        """How many rows of poles one string passes."""
        return 2 if self.several and self.layout == "side by side" else 1

    @property
    def hears_strings(self) -> bool:
        """Whether a string is heard at all."""
        return any(coil.hears for coil in self.coils)

    @property
    def pole_has_coil(self) -> bool:
        """Whether a tool on a pole is at one coil alone, and not at all of them."""
        return self.several and self.layout != "stacked"

    @property
    def by_string(self) -> bool:
        """Whether strings differ: in the sign of their pole, or in the coil under them."""
        return len(set(self.poles)) > 1 or any(coil.under is not None for coil in self.coils)

    def coil(self, number: int) -> CoilBuild | None:
        """The coil of that number."""
        return next((one for one in self.coils if one.number == number), None)


def side_by_side(count: int, *, poles: tuple[int, ...] = ()) -> PickupBuild:
    """One coil, or two and more in rows: each second one wound and magnetised the other way."""
    coils = tuple(CoilBuild(k, w_in_whole=1 if k % 2 else -1) for k in range(1, count + 1))
    return PickupBuild("side by side", coils, poles)


USUAL_COIL = CoilElectrics(4000.0, 2.0)
"""One coil of several, where it was not measured (ranges of sources C1)."""
MAINS_HZ = 50.0


def wired(made: PickupBuild, circuit: Part) -> PickupBuild:
    """The same pickup with its coils in a circuit of their own, not all in series as they are built."""
    coils = dict.fromkeys((coil.number for coil in made.coils), USUAL_COIL)
    whole = two_pole(circuit, coils, 2j * math.pi * MAINS_HZ).gains
    return replace(
        made,
        coils=tuple(
            replace(
                coil,
                s_in_whole=None if coil.s_in_whole is None else coil.s_in_whole * over,
                w_in_whole=coil.w_in_whole * over,
                weight=abs(whole.get(coil.number, 0.0)),
            )
            for coil in made.coils
            for over in (-1 if whole.get(coil.number, 1.0 + 0j).real < 0 else 1,)
        ),
    )


def stacked(*, upper: int | None = None, poles: tuple[int, ...] = ()) -> PickupBuild:
    """Two coils one above the other; ``upper`` is the number of the one near the strings, where known."""
    coils = tuple(
        CoilBuild(
            k,
            hears=1.0 if upper is None or k == upper else LOWER_HEARS,
            s_in_whole=None if upper is None else 1 if k == upper else -1,
            w_in_whole=1 if k == 1 else -1,
        )
        for k in (1, 2)
    )
    return PickupBuild("stacked", coils, poles)


def halves(under: tuple[tuple[str, ...], ...]) -> PickupBuild:
    """A coil for each group of strings; ``under`` are these groups, coil 1's first."""
    coils = tuple(
        CoilBuild(k, w_in_whole=1 if k % 2 else -1, under=names) for k, names in enumerate(under, start=1)
    )
    return PickupBuild("halves", coils)


DUMMY = PickupBuild("dummy", (CoilBuild(1, hears=0.0, s_in_whole=0),))
"""A coil that hears hum alone."""
