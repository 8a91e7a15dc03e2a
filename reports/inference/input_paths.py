"""Evidence on the inputs themselves: whether they are in step, and a split check that is silent.

Log-likelihoods in nats. Sign: an input that comes late takes a pluck's voice and turns nothing over.
"""

from __future__ import annotations

import numpy as np

from capture.log import Take
from reports.evidence.results import NO_RIG, TakeResult
from reports.inference.evidence_graph import Evidence, EvidenceGraph, channel_error, clip_lead_error
from reports.inference.factor_graph import Factor, product_factor
from reports.model.gestures import SPLIT
from reports.model.notes import InputNote, OnRig

SILENT_NATS = 3.5
"""A lead that is the other way round shorts every split check where the sleeves are joined, as they are in
most boxes; otherwise one split check in some tens is silent, because something was not plugged in."""


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
