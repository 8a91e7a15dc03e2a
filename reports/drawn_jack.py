"""What the report draws of the jack: phase tracks, harmonic profiles, hum levels.

Task: from heard takes and groups to dsp.exhibits; only takes of the stage the report is about. Signs: those
of the exhibits: a step of +1 is "no turn", of -1 "half a turn", places taken into account.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dsp.conditioning import ANALYSIS_RATE
from dsp.exhibits import HumExhibit, PhaseLine, ProfileExhibit, SwitchExhibit
from dsp.humming.lines import HumLines
from dsp.mixes import Mix, sign_patterns, weights_of
from dsp.switched.hearing import SwitchHearing
from reports.belief.jack_groups import HumGroup, ProfileGroup
from reports.belief.jacked import JackReading
from reports.heard import HeardTake
from reports.jack import settings_of

Array = NDArray[np.float64]

TOLD = 1.0
"""From here on, in nats, a step is drawn as told."""
MOST_PARTIALS = 4
FOLLOWED = 0.4
"""Part of the take on which a partial was heard, for it to be drawn."""
MOST_SWITCHES = 4
"""More switch takes are not drawn: the clearest are."""

JackExhibit = SwitchExhibit | ProfileExhibit | HumExhibit


def jack_exhibits(heard: Sequence[HeardTake], reading: JackReading, *, stage: str) -> tuple[JackExhibit, ...]:
    """The drawings of a job's jack, at one stage."""
    found: list[JackExhibit] = []
    tracks = [
        (take, exhibit)
        for take in heard
        if take.entry.stage == stage and not take.faults and (exhibit := _switch(take)) is not None
    ]
    clearest = sorted(tracks, key=lambda item: -_clarity(item[0]))[:MOST_SWITCHES]
    found += [exhibit for item in tracks if item in clearest for exhibit in item[1:]]
    for group in reading.profiles:
        if group.first.stage == stage:
            found += _profiles(group)
    found += [_hum(group) for group in reading.hums if group.first.stage == stage]
    return tuple(found)


def _clarity(take: HeardTake) -> float:
    return 0.0 if take.switch is None else sum(min(abs(r), 4.0) for r in take.switch.step_ratios)


def _switch(take: HeardTake) -> SwitchExhibit | None:
    hearing = take.switch
    if hearing is None or hearing.track is None:
        return None
    names = [name for name, _ in settings_of(take.entry.inputs)]
    return SwitchExhibit(
        take=take.entry.id,
        string=take.entry.string or "",
        time_s=hearing.track.time_s,
        lines=_clearest(hearing.track.lines),
        stretches=tuple(
            (name, s.start / ANALYSIS_RATE, s.stop / ANALYSIS_RATE)
            for name, s in zip(names, hearing.stretches, strict=True)
        ),
        steps=tuple(_step(take, hearing, k) for k in range(len(hearing.step_ratios))),
    )


def _clearest(lines: Sequence[PhaseLine]) -> tuple[PhaseLine, ...]:
    """The lowest partials that were followed most of the way; more of them hide each other."""
    followed = [line for line in lines if np.mean(np.isfinite(line.turns)) > FOLLOWED]
    return tuple((followed or list(lines))[:MOST_PARTIALS])


def _step(take: HeardTake, hearing: SwitchHearing, step: int) -> int:
    """What a step told; out of a sum that says nothing itself, how the new pickup stands to the last one."""
    own = _told(hearing.step_ratios[step])
    return own or _told(_over_sums(take, hearing, step))


def _over_sums(take: HeardTake, hearing: SwitchHearing, step: int) -> float:
    """Log ratio "same sign : opposed" of the single pickup after a step and the last single one before it."""
    alone, table = take.alone, hearing.table
    before = [k for k in range(step + 1) if alone[k] is not None]
    one, two = (alone[before[-1]] if before else None), alone[step + 1]
    if table is None or one is None or two is None or one[0] == two[0]:
        return 0.0
    others = tuple(k for k in range(table.ndim) if k not in (one[0], two[0]))
    pair = np.logaddexp.reduce(table, axis=others) if others else table
    ratio = float(np.logaddexp(pair[0, 0], pair[1, 1]) - np.logaddexp(pair[0, 1], pair[1, 0]))
    return ratio * one[1] * two[1]


def _told(ratio: float) -> int:
    return 0 if abs(ratio) < TOLD else 1 if ratio > 0 else -1


def _profiles(group: ProfileGroup) -> list[ProfileExhibit]:
    """One drawing for each setting and note whose profile could be had."""
    found = []
    for shape in group.result.profiles:
        names = [
            n for n, m in zip(group.jack.settings, group.jack.mixes, strict=True) if _alike(m, shape.mix)
        ]
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
                pickups=tuple(dict.fromkeys(group.jack.stations[s.sign].pickup for s in shape.mix.sources)),
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


def _alike(a: Mix, b: Mix) -> bool:
    """Whether two mixes are of one setting: places differ with the fret."""
    return a.join == b.join and [(s.sign, s.reversed) for s in a.sources] == [
        (s.sign, s.reversed) for s in b.sources
    ]


def _hum(group: HumGroup) -> HumExhibit:
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
