"""Constructions that a bench sees now and then, simulated and judged: how many settle, how many are wrong.

    python tests/studies/constructions/constructions.py [--jobs 30] [--seed 1] [--only stacked]

For each construction and gesture that many benches (construction_jobs), each a real job folder judged by
reports.verdict.building. What is asked goes by the construction: phase with the bridge, string by string
where it goes with the string; how coils are to be joined; whether hum cancels; whether halves oppose each
other. Prints a table in Markdown.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Literal

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import environment
import numpy as np
from construction_jobs import (
    OTHER,
    Made,
    compass,
    hum,
    in_turn,
    job_with,
    joint_is_right,
    lifts,
    loose_leads,
    paired,
)
from simulator import builds

from capture.log import Check
from capture.log.entries import new_entry
from capture.log.writing import append_entry

Outcome = Literal["right", "wrong", "likely right", "likely wrong", "unsettled"]
Answer = tuple[str, bool]
"""A standing, and whether what it stands for is true."""
GUITAR, BASS = ("E2", "A2", "D3", "G3"), ("E1", "A1", "D2", "G2")
UNDER = (("E1", "A1"), ("D2", "G2"))
LOWER, HIGHER = {"coil": 1, "string": "E1"}, {"coil": 2, "string": "G2"}


OUTCOMES: tuple[Outcome, ...] = ("right", "wrong", "likely right", "likely wrong", "unsettled")


def line(cells: Sequence[str]) -> str:
    """One line of the table."""
    return f"| {' | '.join(cells)} |"


def counted(answer: Answer) -> Outcome:
    """An answer as it is counted."""
    standing, true = answer
    if standing == "settled":
        return "right" if true else "wrong"
    if standing == "likely":
        return "likely right" if true else "likely wrong"
    return "unsettled"


def whole_phase(made: Made, verdict: Any) -> Answer:
    """Phase of the pair in one word."""
    pair = verdict.pairs[0]
    return pair.standing if pair.phase else "unsettled", (pair.phase == "in phase") == made.both(
        made.bench.strings[0].name
    )


def phase_by_string(made: Made, verdict: Any) -> Answer:
    """Phase string by string: as sure as the least sure, and wrong where one is wrong."""
    rows = verdict.pairs[0].by_string
    if any(row.phase is None for row in rows) or not rows:
        return "unsettled", True
    standing = "likely" if any(row.standing == "likely" for row in rows) else "settled"
    return standing, all((row.phase == "in phase") == made.both(row.string) for row in rows)


def halves_told(made: Made, verdict: Any) -> Answer:
    """Whether halves that oppose each other are found, and those that do not are not."""
    standing, true = phase_by_string(made, verdict)
    opposed = any(type(f.what).__name__ == "HalvesOpposed" for f in verdict.findings)
    found = opposed == made.facts["joined_wrong"]
    rows = [row for row in verdict.wiring if row.pickup == OTHER and not row.exchange]
    mended = not opposed or any(len(row.coils_exchanged) == 1 for row in (*rows, *verdict.wiring))
    return standing, true and found and mended


def joined(made: Made, verdict: Any) -> Answer:
    """How the coils of a loose pickup are to be joined."""
    row = next(one for one in verdict.coil_leads if one.pickup == OTHER)
    if not row.roles or row.why is None or row.why.chain is None:
        return "unsettled", True
    return row.standing, all(joint_is_right(made, row.roles, row.why.chain))


def hum_of_pair(made: Made, verdict: Any) -> Answer:
    """Whether hum of the two cancels."""
    pair, bench = verdict.pairs[0], made.bench
    if pair.p_hum_cancels is None:
        return "unsettled", True
    opposite = bench.w("bridge") != bench.w(OTHER)
    return pair.hum_standing, (pair.p_hum_cancels > 0.5) == opposite


@dataclass(frozen=True)
class Case:
    """One row of the table."""

    construction: str
    entered: str
    gesture: str
    make: Callable[[Path, np.random.Generator], Made]
    ask: Callable[[Made, Any], Answer]
    wanted: str = ""


def _stack(
    place: Path, rng: np.random.Generator, *, play: Callable[[Made], None], loose: bool = False, **said: Any
) -> Made:
    upper: Literal[1, 2] = 2 if loose and rng.integers(2) else 1
    if loose and said.get("upper"):
        said["upper"] = ("violet", "brown")[upper - 1]
    keys = {"coils": 2, "fitted": not loose, **said}
    made = job_with(place, rng, partial(_stacked, rng, upper=upper), said=keys)
    play(made)
    return made


def _stacked(rng: np.random.Generator, pickup: Any, *, upper: Literal[1, 2]) -> Any:
    return builds.stacked(rng, pickup, upper=upper)


def _compassed(made: Made) -> None:
    loose_leads(made)
    for coil in (1, 2):
        compass(made, facing="north", coil=coil)


def _dummy(place: Path, rng: np.random.Generator) -> Made:
    made = job_with(place, rng, builds.dummy, said={"coils": 1, "build": "dummy"})
    hum(made)
    return made


def _halves(
    place: Path, rng: np.random.Generator, *, play: Callable[[Made], None], wrong: bool, **said: Any
) -> Made:
    make = partial(builds.halves, under=UNDER, joined_wrong=wrong)
    made = job_with(place, rng, make, bass=True, said=said or {"coils": 2, "build": "halves"})
    made.facts["joined_wrong"] = wrong
    play(made)
    return made


def _poles(place: Path, rng: np.random.Generator, *, play: Callable[[Made], None], **said: Any) -> Made:
    made = job_with(place, rng, partial(builds.alternating, strings=6), said={"coils": 1, **said})
    play(made)
    return made


def _four_poles(made: Made) -> None:
    lifts(made, tuple({"string": s} for s in (*GUITAR, *GUITAR[:2])))


def _two_halves(made: Made) -> None:
    lifts(made, (LOWER, HIGHER, LOWER, HIGHER, LOWER, HIGHER))


def _two_halves_tool_tried(made: Made) -> None:
    _two_halves(made)
    tried = new_entry(Check, what="tool", tool="steel rod", staple="not lifted")
    append_entry(made.folder.path, tried)


def _one_pole_each(made: Made) -> None:
    paired(made, ("A2", "G3", "A2"))
    for k, string in enumerate(GUITAR):
        compass(made, facing=("north", "south")[k % 2], string=string)


def _plucked(strings: tuple[str, ...]) -> Callable[[Made], None]:
    return partial(paired, strings=strings)


STACK = {"build": "stacked"}
POLES = {"poles": "alternate"}
CASES = (
    Case(
        "stacked, fitted",
        "build",
        "paired plucks",
        partial(_stack, play=_plucked(GUITAR[1:] * 2), **STACK),
        whole_phase,
    ),
    Case(
        "stacked, fitted",
        "build",
        "presses in turn",
        partial(_stack, play=partial(in_turn, strings=GUITAR[1:] * 2), **STACK),
        whole_phase,
    ),
    Case("stacked, fitted", "build", "lifts", partial(_stack, play=lifts, **STACK), whole_phase),
    Case(
        "stacked, loose, four leads",
        "build and upper",
        "ohms and lifts",
        partial(_stack, play=loose_leads, loose=True, upper="yes", **STACK),
        joined,
    ),
    Case(
        "stacked, loose, four leads",
        "build alone",
        "ohms and lifts",
        partial(_stack, play=loose_leads, loose=True, **STACK),
        joined,
        "unsettled",
    ),
    Case(
        "stacked, loose, four leads",
        "nothing",
        "ohms, lifts, compass",
        partial(_stack, play=_compassed, loose=True),
        joined,
        "unsettled",
    ),
    Case(
        "stacked, loose, four leads",
        "nothing",
        "ohms and lifts",
        partial(_stack, play=loose_leads, loose=True),
        joined,
        "wrong, with a caution",
    ),
    Case("dummy coil", "build", "hum, two places", _dummy, hum_of_pair),
    Case(
        "halves, joined rightly",
        "build",
        "paired plucks",
        partial(_halves, play=_plucked(BASS * 2), wrong=False),
        halves_told,
    ),
    Case(
        "halves, joined wrong",
        "build",
        "paired plucks",
        partial(_halves, play=_plucked(BASS * 2), wrong=True),
        halves_told,
    ),
    Case(
        "halves, joined wrong",
        "build",
        "presses in turn",
        partial(_halves, play=partial(in_turn, strings=BASS * 2), wrong=True),
        halves_told,
    ),
    Case(
        "halves, joined wrong", "build", "lifts", partial(_halves, play=_two_halves, wrong=True), halves_told
    ),
    Case(
        "halves, joined wrong",
        "build",
        "lifts, tool tried with a staple",
        partial(_halves, play=_two_halves_tool_tried, wrong=True),
        halves_told,
    ),
    Case(
        "halves, joined wrong",
        "nothing",
        "paired plucks",
        partial(_halves, play=_plucked(BASS * 2), wrong=True, coils=1),
        whole_phase,
        "unsettled",
    ),
    Case(
        "poles alternate",
        "poles",
        "paired plucks",
        partial(_poles, play=_plucked(GUITAR * 2), **POLES),
        phase_by_string,
    ),
    Case(
        "poles alternate",
        "poles",
        "presses in turn",
        partial(_poles, play=partial(in_turn, strings=GUITAR * 2), **POLES),
        phase_by_string,
    ),
    Case(
        "poles alternate",
        "poles",
        "lifts, pole named",
        partial(_poles, play=_four_poles, **POLES),
        phase_by_string,
    ),
    Case(
        "poles alternate",
        "nothing",
        "paired plucks",
        partial(_poles, play=_plucked(GUITAR * 2)),
        whole_phase,
        "unsettled",
    ),
    Case(
        "poles alternate",
        "nothing",
        "plucks on one kind, compass a pole",
        partial(_poles, play=_one_pole_each),
        whole_phase,
        "unsettled",
    ),
)


def one(case: Case, seed: int, number: int) -> tuple[Outcome, Any]:
    """One job, judged."""
    with tempfile.TemporaryDirectory() as place:
        made = case.make(Path(place), np.random.default_rng([seed, number]))
        verdict = made.judged()
        return counted(case.ask(made, verdict)), verdict


def main() -> None:
    """Run the study and print its table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--jobs", type=int, default=30)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--only", default="")
    said = ask.parse_args()
    heads = ("construction", "entered", "gesture", "jobs", *OUTCOMES, "wanted")
    print(line(heads), "|---" * len(heads) + "|", sep="\n")
    for case in (c for c in CASES if said.only in f"{c.construction}|{c.entered}|{c.gesture}"):
        n = Counter(one(case, said.seed, k)[0] for k in range(said.jobs))
        first = (case.construction, case.entered, case.gesture, str(said.jobs))
        figures = (str(n[outcome]) for outcome in OUTCOMES)
        print(line((*first, *figures, case.wanted or "right")), flush=True)


if __name__ == "__main__":
    main()
