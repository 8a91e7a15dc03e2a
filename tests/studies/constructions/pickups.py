"""Rows of pickups that are built otherwise: stacks, dummies, halves, alternating poles, circuits.

What is asked goes by the construction: phase with the bridge, string by string where it goes with the string;
how coils are to be joined; whether hum cancels; whether halves oppose each other.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, Literal

import numpy as np
from cases import Answer, Case, Outcome, counted
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

from capture.job import Member, Setting
from capture.log import Check
from capture.log.entries import new_entry
from capture.log.writing import append_entry

GUITAR, BASS = ("E2", "A2", "D3", "G3"), ("E1", "A1", "D2", "G2")
UNDER = (("E1", "A1"), ("D2", "G2"))
LOWER, HIGHER = {"coil": 1, "string": "E1"}, {"coil": 2, "string": "G2"}


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


Ask = Callable[[Made, Any], Answer]


def row(
    construction: str, entered: str, gesture: str, make: Callable[..., Made], ask: Ask, wanted: str = "right"
) -> Case:
    """A row whose jobs are made by ``make``, and asked what ``ask`` asks."""

    def outcomes(place: Path, rng: np.random.Generator) -> Outcome:
        made = make(place, rng)
        return counted(ask(made, made.judged()))

    return Case(construction, entered, gesture, outcomes, wanted)


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


def _side_by_side(place: Path, rng: np.random.Generator) -> Made:
    """An ordinary pickup of two coils of which nobody said how they lie."""
    make = partial(builds.in_rows, rng, count=2)
    made = job_with(place, rng, make, said={"coils": 2, "fitted": False})
    loose_leads(made, own_poles=True)
    return made


def _plain(
    place: Path, rng: np.random.Generator, *, play: Callable[[Made], None], bass: bool = False
) -> Made:
    """What the other rows are held against: two pickups of one coil, entered as a job of before."""
    made = job_with(place, rng, builds.single, bass=bass, said={"coils": 1})
    play(made)
    return made


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


def _in_rows(place: Path, rng: np.random.Generator, *, count: int, circuit: str | None) -> Made:
    said: dict[str, Any] = {"coils": count} | ({} if circuit is None else {"circuit": circuit})
    alone = Setting(name="alone", on=(Member(pickup=OTHER),))
    both = Setting(name="both", on=(Member(pickup="bridge"), Member(pickup=OTHER)))
    make = partial(builds.in_rows, rng, count=count, circuit=circuit)
    made = job_with(place, rng, make, said=said, settings=(both, alone))
    made.facts["hums"] = (circuit is not None and HUMS.get(circuit, False)) or (
        circuit is None and count % 2 == 1
    )
    paired(made, GUITAR[1:] * 2)
    return made


def phase_and_hum(made: Made, verdict: Any) -> Answer:
    """Phase of the pair in one word; wrong too where of the pickup alone the other word about hum is said."""
    standing, true = whole_phase(made, verdict)
    said = next(s.hum for s in verdict.settings if s.name == "alone")
    return standing, true and said in ("unknown", "hums" if made.facts["hums"] else "cancels")


CIRCUITS: tuple[tuple[int, str | None], ...] = (
    (2, "1 | 2"),
    (2, "1 + (2 | 22n)"),
    (2, "1 + (2 | 4k)"),
    (2, "1@60%"),
    (3, None),
    (4, None),
    (4, "(1 | 2) + (3 | 4)"),
)
HUMS = {"1@60%": True, "1 + (2 | 4k)": True}
STACK = {"build": "stacked"}
POLES = {"poles": "alternate"}
PLAIN = "plain: one coil each"
CASES = (
    row(PLAIN, "coils", "paired plucks", partial(_plain, play=_plucked(GUITAR[1:] * 2)), whole_phase),
    row(
        PLAIN,
        "coils",
        "presses in turn",
        partial(_plain, play=partial(in_turn, strings=GUITAR[1:] * 2)),
        whole_phase,
    ),
    row(PLAIN, "coils", "lifts", partial(_plain, play=lifts), whole_phase),
    row(PLAIN, "coils", "hum, two places", partial(_plain, play=hum), hum_of_pair),
    row(
        f"{PLAIN}, bass",
        "coils",
        "paired plucks",
        partial(_plain, play=_plucked(BASS * 2), bass=True),
        whole_phase,
    ),
    row(
        f"{PLAIN}, bass",
        "coils",
        "presses in turn",
        partial(_plain, play=partial(in_turn, strings=BASS * 2), bass=True),
        whole_phase,
    ),
    row(
        "stacked, fitted",
        "build",
        "paired plucks",
        partial(_stack, play=_plucked(GUITAR[1:] * 2), **STACK),
        whole_phase,
    ),
    row(
        "stacked, fitted",
        "build",
        "presses in turn",
        partial(_stack, play=partial(in_turn, strings=GUITAR[1:] * 2), **STACK),
        whole_phase,
    ),
    row("stacked, fitted", "build", "lifts", partial(_stack, play=lifts, **STACK), whole_phase),
    row(
        "stacked, loose, four leads",
        "build and upper",
        "ohms and lifts",
        partial(_stack, play=loose_leads, loose=True, upper="yes", **STACK),
        joined,
    ),
    row(
        "stacked, loose, four leads",
        "build alone",
        "ohms and lifts",
        partial(_stack, play=loose_leads, loose=True, **STACK),
        joined,
        "unsettled",
    ),
    row(
        "stacked, loose, four leads",
        "nothing",
        "ohms, lifts, compass",
        partial(_stack, play=_compassed, loose=True),
        joined,
        "unsettled",
    ),
    row(
        "stacked, loose, four leads",
        "nothing",
        "ohms and lifts",
        partial(_stack, play=loose_leads, loose=True),
        joined,
        "unsettled",
    ),
    row(
        "two coils side by side, loose, four leads",
        "nothing",
        "ohms and lifts",
        _side_by_side,
        joined,
    ),
    row("dummy coil", "build", "hum, two places", _dummy, hum_of_pair),
    row(
        "halves, joined rightly",
        "build",
        "paired plucks",
        partial(_halves, play=_plucked(BASS * 2), wrong=False),
        halves_told,
    ),
    row(
        "halves, joined wrong",
        "build",
        "paired plucks",
        partial(_halves, play=_plucked(BASS * 2), wrong=True),
        halves_told,
    ),
    row(
        "halves, joined wrong",
        "build",
        "presses in turn",
        partial(_halves, play=partial(in_turn, strings=BASS * 2), wrong=True),
        halves_told,
    ),
    row(
        "halves, joined wrong", "build", "lifts", partial(_halves, play=_two_halves, wrong=True), halves_told
    ),
    row(
        "halves, joined wrong",
        "build",
        "lifts, tool tried with a staple",
        partial(_halves, play=_two_halves_tool_tried, wrong=True),
        halves_told,
    ),
    row(
        "halves, joined wrong",
        "nothing",
        "paired plucks",
        partial(_halves, play=_plucked(BASS * 2), wrong=True, coils=1),
        whole_phase,
        "unsettled",
    ),
    row(
        "poles alternate",
        "poles",
        "paired plucks",
        partial(_poles, play=_plucked(GUITAR * 2), **POLES),
        phase_by_string,
    ),
    row(
        "poles alternate",
        "poles",
        "presses in turn",
        partial(_poles, play=partial(in_turn, strings=GUITAR * 2), **POLES),
        phase_by_string,
    ),
    row(
        "poles alternate",
        "poles",
        "lifts, pole named",
        partial(_poles, play=_four_poles, **POLES),
        phase_by_string,
    ),
    row(
        "poles alternate",
        "nothing",
        "paired plucks",
        partial(_poles, play=_plucked(GUITAR * 2)),
        whole_phase,
        "unsettled",
    ),
    row(
        "poles alternate",
        "nothing",
        "plucks on one kind, compass a pole",
        partial(_poles, play=_one_pole_each),
        whole_phase,
        "unsettled",
    ),
    *(
        row(
            f"{count} coils: {circuit or 'in series'}",
            "coils" if circuit is None else "coils, circuit",
            "paired plucks",
            partial(_in_rows, count=count, circuit=circuit),
            phase_and_hum,
        )
        for count, circuit in CIRCUITS
    ),
)
