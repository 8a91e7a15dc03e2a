"""Evidence without recordings: the swing of a meter, and a compass.

A swing is a fact about the product of a pickup's ``s``, of one unknown sign that all readings share (what a
swing of +1 means in itself is not known), and of the errors of the reading. It is +1 where the reading rises
as the tool goes away with red on hot; the tool coming the other way, falling, or red on ground each turn it
over (common practice: all pickups that do the same on pull-away are in phase). A compass gives ``m`` = ``s
w``, +1 for a pole facing north.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from capture.log import AnyEntry, Meter, Pole
from reports.evidence.leads import LeadView
from reports.inference.clips import meter_connection_errors
from reports.inference.evidence_graph import Evidence, EvidenceGraph, LatentError, MeterClipUps, UnknownSign
from reports.inference.factor_graph import Variable, product_factor
from reports.inference.sequential import THE_TOOL, or_magnetised
from reports.model.notes import MeterLeadsNote, OnPickups, OnReading

METER = "meter swing"
COMPASS = "compass"
METER_SENSE = UnknownSign("meter", "")


def add_meter_evidence(graph: EvidenceGraph, entries: Iterable[AnyEntry]) -> dict[str, MeterLeadsNote]:
    """Add every meter reading that tells; returns why by entry id for those that could not be placed."""
    clip_ups = MeterClipUps()
    left_out: dict[str, MeterLeadsNote] = {}
    for entry in entries:
        if not isinstance(entry, Meter):
            continue
        clip_up_of = clip_ups.of(entry)
        if entry.reading == "unclear":
            continue
        view = _lead_view(graph, entry)
        if view is None:
            left_out[entry.id] = MeterLeadsNote(entry.id, entry.pickup)
            continue
        variables, sign = graph.add_sign_variables(view)
        sign *= (1 if entry.reading == "rises" else -1) * (1 if entry.move == "away" else -1)
        errors: list[Variable] = [
            METER_SENSE,
            *_connection(graph, entry, clip_up_of, first=clip_ups.first(entry)),
            graph.latent_error("misread swing", entry.id, on=OnReading(entry.pickup, entry.id)),
        ]
        swing = product_factor((*variables, *errors), sign * np.inf)
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
        view = graph.history.seen(entry, entry.pickup, coil=entry.coil)
        unturned = LeadView(view.pickup, view.coil, False, view.era, view.now, False)
        (s,), _ = graph.add_sign_variables(unturned)
        (w,), _ = graph.add_sign_variables(unturned, letter="w")
        compass_error = graph.latent_error("compass", entry.pickup, on=OnPickups((entry.pickup,)))
        north = 1 if entry.facing == "north" else -1
        graph.evidence.append(
            Evidence(
                COMPASS,
                (product_factor((s, w, compass_error), north * np.inf),),
                frozenset((entry.pickup,)),
                entries=(entry.id,),
                letter="w",
            )
        )


def _connection(graph: EvidenceGraph, entry: Meter, clip_up: str, *, first: bool) -> tuple[LatentError, ...]:
    """What stands between the leads of the pickup and the meter's."""
    leads = graph.latent_error("meter leads", entry.pickup, clip_up, on=OnPickups((entry.pickup,)))
    loose = graph.history.is_loose(entry, entry.pickup)
    return meter_connection_errors(graph, entry, leads, loose=loose, first=first)


def _lead_view(graph: EvidenceGraph, entry: Meter) -> LeadView | None:
    if entry.black is not None and entry.red not in ("hot", "ground"):
        return graph.history.seen_at_leads(entry, entry.pickup, hot=entry.red, ground=entry.black)
    return graph.history.seen(entry, entry.pickup, turned=entry.red == "ground")
