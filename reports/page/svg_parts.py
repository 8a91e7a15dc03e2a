"""The few pieces that the page's drawings are made of: text that is escaped, lines, and the frame.

Task: text in, SVG text out. Units: those of the drawing. Colours are two, ink and paper, with an accent that
never carries meaning by itself; a page may set ``--ink``, ``--paper`` and ``--accent``.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from reports.lead_drawing import wide
from reports.words import plain

INK, PAPER, ACCENT, FAINT = (
    "var(--ink, #111)",
    "var(--paper, #fff)",
    "var(--accent, #1b4d89)",
    "var(--faint, #565248)",
)

PLAIN_LETTERS = 0.87
"""`wide` is about bold letters; plain ones take so much of their room."""


def safe(text: str) -> str:
    """Text somebody typed, as it may stand in markup."""
    return escape(plain(text), quote=True)


def text(
    said: str,
    x: float,
    y: float,
    *,
    size: float = 16.0,
    bold: bool = False,
    anchor: str = "start",
    fill: str = INK,
) -> str:
    """One line of text with its left end (or middle, or right end) at x, on the line y."""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}" fill="{fill}"{weight}>'
        f"{safe(said)}</text>"
    )


def line(
    x1: float, y1: float, x2: float, y2: float, *, width: float = 1.0, dash: str = "", stroke: str = INK
) -> str:
    """A straight line."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{stroke}" '
        f'stroke-width="{width:g}"{dashed}/>'
    )


def wrapped(said: str, *, room: float, size: float) -> list[str]:
    """Lines no wider than ``room``; a word that is wider is cut."""
    lines: list[str] = []
    size *= PLAIN_LETTERS
    for word in plain(said).split(" "):
        piece = word
        while wide(piece, size=size) > room and len(piece) > 1:
            piece = piece[:-1]
        piece = piece if piece == word else f"{piece[:-1]}…"
        if lines and wide(f"{lines[-1]} {piece}", size=size) <= room:
            lines[-1] = f"{lines[-1]} {piece}"
        else:
            lines.append(piece)
    return lines


def framed(body: Sequence[str], *, width: float, height: float, name: str, title: str, told: str) -> str:
    """The whole drawing; ``title`` and ``told`` are what a screen reader says."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" role="img" '
        f'aria-labelledby="{name}-title {name}-told" font-family="inherit">'
        f'<title id="{name}-title">{safe(title)}</title><desc id="{name}-told">{safe(told)}</desc>'
        f"{''.join(body)}</svg>"
    )
