"""What all hum evidence of a job shares: the field at each pickup, and the way in.

Latent errors of `reports.inference.evidence_graph` for tables over winding signs. A mains field that points
the other way at one pickup turns its sign over in every take made at that place (near a transformer, which
is a dipole, at any height): by level, by phase and by switching alike. Takes with another text under
``where`` were made at another place and have an error of their own there; a second error of each pickup goes
with it to every place. Hum that comes in by capacitance ignores the winding, wherever the guitar lies; a
change of level between takes proves nothing of it, since a hand on the strings or another distance from a
lamp changes it as well. Only a turn that a person says (another ``where``) speaks a little, where all
settings change alike and by much.
Sign: an error that happened turns the sign of one pickup over. Units: dB, nats. Sources: R2.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from capture.log import Take
from dsp.methods.hum import HumLines
from reports.inference.evidence_graph import Evidence, EvidenceGraph, LatentError
from reports.inference.factor_graph import Factor
from reports.model.gestures import HUM_LEVEL
from reports.model.notes import OnPickups, OnRig

NO_PLACE = ""
"""Stands for the place of takes that name none."""
TURNED_DB = (6.0, 15.0)
"""From the first on a turn that was said speaks for hum through the coils, from the second on no more: hum by
capacitance has no null, and a field has one (practice)."""
TURNED_NATS = 2.0
"""What it says at most: a lamp that is nearer changes buzz by as much."""
ALIKE_DB = 4.0
"""A turned field changes every pickup by the same factor; a hand on some takes does not."""


def place_of_take(entry: Take) -> str:
    """Where a take was made: its text in small letters with single blanks, "" where none is given."""
    return " ".join((entry.where or NO_PLACE).casefold().split())


def capacitive_error(graph: EvidenceGraph, rig: str) -> LatentError:
    """The doubt that hum on a rig does not come in through the coils."""
    return graph.latent_error("capacitive hum", rig, on=OnRig(rig))


def field_errors(graph: EvidenceGraph, pickup: str, *, place: str) -> tuple[LatentError, LatentError]:
    """The chance that the field points the other way at a pickup: at this place, and at all places."""
    on = OnPickups((pickup,))
    return (
        graph.latent_error("field differs", pickup, place, on=on),
        graph.latent_error("field differs everywhere", pickup, on=on),
    )


def add_turned_hum(graph: EvidenceGraph, rig: str, takes: Iterable[tuple[Take, str, HumLines]]) -> None:
    """Add what a turn says: takes of settings of one pickup, each with its setting's name, on one rig."""
    levels: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    ids = []
    for entry, setting, lines in takes:
        if np.isfinite(level := lines.level_db()):
            levels[place_of_take(entry)][setting].append(level)
            ids.append(entry.id)
    nats = turned_nats([{name: float(np.mean(x)) for name, x in at.items()} for at in levels.values()])
    if nats > 0:
        factor = Factor((capacitive_error(graph, rig),), np.array([0.0, -nats]))
        graph.evidence.append(Evidence(HUM_LEVEL, (factor,), frozenset(), takes=tuple(ids), letter="w"))


def turned_nats(places: Sequence[Mapping[str, float]]) -> float:
    """Nats against hum by capacitance from levels in dB, one mapping of settings to levels a place."""
    most = 0.0
    for k, a in enumerate(places):
        for b in places[k + 1 :]:
            changes = [a[name] - b[name] for name in a if name in b]
            if len(changes) > 1 and max(changes) - min(changes) <= ALIKE_DB:
                low, high = TURNED_DB
                least = min(map(abs, changes))
                most = max(most, TURNED_NATS * float(np.clip((least - low) / (high - low), 0.0, 1.0)))
    return most
