"""The verdict as plain text: the short answer of ``coilwise verdict FOLDER``, and all of it with ``--all``.

Each is one string, no line wider than `TEXT_WIDTH` columns, the answer and the work first; of the whole, the
sections of `reports.render.sections` after it. No colour, no control characters.
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
    """The answer, how sure it is, and what to do, in `SHORT_LINES`; ``more``: where the rest is."""
    title = _cut(words.plain(f"{words.plain(verdict.title)} ({words.stage_label(verdict.stage)})"))
    lines = [title, *_few(summary.headline(verdict), most=2)]
    step = summary.first_step(verdict)
    foot = [_cut(words.plain(more))] if more else []
    sure = [f"{_INDENT}{line}" for line in summary.sure_lines(verdict)]
    after, note = (
        _labelled_few(label, said, most=most)
        for label, said, most in (
            (sheets.RESULT, summary.result(verdict), 2),
            ("Note", summary.disagreement(verdict), 1 if step else 2),
        )
    )
    # What is likely has the step that settles it before the work: it gets the room that is left.
    spare = SHORT_LINES - sum(map(len, (lines, sure, after, note, foot)))
    work = _labelled_few(sheets.TO_DO, summary.to_do(verdict), most=2 if step else max(2, spare))
    lines += [*after, *work, *note]
    lines += _labelled_few(sheets.NEXT, step, most=min(3, max(2, spare - len(work))))
    room = SHORT_LINES - len(lines) - len(foot)
    if len(sure) > room:
        kept = max(room - 1, 0)
        sure = [*sure[:kept], *([f"{_INDENT}{summary.and_more(len(sure) - kept)}"] if room > 0 else [])]
    at = 1 + len(_few(summary.headline(verdict), most=2))
    return "\n".join([*lines[:at], *map(_cut, sure), *lines[at:], *foot][:SHORT_LINES]) + "\n"


def _labelled_few(label: str, said: str, *, most: int) -> list[str]:
    """A sentence behind its label, in ``most`` lines; nothing where nothing is said."""
    return _few(said, most=most, first=f"{label.upper()}: ", rest=" " * (len(label) + 2)) if said else []


def _few(text: str, *, most: int, first: str = "", rest: str = "") -> list[str]:
    """Wrapped lines, ``most`` of them; what does not find room is cut, and the cut is seen."""
    lines = _wrapped(text, first=first, rest=rest).splitlines()
    if len(lines) > most:
        last = textwrap.shorten(lines[most - 1], TEXT_WIDTH - 2, placeholder="")
        blanks = len(lines[most - 1]) - len(lines[most - 1].lstrip())
        lines = [*lines[: most - 1], f"{' ' * blanks}{last} {_CUT}"[:TEXT_WIDTH]]
    return lines


def _cut(line: str) -> str:
    return line if len(line) <= TEXT_WIDTH else line[: TEXT_WIDTH - 1] + _CUT


def _top(verdict: Verdict) -> str:
    title = _wrapped(f"{words.plain(verdict.title)} ({words.stage_label(verdict.stage)})")
    lines = [title, "=" * TEXT_WIDTH, _wrapped(summary.headline(verdict)), ""]
    labelled = (
        (sheets.RESULT, summary.result(verdict)),
        (sheets.TO_DO, summary.to_do(verdict)),
        ("Note", summary.disagreement(verdict)),
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


def _wrapped(text: str, *, first: str = "", rest: str = "") -> str:
    lines = words.unbroken(words.plain(text))
    return _blanks(textwrap.fill(lines, TEXT_WIDTH, initial_indent=first, subsequent_indent=rest))


def _blanks(text: str) -> str:
    """A terminal gets plain blanks; those that keep a number and its unit together have done their work."""
    return text.replace(NO_BREAK, " ")
