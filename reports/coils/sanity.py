"""Remarks on single readings: hands on the clips, slips of unit, open and shorted coils, the meter's range.

Task: from readings in ohms, and the coils found from them, to sentences. Units: kilohms, degrees Celsius.
Shapes: none. Signs: none.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from capture.bench_log import Ohms
from capture.job import Pickup
from reports.coils import coil_words as words
from reports.coils.finding import CoilEnds
from reports.coils.limits import (
    BODY_KOHM,
    COPPER_AT_C,
    COPPER_PER_KELVIN,
    FINGERS_FROM_KOHM,
    JOINED_KOHM,
    METER_RANGES_KOHM,
    OHMS_TYPED_FROM,
    OHMS_TYPED_TO,
    SHORTED_SHARE,
    across,
)
from reports.coils.structures import MOST_COILS, is_shield


def at_temperature(kohm: float, *, from_c: float, to_c: float) -> float:
    """What a copper coil that reads ``kohm`` at one temperature reads at another."""
    then, there = (1 + COPPER_PER_KELVIN * (c - COPPER_AT_C) for c in (from_c, to_c))
    return kohm * there / then


def through_hands(kohm: float, *, body_kohm: float = BODY_KOHM) -> float:
    """What the meter reads of a coil while a hand holds each clip."""
    return across(kohm, body_kohm)


def slip_of_unit(kohm: float) -> bool:
    """Whether the number was probably typed in ohms: 6600 for 6.6."""
    return OHMS_TYPED_FROM <= kohm <= OHMS_TYPED_TO


def meter_range(kohms: Iterable[float]) -> float | None:
    """The lowest range that holds all readings of coils; None for none, or more than any range holds."""
    coils = [k for k in kohms if JOINED_KOHM < k < FINGERS_FROM_KOHM]
    if not coils:
        return None
    return next((r for r in METER_RANGES_KOHM if r > max(coils)), None)


def remarks_on(pickup: Pickup, readings: Sequence[Ohms], ends: CoilEnds) -> tuple[str, ...]:
    """All that is worth saying of the readings of one pickup, beside which leads are whose."""
    mine = [r for r in readings if r.pickup == pickup.name]
    read = [r.kohm for r in mine if r.kohm is not None]
    said = [
        words.TYPED_IN_OHMS.format(r.id, r.kohm, r.kohm / 1000, r.kohm / 1000)
        for r in mine
        if r.kohm is not None and slip_of_unit(r.kohm)
    ]
    said += _open_or_shorted(pickup, mine, ends)
    said += _against_its_twin(ends)
    best = meter_range(read)
    if best is not None:
        said.append(_range_sentence(best))
    coils = [k for k in ends.kohm if k is not None]
    if coils:
        said.append(words.HANDS_OFF.format(max(coils), through_hands(max(coils))))
    return tuple(said)


def _open_or_shorted(pickup: Pickup, mine: Sequence[Ohms], ends: CoilEnds) -> list[str]:
    """Coils that are missing among those found: open between the only two leads, or joined end to end."""
    if len(ends.coils) >= pickup.coils:
        return []
    named = [lead for lead in ends.leads if not is_shield(lead)]
    said = []
    if len(named) == MOST_COILS and tuple(named) in ends.open_pairs:
        said.append(words.OPEN_COIL.format(pickup.name, *named))
    held = {lead for coil in ends.coils for lead in coil}
    for r in mine:
        joined = r.kohm is not None and r.kohm <= JOINED_KOHM
        if joined and not held & set(r.between) and not any(map(is_shield, r.between)):
            said.append(words.SHORTED.format(pickup.name, *r.between, r.kohm))
    return said


def _against_its_twin(ends: CoilEnds) -> list[str]:
    if len(ends.coils) != MOST_COILS or ends.joints or None in ends.kohm:
        return []
    (low, coil), (high, _) = sorted((k or 0.0, coil) for k, coil in zip(ends.kohm, ends.coils, strict=True))
    return [] if low >= SHORTED_SHARE * high else [words.PARTLY_SHORTED.format(ends.pickup, *coil, low, high)]


def _range_sentence(best: float) -> str:
    place = METER_RANGES_KOHM.index(best)
    below = words.OVER_RANGE.format(METER_RANGES_KOHM[place - 1]) if place > 0 else ""
    above = words.LOSES_DIGITS.format(METER_RANGES_KOHM[place + 1]) if best < METER_RANGES_KOHM[-1] else ""
    return words.RANGE.format(best, below, above)
