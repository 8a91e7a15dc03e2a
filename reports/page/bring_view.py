"""What the screen for recordings from elsewhere shows as tables.

Task: strings of markup in which everything typed is escaped. Units: seconds, dB re full scale. Signs: none.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from reports.cuts_rows import HEADS, cuts_rows
from reports.page import page_words as words
from reports.page.bring_in import CameIn, Cuts, heard_of
from reports.verdict import Verdict
from reports.words import plain

TICK_JS = (
    '(e) => { const tick = e.target.closest(".tick");'
    " if (tick) { e.preventDefault(); emit(Number(tick.dataset.onset)); } }"
)
"""A box says that it was ticked and stays as it is: the table that comes back has it as it was taken."""


def cuts_html(cuts: Cuts) -> str:
    """Return the onsets with their cuts, one a row, and a box for each to leave it out."""
    rows = [
        [_header(cells[0], scope="row"), *map(_cell, cells[1:]), _tick(onset.number, ticked=onset.left_out)]
        for onset, cells in zip(cuts.onsets, cuts_rows(cuts.onsets, cuts.cuts), strict=True)
    ]
    return _table((*HEADS, words.LEAVE_OUT), rows)


def came_html(came: Sequence[CameIn], verdict: Verdict | None) -> str:
    """Return the takes that came in, with what was heard in each."""
    rows = [[_header(c.id, scope="row", kind="id"), _cell(c.what), _cell(heard_of(c, verdict))] for c in came]
    return _table(words.CAME_HEADS, rows)


def names_html(key: str, names: Iterable[str]) -> str:
    """Return names that a field may suggest: the field's ``list`` is ``key``."""
    options = "".join(f'<option value="{escape(plain(name))}"></option>' for name in names)
    return f'<datalist id="{key}">{options}</datalist>'


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    head = "".join(_header(h, scope="col") for h in heads)
    body = "".join(f"<tr>{''.join(row)}</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _tick(number: int, *, ticked: bool) -> str:
    return (
        f'<td><label class="tick" data-onset="{number}"><input type="checkbox"{" checked" * ticked}> '
        f"{words.LEAVE_OUT} {number}</label></td>"
    )


def _header(text: str, *, scope: str, kind: str = "") -> str:
    named = f' class="{kind}"' if kind else ""
    return f'<th scope="{scope}"{named}>{escape(plain(text))}</th>'


def _cell(text: str) -> str:
    return f"<td>{escape(plain(text))}</td>"
