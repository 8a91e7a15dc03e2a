"""What the report draws of takes: from results and evidence groups to the curves of dsp.methods.curves.

For each pair and method, its takes over each other; of the jack, how far partials turned when the selector
moved, harmonic profiles and hum levels. Only takes that count, of the stage the report is about. Traces are
drawn as recorded, touches and exchanged leads included; a trace's ``sign`` is relative to the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from capture.job import Job
from dsp.methods.curves import (
    HumExhibit,
    PairExhibit,
    PartialTurn,
    PhaseLine,
    ProfileExhibit,
    SwitchExhibit,
    SwitchJump,
    Trace,
)
from dsp.methods.hum import HumLines
from dsp.methods.switch import SettingStretch, SwitchAnalysis
from dsp.methods.switch_signs import step_sign
from dsp.methods.tool_pulse import BEFORE_S, LAG_S, correlation_curve
from dsp.model.settings import Mix, sign_patterns, weights_of
from dsp.signal.samples import ANALYSIS_RATE
from reports.evidence.results import TakeResult
from reports.evidence.settings import jack_mixes, named_settings
from reports.inference.jack import HumGroup, JackEvidence, ProfileGroup
from reports.model.gestures import PAIRED, ROWS, GestureRow

Array = NDArray[np.float64]
LAG_PERIODS = 0.6
MOST_TRACES = 8


def exhibits_of(heard: Sequence[TakeResult], pickups: Sequence[str]) -> tuple[PairExhibit, ...]:
    """The drawings of a job, pair by pair in the order of ``pickups``."""
    found = []
    for a, b in combinations(pickups, 2):
        of_pair = (
            _paired_exhibit(heard, a, b),
            *(_sequential_exhibit(heard, a, b, row) for row in ROWS if row.in_turn),
        )
        found += [exhibit for exhibit in of_pair if exhibit is not None]
    return tuple(found)


def _paired_exhibit(heard: Sequence[TakeResult], a: str, b: str) -> PairExhibit | None:
    """The paired pluck whose two channels say most, one trace a channel."""
    best = None
    for take in heard:
        for pluck in take.paired:
            names = [take.sources[k].pickup for k in pluck.between]
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
    )


def _sequential_exhibit(heard: Sequence[TakeResult], a: str, b: str, row: GestureRow) -> PairExhibit | None:
    """Separate takes on both pickups by one gesture; plucks all on the string that was played most."""
    mine = [
        (t, t.sources[0].pickup)
        for t in heard
        if t.entry.gesture == row.gesture and len(t.sources) == 1 and t.sources[0].pickup in (a, b)
    ]
    pulses = [(t.entry.id, name, p.values) for t, name in mine for p in t.pulses[:1]]
    if pulses:
        return _sequential_traces(pulses, a, b, str(row.in_turn), before_s=BEFORE_S, lag_s=LAG_S)
    plucks = [(t, name, t.single[0]) for t, name in mine if t.single]
    strings = [(t.entry.string, t.entry.fret) for t, *_ in plucks]
    if not strings:
        return None
    most = max(strings, key=strings.count)
    same = [(t, name, e) for t, name, e in plucks if (t.entry.string, t.entry.fret) == most]
    period = 1 / same[0][2].turn.pitch.f0_hz
    return _sequential_traces(
        [(t.entry.id, name, e.trace) for t, name, e in same],
        a,
        b,
        str(row.in_turn),
        before_s=period,
        lag_s=LAG_PERIODS * period,
    )


def _sequential_traces(
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
    return _exhibit(a, b, method, traces, before_s=before_s)


def _sign(a: Array, b: Array, *, lag_s: float) -> int:
    _, curve = correlation_curve(a, b, longest_lag_s=lag_s)
    return 1 if curve.max() >= -curve.min() else -1


def _exhibit(a: str, b: str, method: str, traces: Sequence[Trace], *, before_s: float) -> PairExhibit:
    """Traces cut to one length."""
    length = min(len(t.values) for t in traces)
    cut = tuple(Trace(t.take, t.pickup, t.values[:length], t.sign) for t in traces)
    return PairExhibit(a, b, method, (np.arange(length) / ANALYSIS_RATE - before_s) * 1000, cut)


CLEAR_STEP_NATS = 1.0
"""From here on a step is drawn with its sign."""
MOST_PARTIALS = 10
NEAR_STEP_S = 0.5
"""So much of a partial's course on either side says where its phase was."""
FOLLOWED = 0.4
"""Part of the take on which a partial was heard, for it to be drawn."""
MOST_SWITCHES = 4
"""More switch takes are not drawn: the clearest are."""

JackExhibit = SwitchExhibit | ProfileExhibit | HumExhibit


def jack_exhibits(
    heard: Sequence[TakeResult], reading: JackEvidence, *, job: Job, stage: str
) -> tuple[JackExhibit, ...]:
    """The drawings of a job's jack, at one stage."""
    found: list[JackExhibit] = []
    tracks = [
        (take, exhibit)
        for take in heard
        if take.entry.stage == stage
        and not take.faults
        and (exhibit := switch_exhibit(take, job)) is not None
    ]
    clearest = sorted(tracks, key=lambda item: -_clarity(item[0]))[:MOST_SWITCHES]
    found += [exhibit for item in tracks if item in clearest for exhibit in item[1:]]
    for group in reading.profiles:
        if group.first.stage == stage:
            found += _profile_exhibits(group)
    hums = [group for group in reading.hums if group.first.stage == stage and len(group.jack.settings) > 1]
    found += map(_hum_exhibit, hums)  # one setting alone is compared with nothing
    return tuple(found)


def _clarity(take: TakeResult) -> float:
    return 0.0 if take.switch is None else sum(min(abs(r), 4.0) for r in take.switch.step_ratios)


def switch_exhibit(take: TakeResult, job: Job) -> SwitchExhibit | None:
    """From each single pickup to the next; where there are no two of them, from each setting to the next."""
    hearing = take.switch
    if hearing is None or hearing.track is None:
        return None
    alone = [k for k, one in enumerate(take.lone_sources) if one is not None]
    pairs = pairwise(alone if len(alone) > 1 else range(len(hearing.stretches)))
    jumps = tuple(_jump(take, hearing, job, *pair) for pair in pairs)
    return SwitchExhibit(take.entry.id, take.entry.string or "", jumps)


def _jump(take: TakeResult, hearing: SwitchAnalysis, job: Job, before: int, after: int) -> SwitchJump:
    entry, track = take.entry, hearing.track
    if track is None:
        raise AssertionError("only what was tracked is drawn")
    named = named_settings(entry.inputs)
    mixes = jack_mixes(job, named, stage=entry.stage, fret=entry.fret, string=entry.string).mixes
    partials = []
    for line in _clearest(track.lines):
        sign, certainty = step_sign(line.n, mixes[before], mixes[after])
        turned = _turned(track.time_s, line, hearing.stretches[before], hearing.stretches[after])
        if np.isfinite(turned):
            partials.append(PartialTurn(line.n, turned, sign if certainty > 0 else 0))
    return SwitchJump(named[before][0], named[after][0], tuple(partials), _step(take, hearing, after - 1))


def _turned(time_s: Array, line: PhaseLine, before: SettingStretch, after: SettingStretch) -> float:
    """How far a partial turned between two stretches, 0 to half a turn; NaN where one of them lacks it."""
    start, stop = before.start / ANALYSIS_RATE, before.stop / ANALYSIS_RATE
    begin, end = after.start / ANALYSIS_RATE, after.stop / ANALYSIS_RATE
    was = _mean_turn(time_s, line, max(start, stop - NEAR_STEP_S), stop)
    became = _mean_turn(time_s, line, begin, min(end, begin + NEAR_STEP_S))
    return abs((became - was + 0.5) % 1.0 - 0.5)


def _mean_turn(time_s: Array, line: PhaseLine, start: float, stop: float) -> float:
    here = (time_s >= start) & (time_s <= stop) & np.isfinite(line.turns)
    if not here.any():
        return float("nan")
    return float(np.angle(np.mean(np.exp(2j * np.pi * line.turns[here])))) / (2 * np.pi)


def _clearest(lines: Sequence[PhaseLine]) -> tuple[PhaseLine, ...]:
    """The lowest partials that were followed most of the way."""
    followed = [line for line in lines if np.mean(np.isfinite(line.turns)) > FOLLOWED]
    return tuple((followed or list(lines))[:MOST_PARTIALS])


def _step(take: TakeResult, hearing: SwitchAnalysis, step: int) -> int:
    """What a step told; out of a sum, how the new pickup stands to the last single one."""
    return _step_sign(_over_sums(take, hearing, step)) or _step_sign(hearing.step_ratios[step])


def _over_sums(take: TakeResult, hearing: SwitchAnalysis, step: int) -> float:
    """Log ratio "same sign : opposed" of the single pickup after a step and the last single one before it."""
    alone, table = take.lone_sources, hearing.table
    before = [k for k in range(step + 1) if alone[k] is not None]
    one, two = (alone[before[-1]] if before else None), alone[step + 1]
    if table is None or one is None or two is None or one[0] == two[0]:
        return 0.0
    others = tuple(k for k in range(table.ndim) if k not in (one[0], two[0]))
    pair = np.logaddexp.reduce(table, axis=others) if others else table
    ratio = float(np.logaddexp(pair[0, 0], pair[1, 1]) - np.logaddexp(pair[0, 1], pair[1, 0]))
    return ratio * one[1] * two[1]


def _step_sign(ratio: float) -> int:
    return 0 if abs(ratio) < CLEAR_STEP_NATS else 1 if ratio > 0 else -1


def _profile_exhibits(group: ProfileGroup) -> list[ProfileExhibit]:
    """One drawing for each setting and note whose profile could be had."""
    found = []
    for shape in group.result.profiles:
        mixes = zip(group.jack.settings, group.jack.mixes, strict=True)
        names = [name for name, mix in mixes if _same_setting(mix, shape.mix)]
        if not names:
            continue
        takes = [
            take
            for take, name, string in zip(group.takes, group.settings, group.strings, strict=True)
            if name == names[0] and string == shape.string
        ]
        found.append(
            ProfileExhibit(
                setting=names[0],
                pickups=tuple(dict.fromkeys(group.jack.sources[s.sign].pickup for s in shape.mix.sources)),
                takes=tuple(dict.fromkeys(takes)),
                string=f"{shape.string or ''}{f' fret {shape.fret}' if shape.fret else ''}",
                harmonics=shape.harmonics,
                measured_db=shape.measured_db,
                scatter_db=shape.scatter_db,
                adding_db=shape.adding_db,
                opposed_db=shape.opposed_db,
            )
        )
    return found


def _same_setting(a: Mix, b: Mix) -> bool:
    """Whether two mixes are of one setting: places differ with the fret."""
    return a.join == b.join and [(s.sign, s.reversed) for s in a.sources] == [
        (s.sign, s.reversed) for s in b.sources
    ]


def _hum_exhibit(group: HumGroup) -> HumExhibit:
    """Levels over all lines, the median of each setting's takes."""
    size: dict[str, Array] = {}
    for name in group.jack.settings:
        mine = [k for k, other in enumerate(group.settings) if other == name]
        size[name] = np.median([_sizes(group.lines[k]) for k in mine], axis=0)
    alone = {
        mix.sources[0].sign: size[name]
        for name, mix in zip(group.jack.settings, group.jack.mixes, strict=True)
        if mix.alone
    }
    predicted = [_predicted(mix, alone) for mix in group.jack.mixes]
    noise = np.median([np.sqrt(np.sum(np.square(lines.error[lines.usable]))) for lines in group.lines])
    return HumExhibit(
        settings=group.jack.settings,
        takes=tuple(dict.fromkeys(group.takes)),
        level_db=np.array([_db(size[name]) for name in group.jack.settings]),
        same_db=np.array([p[0] for p in predicted]),
        opposed_db=np.array([p[1] for p in predicted]),
        noise_db=np.full(len(group.jack.settings), _db(np.array([noise]))),
        mains_hz=float(np.median([lines.fundamental_hz for lines in group.lines])),
    )


def _sizes(lines: HumLines) -> Array:
    """Amplitudes of the lines, 0 where a partial covers one."""
    return np.asarray(np.where(lines.usable, np.abs(lines.amplitudes), 0.0))


def _predicted(mix: Mix, alone: dict[int, Array]) -> tuple[float, float]:
    """Level if all are wound alike, and at its least; NaN where not every pickup was heard alone."""
    if mix.alone or any(s.sign not in alone for s in mix.sources):
        return np.nan, np.nan
    parts = np.array([w * alone[s.sign] for s, w in zip(mix.sources, weights_of(mix), strict=True)])
    levels = [_db(np.abs(signs @ parts)) for signs in sign_patterns(len(parts))]
    return levels[0], min(levels)


def _db(amplitudes: Array) -> float:
    """Level of lines of these amplitudes together, dB re a full-scale sine's amplitude of 1."""
    return float(20 * np.log10(np.sqrt(np.sum(np.square(amplitudes))) + 1e-12))
