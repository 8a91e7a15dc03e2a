"""The verdict as plain text: the short answer of ``coilwise verdict FOLDER``, and all of it with ``--all``.

Each is one string, no line wider than `TEXT_WIDTH` columns (the short one: `SHORT_WIDTH`), the answer and the
work first; of the whole, the sections of `reports.render.sections` after it. No colours, no controls.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from capture.log import AnyEntry
from reports.messages import sheets, summary
from reports.messages import wording as words
from reports.model.verdict import Verdict
from reports.render.blocks import Block, Drawing, Drawings, Items, Labelled, Paragraph, TableBlock
from reports.render.layout import NO_BREAK, TEXT_WIDTH, text_table
from reports.render.sections import sections_of

_INDENT = "  "
SHORT_LINES = 12
"""The short answer has no more lines than that."""
SHORT_WIDTH = 80
"""And none is wider: that of a terminal as it opens."""
_CUT = "…"


def as_text(verdict: Verdict, entries: Sequence[AnyEntry] = ()) -> str:
    """Lay out the whole verdict, ending with one newline; ``entries`` are those of the log that count."""
    blocks = [_top(verdict)]
    for section in sections_of(verdict, keys=words.TEXT_SECTIONS, entries=entries):
        shown = [text for block in section.blocks if (text := _block(block))]
        if shown:
            blocks.append("\n".join([section.title.upper(), "-" * len(section.title), *shown]))
    return "\n\n".join(blocks) + "\n"


def as_short_text(verdict: Verdict, *, more: str = "") -> str:
    """The answer, how sure it is, and what to do, in `SHORT_LINES`; ``more``: where the rest is.

    Every part gets its first line or two; what room is left goes to what to do next, to how sure each pair
    is, then to the work.
    """
    title = _cut(words.plain(f"{words.plain(verdict.title)} ({words.stage_label(verdict.stage)})"))
    sure = [_cut(f"{_INDENT}{line}") for line in summary.sure_lines(verdict)]
    parts = [
        ([title], 1),
        (_wrapped(summary.headline(verdict), width=SHORT_WIDTH).splitlines(), 2),
        (sure, 2),
        (_said(sheets.RESULT, summary.result(verdict)), 1),
        (_said(sheets.TO_DO, summary.to_do(verdict)), 2),
        (_said(sheets.NOTE, summary.disagreement(verdict)), 1),
        (_said(sheets.TAKES, summary.not_counted(verdict)), 0),
        (_said(sheets.NEXT, summary.first_step(verdict)), 2),
        ([_cut(words.plain(more))] if more else [], 1),
    ]
    kept = [min(len(lines), least) for lines, least in parts]
    kept[_TAKES] += min(len(parts[_TAKES][0]), 1, max(0, SHORT_LINES - sum(kept)))
    for place in _ROOM_GOES_TO:
        kept[place] += min(len(parts[place][0]) - kept[place], max(0, SHORT_LINES - sum(kept)))
    shown: list[str] = []
    for (lines, _), most in zip(parts, kept, strict=True):
        shown += _few(lines, most, counted=lines is sure)
    return "\n".join(shown[:SHORT_LINES]) + "\n"


_ROOM_GOES_TO = (7, 2, 4, 3, 1, 6)
"""Parts of the short answer that get more lines where there is room, in this order."""
_TAKES = 6
"""The takes that do not count get a line before any other part gets more."""


def _said(label: str, sentences: str) -> list[str]:
    first = f"{label.upper()}: "
    rest = " " * len(first)
    return _wrapped(sentences, first=first, rest=rest, width=SHORT_WIDTH).splitlines() if sentences else []


def _few(lines: Sequence[str], most: int, *, counted: bool) -> list[str]:
    """The first ``most`` lines; what finds no room is counted, or the cut is seen."""
    if len(lines) <= most:
        return list(lines)
    if counted:
        return [*lines[: most - 1], f"{_INDENT}{summary.and_more(len(lines) - most + 1)}"]
    return [*lines[: most - 1], f"{lines[most - 1][: SHORT_WIDTH - 2]} {_CUT}"]


def _cut(line: str) -> str:
    return line if len(line) <= SHORT_WIDTH else line[: SHORT_WIDTH - 1] + _CUT


def _top(verdict: Verdict) -> str:
    title = _wrapped(f"{words.plain(verdict.title)} ({words.stage_label(verdict.stage)})")
    lines = [title, "=" * TEXT_WIDTH, _wrapped(summary.headline(verdict)), ""]
    labelled = (
        (sheets.RESULT, summary.result(verdict)),
        (sheets.TO_DO, summary.to_do(verdict)),
        (sheets.NOTE, summary.disagreement(verdict)),
        (sheets.NEXT, summary.first_step(verdict)),
    )
    for label, said in labelled:
        if said:
            lines.append(_wrapped(said, first=f"{label.upper()}: ".ljust(8), rest=" " * 8))
    lines.append("=" * TEXT_WIDTH)
    return "\n".join(lines)


def _block(block: Block) -> str:
    """One block as lines; a drawing has none."""
    match block:
        case Paragraph(text=text):
            return _wrapped(text, first=_INDENT, rest=_INDENT)
        case Labelled(label=label, lines=lines):
            return _labelled(label, lines)
        case Items(lines=lines, numbered=True):
            return _numbered(lines)
        case Items(lines=lines):
            return "\n".join(_wrapped(item, first=f"{_INDENT}- ", rest=_INDENT * 2) for item in lines)
        case TableBlock(grid=grid):
            return text_table([head.lower() for head in grid.heads], grid.texts(), indent=2)
        case Drawing() | Drawings():
            return ""


def _labelled(label: str, sentences: Iterable[str]) -> str:
    lines = [_wrapped(label, first=_INDENT, rest=_INDENT * 2)]
    lines.extend(_wrapped(s, first=_INDENT * 2, rest=_INDENT * 2) for s in sentences)
    return "\n".join(lines)


def _numbered(items: Sequence[str]) -> str:
    return "\n".join(
        _wrapped(item, first=f"{_INDENT}{k}. ", rest=_INDENT + " " * (len(str(k)) + 2))
        for k, item in enumerate(items, 1)
    )


def _wrapped(text: str, *, first: str = "", rest: str = "", width: int = TEXT_WIDTH) -> str:
    lines = words.unbroken(words.plain(text))
    return _blanks(textwrap.fill(lines, width, initial_indent=first, subsequent_indent=rest))


def _blanks(text: str) -> str:
    """A terminal gets plain blanks; those that keep a number and its unit together have done their work."""
    return text.replace(NO_BREAK, " ")
