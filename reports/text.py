"""The verdict as plain text: what ``coilwise verdict FOLDER`` prints.

Task: one string, no line wider than ``WIDTH`` columns, the answer and the work first, the reasons after
it. No colour, no control characters. A cell of a table that is too wide is wrapped inside its column.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from reports import words
from reports.cautions import JUDGEMENT
from reports.verdict import Conflict, PairVerdict, Verdict, WiringRow

WIDTH = 88
_INDENT = "  "
_GAP = "  "


def as_text(verdict: Verdict) -> str:
    """Lay out the whole verdict, ending with one newline."""
    blocks = [_top(verdict), _leads(verdict.wiring), _pairs(verdict.pairs), _settings(verdict)]
    blocks.append(_section("conflicts", [_conflict(c) for c in verdict.conflicts]))
    blocks.append(
        _section(
            "refused",
            [
                _labelled(words.take_label(t), [*t.faults, *t.remarks] or [words.SET_ASIDE])
                for t in words.refused(verdict)
            ],
        )
    )
    blocks.append(
        _section("remarks", [_labelled(words.take_label(t), t.remarks) for t in words.remarked(verdict)])
    )
    blocks.append(_section("next", [_numbered(words.steps(verdict))]))
    blocks.append(_section("warnings", [_bulleted(verdict.warnings)]))
    blocks.append(_section("cautions", [_bulleted(verdict.cautions or (JUDGEMENT,))]))
    return "\n\n".join(block for block in blocks if block) + "\n"


def _top(verdict: Verdict) -> str:
    title = _wrapped(f"{words.plain(verdict.title)} ({words.stage_label(verdict.stage)})")
    lines = [title, "=" * WIDTH, _wrapped(words.headline(verdict)), ""]
    lines.append(_wrapped(words.to_do(verdict), first="TO DO: ", rest="       "))
    for label, said in (("NOTE:  ", words.disagreement(verdict)), ("NEXT:  ", words.first_step(verdict))):
        if said:
            lines.append(_wrapped(said, first=label, rest="       "))
    lines.append("=" * WIDTH)
    return "\n".join(lines)


def _leads(rows: Sequence[WiringRow]) -> str:
    return _section("leads", [_lead_block(row) for row in rows])


def _lead_block(row: WiringRow) -> str:
    lines = [
        _wrapped(f"{words.plain(row.pickup)}: {words.instruction(row)}", first=_INDENT, rest=_INDENT * 2)
    ]
    steps = words.lead_steps(row)
    if steps:
        lines.append(_table((), steps, indent=_INDENT * 3))
    if row.why:
        lines.append(_wrapped(f"Why: {row.why}", first=_INDENT * 2, rest=_INDENT * 2))
    lines.extend(_wrapped(f"Mind: {w}", first=_INDENT * 2, rest=_INDENT * 2) for w in row.warnings)
    return "\n".join(lines)


def _pairs(pairs: Sequence[PairVerdict]) -> str:
    if not pairs:
        return ""
    head = ("pair", "together", "how sure", "hum")
    rows = [
        (words.pair_name(p), words.phase_label(p), words.how_sure(p), words.hum_of_pair(p.p_hum_cancels))
        for p in pairs
    ]
    blocks = [_table(head, rows, indent=_INDENT)]
    blocks.extend(block for block in map(_reasons, pairs) if block)
    return _section("pairs", blocks)


def _reasons(pair: PairVerdict) -> str:
    lines = []
    if pair.by:
        lines.append(
            _wrapped(f"{words.pair_name(pair)}, each method alone:", first=_INDENT, rest=_INDENT * 2)
        )
        said = [(words.plain(b.method), words.method_says(b)) for b in pair.by]
        lines.append(_table((), said, indent=_INDENT * 2))
    if pair.because:
        lines.append(_wrapped(f"{words.pair_name(pair)}: {pair.because}", first=_INDENT, rest=_INDENT * 2))
    return "\n".join(lines)


def _settings(verdict: Verdict) -> str:
    if not verdict.settings:
        return ""
    head = ("setting", "pickups", "sounds", "wanted", "as wanted", "hum")
    rows = [
        (
            words.plain(s.name),
            words.members(s),
            words.sounds_label(s),
            words.plain(s.aim),
            words.as_wanted(s),
            words.hum_label(s),
        )
        for s in verdict.settings
    ]
    return _section("settings", [_table(head, rows, indent=_INDENT)])


def _conflict(conflict: Conflict) -> str:
    between = " against ".join(words.plain(m) for m in conflict.between)
    a, b = (words.plain(name) for name in conflict.pair)
    said = [conflict.likely_cause and f"Likely cause: {conflict.likely_cause}"]
    said.append(conflict.next and f"To settle it: {conflict.next}")
    return _labelled(f"{a} and {b}, {between}", [s for s in said if s])


def _section(key: str, blocks: Sequence[str]) -> str:
    filled = [block for block in blocks if block]
    if not filled:
        return ""
    title = words.SECTIONS[key].upper()
    return "\n".join([title, "-" * len(title), *filled])


def _labelled(label: str, sentences: Iterable[str]) -> str:
    lines = [_wrapped(label, first=_INDENT, rest=_INDENT * 2)]
    lines.extend(_wrapped(s, first=_INDENT * 2, rest=_INDENT * 2) for s in sentences)
    return "\n".join(lines)


def _numbered(items: Sequence[str]) -> str:
    return "\n".join(
        _wrapped(item, first=f"{_INDENT}{k}. ", rest=_INDENT + " " * (len(str(k)) + 2))
        for k, item in enumerate(items, 1)
    )


def _bulleted(items: Iterable[str]) -> str:
    return "\n".join(_wrapped(item, first=f"{_INDENT}- ", rest=_INDENT * 2) for item in items)


def _wrapped(text: str, *, first: str = "", rest: str = "") -> str:
    return textwrap.fill(words.plain(text), WIDTH, initial_indent=first, subsequent_indent=rest)


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], *, indent: str) -> str:
    """Aligned columns; where they do not fit, the widest ones are wrapped."""
    lines = [*([head] if head else []), *rows]
    if not lines:
        return ""
    widths = [max(len(line[k]) for line in lines) for k in range(len(lines[0]))]
    room = WIDTH - len(indent) - len(_GAP) * (len(widths) - 1)
    while sum(widths) > room:
        widths[widths.index(max(widths))] -= 1
    printed = [_row(line, widths, indent) for line in rows]
    if head:
        rule = _row(["-" * width for width in widths], widths, indent)
        printed = [_row(head, widths, indent), rule, *printed]
    return "\n".join(printed)


def _row(cells: Sequence[str], widths: Sequence[int], indent: str) -> str:
    wrapped = [textwrap.wrap(c, w) if c else [""] for c, w in zip(cells, widths, strict=True)]
    height = max(len(c) for c in wrapped)
    return "\n".join(
        (
            indent
            + _GAP.join((c[k] if k < len(c) else "").ljust(w) for c, w in zip(wrapped, widths, strict=True))
        ).rstrip()
        for k in range(height)
    )
