"""Guitars for the stories, what may be connected or mounted otherwise on them, and rounds that people make.

Task: draw a bench with the signs a story needs, and play through the usual rounds of takes. Shapes: none.
Units in the names. Signs: `draw` takes signs relative to the first pickup; +1 is the same, -1 the opposite.
Sources: ranges of simulator.conditions; strings ring 4 to 10 s to a thousandth here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from simulator.conditions import ORDINARY, Conditions
from simulator.pickups import PickupSpec
from simulator.scenes import random_bench
from simulator.workbench import Bench, Wanted
from studies.shared_causes.person import Person

from capture.job import Member, Setting
from dsp.model.signs import CoilSigns, opposite

SOUND = replace(ORDINARY, humbucker_rate=0.0, inverted_rate=0.0, decay_per_s=(0.7, 1.7))
"""As on any day: inputs agree, and pickups have one coil where a story does not ask for two."""
TRIES = 2000

TWO = ("bridge", "neck")
BOTH = Setting(name="both", on=(Member(pickup="bridge"), Member(pickup="neck")))
REAR = Setting(name="rear", on=(Member(pickup="bridge"), Member(pickup="middle")))
FRONT = Setting(name="front", on=(Member(pickup="middle"), Member(pickup="neck")))
POSITIONS: tuple[Wanted, ...] = ("bridge", ("bridge", "middle"), "middle", ("middle", "neck"), "neck")
POSITION_NAMES = ("bridge", "rear", "middle", "front", "neck")


def draw(
    rng: np.random.Generator,
    *,
    pickups: Literal[2, 3] = 2,
    bass: bool = False,
    s: Mapping[str, int] | None = None,
    w: Mapping[str, int] | None = None,
    conditions: Conditions = SOUND,
) -> Bench:
    """Draw a bench; ``s`` and ``w`` say the signs of some pickups relative to the bridge pickup's."""
    drawn = random_bench(rng, conditions=conditions, pickups=pickups, bass=bass, inverted=(False, False))
    first = drawn.pickups[0]
    fitted = [first]
    for one in drawn.pickups[1:]:
        winding = one.coils[0].signs.winding
        string = one.string_sign
        if w and one.name in w:
            winding = first.coils[0].signs.winding * w[one.name]
        if s and one.name in s:
            string = first.string_sign * s[one.name]
        fitted.append(_signed(one, CoilSigns(winding, winding * string)))
    return replace(drawn, pickups=tuple(fitted))


def _signed(pickup: PickupSpec, signs: CoilSigns) -> PickupSpec:
    """Give coil 1 these signs; the coils of a pair keep their relation."""
    other = CoilSigns(opposite(signs.winding), opposite(signs.magnet))
    coils = tuple(replace(coil, signs=each) for coil, each in zip(pickup.coils, (signs, other), strict=False))
    return replace(pickup, coils=coils)


def changed(bench: Bench, name: str, pickup: PickupSpec) -> Bench:
    """Another pickup in the place of the one called ``name``."""
    return replace(bench, pickups=tuple(pickup if one.name == name else one for one in bench.pickups))


def connected_over(bench: Bench, *names: str) -> Bench:
    """Exchange hot and ground of some pickups."""
    for name in names:
        one = bench.pickup(name)
        coils = tuple(
            replace(coil, signs=CoilSigns(opposite(coil.signs.winding), coil.signs.magnet))
            for coil in one.coils
        )
        bench = changed(bench, name, replace(one, coils=coils))
    return bench


def magnet_over(bench: Bench, *names: str) -> Bench:
    """Turn the magnets of some pickups over."""
    for name in names:
        one = bench.pickup(name)
        coils = tuple(
            replace(coil, signs=CoilSigns(coil.signs.winding, opposite(coil.signs.magnet)))
            for coil in one.coils
        )
        bench = changed(bench, name, replace(one, coils=coils))
    return bench


def field_over(bench: Bench, name: str) -> Bench:
    """The field of the mains points the other way at this pickup."""
    one = bench.pickup(name)
    coils = tuple(replace(coil, hum_area=-coil.hum_area) for coil in one.coils)
    return changed(bench, name, replace(one, coils=coils))


def beside(bench: Bench, name: str, mm: float) -> Bench:
    """All strings lie so far to the side of the poles of this pickup."""
    row = bench.pickups.index(bench.pickup(name))
    moved = tuple(
        tuple(mm + 0.3 * side for side in sides) if k == row else sides
        for k, sides in enumerate(bench.off_centre_mm)
    )
    return replace(bench, off_centre_mm=moved)


def humming(bench: Bench, *, field_db: float, stray_db: float) -> Bench:
    """Set both kinds of hum, in dB below a usual pluck."""
    field, stray = (bench.pluck_v * 10.0 ** (-db / 20.0) for db in (field_db, stray_db))
    return replace(bench, mains=replace(bench.mains, field_v=field, capacitive_v=stray))


def louder(bench: Bench, *, field_db: float = 0.0, stray_db: float = 0.0) -> Bench:
    """Both kinds of hum changed by some dB."""
    mains = bench.mains
    return replace(
        bench,
        mains=replace(
            mains,
            field_v=mains.field_v * 10.0 ** (field_db / 20.0),
            capacitive_v=mains.capacitive_v * 10.0 ** (stray_db / 20.0),
        ),
    )


def seed_from(rng: np.random.Generator) -> int:
    """The seed of one person's takes; drawn after the bench, so that it is the twin's as well."""
    return int(rng.integers(2**62))


def strings_of(rng: np.random.Generator, bench: Bench, count: int) -> list[str]:
    """Strings as a person would choose them: the middle ones first, not always the same."""
    names = [one.name for one in bench.strings]
    if len(names) > 4:
        first = ["D3", "G3", "A2", "B3"]
        chosen = first[:2] + [str(x) for x in rng.permutation(first[2:])] + ["E2", "E4"]
    else:
        chosen = [str(x) for x in rng.permutation(names)]
    return [chosen[k % len(chosen)] for k in range(count)]


# ---- rounds ------------------------------------------------------------------------------------------------


def paired(p: Person, strings: Sequence[str], *, a: str = "bridge", b: str = "neck") -> None:
    """One pluck into two inputs, string by string."""
    for string in strings:
        p.pluck((a, b), string)


def split_check(p: Person, *, on: str = "bridge", string: str = "D3") -> None:
    """One pickup into both inputs."""
    p.pluck((on, on), string)


def in_turn(
    p: Person,
    names: Sequence[str] = TWO,
    *,
    times: int = 3,
    string: str = "D3",
    press: bool = False,
    blocks: bool = False,
) -> None:
    """The same string on one pickup after another."""
    for name in order(names, times, blocks=blocks):
        p.pluck((name,), string, press=press)


def lifts(
    p: Person, names: Sequence[str] = TWO, *, times: int = 3, tool: str = "steel rod", blocks: bool = True
) -> None:
    """Lifts on one pickup after another."""
    for name in order(names, times, blocks=blocks):
        p.lift(name, said=p.leads(name), tool=tool)


def swings(
    p: Person, names: Sequence[str] = TWO, *, times: int = 2, tool: str = "steel rod", blocks: bool = True
) -> None:
    """Readings of the meter on one pickup after another."""
    for name in order(names, times, blocks=blocks):
        p.meter(name, tool=tool)


def order(names: Sequence[str], times: int, *, blocks: bool) -> list[str]:
    """All of one and then all of the next, or round and round."""
    if blocks:
        return [name for name in names for _ in range(times)]
    return [name for _ in range(times) for name in names]


def hum_round(p: Person, wanted: Sequence[Wanted], *, times: int = 2) -> None:
    """Strings damped, one setting after another."""
    for _ in range(times):
        for each in wanted:
            p.hum((each,))
