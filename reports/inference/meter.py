"""Evidence from the bench without sound: meter swings and compass readings.

Task: from log entries to pieces of evidence. Signs: a swing is +1 where the reading rises as the tool
goes away with red on hot; the meter coming the other way, falling, or red on ground each turn it over
(common practice: all pickups that do the same on pull-away are in phase). What a swing of +1 means in
itself is not known: it is one unknown sign that all readings share. A pole facing north is ``m`` = +1.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from capture.log import AnyEntry, Meter, Pole
from reports.evidence.leads import LeadView
from reports.inference.evidence_graph import Evidence, EvidenceGraph, MeterClipUps, UnknownSign
from reports.inference.factor_graph import Variable, product_factor
from reports.inference.sequential import THE_TOOL, or_magnetised
from reports.model.advice_notes import OnPickups, OnReading
from reports.model.take_notes import MeterLeadsNote

METER = "meter swing"
COMPASS = "compass"
METER_SENSE = UnknownSign("meter", "")


def add_meter_evidence(graph: EvidenceGraph, entries: Iterable[AnyEntry]) -> dict[str, MeterLeadsNote]:
    """Add every meter reading that tells; returns why by entry id for those that could not be placed."""
    runs = MeterClipUps()
    left_out: dict[str, MeterLeadsNote] = {}
    for entry in entries:
        if not isinstance(entry, Meter):
            continue
        run = runs.of(entry)
        if entry.reading == "unclear":
            continue
        seen = _seen(graph, entry)
        if seen is None:
            left_out[entry.id] = MeterLeadsNote(entry.id, entry.pickup)
            continue
        variables, sign = graph.sign_of(seen)
        sign *= (1 if entry.reading == "rises" else -1) * (1 if entry.move == "away" else -1)
        shared: list[Variable] = [
            METER_SENSE,
            graph.latent_error("meter leads", entry.pickup, run, on=OnPickups((entry.pickup,))),
            graph.latent_error("misread swing", entry.id, on=OnReading(entry.pickup, entry.id)),
        ]
        pickup = graph.history.job.pickup(entry.pickup)
        if pickup is not None and not pickup.fitted and entry.stage == "found":
            shared.append(graph.latent_error("colours", entry.pickup, on=OnPickups((entry.pickup,))))
        swing = product_factor((*variables, *shared), sign * np.inf)
        graph.evidence.append(
            Evidence(
                METER,
                (or_magnetised(graph, swing, tool=entry.tool or THE_TOOL),),
                frozenset((entry.pickup,)),
                entries=(entry.id,),
            )
        )
    return left_out


def add_compass_evidence(graph: EvidenceGraph, entries: Iterable[AnyEntry]) -> None:
    """Add every compass reading: with the sign of the string it gives the winding."""
    for entry in entries:
        if not isinstance(entry, Pole):
            continue
        seen = graph.history.seen(entry, entry.pickup, coil=entry.coil)
        still = LeadView(seen.pickup, seen.coil, False, seen.era, seen.now, False)
        (s,), _ = graph.sign_of(still)
        (w,), _ = graph.sign_of(still, letter="w")
        turned = graph.latent_error("compass", entry.pickup, on=OnPickups((entry.pickup,)))
        north = 1 if entry.facing == "north" else -1
        graph.evidence.append(
            Evidence(
                COMPASS,
                (product_factor((s, w, turned), north * np.inf),),
                frozenset((entry.pickup,)),
                entries=(entry.id,),
                about="w",
            )
        )


def _seen(graph: EvidenceGraph, entry: Meter) -> LeadView | None:
    if entry.black is not None and entry.red not in ("hot", "ground"):
        return graph.history.seen_at_leads(entry, entry.pickup, hot=entry.red, ground=entry.black)
    return graph.history.seen(entry, entry.pickup, turned=entry.red == "ground")
