"""Runs the stories and their twins through the verdict, and makes the table.

    python -m studies.shared_causes.run --out FOLDER --benches 30
    python -m studies.shared_causes.run --out FOLDER --table RESULTS.md --title "..."

with the project's top folder and its ``tests`` on PYTHONPATH. Each bench is written into a temporary folder
(or kept in that of ``--bank``, and not made again) and judged through the command ``coilwise verdict FOLDER
--json`` alone; what is kept is one JSON line a bench and side in ``FOLDER/rows.jsonl``. What is there already
is not done again: a run that was stopped goes on.

Task: for each story, side and question the count of benches by the worst of their pairs. Shapes: none. Units:
seconds; probabilities. Signs: an answer is right where it is the truth that the generator returned.
"""

from __future__ import annotations

import argparse
import contextlib
import functools
import io
import json
import os
import pickle
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

os.environ.setdefault("COILWISE_CACHE", "off")
for threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(threads, "1")

import numpy as np
import typer
from scipy.stats import beta
from studies.shared_causes.record import Answer, Pair, Story, Truth, seed_of
from studies.shared_causes.stories import SETS, STORIES, chosen
from studies.shared_causes.unlike import WORLDS, World

BENCHES = 30
SETTLED, LIKELY = 0.99, 0.90
OUTCOMES = ("settled right", "likely right", "unsettled", "likely wrong", "settled wrong")
"""From the best to the worst; a bench counts by the worst of its pairs."""
SIDES = ("story", "twin")
CONFIDENCE = 0.95
LONGEST = 110
FAULT = 2


@functools.cache
def _command() -> Any:
    """The command line, built once for all jobs."""
    from reports.cli import app

    return typer.main.get_command(app)


def judged(folder: Path) -> tuple[int, dict[str, Any]]:
    """Exit status and printed verdict of the command."""
    printed, complaints, status = io.StringIO(), io.StringIO(), 0
    with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(complaints):
        try:
            _command()(["verdict", str(folder), "--json"])
        except SystemExit as left:
            status = int(left.code or 0)
    try:
        return status, json.loads(printed.getvalue())
    except json.JSONDecodeError:
        return FAULT, {"complaint": complaints.getvalue() or printed.getvalue()}


def outcome(answer: Answer, p: float | None, standing: str) -> str | None:
    """How an answer stands against the truth; None where nothing was asked."""
    if answer == "not asked":
        return None
    if p is None or standing not in ("settled", "likely"):
        return "unsettled"
    right = answer != "neither" and (p > 0.5) == (answer == "yes")
    return f"{standing} {'right' if right else 'wrong'}"


def by_probability(p: float | None) -> str:
    """Standing of a probability alone, for hum in a setting, to which the verdict prints none."""
    sure = 0.5 if p is None else max(p, 1.0 - p)
    return "settled" if sure >= SETTLED else "likely" if sure >= LIKELY else "unsettled"


def scored(truth: Truth, verdict: Mapping[str, Any]) -> dict[str, str | None]:
    """The worst outcome for phase and for hum."""
    phases: list[str | None] = []
    hums: list[str | None] = []
    pairs = {Pair(one["a"], one["b"]): one for one in verdict.get("pairs", ())}
    for pair, answer in truth.phase.items():
        said = pairs.get(pair, {})
        phases.append(outcome(answer, said.get("p_in_phase"), said.get("standing", "unsettled")))
        p = said.get("p_hum_cancels")
        hums.append(outcome(truth.hum[pair], p, said.get("hum_standing", by_probability(p))))
    for setting in verdict.get("settings", ()):
        if setting["name"] in truth.quiet:
            p = setting.get("p_hum_cancels")
            hums.append(outcome(truth.quiet[setting["name"]], p, by_probability(p)))
    return {"phase": _worst(phases), "hum": _worst(hums)}


def _worst(found: Iterable[str | None]) -> str | None:
    said = [one for one in found if one is not None]
    return max(said, key=OUTCOMES.index) if said else None


def said_first(verdict: Mapping[str, Any]) -> str:
    """What a reader would see first: a conflict's cause, a finding, why a pair is open, a take's fault."""
    for conflict in verdict.get("conflicts", ()):
        return f"conflict: {conflict['likely_cause']}"
    for key in ("findings", "because", "faults"):
        for text in _texts(verdict, key):
            return text
    return str(verdict.get("complaint", "")).strip()


def _texts(verdict: Mapping[str, Any], key: str) -> list[str]:
    if key == "because":
        return [one["because"] for one in verdict.get("pairs", ()) if one.get("because")]
    if key == "faults":
        return [fault for take in verdict.get("takes", ()) for fault in take["faults"]]
    return [one if isinstance(one, str) else _longest(one) for one in verdict.get(key, ())]


def _longest(finding: Mapping[str, Any]) -> str:
    return max((v for v in finding.values() if isinstance(v, str)), key=len, default="")


@contextlib.contextmanager
def made(
    story: Story, number: int, *, twin: bool, series: int, world: World, bank: Path | None
) -> Iterator[tuple[Path, Truth]]:
    """The folder of one bench and its truth; from the bank where it is there, and kept there where there is
    one.
    """
    rng = np.random.default_rng(seed_of(story.name, number, series=series))
    if bank is None:
        with tempfile.TemporaryDirectory() as loose:
            folder = Path(loose) / "job"
            yield folder, story.bench(folder, rng, twin=twin, world=world)
        return
    place = bank / f"{world.name}{series}" / story.name / SIDES[twin] / str(number)
    kept = place / "truth.pkl"
    if not kept.exists():
        place.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=place) as loose:
            folder = Path(loose) / "job"
            truth = story.bench(folder, rng, twin=twin, world=world)
            folder.rename(place / "job")
        kept.write_bytes(pickle.dumps(truth))
    yield place / "job", pickle.loads(kept.read_bytes())


def one_bench(
    story: Story, number: int, *, twin: bool, series: int, world: World, bank: Path | None = None
) -> dict[str, Any]:
    """Make one bench, judge it once, and return its row."""
    begin = time.monotonic()
    with made(story, number, twin=twin, series=series, world=world, bank=bank) as (folder, truth):
        status, verdict = judged(folder)
    answers = [
        {
            "a": pair.a,
            "b": pair.b,
            "in_phase": truth.phase[pair],
            "hum_cancels": truth.hum[pair],
            **{
                key: said.get(key)
                for said in verdict.get("pairs", ())
                if (said["a"], said["b"]) == pair
                for key in ("p_in_phase", "standing", "p_hum_cancels", "hum_standing", "p_in_phase_range")
            },
        }
        for pair in truth.phase
    ]
    return {
        "story": story.name,
        "side": SIDES[twin],
        "bench": number,
        "series": series,
        "world": world.name,
        **scored(truth, verdict),
        "said": said_first(verdict),
        "status": status,
        "conflicts": len(verdict.get("conflicts", ())),
        "unused": sum(not take["used"] for take in verdict.get("takes", ())),
        "pairs": answers,
        "seconds": round(time.monotonic() - begin, 1),
    }


# ---- the table --------------------------------------------------------------------------------------------


def upper_bound(wrong: int, count: int) -> float:
    """The one-sided 95 % bound (Clopper-Pearson) on a rate of which ``wrong`` of ``count`` were seen."""
    return 1.0 if wrong >= count else float(beta.ppf(CONFIDENCE, wrong + 1, count - wrong))


def read_rows(out: Path) -> list[dict[str, Any]]:
    """All rows that a run has left; a torn last line is left out."""
    file = out / "rows.jsonl"
    rows = []
    for line in file.read_text(encoding="utf-8").splitlines() if file.exists() else ():
        with contextlib.suppress(json.JSONDecodeError):
            rows.append(json.loads(line))
    return rows


def table(rows: Iterable[Mapping[str, Any]], *, title: str) -> str:
    """The rows as Markdown, one line a story, side and question."""
    kept = list(rows)
    lines = [
        f"# {title}",
        "",
        f"{_drawn(kept)} What the columns mean stands in README.md.",
        "",
        _totals(kept),
        _settled_and_wrong(kept),
        "| story | side | asked | settled right | likely right | unsettled | likely wrong | settled wrong"
        " | at most | most said |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for story in STORIES:
        for side in SIDES:
            mine = [row for row in kept if row["story"] == story.name and row["side"] == side]
            for question in ("phase", "hum"):
                counted = Counter(row[question] for row in mine if row[question] is not None)
                wrong = counted["settled wrong"] + counted["likely wrong"]
                if counted and (question in story.asks or wrong):
                    lines.append(_line(story, side, question, counted, mine))
    return "\n".join(lines) + "\n"


def _line(
    story: Story, side: str, question: str, counted: Mapping[str, int], rows: list[Mapping[str, Any]]
) -> str:
    count = sum(counted.values())
    said = Counter(row["said"] for row in rows if row["said"]).most_common(1)
    words = said[0][0].replace("|", "/").replace("\n", " ") if said else ""
    shown = words if len(words) <= LONGEST else words[:LONGEST].rsplit(" ", 1)[0] + " ..."
    cells = [str(counted[one]) if one in counted else "." for one in OUTCOMES]
    bound = f"{100.0 * upper_bound(counted.get('settled wrong', 0), count):.0f} %"
    name = story.name + (" *" if story.odd else "") + ("" if story.tells else " (untold)")
    return f"| {' | '.join([name, side, question, *cells, bound, shown])} |"


def _drawn(rows: list[Mapping[str, Any]]) -> str:
    """Which benches these are."""
    of = sorted({f"series {row['series']} of the {row['world']} bench" for row in rows})
    stories = len({row["story"] for row in rows})
    return f"{', '.join(of)}: {stories} stories with their twins, {len(rows)} jobs.".capitalize()


def _settled_and_wrong(rows: list[Mapping[str, Any]]) -> str:
    """The stories and twins with an answer that was settled and wrong."""
    lines = ["Settled and wrong:", ""]
    for side in SIDES:
        for question in ("phase", "hum"):
            mine = [row for row in rows if row["side"] == side]
            wrong = Counter(row["story"] for row in mine if row[question] == "settled wrong")
            listed = ", ".join(f"{name} ({times})" for name, times in wrong.items())
            lines.append(f"- {side}, {question}: {listed or 'none'}")
    return "\n".join(lines) + "\n"


def _totals(rows: list[Mapping[str, Any]]) -> str:
    """Counts over all stories, for what each was made to find out."""
    asks = {story.name: story.asks for story in STORIES}
    lines = ["| all | " + " | ".join(OUTCOMES) + " |", "|---|---|---|---|---|---|"]
    for side in SIDES:
        for question in ("phase", "hum"):
            counted = Counter(
                row[question]
                for row in rows
                if row["side"] == side and question in asks[row["story"]] and row[question] is not None
            )
            cells = [str(counted[one]) for one in OUTCOMES]
            lines.append(f"| {side}, {question} | {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


# ---- the command ------------------------------------------------------------------------------------------


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    """What was asked for."""
    parser = argparse.ArgumentParser(description="Stories with one hidden cause behind several takes.")
    parser.add_argument("--out", type=Path, required=True, help="folder for rows.jsonl")
    parser.add_argument("--stories", default="", help="only those whose name or subject holds this text")
    parser.add_argument("--set", choices=sorted(SETS), default="all", help="first: those of RESULTS.md")
    parser.add_argument("--benches", type=int, default=BENCHES, help="number after the last bench")
    parser.add_argument("--first", type=int, default=0, help="number of the first bench")
    parser.add_argument("--seed", type=int, default=0, help="the series of seeds (README.md)")
    parser.add_argument("--bank", type=Path, help="folder in which benches are kept, to be judged again")
    parser.add_argument("--world", choices=sorted(WORLDS), default="usual")
    parser.add_argument("--workers", type=int, default=1, help="processors that may be used")
    parser.add_argument("--table", type=Path, help="only write the table of what is there, to this file")
    parser.add_argument("--title", default="One hidden cause behind several takes")
    return parser.parse_args(words)


def main(words: list[str] | None = None) -> int:
    """Run what is missing, or write the table."""
    asked = arguments(words)
    of_this = ("series", "world")
    here = (asked.seed, asked.world)
    rows = [row for row in read_rows(asked.out) if tuple(row[key] for key in of_this) == here]
    if asked.table:
        rows = [row for row in rows if row["story"] in {story.name for story in SETS[asked.set]}]
        asked.table.write_text(table(rows, title=asked.title), encoding="utf-8")
        return 0
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, set(sorted(os.sched_getaffinity(0))[: max(1, asked.workers)]))
    asked.out.mkdir(parents=True, exist_ok=True)
    done = {(row["story"], row["side"], row["bench"]) for row in rows}
    left = [
        (story.name, number, side, asked.seed, asked.world, asked.bank)
        for number in range(asked.first, asked.benches)
        for story in chosen(asked.stories, among=asked.set)
        for side in SIDES
        if (story.name, side, number) not in done
    ]
    with (
        (asked.out / "rows.jsonl").open("a", encoding="utf-8") as file,
        ProcessPoolExecutor(max(1, asked.workers)) as pool,
    ):
        for row in pool.map(_row_of, left):
            print(json.dumps(row), file=file, flush=True)
            shown = f"{row['phase']} / {row['hum']}"
            print(
                f"{row['seconds']:5.1f} s {row['story']}, {row['side']} {row['bench']}: {shown}",
                file=sys.stderr,
            )
    return 0


def _row_of(work: tuple[str, int, str, int, str, Path | None]) -> dict[str, Any]:
    name, number, side, series, world, bank = work
    story = next(one for one in STORIES if one.name == name)
    return one_bench(story, number, twin=side == "twin", series=series, world=WORLDS[world], bank=bank)


if __name__ == "__main__":
    sys.exit(main())
