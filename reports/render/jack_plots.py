"""The drawings of what the jack shows: each the text of one SVG.

`switch_figure`: what is left of each partial's turn from one pickup to the next once the places are taken
out, none (the same sign) to half a turn (opposed). `profile_figure`: levels of harmonics (dB, the level left
free) between the courses of adding and of opposing. `hum_figure`: level of each setting (dB re full scale),
and where it would lie were the pickups wound alike or against each other. Signs as in dsp.methods.curves.
Importing this loads matplotlib.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from dsp.methods.curves import HumExhibit, PartialTurn, ProfileExhibit, SwitchExhibit, SwitchJump
from reports.messages import wording as words
from reports.render.figures import (
    DARK,
    DASHES,
    SECOND,
    SHADE,
    SOFT,
    Array,
    as_svg,
    shortened,
    spaced_apart,
)

_LEFT, _ACROSS = 0.17, 0.8
_TALL_IN = 1.3
_ABOVE_IN, _BELOW_IN = 0.12, 0.55
_NOTE_IN = 0.17
_HALF_TURN = 0.5
_BANDS = ((-0.07, 0.15), (0.35, 0.57))
"""What is near no turn, and what is near half a turn."""
_SPREAD = 0.7
"""Part of a column's width over which the partials of one jump are spread."""
_NAME_SIZE = 9.0
_NAMES_ACROSS = 46
"""So many letters of names stand side by side under the drawing."""


def switch_figure(exhibit: SwitchExhibit, *, key: str = "switch") -> str:
    """What is left of each partial's turn from one pickup to the next once the places are taken out."""
    jumps = exhibit.jumps
    told = [f"{words.plain(j.before)} to {words.plain(j.after)}: {words.STEPS[j.step]}" for j in jumps]
    notes = _notes(exhibit)
    columns = max(1, len(jumps))
    below = _BELOW_IN + _NOTE_IN * len(notes)
    height = below + _TALL_IN + _ABOVE_IN

    def draw(figure: Figure) -> None:
        axes = figure.add_axes((_LEFT, below / height, _ACROSS, _TALL_IN / height))
        axes.set_xlim(-0.5, columns - 0.5)
        axes.set_ylim(_BANDS[0][0], _BANDS[1][1])
        for low, high in _BANDS:
            axes.axhspan(low, high, color=SHADE, linewidth=0, zorder=0)
        axes.set_yticks([0.0, _HALF_TURN], [words.SAME_SIGN, words.OPPOSED], fontsize=9)
        axes.set_xticks([])
        for edge in range(1, columns):
            axes.axvline(edge - 0.5, color=SOFT, linewidth=0.6, zorder=1)
        for k, jump in enumerate(jumps):
            known = [p for p in jump.partials if p.place_sign]
            for place, partial in enumerate(known):
                x = k + _SPREAD * ((place + 0.5) / len(known) - 0.5)
                _draw_partial(axes, x, partial, gid=f"jump-{k + 1}-partial-{partial.n}")
            _name_jump(axes, k, jump, columns)
        for k, note in enumerate(reversed(notes)):
            figure.text(_LEFT, (0.05 + _NOTE_IN * k) / height, note, fontsize=8.5)

    played = f"{words.plain(exhibit.take)}, string {words.plain(exhibit.string)}"
    said = " ".join(f"{sentence}." for sentence in [*told, *notes]) or f"{words.NO_EVIDENCE}."
    return as_svg(draw, height=height, key=key, title=f"{played}: turns at the selector's steps", told=said)


def _notes(exhibit: SwitchExhibit) -> list[str]:
    """One line for each jump at which the places turn partials by themselves."""
    said = []
    for jump in exhibit.jumps:
        turned = [p.n for p in jump.partials if p.place_sign < 0]
        if turned:
            where = f"{shortened(jump.before)} to {shortened(jump.after)}"
            said.append(f"{where}: {words.turned_by_place(turned)}")
    return said


def _draw_partial(axes: Axes, x: float, partial: PartialTurn, *, gid: str) -> None:
    """One partial by its number; in a square where its place turns it, which is taken out."""
    by_place = partial.place_sign < 0
    left = _HALF_TURN - partial.turned if by_place else partial.turned
    shape = "square,pad=0.25" if by_place else "circle,pad=0.25"
    box = {"boxstyle": shape, "facecolor": "white", "edgecolor": DARK, "linewidth": 0.9}
    axes.text(x, left, str(partial.n), ha="center", va="center", fontsize=8.0, bbox=box, zorder=5, gid=gid)


def _name_jump(axes: Axes, k: int, jump: SwitchJump, columns: int) -> None:
    longest = max(6, _NAMES_ACROSS // columns)
    said = f"{shortened(jump.before, longest=longest)} to {shortened(jump.after, longest=longest)}"
    style: dict[str, Any] = {"ha": "center", "va": "top", "fontsize": _NAME_SIZE}
    style["transform"] = axes.get_xaxis_transform()
    axes.text(k, -0.06, said, **style)
    axes.text(k, -0.2, words.STEPS[jump.step], weight="bold", gid=f"jump-{k + 1}-told", **style)


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
    nearer = words.nearer_curve(*_distances(exhibit), by=NEARER_BY_DB)

    def draw(figure: Figure) -> None:
        axes = figure.add_axes(_BOX)
        _set_range(axes, exhibit)
        curves = (
            (
                words.IF_ADDING,
                exhibit.adding_db,
                {"color": DARK, "linestyle": "-", "marker": "^"},
                "adding",
            ),
            (
                words.IF_OPPOSED,
                exhibit.opposed_db,
                {"color": SECOND, "linestyle": DASHES[1], "marker": "v"},
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
            ends.append((*end, words.MEASURED, measured))
        _draw_ends(axes, ends)
        axes.set_xlabel("harmonic")
        axes.set_ylabel("level (dB, level left free)")
        figure.text(_BOX[0], 0.93, nearer, fontsize=9, weight="bold")

    pickups = " + ".join(shortened(p) for p in exhibit.pickups)
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
    heights = spaced_apart([y for _, y, _, _ in ends], gap=gap, low=low, high=high)
    side = axes.get_yaxis_transform()
    right = axes.get_xlim()[1]
    for (x, y, name, look), height in zip(ends, heights, strict=True):
        axes.plot([x, right], [y, y], color=SOFT, linewidth=0.5, linestyle=":", zorder=1)
        axes.plot([1.0, 1.03], [y, height], transform=side, clip_on=False, color=SOFT, linewidth=0.6)
        axes.plot([1.035, 1.105], [height] * 2, transform=side, clip_on=False, markevery=[1], **look)
        axes.text(1.13, height, name, transform=side, va="center", fontsize=8.5)


MOST_SETTINGS = 12

_LEFT_HUM_PLOT, _ACROSS_HUM_PLOT = 0.23, 0.55
_ROW_IN_HUM_PLOT = 0.3
_TALLER_IN = 0.58
_AXIS_IN_HUM_PLOT = 0.45
_TOP_IN = 0.12
_MARGIN_DB = 4.0
_USUAL_DB = (-100.0, 0.0)
_HALF_IN = 0.1
_LABEL_IN = 0.19


def hum_figure(exhibit: HumExhibit, *, key: str = "hum") -> str:
    """Hum of each setting as a dot, between the marks of cancelling and of humming."""
    shown = range(min(len(exhibit.settings), MOST_SETTINGS))
    several = [bool(np.isfinite(exhibit.same_db[k]) or np.isfinite(exhibit.opposed_db[k])) for k in shown]
    tall = [_TALLER_IN if many else _ROW_IN_HUM_PLOT for many in several]
    height = _AXIS_IN_HUM_PLOT + _TOP_IN + max(_ROW_IN_HUM_PLOT, sum(tall))
    left_out = len(exhibit.settings) - len(shown)

    def draw(figure: Figure) -> None:
        axes = figure.add_axes(
            (
                _LEFT_HUM_PLOT,
                _AXIS_IN_HUM_PLOT / height,
                _ACROSS_HUM_PLOT,
                max(_ROW_IN_HUM_PLOT, sum(tall)) / height,
            )
        )
        axes.set_ylim(max(_ROW_IN_HUM_PLOT, sum(tall)), 0.0)
        low, high = _range(exhibit)
        axes.set_xlim(low, high)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        first = several.index(True) if any(several) else -1
        for k in shown:
            _draw_row(axes, exhibit, k, middle=sum(tall[:k]) + tall[k] / 2, tall=tall[k], full=k == first)
        shaded = bool(np.isfinite(exhibit.noise_db).any())
        axes.set_xlabel(words.hum_axis(exhibit.mains_hz, shaded=shaded))
        if left_out:
            figure.text(0.01, 0.08 / height, f"{left_out} more, not drawn", fontsize=8)

    told = " ".join(_told_hum_plot(exhibit, k) for k in shown) or f"{words.NO_EVIDENCE}."
    takes = ", ".join(words.plain(t) for t in exhibit.takes)
    title = "Hum of the settings against what the pickups alone predict"
    return as_svg(draw, height=height, key=key, title=title, told=f"{told} Takes: {takes or 'none'}.")


def _told_hum_plot(exhibit: HumExhibit, k: int) -> str:
    predicted = (
        (words.WOULD_HUM, float(exhibit.same_db[k])),
        (words.WOULD_CANCEL, float(exhibit.opposed_db[k])),
    )
    said = "; ".join(f"{name}, {words.decibels(value)}" for name, value in predicted if np.isfinite(value))
    start = f"{words.plain(exhibit.settings[k])}: {_level(exhibit, k)}"
    return f"{start}; {said}." if said else f"{start}."


def _level(exhibit: HumExhibit, k: int) -> str:
    level, noise = float(exhibit.level_db[k]), float(exhibit.noise_db[k])
    drowned = np.isfinite(level) and np.isfinite(noise) and level <= noise
    return words.decibels(level) + (f", {words.IN_NOISE}" if drowned else "")


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
        axes.fill_betweenx(edges, low, noise, color=SHADE, linewidth=0, zorder=0, gid=f"noise-{k + 1}")
        axes.plot([noise] * 2, edges, color=SOFT, linewidth=0.6, linestyle=":", zorder=1)
    if k:
        axes.plot([low, high], [middle - tall / 2] * 2, color=SOFT, linewidth=0.4, zorder=1)
    axes.plot([low, high], [middle] * 2, color=SOFT, linewidth=0.6, zorder=1)
    axes.text(
        -0.02, middle, shortened(exhibit.settings[k]), transform=side, ha="right", va="center", fontsize=8.5
    )
    axes.text(1.02, middle, _level(exhibit, k), transform=side, va="center", fontsize=8.5)
    labels = words.WOULD_HUM, words.WOULD_CANCEL
    if not full:
        labels = words.WOULD_HUM_SHORT, words.WOULD_CANCEL_SHORT
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
