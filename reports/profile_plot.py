"""How the harmonics of a setting lie against what its pickups give alone: one drawing, the text of one SVG.

Task: the measured level of each harmonic, and the two courses that adding and opposing would take. Units:
dB, with the level left free. Nothing is told by colour alone. Importing this module imports matplotlib.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from dsp.exhibits import ProfileExhibit
from reports import jack_words, words
from reports.drawing import DARK, SECOND, SOFT, Array, as_svg, short, spread

NEARER_BY_DB = 1.0
"""Curves whose distances from the points differ by less are called about as near: plucks scatter as much."""

_BOX = (0.1, 0.17, 0.64, 0.7)
_HEIGHT = 2.7
_DEEP_DB = 15.0
"""A predicted dip deeper than this below all that was measured leaves the drawing, and counts as that deep:
how deep a null goes depends on what no prediction knows."""
_FEWEST = 2
_LEAST_SCATTER_DB = 0.5


def profile_figure(exhibit: ProfileExhibit, *, key: str = "profile") -> str:
    """Measured harmonics with their scatter, between the courses of adding and of opposing."""
    nearer = jack_words.nearer_curve(*_distances(exhibit), by=NEARER_BY_DB)

    def draw(figure: Figure) -> None:
        axes = figure.add_axes(_BOX)
        _set_range(axes, exhibit)
        curves = (
            (
                jack_words.IF_ADDING,
                exhibit.adding_db,
                {"color": DARK, "linestyle": "-", "marker": "^"},
                "adding",
            ),
            (
                jack_words.IF_OPPOSED,
                exhibit.opposed_db,
                {"color": SECOND, "linestyle": (0, (4, 1.6)), "marker": "v"},
                "opposed",
            ),
        )
        ends = []
        for name, curve, look, gid in curves:
            hollow = {**look, "markerfacecolor": "white", "markersize": 6.5, "linewidth": 1.3}
            end = _draw_curve(axes, exhibit.harmonics, curve, hollow, gid=gid)
            if end is not None:
                ends.append((*end, name, hollow))
        measured = {"color": DARK, "marker": "o", "linestyle": "none", "markersize": 5}
        end = _draw_measured(axes, exhibit, measured)
        if end is not None:
            ends.append((*end, jack_words.MEASURED, measured))
        _draw_ends(axes, ends)
        axes.set_xlabel("harmonic")
        axes.set_ylabel("level (dB, level left free)")
        figure.text(_BOX[0], 0.93, nearer, fontsize=9, weight="bold")

    pickups = " + ".join(short(p) for p in exhibit.pickups)
    title = (
        f"{words.plain(exhibit.setting)} ({pickups}), string {words.plain(exhibit.string)}: harmonic profile"
    )
    takes = ", ".join(words.plain(t) for t in exhibit.takes)
    return as_svg(draw, height=_HEIGHT, key=key, title=title, told=f"{nearer} Takes: {takes or 'none'}.")


def _distances(exhibit: ProfileExhibit) -> tuple[float | None, float | None]:
    """How far the points lie from either curve, in dB, once the level is left free; None where unknown."""
    return (
        _distance(exhibit.measured_db, exhibit.adding_db, exhibit.scatter_db),
        _distance(exhibit.measured_db, exhibit.opposed_db, exhibit.scatter_db),
    )


def _distance(measured: Array, predicted: Array, scatter: Array) -> float | None:
    both = np.isfinite(measured) & ~np.isnan(predicted)
    if np.count_nonzero(both) < _FEWEST:
        return None
    predicted = np.maximum(predicted, measured[both].min() - _DEEP_DB)
    known = np.where(np.isfinite(scatter[both]), scatter[both], np.inf)
    usual = known[np.isfinite(known)].mean() if np.isfinite(known).any() else 1.0
    weight = np.maximum(np.where(np.isfinite(known), known, usual), _LEAST_SCATTER_DB) ** -2
    apart = (measured - predicted)[both]
    apart = apart - np.average(apart, weights=weight)
    return float(np.sqrt(np.average(apart**2, weights=weight)))


def _set_range(axes: Axes, exhibit: ProfileExhibit) -> None:
    axes.xaxis.set_major_locator(MaxNLocator(nbins=12, integer=True, min_n_ticks=1))
    if exhibit.harmonics.size:
        axes.set_xlim(exhibit.harmonics.min() - 0.5, exhibit.harmonics.max() + 0.5)
    bars = np.nan_to_num(exhibit.scatter_db, nan=0.0, posinf=0.0)
    seen = np.concatenate([exhibit.measured_db - bars, exhibit.measured_db + bars])
    seen = seen[np.isfinite(seen)]
    curves = np.concatenate([exhibit.adding_db, exhibit.opposed_db])
    curves = curves[np.isfinite(curves)]
    every = np.concatenate([seen, curves])
    if not every.size:
        return
    floor = seen.min() - _DEEP_DB if seen.size else -np.inf
    low, high = max(floor, float(every.min())), float(every.max())
    margin = 0.08 * max(1.0, high - low)
    axes.set_ylim(low - margin, high + margin)


def _draw_curve(
    axes: Axes, harmonics: Array, curve: Array, look: dict[str, Any], *, gid: str
) -> tuple[float, float] | None:
    """One predicted course; where it ends, None if it has no point. A bottomless dip leaves the drawing."""
    low, high = axes.get_ylim()
    drawn = np.where(np.isneginf(curve), low - (high - low), curve)
    known = np.flatnonzero(np.isfinite(drawn))
    if not known.size:
        return None
    axes.plot(harmonics, drawn, gid=gid, zorder=3, **look)
    return float(harmonics[known[-1]]), float(np.clip(drawn[known[-1]], low, high))


def _draw_measured(axes: Axes, exhibit: ProfileExhibit, look: dict[str, Any]) -> tuple[float, float] | None:
    known = np.flatnonzero(np.isfinite(exhibit.measured_db))
    if not known.size:
        return None
    x, y = exhibit.harmonics[known], exhibit.measured_db[known]
    bars = np.nan_to_num(exhibit.scatter_db[known], nan=0.0, posinf=0.0)
    axes.vlines(x, y - bars, y + bars, color=DARK, linewidth=1.2, zorder=4, gid="scatter")
    for end in (y - bars, y + bars):
        axes.plot(x, end, color=DARK, marker="_", linestyle="none", markersize=6, zorder=4)
    axes.plot(x, y, gid="measured", zorder=5, **look)
    return float(x[-1]), float(y[-1])


def _draw_ends(axes: Axes, ends: list[tuple[float, float, str, dict[str, Any]]]) -> None:
    """Name each course at its end, the names never over each other."""
    low, high = axes.get_ylim()
    gap = 0.17 * (high - low) / (_BOX[3] * _HEIGHT)
    heights = spread([y for _, y, _, _ in ends], gap=gap, low=low, high=high)
    side = axes.get_yaxis_transform()
    right = axes.get_xlim()[1]
    for (x, y, name, look), height in zip(ends, heights, strict=True):
        axes.plot([x, right], [y, y], color=SOFT, linewidth=0.5, linestyle=":", zorder=1)
        axes.plot([1.0, 1.03], [y, height], transform=side, clip_on=False, color=SOFT, linewidth=0.6)
        axes.plot([1.035, 1.105], [height] * 2, transform=side, clip_on=False, markevery=[1], **look)
        axes.text(1.13, height, name, transform=side, va="center", fontsize=8.5)
