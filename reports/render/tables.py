"""The job and its log as rows of tables.

Many jobs in one table: a shop's archive, a winder's batch.

Task: `find_jobs` below a folder, `summed_up` one of them, and lay rows out as a table or as CSV. Units:
probabilities. Signs: as in the verdict. A job that cannot be judged is a row with its reason, never the end.

CSV has a row for each pair, with the job's columns in front, as a spreadsheet wants it; text that somebody
typed and that a spreadsheet would take for a formula gets an apostrophe in front.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from capture.job.model import JOB_FILE
from capture.takes.folder import JobFolder
from dsp import CoilwiseError
from reports.messages.summary import headline, to_do
from reports.messages.wording import our_fault, plain
from reports.model.verdict import PairVerdict, Verdict
from reports.verdict.building import all_clear, judge

if TYPE_CHECKING:
    from rich.table import Table

    from capture.job import Job, Member, Pickup
    from capture.log import AnyEntry, BenchLog, Input


UNKNOWN = "-"

PICKUP_HEADS = ("name", "centre mm", "coils", "fitted", "leads", "shield")

SETTING_HEADS = ("name", "on", "join", "aim", "quiet")


def pickups_table(job: Job) -> Table:
    """Return the pickups, one a row."""
    return _table("Pickups", PICKUP_HEADS, pickup_cells(job))


def pickup_cells(job: Job) -> list[tuple[str, ...]]:
    """Return what stands in the rows of the pickups."""
    return [
        (
            p.name,
            UNKNOWN if p.centre_mm is None else f"{p.centre_mm:g}",
            str(p.coils),
            "yes" if p.fitted else "loose",
            _leads(p),
            p.shield or UNKNOWN,
        )
        for p in job.pickups
    ]


def settings_table(job: Job) -> Table:
    """Return the listed settings, one a row."""
    return _table("Settings", SETTING_HEADS, setting_cells(job))


def setting_cells(job: Job) -> list[tuple[str, ...]]:
    """Return what stands in the rows of the listed settings."""
    return [
        (s.name, " + ".join(_member(m) for m in s.on), s.join, s.aim, "yes" if s.quiet else "no")
        for s in job.settings
    ]


def log_table(log: BenchLog, remarks: dict[str, str]) -> Table:
    """Return the log in time order; a voided entry says so in the last column."""
    rows = [
        (
            e.entry.id,
            e.entry.kind,
            described(e.entry),
            e.entry.stage if e.entry.kind != "void" else "",
            "VOIDED" if e.voided else remarks.get(e.entry.id, ""),
        )
        for e in log.entries
    ]
    return _table("Log", ("id", "kind", "what", "stage", "remark"), rows)


def described(entry: AnyEntry) -> str:
    """Return what an entry says, in one line."""
    from capture.log import Change, Meter, Ohms, Pole, Take

    if isinstance(entry, Take):
        fret = f" fret {entry.fret}" if entry.fret else ""
        played = f"{entry.gesture} {entry.string}{fret}" if entry.string else entry.gesture
        coil = f", coil {entry.coil}" if entry.coil else ""
        return f"{played}: {' | '.join(spoken_input(i) for i in entry.inputs)}{coil}"
    if isinstance(entry, Meter):
        black = f", black on {entry.black}" if entry.black else ""
        at_rest = "" if entry.kohm is None else f", {entry.kohm:g} kohm"
        return f"{entry.pickup}: tool {entry.move}, {entry.reading}, red on {entry.red}{black}{at_rest}"
    if isinstance(entry, Ohms):
        value = "open" if entry.kohm is None else f"{entry.kohm:g} kohm"
        return f"{entry.pickup}: {entry.between[0]} to {entry.between[1]}: {value}"
    if isinstance(entry, Pole):
        coil = f", coil {entry.coil}" if entry.coil else ""
        return f"{entry.pickup}: {entry.facing} faces the strings{coil}"
    if isinstance(entry, Change):
        return f"{entry.pickup}: " + ", ".join(f"{lead} is {role}" for lead, role in entry.leads.items())
    return f"{entry.entry}{': ' if entry.why else ''}{entry.why}"


def _table(title: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> Table:
    from rich.box import SIMPLE_HEAD
    from rich.table import Table
    from rich.text import Text

    from reports.messages.wording import plain

    table = Table(*heads, title=title, title_justify="left", box=SIMPLE_HEAD)
    for row in rows:
        table.add_row(*(Text(plain(cell), overflow="fold") for cell in row))
    return table


def _leads(pickup: Pickup) -> str:
    link = " + ".join(pickup.link or ())
    said = {"hot": pickup.hot, "ground": pickup.ground, "link": link or None}
    return ", ".join(f"{role} {colour}" for role, colour in said.items() if colour) or UNKNOWN


def _member(member: Member) -> str:
    coil = f" coil {member.coil}" if member.coil else ""
    return f"{member.pickup}{coil}{' reversed' if member.reversed else ''}"


def spoken_input(item: Input) -> str:
    """Return what one channel had plugged in."""
    from reports.messages.wording import NOTHING

    if item is None:
        return NOTHING
    if isinstance(item, str):
        return item
    return " > ".join(item) if isinstance(item, tuple) else f"{item.pickup} {item.hot}/{item.ground}"


Outcome = Literal["clear", "open", "failed"]
OUTCOMES: dict[Outcome, str] = {"clear": "clear", "open": "OPEN", "failed": "FAILED"}
DISAGREES, UNSETTLED = "the evidence disagrees", "unsettled"
"""Every pair that matters is settled or likely and nothing contradicts; something does not; not judged."""
NOT_INTO = frozenset({"takes", "report"})
"""Folders of a job that hold no jobs."""
FORMULA = ("=", "+", "-", "@", "\t", "\r")
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
    """All job folders at and below a place, in order of their names; links to folders are not followed."""
    if (place / JOB_FILE).is_file():
        yield place
    for below in sorted(p for p in place.iterdir() if p.is_dir() and not p.is_symlink()):
        if not below.name.startswith(".") and below.name not in NOT_INTO:
            yield from find_jobs(below)


def summed_up(folder: Path) -> JobRow:
    """One job judged; whatever stands against it becomes its row."""
    try:
        opened = JobFolder.open(folder)
        verdict = judge(opened).verdict
    except CoilwiseError as error:
        return JobRow(folder, "failed", failure=plain(str(error)))
    except OSError as error:
        return JobRow(
            folder, "failed", failure=plain(f"{error.filename or folder}: {error.strerror or error}")
        )
    except Exception as error:  # whatever breaks over one job, a hundred others are still to be summed up
        return JobRow(folder, "failed", failure=our_fault(error))
    if verdict.missing:
        return JobRow(folder, "failed", verdict, failure=headline(verdict))
    return JobRow(folder, "clear" if all_clear(verdict, opened.job) else "open", verdict)


def cells(row: JobRow, place: Path) -> tuple[str, ...]:
    """One job as a row of the table: folder, outcome, what it says, settings that sound thin, takes."""
    name = plain(str(_below(row.folder, place)))
    if row.verdict is None or row.failure:
        return name, OUTCOMES[row.outcome], row.failure, "", ""
    thin = [s.name for s in row.verdict.settings if s.sounds == "thin"]
    takes = f"{row.used} of {row.used + row.refused}"
    why = {"open": DISAGREES if row.verdict.conflicts else UNSETTLED}.get(row.outcome)
    outcome = OUTCOMES[row.outcome] + (f": {why}" if why else "")
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
                [harmless(cell) for cell in (*_job_cells(row, place), *_pair_cells(pair), row.failure)]
            )
    return out.getvalue()


def totals(rows: Sequence[JobRow]) -> str:
    """How many came out how, in one line."""
    counts = {kind: sum(row.outcome == kind for row in rows) for kind in OUTCOMES}
    return f"{len(rows)} jobs: {counts['clear']} clear, {counts['open']} open, {counts['failed']} failed."


def harmless(cell: str) -> str:
    """A cell that a spreadsheet takes for text."""
    return f"'{cell}" if cell.startswith(FORMULA) and not _number(cell) else cell


def _job_cells(row: JobRow, place: Path) -> tuple[str, ...]:
    name = str(_below(row.folder, place))
    verdict = row.verdict
    if verdict is None:
        return name, "", row.outcome, "", "", "", "", ""
    counts = (str(row.used), str(row.refused), str(len(verdict.conflicts)))
    return name, plain(verdict.title), row.outcome, verdict.stage, plain(verdict.reference), *counts


def _pair_cells(pair: PairVerdict | None) -> tuple[str, ...]:
    if pair is None:
        return ("",) * 6
    said = (_p(pair.p_in_phase), pair.phase or "", pair.standing, _p(pair.p_hum_cancels))
    return plain(pair.a), plain(pair.b), *said


def _p(value: float | None) -> str:
    return "" if value is None else f"{value:.6f}"


def _number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def _below(folder: Path, place: Path) -> Path:
    return folder.relative_to(place) if folder.is_relative_to(place) and folder != place else folder
