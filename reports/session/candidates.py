"""Every round of takes that a job allows next, with the seconds that each takes a person.

A pickup that is not fitted hangs on clips, so two can be on two inputs at once. What is fitted comes out of
the jack, on input 1: the selector moves through its settings while a string rings, or one setting after
another is played. Hum is offered where a setting is meant to be quiet.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import combinations, pairwise
from typing import Literal

from capture.job import Job, Setting
from reports.model.gestures import PLUCKED, SESSION_GESTURES
from reports.model.session import TOOL, Round, Step, pluck_strings, switch_strings

A_PLUCK_S = 5.0
A_SWITCH_S = 11.0
A_LIFT_S = 6.0
A_HUM_S = 6.0
MOVE_SELECTOR_S = 3.0
PLUG_S = 40.0
CLIPS_ANEW_S = 40.0
"""Taking the clips off, reading the leads once more, and clipping on again."""
SAME_AGAIN = 2
"""Takes a side of one round in turn: one alone cannot be told from a stroke the other way."""


def rounds(
    job: Job,
    *,
    inputs: int,
    gestures: Collection[str] = SESSION_GESTURES,
    after: bool = False,
    tool: str | None = None,
    plugged: tuple[object, ...] = (),
) -> tuple[Round, ...]:
    """All rounds that could come next; ``plugged`` is what the last step left plugged in.

    ``inputs``: how many the box has. ``after``: the work is done, so that everything comes out of the jack.
    """
    found = [
        one
        for one in (
            *_paired(job, inputs=inputs, after=after),
            *_switch(job, after=after),
            *_in_turn(job, gestures, after=after),
            *_lifts(job, after=after, tool=tool),
            *_hum(job, after=after),
        )
        if one.first.gesture in gestures
    ]
    return tuple(replace(one, seconds=one.seconds + _plugging(one, plugged)) for one in found)


def at_jack(job: Job, name: str, *, after: bool) -> bool:
    """Whether a pickup comes out of the guitar's jack."""
    pickup = job.pickup(name)
    return after or (pickup is not None and pickup.fitted)


def _plugging(one: Round, plugged: tuple[object, ...]) -> float:
    steps = one.steps
    wanted = [s.plugged for s in steps]
    clips = {item for step in steps for item in step.plugged}
    if len(steps[0].columns) > 1 and steps[0].plugged != plugged:
        return PLUG_S * len(clips - set(plugged)) / 2
    return MOVE_SELECTOR_S * (wanted[0] != plugged)


def _paired(job: Job, *, inputs: int, after: bool) -> Iterator[Round]:
    if inputs < 2:
        return
    for a, b in combinations((p.name for p in job.pickups), 2):
        if at_jack(job, a, after=after) and at_jack(job, b, after=after):
            continue
        for string in pluck_strings(job):
            step = Step("pluck", (a, b), string=string, kind="paired", columns=(0, 1), pickups=(a, b))
            yield Round((step,), A_PLUCK_S)
            yield Round((replace(step, anew=True),), A_PLUCK_S + CLIPS_ANEW_S)
        for name in (a, b):
            string = pluck_strings(job)[0]
            split = Step("pluck", (name, name), string, kind="split", columns=(0, 1), pickups=(name,))
            yield Round((split,), A_PLUCK_S)


def _switch(job: Job, *, after: bool) -> Iterator[Round]:
    for way in ways_of_selector(job, after=after):
        members = dict.fromkeys(
            m.pickup for name in way if (s := job.setting(name)) is not None for m in s.on
        )
        for string in switch_strings(job):
            step = Step("switch", (way,), string=string, kind="switch", columns=(0,), pickups=tuple(members))
            yield Round((step,), A_SWITCH_S + MOVE_SELECTOR_S * (len(way) - 2))


def ways_of_selector(job: Job, *, after: bool) -> tuple[tuple[str, ...], ...]:
    """The lists of settings that a selector can go through: every two pickups, and all in a row."""
    fitted = _in_row(job, after=after)
    if not job.settings or len(fitted) < 2:
        return ()
    pairs = [
        (a, *_both(job, a, b), b)
        for a, b in combinations(fitted, 2)
        if any({a, b} <= {m.pickup for m in s.on} for s in job.settings)
    ]
    chain = [fitted[0]]
    for a, b in pairwise(fitted):
        chain += [*_both(job, a, b), b]
    return tuple(dict.fromkeys([*pairs, tuple(chain)]))


def _in_row(job: Job, *, after: bool) -> tuple[str, ...]:
    """Pickups that come out of the jack, from the bridge on; one that no setting names is on none alone."""
    fitted = [p for p in job.pickups if at_jack(job, p.name, after=after)]
    if all(p.centre_mm is not None for p in fitted):
        fitted.sort(key=lambda p: p.centre_mm or 0.0)
    return tuple(p.name for p in fitted)


def _both(job: Job, a: str, b: str) -> tuple[str, ...]:
    """The setting of just these two, if there is one."""
    return tuple(s.name for s in job.settings if {m.pickup for m in s.on} == {a, b})[:1]


def _in_turn(job: Job, gestures: Collection[str], *, after: bool) -> Iterator[Round]:
    for gesture in (g for g in PLUCKED if g in gestures):
        for a, b in combinations(_in_row(job, after=after), 2):
            names = (a, *_both(job, a, b), b)
            for string in pluck_strings(job):
                steps = [
                    Step(gesture, (n,), string, kind="in turn", columns=(0,), pickups=(a, b))
                    for _ in range(SAME_AGAIN)
                    for n in names
                ]
                yield _round(steps, len(steps) * (A_PLUCK_S + MOVE_SELECTOR_S))


def _lifts(job: Job, *, after: bool, tool: str | None) -> Iterator[Round]:
    for a, b in combinations(_in_row(job, after=after), 2):
        steps = [
            Step(
                "lift", (n,), tool=tool or TOOL, coil=_coil(job, n), kind="lift", columns=(0,), pickups=(a, b)
            )
            for n in (a, b)
            for _ in range(SAME_AGAIN)
        ]
        yield _round(steps, len(steps) * A_LIFT_S + 2 * MOVE_SELECTOR_S)


def _hum(job: Job, *, after: bool) -> Iterator[Round]:
    for setting in (s for s in job.settings if s.quiet):
        members = tuple(dict.fromkeys(m.pickup for m in setting.on))
        if any(not at_jack(job, m, after=after) for m in members) or not _whole(job, setting):
            continue
        steps = [
            Step("hum", (n,), kind="hum", columns=(0,), pickups=members) for n in (*members, setting.name)
        ]
        yield _round(steps, len(steps) * (A_HUM_S + MOVE_SELECTOR_S))


def _round(steps: Sequence[Step], seconds: float) -> Round:
    return Round(tuple(replace(s, part=k + 1, parts=len(steps)) for k, s in enumerate(steps)), seconds)


def _coil(job: Job, name: str) -> Literal[1, 2] | None:
    """Lifts over a pickup with two coils are over the coil that hot belongs to."""
    pickup = job.pickup(name)
    return 1 if pickup is not None and pickup.coils > 1 else None


def _whole(job: Job, setting: Setting) -> bool:
    """Whether the hum of a setting can be told from its pickups: single coils alone."""
    return all((p := job.pickup(m.pickup)) is not None and p.coils == 1 for m in setting.on)
