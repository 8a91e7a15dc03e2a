"""What a string tells while the selector goes from setting to setting: one drawing, the text of one SVG.

Task: the phase of each partial against time, with the steps of the selector. Units: s, turns. Signs: as in
dsp/exhibits.py: no turn is the same sign, half a turn is opposed, places taken into account. A phase is
known up to whole turns only: on each stretch it is drawn close to its mean there, and half a turn either
way stands at the top. Nothing is told by colour alone. Importing this module imports matplotlib.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from dsp.exhibits import PhaseLine, SwitchExhibit
from reports import jack_words, words
from reports.drawing import (
    DARK,
    MARKERS,
    SECOND,
    SOFT,
    WIDTH_IN,
    Array,
    as_svg,
    rows_of,
    short,
    spread,
    wide,
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
_DASHES: tuple[Any, ...] = ("-", (0, (5, 1.6)), (0, (1.2, 1.2)), (0, (6, 1.4, 1.2, 1.4)))
_STEP_SIZE, _NAME_SIZE = 10.0, 8.5
_FEW = 12
_HALF_TURN = 0.5

Span = tuple[float, float]


def switch_figure(exhibit: SwitchExhibit, *, key: str = "switch") -> str:
    """Phase of each partial against time, the selector's steps marked with what they tell."""
    shown = exhibit.lines[:MOST_LINES]
    told = [
        f"{where}: {jack_words.STEPS[step]}"
        for where, step in zip(_steps(exhibit), _told(exhibit), strict=True)
    ]
    notes = _notes(exhibit)
    across = WIDTH_IN * _ACROSS
    span = _span(exhibit)
    names = [(short(name), (start + stop) / 2) for name, start, stop in exhibit.stretches]
    name_rows = _rows(names, span, across, size=_NAME_SIZE)
    labels = [
        (jack_words.STEPS[step], sum(gap) / 2)
        for step, gap in zip(_told(exhibit), _gaps(exhibit), strict=True)
    ]
    label_rows = _rows(labels, span, across, size=_STEP_SIZE)
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
            x = _kept_in(at, span, across, label, size=_STEP_SIZE)
            _draw_step(axes, x, low, label, gid=f"step-{k + 1}")
        for (name, at), row, stretch in zip(names, name_rows, exhibit.stretches, strict=True):
            x = _kept_in(at, span, across, name, size=_NAME_SIZE)
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


def _told(exhibit: SwitchExhibit) -> list[int]:
    """What each step tells; 0 where the exhibit says nothing of it."""
    return [exhibit.steps[k] if k < len(exhibit.steps) else 0 for k in range(len(_gaps(exhibit)))]


def _steps(exhibit: SwitchExhibit) -> list[str]:
    return [f"{words.plain(a[0])} to {words.plain(b[0])}" for a, b in pairwise(exhibit.stretches)]


def _notes(exhibit: SwitchExhibit) -> list[str]:
    """One line for each step at which the places turn partials by themselves."""
    said = []
    for k, (before, after) in enumerate(pairwise(exhibit.stretches)):
        turned = [line.n for line in exhibit.lines if k < len(line.place_signs) and line.place_signs[k] < 0]
        if turned:
            said.append(f"{short(before[0])} to {short(after[0])}: {jack_words.turned_by_place(turned)}")
    return said


def _rows(labels: list[tuple[str, float]], span: Span, across: float, *, size: float) -> list[int]:
    """Rows of labels that stand centred at their moments, kept inside the drawing."""
    scale = across / (span[1] - span[0])
    return rows_of(
        [
            ((_kept_in(at, span, across, text, size=size) - span[0]) * scale, wide(text, size=size))
            for text, at in labels
        ]
    )


def _kept_in(at: float, span: Span, across: float, text: str, *, size: float) -> float:
    half = 0.5 * wide(text, size=size) * (span[1] - span[0]) / across
    return max(min(at, span[1] - half), span[0] + half)


def _draw_guides(axes: Axes) -> None:
    for turn in (-_HALF_TURN, 0.0, _HALF_TURN):
        axes.axhline(turn, color=SOFT, linewidth=0.6, linestyle="-" if turn == 0 else (0, (6, 3)), zorder=1)
    axes.set_yticks([-_HALF_TURN, 0.0, _HALF_TURN], ["−1/2", "0", "1/2"])


def _draw_band(axes: Axes, gap: Span, *, low: float) -> None:
    """The time in which the selector moved, from the names down to what the step tells."""
    axes.fill_between(gap, low, _HIGHEST, color="#dcdcdc", linewidth=0, zorder=0)
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
    heights = spread([float(ends[k]) for k in drawn], gap=gap, low=_LOWEST, high=_HIGHEST - gap / 2)
    side = axes.get_yaxis_transform()
    for k, height in zip(drawn, heights, strict=True):
        look = _look(k)
        _draw_course(axes, courses[k], look, gid=f"partial-{shown[k].n}", first=k)
        axes.plot([1.0, 1.025], [ends[k], height], transform=side, clip_on=False, color=SOFT, linewidth=0.6)
        axes.plot([1.03, 1.1], [height] * 2, transform=side, clip_on=False, markevery=[1], **look)
        axes.text(1.125, height, f"partial {shown[k].n}", transform=side, va="center", fontsize=8.5)
    left_out = len(exhibit.lines) - len(shown)
    if left_out:
        axes.text(1.03, low, f"{left_out} more, not drawn", transform=side, va="bottom", fontsize=8)
    axes.set_ylim(low, high)


def _look(k: int) -> dict[str, Any]:
    colour = DARK if k % 2 == 0 else SECOND
    return {
        "color": colour,
        "linestyle": _DASHES[k % len(_DASHES)],
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
