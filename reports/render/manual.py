"""The manual: pages of Markdown in reports/manual, shown as plain text; README links the same files.

`topics()` lists the pages: the name of a file is what a person types, its first line what it is about.
`shown(topic)` is a page as text of a terminal, wrapped; a command stays on a line of its own as it is typed,
and a row of a table becomes a paragraph a column, since three columns of prose do not fit a terminal.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from rich.console import Console, ConsoleOptions, Group, RenderResult
from rich.markdown import CodeBlock, Heading, Markdown, TableElement
from rich.padding import Padding
from rich.text import Text

from capture import JobError
from capture.job.reading import did_you_mean, quoted_value

MANUAL = Path(__file__).resolve().parents[1] / "manual"
WIDE = 88
INDENT = 4
_WORD = re.compile(r"`([a-z_]+)`")
"""One word alone in code: without its type it would read as prose."""
NO_TOPIC = "no topic {topic} in the manual{hint}"


@cache
def topics() -> Mapping[str, str]:
    """What each page is about, by the name that is typed."""
    return {page.stem: _title(page) for page in sorted(MANUAL.glob("*.md"))}


def _title(page: Path) -> str:
    with page.open(encoding="utf-8") as lines:
        return lines.readline().removeprefix("#").strip()


def source(topic: str) -> str:
    """A page as it stands, in Markdown.

    Raises
    ------
    JobError
        There is no such page; the nearest is named.

    """
    if topic not in topics():
        raise JobError(NO_TOPIC.format(topic=quoted_value(topic), hint=did_you_mean(topic, topics())))
    return (MANUAL / f"{topic}.md").read_text(encoding="utf-8")


def shown(topic: str, *, width: int = WIDE) -> str:
    """A page as plain text of at most ``width`` columns, but for lines that are typed; errors as `source`."""
    console = Console(file=io.StringIO(), width=width, color_system=None, highlight=False)
    with console.capture() as captured:
        console.print(_Page(_WORD.sub(r'"\1"', source(topic)), hyperlinks=False), crop=False)
    return re.sub(r"[ \t]+$", "", captured.get(), flags=re.MULTILINE).strip("\n") + "\n"


class _PlainHeading(Heading):
    """A heading at the margin, underlined."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        yield Text(f"{self.text.plain}\n{'-' * min(self.text.cell_len, console.width)}")


class _TypedLines(CodeBlock):
    """What is typed or drawn: a line stays a line."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        lines = textwrap.indent(str(self.text).rstrip(), " " * INDENT)
        yield Text(lines, no_wrap=True, overflow="ignore")


class _Rows(TableElement):
    """A table row by row: its first cell, then each further cell behind its column's heading."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        heads = [] if self.header is None or self.header.row is None else self.header.row.cells
        for number, row in enumerate(() if self.body is None else self.body.rows):
            first, *rest = (cell.content for cell in row.cells)
            named = [
                Padding(Text.assemble(f"{head.content.plain}: ", cell), (0, 0, 0, INDENT))
                for head, cell in zip(heads[1:], rest, strict=False)
                if cell.plain.strip()
            ]
            yield Group(*([Text("")] if number else []), first, *named)


class _Page(Markdown):
    elements = {  # noqa: RUF012  # as the class it replaces has it
        **Markdown.elements,
        "heading_open": _PlainHeading,
        "fence": _TypedLines,
        "code_block": _TypedLines,
        "table_open": _Rows,
    }
