"""The tables and the reliability diagram of the calibration study.

    python tests/studies/calibration/summary.py [--work FOLDER]

Reads FOLDER/jobs.jsonl as study.py wrote it, and writes RESULTS.md, reliability.png and by_method.png beside
this file. Shares have exact (Clopper-Pearson) 95 % intervals by scipy; Brier score and calibration curve are
scikit-learn's.
"""

from __future__ import annotations

import argparse
import datetime
import json
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from itertools import pairwise
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1]))

import environment
import matplotlib

matplotlib.use("Agg")

import matplotlib.pyplot as plt
import numpy as np
from reckoning import brier, expected_calibration_error, interval
from study import FILE, PLAN

HERE = Path(__file__).parent
EDGES = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 0.99, 0.995, 0.999, 1.0)
LETTERS = {"s": "in phase", "w": "hum cancels"}
KINDS = {
    ("ordinary", 1.0): ("ordinary", "o", "-"),
    ("wide", 1.0): ("wide conditions", "s", "none"),
    ("unseen", 1.0): ("unseen benches", "D", "none"),
    ("ordinary", 10.0): ("ten times the mistakes", "^", ":"),
}
LEAST_FOR_A_POINT = 10


@dataclass(frozen=True)
class Answers:
    """What was said of many relations: probabilities, truths and standings, (n,) each."""

    p: np.ndarray
    truth: np.ndarray
    standing: np.ndarray

    @property
    def confidence(self) -> np.ndarray:
        """How sure the better answer is."""
        return np.maximum(self.p, 1 - self.p)

    @property
    def right(self) -> np.ndarray:
        """Whether the better answer is so."""
        return (self.p > 0.5) == self.truth


def answers(rows: Iterable[dict]) -> Answers:
    """Those that said anything."""
    kept = [r for r in rows if r["p"] is not None]
    return Answers(
        np.array([r["p"] for r in kept], dtype=float),
        np.array([r["truth"] for r in kept], dtype=bool),
        np.array([r["standing"] for r in kept], dtype=object),
    )


def main() -> None:
    """Read, reckon, write."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--work", type=Path, default=Path(".calibration"))
    said = ask.parse_args()
    jobs = [json.loads(line) for line in (said.work / FILE).read_text().splitlines()]
    lines = [
        "# How sure is sure",
        "",
        f"`python tests/studies/calibration/study.py`, then `summary.py`, {datetime.date.today()}: "
        f"{len(jobs)} whole simulated jobs, {sum(j['takes'] for j in jobs)} takes of which "
        f"{sum(j['refused'] for j in jobs)} were refused, {sum(j['cpu_s'] for j in jobs) / 60:.0f} minutes "
        f"of processor time; numpy {version('numpy')}, "
        f"scipy {version('scipy')}, scikit-learn {version('scikit-learn')}. Plan (setting, factor on human "
        f"mistakes, jobs a row): {', '.join(str(p) for p in PLAN)}.",
    ]
    for letter, word in LETTERS.items():
        lines += ["", f'## All together: "{word}"', "", *overall(jobs, letter)]
    lines += ["", "## Settled and wrong, by whether the job shows it", "", *traced(jobs)]
    lines += ["", '## Settled at other priors: "in phase"', "", *at_other_priors(jobs)]
    lines += ["", "![Reliability](reliability.png)", ""]
    for (setting, factor), (name, _, _) in KINDS.items():
        chosen = [j for j in jobs if j["setting"] == setting and j["factor"] == factor]
        for letter, word in LETTERS.items():
            if letter == "w" and (setting, factor) != ("ordinary", 1.0):
                continue
            lines += [
                "",
                f'## {name[:1].upper()}{name[1:]}, by gesture: "{word}"',
                "",
                *by_gesture(chosen, letter),
            ]
    lines += ["", "## What went wrong where a settled answer was wrong", "", *wrong_ones(jobs)]
    lines += ["", "![Each method alone](by_method.png)", ""]
    (HERE / "RESULTS.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    draw(jobs, HERE / "reliability.png")
    draw_methods(jobs, HERE / "by_method.png")
    print("\n".join(lines))


def leaves_a_trace(job: dict) -> bool:
    """Whether anything in a job whose answer is wrong speaks against it: a method alone, or a conflict."""
    row = job["rows"]["s"]
    agree = all(p is None or (p > 0.5) == (row["p"] > 0.5) for p in job["by"].values())
    return job["conflict"] or not agree


def traced(jobs: Sequence[dict]) -> list[str]:
    """Wrong settled answers with a trace in their job, and those on which all in the job agrees."""
    lines = [
        "| conditions | settled | wrong, with a trace | % (95 % interval) | wrong, without |",
        "|---|---|---|---|---|",
    ]
    for (setting, factor), (name, _, _) in KINDS.items():
        mine = [j for j in jobs if j["setting"] == setting and j["factor"] == factor]
        settled = [j for j in mine if j["rows"]["s"]["standing"] == "settled"]
        wrong = [j for j in settled if (j["rows"]["s"]["p"] > 0.5) != j["rows"]["s"]["truth"]]
        shown = sum(map(leaves_a_trace, wrong))
        low, high = interval(shown, max(1, len(settled)))
        share = f"{100 * shown / max(1, len(settled)):.2f} ({100 * low:.2f} to {100 * high:.2f})"
        lines.append(f"| {name} | {len(settled)} | {shown} | {share} | {len(wrong) - shown} |")
    return lines


def at_other_priors(jobs: Sequence[dict]) -> list[str]:
    """Share settled, and wrong of these, with every prior at the low and the high end of its range."""
    lines = ["| conditions | priors | settled % | wrong of settled |", "|---|---|---|---|"]
    for (setting, factor), (name, _, _) in KINDS.items():
        rows = rows_of([j for j in jobs if j["setting"] == setting and j["factor"] == factor], "s")
        rows = [r for r in rows if r["p"] is not None and "at low" in r]
        for key, word in (("at low", "low end"), ("standing", "as they stand"), ("at high", "high end")):
            settled = [r for r in rows if r[key] == "settled"]
            wrong = sum((r["p"] > 0.5) != r["truth"] for r in settled)
            share = 100 * len(settled) / max(1, len(rows))
            lines.append(f"| {name} | {word} | {share:.1f} | {wrong} of {len(settled)} |")
    return lines


HEAD = (
    "| {first} | jobs | settled % | likely % | unsettled % | wrong of settled | % (95 % interval) | "
    "wrong of likely | % (95 % interval) | Brier | calibration error |"
)


def overall(jobs: Sequence[dict], letter: str) -> list[str]:
    """One row a kind of conditions."""
    lines = [HEAD.format(first="conditions"), "|" + "---|" * 11]
    for (setting, factor), (name, _, _) in KINDS.items():
        chosen = [j for j in jobs if j["setting"] == setting and j["factor"] == factor]
        for meter, way in ((None, "all"), (False, "no meter"), (True, "with meter")):
            mine = [j for j in chosen if meter is None or j["meter"] == meter]
            lines.append(_row(f"{name}, {way}", rows_of(mine, letter)))
    return lines


def by_gesture(jobs: Sequence[dict], letter: str) -> list[str]:
    """One row a gesture and way."""
    lines = [HEAD.format(first="gesture"), "|" + "---|" * 11]
    ways = sorted({(j["gesture"], j["meter"]) for j in jobs})
    for gesture, meter in ways:
        rows = rows_of([j for j in jobs if (j["gesture"], j["meter"]) == (gesture, meter)], letter)
        if any(r["p"] is not None for r in rows):
            lines.append(_row(f"{gesture}{', meter' if meter and gesture != 'meter alone' else ''}", rows))
    return lines


def rows_of(jobs: Iterable[dict], letter: str) -> list[dict]:
    """The answers of one letter; a job that says nothing of it has none."""
    return [j["rows"][letter] for j in jobs if letter in j["rows"]]


def _row(name: str, rows: Sequence[dict]) -> str:
    said = answers(rows)
    n = len(said.p)
    cells = [name, str(n)]
    if not n:
        return "| " + " | ".join([*cells, *["-"] * 9]) + " |"
    cells += [f"{100 * np.mean(said.standing == kind):.1f}" for kind in ("settled", "likely", "unsettled")]
    for kind in ("settled", "likely"):
        mine = said.standing == kind
        wrong, of = int(np.sum(mine & ~said.right)), int(np.sum(mine))
        low, high = interval(wrong, of)
        share = f"{100 * wrong / of:.2f} ({100 * low:.2f} to {100 * high:.2f})" if of else "-"
        cells += [f"{wrong} of {of}", share]
    cells += [f"{brier(said.truth, said.p):.4f}", f"{expected_calibration_error(said.truth, said.p):.3f}"]
    return "| " + " | ".join(cells) + " |"


def wrong_ones(jobs: Sequence[dict]) -> list[str]:
    """Every settled answer that was wrong, with the mishaps of its job."""
    lines = ["| job | letter | said | mishaps | conflict named |", "|---|---|---|---|---|"]
    for job in jobs:
        for letter, row in job["rows"].items():
            if row["standing"] == "settled" and (row["p"] > 0.5) != row["truth"]:
                key, mishaps = job["key"].replace("|", ", "), ", ".join(job["mishaps"]) or "none drawn"
                conflict = "yes" if job["conflict"] else "no"
                lines.append(f"| {key} | {letter} | {row['p']:.4f} | {mishaps} | {conflict} |")
    return lines if len(lines) > 2 else ["None."]


def binned(said: Answers) -> list[tuple[float, float, float, float, int]]:
    """For each bin of confidence: what was said, the share right, its interval, how many."""
    found = []
    for low, high in pairwise(EDGES):
        mine = (said.confidence >= low) & ((said.confidence < high) | (high == 1.0))
        count = int(mine.sum())
        if count >= LEAST_FOR_A_POINT:
            right = int(said.right[mine].sum())
            found.append((float(said.confidence[mine].mean()), right / count, *interval(right, count), count))
    return found


def _logit(x: np.ndarray | float) -> np.ndarray:
    q = np.clip(np.asarray(x, dtype=float), 0.2, 1 - 2e-4)
    return np.log(q / (1 - q))


TICKS = (0.5, 0.75, 0.9, 0.95, 0.99, 0.999)


def _axes(axis: plt.Axes, title: str) -> None:
    axis.plot(
        [_logit(0.3), _logit(0.9998)],
        [_logit(0.3), _logit(0.9998)],
        color="0.4",
        lw=1,
        label="as sure as it says",
    )
    for level, name in ((0.9, "likely"), (0.99, "settled")):
        axis.axvline(_logit(level), color="0.6", lw=1, ls=(0, (1, 3)))
        axis.text(_logit(level) + 0.06, _logit(0.33), name, rotation=90, va="bottom", fontsize=9, color="0.3")
    axis.set_xticks(_logit(np.array(TICKS)), [f"{100 * t:g}" for t in TICKS])
    axis.set_yticks(_logit(np.array(TICKS)), [f"{100 * t:g}" for t in TICKS])
    axis.set_xlim(_logit(0.48), _logit(0.9998))
    axis.set_ylim(_logit(0.3), _logit(0.9999))
    axis.set_xlabel("said: how sure the better answer is, per cent")
    axis.set_title(title, fontsize=11)


def draw(jobs: Sequence[dict], path: Path) -> None:
    """The reliability diagram: one panel a letter, points with intervals, how many jobs below each."""
    figure, panels = plt.subplots(2, 2, figsize=(11, 8.2), height_ratios=(3.2, 1), layout="constrained")
    for column, (letter, word) in enumerate(LETTERS.items()):
        axis, below = panels[0, column], panels[1, column]
        _axes(axis, f'"{word}"')
        for k, ((setting, factor), (name, mark, style)) in enumerate(KINDS.items()):
            said = answers(
                rows_of([j for j in jobs if (j["setting"], j["factor"]) == (setting, factor)], letter)
            )
            points = binned(said)
            if not points:
                continue
            x = _logit(np.array([p[0] for p in points])) + 0.05 * (k - 1.5)
            y, low, high = (np.array([p[i] for p in points]) for i in (1, 2, 3))
            error = [_logit(y) - _logit(low), _logit(high) - _logit(y)]
            shade = ("black", "tab:blue", "tab:green", "tab:red")[k]
            axis.errorbar(x, _logit(y), error, fmt=mark, ls=style, color=shade, capsize=3, lw=1.2, label=name)
            below.plot(x, [p[4] for p in points], marker=mark, ls=style, color=shade, lw=1.2)
        below.set_yscale("log")
        below.set_xlim(axis.get_xlim())
        below.set_xticks(axis.get_xticks(), [f"{100 * t:g}" for t in TICKS])
        below.set_ylabel("answers in the bin")
    panels[0, 0].set_ylabel("was so, per cent")
    panels[0, 0].legend(loc="lower right", fontsize=9)
    figure.savefig(path, dpi=150)
    plt.close(figure)


def draw_methods(jobs: Sequence[dict], path: Path) -> None:
    """What each method alone says of "in phase", under an even prior, in ordinary conditions."""
    chosen = [j for j in jobs if (j["setting"], j["factor"]) == ("ordinary", 1.0)]
    methods = sorted({m for j in chosen for m in j["by"]})
    across = 3
    rows = -(-len(methods) // across)
    figure, panels = plt.subplots(rows, across, figsize=(11, 3.6 * rows), layout="constrained", squeeze=False)
    for axis, method in zip(panels.flat, methods, strict=False):
        found = [
            (j["by"][method], j["rows"]["s"]["truth"]) for j in chosen if j["by"].get(method) is not None
        ]
        p, truth = np.array([f[0] for f in found]), np.array([f[1] for f in found], dtype=bool)
        said = Answers(p, truth, np.full(len(p), "", dtype=object))
        wrong = int(np.sum(~said.right))
        _axes(axis, f"{method}: {wrong} of {len(p)} wrong")
        points = binned(said)
        if points:
            y, low, high = (np.array([q[i] for q in points]) for i in (1, 2, 3))
            error = [_logit(y) - _logit(low), _logit(high) - _logit(y)]
            axis.errorbar(
                _logit(np.array([q[0] for q in points])), _logit(y), error, fmt="o", color="black", capsize=3
            )
    for axis in list(panels.flat)[len(methods) :]:
        axis.set_visible(False)
    figure.savefig(path, dpi=150)
    plt.close(figure)


if __name__ == "__main__":
    main()
