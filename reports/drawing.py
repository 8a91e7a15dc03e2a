"""How every drawing of a report is made: one look, one SVG text, the same bytes for the same input.

Task: style, names made short, curves made thin, and the way from a figure to the text of one SVG. Units:
figures in inches, 7 wide. Text stays text, so that any script renders and can be read aloud; it is never
taken for mathematics. ``key`` prefixes every id of a drawing, so that several can stand in one page.
Importing this module imports matplotlib.
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
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from numpy.typing import NDArray

from reports import words

Array = NDArray[np.float64]

MOST_POINTS = 800
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "<", ">", "p", "h", "*")
DARK, SECOND, SOFT = "#111111", "#8a3b12", "#5a5a5a"
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


def thinned(x: Array, y: Array, *, most: int = MOST_POINTS) -> tuple[Array, Array]:
    """At most ``most`` points of a curve of the shape (samples,), with the extremes of each stretch kept."""
    if y.size <= most:
        return x, y
    edges = np.linspace(0, y.size, most // 2 + 1).astype(int)
    kept: list[int] = []
    for start, stop in pairwise(edges):
        part = y[start:stop]
        kept.extend(sorted({start + int(np.argmin(part)), start + int(np.argmax(part))}))
    return x[kept], y[kept]


def short(name: str, *, longest: int = LONGEST_NAME) -> str:
    """Typed name in one line of at most ``longest`` characters."""
    clean = words.plain(name)
    return clean if len(clean) <= longest else clean[: longest - 1] + "…"


def wide(text: str, *, size: float) -> float:
    """About how many inches a text of ``size`` points takes, on the careful side."""
    letters = sum(2 if unicodedata.east_asian_width(c) in {"W", "F"} else 1 for c in text)
    return letters * _LETTER * size / 72


def rows_of(labels: Sequence[tuple[float, float]], *, gap: float = 0.08) -> list[int]:
    """Row of each label, given as (centre, width) from left to right, so that none meets another."""
    ends: list[float] = []
    rows = []
    for centre, width in labels:
        left = centre - width / 2
        row = next((k for k, end in enumerate(ends) if left >= end + gap), len(ends))
        ends[row : row + 1] = [centre + width / 2]
        rows.append(row)
    return rows


def spread(wished: Sequence[float], *, gap: float, low: float = 0.0, high: float = 1.0) -> list[float]:
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
