"""Evidence without recordings: the swing of a meter, and a compass.

A swing is a fact about the product of a pickup's ``s``, of one unknown sign that all readings share (what a
swing of +1 means in itself is not known), and of the errors of the reading. It is +1 where the reading rises
as the tool goes away with red on hot; the tool coming the other way, falling, or red on ground each turn it
over (common practice: all pickups that do the same on pull-away are in phase). A compass gives ``m`` = ``s
w``, +1 for a pole facing north.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from capture.log import AnyEntry, Meter, Pole
from reports.evidence.leads import LeadView
from reports.inference.clips import meter_connection_errors
from reports.inference.evidence_graph import (
    Evidence,
    EvidenceGraph,
    LatentError,
    MeterClipUps,
    UnknownSign,
    string_kind,
    under_string,
)
from reports.inference.factor_graph import Variable, product_factor
from reports.inference.sequential import THE_TOOL, or_magnetised
from reports.model.notes import OnPickups, OnReading
from reports.model.take_notes import MeterLeadsNote

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
        under = under_string(graph, entry, view)
        if under is None:
            left_out[entry.id] = MeterLeadsNote(entry.id, entry.pickup, string=True)
            continue
        variables, sign = graph.add_sign_variables(under[0])
        sign *= under[1]
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


def add_compass_evidence(graph: EvidenceGraph, entries: Iterable[AnyEntry]) -> dict[str, MeterLeadsNote]:
    """Add every compass reading: with the sign of the string it gives the winding.

    Readings of one magnet that contradict each other say nothing, but where the later stage has its own.
    Returns why by entry id for those; poles that were read string by string are `add_pole_evidence`'s.
    """
    read: dict[tuple[Variable, ...], list[tuple[Pole, int]]] = {}
    for entry in entries:
        if not isinstance(entry, Pole):
            continue
        view = graph.history.seen(entry, entry.pickup, coil=entry.coil)
        under = under_string(graph, entry, LeadView(view.pickup, view.coil, False, view.era, view.now, False))
        if under is None:
            continue
        unturned, pole = under
        (s,), _ = graph.add_sign_variables(unturned)
        (w,), _ = graph.add_sign_variables(unturned, letter="w")
        compass_error = graph.latent_error("compass", entry.pickup, on=OnPickups((entry.pickup,)))
        north = pole * (1 if entry.facing == "north" else -1)
        read.setdefault((s, w, compass_error), []).append((entry, north))
    left_out: dict[str, MeterLeadsNote] = {}
    for variables, readings in read.items():
        latest = [one for one in readings if one[0].stage == graph.history.stage]
        agreed = next((told for told in (readings, latest) if len({north for _, north in told}) == 1), [])
        if not agreed and any(entry.string is None for entry, _ in readings):
            left_out |= {e.id: MeterLeadsNote(e.id, e.pickup, compass=True) for e, _ in readings}
        for entry, north in agreed:
            factor = product_factor(variables, north * np.inf)
            about = frozenset((entry.pickup,))
            graph.evidence.append(Evidence(COMPASS, (factor,), about, entries=(entry.id,), letter="w"))
    return left_out


ALTERNATE_NATS, MOST_ALTERNATE_NATS = 3.5, 8.0
"""What each further string says for poles that alternate, where a compass reads by turns, and at most: it may
have turned over near a magnet (the error "compass", 0.03, each time)."""


def add_pole_evidence(graph: EvidenceGraph, entries: Sequence[AnyEntry]) -> None:
    """Compass readings string by string of a pickup of which nothing says that its poles differ.

    Where they go by turns, either the odd or the even strings have another sign than the pickup as a whole.
    """
    facing: dict[str, dict[str, set[str]]] = {}
    strings: dict[str, set[str]] = {}
    for entry in entries:
        if isinstance(entry, Pole) and entry.string is not None:
            (turn, _) = string_kind(graph.history.job, entry.string)
            facing.setdefault(entry.pickup, {}).setdefault(turn, set()).add(entry.facing)
            strings.setdefault(entry.pickup, set()).add(entry.string)
    for name, read in facing.items():
        pickup = graph.history.job.pickup(name)
        apart = {"odd", "even"} <= set(read) and not read["odd"] & read["even"]
        if pickup is None or pickup.poles is not None or pickup.made.by_string or not apart:
            continue
        on = OnPickups((name,))
        turned = tuple(graph.latent_error("poles alternate", name, turn, on=on) for turn in ("odd", "even"))
        nats = min(ALTERNATE_NATS * (len(strings[name]) - 1), MOST_ALTERNATE_NATS)
        factors = (product_factor(turned, -nats),)
        ids = tuple(e.id for e in entries if isinstance(e, Pole) and e.pickup == name and e.string)
        graph.evidence.append(Evidence(COMPASS, factors, frozenset((name,)), entries=ids, letter="m"))


def _connection(graph: EvidenceGraph, entry: Meter, clip_up: str, *, first: bool) -> tuple[LatentError, ...]:
    """What stands between the leads of the pickup and the meter's."""
    leads = graph.latent_error("meter leads", entry.pickup, clip_up, on=OnPickups((entry.pickup,)))
    loose = graph.history.is_loose(entry, entry.pickup)
    return meter_connection_errors(graph, entry, leads, loose=loose, first=first)


def _lead_view(graph: EvidenceGraph, entry: Meter) -> LeadView | None:
    if entry.black is not None and entry.red not in ("hot", "ground"):
        return graph.history.seen_at_leads(entry, entry.pickup, hot=entry.red, ground=entry.black)
    return graph.history.seen(entry, entry.pickup, turned=entry.red == "ground")
