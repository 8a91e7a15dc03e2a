"""Evidence of what a person verified on the bench: the entries of kind ``check``.

A check speaks of a latent error, or of the sign of an active stage, and of no pickup's sign. It is no
certainty: what was found in order is taken for wrong once in a hundred (another lead was in hand, the entry
was a slip), and what was found at fault once in five thousand, since whoever finds a fault looks twice. A
lead, a side or a stage that is found the other way round turns over the evidence that went through it.
``same path`` is read in reports.evidence.paths. Log ratios are natural logarithms.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from capture.log import AnyEntry, Check
from reports.inference.error_priors import ERROR_PRIORS
from reports.inference.evidence_graph import (
    Evidence,
    EvidenceGraph,
    LatentError,
    UnknownSign,
    drawer_error,
    side_error,
    stage_sign,
)
from reports.inference.factor_graph import Factor, product_factor
from reports.model.notes import OnInput, OnTool

CHECKED = "check"
IN_ORDER = float(np.log(0.99 / 0.01))
AT_FAULT = float(np.log(0.99 / 0.0002))
"""Nats that a check says against an error, and for it."""
STATED = 12.4
"""Nats that a person's word says for a pickup held over the strings on purpose: with the prior of doing so
unawares (two in a thousand), two slips in a thousand are left."""
COMPARED = float(np.log(0.998 / 0.002))
"""Nats that stage and bypass, compared by a person, say of the stage's sign: two slips in a thousand."""


DIAGRAM = float(np.log(0.97 / 0.03))
"""Nats that a diagram says of a stage's sign: another revision, a repair, a stage that was counted wrongly in
three of a hundred. A guess; so a diagram alone settles nothing."""


def add_check_evidence(graph: EvidenceGraph, entries: Iterable[AnyEntry]) -> None:
    """Add what was checked; after the recorded evidence, whose clip leads it is about."""
    for entry in entries:
        if isinstance(entry, Check):
            factors = tuple(_factors(graph, entry))
            if factors:
                graph.evidence.append(
                    Evidence(CHECKED, factors, frozenset(), entries=(entry.id,), letter="channels")
                )


def _factors(graph: EvidenceGraph, entry: Check) -> Iterator[Factor]:
    match entry.what:
        case "clip lead":
            for lead in _leads(graph, entry):
                yield _about(lead, fault=entry.tip == "black")
        case "tool":
            tool = str(entry.tool)
            magnet = graph.latent_error("magnetised tool", tool, on=OnTool(tool))
            yield _about(magnet, fault=entry.staple == "lifted")
            if entry.staple != "lifted":
                yield _about(drawer_error(graph), fault=False)
        case "held":
            yield Factor(
                (side_error(graph, str(entry.pickup)),),
                np.array([0.0, STATED if entry.side == "over" else -IN_ORDER]),
            )
        case "bypass":
            pickup = graph.history.job.pickup(str(entry.pickup))
            if pickup is not None:
                loose = graph.history.is_loose(entry, pickup.name)
                stage = stage_sign(pickup.name if loose else "")
                yield product_factor((stage,), -COMPARED if entry.inverts else COMPARED)
        case "box":
            yield from _inputs_as_remembered(graph, entry)
        case "same path" | "shelf":  # read in reports.evidence.paths and reports.inference.shelf
            return


def add_stage_diagrams(graph: EvidenceGraph) -> None:
    """Add what job.toml says of active stages from their diagrams, once for the stage that all share."""
    said: dict[UnknownSign, str] = {}
    for pickup in graph.history.job.pickups:
        if pickup.active and pickup.stage is not None:
            said.setdefault(stage_sign("" if pickup.fitted else pickup.name), pickup.stage)
    for stage, way in said.items():
        factor = product_factor((stage,), -DIAGRAM if way == "inverts" else DIAGRAM)
        graph.evidence.append(Evidence(CHECKED, (factor,), frozenset(), letter="channels"))


def _inputs_as_remembered(graph: EvidenceGraph, entry: Check) -> Iterator[Factor]:
    """Leave as much doubt about the second input as the memory's age does, whichever way it was found."""
    doubt = graph.paths.boxes.get(entry.id)
    if doubt is None:
        return
    rig, usual = str(entry.rig), ERROR_PRIORS["channels"].probability
    inverts = graph.latent_error("channels", rig, "1", on=OnInput(2, rig))
    doubted = float(np.log(doubt / (1 - doubt)))
    before = float(np.log(usual / (1 - usual)))
    yield Factor((inverts,), np.array([0.0, (-doubted if entry.opposed else doubted) - before]))


def _about(error: LatentError, *, fault: bool) -> Factor:
    return Factor((error,), np.array([0.0, AT_FAULT if fault else -IN_ORDER]))


def _leads(graph: EvidenceGraph, entry: Check) -> list[LatentError]:
    """The clip leads that a check is of: of one input or all, of one rig or all."""
    return [
        error
        for error in graph.errors
        if error.kind == "clip lead"
        and entry.rig in (None, error.key[0])
        and (entry.input is None or error.key[1:] == (str(entry.input),))
    ]
