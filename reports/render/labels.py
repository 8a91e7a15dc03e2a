"""The label sheet of a row of pickups: one label each, as text for the terminal and as a page to print.

From `reports.verdict.shelf.Batch` to text. A label says how the pickup stands to the reference coil, how
sure that is, which lead is hot, its resistance, and what does not fit; relations are words and a mark, never
colour. Units: kilo-ohm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from capture.disk.writing import naming, replace_whole
from reports.messages import shelf as words
from reports.messages.sentences import text_of
from reports.messages.wording import kohm, percent_at_least, plain
from reports.render.layout import text_table
from reports.render.parts import environment

if TYPE_CHECKING:
    from reports.verdict.shelf import Batch, BatchRow

LABELS = "labels.html"


@dataclass(frozen=True)
class Label:
    """What stands on one label; ``mark``: the same way as the coil, the other way, or not told."""

    name: str
    relation: str
    sure: str
    leads: str
    kohm: str
    wrong: tuple[str, ...]
    next: str
    mark: str


def labels_of(batch: Batch) -> tuple[Label, ...]:
    """The labels of a row, in its order."""
    return tuple(_label(row, batch) for row in batch.rows)


def _label(row: BatchRow, batch: Batch) -> Label:
    leads = f"hot {row.hot}, ground {row.ground}" if row.hot and row.ground else words.NONE_HOT
    p = row.p_in_phase
    sure = row.standing if p is None else f"{row.standing}, {percent_at_least(p)}"
    return Label(
        plain(row.pickup),
        words.relation_words(row.phase, batch.shelf),
        sure,
        plain(leads),
        "" if row.kohm is None else kohm(row.kohm),
        tuple(map(words.misfit_words, row.misfits)),
        " ".join(text_of(n) for n in (row.because, row.next) if n is not None),
        {"in phase": "same", "out of phase": "other", None: "none"}[row.phase],
    )


def sheet_says(batch: Batch) -> str:
    """What the whole sheet is about."""
    tools = " and ".join(
        (words.TOOL_CHECKED if one in batch.checked else words.TOOL_NOT_CHECKED).format(plain(one))
        for one in batch.tools
    )
    tools = tools or words.TOOL_NOT_SAID
    days = f" on {' and '.join(batch.days)}" if batch.days else ""
    return words.LABELS_SAY.format(shelf=plain(batch.shelf), tools=tools, days=days)


def labels_text(batch: Batch) -> str:
    """The sheet for a terminal: a row each, then what does not fit, and what is still to be done."""
    labels = labels_of(batch)
    rows = [
        (one.name, one.relation, one.sure, one.leads, one.kohm, "see below" if one.wrong else "fits")
        for one in labels
    ]
    parts = [
        words.LABELS_HEAD.format(title=plain(batch.title)),
        sheet_says(batch),
        text_table(("Pickup", "Against the coil", "How sure", "Leads", "Reads", "The row"), rows),
    ]
    wrong = [f"{one.name}: {why}." for one in labels for why in one.wrong]
    parts += ["\n".join(wrong)] if wrong else []
    parts += [*_next(labels)]
    return "\n\n".join(parts) + "\n"


def _next(labels: Sequence[Label]) -> list[str]:
    """What is still to be done, once for all that it is so for."""
    asked: dict[str, list[str]] = {}
    for one in labels:
        if one.next:
            asked.setdefault(one.next, []).append(one.name)
    if not asked:
        return []
    lines = [f"{', '.join(names)}: {what}" for what, names in asked.items()]
    return ["\n".join([*lines, words.SOLDER_RULE])]


def labels_page(batch: Batch) -> str:
    """The sheet as a page to print."""
    labels = labels_of(batch)
    head = words.LABELS_HEAD.format(title=plain(batch.title))
    return (
        environment()
        .get_template("labels.html.j2")
        .render(
            head=head,
            says=sheet_says(batch),
            labels=labels,
            fits=words.FITS,
            coil=plain(batch.shelf),
            next=_next(labels),
        )
    )


def write_labels(batch: Batch, folder: Path) -> Path:
    """Write the page into ``folder`` and return its path.

    Raises
    ------
    OSError
        The folder cannot be written to.

    """
    with naming(folder):
        folder.mkdir(parents=True, exist_ok=True)
    replace_whole(folder / LABELS, labels_page(batch).encode("utf-8", errors="replace"))
    return folder / LABELS
