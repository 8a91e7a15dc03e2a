"""Faults of a recording that show in its samples alone.

Task: zeros, silence, offset, clipping, gaps, one signal on two channels; each as a `Fault` with a code.
Shapes: recording (frames, channels) at its own rate. Units: full scale 1.0, seconds.
Sign: turning a channel over changes no finding, except that one signal on two channels is a fault and its
negation is not (a balanced adapter).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dsp.signal.codes import Fault

Array = NDArray[np.float64]


SILENT_PEAK = 1e-4
"""-80 dB re full scale: below this there is no pickup on the input."""
OFFSET_FAULT = 0.10
OFFSET_REMARK = 0.005
OFFSET_SHARE = 0.2
"""An offset smaller than this part of the peak is not worth a word."""
SAME_RESIDUAL = 0.03
"""One signal sent twice leaves less than this of itself after the gain is fitted (sources D3)."""
GAP_S = 0.003
CLIP_TOP = 0.995
CLIP_SHOULDER = 0.95
CLIP_RATIO = 1.5
"""A smooth peak spends half as long in its top half per cent as on its shoulder; a cut one far longer."""
CLIP_S = 0.0003
CLIP_SAMPLES = 4
CLIP_LOWEST = 0.0015
"""-56 dB re full scale: below this the steps of a 16-bit converter look flat by themselves."""


def recording_faults(
    samples: Array, *, rate: int, inputs_differ: bool, channels: tuple[int, ...]
) -> tuple[Fault, ...]:
    """Faults of a recording that need no onset: zeros, silence, offset, clipping, one signal twice.

    ``channels`` are the columns that something is plugged into, counted from 0.
    """
    found: list[Fault] = []
    for column in channels:
        x = np.ascontiguousarray(samples[:, column])
        number = column + 1
        if not np.isfinite(x).all():
            found.append(Fault("no numbers", number))
        elif not np.any(x):
            found.append(Fault("exact zeros", number))
        elif float(np.max(np.abs(x - np.mean(x)))) < SILENT_PEAK:
            found.append(Fault("silent", number))
        else:
            found.extend(_level_faults(x, number=number, rate=rate))
    dead = {"no numbers", "exact zeros", "silent"}
    if inputs_differ and len(channels) > 1 and not any(f.code in dead for f in found):
        for i, a in enumerate(channels):
            for b in channels[i + 1 :]:
                if same_signal(samples[:, a], samples[:, b]):
                    found.append(Fault("same signal twice", b + 1, detail=float(a + 1)))
    return tuple(found)


def refusals_and_remarks(
    faults: tuple[Fault, ...], *, clipping_refuses: bool = True
) -> tuple[tuple[Fault, ...], tuple[Fault, ...]]:
    """(faults that refuse a take, remarks): an offset that can be removed, perhaps clipping, are remarks."""
    remarks = tuple(
        f
        for f in faults
        if (f.code == "offset" and (f.detail or 0.0) <= OFFSET_FAULT)
        or (f.code == "clipped" and not clipping_refuses)
    )
    return tuple(f for f in faults if f not in remarks), remarks


def same_signal(a: Array, b: Array) -> bool:
    """Whether ``b`` is ``a`` at another level, up to a few parts in a hundred."""
    a, b = a - np.mean(a), b - np.mean(b)
    energy_a, energy_b = float(a @ a), float(b @ b)
    if energy_a == 0 or energy_b == 0:
        return False
    product = float(a @ b)
    residual = np.sqrt(max(0.0, 1 - product * product / (energy_a * energy_b)))
    return product > 0 and bool(residual < SAME_RESIDUAL)


def clipped_share(x: Array, *, rate: int) -> float:
    """Share of the recording that is cut off flat, 0 where none is; either side of zero by itself."""
    share = 0.0
    for side, top, beyond in ((1, float(x.max()), np.greater_equal), (-1, float(x.min()), np.less_equal)):
        if side * top < CLIP_LOWEST:
            continue
        flat = int(np.count_nonzero(beyond(x, CLIP_TOP * top)))
        if flat < max(CLIP_SAMPLES, CLIP_S * rate):
            continue
        shoulder = int(np.count_nonzero(beyond(x, CLIP_SHOULDER * top))) - flat
        if flat > CLIP_RATIO * shoulder:
            share += flat / len(x)
    return share


def has_gap(piece: Array, *, rate: int) -> bool:
    """Whether samples are missing: a run of exact zeros with sound on both sides of it."""
    sounding = np.flatnonzero(piece)
    return len(sounding) > 1 and int(np.diff(sounding).max()) - 1 >= GAP_S * rate


def sounding_end(x: Array) -> int:
    """One past the last sample that is not exactly zero."""
    sounding = x[::-1] != 0
    return len(x) - int(np.argmax(sounding)) if sounding.any() else 0


def offset_of(x: Array) -> tuple[float, bool]:
    """(offset, whether it is worth a remark)."""
    offset = float(np.mean(x))
    worth = abs(offset) > OFFSET_REMARK and abs(offset) > OFFSET_SHARE * float(np.max(np.abs(x - offset)))
    return offset, worth


def _level_faults(x: Array, *, number: int, rate: int) -> list[Fault]:
    found: list[Fault] = []
    offset, worth = offset_of(x)
    if worth or abs(offset) > OFFSET_FAULT:
        found.append(Fault("offset", number, detail=abs(offset)))
    share = clipped_share(x - offset, rate=rate)
    if share > 0:
        found.append(Fault("clipped", number, detail=share))
    return found
