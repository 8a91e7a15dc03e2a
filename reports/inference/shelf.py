"""Evidence of another job on a pickup and the bench's reference coil, as one relation of two signs.

The relation is certain but for one latent error of its own, whose probability is the doubt that the other job
left and that age added (reports.evidence.shelf): an error of that job, whatever its kind, is one here. Errors
that both jobs share (one tool) make this too careful, never too bold: what turns over both relations alike
leaves their product as it is. Log ratios are natural logarithms.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from reports.evidence.shelf import ShelfRelation
from reports.inference.error_priors import ERROR_PRIORS
from reports.inference.evidence_graph import Evidence, EvidenceGraph, LatentError, current_sign
from reports.inference.factor_graph import Factor, product_factor
from reports.model.notes import OnPickups

SHELF = "reference coil"


def add_shelf_evidence(graph: EvidenceGraph, relations: Iterable[ShelfRelation]) -> None:
    """Add what other jobs found; a relation of leads that are not known here says nothing."""
    for relation in relations:
        entry = relation.entry
        pickup = str(entry.pickup)
        view = (
            graph.history.seen(entry, pickup)
            if entry.hot is None or entry.ground is None
            else graph.history.seen_at_leads(entry, pickup, hot=entry.hot, ground=entry.ground)
        )
        if view is None:
            continue
        variables, sign = graph.add_sign_variables(view)
        broken = graph.latent_error("shelf coil", entry.id, on=OnPickups((pickup,)))
        tie = product_factor(
            (*variables, current_sign(relation.coil), broken), (-sign if entry.opposed else sign) * np.inf
        )
        graph.evidence.append(
            Evidence(
                SHELF,
                (tie, _scaled(broken, relation.doubt)),
                frozenset((pickup, relation.coil)),
                entries=(entry.id,),
            )
        )


def _scaled(error: LatentError, doubt: float) -> Factor:
    """What makes an error as probable as a doubt; priors that are doubled double it."""
    usual = ERROR_PRIORS[error.kind].probability
    odds = np.log(doubt / (1 - doubt)) - np.log(usual / (1 - usual))
    return Factor((error,), np.array([0.0, odds]))
