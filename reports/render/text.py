"""The verdict as plain text: what ``coilwise verdict FOLDER`` prints.

One string, no line wider than `TEXT_WIDTH` columns, the answer and the work first, the reasons after it;
sections in the order of `SECTIONS`. No colour, no control characters.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Sequence

from reports.messages import summary
from reports.messages import wording as words
from reports.messages.cautions import JUDGEMENT
from reports.messages.sentences import say
from reports.model.verdict import Conflict, Finding, PairVerdict, TakeRow, Verdict, WiringRow
from reports.render.layout import (
    NO_BREAK,
    TEXT_WIDTH,
    Grid,
    jack_ohms_grid,
    settings_grid,
    signs_grid,
    stages_grid,
    text_table,
)

_INDENT = "  "


def as_text(verdict: Verdict) -> str:
    """Lay out the whole verdict, ending with one newline."""
    blocks = [_top(verdict)]
    for key, title in words.SECTIONS.items():
        filled = [block for block in _BLOCKS[key](verdict) if block] if key in _BLOCKS else []
        if filled:
            blocks.append("\n".join([title.upper(), "-" * len(title), *filled]))
    return "\n\n".join(blocks) + "\n"


def _top(verdict: Verdict) -> str:
    title = _wrapped(f"{words.plain(verdict.title)} ({words.stage_label(verdict.stage)})")
    lines = [title, "=" * TEXT_WIDTH, _wrapped(summary.headline(verdict)), ""]
    lines.append(_wrapped(summary.to_do(verdict), first="TO DO: ", rest="       "))
    for label, said in (("NOTE:  ", summary.disagreement(verdict)), ("NEXT:  ", summary.first_step(verdict))):
        if said:
            lines.append(_wrapped(said, first=label, rest="       "))
    lines.append("=" * TEXT_WIDTH)
    return "\n".join(lines)


def _leads(verdict: Verdict) -> list[str]:
    return [*(_lead_block(row) for row in verdict.wiring), _bulleted([say(tie) for tie in verdict.ties])]


def _coil_leads(verdict: Verdict) -> list[str]:
    """Ends of coils, and what is missing or contradicts; the wiring itself stands with the work."""
    return [
        _labelled(f"{row.pickup}: {words.coils_label(row)}", summary.leads_lines(row))
        for row in verdict.coil_leads
    ]


def _nearest(verdict: Verdict) -> list[str]:
    if verdict.nearest_says is None:
        return []
    rows = [_lead_block(row) for row in verdict.nearest if words.is_work(row)]
    return [_indented(say(verdict.nearest_says)), *rows]


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


def _pairs(verdict: Verdict) -> list[str]:
    head = ("pair", "together", "how sure", "hum")
    rows = [
        (
            words.pair_name(p),
            words.phase_label(p).replace(" ", NO_BREAK),
            words.standing_label(p),
            words.hum_of_pair(p.p_hum_cancels),
        )
        for p in verdict.pairs
    ]
    care = _indented(f"{said} {words.study_sentence()}") if (said := words.care_sentence(verdict)) else ""
    return [text_table(head, rows, indent=2), *map(_reasons, verdict.pairs), care]


def _reasons(pair: PairVerdict) -> str:
    lines = []
    if pair.by:
        lines.append(
            _wrapped(f"{words.pair_name(pair)}, each method alone:", first=_INDENT, rest=_INDENT * 2)
        )
        said = [(words.plain(b.method), words.method_label(b)) for b in pair.by]
        lines.append(text_table((), said, indent=4))
    if pair.hum_by:
        lines.append(
            _wrapped(f"{words.pair_name(pair)}, hum by each method:", first=_INDENT, rest=_INDENT * 2)
        )
        said = [(words.plain(b.method), words.hum_method_label(b)) for b in pair.hum_by]
        lines.append(text_table((), said, indent=4))
    if said_range := words.range_sentence(pair):
        lines.append(_wrapped(f"{words.pair_name(pair)}: {said_range}", first=_INDENT, rest=_INDENT * 2))
    if pair.because:
        lines.append(
            _wrapped(f"{words.pair_name(pair)}: {say(pair.because)}", first=_INDENT, rest=_INDENT * 2)
        )
    if pair.hum_next:
        lines.append(
            _wrapped(
                f"{words.pair_name(pair)}, surer of hum: {say(pair.hum_next)}",
                first=_INDENT,
                rest=_INDENT * 2,
            )
        )
    return "\n".join(lines)


def _settings(verdict: Verdict) -> list[str]:
    notes = [f"{s.name}: {say(note)}" for s in verdict.settings for note in s.notes]
    legend = _indented(words.LOSS_MEANING) if words.any_loss(verdict) else ""
    return [_grid(settings_grid(verdict)), legend, _bulleted(notes)]


def _stages(verdict: Verdict) -> list[str]:
    """What came of the work: the answer by itself, then setting by setting."""
    answer = _wrapped(say(verdict.came_out), first="RESULT: ", rest="        ") if verdict.came_out else ""
    return [answer, _grid(stages_grid(verdict))]


def _grid(grid: Grid) -> str:
    return text_table([head.lower() for head in grid.heads], grid.texts(), indent=2)


def _take(take: TakeRow) -> str:
    """One recording with all that is wrong with it or to be said of it."""
    return _labelled(words.take_label(take), list(map(say, take.faults + take.remarks)) or [words.SET_ASIDE])


def _finding(finding: Finding) -> str:
    return _labelled(finding.pickup_or_setting, [say(finding.what), say(finding.next)])


def _conflict(conflict: Conflict) -> str:
    between = " against ".join(words.plain(m) for m in conflict.between)
    a, b = (words.plain(name) for name in conflict.pair)
    cause, step = say(conflict.likely_cause), say(conflict.next)
    return _labelled(f"{a} and {b}, {between}", [f"Likely cause: {cause}", f"To settle it: {step}"])


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


def _indented(text: str) -> str:
    return _wrapped(text, first=_INDENT, rest=_INDENT)


def _wrapped(text: str, *, first: str = "", rest: str = "") -> str:
    lines = words.unbroken(words.plain(text))
    return _blanks(textwrap.fill(lines, TEXT_WIDTH, initial_indent=first, subsequent_indent=rest))


def _blanks(text: str) -> str:
    """A terminal gets plain blanks; those that keep a number and its unit together have done their work."""
    return text.replace(NO_BREAK, " ")


_BLOCKS: dict[str, Callable[[Verdict], Iterable[str]]] = {
    "stages": _stages,
    "leads": _leads,
    "nearest": _nearest,
    "proof": lambda v: [_bulleted(summary.proof_lines(v))],
    "pairs": _pairs,
    "settings": _settings,
    "findings": lambda v: map(_finding, v.findings),
    "conflicts": lambda v: map(_conflict, v.conflicts),
    "next": lambda v: [_numbered(summary.steps(v))],
    "coil_leads": _coil_leads,
    "jack_ohms": lambda v: [_grid(jack_ohms_grid(v))],
    "signs": lambda v: [_grid(signs_grid(v))],
    "refused": lambda v: map(_take, words.refused(v)),
    "remarks": lambda v: map(_take, words.remarked(v)),
    "warnings": lambda v: [_bulleted(w if isinstance(w, str) else say(w) for w in v.warnings)],
    "ask": lambda v: [_bulleted(map(say, v.ask))],
    "cautions": lambda v: [_bulleted(v.cautions or (JUDGEMENT,))],
}
"""Blocks of each section that text has; empty where there is nothing to show."""
