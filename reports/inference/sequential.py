"""Evidence from separate takes on one rig: plucks, presses, lifts, touches, driven coils, each with each.

A station is one pickup on one channel with one tool; its sign, a variable, is the product of the pickup's
``s`` (driven coil: ``w``) and of the errors it is exposed to. Each two events of one gesture give a
log-likelihood ratio of their stations' signs being the same; single events are turned over with a small
probability (a stroke the other way, a gesture with the wrong name), which the table over all stations sums
out, at the rates in use. Errors of a whole station: a hand that always plucks one pickup the other way (in
plucks, in presses, or in both), the driven coil's other face, a magnetised tool or drawer (it shows the
winding, so the station says nothing of ``s``), a selector that was not moved. Lifts are not compared with
touches. Nothing depends on the order of entries: events go by their take's id.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from dsp.live.gestures import Gesture
from dsp.methods.driven_coil import DriveAnalysis, drive_ratio
from dsp.methods.sequential import event_batches, sequential_ratio, station_likelihood
from dsp.methods.tool_pulse import Pulse, pulse_correlation
from dsp.model.calibration import (
    CLIPPED_SHARE,
    DRIVE_TURNED,
    TURN_SLOPE,
    mislabelled_probability,
    pulse_ratio,
)
from reports.evidence.results import SinglePluck, TakeResult
from reports.inference.error_priors import ErrorRates
from reports.inference.evidence_graph import (
    Evidence,
    EvidenceGraph,
    LatentError,
    Observation,
    RatedFactor,
    UnknownSign,
    drawer_error,
    pole_errors,
)
from reports.inference.factor_graph import Factor, on_axes_of, product_factor
from reports.inference.selector import list_doubts, name_doubts, or_elsewhere, or_nothing, position_doubts
from reports.model.gestures import PULSED, gesture_row
from reports.model.notes import OnPickups, OnTool

Array = NDArray[np.float64]

THE_TOOL = "the tool"
MOST_STATIONS = 6


@dataclass(frozen=True)
class SequentialSource:
    """One pickup as it was on one channel, with the tool that was used; its sign is a variable."""

    gesture: Gesture
    observation: Observation
    tool: str

    def __str__(self) -> str:
        """Text used as a sort key: kind, then key."""
        return f"station {self.gesture} {self.observation.pickup} {self.tool} {self.observation.variables}"


@dataclass(frozen=True, eq=False)
class GestureEvent:
    """One pluck or pulse of a take at a station."""

    take: TakeResult
    result: SinglePluck | Pulse | DriveAnalysis
    station: SequentialSource

    def flip_probability(self, rates: ErrorRates) -> float:
        """The chance that its sign is reversed."""
        if isinstance(self.result, DriveAnalysis):
            return DRIVE_TURNED
        if isinstance(self.result, Pulse):
            touch = self.take.entry.gesture == "touch"
            return mislabelled_probability(self.result.abrupt_start, touch=touch)
        return rates.of("turned press" if self.take.entry.gesture == "press" else "turned stroke")


def add_sequential_evidence(
    graph: EvidenceGraph,
    takes: Sequence[tuple[TakeResult, Observation]],
    *,
    gesture: Gesture,
    alike: Mapping[frozenset[str], float],
) -> None:
    """Add what separate takes of one gesture on one rig say of their pickups.

    ``alike``: how alike the plucks of two settings are, log odds that one thing was on the jack.
    """
    events = _events(takes, gesture=gesture)
    by_station: dict[SequentialSource, list[GestureEvent]] = defaultdict(list)
    for event in events:
        by_station[event.station].append(event)
    for stations in _groups(by_station):
        if len({(s.observation.pickup, s.observation.coil) for s in stations}) > 1:
            chosen = [e for s in stations for e in by_station[s]]
            _add_piece(graph, stations, chosen, gesture=gesture, alike=alike)


def or_magnetised(graph: EvidenceGraph, straight: Factor, *, tool: str) -> Factor:
    """``straight`` (about ``s``), or, if the tool carries a pole of its own, that pull instead of ``s``.

    A magnetised tool shows the winding times its own pole: one sign at each pickup, the same however often it
    is tried, and with the winding not known otherwise as likely either way. Tools of one drawer that lay on
    one magnet all show the same.
    """
    signs = {k: v for k, v in enumerate(straight.variables) if isinstance(v, UnknownSign) and v.letter == "s"}
    if not signs:
        return straight
    magnet = graph.latent_error("magnetised tool", tool, on=OnTool(tool))
    drawer = drawer_error(graph)
    own = _pulled(straight, signs, name=f"pull of {tool}")
    shared = _pulled(straight, signs, name="pull of the drawer")
    variables = tuple(dict.fromkeys((*own.variables, *shared.variables, *straight.variables)))
    shape = (2,) * len(variables)
    log = np.empty((2, 2, *shape))
    for of_drawer in (0, 1):
        for of_tool in (0, 1):
            shown = shared if of_drawer else own if of_tool else straight
            log[of_drawer, of_tool] = np.broadcast_to(on_axes_of(shown, variables), shape)
    return Factor((drawer, magnet, *variables), log)


def _pulled(straight: Factor, signs: Mapping[int, UnknownSign], *, name: str) -> Factor:
    """The same, about a pull at each pickup instead of its ``s``."""
    pulls = [
        replace(v, letter=name) if isinstance(v, UnknownSign) and k in signs else v
        for k, v in enumerate(straight.variables)
    ]
    return Factor(tuple(pulls), straight.log)


def _events(takes: Sequence[tuple[TakeResult, Observation]], *, gesture: Gesture) -> list[GestureEvent]:
    events = []
    for take, observation in sorted(takes, key=lambda item: item[0].entry.id):
        tool = (take.entry.tool or THE_TOOL) if gesture in PULSED else ""
        station = SequentialSource(gesture, observation, tool)
        events += [GestureEvent(take, r, station) for r in take.pulses or take.single or take.drives]
    return events


def _groups(by_station: dict[SequentialSource, list[GestureEvent]]) -> Iterator[list[SequentialSource]]:
    """All stations together, or, where they are many, in groups around the one with most takes."""
    stations = sorted(by_station, key=str)
    if len(stations) <= MOST_STATIONS:
        yield stations
        return
    centre = max(stations, key=lambda s: len(by_station[s]))
    others = [s for s in stations if s is not centre]
    for start in range(0, len(others), MOST_STATIONS - 1):
        yield [centre, *others[start : start + MOST_STATIONS - 1]]


def _add_piece(
    graph: EvidenceGraph,
    stations: list[SequentialSource],
    events: list[GestureEvent],
    *,
    gesture: Gesture,
    alike: Mapping[frozenset[str], float],
) -> None:
    names = {e.station: e.take.plucks[0].setting for e in events if e.take.plucks}
    factors: list[Factor | RatedFactor] = [RatedFactor(tuple(stations), _tables(stations, events))]
    for k, station in enumerate(stations):
        mine = [e for e in events if e.station == station]
        tie = _tie(graph, station, gesture=gesture, strings=[e.take.entry.string for e in mine])
        tie = _or_mistaken(graph, tie, mine, gesture=gesture)
        earlier = [s for s in stations[:k] if s.observation.pickup != station.observation.pickup]
        factors += _or_not_moved(graph, tie, station, earlier, names=names, alike=alike)
    graph.evidence.append(
        Evidence(
            str(gesture_row(gesture).in_turn),
            tuple(factors),
            frozenset(s.observation.pickup for s in stations),
            takes=tuple(dict.fromkeys(e.take.entry.id for e in events)),
            letter=gesture_row(gesture).letter,
        )
    )


def _or_mistaken(
    graph: EvidenceGraph, tie: Factor, events: Sequence[GestureEvent], *, gesture: Gesture
) -> Factor:
    """``tie``, or the selector's list, a position of it, or the pickup's name was wrong."""
    at_poles = gesture_row(gesture).at_poles
    settings = [] if at_poles else [p.setting for e in events for p in e.take.plucks]
    elsewhere = list_doubts(graph, settings) or name_doubts(graph)
    if at_poles:  # whose pole it was is seen; what the position does to that pickup is listed
        lifted = [e.take.entry for e in events if e.take.entry.tapped is not None]
        settings = [item for entry in lifted for item in entry.inputs if isinstance(item, str)]
    return or_nothing(or_elsewhere(tie, elsewhere), position_doubts(graph, settings))


def _tables(
    stations: list[SequentialSource], events: list[GestureEvent]
) -> Callable[[ErrorRates], NDArray[np.float64]]:
    """What the events say of the stations' signs, at given rates.

    Compared within batches of limited size, so that the cost grows only linearly.
    """
    place = {s: k for k, s in enumerate(stations)}
    station = np.array([place[e.station] for e in events])
    batches = []
    for chosen in event_batches(station):
        mine = [events[k] for k in chosen]
        ratios = np.zeros((len(mine), len(mine)))
        for i, j in combinations(range(len(mine)), 2):
            ratios[i, j] = ratios[j, i] = _ratio(mine[i], mine[j])
        batches.append((mine, station[chosen], ratios))

    def table(rates: ErrorRates) -> NDArray[np.float64]:
        total = np.zeros((2,) * len(stations))
        for mine, at, ratios in batches:
            total = total + station_likelihood(
                ratios,
                station=at,
                gesture=np.ones(len(mine), dtype=np.int64),
                flip_probability=np.array([e.flip_probability(rates) for e in mine]),
                stations=len(stations),
            )
        return total

    return table


def _or_not_moved(
    graph: EvidenceGraph,
    tie: Factor,
    station: SequentialSource,
    earlier: Sequence[SequentialSource],
    *,
    names: Mapping[SequentialSource, str],
    alike: Mapping[frozenset[str], float],
) -> list[Factor]:
    """``tie``, or, if the selector was not moved, the sign of the station that it sounds most like.

    Then the two always look in phase. How alike their plucks are is evidence for or against that error.
    """
    likenesses = {
        s: alike.get(frozenset((names[s], names[station])))
        for s in earlier
        if station in names and s in names
    }
    compared = {s: nats for s, nats in likenesses.items() if nats is not None}
    if not compared:
        return [tie]
    other = max(compared, key=lambda s: compared[s])
    pickups = tuple(sorted((other.observation.pickup, station.observation.pickup)))
    same_setting = graph.latent_error(
        "same setting twice", names[other], names[station], on=OnPickups(pickups)
    )
    variables = (same_setting, other, *tie.variables)
    same = product_factor((other, station), np.inf)
    copied = on_axes_of(same, variables[1:])
    straight = np.broadcast_to(tie.log, copied.shape)
    return [
        Factor(variables, np.stack([straight, copied])),
        Factor((same_setting,), np.array([0.0, compared[other]])),
    ]


def _tie(
    graph: EvidenceGraph, station: SequentialSource, *, gesture: Gesture, strings: Sequence[str | None]
) -> Factor:
    """Ties a station's sign to its pickup: by the hand for strings, by the tool for pulses."""
    observation = station.observation
    if gesture in PULSED:
        straight = product_factor((station, *observation.variables), observation.sign * np.inf)
        return or_magnetised(graph, straight, tool=station.tool)
    if gesture_row(gesture).analysis == "driven coil":
        face = graph.latent_error("coil's face", observation.pickup, on=OnPickups((observation.pickup,)))
        return product_factor((station, *observation.variables, face), observation.sign * np.inf)
    errors = hand_errors(graph, observation.pickup, gesture, strings)
    return product_factor((station, *observation.variables, *errors), observation.sign * np.inf)


def hand_errors(
    graph: EvidenceGraph, pickup: str, gesture: Gesture, strings: Sequence[str | None]
) -> list[LatentError]:
    """The errors that turn over all plucks, or presses, of a pickup on these strings."""
    on = OnPickups((pickup,))
    return [
        graph.latent_error("hand", pickup, gesture, on=on),
        graph.latent_error("hand throughout", pickup, on=on),
        *pole_errors(graph, pickup, strings),
    ]


def _ratio(a: GestureEvent, b: GestureEvent) -> float:
    left, right = a.result, b.result
    if isinstance(left, Pulse) and isinstance(right, Pulse):
        touches = [a.take.entry.gesture, b.take.entry.gesture].count("touch")
        share = CLIPPED_SHARE ** (a.take.clipped + b.take.clipped)
        return float(share * pulse_ratio(pulse_correlation(left, right), touches=touches))
    if isinstance(left, DriveAnalysis) and isinstance(right, DriveAnalysis):
        return drive_ratio(left, right)
    if isinstance(left, SinglePluck) and isinstance(right, SinglePluck):
        return TURN_SLOPE * sequential_ratio(left.turn, right.turn)
    return 0.0
