"""Exhibits of one jack, invented: a string through the selector, harmonics of a setting, hum of settings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dsp.methods.curves import Array, HumExhibit, PhaseLine, ProfileExhibit, SwitchExhibit

FIVE = ("bridge", "bridge + middle", "middle", "middle + neck", "neck")


def switch(
    settings: Sequence[str] = ("bridge", "both", "neck"),
    steps: Sequence[int] = (-1, 1),
    *,
    partials: Sequence[int] = (1, 2, 3, 5),
    turned: int = 5,
    rate_hz: float = 50.0,
) -> SwitchExhibit:
    """A string through the settings, 1.4 s each, 0.1 s between; places turn one partial at the end."""
    chance = np.random.default_rng(7)
    stretches = tuple((name, 1.5 * k, 1.5 * k + 1.4) for k, name in enumerate(settings))
    time = np.arange(0.0, stretches[-1][2], 1 / rate_hz)
    step_of = np.floor(time / 1.5).astype(int)
    lines = []
    for n in partials:
        places = tuple(-1 if n == turned and k == len(steps) - 1 else 1 for k in range(len(steps)))
        halves = np.cumsum([0, *(0.5 if s * p < 0 else 0.0 for s, p in zip(steps, places, strict=True))])
        drift = 0.004 * n * np.sin(0.7 * time + n) + 0.008 * n**0.5 * chance.standard_normal(time.size)
        turns = (halves[step_of] + drift + 0.5) % 1.0 - 0.5
        turns[time - 1.5 * step_of > 1.4] = np.nan
        lines.append(PhaseLine(n, turns, places))
    return SwitchExhibit("t003", "A2", time, tuple(lines), stretches, tuple(steps))


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
