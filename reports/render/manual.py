"""The manual: pages of Markdown in reports/manual, for terminal and browser; README links the same files.

`topics()` lists the pages: the name of a file is what a person types, its first line what it is about.
`shown(topic)` is a page as text of a terminal, wrapped; a command stays on a line of its own as it is typed,
and a row of a table becomes a paragraph a column, since three columns of prose do not fit a terminal.
`as_page(topic)` is the same page as HTML that loads nothing, with the list of topics above it.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Mapping
from functools import cache
from html import escape
from pathlib import Path

from markdown_it import MarkdownIt
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
        console.print(_Whole(_WORD.sub(r'"\1"', source(topic)), hyperlinks=False), crop=False)
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


class _Whole(Markdown):
    elements = {  # noqa: RUF012  # as the class it replaces has it
        **Markdown.elements,
        "heading_open": _PlainHeading,
        "fence": _TypedLines,
        "code_block": _TypedLines,
        "table_open": _Rows,
    }


LIST_HEAD = "coilwise: the manual"
FIRST_TOPIC = "page"
"""What is shown where no topic is named: the page that a person comes from."""
_HELP = re.compile(r"<code>coilwise help ([a-z]+)</code>")
_LOOK = """
:root { color-scheme: light dark; }
body { max-width: 46rem; margin: 0 auto; padding: 1rem;
  font: 1.05rem/1.45 system-ui, "DejaVu Sans", sans-serif; }
nav { border-bottom: 2px solid; padding-bottom: .6rem; }
nav a { display: inline-block; padding: .5rem .9rem .5rem 0; }
nav a[aria-current] { color: inherit; font-weight: bold; text-decoration: none; }
h1 { font-size: 1.5rem; line-height: 1.2; }
pre { overflow-x: auto; border-left: 4px solid; padding-left: .8rem; }
code { font-family: ui-monospace, "DejaVu Sans Mono", monospace; font-size: .92em; overflow-wrap: anywhere; }
table { border-collapse: collapse; }
th, td { text-align: left; vertical-align: top; padding: .4rem .8rem .4rem 0; border-top: 1px solid; }
"""


def as_page(topic: str = FIRST_TOPIC) -> str:
    """A page as HTML, whose links lead to the other topics by their names; errors as `source`."""
    body = MarkdownIt("commonmark", {"html": False}).enable("table").render(source(topic))
    body = _HELP.sub(lambda found: _link(found[1]) if found[1] in topics() else found[0], body)
    listed = " ".join(
        f'<a href="{name}"{" aria-current=page" if name == topic else ""} title="{escape(about)}">{name}</a>'
        for name, about in topics().items()
    )
    return _PAGE.format(title=escape(topics()[topic]), look=_LOOK, head=LIST_HEAD, topics=listed, body=body)


_PAGE = """<!DOCTYPE html>
<html lang="en-GB"><head><meta charset="utf-8"><title>{title}</title>
<meta name="viewport" content="width=device-width"><style>{look}</style></head>
<body><nav aria-label="{head}">{head}<br>{topics}</nav>
<main>{body}</main></body></html>
"""


def _link(topic: str) -> str:
    return f'<a href="{topic}"><code>coilwise help {topic}</code></a>'
