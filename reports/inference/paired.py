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

from dsp.live.gestures import Gesture
from dsp.model.calibration import paired_ratio, split_ratio
from reports.evidence.results import NO_RIG, TakeResult
from reports.inference.evidence_graph import (
    ClipUps,
    Evidence,
    EvidenceGraph,
    LatentError,
    Observation,
    observation_of,
    sideways_error,
)
from reports.inference.factor_graph import Factor, on_axes_of, product_factor
from reports.inference.sequential import add_sequential_evidence
from reports.model.advice_notes import OnPickups
from reports.model.gestures import PAIRED, SPLIT, gesture_row
from reports.model.take_notes import TakeNote


def add_recorded_evidence(
    graph: EvidenceGraph, heard: Sequence[TakeResult], *, alike: Mapping[frozenset[str], float] | None = None
) -> dict[str, TakeNote]:
    """Add every usable take's evidence; returns remarks by take id for those that could not be placed.

    ``alike``: how alike the plucks of two settings are (reports.evidence.health).
    """
    runs = ClipUps(graph.history.job)
    remarks: dict[str, TakeNote] = {}
    groups: dict[tuple[Gesture, str], list[tuple[TakeResult, Observation]]] = defaultdict(list)
    strings: dict[tuple[str, ...], list[tuple[TakeResult, Observation, Observation, float]]] = defaultdict(
        list
    )
    for take in heard:
        run = runs.of(take.entry)
        row = gesture_row(take.entry.gesture)
        if take.faults or not take.sources or row.in_turn is None:
            continue
        shown = [
            observation_of(graph, take.entry, source, run=run, letter=row.letter) for source in take.sources
        ]
        each = [s for s in shown if s is not None]
        if len(each) < len(shown):
            remarks[take.entry.id] = TakeNote("leads not known")
        elif take.drives and _whole_of_two(graph, take):
            remarks[take.entry.id] = TakeNote("coil not named")
        elif take.paired:
            for key, told in _told_by_pairs(graph, take, each):
                strings[key].append(told)
        else:
            rig = take.entry.rig or NO_RIG
            groups[row.gesture, f"{rig}|{take.entry.stage}"].append((take, each[0]))
    for key, members in strings.items():
        _paired(graph, key, members)
    for (kind, _), takes in groups.items():
        add_sequential_evidence(graph, takes, gesture=kind, alike=alike or {})
    return remarks


def _whole_of_two(graph: EvidenceGraph, take: TakeResult) -> bool:
    """Whether a take is of a pickup with two coils and does not say of which."""
    pickup = graph.history.job.pickup(take.sources[0].pickup)
    return pickup is not None and pickup.coils > 1 and take.sources[0].coil is None


def _told_by_pairs(
    graph: EvidenceGraph, take: TakeResult, each: Sequence[Observation]
) -> Iterator[tuple[tuple[str, ...], tuple[TakeResult, Observation, Observation, float]]]:
    """What each pluck of a take says of each two of its channels; split checks go to the ledger at once."""
    for pluck in take.paired:
        a, b = (each[k] for k in pluck.between)
        if take.entry.inputs[a.column] == take.entry.inputs[b.column]:
            add_split_evidence(graph, take, a, b, split_ratio(pluck.statistic))
        else:
            key = (*sorted((a.pickup, b.pickup)), str(take.entry.string))
            yield key, (take, a, b, paired_ratio(pluck.statistic))


def add_split_evidence(
    graph: EvidenceGraph, take: TakeResult, a: Observation, b: Observation, ratio: float
) -> None:
    """Add a split check: it tells whether the inputs agree, and nothing of the pickup."""
    factors = (product_factor((*a.variables, *b.variables), ratio),)
    graph.evidence.append(Evidence(SPLIT, factors, frozenset(), takes=(take.entry.id,), about="channels"))


def _paired(
    graph: EvidenceGraph,
    key: tuple[str, ...],
    members: Sequence[tuple[TakeResult, Observation, Observation, float]],
) -> None:
    """All paired plucks of two pickups on one string share the chance that it moved sideways at one."""
    graph.evidence.extend(paired_evidence(graph, told, key=key) for told in members)


def paired_evidence(
    graph: EvidenceGraph, told: tuple[TakeResult, Observation, Observation, float], *, key: tuple[str, ...]
) -> Evidence:
    """One paired pluck as evidence; ``key`` is both pickups in order of their names, and the string."""
    take, a, b, ratio = told
    aside = [sideways_error(graph, pickup, key[2]) for pickup in key[:2]]
    twice = graph.latent_error("one pickup twice", key[0], key[1], on=OnPickups(key[:2]))
    turned = product_factor((*a.variables, *b.variables, *aside), a.sign * b.sign * ratio)
    return Evidence(
        PAIRED,
        (_or_one_pickup_twice(turned, twice, ratio),),
        frozenset((a.pickup, b.pickup)),
        takes=(take.entry.id,),
    )


def _or_one_pickup_twice(factor: Factor, twice: LatentError, ratio: float) -> Factor:
    """The same evidence, unless one pickup was on both inputs.

    Then the channels look alike whatever the pickups are, but for the inputs themselves.
    """
    channel = [v for v in factor.variables if isinstance(v, LatentError) and v.kind == "channels"]
    alike = product_factor(channel, ratio) if channel else Factor((), np.array(ratio / 2))
    variables = (twice, *factor.variables)
    return Factor(variables, np.stack([factor.log, on_axes_of(alike, factor.variables)]))
