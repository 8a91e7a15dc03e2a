"""The drawings of what the jack shows: each the text of one SVG.

`switch_figure`: phase of each partial (turns) against time (s), with the steps of the selector. A phase is
known up to whole turns: on each stretch it is drawn close to its mean there, and half a turn either way
stands at the top. `profile_figure`: levels of harmonics (dB, the level left free) between the courses of
adding and of opposing. `hum_figure`: level of each setting (dB re full scale), and where it would lie were
the pickups wound alike or against each other. Signs as in dsp.methods.curves. Importing this loads
matplotlib.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from dsp.methods.curves import HumExhibit, PhaseLine, ProfileExhibit, SwitchExhibit
from reports.messages import wording as words
from reports.render.figures import (
    DARK,
    DASHES,
    MARKERS,
    SECOND,
    SHADE,
    SOFT,
    WIDTH_IN,
    Array,
    as_svg,
    label_rows,
    shortened,
    spaced_apart,
    text_width_in,
)

MOST_LINES = 12
MOST_POINTS_A_LINE = 300

_LEFT, _ACROSS = 0.1, 0.72
_TALL_IN = 1.8
_ROW_IN = 0.2
_AXIS_IN = 0.42
_NOTE_IN = 0.17
_LOWEST, _HIGHEST = -0.66, 0.72
_TURNED_FROM = -0.4
"""Mean phases below it are drawn a whole turn higher: what scatters about half a turn stays together."""
_STEP_SIZE, _NAME_SIZE = 10.0, 8.5
_FEW = 12
_HALF_TURN = 0.5

Span = tuple[float, float]


def switch_figure(exhibit: SwitchExhibit, *, key: str = "switch") -> str:
    """Phase of each partial against time, the selector's steps marked with what they tell."""
    shown = exhibit.lines[:MOST_LINES]
    told = [
        f"{where}: {words.STEPS[step]}"
        for where, step in zip(_step_labels(exhibit), _step_signs(exhibit), strict=True)
    ]
    notes = _notes(exhibit)
    across = WIDTH_IN * _ACROSS
    span = _span(exhibit)
    names = [(shortened(name), (start + stop) / 2) for name, start, stop in exhibit.stretches]
    name_rows = _label_rows(names, span, across, size=_NAME_SIZE)
    labels = [
        (words.STEPS[step], sum(gap) / 2)
        for step, gap in zip(_step_signs(exhibit), _gaps(exhibit), strict=True)
    ]
    label_rows = _label_rows(labels, span, across, size=_STEP_SIZE)
    strip = _ROW_IN * (1.25 + max(label_rows, default=-1)) if labels else 0.0
    above = _ROW_IN * (1 + max(name_rows, default=-1)) + 0.1
    below = _AXIS_IN + _NOTE_IN * len(notes)
    height = below + strip + _TALL_IN + above

    def draw(figure: Figure) -> None:
        axes = figure.add_axes((_LEFT, below / height, _ACROSS, (strip + _TALL_IN) / height))
        turns_an_inch = (_HIGHEST - _LOWEST) / _TALL_IN
        axes.set_xlim(*span)
        axes.set_ylim(_LOWEST - strip * turns_an_inch, _HIGHEST)
        _draw_guides(axes)
        for k, ((label, at), row, gap) in enumerate(zip(labels, label_rows, _gaps(exhibit), strict=True)):
            low = _LOWEST - turns_an_inch * _ROW_IN * (row + 0.5)
            _draw_band(axes, gap, low=low)
            x = _clamped(at, span, across, label, size=_STEP_SIZE)
            _draw_step(axes, x, low, label, gid=f"step-{k + 1}")
        for (name, at), row, stretch in zip(names, name_rows, exhibit.stretches, strict=True):
            x = _clamped(at, span, across, name, size=_NAME_SIZE)
            _draw_name(axes, x, name, stretch, lift=(row * _ROW_IN + 0.12) * turns_an_inch)
        _draw_lines(axes, exhibit, shown)
        axes.set_xlabel("time (s)")
        axes.set_ylabel("phase (turns)", y=1 - 0.5 * _TALL_IN / (strip + _TALL_IN))
        for k, note in enumerate(reversed(notes)):
            figure.text(_LEFT, (0.05 + _NOTE_IN * k) / height, note, fontsize=8.5)

    played = f"{words.plain(exhibit.take)}, string {words.plain(exhibit.string)}"
    said = " ".join(f"{sentence}." for sentence in [*told, *notes]) or f"{words.NO_EVIDENCE}."
    return as_svg(
        draw, height=height, key=key, title=f"{played}: phase through the selector's steps", told=said
    )


def _span(exhibit: SwitchExhibit) -> Span:
    """First and last moment that is drawn."""
    moments = [*exhibit.time_s.tolist(), *(t for _, *ends in exhibit.stretches for t in ends)]
    known = [t for t in moments if np.isfinite(t)]
    if not known or max(known) <= min(known):
        return 0.0, 1.0
    return min(known), max(known)


def _gaps(exhibit: SwitchExhibit) -> list[Span]:
    """From when to when the selector moved, one span a step."""
    return [(before[2], after[1]) for before, after in pairwise(exhibit.stretches)]


def _step_signs(exhibit: SwitchExhibit) -> list[int]:
    """What each step tells; 0 where the exhibit says nothing of it."""
    return [exhibit.steps[k] if k < len(exhibit.steps) else 0 for k in range(len(_gaps(exhibit)))]


def _step_labels(exhibit: SwitchExhibit) -> list[str]:
    return [f"{words.plain(a[0])} to {words.plain(b[0])}" for a, b in pairwise(exhibit.stretches)]


def _notes(exhibit: SwitchExhibit) -> list[str]:
    """One line for each step at which the places turn partials by themselves."""
    said = []
    for k, (before, after) in enumerate(pairwise(exhibit.stretches)):
        reversed_partials = [
            line.n for line in exhibit.lines if k < len(line.place_signs) and line.place_signs[k] < 0
        ]
        if reversed_partials:
            said.append(
                f"{shortened(before[0])} to {shortened(after[0])}: {words.turned_by_place(reversed_partials)}"
            )
    return said


def _label_rows(labels: list[tuple[str, float]], span: Span, across: float, *, size: float) -> list[int]:
    """Rows of labels that stand centred at their moments, kept inside the drawing."""
    scale = across / (span[1] - span[0])
    return label_rows(
        [
            ((_clamped(at, span, across, text, size=size) - span[0]) * scale, text_width_in(text, size=size))
            for text, at in labels
        ]
    )


def _clamped(at: float, span: Span, across: float, text: str, *, size: float) -> float:
    half = 0.5 * text_width_in(text, size=size) * (span[1] - span[0]) / across
    return max(min(at, span[1] - half), span[0] + half)


def _draw_guides(axes: Axes) -> None:
    for turn in (-_HALF_TURN, 0.0, _HALF_TURN):
        axes.axhline(turn, color=SOFT, linewidth=0.6, linestyle="-" if turn == 0 else (0, (6, 3)), zorder=1)
    axes.set_yticks([-_HALF_TURN, 0.0, _HALF_TURN], ["−1/2", "0", "1/2"])


def _draw_band(axes: Axes, gap: Span, *, low: float) -> None:
    """The time in which the selector moved, from the names down to what the step tells."""
    axes.fill_between(gap, low, _HIGHEST, color=SHADE, linewidth=0, zorder=0)
    for edge in gap:
        axes.plot([edge, edge], [low, _HIGHEST], color=SOFT, linewidth=0.7, zorder=1)


def _draw_step(axes: Axes, x: float, y: float, label: str, *, gid: str) -> None:
    box = {"facecolor": "white", "edgecolor": DARK, "linewidth": 0.8, "pad": 1.6}
    axes.text(
        x, y, label, ha="center", va="center", weight="bold", fontsize=_STEP_SIZE, bbox=box, zorder=6, gid=gid
    )


def _draw_name(axes: Axes, x: float, name: str, stretch: tuple[str, float, float], *, lift: float) -> None:
    middle = (stretch[1] + stretch[2]) / 2
    axes.plot([stretch[1], stretch[2]], [_HIGHEST] * 2, color=DARK, linewidth=2.2, clip_on=False, zorder=5)
    axes.plot([middle] * 2, [_HIGHEST, _HIGHEST + lift], color=SOFT, linewidth=0.7, clip_on=False, zorder=5)
    box = {"facecolor": "white", "edgecolor": "none", "pad": 0.6}
    axes.text(x, _HIGHEST + lift, name, ha="center", va="center", fontsize=_NAME_SIZE, bbox=box, zorder=6)


def _draw_lines(axes: Axes, exhibit: SwitchExhibit, shown: tuple[PhaseLine, ...]) -> None:
    low, high = axes.get_ylim()
    courses = [_courses(exhibit, line) for line in shown]
    ends = [next((c[1][-1] for c in reversed(course) if c[1].size), np.nan) for course in courses]
    drawn = [k for k, end in enumerate(ends) if np.isfinite(end)]
    gap = 0.16 * (_HIGHEST - _LOWEST) / _TALL_IN
    heights = spaced_apart([float(ends[k]) for k in drawn], gap=gap, low=_LOWEST, high=_HIGHEST - gap / 2)
    side = axes.get_yaxis_transform()
    for k, height in zip(drawn, heights, strict=True):
        look = _line_style(k)
        _draw_course(axes, courses[k], look, gid=f"partial-{shown[k].n}", first=k)
        axes.plot([1.0, 1.025], [ends[k], height], transform=side, clip_on=False, color=SOFT, linewidth=0.6)
        axes.plot([1.03, 1.1], [height] * 2, transform=side, clip_on=False, markevery=[1], **look)
        axes.text(1.125, height, f"partial {shown[k].n}", transform=side, va="center", fontsize=8.5)
    left_out = len(exhibit.lines) - len(shown)
    if left_out:
        axes.text(1.03, low, f"{left_out} more, not drawn", transform=side, va="bottom", fontsize=8)
    axes.set_ylim(low, high)


def _line_style(k: int) -> dict[str, Any]:
    colour = DARK if k % 2 == 0 else SECOND
    return {
        "color": colour,
        "linestyle": DASHES[k % len(DASHES)],
        "linewidth": 1.1,
        "marker": MARKERS[k % len(MARKERS)],
        "markersize": 4.5,
        "markerfacecolor": colour if k % 2 == 0 else "white",
    }


def _courses(exhibit: SwitchExhibit, line: PhaseLine) -> list[tuple[Array, Array]]:
    """Time and phase of one partial on each stretch, where measured, close to its mean there."""
    found = []
    for _, start, stop in exhibit.stretches or (("", *_span(exhibit)),):
        here = (exhibit.time_s >= start) & (exhibit.time_s <= stop) & np.isfinite(line.turns)
        time, turns = exhibit.time_s[here], line.turns[here]
        if turns.size:
            mean = float(np.angle(np.mean(np.exp(2j * np.pi * turns)))) / (2 * np.pi)
            mean += 1.0 if mean < _TURNED_FROM else 0.0
            turns = mean + (turns - mean + 0.5) % 1.0 - 0.5
            turns = np.where(turns > _HIGHEST, turns - 1.0, np.where(turns < _LOWEST, turns + 1.0, turns))
        every = -(-turns.size * max(1, len(exhibit.stretches)) // MOST_POINTS_A_LINE) or 1
        found.append((time[::every], turns[::every]))
    return found


def _draw_course(
    axes: Axes, course: list[tuple[Array, Array]], look: dict[str, Any], *, gid: str, first: int
) -> None:
    """Each stretch as a line; over a step only a thin dotted one, because nothing was measured there."""
    for k, (time, turns) in enumerate(course):
        every: int | tuple[int, int] = 1
        if time.size > _FEW:
            every = (first * time.size // 40, max(1, time.size // 5))
        wraps = np.flatnonzero(np.abs(np.diff(turns)) > _HALF_TURN) + 1
        axes.plot(
            np.insert(time, wraps, np.nan),
            np.insert(turns, wraps, np.nan),
            markevery=every,
            gid=f"{gid}-stretch-{k + 1}",
            zorder=3,
            **look,
        )
    filled = [c for c in course if c[0].size]
    for before, after in pairwise(filled):
        axes.plot(
            [before[0][-1], after[0][0]],
            [before[1][-1], after[1][0]],
            color=look["color"],
            linewidth=0.8,
            linestyle=":",
            zorder=2,
        )


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
