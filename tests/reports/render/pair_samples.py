"""Exhibits of invented pairs: takes of two pickups over each other."""

from __future__ import annotations

import numpy as np

from dsp.methods.curves import PairExhibit, Trace


def exhibit(a: str = "bridge", b: str = "neck", *, opposed: bool = True, takes: int = 2) -> PairExhibit:
    """Decaying strings seen by two pickups."""
    time = np.linspace(0.0, 60.0, 2646)
    sign = -1 if opposed else 1
    traces = []
    for k in range(takes):
        rate = 0.055 * 2 * np.pi * (1 + 0.003 * k)
        first = np.exp(-time / 40) * (np.sin(rate * time) + 0.3 * np.sin(2 * rate * time + 0.4))
        second = sign * np.exp(-time / 45) * (np.sin(rate * time + 0.2) + 0.2 * np.sin(2 * rate * time + k))
        traces.append(Trace(f"t{k + 2:03d}", a, first / np.abs(first).max(), 1))
        traces.append(Trace(f"t{k + 2:03d}", b, second / np.abs(second).max(), sign))
    return PairExhibit(
        a=a,
        b=b,
        method="paired pluck",
        time_ms=time,
        traces=tuple(traces),
    )
