"""A selector that is moved while a string rings.

Task: what is left on the jack when the settings follow each other. Shapes: volts (frames, settings) in,
(frames, 1) out. Units: seconds, volts. Signs: a pop may have either sign and says nothing.
Source: R5, the gesture `switch`; times, pops and bounces are assumed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp import SignalError

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class SwitchSpec:
    """One step of the selector; values assumed."""

    at_s: float
    gap_s: float = 0.0
    """So long nothing is connected: a switch that breaks before it makes."""
    pop_v: float = 0.0
    """Mean height of the pop at each break and make."""
    pop_s: float = 0.8e-3
    """How long a pop takes to die to 1/e."""
    bounces: int = 0
    """So often the new contact opens again."""
    bounce_s: float = 1.5e-3
    """How long it stays open, and closed before the next."""


def selected(
    rng: np.random.Generator, volts: Floats, switching: Sequence[SwitchSpec], *, begin_s: float, rate: int
) -> Floats:
    """Go through the columns of ``volts`` in turn; times in ``switching`` count from ``begin_s``."""
    frames = volts.shape[0]
    heard = volts[:, 0].copy()
    pops = np.zeros(frames)
    for column, step in enumerate(switching, start=1):
        opens = round((begin_s + step.at_s) * rate)
        closes = opens + round(step.gap_s * rate)
        if not 0 < opens <= closes < frames:
            raise SignalError(f"a switching at {step.at_s} s lies outside the take")
        heard[opens:closes] = 0.0
        heard[closes:] = volts[closes:, column]
        events = [opens, closes]
        for k in range(step.bounces):
            first = closes + round((2 * k + 1) * step.bounce_s * rate)
            last = first + round(step.bounce_s * rate)
            heard[first:last] = 0.0
            events += [first, last]
        for frame in events:
            pops[frame:] += _pop(rng, step, frames - frame, rate=rate)
    return np.asarray((heard + pops)[:, None], dtype=np.float64)


def _pop(rng: np.random.Generator, step: SwitchSpec, frames: int, *, rate: int) -> Floats:
    """One pop of random height and sign that dies away."""
    height = step.pop_v * rng.exponential() * float(rng.choice([-1.0, 1.0]))
    return np.asarray(height * np.exp(-np.arange(frames) / (step.pop_s * rate)), dtype=np.float64)
