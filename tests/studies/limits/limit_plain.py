"""What one would do without this tool: three plain ways to see whether two recordings have the same sign.

Task: two signals to +1 (the same sign), -1 (opposed) or 0 (no answer). Shapes: (frames,) each, one rate.
Units: seconds, full scale. Signs: negating one signal turns the answer over.

`whole_band`: the signed value of largest magnitude of the normalised cross-correlation within 5 ms (D2).
`obspy_way`: the same with ObsPy's correlate and xcorr_max (D4), an implementation that is not ours.
`first_swing`: as a person reads it off the waveform: which way it goes first, where it first passes five
times what was there before the attack, or a tenth of the peak, whichever is more. A tool's pulse is looked at
as the eye does that overlooks a click: averaged over 2 ms. Two takes of their own are laid over each other at
that place before they are correlated.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from obspy.signal.cross_correlation import correlate, xcorr_max

from dsp.methods.tool_pulse import correlation_curve

Array = NDArray[np.float64]

LAG_S = 0.005
SIGMAS = 5.0
PART_OF_PEAK = 0.10
QUIET_S = 0.25
SMOOTH_S = 0.002
BEFORE_S = 0.005
AFTER_S = 0.30
WAYS = ("whole-band correlation", "ObsPy correlate, xcorr_max", "first swing by eye")


def whole_band(a: Array, b: Array, *, rate: int) -> int:
    """Sign of the largest magnitude of the cross-correlation."""
    _, curve = correlation_curve(a - a.mean(), b - b.mean(), longest_lag_s=LAG_S, rate=rate)
    return int(np.sign(curve[np.argmax(np.abs(curve))]))


def obspy_way(a: Array, b: Array, *, rate: int) -> int:
    """The same by ObsPy."""
    _, value = xcorr_max(correlate(a, b, int(LAG_S * rate)), abs_max=True)
    return int(np.sign(value))


def first_swing(x: Array, *, rate: int, tool: bool) -> tuple[int, int]:
    """Sample and sign of the first excursion; sample 0 and sign 0 where there is none."""
    quiet = x[: int(QUIET_S * rate)]
    y = x - quiet.mean()
    if tool:
        width = max(1, int(SMOOTH_S * rate))
        y = np.convolve(y, np.full(width, 1 / width), mode="same")
    limit = max(
        SIGMAS * float(np.std(y[width // 2 if tool else 0 : len(quiet)])),
        PART_OF_PEAK * float(np.abs(y).max()),
    )
    over = np.flatnonzero(np.abs(y) > limit)
    return (int(over[0]), int(np.sign(y[over[0]]))) if len(over) else (0, 0)


def paired_answers(x: Array, *, rate: int) -> tuple[int, int, int]:
    """The three ways on one take of two channels, (frames, 2)."""
    a, b = x.T
    swings = [first_swing(one, rate=rate, tool=False)[1] for one in (a, b)]
    return whole_band(a, b, rate=rate), obspy_way(a, b, rate=rate), swings[0] * swings[1]


def apart_answers(a: Array, b: Array, *, rate: int, tool: bool) -> tuple[int, int, int]:
    """The three ways on two takes of their own, (frames,) each, aligned at their first swings."""
    found = [first_swing(one, rate=rate, tool=tool) for one in (a, b)]
    cut = []
    for one, (at, _) in zip((a, b), found, strict=True):
        start = max(0, at - int(BEFORE_S * rate))
        cut.append(one[start : start + int((BEFORE_S + AFTER_S) * rate)])
    length = min(len(one) for one in cut)
    left, right = (one[:length] for one in cut)
    return (
        whole_band(left, right, rate=rate),
        obspy_way(left, right, rate=rate),
        found[0][1] * found[1][1],
    )
