"""Evidence from recordings: paired plucks, split checks, and separate plucks, presses, lifts and touches.

Task: from heard takes to pieces of evidence in the ledger. Signs: a paired pluck is about the product
of two pickups' ``s`` and of everything that may have turned one of the two channels over; separate
takes on one rig are about the products of their stations.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from capture.bench_log import LeadsInput
from dsp.agreement import station_table
from dsp.calibration import (
    CLIPPED_SHARE,
    PRESS_TURNED,
    STROKE_TURNED,
    TURN_SLOPE,
    mislabelled,
    paired_ratio,
    pulse_ratio,
)
from dsp.pulses import Pulse, compared
from dsp.turns import turn_ratio
from reports.analysis import HeardTake, SinglePluck, Station
from reports.belief.factors import Factor, Variable, product_factor
from reports.belief.ledger import Hidden, Ledger, Piece
from reports.belief.runs import ClipRuns

PAIRED = "paired pluck"
SPLIT = "split check"
METHODS = {
    "pluck": "plucks in turn",
    "press": "presses in turn",
    "lift": "lift",
    "touch": "touch",
}
THE_TOOL = "the tool"
NO_RIG = "the rig in use"


@dataclass(frozen=True)
class Shown:
    """What one channel of one take shows: variables, sign, and the pickup it is about."""

    pickup: str
    variables: tuple[Variable, ...]
    sign: int
    column: int


def listen(ledger: Ledger, heard: Sequence[HeardTake]) -> dict[str, str]:
    """Add every usable take's evidence; returns remarks by take id for those that could not be placed."""
    runs = ClipRuns()
    remarks: dict[str, str] = {}
    groups: dict[tuple[str, str], list[tuple[HeardTake, Shown]]] = defaultdict(list)
    strings: dict[tuple[str, ...], list[tuple[HeardTake, Shown, Shown, float]]] = defaultdict(list)
    for take in heard:
        run = runs.of(take.entry)
        if take.faults or not take.stations:
            continue
        shown = [_shown(ledger, take, station, run=run) for station in take.stations]
        if any(s is None for s in shown):
            remarks[take.entry.id] = LEADS_NOT_KNOWN
            continue
        each = [s for s in shown if s is not None]
        if take.paired:
            for pluck in take.paired:
                a, b = (each[k] for k in pluck.between)
                ratio = paired_ratio(pluck.statistic)
                if take.entry.inputs[a.column] == take.entry.inputs[b.column]:
                    _split(ledger, take, a, b, ratio)
                else:
                    key = (*sorted((a.pickup, b.pickup)), str(take.entry.string))
                    strings[key].append((take, a, b, ratio))
        else:
            family = "pulses" if take.pulses else take.entry.gesture
            rig = take.entry.rig or NO_RIG
            groups[family, f"{rig}|{take.entry.stage}"].append((take, each[0]))
    for key, members in strings.items():
        _paired(ledger, key, members)
    for (family, _), takes in groups.items():
        if family == "pulses":
            for gesture in ("lift", "touch"):
                _in_turn(ledger, [t for t in takes if t[0].entry.gesture == gesture], gesture=gesture)
        else:
            _in_turn(ledger, takes, gesture=family)
    return remarks


LEADS_NOT_KNOWN = (
    "The leads on the clips are not those of this pickup in job.toml, so the take says nothing here. Enter the "
    "pickup's hot, ground and link leads, or void the take."
)


def _shown(ledger: Ledger, take: HeardTake, station: Station, *, run: str) -> Shown | None:
    wires, entry = ledger.wires, take.entry
    item = entry.inputs[station.column]
    if isinstance(item, LeadsInput):
        seen = wires.seen_at_leads(entry, item.pickup, hot=item.hot, ground=item.ground)
        if seen is None:
            return None
    else:
        seen = wires.seen(entry, station.pickup, coil=station.coil, turned=station.turned)
    variables, sign = ledger.sign_of(seen)
    extra: list[Variable] = []
    if station.clips:
        way = f"{item.hot}/{item.ground}" if isinstance(item, LeadsInput) else ""
        extra.append(ledger.mistake("clips", station.pickup, run, way, label=station.pickup))
        extra.append(ledger.mistake("colours", station.pickup, label=station.pickup))
    if station.column > 0:
        extra.append(_channels(ledger, take, station.column))
    return Shown(station.pickup, (*variables, *extra), sign, station.column)


def _channels(ledger: Ledger, take: HeardTake, column: int) -> Hidden:
    rig = take.entry.rig or NO_RIG
    return ledger.mistake("channels", rig, str(column), label=f"input {column + 1} of {rig}")


def _split(ledger: Ledger, take: HeardTake, a: Shown, b: Shown, ratio: float) -> None:
    """One pickup on both inputs tells whether the inputs agree, and nothing of the pickup."""
    factors = (product_factor((*a.variables, *b.variables), ratio),)
    ledger.pieces.append(Piece(SPLIT, factors, frozenset(), takes=(take.entry.id,), about="channels"))


def _paired(
    ledger: Ledger, key: tuple[str, ...], members: Sequence[tuple[HeardTake, Shown, Shown, float]]
) -> None:
    """All paired plucks of two pickups on one string share the chance that it moved sideways."""
    label = f"{key[0]} and {key[1]}"
    sideways = ledger.mistake("sideways string", *key, label=f"{key[2]}, {label}")
    twice = ledger.mistake("one pickup twice", key[0], key[1], label=label)
    for take, a, b, ratio in members:
        turned = product_factor((*a.variables, *b.variables, sideways), a.sign * b.sign * ratio)
        ledger.pieces.append(
            Piece(
                PAIRED,
                (_or_one_pickup_twice(turned, twice, ratio, ledger, take),),
                frozenset((a.pickup, b.pickup)),
                takes=(take.entry.id,),
            )
        )


def _or_one_pickup_twice(
    factor: Factor, twice: Hidden, ratio: float, ledger: Ledger, take: HeardTake
) -> Factor:
    """The same evidence, but where one pickup was on both inputs: then the channels look alike whatever
    the pickups are, but for the inputs themselves.
    """
    channel = [v for v in factor.variables if isinstance(v, Hidden) and v.kind == "channels"]
    alike = product_factor(channel, ratio) if channel else Factor((), np.array(ratio / 2))
    variables = (twice, *factor.variables)
    spread = np.broadcast_to(_laid_out(alike, factor.variables), factor.log.shape)
    return Factor(variables, np.stack([factor.log, spread]))


def _laid_out(factor: Factor, variables: tuple[Variable, ...]) -> np.ndarray:
    shape = [2 if v in factor.variables else 1 for v in variables]
    return factor.log.reshape(shape)


def _in_turn(ledger: Ledger, takes: Sequence[tuple[HeardTake, Shown]], *, gesture: str) -> None:
    """Separate takes on one rig, compared each with each."""
    stations: dict[tuple[object, ...], int] = {}
    shown: list[Shown] = []
    for take, one in takes:
        key = (one.pickup, one.variables, one.sign, _tool(take) if gesture in ("lift", "touch") else "")
        if key not in stations:
            stations[key] = len(stations)
            shown.append(one)
    tools = [str(key[3]) for key in stations]
    events = [
        (
            take,
            e,
            stations[
                (one.pickup, one.variables, one.sign, _tool(take) if gesture in ("lift", "touch") else "")
            ],
        )
        for take, one in takes
        for e in (take.pulses or take.single)
    ]
    if len({one.pickup for one in shown}) < 2 or not events:
        return
    station = np.array([s for *_, s in events])
    ratios = np.array([[_ratio(a, b) for b in events] for a in events])
    np.fill_diagonal(ratios, 0.0)
    turned = np.array([_rate(take, event) for take, event, _ in events])
    table = station_table(
        ratios, station=station, gesture=np.ones(len(events), dtype=np.int64), turned=turned
    )
    nodes = tuple(Heard(gesture, *map(str, key)) for key in stations)
    factors = [Factor(nodes, table)]
    for node, one, tool in zip(nodes, shown, tools, strict=True):
        factors.extend(_node_factors(ledger, node, one, tool=tool, gesture=gesture))
    ledger.pieces.append(
        Piece(
            METHODS[gesture],
            tuple(factors),
            frozenset(one.pickup for one in shown),
            takes=tuple(dict.fromkeys(take.entry.id for take, _, _ in events)),
        )
    )


@dataclass(frozen=True)
class Heard:
    """The sign with which a station was heard."""

    gesture: str
    pickup: str
    variables: str
    sign: str
    tool: str


def _node_factors(ledger: Ledger, node: Heard, one: Shown, *, tool: str, gesture: str) -> list[Factor]:
    """Ties a station's heard sign to its pickup: by the hand for strings, by the tool for pulses."""
    straight = product_factor((node, *one.variables), one.sign * np.inf)
    if gesture not in ("lift", "touch"):
        hand = ledger.mistake("hand", one.pickup, gesture, label=one.pickup)
        return [product_factor((node, *one.variables, hand), one.sign * np.inf)]
    return [magnetised(ledger, straight, tool=tool)]


def magnetised(ledger: Ledger, straight: Factor, *, tool: str) -> Factor:
    """``straight`` (about ``s``), or, if the tool carries a pole of its own, nothing of it.

    A magnetised tool shows the winding times its own pole: with the winding not known otherwise, and
    independent of ``s``, that leaves every pattern as likely as the other.
    """
    magnet = ledger.mistake("magnetised tool", tool, label=tool)
    free = np.full(straight.log.shape, np.log(0.5))
    return Factor((magnet, *straight.variables), np.stack([straight.log, free]))


def _tool(take: HeardTake) -> str:
    return take.entry.tool or THE_TOOL


def _ratio(
    a: tuple[HeardTake, SinglePluck | Pulse, int], b: tuple[HeardTake, SinglePluck | Pulse, int]
) -> float:
    left, right = a[1], b[1]
    if isinstance(left, Pulse) and isinstance(right, Pulse):
        touches = [a[0].entry.gesture, b[0].entry.gesture].count("touch")
        share = CLIPPED_SHARE ** (a[0].clipped + b[0].clipped)
        return share * pulse_ratio(compared(left, right), touches=touches)
    if isinstance(left, SinglePluck) and isinstance(right, SinglePluck):
        return TURN_SLOPE * turn_ratio(left.turn, right.turn)
    return 0.0


def _rate(take: HeardTake, event: SinglePluck | Pulse) -> float:
    if isinstance(event, Pulse):
        return mislabelled(event.abrupt_start, touch=take.entry.gesture == "touch")
    return PRESS_TURNED if take.entry.gesture == "press" else STROKE_TURNED
