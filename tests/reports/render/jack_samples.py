"""Exhibits of one jack, invented: a string through the selector, harmonics of a setting, hum of settings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dsp.methods.curves import (
    Array,
    HumExhibit,
    PartialTurn,
    ProfileExhibit,
    SwitchExhibit,
    SwitchJump,
)

FIVE = ("bridge", "bridge + middle", "middle", "middle + neck", "neck")


def switch(
    settings: Sequence[str] = ("bridge", "middle", "neck"),
    steps: Sequence[int] = (-1, 1),
    *,
    partials: Sequence[int] = (1, 2, 3, 5),
    turned: int = 5,
) -> SwitchExhibit:
    """A string from pickup to pickup; places turn one partial at the last step, and leave none unknown."""
    jumps = []
    for k, step in enumerate(steps):
        rows = []
        for n in partials:
            place = -1 if n == turned and k == len(steps) - 1 else 1
            half = 0.0 if step * place > 0 else 0.5
            rows.append(PartialTurn(n, abs(half - 0.01 * n), place))
        jumps.append(SwitchJump(settings[k], settings[k + 1], tuple(rows), step))
    return SwitchExhibit("t003", "A2", tuple(jumps))


def profile(setting: str = "both", *, opposed: bool = True, harmonics: int = 10) -> ProfileExhibit:
    """Two pickups at 6.4 % and 24.5 % of the string, and what their sum or difference gives."""
    chance = np.random.default_rng(3)
    n = np.arange(1.0, harmonics + 1)
    a, b = np.sin(n * np.pi * 0.064), np.sin(n * np.pi * 0.245)

    def level(sum_of_both: Array) -> Array:
        return np.asarray(20 * np.log10(np.maximum(np.abs(sum_of_both), 1e-3)) - 6 * np.log2(n))

    adding, against = level(0.5 * (a + b)), level(0.5 * (a - b))
    scatter = 0.8 + 0.12 * n
    measured = (against if opposed else adding) + scatter * chance.standard_normal(harmonics)
    return ProfileExhibit(
        setting, ("bridge", "neck"), ("t007", "t008", "t009"), "D3", n, measured, scatter, adding, against
    )


def hum(settings: Sequence[str] = FIVE) -> HumExhibit:
    """Hum of settings; those named with a plus have predictions, and the first of them cancels."""
    single = np.array([-52.0 - 1.5 * k for k in range(len(settings))])
    several = np.array(["+" in name for name in settings], dtype=bool)
    same = np.where(several, single + 1.0, np.nan)
    opposed = np.where(several, single - 21.0, np.nan)
    level = single.copy()
    if several.any():
        level[int(np.argmax(several))] = single[int(np.argmax(several))] - 18.5
    takes = tuple(f"t{k + 20:03d}" for k in range(len(settings)))
    return HumExhibit(tuple(settings), takes, level, same, opposed, np.full(len(settings), -84.0), 50.0)
