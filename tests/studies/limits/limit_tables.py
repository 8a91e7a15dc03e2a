"""Tables of the distance to the limit.

Task: finished trials (distance.py) to error curves, to the points where they pass 1 % and 10 %, and to
Markdown. Shapes: decisions (trials, steps), 1 right, 0 wrong, NaN refused or nothing said. Units: dB of
signal to noise as simulator.conditions has it. Signs: none left; a decision is right or wrong.

An error curve counts what was refused as the toss of a coin. It is made to fall (isotonic), since more noise
can help by chance only, and crossed by straight lines between the steps. Spans are 95 % of 400 draws of the
benches.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from limit_bounds import checked_against_d1, signs_agree, signs_agree_simulated, unknown_sign
from limit_takes import FAMILIES
from numpy.typing import NDArray
from scipy.optimize import isotonic_regression

Array = NDArray[np.float64]
Rows = NDArray[np.int64]

TARGETS = (0.01, 0.10)
ORDINARY_DB = (35.0, 60.0)
DRAWS = 400
FINE_DB = np.arange(-60.0, 61.0, 0.25)
SYNTHETIC = ((1.0, 2.0), (2.0, 2.0), (0.5, 3.0), (2.5, 2.0))
SYNTHETIC_TRIALS = 400_000
LEAST_REASON = 0.05


@dataclass(frozen=True, eq=False)
class Curve:
    """Decisions of one method in one way, (trials, steps), at ``steps`` (steps,)."""

    steps: Array
    decisions: Array

    def errors(self, rows: Rows | None = None) -> Array:
        """Share of wrong decisions, what was refused counting half, (steps,)."""
        chosen = self.decisions if rows is None else self.decisions[rows]
        return np.asarray(np.where(np.isnan(chosen), 0.5, 1.0 - chosen).mean(axis=0))

    def refused(self) -> Array:
        """Share that was refused or said nothing, (steps,)."""
        return np.asarray(np.isnan(self.decisions).mean(axis=0))

    def crossing(self, target: float, rows: Rows | None = None) -> float:
        """Where the error falls to ``target``; NaN if it never does, or always was below."""
        return crossed(self.steps, self.errors(rows), target)

    def span(self, target: float) -> tuple[float, float]:
        """95 % of the crossings of drawn benches; an end is NaN where 1 in 40 never crosses."""
        rng = np.random.default_rng(0)
        count = len(self.decisions)
        found = np.array([self.crossing(target, rng.integers(count, size=count)) for _ in range(DRAWS)])
        found = np.sort(np.where(np.isnan(found), np.inf, found))
        low, high = found[int(0.025 * DRAWS)], found[int(0.975 * DRAWS)]
        return float(low), float(high)


@dataclass(frozen=True, eq=False)
class Method:
    """One method: what the tool does, what it does when told where to listen, the bound, and with hands."""

    name: str
    heard: Curve
    told: Curve
    bound: Array
    """Error of the best detector at ``FINE_DB``."""
    hands: Curve
    reasons: Counter[str]
    takes_refused: int

    def bound_at(self, target: float) -> float:
        """Where the bound falls to ``target``."""
        return crossed(FINE_DB, self.bound, target)


def crossed(steps: Array, errors: Array, target: float) -> float:
    """Where a curve that is made to fall comes down to ``target``."""
    falling = isotonic_regression(errors, increasing=False).x
    below = np.flatnonzero(falling <= target)
    if not len(below) or below[0] == 0:
        return float("nan")
    k = int(below[0])
    share = (falling[k - 1] - target) / (falling[k - 1] - falling[k])
    return float(steps[k - 1] + share * (steps[k] - steps[k - 1]))


def methods(trials: Sequence[dict[str, Any]]) -> list[Method]:
    """All methods there are trials of, in the order of the families."""
    names: dict[str, list[dict[str, Any]]] = {}
    families = list(FAMILIES)
    for one in sorted(trials, key=lambda t: (families.index(t["key"][0]), t["key"][1])):
        for name in one["heard"]:
            names.setdefault(name, []).append(one)
    return [found for name, mine in names.items() if (found := _method(name, mine)) is not None]


def _method(name: str, trials: Sequence[dict[str, Any]]) -> Method | None:
    still = [t for t in trials if t["key"][2]]
    hands = [t for t in trials if not t["key"][2]]
    if not still or not hands:
        return None
    told = _curve(still, "told", name)
    heard = _curve(still, "heard", name)
    bounds = []
    for t in still:
        rule, distances = t["bounds"][name]
        d = np.outer(distances, 10 ** (FINE_DB / 20))
        bounds.append(signs_agree(*d) if rule == "agree" else unknown_sign(d[0]))
    reasons: Counter[str] = Counter()
    refused = 0
    for t in still:
        for why, decision in zip(t["why"], t["heard"][name], strict=True):
            if decision is None:
                refused += 1
                reasons.update(why or ["nothing said"])
    return Method(name, heard, told, np.mean(bounds, axis=0), _curve(hands, "heard", name), reasons, refused)


def _curve(trials: Sequence[dict[str, Any]], way: str, name: str) -> Curve:
    rows = np.array([[np.nan if v is None else v for v in t[way][name]] for t in trials], dtype=np.float64)
    return Curve(np.array(trials[0]["steps"][-rows.shape[1] :], dtype=np.float64), rows)


def written(trials: Sequence[dict[str, Any]], folder: Path) -> str:
    """Write DISTANCE.md and distance.png, and return the text."""
    from limit_picture import draw

    found = methods(trials)
    text = "\n".join(
        [*_head(trials), "", *_limits(found), "", *_tens(found), "", *_hands(found), "", *_why(found)]
    )
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "DISTANCE.md").write_text(text + "\n")
    draw(found, folder / "distance.png")
    return text


def _head(trials: Sequence[dict[str, Any]]) -> list[str]:
    seeds = sorted({t["key"][3] for t in trials})
    lines = [
        f"Made by distance.py, seed {', '.join(map(str, seeds))}, {len(trials)} trials. Figures of source D1 "
        f"reproduced within {100 * checked_against_d1():.2f} %. Two noisy channels, formula against the "
        f"product of the signs and against the likelihood ratio on {SYNTHETIC_TRIALS} synthetic pairs:",
        "",
        "| d_a, d_b | p_a (1 - p_b) + p_b (1 - p_a) | product rule | likelihood ratio |",
        "|---|---|---|---|",
    ]
    rng = np.random.default_rng(1)
    for a, b in SYNTHETIC:
        product, ratio = signs_agree_simulated(a, b, trials=SYNTHETIC_TRIALS, rng=rng)
        lines.append(
            f"| {a}, {b} | {float(signs_agree(a, b)):.5f} | {product / SYNTHETIC_TRIALS:.5f} | "
            f"{ratio / SYNTHETIC_TRIALS:.5f} |"
        )
    return lines


def _limits(found: Sequence[Method]) -> list[str]:
    lines = [
        "Signal to noise in dB at which 1 % is wrong, hands still. Ordinary benches: 35 to 60 dB.",
        "",
        "| method | benches | bound | told (95 %) | loss, told | whole way (95 %) | loss, whole way "
        "| refused there | wrong of spoken there | 35 dB is above it by |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for m in found:
        bound, told, heard = m.bound_at(0.01), m.told.crossing(0.01), m.heard.crossing(0.01)
        at = -1 if np.isnan(heard) else int(np.searchsorted(m.heard.steps, heard - 1e-9))
        column = m.heard.decisions[:, at]
        spoken = column[~np.isnan(column)]
        lines.append(
            f"| {m.name} | {len(m.heard.decisions)} | {_db(bound)} | {_with_span(m.told, told)} | "
            f"{_db(told - bound)} | {_with_span(m.heard, heard)} | {_db(heard - bound)} | "
            f"{100 * m.heard.refused()[at]:.1f} % | {int(np.sum(spoken == 0))} of {len(spoken)} | "
            f"{_db(ORDINARY_DB[0] - heard)} |"
        )
    return lines


def _with_span(curve: Curve, value: float) -> str:
    if np.isnan(value) and curve.errors().max() <= TARGETS[0]:
        return f"below {curve.steps[0]:.0f}"
    if np.isnan(value):
        return f"never: {100 * float(np.min(curve.errors())):.1f} % at best"
    low, high = curve.span(0.01)
    return f"{value:.0f} ({low:.0f} to {'never' if np.isinf(high) else f'{high:.0f}'})"


def _db(value: float) -> str:
    return "-" if np.isnan(value) else f"{value:.0f}"


def _tens(found: Sequence[Method]) -> list[str]:
    lines = [
        "The same at 10 % wrong.",
        "",
        "| method | bound | told | loss, told | whole way | loss, whole way |",
        "|---|---|---|---|---|---|",
    ]
    for m in found:
        bound, told, heard = (x(TARGETS[1]) for x in (m.bound_at, m.told.crossing, m.heard.crossing))
        lines.append(
            f"| {m.name} | {_db(bound)} | {_db(told)} | {_db(told - bound)} | {_db(heard)} | "
            f"{_db(heard - bound)} |"
        )
    return lines


def _hands(found: Sequence[Method]) -> list[str]:
    steps = found[0].hands.steps
    lines = [
        "Ordinary hands and hum: wrong of those that spoke (refused or nothing said), by signal to noise.",
        "",
        "| method | benches | "
        + " | ".join(f"{step:.0f} dB" for step in steps)
        + " | hands still, loudest step |",
        "|---|---|" + "---|" * (len(steps) + 1),
    ]
    for m in found:
        cells = [_cell(m.hands.decisions[:, k]) for k in range(len(steps))]
        last = f"{_cell(m.heard.decisions[:, -1])} at {m.heard.steps[-1]:.0f} dB"
        lines.append(f"| {m.name} | {len(m.hands.decisions)} | {' | '.join(cells)} | {last} |")
    return lines


def _cell(column: Array) -> str:
    spoken = column[~np.isnan(column)]
    return f"{int(np.sum(spoken == 0))} of {len(spoken)} ({len(column) - len(spoken)})"


def _why(found: Sequence[Method]) -> list[str]:
    lines = [
        "What was refused on the whole way at all steps together, hands still, and why (one trial may have "
        "several reasons).",
        "",
        "| method | refused or nothing said | reasons |",
        "|---|---|---|",
    ]
    for m in found:
        said = [
            f"{code} {100 * n / m.takes_refused:.0f} %"
            for code, n in m.reasons.most_common()
            if n > LEAST_REASON * m.takes_refused
        ]
        lines.append(f"| {m.name} | {m.takes_refused} of {m.heard.decisions.size} | {', '.join(said)} |")
    return lines
