"""A switch take without a string: only hum, while the selector moves.

Task: find the steps of the selector in the hum, then the windings from the phases on either side. Shapes: one
channel (frames,) at its own rate; stretches in samples at the analysis rate; tables (2,) * count over winding
signs as in dsp.mixes. Units: Hz, seconds, natural logarithms. Signs: as in dsp.humming.phases.

A step shows in the lines' level or phase, or as a pop; a pop alone counts where the lines show too few steps,
since two pickups that hum alike step invisibly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.conditioning import ANALYSIS_RATE, at_analysis_rate, band, checked
from dsp.faults import Fault, FaultCode, recording_faults
from dsp.humming.fitting import NUMBERS, SHORTEST_S
from dsp.humming.lines import CLEAR_HUM, HumLines, lines_together, small_offset, sounds_besides
from dsp.humming.phases import hum_in_stretches, hum_phase_table
from dsp.mixes import Mix

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

PIECE_S = 0.4
"""Pieces on which the mains frequency is looked for: one of them may hold a step, most do not."""
HOP_S = 0.01
WINDOW_S = 0.06
"""Three periods of 50 Hz: a Hann window of that length keeps the lines apart."""
DEAD_S = 0.12
"""A step with its window, its gap (up to 40 ms) and its bounces: nothing is asked of the lines there."""
LONGEST_EXCESS = 2
"""So many steps beyond those entered are looked for, to say that there are too many."""
PENALTY = 30.0
"""Nats a step must gain: three times what leaving out its dead time gains in noise."""
WAVERS = 0.05
"""Part of a line, times the root of its number, that its phase and level drift by themselves."""
BESIDE_JUMP_S = 0.2
"""On so much of either side a jump is measured."""
JUMP = 0.15
"""A jump of less than this part of the lines is drift."""
POP_ABOVE_HZ = 700.0
POP_HOP_S = 0.002
POP_STANDS_OUT = 30.0
"""Energy of two milliseconds over the median: the largest of a take's noise reaches 5."""
POP_APART_S = 0.12
BESIDE_S = 0.01


@dataclass(frozen=True, eq=False)
class SwitchedHum:
    """What a switch take of hum alone gave: ``table`` (2,) * count, None with a fault.

    ``stretches``: samples at the analysis rate, one (start, stop) a setting; ``lines`` belong to them.
    """

    table: Array | None
    stretches: tuple[tuple[int, int], ...]
    lines: tuple[HumLines | None, ...]
    faults: tuple[Fault, ...]
    remarks: tuple[Fault, ...]


def switched_hum(
    x: Array, *, rate: int, mixes: Sequence[Mix], count: int, mains_hz: int | None = None
) -> SwitchedHum:
    """Hear one channel, shape (frames,), in which the selector goes through ``mixes``.

    Raises
    ------
    SignalError
        If the samples cannot be worked on (dsp.conditioning.checked).

    """
    samples = checked(x, rate=rate)
    found = recording_faults(samples, rate=rate, inputs_differ=False, channels=(0,))
    remarks = tuple(fault for fault in found if small_offset(fault) or fault.code == "clipped")
    faults = tuple(fault for fault in found if fault not in remarks)
    if faults:
        return SwitchedHum(None, (), (), faults, remarks)
    signal = at_analysis_rate(samples[:, 0], rate=rate)
    size = int(PIECE_S * ANALYSIS_RATE)
    pieces = [(at, at + size) for at in range(0, len(signal) - size + 1, size)] or [(0, len(signal))]
    heard = [one for one in lines_together([signal], stretches=pieces, mains_hz=mains_hz) if one is not None]
    if not heard or max(one.clearness for one in heard) < CLEAR_HUM:
        return _refused("too little hum", remarks)
    loudest = max(heard, key=lambda one: one.level_db())
    if sounds_besides(signal, loudest):
        return _refused("strings not damped", remarks)
    wanted = len(mixes) - 1
    steps = _line_steps(signal, hz=loudest.fundamental_hz, most=wanted + LONGEST_EXCESS)
    events = _events(steps, _pops(signal), wanted=wanted)
    if len(events) != wanted:
        code: FaultCode = "too many steps" if len(events) > wanted else "too few steps"
        return _refused("not switched" if not events else code, remarks, detail=float(len(events)))
    beside = int(BESIDE_S * ANALYSIS_RATE)
    starts = [0, *(stop + beside for _, stop in events)]
    stops = [*(start - beside for start, _ in events), len(signal)]
    stretches = tuple(zip(starts, stops, strict=True))
    lines = hum_in_stretches(
        signal, stretches=stretches, mains_hz=round(loudest.fundamental_hz / 10) * 10, partials_hz=None
    )
    usable = [(one, mix) for one, mix in zip(lines, mixes, strict=True) if one is not None]
    return SwitchedHum(hum_phase_table(usable, count=count), stretches, lines, (), remarks)


def _refused(code: FaultCode, remarks: tuple[Fault, ...], *, detail: float | None = None) -> SwitchedHum:
    return SwitchedHum(None, (), (), (Fault(code, 1, detail=detail),), remarks)


def _line_steps(x: Array, *, hz: float, most: int) -> list[tuple[int, int]]:
    """(start, stop) of each step of the lines, in samples: the cheapest pieces between dead times."""
    track = _track(x, hz=hz)
    dead, shortest = round(DEAD_S / HOP_S), round(SHORTEST_S / HOP_S)
    cost = _costs(track, shortest=shortest)
    best = [cost[0]]
    behind: list[NDArray[np.intp]] = []
    for _ in range(most):
        before = np.full(len(cost), np.inf)
        before[dead:] = best[-1][:-dead]
        ways = before[:, np.newaxis] + cost
        behind.append(np.argmin(ways, axis=0))
        best.append(np.min(ways, axis=0))
    totals = [one[-1] + PENALTY * k for k, one in enumerate(best)]
    count = int(np.argmin(totals))
    end, found = len(cost) - 1, []
    for k in range(count - 1, -1, -1):
        start = int(behind[k][end])
        found.append((start - dead, start))
        end = start - dead
    kept = _jumps(track, found[::-1])
    hop = round(HOP_S * ANALYSIS_RATE)
    half = round(WINDOW_S * ANALYSIS_RATE) // 2
    return [(a * hop + half, b * hop + half) for a, b in kept]


def _jumps(track: ComplexArray, steps: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Those steps, in hops, at which the lines jump: what drifts by itself drifts little across one."""
    reach = round(BESIDE_JUMP_S / HOP_S)
    kept = list(steps)
    while kept:
        ends = [0, *(b for _, b in kept)], [*(a for a, _ in kept), len(track)]
        sizes = []
        for k, (a, b) in enumerate(kept):
            left = track[max(ends[0][k], a - reach) : a]
            right = track[b : min(ends[1][k + 1], b + reach)]
            before, after = left.mean(axis=0), right.mean(axis=0)
            jump = float(np.sum(np.abs(after - before) ** 2))
            level = max(float(np.sum(np.abs(before) ** 2)), float(np.sum(np.abs(after) ** 2)))
            noise = PENALTY * (1 / len(left) + 1 / len(right))
            sizes.append(jump / (noise + JUMP**2 * level))
        least = int(np.argmin(sizes))
        if sizes[least] >= 1:
            return kept
        del kept[least]
    return kept


def _track(x: Array, *, hz: float) -> ComplexArray:
    """Lines over time in units of their own uncertainty, (hops, lines)."""
    size, hop = round(WINDOW_S * ANALYSIS_RATE), round(HOP_S * ANALYSIS_RATE)
    t = np.arange(len(x)) / ANALYSIS_RATE
    window = np.hanning(size) * 2 / np.hanning(size).sum()
    apart = round(WINDOW_S / HOP_S)
    lines = []
    for n in NUMBERS:
        turned = x * np.exp(-2j * np.pi * n * hz * t)
        line = np.lib.stride_tricks.sliding_window_view(turned, size)[::hop] @ window
        noise = float(np.median(np.abs(line[apart:] - line[:-apart]) ** 2)) / 2 / np.log(2)
        wavers = WAVERS**2 * n * float(np.median(np.abs(line) ** 2))
        lines.append(line / np.sqrt(noise + wavers + 1e-30))
    return np.asarray(np.stack(lines, axis=1) / np.sqrt(apart))


def _costs(track: ComplexArray, *, shortest: int) -> Array:
    """Misfit of one constant from hop i to hop j, (hops + 1, hops + 1); infinite below ``shortest``."""
    sums = np.concatenate([np.zeros((1, track.shape[1])), np.cumsum(track, axis=0)])
    squares = np.concatenate([[0.0], np.cumsum(np.sum(np.abs(track) ** 2, axis=1))])
    length = np.arange(len(sums))[np.newaxis, :] - np.arange(len(sums))[:, np.newaxis]
    along = np.sum(np.abs(sums[np.newaxis, :, :] - sums[:, np.newaxis, :]) ** 2, axis=-1)
    cost = squares[np.newaxis, :] - squares[:, np.newaxis] - along / np.maximum(length, 1)
    return np.asarray(np.where(length >= shortest, cost, np.inf))


def _pops(x: Array) -> list[tuple[int, int]]:
    """(start, stop) of each click or pop, in samples, those close together as one."""
    high = band(x, low_hz=POP_ABOVE_HZ, high_hz=None)
    hop = round(POP_HOP_S * ANALYSIS_RATE)
    energy = np.square(high[: len(high) // hop * hop]).reshape(-1, hop).sum(axis=1)
    loud = np.flatnonzero(energy > POP_STANDS_OUT * np.median(energy))
    apart = round(POP_APART_S / POP_HOP_S)
    found: list[tuple[int, int]] = []
    for k in loud.tolist():
        start, stop = k * hop, (k + 1) * hop
        if found and start - found[-1][1] < apart * hop:
            found[-1] = (found[-1][0], stop)
        else:
            found.append((start, stop))
    return found


def _events(
    steps: list[tuple[int, int]], pops: list[tuple[int, int]], *, wanted: int
) -> list[tuple[int, int]]:
    """Steps, and where they are too few the pops beside them too; a step and its pop are one event."""
    lone = [pop for pop in pops if not any(a <= pop[1] and pop[0] <= b for a, b in steps)]
    if len(steps) >= wanted:
        return steps
    return sorted([*steps, *lone])
