"""The report as one PDF, on A4 or Letter: one side for the guitar, the bench sheet behind.

In: both sheets as the page has them (`FrontSheet`, sections of blocks); out: the bytes of the file, the same
for the same input. Drawings go in as lines and text. Lengths are millimetres, type is in points. The letters
are those that come with matplotlib, so that any machine prints the same; one that they lack is an empty box.
Importing this loads fpdf.
"""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

from fpdf import FPDF, FontFace
from fpdf.enums import TableBordersLayout, TableCellFillMode

from dsp import CoilwiseError
from reports.messages import sheets
from reports.messages import wording as words
from reports.render.blocks import (
    Block,
    Drawing,
    Drawings,
    Items,
    Labelled,
    Paper,
    Paragraph,
    Section,
    TableBlock,
)
from reports.render.front import FrontSheet
from reports.render.layout import Grid

MARGIN_X, MARGIN_Y = 14.0, 12.0
LETTERS = "sheet"
"""What the letters are called in the file."""
TITLE, HEADLINE, HEAD, BODY, SMALL = 15.0, 14.0, 11.0, 9.5, 8.0
WORK = 10.0
LEADING = 1.28
"""Lines stand so many times the size of the type apart."""
MM_A_POINT = 25.4 / 72
INDENT = 4.0
GAP = 2.2
SIGN_MM = 13.0
LEAST_DRAWING_MM = 40.0
HEAD_MM, LEAST_MM = 8.0, 16.0
"""A heading, and so much of what stands under it on the same page."""
GREY, INK, PAPER = 70, 17, 255
_VIEW_BOX = re.compile(r'viewBox="\S+ \S+ (\S+) (\S+)"')
_UNUSED = re.compile(r'<title[^>]*>.*?</title>|<desc[^>]*>.*?</desc>| clip-path="[^"]*"', re.DOTALL)
_FAMILY = re.compile(r"""font-family: [^;"]*|font-family="[^"]*\"""")
_PAGE_COLOUR = re.compile(r"var\(--\w+, (#\w+)\)")


class NoRoomError(CoilwiseError):
    """The words of the first sheet take more than one side."""


class _Pages(FPDF):
    """A file of pages with the number of each at its foot."""

    def footer(self) -> None:
        """Number the page."""
        self.set_y(-9.0)
        self.set_font(LETTERS, size=SMALL)
        self.set_text_color(GREY)
        self.cell(0, 4.0, f"{self.page_no()} / {{nb}}", align="R")
        self.set_text_color(INK)


def as_pdf(front: FrontSheet, behind: Sequence[Section], *, paper: Paper) -> bytes:
    """The file of both sheets."""
    with _quietly():
        pages = _Pages(format=paper, unit="mm")
        pages.set_creation_date(datetime(2000, 1, 1, tzinfo=UTC))
        pages.set_title(words.plain(front.title))
        pages.set_margins(MARGIN_X, MARGIN_Y, MARGIN_X)
        pages.c_margin = 0.0
        pages.set_auto_page_break(True, margin=MARGIN_Y)
        folder = _letters()
        pages.add_font(LETTERS, "", folder / "DejaVuSans.ttf")
        pages.add_font(LETTERS, "B", folder / "DejaVuSans-Bold.ttf")
        pages.set_draw_color(INK)
        pages.set_text_color(INK)
        _front(pages, front)
        _bench(pages, front, behind)
        return bytes(pages.output())


def _letters() -> Path:
    """The folder of the letters: where matplotlib lies, which is not loaded for it; else where it says."""
    found = find_spec("matplotlib")
    data = Path(found.origin).with_name("mpl-data") if found is not None and found.origin else None
    if data is None or not data.is_dir():
        data = Path(import_module("matplotlib").get_data_path())
    return data / "fonts" / "ttf"


@contextmanager
def _quietly() -> Iterator[None]:
    """Without a word of the library about letters it has not and elements it passes over."""
    log = logging.getLogger("fpdf")
    before = log.level
    log.setLevel(logging.ERROR)
    try:
        yield
    finally:
        log.setLevel(before)


def _front(pages: _Pages, front: FrontSheet) -> None:
    """One side: the words take what they need, the drawing what is left."""
    pages.add_page()
    pages.set_auto_page_break(False)
    _write(pages, front.title, size=TITLE, bold=True)
    _write(pages, front.state, size=SMALL + 1, grey=True)
    pages.ln(GAP)
    top = pages.get_y()
    inside = MARGIN_X + 7.0
    pages.set_left_margin(inside)
    pages.set_right_margin(MARGIN_X + 4.0)
    pages.set_xy(inside, top + 2.0)
    _write(pages, front.headline, size=HEADLINE, bold=True)
    pages.ln(1.0)
    for label, sentence in front.said:
        _write(pages, f"**{_marked(label)}:** {_marked(sentence)}", size=WORK, markdown=True)
        pages.ln(0.6)
    bottom = pages.get_y() + 1.5
    pages.set_margins(MARGIN_X, MARGIN_Y, MARGIN_X)
    pages.set_line_width(0.6)
    pages.rect(MARGIN_X, top, pages.epw, bottom - top)
    pages.set_fill_color(INK)
    pages.rect(MARGIN_X, top, 3.0, bottom - top, style="F")
    pages.set_line_width(0.2)
    pages.set_fill_color(PAPER)
    cautions = [f"•  {caution}" for caution in front.cautions]
    below = sum(_height(pages, line, size=SMALL + 0.5) for line in cautions) + SIGN_MM + 2 * GAP + 5.0
    room = pages.h - MARGIN_Y - below - (bottom + GAP)
    pages.set_y(bottom + GAP)
    if room < 0:
        raise NoRoomError(sheets.NO_ROOM)
    if front.drawing and room > LEAST_DRAWING_MM:
        _drawing(pages, front.drawing, most=room)
    pages.set_y(pages.h - MARGIN_Y - below + GAP)
    for line in cautions:
        _write(pages, line, size=SMALL + 0.5)
    wide = pages.epw / len(front.lines_left)
    y = pages.get_y() + SIGN_MM - 3.0
    for k, label in enumerate(front.lines_left):
        pages.set_xy(MARGIN_X + k * wide, y - SIGN_MM + 5.0)
        _write(pages, label, size=SMALL, grey=True, width=wide - 6.0)
        pages.line(MARGIN_X + k * wide, y, MARGIN_X + (k + 1) * wide - 6.0, y)
    pages.set_xy(MARGIN_X, y + 2.0)
    _write(pages, front.foot, size=SMALL, grey=True)


def _bench(pages: _Pages, front: FrontSheet, behind: Sequence[Section]) -> None:
    pages.set_auto_page_break(True, margin=MARGIN_Y)
    pages.add_page()
    _write(pages, f"{sheets.BENCH_SHEET}: {front.title}", size=TITLE, bold=True)
    _write(pages, f"{front.state} {sheets.BENCH_FOR}", size=SMALL + 1, grey=True)
    for section in behind:
        pages.ln(GAP)
        _keep(pages, HEAD_MM + _least(pages, section.blocks[0]))
        _write(pages, section.title, size=HEAD, bold=True)
        pages.ln(0.8)
        for block in section.blocks:
            _block(pages, block)


def _least(pages: _Pages, block: Block) -> float:
    """How much of a block has to stand on the page that its heading stands on."""
    match block:
        case Drawing():
            return _figure_height(pages, block)
        case Drawings(each=each):
            return max(_figure_height(pages, drawing) for drawing in each)
        case _:
            return LEAST_MM


def _block(pages: _Pages, block: Block) -> None:
    match block:
        case Paragraph(text=text, weight=weight):
            size = {"plain": BODY, "loud": HEAD, "small": SMALL}[weight]
            _write(pages, text, size=size, bold=weight == "loud")
            pages.ln(0.6)
        case Labelled(label=label, lines=lines):
            heights = sum(_height(pages, line, size=BODY) for line in (label, *lines[:3]))
            pages.ln(0.8)
            _keep(pages, heights + 6.0)
            _write(pages, label, size=BODY, bold=True)
            for line in lines:
                _write(pages, line, size=BODY, indent=INDENT)
            pages.ln(0.6)
        case Items(lines=lines, numbered=numbered):
            for k, line in enumerate(lines, 1):
                _item(pages, f"{k}." if numbered else "•", line)
            pages.ln(0.6)
        case TableBlock(grid=grid, weight=weight):
            _table(pages, grid, size=SMALL if weight == "small" else SMALL + 0.8)
        case Drawing():
            _figure(pages, block)
        case Drawings(each=each):
            _beside(pages, each)


def _write(
    pages: _Pages,
    text: str,
    *,
    size: float,
    bold: bool = False,
    grey: bool = False,
    indent: float = 0.0,
    width: float = 0.0,
    markdown: bool = False,
) -> None:
    """Sentences from the left edge on; the next ones begin below."""
    pages.set_font(LETTERS, "B" if bold else "", size)
    pages.set_text_color(GREY if grey else INK)
    if indent:
        pages.set_x(pages.l_margin + indent)
    pages.multi_cell(
        width,
        size * LEADING * MM_A_POINT,
        _told(text),
        align="L",
        new_x="LMARGIN",
        new_y="NEXT",
        markdown=markdown,
    )
    pages.set_text_color(INK)


def _told(text: str) -> str:
    return words.unbroken(words.plain(text))


def _marked(text: str) -> str:
    """Text in which no sign is taken for a mark of bold or italic type."""
    return re.sub(r"(\*\*|__|--|~~|\[|\\)", r"\\\1", _told(text))


def _height(pages: _Pages, text: str, *, size: float) -> float:
    pages.set_font(LETTERS, "", size)
    line = size * LEADING * MM_A_POINT
    return float(str(pages.multi_cell(0, line, _told(text), dry_run=True, output="HEIGHT")))


def _keep(pages: _Pages, height: float) -> None:
    """Begin a page where less than ``height`` is left of this one."""
    if pages.will_page_break(height):
        pages.add_page()


def _item(pages: _Pages, mark: str, line: str) -> None:
    _keep(pages, _height(pages, line, size=BODY))
    pages.set_font(LETTERS, "", BODY)
    pages.cell(INDENT + 1.0, BODY * LEADING * MM_A_POINT, mark)
    pages.set_left_margin(MARGIN_X + INDENT + 1.0)
    _write(pages, line, size=BODY)
    pages.set_left_margin(MARGIN_X)
    pages.set_x(MARGIN_X)


def _table(pages: _Pages, grid: Grid, *, size: float) -> None:
    pages.set_font(LETTERS, "", size)
    pages.set_line_width(0.15)
    with pages.table(
        borders_layout=TableBordersLayout.HORIZONTAL_LINES,
        cell_fill_mode=TableCellFillMode.NONE,
        col_widths=grid.widths or None,
        line_height=size * LEADING * MM_A_POINT,
        padding=(0.5, 1.5, 0.5, 0),
        headings_style=FontFace(emphasis="", color=GREY),
        text_align="L",
    ) as table:
        heads = table.row()
        for head in grid.heads:
            heads.cell(_told(head))
        for cells in grid.rows:
            row = table.row()
            for cell in cells:
                row.cell(_told(cell.text), style=FontFace(emphasis="B") if cell.loud else None)
    pages.ln(1.0)


def _figure(pages: _Pages, drawing: Drawing) -> None:
    _keep(pages, _figure_height(pages, drawing))
    pages.ln(0.8)
    _drawing(pages, drawing.svg, width=pages.epw * drawing.share)
    if drawing.caption:
        _write(pages, drawing.caption, size=SMALL + 0.5)
    pages.ln(1.0)


def _figure_height(pages: _Pages, drawing: Drawing) -> float:
    across, high = _size(drawing.svg)
    caption = _height(pages, drawing.caption, size=SMALL + 0.5) if drawing.caption else 0.0
    return pages.epw * drawing.share * high / across + caption + GAP


def _beside(pages: _Pages, each: Sequence[Drawing]) -> None:
    """Drawings in rows, as many in each as find room."""
    rest = list(each)
    while rest:
        row = [rest.pop(0)]
        while rest and sum(d.share for d in row) + rest[0].share <= 1:
            row.append(rest.pop(0))
        heights = [pages.epw * d.share * _size(d.svg)[1] / _size(d.svg)[0] for d in row]
        _keep(pages, max(heights) + 1.0)
        x, y = MARGIN_X, pages.get_y()
        for drawing in row:
            _drawing(pages, drawing.svg, width=pages.epw * drawing.share, at=(x, y))
            x += pages.epw * drawing.share + GAP
        pages.set_xy(MARGIN_X, y + max(heights) + 1.0)


def _drawing(
    pages: _Pages,
    svg: str,
    *,
    width: float | None = None,
    most: float | None = None,
    at: tuple[float, float] | None = None,
) -> None:
    """A drawing, ``width`` across (the whole sheet where it is left out), no higher than ``most``."""
    across, high = _size(svg)
    wide = pages.epw if width is None else width
    if most is not None:
        wide = min(wide, most * across / high)
    x, y = at or (pages.l_margin + (pages.epw - wide) / 2 if width is None else pages.l_margin, pages.get_y())
    pages.set_fill_color(INK)  # what a drawing does not colour is black
    pages.image(io.BytesIO(_printable(svg).encode()), x=x, y=y, w=wide)
    pages.set_fill_color(PAPER)
    if at is None:
        pages.set_xy(pages.l_margin, y + wide * high / across)


def _size(svg: str) -> tuple[float, float]:
    found = _VIEW_BOX.search(svg)
    if found is None:
        raise AssertionError("a drawing of ours has a view box")
    return float(found[1]), float(found[2])


def _printable(svg: str) -> str:
    """A drawing in the letters of the file, its colours as on paper, without what only a browser shows."""
    return _PAGE_COLOUR.sub(r"\1", _FAMILY.sub(_own_letters, _UNUSED.sub("", svg)))


def _own_letters(found: re.Match[str]) -> str:
    return f'font-family="{LETTERS}"' if "=" in found[0] else f"font-family: {LETTERS}"
