"""Sentences about recordings from elsewhere: why they cannot be cut, and what to know of a new take."""

from __future__ import annotations

from pathlib import Path
from typing import assert_never

from capture.takes.imported import CountsDiffer, CutProblem, ImportedTake, NoOnset, TakesOverlap
from reports.model.session import Surface

NO_ONSET = "{file}: no onset found in it; was the right gesture named, and was it loud enough?"
COUNTS_DIFFER: dict[Surface, str] = {
    "terminal": (
        "{files}: {found} onsets found, and the order has {played} takes; correct the order, or name those "
        'that are none with "--leave-out" and their numbers'
    ),
    "page": (
        "{found} onsets count, and the order has {played} takes: correct the order and show the cuts again, "
        "or tick those that are no takes."
    ),
}
TAKES_OVERLAP: dict[Surface, str] = {
    "terminal": "{overlap}; leave one out (--leave-out {later}), or both",
    "page": "{overlap}; leave one out, or both",
}
CLOSE_ONSETS = (
    "{file}: onsets {earlier} and {later} at {at_s:.2f} s lie {apart_s:.2f} s apart, so their takes"
    " would overlap"
)
WAS_IN = "was in already ({source})."
SAME_SECONDS = "{ids} came from the same seconds of a file of this name; void one if it is the same."


def cut_problem(problem: CutProblem, *, surface: Surface) -> str:
    """Why recordings cannot be cut, and what to do; the page names a file without its folder."""
    match problem:
        case NoOnset():
            return NO_ONSET.format(file=_file(problem.path, surface))
        case CountsDiffer():
            several = f"{len(problem.paths)} recordings"
            files = _file(problem.paths[0], surface) if len(problem.paths) == 1 else several
            return COUNTS_DIFFER[surface].format(files=files, found=problem.found, played=problem.played)
        case TakesOverlap():
            first, second = problem.earlier, problem.later
            overlap = CLOSE_ONSETS.format(
                file=_file(first.file.path, surface),
                earlier=first.number,
                later=second.number,
                at_s=first.at_s,
                apart_s=problem.apart_s,
            )
            return TAKES_OVERLAP[surface].format(overlap=overlap, later=second.number)
        case _:
            assert_never(problem)


def source_notes(imported: ImportedTake) -> tuple[str, ...]:
    """That a cut was in the job before, or that other takes are of the same seconds."""
    if imported.before is not None:
        return (WAS_IN.format(source=imported.cut.source),)
    ids = ", ".join(imported.same_seconds)
    return (SAME_SECONDS.format(ids=ids),) if ids else ()


def _file(path: Path, surface: Surface) -> str:
    return str(path) if surface == "terminal" else path.name
