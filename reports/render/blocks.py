"""What the report is made of, for every face: sections of a few kinds of block.

A section has a key of `reports.messages.wording.SECTIONS`, a heading, and blocks in the order in which they
are read; the text, the page and the PDF each show the same blocks in their own way. All text is plain: it is
escaped and wrapped by whoever shows it. A drawing is the text of one SVG, and text shows none. Importing this
loads no plotting library.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from reports.render.layout import Grid

Paper = Literal["a4", "letter"]
Weight = Literal["plain", "loud", "small"]


@dataclass(frozen=True)
class Paragraph:
    """Sentences that stand together."""

    text: str
    weight: Weight = "plain"


@dataclass(frozen=True)
class Labelled:
    """What the sentences are about, and the sentences; ``loud`` where the label is work."""

    label: str
    lines: tuple[str, ...]
    loud: bool = False


@dataclass(frozen=True)
class Items:
    """A list."""

    lines: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True)
class TableBlock:
    """A table of text."""

    grid: Grid
    weight: Weight = "plain"


@dataclass(frozen=True)
class Drawing:
    """One SVG with what it shows; ``share`` of the sheet's width."""

    svg: str
    caption: str = ""
    share: float = 1.0


@dataclass(frozen=True)
class Drawings:
    """Drawings beside each other."""

    each: tuple[Drawing, ...]


Block = Paragraph | Labelled | Items | TableBlock | Drawing | Drawings


@dataclass(frozen=True)
class Section:
    """One section; ``key`` names it among all that there are."""

    key: str
    title: str
    blocks: tuple[Block, ...] = field(default=())
