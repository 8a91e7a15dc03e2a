"""How loud each setting hums, against what its pickups alone predict: one drawing, the text of one SVG.

Task: one row a setting: the measured level, and where it would lie were the pickups wound alike or against
each other. Units: dB re full scale. Signs: wound alike hums, wound against each other cancels
(dsp/signs.py). Nothing is told by colour alone. Importing this module imports matplotlib.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from dsp.exhibits import HumExhibit
from reports import jack_words, words
from reports.drawing import DARK, SECOND, SOFT, as_svg, short

MOST_SETTINGS = 12

_LEFT, _ACROSS = 0.23, 0.55
_ROW_IN = 0.3
_TALLER_IN = 0.58
_AXIS_IN = 0.45
_TOP_IN = 0.12
_MARGIN_DB = 4.0
_USUAL_DB = (-100.0, 0.0)
_HALF_IN = 0.1
_LABEL_IN = 0.19


def hum_figure(exhibit: HumExhibit, *, key: str = "hum") -> str:
    """Hum of each setting as a dot, between the marks of cancelling and of humming."""
    shown = range(min(len(exhibit.settings), MOST_SETTINGS))
    several = [bool(np.isfinite(exhibit.same_db[k]) or np.isfinite(exhibit.opposed_db[k])) for k in shown]
    tall = [_TALLER_IN if many else _ROW_IN for many in several]
    height = _AXIS_IN + _TOP_IN + max(_ROW_IN, sum(tall))
    left_out = len(exhibit.settings) - len(shown)

    def draw(figure: Figure) -> None:
        axes = figure.add_axes((_LEFT, _AXIS_IN / height, _ACROSS, max(_ROW_IN, sum(tall)) / height))
        axes.set_ylim(max(_ROW_IN, sum(tall)), 0.0)
        low, high = _range(exhibit)
        axes.set_xlim(low, high)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        first = several.index(True) if any(several) else -1
        for k in shown:
            _draw_row(axes, exhibit, k, middle=sum(tall[:k]) + tall[k] / 2, tall=tall[k], full=k == first)
        shaded = bool(np.isfinite(exhibit.noise_db).any())
        axes.set_xlabel(jack_words.hum_axis(exhibit.mains_hz, shaded=shaded))
        if left_out:
            figure.text(0.01, 0.08 / height, f"{left_out} more, not drawn", fontsize=8)

    told = " ".join(_told(exhibit, k) for k in shown) or f"{words.NO_EVIDENCE}."
    takes = ", ".join(words.plain(t) for t in exhibit.takes)
    title = "Hum of the settings against what the pickups alone predict"
    return as_svg(draw, height=height, key=key, title=title, told=f"{told} Takes: {takes or 'none'}.")


def _told(exhibit: HumExhibit, k: int) -> str:
    predicted = (
        (jack_words.WOULD_HUM, float(exhibit.same_db[k])),
        (jack_words.WOULD_CANCEL, float(exhibit.opposed_db[k])),
    )
    said = "; ".join(
        f"{name}, {jack_words.decibels(value)}" for name, value in predicted if np.isfinite(value)
    )
    start = f"{words.plain(exhibit.settings[k])}: {_level(exhibit, k)}"
    return f"{start}; {said}." if said else f"{start}."


def _level(exhibit: HumExhibit, k: int) -> str:
    level, noise = float(exhibit.level_db[k]), float(exhibit.noise_db[k])
    drowned = np.isfinite(level) and np.isfinite(noise) and level <= noise
    return jack_words.decibels(level) + (f", {jack_words.IN_NOISE}" if drowned else "")


def _range(exhibit: HumExhibit) -> tuple[float, float]:
    """Levels from edge to edge, with some room on either side; noise below all the rest needs little."""
    marks = np.concatenate([exhibit.level_db, exhibit.same_db, exhibit.opposed_db])
    marks = marks[np.isfinite(marks)]
    noise = exhibit.noise_db[np.isfinite(exhibit.noise_db)]
    every = np.concatenate([marks, noise])
    if not every.size:
        return _USUAL_DB
    return float(every.min()) - _MARGIN_DB, float(every.max()) + _MARGIN_DB


def _draw_row(axes: Axes, exhibit: HumExhibit, k: int, *, middle: float, tall: float, full: bool) -> None:
    low, high = axes.get_xlim()
    noise, level = float(exhibit.noise_db[k]), float(exhibit.level_db[k])
    side = axes.get_yaxis_transform()
    if np.isfinite(noise):
        edges = [middle - tall / 2, middle + tall / 2]
        axes.fill_betweenx(edges, low, noise, color="#dedede", linewidth=0, zorder=0, gid=f"noise-{k + 1}")
        axes.plot([noise] * 2, edges, color=SOFT, linewidth=0.6, linestyle=":", zorder=1)
    if k:
        axes.plot([low, high], [middle - tall / 2] * 2, color=SOFT, linewidth=0.4, zorder=1)
    axes.plot([low, high], [middle] * 2, color=SOFT, linewidth=0.6, zorder=1)
    axes.text(
        -0.02, middle, short(exhibit.settings[k]), transform=side, ha="right", va="center", fontsize=8.5
    )
    axes.text(1.02, middle, _level(exhibit, k), transform=side, va="center", fontsize=8.5)
    labels = jack_words.WOULD_HUM, jack_words.WOULD_CANCEL
    if not full:
        labels = jack_words.WOULD_HUM_SHORT, jack_words.WOULD_CANCEL_SHORT
    _draw_tick(axes, float(exhibit.opposed_db[k]), middle, labels[1], above=True, gid=f"opposed-{k + 1}")
    _draw_tick(axes, float(exhibit.same_db[k]), middle, labels[0], above=False, gid=f"same-{k + 1}")
    if np.isfinite(level):
        axes.plot([level], [middle], marker="o", markersize=8, color=DARK, zorder=4, gid=f"level-{k + 1}")


def _draw_tick(axes: Axes, x: float, middle: float, label: str, *, above: bool, gid: str) -> None:
    """A predicted level as a tick towards its label: above the row for cancelling, below for humming."""
    if not np.isfinite(x):
        return
    low, high = axes.get_xlim()
    way = -1 if above else 1
    look: dict[str, Any] = {"color": SECOND if above else DARK, "linewidth": 1.6, "zorder": 3}
    axes.plot([x, x], [middle - way * _HALF_IN, middle + way * _HALF_IN], linestyle="-", **look)
    axes.plot(
        [x],
        [middle + way * _HALF_IN],
        marker="v" if above else "^",
        markersize=5,
        markerfacecolor="white",
        gid=gid,
        **look,
    )
    right = x > (low + high) / 2
    axes.text(
        x + (high - low) * (-0.015 if right else 0.015),
        middle + way * _LABEL_IN,
        label,
        ha="right" if right else "left",
        va="center",
        fontsize=7.5,
        zorder=5,
    )
