"""What the report draws: for each pair and method, its takes over each other and their correlation.

Task: from heard takes to dsp.exhibits. Signs: traces are drawn as recorded, touches and exchanged leads
included; a trace's ``sign`` is relative to the first. Only takes that count are drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from dsp.conditioning import ANALYSIS_RATE
from dsp.exhibits import PairExhibit, Trace
from dsp.pulses import BEFORE_S, LAG_S, correlation_curve
from reports.belief.in_turn import METHODS
from reports.belief.listened import PAIRED
from reports.heard import HeardTake

Array = NDArray[np.float64]
LAG_PERIODS = 0.6
MOST_TRACES = 8


def exhibits_of(heard: Sequence[HeardTake], pickups: Sequence[str]) -> tuple[PairExhibit, ...]:
    """The drawings of a job, pair by pair in the order of ``pickups``."""
    found = []
    for a, b in combinations(pickups, 2):
        for exhibit in (_paired(heard, a, b), *(_in_turn(heard, a, b, g) for g in METHODS)):
            if exhibit is not None:
                found.append(exhibit)
    return tuple(found)


def _paired(heard: Sequence[HeardTake], a: str, b: str) -> PairExhibit | None:
    """The paired pluck whose two channels say most, one trace a channel."""
    best = None
    for take in heard:
        for pluck in take.paired:
            names = [take.stations[k].pickup for k in pluck.between]
            if {a, b} == set(names) and (best is None or abs(pluck.statistic) > abs(best[1].statistic)):
                best = (take, pluck, names)
    if best is None:
        return None
    take, pluck, names = best
    left, right = pluck.traces if names[0] == a else pluck.traces[::-1]
    sign = 1 if pluck.statistic >= 0 else -1
    return _exhibit(
        a,
        b,
        PAIRED,
        [Trace(take.entry.id, a, left, 1), Trace(take.entry.id, b, right, sign)],
        before_s=1 / pluck.f0_hz,
        lag_s=LAG_PERIODS / pluck.f0_hz,
    )


def _in_turn(heard: Sequence[HeardTake], a: str, b: str, gesture: str) -> PairExhibit | None:
    """Separate takes on both pickups by one gesture; plucks all on the string that was played most."""
    mine = [
        (t, t.stations[0].pickup)
        for t in heard
        if t.entry.gesture == gesture and len(t.stations) == 1 and t.stations[0].pickup in (a, b)
    ]
    pulses = [(t.entry.id, name, p.values) for t, name in mine for p in t.pulses[:1]]
    if pulses:
        return _of_events(pulses, a, b, METHODS[gesture], before_s=BEFORE_S, lag_s=LAG_S)
    plucks = [(t, name, t.single[0]) for t, name in mine if t.single]
    strings = [(t.entry.string, t.entry.fret) for t, *_ in plucks]
    if not strings:
        return None
    most = max(strings, key=strings.count)
    same = [(t, name, e) for t, name, e in plucks if (t.entry.string, t.entry.fret) == most]
    period = 1 / same[0][2].turn.pitch.f0_hz
    return _of_events(
        [(t.entry.id, name, e.trace) for t, name, e in same],
        a,
        b,
        METHODS[gesture],
        before_s=period,
        lag_s=LAG_PERIODS * period,
    )


def _of_events(
    events: Sequence[tuple[str, str, Array]], a: str, b: str, method: str, *, before_s: float, lag_s: float
) -> PairExhibit | None:
    first = next((e for e in events if e[1] == a), None)
    if first is None or all(name != b for _, name, _ in events):
        return None
    each = MOST_TRACES // 2
    chosen = [e for e in events if e[1] == a][:each] + [e for e in events if e[1] == b][:each]
    traces = [
        Trace(take, name, values, 1 if values is first[2] else _sign(first[2], values, lag_s=lag_s))
        for take, name, values in chosen
    ]
    return _exhibit(a, b, method, traces, before_s=before_s, lag_s=lag_s)


def _sign(a: Array, b: Array, *, lag_s: float) -> int:
    _, curve = correlation_curve(a, b, longest_lag_s=lag_s)
    return 1 if curve.max() >= -curve.min() else -1


def _exhibit(
    a: str, b: str, method: str, traces: Sequence[Trace], *, before_s: float, lag_s: float
) -> PairExhibit:
    """Traces cut to one length; the correlation is the mean over all pairs of takes across the two."""
    length = min(len(t.values) for t in traces)
    cut = [Trace(t.take, t.pickup, t.values[:length], t.sign) for t in traces]
    curves = [
        correlation_curve(x.values, y.values, longest_lag_s=lag_s)
        for x in cut
        for y in cut
        if (x.pickup, y.pickup) == (a, b)
    ]
    lags, mean = curves[0][0], np.mean([c for _, c in curves], axis=0)
    return PairExhibit(
        a,
        b,
        method,
        (np.arange(length) / ANALYSIS_RATE - before_s) * 1000,
        tuple(cut),
        lags * 1000,
        mean,
        _peak(lags, mean, sign=1),
        _peak(lags, mean, sign=-1),
    )


def _peak(lags: Array, curve: Array, *, sign: int) -> tuple[float, float] | None:
    at = int(np.argmax(sign * curve))
    return (float(lags[at] * 1000), float(curve[at])) if sign * curve[at] > 0 else None
