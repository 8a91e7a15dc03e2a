"""Constructions that a bench sees now and then, simulated and judged: how many settle, how many are wrong.

    python tests/studies/constructions/table.py --keep FOLDER [--jobs 30] [--only stacked]

For each row that many benches, each a real job folder judged by reports.verdict.building. What came out of
each job is kept in FOLDER, so that the study goes on where it was stopped, and several may work at it. Prints
a table in Markdown. ``--only`` takes a part of "construction | entered | gesture".
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import environment
import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(environment.TESTS / "reports" / "verdict")]
import circuits
import more_strings
import pickups
from cases import OUTCOMES, Case

BAR = "\\|"
"""A bar within a cell."""
CASES = (*pickups.CASES, *circuits.CASES, *more_strings.CASES)


def line(cells: Sequence[str]) -> str:
    """One line of the table."""
    return f"| {' | '.join(cell.replace('|', BAR) for cell in cells)} |"


def outcomes_of(case: Case, number: int, keep: Path) -> list[str]:
    """What came of one job of a row: as it was kept, else made and judged; none while another works at it."""
    kept = keep / f"{sha256(case.key.encode()).hexdigest()[:16]}-{number:03d}"
    try:
        taken = os.open(kept, os.O_CREAT | os.O_EXCL | os.O_WRONLY)
    except FileExistsError:
        return kept.read_text(encoding="utf-8").splitlines()
    try:
        with tempfile.TemporaryDirectory() as place:
            found = case.outcomes(Path(place), np.random.default_rng([1, number]))
            each = [found] if isinstance(found, str) else list(found)
    except BaseException:
        kept.unlink()
        raise
    with os.fdopen(taken, "w", encoding="utf-8") as file:
        file.write("\n".join(each))
    return each


def main() -> None:
    """Run what is not there yet and print the table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--keep", type=Path, required=True)
    ask.add_argument("--jobs", type=int, default=30)
    ask.add_argument("--only", default="")
    said = ask.parse_args()
    said.keep.mkdir(parents=True, exist_ok=True)
    heads = ("construction", "entered", "gesture", "jobs", *OUTCOMES, "wanted")
    print(line(heads), "|---" * len(heads) + "|", sep="\n")
    for case in (c for c in CASES if said.only in c.key):
        jobs = [outcomes_of(case, k, said.keep) for k in range(said.jobs)]
        n = Counter(outcome for job in jobs for outcome in job)
        figures = (str(n[outcome]) for outcome in OUTCOMES)
        done = str(sum(1 for job in jobs if job))
        print(line((case.construction, case.entered, case.gesture, done, *figures, case.wanted)), flush=True)


if __name__ == "__main__":
    main()
