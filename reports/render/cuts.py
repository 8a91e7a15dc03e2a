"""Where imported recordings are cut: one drawing, the text of one SVG.

In: each recording with its envelope (`Strip`) and its onsets (`Mark`), in seconds from its beginning and dB
re full scale. Drawn is the envelope against time, each take as a framed stretch with the number of its
onset and what it was taken for, and the onsets that are no takes. Stretches in which nothing begins are not
drawn; long recordings take several rows. Takes are shaded, with a solid line and a triangle at the onset;
what is no take has a cross on a dotted line. Importing this loads matplotlib.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from dsp.live.onset_stream import Envelope
from reports.messages import wording as words
from reports.render.figures import (
    DARK,
    FILL,
    SECOND,
    SHADE,
    SOFT,
    WIDTH_IN,
    Array,
    as_svg,
    decimated,
    label_rows,
    shortened,
    text_width_in,
)
from reports.render.tables import cut_label

if TYPE_CHECKING:
    from capture.takes.imported import Cut, NumberedOnset


MOST_MARKS = 10
"""Onsets in a row of the drawing, so that their names can be read in print."""
LONGEST_GAP_S = 20.0
"""A longer stretch in which nothing begins ends a row."""
MOST_ROWS = 60
FLOOR_DB = -70.0
BEYOND_S = 0.6
NO_TAKE_S = 1.0
"""Drawn around an onset that is no take."""

_LEFT, _ACROSS = 0.09, 0.89
_CURVE_IN, _LABEL_IN, _AXIS_IN = 0.62, 0.15, 0.42
_SIZE = 7.5


@dataclass(frozen=True)
class Mark:
    """An onset: its number, its second, what it was taken for, and the seconds of its take, if it is one."""

    number: int
    at_s: float
    take_s: tuple[float, float] | None
    taken_for: str


@dataclass(frozen=True, eq=False)
class Strip:
    """A recording: its name, its length, its envelope and its onsets in order."""

    name: str
    seconds: float
    envelope: Envelope
    marks: tuple[Mark, ...]


@dataclass(frozen=True, eq=False)
class _Row:
    strip: Strip
    marks: tuple[Mark, ...]
    span: tuple[float, float]
    label_at_s: tuple[float, ...]
    label_rows: tuple[int, ...]

    @property
    def label_in(self) -> float:
        return _LABEL_IN * (1 + max(self.label_rows))

    @property
    def height(self) -> float:
        return _CURVE_IN + self.label_in + _AXIS_IN


def bring_figure(strips: tuple[Strip, ...], *, key: str = "cuts") -> str:
    """Recordings with their cuts, one below the other."""
    rows = [row for strip in strips for row in _rows(strip)]
    drawn = rows[:MOST_ROWS]
    more = sum(len(row.marks) for row in rows[MOST_ROWS:])
    note = f"and {more} more onsets, not drawn" if more else ""
    takes = [m for s in strips for m in s.marks if m.take_s is not None]
    rest = sum(len(s.marks) for s in strips) - len(takes)
    told = (
        "; ".join(f"{m.number} {words.plain(m.taken_for)} at {m.at_s:.2f} s" for m in takes)
        or words.NO_EVIDENCE
    )
    told += f"; {rest} onsets that are no takes." if rest else "."
    names = words.plain(strips[0].name) if len(strips) == 1 else f"{len(strips)} recordings"
    height = sum(row.height for row in drawn) + (_LABEL_IN if note else 0.0)

    def draw(figure: Figure) -> None:
        top = height
        for place, row in enumerate(drawn):
            base = top - row.height + _AXIS_IN
            axes = figure.add_axes((_LEFT, base / height, _ACROSS, _CURVE_IN / height))
            _draw_row(axes, row, place=place)
            top -= row.height
        if note:
            figure.text(_LEFT, 0.3 * _LABEL_IN / height, note, fontsize=_SIZE)

    title = f"{names}: where {'it is' if len(strips) == 1 else 'they are'} cut"
    return as_svg(draw, height=height, key=key, title=title, told=told)


def _rows(strip: Strip) -> list[_Row]:
    """Onsets that lie together in one row, and so many that their names can be read."""
    groups: list[list[Mark]] = []
    for mark in strip.marks:
        together = groups and mark.at_s - groups[-1][-1].at_s < LONGEST_GAP_S
        if together and len(groups[-1]) < MOST_MARKS:
            groups[-1].append(mark)
        else:
            groups.append([mark])
    return [_row(strip, tuple(group)) for group in groups]


def _row(strip: Strip, marks: tuple[Mark, ...]) -> _Row:
    ends = [m.take_s or (m.at_s - NO_TAKE_S, m.at_s + NO_TAKE_S) for m in marks]
    low = max(0.0, min(start for start, _ in ends) - BEYOND_S)
    high = min(strip.seconds, max(stop for _, stop in ends) + BEYOND_S)
    per_s = WIDTH_IN * _ACROSS / (high - low)
    widths = [text_width_in(_label(mark), size=_SIZE) for mark in marks]
    lefts = [
        min((mark.at_s - low) * per_s, WIDTH_IN * _ACROSS - width)
        for mark, width in zip(marks, widths, strict=True)
    ]
    lines = label_rows([(left + width / 2, width) for left, width in zip(lefts, widths, strict=True)])
    return _Row(strip, marks, (low, high), tuple(low + left / per_s for left in lefts), tuple(lines))


def _label(mark: Mark) -> str:
    return f"{mark.number} {shortened(mark.taken_for, longest=26)}"


def _draw_row(axes: Axes, row: _Row, *, place: int) -> None:
    low, high = row.span
    seconds, levels = _curve(row.strip.envelope, low, high)
    axes.set_xlim(low, high)
    axes.set_ylim(FLOOR_DB, 0.0)
    for mark in row.marks:
        _draw_mark(axes, mark, place=place)
    axes.fill_between(seconds, FLOOR_DB, levels, color=FILL, linewidth=0, zorder=2)
    axes.plot(seconds, levels, color=DARK, linewidth=0.7, zorder=3, gid=f"envelope-{place + 1}")
    side = axes.get_xaxis_transform()
    for mark, left, line in zip(row.marks, row.label_at_s, row.label_rows, strict=True):
        height = 1 + (line + 0.45) * _LABEL_IN / _CURVE_IN
        axes.plot(
            [mark.at_s] * 2, [1.0, height], transform=side, clip_on=False, color=SOFT, linewidth=0.5, zorder=1
        )
        axes.text(
            left, height, _label(mark), transform=side, ha="left", va="center", fontsize=_SIZE,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
        )  # fmt: skip
    axes.set_yticks([-60, -30, 0])
    axes.tick_params(labelsize=_SIZE)
    axes.set_ylabel("peak dB", fontsize=_SIZE)
    name = shortened(row.strip.name, longest=44)
    axes.set_xlabel(f"{name}, time (s)", fontsize=_SIZE, labelpad=1.0)


def _curve(envelope: Envelope, low: float, high: float) -> tuple[Array, Array]:
    """The loudest channel's envelope between two seconds, in dB."""
    first, last = int(low / envelope.bin_s), int(np.ceil(high / envelope.bin_s)) + 1
    peaks: Array = envelope.peaks[first:last].max(axis=1).astype(np.float64)
    seconds: Array = (first + np.arange(len(peaks), dtype=np.float64) + 0.5) * envelope.bin_s
    levels: Array = 20 * np.log10(np.maximum(peaks, 10 ** (FLOOR_DB / 20)))
    return decimated(seconds, levels)


def _draw_mark(axes: Axes, mark: Mark, *, place: int) -> None:
    if mark.take_s is None:
        axes.axvline(mark.at_s, color=SECOND, linewidth=0.9, linestyle=":", zorder=4)
        axes.plot(
            [mark.at_s],
            [-5.0],
            marker="x",
            markersize=5,
            color=SECOND,
            zorder=5,
            gid=f"no-take-{mark.number}",
        )
        return
    start, stop = mark.take_s
    axes.axvspan(start, stop, facecolor=SHADE, edgecolor="none", zorder=0, gid=f"take-{mark.number}")
    for edge in (start, stop):
        axes.axvline(edge, color=SOFT, linewidth=0.8, linestyle="--", zorder=4)
    axes.axvline(mark.at_s, color=DARK, linewidth=0.9, zorder=4)
    axes.plot([mark.at_s], [-5.0], marker="v", markersize=5, color=DARK, zorder=5, gid=f"onset-{mark.number}")


def cuts_picture(onsets: Sequence[NumberedOnset], cuts: Sequence[Cut]) -> str:
    """Return the recordings with their cuts, drawn: the text of an SVG. It takes a second."""
    by_number = {c.onset.number: c for c in cuts}
    strips = []
    for file in dict.fromkeys(o.file for o in onsets):
        rate = file.header.rate
        marks = tuple(
            Mark(
                o.number,
                o.at_s,
                (c.start / rate, c.stop / rate) if (c := by_number.get(o.number)) else None,
                cut_label(o, by_number.get(o.number)),
            )
            for o in onsets
            if o.file is file
        )
        strips.append(Strip(file.path.name, file.seconds, file.envelope, marks))
    return bring_figure(tuple(strips))
