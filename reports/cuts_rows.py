"""Where recordings are cut, as rows, and as sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.table import Table

    from capture.bringing import Brought
    from capture.cutting import Cut, Found, Played


HEADS = ("onset", "file", "at s", "level dB", "take s", "taken for")

DOUBTS = {
    "soft": "too soft to count",
    "still ringing": "over a string that rang on",
    "other gesture": "looks like the other gesture",
}

LEFT_OUT = "left out"

NOT_SHARED_OUT = "an onset"


def cuts_table(onsets: Sequence[Found], cuts: Sequence[Cut], *, title: str) -> Table:
    """Return the onsets, one a row, with the seconds of their takes and what each was taken for."""
    from rich.box import SIMPLE_HEAD
    from rich.table import Table
    from rich.text import Text

    from reports.words import plain

    table = Table(*HEADS, title=title, title_justify="left", box=SIMPLE_HEAD)
    for row in cuts_rows(onsets, cuts):
        table.add_row(*(Text(plain(cell), overflow="fold") for cell in row))
    return table


def cuts_rows(onsets: Sequence[Found], cuts: Sequence[Cut]) -> list[tuple[str, ...]]:
    """Return the cells under `HEADS`, one row an onset."""
    by_number = {c.onset.number: c for c in cuts}
    return [_row(onset, by_number.get(onset.number)) for onset in onsets]


def _row(onset: Found, one: Cut | None) -> tuple[str, ...]:
    rate = onset.heard.header.rate
    return (
        str(onset.number),
        onset.heard.path.name,
        f"{onset.at_s:.2f}",
        f"{onset.level_db:.0f}",
        f"{one.start / rate:.2f}-{one.stop / rate:.2f}" if one else "-",
        taken_for(onset, one),
    )


def cuts_picture(onsets: Sequence[Found], cuts: Sequence[Cut]) -> str:
    """Return the recordings with their cuts, drawn: the text of an SVG. It takes a second."""
    from reports.bring_plot import Mark, Strip, bring_figure

    by_number = {c.onset.number: c for c in cuts}
    strips = []
    for heard in dict.fromkeys(o.heard for o in onsets):
        rate = heard.header.rate
        marks = tuple(
            Mark(
                o.number,
                o.at_s,
                (c.start / rate, c.stop / rate) if (c := by_number.get(o.number)) else None,
                taken_for(o, by_number.get(o.number)),
            )
            for o in onsets
            if o.heard is heard
        )
        strips.append(Strip(heard.path.name, heard.seconds, heard.envelope, marks))
    return bring_figure(tuple(strips))


def taken_for(onset: Found, one: Cut | None) -> str:
    """Return what an onset was taken for: what was played, or why it is no take."""
    if onset.left_out:
        return LEFT_OUT
    if onset.doubt is not None:
        return DOUBTS[onset.doubt]
    return spoken(one.played) if one else NOT_SHARED_OUT


def spoken(played: Played) -> str:
    """Return what was played in a few words: inputs, string and fret."""
    from reports.listing import spoken_input

    inputs = " | ".join(spoken_input(item) for item in played.inputs)
    fret = f" fret {played.fret}" if played.fret else ""
    return f"{inputs}, {played.string}{fret}" if played.string else inputs


def told(one: Brought) -> str:
    """Return what became of a cut, in a sentence with its id."""
    said = spoken(one.cut.played)
    if one.before is not None:
        return f"{one.before.id}: was in already ({one.cut.came_from})."
    take = one.take
    if take is None:
        raise AssertionError("a cut is brought in, or was in before")
    note = f" Note: {take.message}" if take.message else ""
    if one.same_seconds:
        ids = ", ".join(one.same_seconds)
        note += f" Note: {ids} came from the same seconds of a file of this name; void one if it is the same."
    return f"{take.entry.id}: {said}, {one.cut.came_from}.{note}"
