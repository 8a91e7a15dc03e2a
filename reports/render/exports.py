"""The verdict for other programs: as JSON, and many jobs as a table or as CSV.

JSON is the contract of ``coilwise verdict FOLDER --json``: every field of `Verdict` under its own name; a
note is spelled as its sentence, and one that is not there as an empty text. Numbers that could not be had are
null. Keys are added over time, and none is taken away.

The archive: `find_jobs` below a folder, `summary_row` of each, and the rows as a table of the terminal or as
CSV. Probabilities are between 0 and 1. A job that cannot be judged is a row with its reason. CSV has a row
for each pair, with the columns of the job in front; typed text that a spreadsheet would take for a formula
gets an apostrophe in front.
"""

from __future__ import annotations

import csv
import io
import json
import os
import shlex
import typing
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel

from capture import JOB_FILE
from capture.takes.folder import JobFolder
from dsp import CoilwiseError
from reports.messages.sentences import commands_naming, say
from reports.messages.summary import headline, to_do
from reports.messages.wording import our_fault, plain, system_error
from reports.model.notes import Note
from reports.model.verdict import PairVerdict, Verdict
from reports.verdict.building import all_clear, judge
from reports.verdict.care_memory import NONE_REMEMBERED, RememberedCare


def as_json(verdict: Verdict, *, ascii_only: bool = False) -> str:
    """The verdict as JSON text, indented; all beyond ASCII escaped where it must pass through less."""
    return json.dumps(spelled(verdict), indent=2, ensure_ascii=ascii_only, allow_nan=False)


def spelled(value: Any) -> Any:
    """A verdict, or a part of it, as what JSON is made of."""
    if isinstance(value, BaseModel):
        notes = _note_fields(type(value))
        return {name: "" if name in notes and field is None else spelled(field) for name, field in value}
    if isinstance(value, Note):
        return say(typing.cast(Any, value))
    if isinstance(value, tuple | list):
        return [spelled(item) for item in value]
    if isinstance(value, dict):
        return {key: spelled(item) for key, item in value.items()}
    return value


@cache
def _note_fields(model: type[BaseModel]) -> frozenset[str]:
    """The fields of a model that hold one note, or none."""
    return frozenset(name for name, field in model.model_fields.items() if _holds_note(field.annotation))


def _holds_note(annotation: Any) -> bool:
    kinds = typing.get_args(annotation) or (annotation,)
    return any(isinstance(kind, type) and issubclass(kind, Note) for kind in kinds)


Outcome = Literal["clear", "open", "failed"]
OUTCOMES: dict[Outcome, str] = {"clear": "clear", "open": "OPEN", "failed": "FAILED"}
DISAGREES, UNSETTLED = "the evidence disagrees", "unsettled"
"""Every pair that matters is settled or likely and nothing contradicts; something does not; not judged."""
NOT_INTO = frozenset({"takes", "report"})
"""Folders of a job that hold no jobs."""
FORMULA = frozenset("=+-@\t\r")
HEADS = (
    "folder",
    "title",
    "outcome",
    "stage",
    "reference",
    "takes used",
    "takes refused",
    "conflicts",
    "a",
    "b",
    "p in phase",
    "phase",
    "standing",
    "p hum cancels",
    "why it failed",
)


@dataclass(frozen=True)
class JobRow:
    """One job: where it lies, how it came out, and its verdict, or why there is none."""

    folder: Path
    outcome: Outcome
    verdict: Verdict | None = None
    failure: str = ""

    @property
    def used(self) -> int:
        """How many takes count."""
        return 0 if self.verdict is None else sum(t.used for t in self.verdict.takes)

    @property
    def refused(self) -> int:
        """How many do not."""
        return 0 if self.verdict is None else len(self.verdict.takes) - self.used


def find_jobs(place: Path) -> Iterator[Path]:
    """All job folders at and below a place, in order of their names; links to folders are not followed.

    Whatever is called job.toml makes a job, so that one that cannot be read is told of; so does a folder that
    cannot be looked into.
    """
    unreadable: list[Path] = []

    def note(error: OSError) -> None:
        unreadable.append(Path(error.filename))

    for folder, below, files in os.walk(place, onerror=note):
        if JOB_FILE in files or JOB_FILE in below:
            yield Path(folder)
        below[:] = sorted(n for n in below if not n.startswith(".") and n not in (*NOT_INTO, JOB_FILE))
        yield from unreadable
        unreadable.clear()
    yield from unreadable


def summary_row(folder: Path, *, remembered: RememberedCare = NONE_REMEMBERED, workers: int = 1) -> JobRow:
    """One job judged; whatever stands against it becomes its row.

    ``remembered``: what the machine remembers of the bench's care. ``workers``: how many processes may hear
    its takes at once.
    """
    try:
        opened = JobFolder.open(folder)
        verdict = judge(opened, care=remembered.before(folder), workers=workers).verdict
    except CoilwiseError as error:
        return JobRow(folder, "failed", failure=plain(str(error)))
    except OSError as error:
        return JobRow(folder, "failed", failure=system_error(error))
    except Exception as error:  # whatever breaks over one job, a hundred others are still to be summed up
        return JobRow(folder, "failed", failure=our_fault(error))
    if verdict.missing:
        return JobRow(folder, "failed", verdict, failure=headline(verdict))
    return JobRow(folder, "clear" if all_clear(verdict, opened.job) else "open", verdict)


def summary_cells(row: JobRow, place: Path) -> tuple[str, ...]:
    """One job as a row of the table: folder, outcome, what it says, settings that sound thin, takes."""
    name = plain(str(_relative_to(row.folder, place)))
    if row.verdict is None or row.failure:
        return name, OUTCOMES[row.outcome], row.failure, "", ""
    thin = [s.name for s in row.verdict.settings if s.sounds == "thin"]
    takes = f"{row.used} of {row.used + row.refused}"
    why = {"open": DISAGREES if row.verdict.conflicts else UNSETTLED}.get(row.outcome)
    outcome = OUTCOMES[row.outcome] + (f": {why}" if why else "")
    with commands_naming(shlex.quote(str(row.folder))):
        says = f"{headline(row.verdict)} {to_do(row.verdict)}"
    return name, outcome, plain(says), plain(", ".join(thin)), takes


def as_csv(rows: Iterable[JobRow], place: Path) -> str:
    """All rows, a line for each pair; a job without pairs, or that failed, has one line."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADS)
    for row in rows:
        pairs: Sequence[PairVerdict | None] = (row.verdict.pairs if row.verdict else ()) or (None,)
        for pair in pairs:
            writer.writerow(
                [
                    spreadsheet_text(cell)
                    for cell in (*_job_cells(row, place), *_pair_cells(pair), row.failure)
                ]
            )
    return out.getvalue()


def totals(rows: Sequence[JobRow]) -> str:
    """How many came out how, in one line."""
    counts = {kind: sum(row.outcome == kind for row in rows) for kind in OUTCOMES}
    jobs = f"{len(rows)} job{'' if len(rows) == 1 else 's'}"
    return f"{jobs}: {counts['clear']} clear, {counts['open']} open, {counts['failed']} failed."


def spreadsheet_text(cell: str) -> str:
    """A cell that a spreadsheet takes for text."""
    begins = unicodedata.normalize("NFKC", cell.lstrip())[:1]  # full-width signs are formulas too
    return f"'{cell}" if (begins in FORMULA or cell[:1] in FORMULA) and not _is_number(cell) else cell


def _job_cells(row: JobRow, place: Path) -> tuple[str, ...]:
    name = str(_relative_to(row.folder, place))
    verdict = row.verdict
    if verdict is None:
        return name, "", row.outcome, "", "", "", "", ""
    counts = (str(row.used), str(row.refused), str(len(verdict.conflicts)))
    return name, plain(verdict.title), row.outcome, verdict.stage, plain(verdict.reference), *counts


def _pair_cells(pair: PairVerdict | None) -> tuple[str, ...]:
    if pair is None:
        return ("",) * 6
    said = (_probability(pair.p_in_phase), pair.phase or "", pair.standing, _probability(pair.p_hum_cancels))
    return plain(pair.a), plain(pair.b), *said


def _probability(value: float | None) -> str:
    return "" if value is None else f"{value:.6f}"


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def _relative_to(folder: Path, place: Path) -> Path:
    return folder.relative_to(place) if folder.is_relative_to(place) and folder != place else folder
