"""The tool's own answer on takes of their own or on pairs of channels, take by take and weighed over a job.

Task: recordings to the log ratio "the same sign : opposed" of each take or pair of takes, 0 where it was
refused, and of all together. Shapes: (frames, channels) at ``rate``. Units: natural logarithms.
Signs: as in limit_plain. What connections, hands and tools may have turned over for a whole job is not in the
ratio (reports.belief has it).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from capture.job import note_hz
from dsp.methods.paired import paired_statistic
from dsp.methods.plucks import analyse_plucks, analyse_pulses
from dsp.methods.sequential import SequentialPluck, sequential_ratio, station_table
from dsp.methods.tool_pulse import Pulse, pulse_correlation
from dsp.model.calibration import (
    CLIPPED_SHARE,
    STROKE_TURNED,
    TURN_SLOPE,
    mislabelled_probability,
    paired_ratio,
    pulse_ratio,
)
from dsp.model.settings import Place

Array = NDArray[np.float64]

TOOL = "the tool's sign"
WEIGHED = "the tool, weighed"
Said = tuple[list[float], float]


@dataclass(frozen=True, eq=False)
class Taken:
    """One recording, (frames, 1), with its string (None: a tool's pulse) and the pickup's place."""

    samples: Array
    string: str | None
    place: Place


def paired(takes: Sequence[Array], *, strings: Sequence[str], places: tuple[Place, Place], rate: int) -> Said:
    """One pluck on two inputs, each of ``takes`` (frames, 2)."""
    said = []
    for x, string in zip(takes, strings, strict=True):
        found = analyse_plucks(x, rate=rate, channels=(0, 1), inputs_differ=True, named_hz=note_hz(string))
        values = [
            paired_statistic(
                *found.channels,
                onset=pluck.rough,
                pitch=pluck.pitch,
                quiet=found.plucks[0].rough,
                place_a=places[0],
                place_b=places[1],
            ).value
            for pluck in found.plucks[:1]
        ]
        said.append(sum(paired_ratio(value) for value in values))
    return said, sum(said)


def in_turn(pairs: Sequence[tuple[Taken, Taken]], *, rate: int) -> Said:
    """Plucks one after another: two takes a pair, one of each pickup."""
    turns = [[_turn(one, rate=rate) for one in pair] for pair in pairs]
    said = [0.0 if a is None or b is None else TURN_SLOPE * sequential_ratio(a, b) for a, b in turns]
    there = [(side, turn) for pair in turns for side, turn in enumerate(pair) if turn is not None]
    ratios = [[0.0 if a is b else TURN_SLOPE * sequential_ratio(a, b) for _, b in there] for _, a in there]
    return said, _weighed(ratios, [side for side, _ in there], [STROKE_TURNED] * len(there))


def pulses(pairs: Sequence[tuple[Taken, Taken]], *, rate: int) -> Said:
    """Lifts: two takes a pair, one of each pickup."""
    heard = [[_pulse(one, rate=rate) for one in pair] for pair in pairs]
    said = [0.0 if a is None or b is None else _pulse_ratio(a, b) for a, b in heard]
    there = [(side, one) for pair in heard for side, one in enumerate(pair) if one is not None]
    ratios = [[0.0 if a is b else _pulse_ratio(a, b) for _, b in there] for _, a in there]
    flip_probability = [mislabelled_probability(one[0].abrupt_start, touch=False) for _, one in there]
    return said, _weighed(ratios, [side for side, _ in there], flip_probability)


def _turn(taken: Taken, *, rate: int) -> SequentialPluck | None:
    named = None if taken.string is None else note_hz(taken.string)
    found = analyse_plucks(taken.samples, rate=rate, channels=(0,), inputs_differ=True, named_hz=named)
    if not found.plucks or found.plucks[0].onsets[0] is None:
        return None
    return SequentialPluck(found.plucks[0].onsets[0], found.plucks[0].pitch, taken.string, 0, taken.place)


def _pulse(taken: Taken, *, rate: int) -> tuple[Pulse, bool] | None:
    found = analyse_pulses(taken.samples, rate=rate, channel=0, toward=False)
    if not found.pulses:
        return None
    return max(found.pulses, key=lambda p: p.clearness), any(f.code == "clipped" for f in found.remarks)


def _pulse_ratio(a: tuple[Pulse, bool], b: tuple[Pulse, bool]) -> float:
    return float(CLIPPED_SHARE ** (a[1] + b[1]) * pulse_ratio(pulse_correlation(a[0], b[0]), touches=0))


def _weighed(ratios: list[list[float]], sides: list[int], flip_probability: list[float]) -> float:
    if set(sides) != {0, 1}:
        return 0.0
    table = station_table(
        np.array(ratios),
        station=np.array(sides),
        gesture=np.ones(len(sides), dtype=np.int64),
        flip_probability=np.array(flip_probability),
    )
    return float(table[0, 0] - table[0, 1])
