"""The verdict as plain text: the short answer of ``coilwise verdict FOLDER``, and all of it with ``--all``.

Each is one string, no line wider than `TEXT_WIDTH` columns (the short one: `SHORT_WIDTH`), the answer and the
work first; of the whole, the sections of `reports.render.sections` after it. No colours, no controls.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

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
    is, then to the work. What finds no room is counted or said in brief, or the cut is seen.
    """
    title = _cut(words.plain(f"{words.plain(verdict.title)} ({words.stage_label(verdict.stage)})"))
    sure = [_cut(f"{_INDENT}{line}") for line in summary.sure_lines(verdict)]
    notes, result = summary.noted(verdict), _said(sheets.RESULT, summary.result(verdict))
    brief = " ".join([*notes[:1], *([summary.and_more_notes(len(notes) - 1)] if len(notes) > 1 else [])])
    parts = [
        _Part([title], 1),
        _Part(_wrapped(summary.headline(verdict), width=SHORT_WIDTH).splitlines(), 2),
        _Part(sure, 2, counted=True),
        _Part(result, min(len(result), 2)),
        _Part(_said(sheets.TO_DO, summary.to_do(verdict)), 2),
        _Part(_said(sheets.NOTE, " ".join(notes)), 1, _said(sheets.NOTE, brief)),
        _Part(
            _said(sheets.TAKES, summary.not_counted(verdict)),
            1,
            _said(sheets.TAKES, summary.not_counted(verdict, brief=True)),
        ),
        _Part(_said(sheets.NEXT, summary.first_step(verdict)), 2),
        _Part([_cut(words.plain(more))] if more else [], 1),
    ]
    kept = _shared(parts)
    for place in _IN_BRIEF:
        if kept[place] < len(parts[place].lines):
            parts[place] = parts[place].in_brief()
            kept = _shared(parts)
    cut = any(kept[place] < len(parts[place].lines) for place in (_HEADLINE, _TO_DO, _NEXT))
    if cut and summary.disagreement(verdict) in notes:  # what is to be done says it too
        rest = len(notes) - 1
        parts[_NOTE] = _Part(_said(sheets.NOTE, summary.and_more_notes(rest)) if rest else (), 1)
        kept = _shared(parts)
    shown: list[str] = []
    for part, most in zip(parts, kept, strict=True):
        shown += _few(part.lines, most, counted=part.counted)
    return "\n".join(shown[:SHORT_LINES]) + "\n"


_ROOM_GOES_TO = (7, 2, 4, 3, 1, 5, 6)
"""Parts of the short answer that get more lines where there is room, in this order."""
_HEADLINE, _TO_DO, _NOTE, _NEXT = 1, 4, 5, 7
_IN_BRIEF = (6, 5)
"""Parts that are said in brief, in this order, where they find no room."""


@dataclass(frozen=True)
class _Part:
    """A part of the short answer: its lines, how many it gets at least, and the same in brief."""

    lines: Sequence[str]
    least: int
    brief: Sequence[str] = ()
    counted: bool = False

    def in_brief(self) -> _Part:
        """The part said in brief; it needs no more room than it takes."""
        return replace(self, lines=self.brief, least=min(len(self.brief), 2))


def _shared(parts: Sequence[_Part]) -> list[int]:
    """How many lines each part gets."""
    kept = [min(len(part.lines), part.least) for part in parts]
    for place in _ROOM_GOES_TO:
        kept[place] += min(len(parts[place].lines) - kept[place], max(0, SHORT_LINES - sum(kept)))
    return kept


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
        *((sheets.NOTE, note) for note in summary.noted(verdict)),
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
    filled = textwrap.fill(
        lines, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )  # a command keeps its words
    return _blanks(filled)


def _blanks(text: str) -> str:
    """A terminal gets plain blanks; those that keep a number and its unit together have done their work."""
    return text.replace(NO_BREAK, " ")
