"""Clicks of a selector while a string rings: where the treble jumps.

Task: say of each hundredth of a second whether something clicked. A contact that opens or closes leaves a
pop, or at least a step in the waveform; both are wide, and a string's treble dies within a tenth of a second.
Shapes: pieces (channels, frames) of ``STEP_S`` in order. Units: samples at ``rate``, seconds, dB re full
scale. Sign: turning the signal over changes nothing. Source: sudden rises of high-frequency level as signs of
transients (J. P. Bello et al., A tutorial on onset detection in music signals, IEEE Trans. SAP 13, 2005, from
memory). ``RISES_DB``: of 320 simulated sweeps with two steps both were heard in 292, and one other sound in
one of them.
"""

from __future__ import annotations

from collections import deque

import numpy as np
import scipy
from numpy.typing import NDArray

Array = NDArray[np.float64]

STEP_S = 0.01
ABOVE_HZ = 3000.0
RISES_DB = 6.0
OVER_S = 0.1
"""A click rises over the middle level of so long a stretch, which ends a step before it."""
APART_S = 0.12
"""What follows a click so soon is its bounce, or the other contact of the same step."""
PICK_S = 0.12
"""So long after a pluck the pick itself is heard in the treble, as a click is."""
LEAST_DB = -90.0


class ClickWatch:
    """Feed it pieces of ``STEP_S`` as they come."""

    def __init__(self, *, rate: int, channels: int) -> None:
        self._sections = np.asarray(scipy.signal.butter(2, ABOVE_HZ, "highpass", fs=rate, output="sos"))
        self._state = np.zeros((len(self._sections), channels, 2))
        self._before: deque[Array] = deque(maxlen=round(OVER_S / STEP_S) + 1)

    def clicked(self, piece: Array) -> bool:
        """Whether a click begins or goes on in the next piece, (channels, frames)."""
        treble, self._state = scipy.signal.sosfilt(self._sections, piece, axis=1, zi=self._state)
        power = np.mean(np.square(treble), axis=1)
        level = 10 * np.log10(np.maximum(power, 10 ** (LEAST_DB / 10)))
        before = np.array(self._before)[:-1]
        known = len(before) == round(OVER_S / STEP_S)
        self._before.append(level)
        return known and bool(np.any(level > np.median(before, axis=0) + RISES_DB))


def add_click(found: list[tuple[int, int]], first: int, stop: int, *, rate: int) -> None:
    """Add a piece that clicked, samples ``first`` to ``stop``, to the last click found or as another one."""
    if found and first - found[-1][1] < APART_S * rate:
        found[-1] = (found[-1][0], stop)
    else:
        found.append((first, stop))


def clicks(x: Array, *, rate: int, start: int) -> list[tuple[int, int]]:
    """First and last sample of each click in ``x``, (frames,), from sample ``start`` on."""
    watch, step = ClickWatch(rate=rate, channels=1), round(STEP_S * rate)
    found: list[tuple[int, int]] = []
    for first in range(0, len(x) - step + 1, step):
        if watch.clicked(x[np.newaxis, first : first + step]) and first >= start:
            add_click(found, first, first + step, rate=rate)
    return found
