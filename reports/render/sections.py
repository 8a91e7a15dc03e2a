"""Tables that text and HTML share: heads, cells, and which cells are to stand out.

Each function takes a verdict and returns a `Grid`, empty where there is nothing to show. The first cell of
a row names it. ``widths`` are shares of the printed page in per cent.
"""

from __future__ import annotations

from dataclasses import dataclass

from reports.messages import wording as words
from reports.model.verdict import SettingVerdict, Verdict


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


def jack_ohms_grid(verdict: Verdict) -> Grid:
    """What a meter should read at the jack."""
    heads, *rows = words.jack_table(verdict)
    return Grid(heads, (), tuple(tuple(map(Cell, row)) for row in rows))
