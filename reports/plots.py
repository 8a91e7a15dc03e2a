"""What a pair looks like: three drawings, each returned as the text of one SVG.

Task: aligned takes over each other, signed correlation against lag, belief by method. Units: ms, and
log-odds (base 10) for belief. Signs: as in dsp/exhibits.py. Nothing is told by colour alone: line styles,
marker shapes and labels carry it. How a drawing is made, and what ``key`` is: reports/drawing.py. Importing
this module imports matplotlib.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from dsp.exhibits import PairExhibit, Trace
from reports import words
from reports.drawing import DARK, MARKERS, SECOND, SOFT, as_svg, short, thinned
from reports.verdict import LIKELY_FROM, SETTLED_FROM, PairVerdict

MOST_TRACES = 8

_DECADES = 3.3
_NEAR_EDGE = 0.3


def traces_figure(exhibit: PairExhibit, *, key: str = "traces") -> str:
    """Aligned takes drawn over each other, each labelled at its end with its sign."""
    shown = exhibit.traces[:MOST_TRACES]
    signs = "; ".join(_trace_label(t) for t in shown) or words.NO_EVIDENCE
    title = f"{words.plain(exhibit.a)} and {words.plain(exhibit.b)}: takes over each other"

    def draw(figure: Figure) -> None:
        axes = figure.add_axes((0.12, 0.22, 0.57, 0.72))
        axes.axhline(0.0, color=SOFT, linewidth=0.6)
        for k, trace in enumerate(shown):
            _draw_trace(axes, exhibit, trace, place=k, of=len(shown))
        axes.set_ylim(-1.15, 1.15)
        axes.set_xlabel("time (ms)")
        axes.set_ylabel("signal, largest = 1")
        left_out = len(exhibit.traces) - len(shown)
        if left_out:
            axes.text(1.03, -0.12, f"and {left_out} more, not drawn", transform=axes.transAxes, fontsize=8)

    return as_svg(draw, height=2.1, key=key, title=title, told=f"Signs: {signs}.")


def _draw_trace(axes: Axes, exhibit: PairExhibit, trace: Trace, *, place: int, of: int) -> None:
    first = trace.pickup == exhibit.a
    time, values = thinned(exhibit.time_ms, trace.values)
    every = max(1, time.size // 9)
    look: dict[str, Any] = {
        "color": DARK if first else SECOND,
        "linestyle": "-" if first else (0, (4, 1.6)),
        "linewidth": 1.2,
        "marker": MARKERS[place % len(MARKERS)],
        "markersize": 4.5,
        "markerfacecolor": DARK if first else "white",
    }
    gid = f"trace-{place + 1}"
    axes.plot(time, values, markevery=(every * (place + 1) // (of + 1), every), gid=gid, **look)
    height = 0.5 if of == 1 else 0.97 - 0.94 * place / (of - 1)
    axes.plot([1.03, 1.11], [height] * 2, transform=axes.transAxes, clip_on=False, markevery=[1], **look)
    axes.text(1.14, height, _trace_label(trace), transform=axes.transAxes, va="center", fontsize=8.5)


def _trace_label(trace: Trace) -> str:
    sign = "+" if trace.sign > 0 else "−"
    return f"{sign} {short(trace.pickup, longest=14)}, {short(trace.take, longest=7)}"


def correlation_figure(exhibit: PairExhibit, *, key: str = "correlation") -> str:
    """Signed correlation against lag, with the best peak of either sign marked and labelled."""
    peaks = (
        (words.SAME_SIGN_PEAK, exhibit.best_positive, "^", 1.0),
        (words.OPPOSED_PEAK, exhibit.best_negative, "v", -1.0),
    )
    told = "; ".join(_peak_label(name, peak) for name, peak, _, _ in peaks)

    def draw(figure: Figure) -> None:
        axes = figure.add_axes((0.12, 0.22, 0.85, 0.74))
        lags, curve = thinned(exhibit.lags_ms, exhibit.correlation)
        axes.axhline(0.0, color=SOFT, linewidth=0.6)
        axes.plot(lags, curve, color=DARK, linewidth=1.0, gid="curve")
        values = [abs(peak[1]) for _, peak, _, _ in peaks if peak]
        top = max([1e-3, *np.abs(curve).tolist(), *values])
        axes.set_ylim(-1.5 * top, 1.5 * top)
        for name, peak, marker, side in peaks:
            _draw_peak(axes, name, peak, marker=marker, height=1.32 * top * side)
        axes.set_xlabel("lag (ms)")
        axes.set_ylabel("opposed  ←  0  →  same sign")

    title = f"{words.plain(exhibit.a)} and {words.plain(exhibit.b)}: signed correlation against lag"
    return as_svg(draw, height=2.1, key=key, title=title, told=told)


def _draw_peak(
    axes: Axes, name: str, peak: tuple[float, float] | None, *, marker: str, height: float
) -> None:
    label = _peak_label(name, peak)
    if peak is None:
        axes.text(0.5, height, label, transform=axes.get_yaxis_transform(), ha="center", va="center")
        return
    lag, value = peak
    axes.plot([lag, lag], [value, height * 0.94], color=SOFT, linewidth=0.7, linestyle=":")
    gid = name.replace(" ", "-")
    axes.plot(
        [lag], [value], marker=marker, markersize=9, color="white", markeredgecolor=DARK, gid=gid, zorder=4
    )
    low, high = axes.get_xlim()
    where = (lag - low) / (high - low)
    side = "left" if where < _NEAR_EDGE else "right" if where > 1 - _NEAR_EDGE else "center"
    axes.text(lag, height, label, ha=side, va="center")


def _peak_label(name: str, peak: tuple[float, float] | None) -> str:
    if peak is None:
        return f"{name}: none"
    return f"{name} {_signed(peak[1], 2)} at {_signed(peak[0], 2)} ms"


def _signed(value: float, digits: int) -> str:
    return f"{value:+.{digits}f}".replace("-", "−")


def belief_figure(pair: PairVerdict, *, methods: Sequence[str] = (), key: str = "belief") -> str:
    """Belief by method between "out of phase" and "in phase", over bands for each standing.

    ``methods``: all methods of the report, in order, so that one method has one marker throughout.
    """
    known = list(dict.fromkeys([*methods, *(b.method for b in pair.by)]))
    rows = [("all together", pair.p_in_phase, "*")]
    rows += [(short(b.method), b.p_in_phase, MARKERS[known.index(b.method) % 11]) for b in pair.by]
    told = "; ".join(f"{name}: {words.leaning(p)}" for name, p, _ in rows)

    def draw(figure: Figure) -> None:
        tall = figure.get_figheight()
        axes = figure.add_axes((0.22, 0.52 / tall, 0.44, 1 - 0.82 / tall))
        figure.text(0.22, 0.06 / tall, f"← {words.OUT_OF_PHASE}")
        figure.text(0.66, 0.06 / tall, f"{words.IN_PHASE} →", ha="right")
        _draw_bands(axes)
        for k, (name, p, marker) in enumerate(rows):
            _draw_belief(axes, name, p, row=k, marker=marker)
        axes.set_ylim(len(rows) - 0.4, -0.6)

    title = f"{words.pair_name(pair)}: belief by method"
    return as_svg(draw, height=1.05 + 0.21 * len(rows), key=key, title=title, told=told)


def _draw_bands(axes: Axes) -> None:
    likely, settled = _log_odds(LIKELY_FROM), _log_odds(SETTLED_FROM)
    edges = (-_DECADES, -settled, -likely, likely, settled, _DECADES)
    names = ("settled", "likely", "unsettled", "likely", "settled")
    for (left, right), name in zip(pairwise(edges), names, strict=True):
        shade = {"settled": "#d2d2d2", "likely": "#ececec", "unsettled": "#ffffff"}[name]
        axes.axvspan(left, right, color=shade, linewidth=0, zorder=0)
        axes.text(
            (left + right) / 2, 1.02, name, transform=axes.get_xaxis_transform(), ha="center", fontsize=8
        )
    for edge in edges[1:-1]:
        axes.axvline(edge, color=SOFT, linewidth=0.8, linestyle="--", zorder=1)
    axes.axvline(0.0, color=SOFT, linewidth=0.6, zorder=1)
    axes.set_xlim(-_DECADES, _DECADES)
    ticks = {-settled: "99 %", -likely: "90 %", 0.0: "even", likely: "90 %", settled: "99 %"}
    axes.set_xticks(list(ticks), list(ticks.values()), fontsize=8)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)


def _draw_belief(axes: Axes, name: str, p: float | None, *, row: int, marker: str) -> None:
    side = axes.get_yaxis_transform()
    heavy = "bold" if row == 0 else "normal"
    axes.text(-0.02, row, name, transform=side, ha="right", va="center", weight=heavy, fontsize=8.5)
    axes.text(1.02, row, words.leaning(p), transform=side, ha="left", va="center", fontsize=8.5)
    if p is None:
        return
    x = float(np.clip(_log_odds(p), -_DECADES + 0.1, _DECADES - 0.1))
    axes.plot([0.0, x], [row, row], color=DARK, linewidth=1.6 if row == 0 else 0.8, zorder=2)
    filled = DARK if row == 0 else "white"
    axes.plot(
        [x],
        [row],
        marker=marker,
        markersize=11 if row == 0 else 7,
        color=filled,
        markeredgecolor=DARK,
        zorder=3,
        gid=f"belief-{row}",
    )


def _log_odds(p: float) -> float:
    careful = min(max(p, 1e-9), 1 - 1e-9)
    return float(np.log10(careful / (1 - careful)))
