"""The verdict as plain text: what ``coilwise verdict FOLDER`` prints.

Task: one string, no line wider than ``TEXT_WIDTH`` columns, the answer and the work first, the reasons after
it. No colour, no control characters. A cell of a table that is too wide is wrapped inside its column.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from reports.messages import summary
from reports.messages import wording as table_words
from reports.messages import wording as words
from reports.messages.cautions import JUDGEMENT
from reports.messages.sentences import say
from reports.model.verdict import Conflict, Finding, PairVerdict, TakeWord, Verdict, WiringRow
from reports.render.text_table import NO_BREAK, TEXT_WIDTH, text_table

_INDENT = "  "


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
    lines = [title, "=" * TEXT_WIDTH, _wrapped(summary.headline(verdict)), ""]
    lines.append(_wrapped(summary.to_do(verdict), first="TO DO: ", rest="       "))
    for label, said in (("NOTE:  ", summary.disagreement(verdict)), ("NEXT:  ", summary.first_step(verdict))):
        if said:
            lines.append(_wrapped(said, first=label, rest="       "))
    lines.append("=" * TEXT_WIDTH)
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
    return _section("jack_ohms", [text_table(head, rows, indent=2)]) if rows else ""


def _lead_block(row: WiringRow) -> str:
    lines = [
        _wrapped(f"{words.plain(row.pickup)}: {words.instruction(row)}", first=_INDENT, rest=_INDENT * 2)
    ]
    steps = words.lead_steps(row)
    if steps:
        lines.append(text_table((), steps, indent=6))
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
            words.phase_label(p).replace(" ", NO_BREAK),
            words.how_sure(p),
            words.hum_of_pair(p.p_hum_cancels),
        )
        for p in pairs
    ]
    blocks = [text_table(head, rows, indent=2)]
    blocks.extend(block for block in map(_reasons, pairs) if block)
    return _section("pairs", blocks)


def _reasons(pair: PairVerdict) -> str:
    lines = []
    if pair.by:
        lines.append(
            _wrapped(f"{words.pair_name(pair)}, each method alone:", first=_INDENT, rest=_INDENT * 2)
        )
        said = [(words.plain(b.method), words.method_says(b)) for b in pair.by]
        lines.append(text_table((), said, indent=4))
    if pair.hum_by:
        lines.append(
            _wrapped(f"{words.pair_name(pair)}, hum by each method:", first=_INDENT, rest=_INDENT * 2)
        )
        said = [(words.plain(b.method), words.hum_says(b)) for b in pair.hum_by]
        lines.append(text_table((), said, indent=4))
    if pair.because:
        lines.append(
            _wrapped(f"{words.pair_name(pair)}: {say(pair.because)}", first=_INDENT, rest=_INDENT * 2)
        )
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
    notes = [f"{s.name}: {say(note)}" for s in verdict.settings for note in s.notes]
    legend = (
        _wrapped(table_words.LOSS_MEANING, first=_INDENT, rest=_INDENT)
        if table_words.any_loss(verdict)
        else ""
    )
    return _section("settings", [text_table(head, rows, indent=2), legend, _bulleted(notes)])


def _stages(verdict: Verdict) -> str:
    """What came of the work: the answer by itself, then setting by setting."""
    blocks = []
    if verdict.came_out:
        blocks.append(_wrapped(say(verdict.came_out), first="RESULT: ", rest="        "))
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
        blocks.append(text_table(head, rows, indent=2))
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
    return _section("signs", [text_table(head, rows, indent=2)])


def _finding(finding: Finding) -> str:
    return _labelled(finding.pickup_or_setting, [say(finding.what), say(finding.next)])


def _conflict(conflict: Conflict) -> str:
    between = " against ".join(words.plain(m) for m in conflict.between)
    a, b = (words.plain(name) for name in conflict.pair)
    cause, step = say(conflict.likely_cause), say(conflict.next)
    return _labelled(f"{a} and {b}, {between}", [f"Likely cause: {cause}", f"To settle it: {step}"])


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
    return _blanks(textwrap.fill(lines, TEXT_WIDTH, initial_indent=first, subsequent_indent=rest))


def _blanks(text: str) -> str:
    """A terminal gets plain blanks; those that keep a number and its unit together have done their work."""
    return text.replace(NO_BREAK, " ")
