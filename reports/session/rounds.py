"""The rounds of takes that could come next in a guided session, with the seconds that each takes a person.

A pickup that is not fitted hangs on clips, so two can be on two inputs at once. What is fitted comes out of
the jack, on input 1: the selector moves through its settings while a string rings, or one setting after
another is played. Hum is offered where a setting is meant to be quiet.

`to_move` says what hands move before a step. A plug or a clip bangs, so it is waited for in a step of its
own, in which nothing is recorded; a selector may be silent, but hum recorded before it was moved would be
that of another setting. A bang is no string, but as abrupt as a lift: where a tool comes first, the guitar
is plugged in before it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import combinations, pairwise
from typing import Literal

from capture.job import Job, Setting
from dsp.live.gestures import Gesture
from reports.evidence.results import TakeResult
from reports.model.gestures import PLUCKED, SESSION_GESTURES, WITH_TOOL
from reports.model.session import TOOL, Moving, Round, Step, pluck_strings, switch_strings, with_volumes

Stage = Literal["found", "after"]

A_PLUCK_S = 8.0
A_PRESS_S = 9.0
A_SWITCH_S = 10.0
A_LIFT_S = 6.0
A_HUM_S = 8.0
"""With the strings damped before it, and quiet waited for: some eight seconds a take on living benches.
Nothing rings after a lift."""
A_POSITION_S = 1.0
"""For each position of the selector beyond the second."""
MOVE_SELECTOR_S = 3.0
PLUG_S = 40.0
FETCH_TOOL_S = 8.0
"""To take the steel tool, with the monitors down, and to put it where it is lifted from."""
CLIPS_ANEW_S = 40.0
"""Taking the clips off, reading the leads once more, and clipping on again."""
MOST_POSITIONS = 5
"""No string rings through more, and what they would tell together is a sum over twenty variables and more."""
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
    played: Gesture | None = None,
) -> tuple[Round, ...]:
    """All rounds that could come next.

    ``plugged``, ``played``: what the last step left plugged in, and its gesture. ``inputs``: how many the box
    has. ``after``: the work is done, so that everything comes out of the jack.
    """
    found = [
        one
        for one in (
            *_paired(job, inputs=inputs, after=after, plugged=plugged),
            *_switch(job, after=after),
            *_in_turn(job, gestures, after=after),
            *_lifts(job, after=after, tool=tool),
            *_hum(job, after=after),
        )
        if one.first.gesture in gestures
    ]
    moved = ((one, moving_s(one, plugged, played)) for one in found)
    found = [replace(one, seconds=one.seconds + s, moving_s=s) for one, s in moved]
    return tuple(replace(one, steps=tuple(with_volumes(job, step) for step in one.steps)) for one in found)


def at_jack(job: Job, name: str, *, after: bool) -> bool:
    """Whether a pickup comes out of the guitar's jack."""
    pickup = job.pickup(name)
    return pickup is not None and pickup.shelf is None and (after or pickup.fitted)


def moving_s(one: Round, plugged: tuple[object, ...], played: Gesture | None) -> float:
    """How long hands take before a round, for plugs, clips, the selector, and the tool."""
    steps = one.steps
    tool_s = FETCH_TOOL_S * (steps[0].gesture in WITH_TOOL and played not in WITH_TOOL)
    wanted = [s.plugged for s in steps]
    clips = {item for step in steps for item in step.plugged}
    if len(steps[0].columns) > 1 and steps[0].plugged != plugged:
        return tool_s + PLUG_S * len(clips - set(plugged)) / 2
    return tool_s + MOVE_SELECTOR_S * (wanted[0] != plugged)


def _paired(job: Job, *, inputs: int, after: bool, plugged: tuple[object, ...]) -> Iterator[Round]:
    if inputs < 2:
        return
    plucked = [p.name for p in job.own_pickups if p.source is None and p.made.hears_strings]
    for a, b in combinations(plucked, 2):
        at_one_jack = at_jack(job, a, after=after) and at_jack(job, b, after=after)
        if at_one_jack and {a, b} != set(job.stereo or ()):
            continue
        loose = {name for name in (a, b) if not at_jack(job, name, after=after)}
        moved = len(loose) > 1 and _clips_moved(plugged, loose)
        for string in pluck_strings(job):
            step = Step("pluck", (a, b), string=string, kind="paired", columns=(0, 1), pickups=(a, b))
            for played, seconds in ((step, A_PLUCK_S), (replace(step, gesture="press"), A_PRESS_S)):
                if not moved:
                    yield Round((played,), seconds)
                if moved or played is step:
                    yield Round((replace(played, anew=True),), seconds + CLIPS_ANEW_S)
        for name in (a, b):
            string = pluck_strings(job)[0]
            split = Step("pluck", (name, name), string, kind="split", columns=(0, 1), pickups=(name,))
            yield Round((replace(split, by_clips=name in loose),), A_PLUCK_S)


def _clips_moved(plugged: tuple[object, ...], loose: Collection[str]) -> bool:
    """Whether the clips of both inputs hang on one of two loose pickups, after a split check.

    Then they come off one that is clipped on anew, whatever comes next.
    """
    return any(set(plugged) == {(0, name), (1, name)} for name in loose)


def _switch(job: Job, *, after: bool) -> Iterator[Round]:
    for way in ways_of_selector(job, after=after):
        members = dict.fromkeys(
            m.pickup for name in way if (s := job.setting(name)) is not None for m in s.on
        )
        for string in switch_strings(job):
            step = Step("switch", (way,), string=string, kind="switch", columns=(0,), pickups=tuple(members))
            yield Round((step,), A_SWITCH_S + A_POSITION_S * (len(way) - 2))


def ways_of_selector(job: Job, *, after: bool) -> tuple[tuple[str, ...], ...]:
    """The lists of settings that a selector can go through: every two pickups, and all in a row.

    With a volume each there are none but those of two.

    A row of more than `MOST_POSITIONS` comes in parts, each from the pickup on at which the last one ended.
    """
    fitted = _in_row(job, after=after)
    if not job.settings or len(fitted) < 2 or job.hard_wired:
        return ()
    pairs = [
        (a, *_both(job, a, b), b)
        for a, b in combinations(fitted, 2)
        if any({a, b} <= {m.pickup for m in s.on} for s in job.settings)
    ]
    chains = [[fitted[0]]]
    for a, b in pairwise(fitted):
        further = [*_both(job, a, b), b]
        if len(chains[-1]) > 1 and len(chains[-1]) + len(further) > MOST_POSITIONS:
            chains.append([a])
        chains[-1] += further
    return tuple(dict.fromkeys(pairs if job.control == "volumes" else [*pairs, *map(tuple, chains)]))


def _in_row(job: Job, *, after: bool) -> tuple[str, ...]:
    """Pickups that come out of the jack, from the bridge on; one that no setting names is on none alone."""
    fitted = [
        p
        for p in job.pickups
        if at_jack(job, p.name, after=after) and p.source is None and p.made.hears_strings
    ]
    if all(p.centre_mm is not None for p in fitted):
        fitted.sort(key=lambda p: p.centre_mm or 0.0)
    return tuple(p.name for p in fitted)


def _both(job: Job, a: str, b: str) -> tuple[str, ...]:
    """The setting of just these two, if there is one."""
    return tuple(s.name for s in job.settings if {m.pickup for m in s.on} == {a, b})[:1]


def _in_turn(job: Job, gestures: Collection[str], *, after: bool) -> Iterator[Round]:
    for gesture in (g for g in PLUCKED if g in gestures and not job.hard_wired):
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
    coils = [p.name for p in job.pickups if p.shelf is not None]
    beside = [(coil, p.name) for coil in coils for p in job.own_pickups if p.source is None]
    for a, b in (*combinations(_in_row(job, after=after), 2), *beside):
        steps = [
            Step(
                "lift",
                (where,),
                tool=tool or TOOL,
                coil=lifted_coil(job, n),
                kind="lift",
                columns=(0,),
                pickups=(a, b),
                tapped=None if where == n else n,
            )
            for n, where in ((n, _lifted_at(job, n)) for n in ((a, a, b, b) if a in coils else (a, b)))
        ]
        moved = 2 * PLUG_S if a in coils else MOVE_SELECTOR_S
        yield _round(steps, len(steps) * A_LIFT_S + moved)


def _hum(job: Job, *, after: bool) -> Iterator[Round]:
    for setting in (s for s in job.settings if job.wants_quiet(s)):
        members = tuple(dict.fromkeys(m.pickup for m in setting.on))
        if any(not at_jack(job, m, after=after) for m in members) or not _whole(job, setting):
            continue
        if job.hard_wired or not setting.plain:
            continue
        steps = [
            Step("hum", (n,), kind="hum", columns=(0,), pickups=members) for n in (*members, setting.name)
        ]
        yield _round(steps, len(steps) * (A_HUM_S + MOVE_SELECTOR_S))


def _round(steps: Sequence[Step], seconds: float) -> Round:
    return Round(tuple(steps), seconds).numbered()


def _lifted_at(job: Job, name: str) -> str:
    """The setting at which a pickup is lifted: alone, or with what is always on."""
    if job.on_alone(name):
        return name
    return next((s.name for s in job.settings if any(m.pickup == name for m in s.on)), name)


def without_enough(one: Round, heard: Sequence[TakeResult], *, stage: Stage) -> Round | None:
    """A round of lifts without those from a pickup that has enough of them; None where both have.

    Lifts from one pickup are compared with all from the other, so that more of them say little new.
    """
    enough = Counter(
        (r.entry.inputs, r.entry.tool, r.entry.coil, r.entry.tapped)
        for r in heard
        if r.entry.gesture == "lift" and r.entry.stage == stage and r.has_measurements and not r.faults
    )
    left = [
        s for s in one.steps if s.kind != "lift" or enough[s.inputs, s.tool, s.coil, s.tapped] < SAME_AGAIN
    ]
    if len(left) == len(one.steps):
        return one
    return _round(left, one.seconds * len(left) / len(one.steps)) if left else None


def lifted_coil(job: Job, name: str) -> Literal[1, 2] | None:
    """Lifts over a pickup with two coils are over the coil that hot belongs to."""
    pickup = job.pickup(name)
    return 1 if pickup is not None and pickup.made.pole_has_coil else None


def _whole(job: Job, setting: Setting) -> bool:
    """Whether the hum of a setting can be told from its pickups: single coils alone."""
    return all((p := job.pickup(m.pickup)) is not None and p.made.hums for m in setting.on)


def to_move(job: Job, step: Step, *, plugged: tuple[tuple[int, object], ...], after: bool) -> Moving | None:
    """What has to be moved, None where nothing is; ``plugged``: what the last step had on each input."""
    if step.plugged == plugged and not step.anew:
        return None
    if not plugged and (len(step.columns) > 1 or step.gesture in WITH_TOOL):
        return "plug in"
    at = dict(plugged)
    changed = [(item, at.get(c)) for c, item in step.plugged if item != at.get(c)]
    loose = any(not from_jack(job, one, after=after) for both in changed for one in both if one is not None)
    if step.anew or (loose and len(step.columns) > 1 and step.kind != "split"):
        return "clips"
    if loose or (changed and len(step.columns) > 1):
        return "plug"
    return "selector" if step.gesture == "hum" and plugged else None


def from_jack(job: Job, item: object, *, after: bool) -> bool:
    """Whether what is on an input comes out of the guitar's jack, where only the selector moves."""
    names = item if isinstance(item, tuple) else (item,)
    settings = [job.setting(str(name)) for name in names]
    return all(
        setting is not None and all(at_jack(job, m.pickup, after=after) for m in setting.on)
        for setting in settings
    )
