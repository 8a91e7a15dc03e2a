"""The look of all drawings, and the drawings of a pair: each the text of one SVG.

Of a pair: takes over each other (ms), log-odds (base 10) by method.
Figures are 7 inches wide. Text stays text, so that any script renders and can be read aloud; it is never
taken for mathematics. Nothing is told by colour alone: line styles, marker shapes and labels carry it.
``key`` prefixes every id, so that several drawings can stand in one page; the same input gives the same
bytes. Importing this loads matplotlib.
"""

from __future__ import annotations

import io
import re
import unicodedata
import warnings
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from numpy.typing import NDArray

from dsp.methods.curves import PairExhibit, Trace
from reports.messages import wording as words
from reports.model.verdict import PairVerdict, threshold

Array = NDArray[np.float64]

MOST_POINTS = 800
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "<", ">", "p", "h", "*")
DARK, SECOND, SOFT = "#111111", "#8a3b12", "#5a5a5a"
"""Ink of what is first, of what is second, and of guides."""
SHADE, FILL = "#dcdcdc", "#9a9a9a"
"""Grey behind curves (a stretch, a take, noise), and inside an envelope."""
DASHES: tuple[Any, ...] = ("-", (0, (4, 1.6)), (0, (1.2, 1.2)), (0, (6, 1.4, 1.2, 1.4)))
"""Line styles in the order in which curves take them."""
WIDTH_IN = 7.0
LONGEST_NAME = 20
_LETTER = 0.58

_STYLE: dict[Any, Any] = {
    "svg.hashsalt": "coilwise",
    "svg.fonttype": "none",
    "text.parse_math": False,
    "font.family": "sans-serif",
    "font.size": 9.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.8,
    "path.simplify": True,
}
_SVG = "http://www.w3.org/2000/svg"
_XLINK = "http://www.w3.org/1999/xlink"


def decimated(x: Array, y: Array, *, most: int = MOST_POINTS) -> tuple[Array, Array]:
    """At most ``most`` points of a curve of the shape (samples,), with the extremes of each stretch kept."""
    if y.size <= most:
        return x, y
    edges = np.linspace(0, y.size, most // 2 + 1).astype(int)
    kept: list[int] = []
    for start, stop in pairwise(edges):
        part = y[start:stop]
        kept.extend(sorted({start + int(np.argmin(part)), start + int(np.argmax(part))}))
    return x[kept], y[kept]


def shortened(name: str, *, longest: int = LONGEST_NAME) -> str:
    """Typed name in one line of at most ``longest`` characters."""
    clean = words.plain(name)
    return clean if len(clean) <= longest else clean[: longest - 1] + "…"


def text_width_in(text: str, *, size: float) -> float:
    """About how many inches a text of ``size`` points takes, on the careful side."""
    letters = sum(2 if unicodedata.east_asian_width(c) in {"W", "F"} else 1 for c in text)
    return letters * _LETTER * size / 72


def label_rows(labels: Sequence[tuple[float, float]], *, gap: float = 0.08) -> list[int]:
    """Row of each label, given as (centre, width) from left to right, so that none meets another."""
    ends: list[float] = []
    rows = []
    for centre, width in labels:
        left = centre - width / 2
        row = next((k for k, end in enumerate(ends) if left >= end + gap), len(ends))
        ends[row : row + 1] = [centre + width / 2]
        rows.append(row)
    return rows


def spaced_apart(wished: Sequence[float], *, gap: float, low: float = 0.0, high: float = 1.0) -> list[float]:
    """Heights close to the wished ones, in their order, at least ``gap`` apart where there is room."""
    count = len(wished)
    gap = min(gap, (high - low) / max(1, count - 1))
    order = sorted(range(count), key=lambda k: wished[k])
    placed = [0.0] * count
    floor = low
    for rank, k in enumerate(order):
        placed[k] = min(max(wished[k], floor), high - gap * (count - 1 - rank))
        floor = placed[k] + gap
    return placed


def as_svg(draw: Callable[[Figure], None], *, height: float, key: str, title: str, told: str) -> str:
    """Drawing as SVG text, with a title and a description for those who hear it read."""
    buffer = io.StringIO()
    with mpl.rc_context(_STYLE), warnings.catch_warnings():
        # The reader's own fonts draw what the measuring font lacks.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        figure = Figure(figsize=(WIDTH_IN, height), facecolor="none")
        FigureCanvasSVG(figure)
        draw(figure)
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None})
    return _finished(buffer.getvalue(), key=key, title=title, told=told)


def _finished(svg: str, *, key: str, title: str, told: str) -> str:
    ElementTree.register_namespace("", _SVG)
    ElementTree.register_namespace("xlink", _XLINK)
    root = ElementTree.fromstring(svg)
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in {f"{{{_SVG}}}metadata", f"{{{_SVG}}}style"}:
                parent.remove(child)
    for node in root.iter():
        for name, value in node.attrib.items():
            node.set(name, _own_id(name, value, key))
    for name in ("width", "height"):
        root.attrib.pop(name, None)
    root.set("role", "img")
    root.set("aria-labelledby", f"{key}-title {key}-told")
    root.set("style", "stroke-linejoin: round; stroke-linecap: butt")
    for place, (tag, text) in enumerate((("title", title), ("desc", told))):
        node = ElementTree.Element(f"{{{_SVG}}}{tag}", {"id": f"{key}-{'told' if place else 'title'}"})
        node.text = text
        root.insert(place, node)
    return ElementTree.tostring(root, encoding="unicode")


def _own_id(name: str, value: str, key: str) -> str:
    if name == "id":
        return f"{key}-{value}"
    if name == f"{{{_XLINK}}}href":
        return value.replace("#", f"#{key}-", 1)
    if name == "d":
        return re.sub(r"\d+\.\d{3,}", lambda number: f"{float(number[0]):.2f}", " ".join(value.split()))
    return value.replace("url(#", f"url(#{key}-")


MOST_TRACES = 8

_DECADES = 3.3


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
    time, values = decimated(exhibit.time_ms, trace.values)
    every = max(1, time.size // 9)
    look: dict[str, Any] = {
        "color": DARK if first else SECOND,
        "linestyle": DASHES[0 if first else 1],
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
    return f"{sign} {shortened(trace.pickup, longest=14)}, {shortened(trace.take, longest=7)}"


def belief_figure(pair: PairVerdict, *, methods: Sequence[str] = (), key: str = "belief") -> str:
    """Belief by method between "out of phase" and "in phase", over bands for each standing.

    ``methods``: all methods of the report, in order, so that one method has one marker throughout.
    """
    known = list(dict.fromkeys([*methods, *(b.method for b in pair.by)]))
    rows = [("all together", pair.p_in_phase, "*")]
    rows += [
        (words.method_short(b, shortened(b.method)), b.p_in_phase, MARKERS[known.index(b.method) % 11])
        for b in pair.by
    ]
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
    likely, settled = _log_odds(threshold("likely")), _log_odds(threshold("settled"))
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
    sure, fair = words.threshold_label("settled"), words.threshold_label("likely")
    ticks = {-settled: sure, -likely: fair, 0.0: "even", likely: fair, settled: sure}
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
