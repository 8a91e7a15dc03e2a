"""The job and its log as rows of tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.table import Table

    from capture.bench_log import AnyEntry, BenchLog, Input
    from capture.job import Job, Member, Pickup


UNKNOWN = "-"

PICKUP_HEADS = ("name", "centre mm", "coils", "fitted", "leads", "shield")

SETTING_HEADS = ("name", "on", "join", "aim", "quiet")


def pickups_table(job: Job) -> Table:
    """Return the pickups, one a row."""
    return _table("Pickups", PICKUP_HEADS, pickup_cells(job))


def pickup_cells(job: Job) -> list[tuple[str, ...]]:
    """Return what stands in the rows of the pickups."""
    return [
        (
            p.name,
            UNKNOWN if p.centre_mm is None else f"{p.centre_mm:g}",
            str(p.coils),
            "yes" if p.fitted else "loose",
            _leads(p),
            p.shield or UNKNOWN,
        )
        for p in job.pickups
    ]


def settings_table(job: Job) -> Table:
    """Return the listed settings, one a row."""
    return _table("Settings", SETTING_HEADS, setting_cells(job))


def setting_cells(job: Job) -> list[tuple[str, ...]]:
    """Return what stands in the rows of the listed settings."""
    return [
        (s.name, " + ".join(_member(m) for m in s.on), s.join, s.aim, "yes" if s.quiet else "no")
        for s in job.settings
    ]


def log_table(log: BenchLog, remarks: dict[str, str]) -> Table:
    """Return the log in time order; a voided entry says so in the last column."""
    rows = [
        (
            e.entry.id,
            e.entry.kind,
            described(e.entry),
            e.entry.stage if e.entry.kind != "void" else "",
            "VOIDED" if e.voided else remarks.get(e.entry.id, ""),
        )
        for e in log.entries
    ]
    return _table("Log", ("id", "kind", "what", "stage", "remark"), rows)


def described(entry: AnyEntry) -> str:
    """Return what an entry says, in one line."""
    from capture.bench_log import Change, Meter, Ohms, Pole, Take

    if isinstance(entry, Take):
        fret = f" fret {entry.fret}" if entry.fret else ""
        played = f"{entry.gesture} {entry.string}{fret}" if entry.string else entry.gesture
        coil = f", coil {entry.coil}" if entry.coil else ""
        return f"{played}: {' | '.join(spoken_input(i) for i in entry.inputs)}{coil}"
    if isinstance(entry, Meter):
        black = f", black on {entry.black}" if entry.black else ""
        at_rest = "" if entry.kohm is None else f", {entry.kohm:g} kohm"
        return f"{entry.pickup}: tool {entry.move}, {entry.reading}, red on {entry.red}{black}{at_rest}"
    if isinstance(entry, Ohms):
        value = "open" if entry.kohm is None else f"{entry.kohm:g} kohm"
        return f"{entry.pickup}: {entry.between[0]} to {entry.between[1]}: {value}"
    if isinstance(entry, Pole):
        coil = f", coil {entry.coil}" if entry.coil else ""
        return f"{entry.pickup}: {entry.facing} faces the strings{coil}"
    if isinstance(entry, Change):
        return f"{entry.pickup}: " + ", ".join(f"{lead} is {role}" for lead, role in entry.leads.items())
    return f"{entry.entry}{': ' if entry.why else ''}{entry.why}"


def _table(title: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> Table:
    from rich.box import SIMPLE_HEAD
    from rich.table import Table
    from rich.text import Text

    from reports.words import plain

    table = Table(*heads, title=title, title_justify="left", box=SIMPLE_HEAD)
    for row in rows:
        table.add_row(*(Text(plain(cell), overflow="fold") for cell in row))
    return table


def _leads(pickup: Pickup) -> str:
    link = " + ".join(pickup.link or ())
    said = {"hot": pickup.hot, "ground": pickup.ground, "link": link or None}
    return ", ".join(f"{role} {colour}" for role, colour in said.items() if colour) or UNKNOWN


def _member(member: Member) -> str:
    coil = f" coil {member.coil}" if member.coil else ""
    return f"{member.pickup}{coil}{' reversed' if member.reversed else ''}"


def spoken_input(item: Input) -> str:
    """Return what one channel had plugged in."""
    from reports.words import NOTHING

    if item is None:
        return NOTHING
    if isinstance(item, str):
        return item
    return " > ".join(item) if isinstance(item, tuple) else f"{item.pickup} {item.hot}/{item.ground}"
