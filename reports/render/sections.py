"""Every section of the report as blocks: the one composition that text, page, bench page and PDF share.

In: a verdict, and where there are any what was read and entered (`Bench`) and what is drawn (`Exhibits`);
out: the sections that have something to show, in the order of `reports.messages.wording.SECTIONS`. Equal
faults and remarks are said once, with the takes that they concern. Importing this loads no plotting library.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field

from capture.log import AnyEntry, Take, Void
from reports.messages import sheets, summary
from reports.messages import wording as words
from reports.messages.cautions import JUDGEMENT
from reports.messages.sentences import say, say_each
from reports.model.verdict import PairVerdict, TakeRow, Verdict, WiringRow
from reports.render.blocks import (
    Block,
    Drawing,
    Drawings,
    Items,
    Labelled,
    Paragraph,
    Section,
    TableBlock,
)
from reports.render.layout import (
    Cell,
    Grid,
    jack_ohms_grid,
    networks_grid,
    pairs_grid,
    settings_grid,
    signs_grid,
    stages_grid,
)
from reports.render.tables import entry_label

SHORT_HASH = 12
"""So many characters of a checksum are printed; all of it is in the file for other programs."""


@dataclass(frozen=True)
class Exhibits:
    """What is drawn: of each pair (by its two names), the jack, each pickup's leads, what is unusual."""

    pairs: dict[frozenset[str], tuple[Drawing, ...]] = field(default_factory=dict)
    jack: tuple[Drawing, ...] = ()
    leads: tuple[str, ...] = ()
    built: tuple[str, ...] = ()


NOTHING_DRAWN = Exhibits()


@dataclass(frozen=True)
class _Material:
    """What the sections are made of."""

    verdict: Verdict
    entries: tuple[AnyEntry, ...]
    drawn: Exhibits
    made_at: str


def sections_of(
    verdict: Verdict,
    *,
    keys: Collection[str] = tuple(words.SECTIONS),
    entries: Sequence[AnyEntry] = (),
    drawn: Exhibits = NOTHING_DRAWN,
    made_at: str = "",
) -> tuple[Section, ...]:
    """Return the sections of ``keys`` that have something to show; ``entries`` are those that count."""
    material = _Material(verdict, tuple(entries), drawn, made_at)
    found = []
    for key, title in words.SECTIONS.items():
        if key in keys and key in _BLOCKS:
            blocks = tuple(block for block in _BLOCKS[key](material) if not _is_empty(block))
            if blocks:
                found.append(Section(key, title, blocks))
    return tuple(found)


def _is_empty(block: Block) -> bool:
    match block:
        case Paragraph(text=text):
            return not text
        case Items(lines=lines):
            return not lines
        case TableBlock(grid=grid):
            return not grid.rows
        case Drawings(each=each):
            return not each
        case _:
            return False


def _stages(of: _Material) -> Iterable[Block]:
    result = of.verdict.came_out
    return (
        Paragraph(say(result) if result else "", "loud"),
        TableBlock(stages_grid(of.verdict)),
    )


def _leads(of: _Material) -> Iterable[Block]:
    rows = [_lead_block(row) for row in of.verdict.wiring]
    return [*(block for row in rows for block in row), Items(tuple(map(say, of.verdict.ties)))]


def _lead_block(row: WiringRow) -> Iterable[Block]:
    yield Labelled(
        f"{words.plain(row.pickup)}: {words.instruction(row)}",
        tuple(f"{lead} {becomes}" for lead, becomes in words.lead_steps(row)),
        loud=words.is_work(row),
    )
    why = "" if row.why is None else say(row.why)
    yield Paragraph(sheets.WHY.format(why) if why else "", "small")
    for warning in row.warnings:
        yield Paragraph(sheets.MIND.format(say(warning)), "small")


def _nearest(of: _Material) -> Iterable[Block]:
    if of.verdict.nearest_says is None:
        return ()
    rows = [_lead_block(row) for row in of.verdict.nearest if words.is_work(row)]
    return [Paragraph(say(of.verdict.nearest_says)), *(block for row in rows for block in row)]


def _coil_leads(of: _Material) -> Iterable[Block]:
    """Ends of coils, and what is missing or contradicts; the wiring itself stands with the work."""
    yield Drawings(tuple(Drawing(svg, share=0.48) for svg in of.drawn.leads))
    for row in of.verdict.coil_leads:
        yield Labelled(
            f"{words.plain(row.pickup)}: {words.coils_label(row)}", tuple(summary.leads_lines(row))
        )


def _built(of: _Material) -> Iterable[Block]:
    return (Drawings(tuple(Drawing(svg, share=0.48) for svg in of.drawn.built)),)


def _settings(of: _Material) -> Iterable[Block]:
    notes = tuple(f"{words.plain(s.name)}: {say(note)}" for s in of.verdict.settings for note in s.notes)
    return (
        TableBlock(settings_grid(of.verdict)),
        Paragraph(words.LOSS_MEANING if words.any_loss(of.verdict) else "", "small"),
        Paragraph(words.HUM_BY_COILS if words.hum_by_coils(of.verdict) else "", "small"),
        Items(notes),
    )


def _networks(of: _Material) -> Iterable[Block]:
    rows = of.verdict.networks
    if rows:
        said = " ".join(sheets.NETWORKS_FROM[one] for one in dict.fromkeys(r.reckoned_from for r in rows))
        yield TableBlock(networks_grid(of.verdict), "small")
        yield Paragraph(sheets.NETWORKS.format(said), "small")


def _evidence(of: _Material) -> Iterable[Block]:
    for pair in of.verdict.pairs:
        yield from _pair(pair, of.drawn.pairs.get(frozenset((pair.a, pair.b)), ()))
    care = words.care_sentence(of.verdict)
    yield Paragraph(f"{care} {words.study_sentence()}" if care else "", "small")


def _pair(pair: PairVerdict, drawings: Sequence[Drawing]) -> Iterable[Block]:
    """One pair: the answer, why not surer, what each method says by itself, and its drawings."""
    if not (pair.by or pair.hum_by or pair.because or pair.hum_next):
        return
    said = (
        "" if pair.because is None else say(pair.because),
        words.range_sentence(pair),
        sheets.SURER_OF_HUM.format(say(pair.hum_next)) if pair.hum_next else "",
    )
    answer = f"{words.pair_name(pair)}: {words.phase_label(pair)}, {words.standing_label(pair)}"
    yield Labelled(answer, tuple(filter(None, said)), loud=True)
    rows = [
        (words.method_name(b), words.leaning(b.p_in_phase), words.id_list((*b.takes, *b.entries)))
        for b in pair.by
    ]
    rows += [
        (words.plain(b.method), words.leaning_hum(b.p_hum_cancels), words.id_list((*b.takes, *b.entries)))
        for b in pair.hum_by
    ]
    yield TableBlock(_grid(sheets.EVIDENCE_HEADS, (26, 34, 40), rows))
    yield from drawings


def _grid(heads: Sequence[str], widths: Sequence[int], rows: Iterable[Sequence[str]]) -> Grid:
    return Grid(tuple(heads), tuple(widths), tuple(tuple(map(Cell, row)) for row in rows))


def _readings(of: _Material) -> Iterable[Block]:
    """What was read, checked and changed by hand, in words beside its number."""
    rows = [
        (words.plain(entry.id), words.plain(entry_label(entry)), words.stage_label(entry.stage))
        for entry in of.entries
        if not isinstance(entry, Take | Void)
    ]
    return (TableBlock(_grid(sheets.READING_HEADS, (10, 68, 22), rows), "small"),)


def _conflicts(of: _Material) -> Iterable[Block]:
    for conflict in of.verdict.conflicts:
        said = (sheets.CAUSE.format(say(conflict.likely_cause)), sheets.REMEDY.format(say(conflict.next)))
        yield Labelled(summary.conflict_on(conflict), said)


def _findings(of: _Material) -> Iterable[Block]:
    for finding in of.verdict.findings:
        yield Labelled(words.plain(finding.pickup_or_setting), (say(finding.what), say(finding.next)))


def _takes(rows: Sequence[TakeRow]) -> Iterable[Block]:
    """Everything that is to be said of takes, each thing once with the takes that it concerns."""
    concerned: dict[tuple[str, ...], list[TakeRow]] = {}
    for take in rows:
        said = say_each(take.faults + take.remarks) or (words.SET_ASIDE,)
        concerned.setdefault(said, []).append(take)
    for said, takes in concerned.items():
        yield Labelled(words.takes_label(takes), said)


def _provenance(of: _Material) -> Iterable[Block]:
    verdict = of.verdict
    rows = [
        (
            words.take_label(take),
            words.minute(take.at),
            sheets.COUNTS if take.used else sheets.COUNTS_NOT,
            f"{words.plain(take.file)} {(take.sha256 or '')[:SHORT_HASH]}".strip(),
        )
        for take in verdict.takes
    ]
    yield TableBlock(_grid(sheets.TAKE_HEADS, (44, 18, 8, 30), rows), "small")
    if verdict.provenance is not None:
        made = verdict.provenance
        parts = [f"coilwise {made.coilwise}", *(f"{name} {v}" for name, v in made.versions.items())]
        hashes = (("job.toml", made.job_sha256), ("bench.jsonl", made.log_sha256))
        parts += [f"{name} {digest[:SHORT_HASH]}" for name, digest in hashes if digest]
        when = f"{sheets.MADE_AT.format(of.made_at)} " if of.made_at else ""
        yield Paragraph(f"{when}{', '.join(map(words.plain, parts))}. {sheets.WHOLE_HASHES}", "small")


_BLOCKS: dict[str, Callable[[_Material], Iterable[Block]]] = {
    "next": lambda of: (Items(tuple(summary.steps(of.verdict)), numbered=True),),
    "conflicts": _conflicts,
    "findings": _findings,
    "stages": _stages,
    "leads": _leads,
    "nearest": _nearest,
    "proof": lambda of: (Items(tuple(summary.proof_lines(of.verdict))),),
    "coil_leads": _coil_leads,
    "built": _built,
    "settings": _settings,
    "pairs": lambda of: (
        TableBlock(pairs_grid(of.verdict)),
        *map(Paragraph, words.meanings(of.verdict)),
        Items(tuple(map(say, of.verdict.inputs))),
    ),
    "readings": _readings,
    "evidence": _evidence,
    "jack": lambda of: of.drawn.jack,
    "jack_ohms": lambda of: (TableBlock(jack_ohms_grid(of.verdict)),),
    "networks": _networks,
    "signs": lambda of: (TableBlock(signs_grid(of.verdict)),),
    "refused": lambda of: _takes(words.refused(of.verdict)),
    "remarks": lambda of: _takes(words.remarked(of.verdict)),
    "warnings": lambda of: (Items(tuple(w if isinstance(w, str) else say(w) for w in of.verdict.warnings)),),
    "ask": lambda of: (Items(tuple(map(say, of.verdict.ask))),),
    "provenance": _provenance,
    "cautions": lambda of: (Items(of.verdict.cautions or (JUDGEMENT,)),),
}
"""How each section is composed; what has nothing to show is left out."""
