"""Plain tables of the page.

Task: strings of markup in which everything typed is escaped. Units, signs: none.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from reports.words import plain


def table_html(caption: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table whose first column names its rows."""
    head = "".join(f'<th scope="col">{escape(h)}</th>' for h in heads)
    body = "".join(_row(row) for row in rows)
    return (
        f"<table><caption>{escape(caption)}</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{body}</tbody></table>"
    )


def _row(row: Sequence[str]) -> str:
    first, *others = (escape(plain(cell)) for cell in row)
    cells = "".join(f"<td>{cell}</td>" for cell in others)
    return f'<tr><th scope="row">{first}</th>{cells}</tr>'
