"""Evidence from recordings channel by channel: paired plucks, split checks, and separate gestures.

Task: from heard takes to pieces of evidence in the ledger. Signs: a paired pluck is about the product
of two pickups' ``s`` and of everything that may have turned one of the two channels over; separate
takes on one rig are about the products of their stations. What several settings on one jack say is read in
reports.inference.jack.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from dsp.model.calibration import paired_ratio, split_ratio
from reports.evidence.results import NO_RIG, HeardTake, Letter
from reports.inference.evidence_graph import ClipRuns, Hidden, Ledger, Piece, Shown, shown_by, sideways
from reports.inference.factor_graph import Factor, product_factor, spread
from reports.inference.sequential import METHODS, compare_in_turn

PAIRED = "paired pluck"
SPLIT = "split check"
COIL_NOT_NAMED = (
    "A driven coil over a pickup with two coils reads the one it is held over: void the take and enter it "
    "with that coil."
)
LEADS_NOT_KNOWN = (
    "The leads on the clips are not those of this pickup in job.toml, so the take says nothing here. "
    "Enter the pickup's hot, ground and link leads, or void the take."
)


def listen(
    ledger: Ledger, heard: Sequence[HeardTake], *, alike: Mapping[frozenset[str], float] | None = None
) -> dict[str, str]:
    """Add every usable take's evidence; returns remarks by take id for those that could not be placed.

    ``alike``: how alike the plucks of two settings are (reports.evidence.health).
    """
    runs = ClipRuns(ledger.wires.job)
    remarks: dict[str, str] = {}
    groups: dict[tuple[str, str], list[tuple[HeardTake, Shown]]] = defaultdict(list)
    strings: dict[tuple[str, ...], list[tuple[HeardTake, Shown, Shown, float]]] = defaultdict(list)
    for take in heard:
        run = runs.of(take.entry)
        gesture = take.entry.gesture
        if take.faults or not take.stations or gesture not in METHODS:
            continue
        letter: Letter = "w" if gesture == "drive" else "s"
        shown = [shown_by(ledger, take.entry, station, run=run, letter=letter) for station in take.stations]
        each = [s for s in shown if s is not None]
        if len(each) < len(shown):
            remarks[take.entry.id] = LEADS_NOT_KNOWN
        elif take.drives and _whole_of_two(ledger, take):
            remarks[take.entry.id] = COIL_NOT_NAMED
        elif take.paired:
            for key, told in _told_by_pairs(ledger, take, each):
                strings[key].append(told)
        else:
            rig = take.entry.rig or NO_RIG
            groups[gesture, f"{rig}|{take.entry.stage}"].append((take, each[0]))
    for key, members in strings.items():
        _paired(ledger, key, members)
    for (kind, _), takes in groups.items():
        compare_in_turn(ledger, takes, gesture=kind, alike=alike or {})
    return remarks


def _whole_of_two(ledger: Ledger, take: HeardTake) -> bool:
    """Whether a take is of a pickup with two coils and does not say of which."""
    pickup = ledger.wires.job.pickup(take.stations[0].pickup)
    return pickup is not None and pickup.coils > 1 and take.stations[0].coil is None


def _told_by_pairs(
    ledger: Ledger, take: HeardTake, each: Sequence[Shown]
) -> Iterator[tuple[tuple[str, ...], tuple[HeardTake, Shown, Shown, float]]]:
    """What each pluck of a take says of each two of its channels; split checks go to the ledger at once."""
    for pluck in take.paired:
        a, b = (each[k] for k in pluck.between)
        if take.entry.inputs[a.column] == take.entry.inputs[b.column]:
            split_piece(ledger, take, a, b, split_ratio(pluck.statistic))
        else:
            key = (*sorted((a.pickup, b.pickup)), str(take.entry.string))
            yield key, (take, a, b, paired_ratio(pluck.statistic))


def split_piece(ledger: Ledger, take: HeardTake, a: Shown, b: Shown, ratio: float) -> None:
    """Add a split check: it tells whether the inputs agree, and nothing of the pickup."""
    factors = (product_factor((*a.variables, *b.variables), ratio),)
    ledger.pieces.append(Piece(SPLIT, factors, frozenset(), takes=(take.entry.id,), about="channels"))


def _paired(
    ledger: Ledger, key: tuple[str, ...], members: Sequence[tuple[HeardTake, Shown, Shown, float]]
) -> None:
    """All paired plucks of two pickups on one string share the chance that it moved sideways at one."""
    ledger.pieces.extend(paired_piece(ledger, told, key=key) for told in members)


def paired_piece(
    ledger: Ledger, told: tuple[HeardTake, Shown, Shown, float], *, key: tuple[str, ...]
) -> Piece:
    """One paired pluck as evidence; ``key`` is both pickups in order of their names, and the string."""
    take, a, b, ratio = told
    aside = [sideways(ledger, pickup, key[2]) for pickup in key[:2]]
    twice = ledger.mistake("one pickup twice", key[0], key[1], label=f"{key[0]} and {key[1]}")
    turned = product_factor((*a.variables, *b.variables, *aside), a.sign * b.sign * ratio)
    return Piece(
        PAIRED,
        (_or_one_pickup_twice(turned, twice, ratio),),
        frozenset((a.pickup, b.pickup)),
        takes=(take.entry.id,),
    )


def _or_one_pickup_twice(factor: Factor, twice: Hidden, ratio: float) -> Factor:
    """The same evidence, unless one pickup was on both inputs.

    Then the channels look alike whatever the pickups are, but for the inputs themselves.
    """
    channel = [v for v in factor.variables if isinstance(v, Hidden) and v.kind == "channels"]
    alike = product_factor(channel, ratio) if channel else Factor((), np.array(ratio / 2))
    variables = (twice, *factor.variables)
    return Factor(variables, np.stack([factor.log, spread(alike, factor.variables)]))
