"""The verdict as plain text: what ``coilwise verdict FOLDER`` prints.

Task: one string, no line wider than ``WIDTH`` columns, the answer and the work first, the reasons after
it. No colour, no control characters. A cell of a table that is too wide is wrapped inside its column.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from functools import lru_cache

from reports.messages import summary
from reports.messages import wording as table_words
from reports.messages import wording as words
from reports.messages.cautions import JUDGEMENT
from reports.messages.sentences import say
from reports.model.verdict import Conflict, Finding, PairVerdict, TakeWord, Verdict, WiringRow

WIDTH = 88
_INDENT = "  "
_GAP = "  "
_KEPT = "\N{NO-BREAK SPACE}"


def as_text(verdict: Verdict) -> str:
    """Lay out the whole verdict, ending with one newline."""
    blocks = [_top(verdict), _stages(verdict), _leads(verdict), _coil_leads(verdict), _proof(verdict)]
    blocks += [_nearest(verdict), _pairs(verdict.pairs)]
    blocks += [_settings(verdict), _signs(verdict), _jack_ohms(verdict)]
    blocks.append(_section("findings", [_finding(f) for f in verdict.findings]))
    blocks.append(_section("conflicts", [_conflict(c) for c in verdict.conflicts]))
    blocks.append(_section("refused", [_take(t) for t in words.refused(verdict)]))
    blocks.append(_section("remarks", [_take(t) for t in words.remarked(verdict)]))
    blocks.append(_section("next", [_numbered(summary.steps(verdict))]))
    warnings = (w if isinstance(w, str) else say(w) for w in verdict.warnings)
    blocks.append(_section("warnings", [_bulleted(warnings)]))
    blocks.append(_section("ask", [_bulleted(verdict.ask)]))
    blocks.append(_section("cautions", [_bulleted(verdict.cautions or (JUDGEMENT,))]))
    return "\n\n".join(block for block in blocks if block) + "\n"


def _top(verdict: Verdict) -> str:
    title = _wrapped(f"{words.plain(verdict.title)} ({words.stage_label(verdict.stage)})")
    lines = [title, "=" * WIDTH, _wrapped(summary.headline(verdict)), ""]
    lines.append(_wrapped(summary.to_do(verdict), first="TO DO: ", rest="       "))
    for label, said in (("NOTE:  ", summary.disagreement(verdict)), ("NEXT:  ", summary.first_step(verdict))):
        if said:
            lines.append(_wrapped(said, first=label, rest="       "))
    lines.append("=" * WIDTH)
    return "\n".join(lines)


def _leads(verdict: Verdict) -> str:
    return _section(
        "leads",
        [*(_lead_block(row) for row in verdict.wiring), _bulleted([say(tie) for tie in verdict.ties])],
    )


def _coil_leads(verdict: Verdict) -> str:
    """Ends of coils, and what is missing or contradicts; the wiring itself stands with the work."""
    return _section(
        "coil_leads",
        [
            _labelled(f"{row.pickup}: {table_words.coils_label(row)}", summary.leads_lines(row))
            for row in verdict.coil_leads
        ],
    )


def _proof(verdict: Verdict) -> str:
    return _section("proof", [_bulleted(summary.proof_lines(verdict))])


def _nearest(verdict: Verdict) -> str:
    if verdict.nearest_says is None:
        return ""
    rows = [_lead_block(row) for row in verdict.nearest if words.is_work(row)]
    return _section("nearest", [_wrapped(say(verdict.nearest_says), first=_INDENT, rest=_INDENT), *rows])


def _jack_ohms(verdict: Verdict) -> str:
    head, *rows = table_words.jack_table(verdict)
    return _section("jack_ohms", [_table(head, rows, indent=_INDENT)]) if rows else ""


def _lead_block(row: WiringRow) -> str:
    lines = [
        _wrapped(f"{words.plain(row.pickup)}: {words.instruction(row)}", first=_INDENT, rest=_INDENT * 2)
    ]
    steps = words.lead_steps(row)
    if steps:
        lines.append(_table((), steps, indent=_INDENT * 3))
    why = "" if row.why is None else say(row.why)
    if why:
        lines.append(_wrapped(f"Why: {why}", first=_INDENT * 2, rest=_INDENT * 2))
    lines.extend(_wrapped(f"Mind: {say(w)}", first=_INDENT * 2, rest=_INDENT * 2) for w in row.warnings)
    return "\n".join(lines)


def _pairs(pairs: Sequence[PairVerdict]) -> str:
    if not pairs:
        return ""
    head = ("pair", "together", "how sure", "hum")
    rows = [
        (
            words.pair_name(p),
            words.phase_label(p).replace(" ", _KEPT),
            words.how_sure(p),
            words.hum_of_pair(p.p_hum_cancels),
        )
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
    if pair.hum_by:
        lines.append(
            _wrapped(f"{words.pair_name(pair)}, hum by each method:", first=_INDENT, rest=_INDENT * 2)
        )
        said = [(words.plain(b.method), words.hum_says(b)) for b in pair.hum_by]
        lines.append(_table((), said, indent=_INDENT * 2))
    if pair.because:
        lines.append(_wrapped(f"{words.pair_name(pair)}: {pair.because}", first=_INDENT, rest=_INDENT * 2))
    return "\n".join(lines)


def _settings(verdict: Verdict) -> str:
    if not verdict.settings:
        return ""
    head = ("setting", "pickups", "sounds", "wanted", "fundamental", "hum")
    rows = [
        (
            words.plain(s.name),
            words.members(s),
            words.sounds_label(s),
            table_words.wanted_label(s),
            table_words.loss_label(s),
            words.hum_label(s),
        )
        for s in verdict.settings
    ]
    notes = [f"{s.name}: {note}" for s in verdict.settings for note in s.notes]
    legend = (
        _wrapped(table_words.LOSS_MEANING, first=_INDENT, rest=_INDENT)
        if table_words.any_loss(verdict)
        else ""
    )
    return _section("settings", [_table(head, rows, indent=_INDENT), legend, _bulleted(notes)])


def _stages(verdict: Verdict) -> str:
    """What came of the work: the answer by itself, then setting by setting."""
    blocks = []
    if verdict.came_out:
        blocks.append(_wrapped(verdict.came_out, first="RESULT: ", rest="        "))
    if verdict.stages:
        head = ("setting", "found", "planned", "after the work", "as planned")
        rows = [
            (
                words.plain(r.setting),
                table_words.stage_cell(r.found, r.hum_found),
                table_words.stage_cell(r.planned, r.hum_planned),
                table_words.stage_cell(r.after, r.hum_after, p_full=r.p_after),
                table_words.as_planned(r),
            )
            for r in verdict.stages
        ]
        blocks.append(_table(head, rows, indent=_INDENT))
    return _section("stages", blocks)


def _signs(verdict: Verdict) -> str:
    if not verdict.signs:
        return ""
    rows = [
        (
            words.plain(r.pickup),
            *(
                table_words.sign_label(r, p, reference=verdict.reference)
                for p in (r.p_same_s, r.p_same_w, r.p_same_m)
            ),
        )
        for r in verdict.signs
    ]
    head = tuple(h.lower() for h in table_words.SIGN_HEADS)
    return _section("signs", [_table(head, rows, indent=_INDENT)])


def _finding(finding: Finding) -> str:
    return _labelled(finding.pickup_or_setting, [say(finding.what), say(finding.next)])


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


def _take(take: TakeWord) -> str:
    """One recording with all that is wrong with it or to be said of it."""
    return _labelled(words.take_label(take), list(map(say, take.faults + take.remarks)) or [words.SET_ASIDE])


def _bulleted(items: Iterable[str]) -> str:
    return "\n".join(_wrapped(item, first=f"{_INDENT}- ", rest=_INDENT * 2) for item in items)


def _wrapped(text: str, *, first: str = "", rest: str = "") -> str:
    lines = words.unbroken(words.plain(text))
    return _blanks(textwrap.fill(lines, WIDTH, initial_indent=first, subsequent_indent=rest))


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], *, indent: str) -> str:
    """Aligned columns; where they do not fit, they are wrapped so that words stay whole and rows low."""
    lines = [[words.unbroken(cell) for cell in line] for line in (*([head] if head else []), *rows)]
    if not lines:
        return ""
    widths = _fitted(lines, WIDTH - len(indent) - len(_GAP) * (len(lines[0]) - 1))
    printed = [_row(line, widths, indent) for line in lines]
    if head:
        printed.insert(1, _row(["-" * width for width in widths], widths, indent))
    return "\n".join(printed)


def _fitted(lines: Sequence[Sequence[str]], room: int) -> list[int]:
    """Widths of columns that fit together: narrowed from the widest on, or where it costs least."""
    even = [max(map(len, column)) for column in zip(*lines, strict=True)]
    least = [max(len(w) for cell in column for w in cell.split(" ")) for column in zip(*lines, strict=True)]
    thrifty = list(even)
    while sum(even) > room:
        loose = [width if width > low else 0 for width, low in zip(even, least, strict=True)]
        most = loose if any(loose) else even
        even[most.index(max(most))] -= 1
    while sum(thrifty) > room:
        each = [[w - (j == k) for j, w in enumerate(thrifty)] for k, w in enumerate(thrifty) if w > 1]
        thrifty = min(each, key=lambda tried: (*_cost(lines, tried), max(tried)))
    return min(even, thrifty, key=lambda tried: _cost(lines, tried))


def _cost(lines: Sequence[Sequence[str]], widths: Sequence[int]) -> tuple[int, int]:
    """How badly a table fits: words that break; then lines of all cells, and of all rows."""
    broken, taken = 0, 0
    for line in lines:
        heights = [len(_in_column(cell, width)) for cell, width in zip(line, widths, strict=True)]
        taken += max(heights) + sum(heights)
        broken += sum(
            len(word) > width for cell, width in zip(line, widths, strict=True) for word in cell.split(" ")
        )
    return broken, taken


@lru_cache(maxsize=4096)
def _in_column(cell: str, width: int) -> tuple[str, ...]:
    return tuple(textwrap.wrap(cell, width)) or ("",)


def _row(cells: Sequence[str], widths: Sequence[int], indent: str) -> str:
    wrapped = [_in_column(c, w) for c, w in zip(cells, widths, strict=True)]
    height = max(len(c) for c in wrapped)
    return _blanks(
        "\n".join(
            (
                indent
                + _GAP.join(
                    (c[k] if k < len(c) else "").ljust(w) for c, w in zip(wrapped, widths, strict=True)
                )
            ).rstrip()
            for k in range(height)
        )
    )


def _blanks(text: str) -> str:
    """A terminal gets plain blanks; those that keep a number and its unit together have done their work."""
    return text.replace(_KEPT, " ")
