"""The one renderer of tables in text, and the cells of the tables that text and HTML share.

`table` takes heads (or none) and rows of cells, each a string of one line, and wraps a cell that is too wide
inside its column: for the terminal at its width, for the report at `TEXT_WIDTH` columns. No-break spaces hold
a number and its unit together and come out as plain blanks. The functions that take a verdict return a
`Grid`, empty where there is nothing to show; the first cell of a row names it, ``widths`` are shares of the
printed page in per cent.
"""

from __future__ import annotations

import io
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from rich.cells import cell_len

from reports.messages import wording as words
from reports.messages.sheets import network_table
from reports.messages.wording import plain, unbroken
from reports.model.verdict import SettingVerdict, Verdict

if TYPE_CHECKING:
    from rich.table import Table

TEXT_WIDTH = 88
NO_BREAK = "\N{NO-BREAK SPACE}"
_UNBROKEN = "\ue000"
"""Stands for a no-break space while rich wraps, which takes every kind of blank for a place to break."""
_GAP = 2
LONG_WORD = 14
"""A word may be broken down to so many characters where not all words find room."""
MOST_MEASURED = 100
"""Rows of which the height is measured where columns have to give way."""
_LINES = "    \n    \n -- \n    \n    \n    \n    \n    \n"
"""Blanks between columns, a dashed line under the heads."""


def table(
    heads: Sequence[str], rows: Sequence[Sequence[str]], *, title: str = "", width: int | None = None
) -> Table:
    """Return the table; with ``width``, columns are as wide as fits so many characters."""
    from rich.box import Box
    from rich.table import Table
    from rich.text import Text

    columns = len(heads or (rows[0] if rows else ()))
    cells = [[unbroken(cell).replace(NO_BREAK, _UNBROKEN) for cell in row] for row in rows]
    widths: Sequence[int | None] = (None,) * columns
    if width is not None:
        widths = _column_widths([*([list(heads)] if heads else []), *cells], width - _GAP * (columns - 1))
    drawn = Table(
        title=title or None,
        title_justify="left",
        box=Box(_LINES, ascii=True),
        show_header=bool(heads),
        show_edge=False,
        pad_edge=False,
        padding=(0, _GAP - 1, 0, 0),
    )
    for head, wide in zip(heads or ("",) * columns, widths, strict=True):
        drawn.add_column(head, overflow="fold", width=wide)
    for row in cells:
        drawn.add_row(*(Text(cell) for cell in row))
    return drawn


def text_table(heads: Sequence[str], rows: Sequence[Sequence[str]], *, indent: int = 0) -> str:
    """Return the table as lines of at most `TEXT_WIDTH` characters, without colour."""
    if not rows:
        return ""
    from rich.console import Console

    room = TEXT_WIDTH - indent
    out = io.StringIO()
    console = Console(file=out, width=room, color_system=None, highlight=False, markup=False, emoji=False)
    console.print(table(heads, rows, width=room))
    lines = out.getvalue().replace(_UNBROKEN, " ").splitlines()
    return "\n".join((" " * indent + line).rstrip() for line in lines)


def print_table(heads: Sequence[str], rows: Sequence[Sequence[str]], *, title: str = "") -> None:
    """Print the table on the terminal, as wide as that is."""
    from rich.console import Console

    console = Console(highlight=False, markup=False, emoji=False)
    printed = table(heads, [[plain(cell) for cell in row] for row in rows], title=title, width=console.width)
    with console.capture() as captured:
        console.print(printed)
    lines = captured.get().replace(_UNBROKEN, " ").splitlines()
    console.file.write("\n".join(line.rstrip() for line in lines) + "\n\n")


def _column_widths(lines: Sequence[Sequence[str]], room: int) -> list[int]:
    """Widths that fit together: columns give way where rows grow least; only long words break."""
    columns = list(zip(*lines, strict=True))
    widths = [max(map(cell_len, column)) for column in columns]
    longest = [max(cell_len(word) for cell in column for word in cell.split(" ")) for column in columns]
    least = [min(length, max(LONG_WORD, room // len(columns))) for length in longest]
    while sum(widths) > room:
        loose = [k for k, low in enumerate(least) if widths[k] > low]
        loose = loose or [k for k, width in enumerate(widths) if width > 1]
        if not loose:
            break
        tried = [[width - (k == j) for k, width in enumerate(widths)] for j in loose]
        widths = min(tried, key=lambda each: (_height(lines[:MOST_MEASURED], each), max(each)))
    return widths


def _height(lines: Sequence[Sequence[str]], widths: Sequence[int]) -> int:
    """Lines that all rows take, and all cells: what is to be small."""
    heights = [[_lines_of(c, w) for c, w in zip(line, widths, strict=True)] for line in lines]
    return sum(max(row) + sum(row) for row in heights)


@lru_cache(maxsize=4096)
def _lines_of(cell: str, width: int) -> int:
    return len(textwrap.wrap(cell, width))


@dataclass(frozen=True)
class Cell:
    """One cell; ``loud`` where it shows what is not as wanted."""

    text: str
    loud: bool = False


@dataclass(frozen=True)
class Grid:
    """A table: heads, widths of its columns (none: as they come), rows of cells."""

    heads: tuple[str, ...]
    widths: tuple[int, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def texts(self) -> list[tuple[str, ...]]:
        """Return the rows as text alone."""
        return [tuple(cell.text for cell in row) for row in self.rows]


def stages_grid(verdict: Verdict) -> Grid:
    """What was found, planned, and came out, setting by setting."""
    rows = []
    for row in verdict.stages:
        missed = row.as_planned == "no"
        rows.append(
            (
                Cell(words.plain(row.setting)),
                Cell(words.stage_cell(row.found, row.hum_found)),
                Cell(words.stage_cell(row.planned, row.hum_planned)),
                Cell(words.stage_cell(row.after, row.hum_after, p_full=row.p_after), missed),
                Cell(words.as_planned(row), missed),
            )
        )
    heads = ("Setting", "Found", "Planned", "After the work", "As planned")
    return Grid(heads, (22, 20, 20, 26, 12), tuple(rows))


def _kept_together(label: str) -> str:
    """An answer in one line, but one that names strings."""
    return label if "," in label else label.replace(" ", NO_BREAK)


def pairs_grid(verdict: Verdict) -> Grid:
    """What is believed of each pair; one that no setting joins says so."""
    rows = []
    for pair in verdict.pairs:
        joined = pair.shelf or words.joined(verdict, pair)
        apart = "" if joined else f" ({words.NOT_JOINED})"
        rows.append(
            (
                Cell(words.pair_name(pair) + apart),
                Cell(_kept_together(words.phase_label(pair)), pair.phase != words.IN_PHASE),
                Cell(words.standing_label(pair)),
                Cell(words.hum_of_pair(pair)),
            )
        )
    return Grid(("Pair", "Together", "How sure", "Hum"), (26, 18, 36, 20), tuple(rows))


def settings_grid(verdict: Verdict) -> Grid:
    """What each setting does now."""
    heads = ("Setting", "Pickups", "Sounds", "As wanted", "Fundamental", "Hum")
    return Grid(heads, (18, 26, 8, 17, 15, 16), tuple(map(_setting_row, verdict.settings)))


def _setting_row(setting: SettingVerdict) -> tuple[Cell, ...]:
    return (
        Cell(words.plain(setting.name)),
        Cell(words.members(setting)),
        Cell(words.sounds_label(setting), setting.sounds == "thin"),
        Cell(words.wanted_label(setting), words.as_wanted(setting) == "NO"),
        Cell(words.loss_label(setting)),
        Cell(words.hum_label(setting), bool(setting.wanted_quiet) and setting.hum == "hums"),
    )


def signs_grid(verdict: Verdict) -> Grid:
    """Signs of each pickup against the reference."""
    rows = []
    for row in verdict.signs:
        each = (row.p_same_s, row.p_same_w, row.p_same_m)
        labels = (words.sign_label(row, p, reference=verdict.reference) for p in each)
        rows.append((Cell(words.plain(row.pickup)), *map(Cell, labels)))
    return Grid(words.SIGN_HEADS, (19, 27, 27, 27), tuple(rows))


def networks_grid(verdict: Verdict) -> Grid:
    """What the circuits inside pickups give."""
    heads, *rows = network_table(verdict)
    return Grid(heads, (12, 16, 10, 21, 22, 19), tuple(tuple(map(Cell, row)) for row in rows))


def jack_ohms_grid(verdict: Verdict) -> Grid:
    """What a meter should read at the jack."""
    heads, *rows = words.jack_table(verdict)
    return Grid(heads, (), tuple(tuple(map(Cell, row)) for row in rows))
