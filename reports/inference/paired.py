"""Evidence from two channels at once: paired plucks and split checks; single channels go to sequential.

A paired pluck is one pluck heard on two channels. Its log-likelihood ratio (dsp.model.calibration) is about
the product of both pickups' ``s``, of the errors on the way to each channel, of a string that moves sideways
at one of them, and of a rig whose inputs invert. If one pickup was on both inputs ("one pickup twice"), it is
about the inputs alone. A split check, one pickup on both inputs, is about the inputs alone as well; one that
is silent tells of a lead that is the other way round. An input that comes late takes a pluck's voice and
turns nothing over. Log-likelihoods in nats.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from capture.log import Take
from dsp.live.gestures import Gesture
from dsp.model.calibration import paired_ratio, split_ratio
from reports.evidence.results import NO_RIG, TakeResult
from reports.inference.channel_ratios import (
    ChannelRatios,
    beside_errors,
    channel_ratios,
    misplaced_error,
    or_beside_poles,
    unless_misplaced,
)
from reports.inference.evidence_graph import (
    ClipUps,
    Evidence,
    EvidenceGraph,
    LatentError,
    Observation,
    channel_error,
    clip_lead_error,
    observation_of,
    pole_errors,
    sideways_error,
)
from reports.inference.factor_graph import Factor, on_axes_of, product_factor
from reports.inference.selector import heard_by_name
from reports.inference.sequential import add_sequential_evidence
from reports.model.gestures import PAIRED, SPLIT, gesture_row
from reports.model.notes import OnRig
from reports.model.take_notes import InputNote, TakeNote

OF_THE_INPUTS = ("channels", "clip lead")
"""Errors of what lies before the inputs, whatever pickup is there."""
SILENT_NATS = 3.5
"""A lead that is the other way round shorts every split check where the sleeves are joined, as they are in
most boxes; otherwise one split check in some tens is silent, because something was not plugged in."""


PluckComparison = tuple[TakeResult, Observation, Observation, float, float | None]
"""A take, what two of its channels show, the log-likelihood ratio of the signs being the same, and the log
odds of inputs that are not in step (None: not looked at)."""


def add_recorded_evidence(
    graph: EvidenceGraph,
    results: Sequence[TakeResult],
    *,
    alike: Mapping[frozenset[str], float] | None = None,
) -> dict[str, TakeNote]:
    """Add every usable take's evidence; returns remarks by take id for those that could not be placed.

    ``alike``: how alike the plucks of two settings are (reports.evidence.health).
    """
    clip_ups = ClipUps(graph.history.job)
    remarks: dict[str, TakeNote] = {}
    by_pair: dict[tuple[str, ...], list[PluckComparison]] = defaultdict(list)
    groups: dict[tuple[Gesture, str], list[tuple[TakeResult, Observation]]] = defaultdict(list)
    for take in results:
        clip_up_of = clip_ups.of(take.entry)
        row = gesture_row(take.entry.gesture)
        add_short_evidence(graph, take)
        if take.faults or not take.sources or row.in_turn is None:
            continue
        observations = [
            observation_of(graph, take.entry, source, clip_up_of=clip_up_of, letter=row.letter)
            for source in take.sources
        ]
        each = [s for s in observations if s is not None]
        if len(each) < len(observations):
            remarks[take.entry.id] = _why_unplaced(graph, take)
        elif take.drives and _whole_of_two(graph, take):
            remarks[take.entry.id] = TakeNote("coil not named")
        elif take.paired:
            for key, comparison in _comparisons(graph, take, each):
                by_pair[key].append(comparison)
        else:
            rig = take.entry.rig or NO_RIG
            groups[row.gesture, f"{rig}|{take.entry.stage}"].append((take, each[0]))
    placed = frozenset(
        p.name
        for p in graph.history.job.pickups
        if p.centre_mm is not None and p.fitted and not p.made.by_string
    )
    ratios = channel_ratios(results, placed=placed)
    paired = [
        paired_evidence(graph, comparison, key=key, ratios=ratios)
        for key, comparisons in by_pair.items()
        for comparison in comparisons
    ]
    graph.evidence.extend(ratios.with_factors(graph, paired))
    for (kind, _), takes in groups.items():
        add_sequential_evidence(graph, takes, gesture=kind, alike=alike or {})
    return remarks


def _why_unplaced(graph: EvidenceGraph, take: TakeResult) -> TakeNote:
    """What a take does not say; leads that nobody named are looked at last."""
    pickups = [p for s in take.sources if (p := graph.history.job.pickup(s.pickup)) is not None]
    if any(not p.made.hears_strings for p in pickups):
        return TakeNote("hears no string")
    return TakeNote("string not named" if any(p.made.by_string for p in pickups) else "leads not known")


def _whole_of_two(graph: EvidenceGraph, take: TakeResult) -> bool:
    """Whether a take is of a pickup with two coils and does not say of which."""
    pickup = graph.history.job.pickup(take.sources[0].pickup)
    return pickup is not None and pickup.made.several and take.sources[0].coil is None


def _comparisons(
    graph: EvidenceGraph, take: TakeResult, each: Sequence[Observation]
) -> Iterator[tuple[tuple[str, ...], PluckComparison]]:
    """Each pluck of a take on each two of its channels; split checks are added to the graph at once."""
    for pluck in take.paired:
        a, b = (each[k] for k in pluck.between)
        if take.entry.inputs[a.column] == take.entry.inputs[b.column]:
            add_split_evidence(graph, take, a, b, split_ratio(pluck.statistic))
        else:
            key = (*sorted((a.pickup, b.pickup)), str(take.entry.string))
            yield key, (take, a, b, paired_ratio(pluck.statistic), pluck.late)


def add_split_evidence(
    graph: EvidenceGraph, take: TakeResult, a: Observation, b: Observation, ratio: float
) -> None:
    """Add a split check: it tells whether the inputs agree, and nothing of the pickup."""
    factors = (product_factor((graph.heard(a), graph.heard(b)), ratio),)
    graph.evidence.append(Evidence(SPLIT, factors, frozenset(), takes=(take.entry.id,), letter="channels"))


def paired_evidence(
    graph: EvidenceGraph,
    comparison: PluckComparison,
    *,
    key: tuple[str, ...],
    ratios: ChannelRatios | None = None,
) -> Evidence:
    """One paired pluck as evidence.

    ``key``: both pickups in order of their names, and the string; ``ratios``: what the channels' ratios tell.
    """
    take, a, b, ratio, late = comparison
    doubts = [sideways_error(graph, pickup, key[2]) for pickup in key[:2]]
    doubts += [e for pickup in key[:2] for e in pole_errors(graph, pickup, [take.entry.string])]
    pair = (key[0], key[1])
    same_pickup = (ratios or ChannelRatios()).twice_error(graph, pair, take.entry.id)
    factor = product_factor((heard_by_name(graph, a), heard_by_name(graph, b), *doubts), ratio)
    if key[0] != key[1]:
        press = take.entry.gesture == "press"
        factor = or_beside_poles(factor, beside_errors(graph, pair), press=press)
        if ratios is not None and pair in ratios.misplaced:
            factor = unless_misplaced(factor, misplaced_error(graph, pair))
    channels = [
        v for one in (a, b) for v in one.variables if isinstance(v, LatentError) and v.kind in OF_THE_INPUTS
    ]
    factor = _or_one_pickup_twice(factor, same_pickup, ratio, channels=channels)
    if late is not None:
        factor = unless_late(graph, factor, take.entry, late)
    return Evidence(
        PAIRED,
        (factor,),
        frozenset((a.pickup, b.pickup)),
        takes=(take.entry.id,),
    )


def _or_one_pickup_twice(
    factor: Factor, same_pickup: LatentError, ratio: float, *, channels: Sequence[LatentError]
) -> Factor:
    """The same evidence, unless one pickup was on both inputs.

    Then the channels look alike whatever the pickups are, but for the inputs themselves.
    """
    alike = product_factor(channels, ratio) if channels else Factor((), np.array(ratio / 2))
    variables = tuple(dict.fromkeys((*factor.variables, *channels)))
    shape = (2,) * len(variables)
    log = [np.broadcast_to(on_axes_of(f, variables), shape) for f in (factor, alike)]
    return Factor((same_pickup, *variables), np.stack(log))


def unless_late(graph: EvidenceGraph, factor: Factor, entry: Take, late: float) -> Factor:
    """The same evidence, unless the inputs are not in step: then it says only that."""
    rig = entry.rig or NO_RIG
    error = graph.latent_error("late input", rig, on=OnRig(rig))
    return Factor((error, *factor.variables), np.stack([factor.log, np.full(factor.log.shape, late)]))


def add_short_evidence(graph: EvidenceGraph, take: TakeResult) -> None:
    """Add what a silent split check says of the leads on both inputs; the first of a rig counts."""
    if not any(isinstance(note, InputNote) and note.code == "silent split check" for note in take.remarks):
        return
    leads = (graph.paths.clip_lead(take.entry, source) for source in take.sources)
    errors = [clip_lead_error(graph, lead) for lead in leads if lead is not None]
    if not errors:
        errors = [channel_error(graph, take.entry, max(source.column for source in take.sources))]
    factor = product_factor(errors, -SILENT_NATS)
    if any(f.variables == factor.variables for piece in graph.evidence for f in piece.factors):
        return
    graph.evidence.append(Evidence(SPLIT, (factor,), frozenset(), takes=(take.entry.id,), letter="channels"))
