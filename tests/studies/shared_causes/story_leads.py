"""Stories about clips, colours of leads, the meter's leads and changed wiring.

Task: one cause behind all that went through one pair of clips. Shapes, units: as in person. Signs: truth is
said of the leads by their true colours.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from studies.shared_causes.benches import (
    BOTH,
    FRONT,
    REAR,
    TWO,
    connected_over,
    draw,
    in_turn,
    lifts,
    paired,
    seed_from,
    split_check,
    strings_of,
    swings,
)
from studies.shared_causes.person import Person
from studies.shared_causes.record import Stories, Truth, truth_of
from studies.shared_causes.unlike import World

LEADS = Stories("clips and leads")
tell = LEADS.tell

TAG = "a tag on the lead under the tip's clip before it is taken off, or the clips put on anew by colour"


def _loose(folder: Path, rng: np.random.Generator, world: World) -> Person:
    bench = draw(rng)
    return Person(folder, bench, seed=seed_from(rng), world=world, loose=["neck"], settings=[BOTH])


@tell(
    "clip-up-reversed-in-blocks",
    "The two clips went on the loose pickup the wrong way round and stayed there; all of one pickup was"
    " recorded before the other.",
    cause="one clip-up, behind plucks and lifts",
    tells=False,
    check=TAG,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    if not twin:
        p.seen = connected_over(p.seen, "neck")
    in_turn(p, blocks=True)
    lifts(p)
    return truth_of(p.true)


@tell(
    "clip-up-reversed-alternating",
    "The same clips the wrong way round, but the one plug was moved to and fro between the two pickups'"
    " leads.",
    cause="one clip-up, behind plucks and lifts, in entries that alternate",
    tells=False,
    check=TAG,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    if not twin:
        p.seen = connected_over(p.seen, "neck")
    in_turn(p)
    lifts(p, blocks=False)
    return truth_of(p.true)


@tell(
    "clip-up-reversed-for-everything",
    "Plucks, presses, lifts and the meter all went through one pair of clips that sat the wrong way round.",
    cause="one clip-up, behind four methods",
    tells=False,
    check=TAG,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    if not twin:
        p.seen = connected_over(p.seen, "neck")
    in_turn(p)
    in_turn(p, times=2, string="G3", press=True)
    lifts(p)
    swings(p)
    return truth_of(p.true)


@tell(
    "clip-up-reversed-paired",
    "Both pickups on two inputs, a split check at the fitted one, and the loose one clipped on the wrong"
    " way.",
    cause="one clip-up, behind paired plucks on four strings",
    tells=False,
    check=TAG,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    if not twin:
        p.seen = connected_over(p.seen, "neck")
    split_check(p)
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


@tell(
    "meter-clips-reversed-in-blocks",
    "The meter's clips sat the wrong way round on the loose pickup for eight readings with two tools.",
    cause="one clip-up of the meter",
    tells=False,
    check="the meter's clips put on anew, or one lift through the interface",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    if not twin:
        p.seen = connected_over(p.seen, "neck")
    swings(p, times=4)
    swings(p, times=4, tool="screwdriver")
    return truth_of(p.true)


@tell(
    "meter-clips-reversed-alternating",
    "The same, but the meter was moved from pickup to pickup by a switch box and nobody touched a clip.",
    cause="one clip-up of the meter, in entries that alternate",
    tells=False,
    check="the meter's clips put on anew, or one lift through the interface",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    if not twin:
        p.seen = connected_over(p.seen, "neck")
    swings(p, times=4, blocks=False)
    swings(p, times=4, tool="screwdriver", blocks=False)
    return truth_of(p.true)


@tell(
    "colours-misread",
    "Under the bench's yellow lamp violet and grey were taken for each other at the meter and at the"
    " clips alike.",
    cause="one reading of two colours, behind meter and audio",
    tells=False,
    check="the tagged lead, or another person reads the colours in daylight",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    if not twin:
        p.seen = connected_over(p.seen, "neck")
    swings(p, times=3)
    paired(p, strings_of(rng, p.true, 3))
    split_check(p)
    lifts(p)
    return truth_of(p.true)


@tell(
    "colours-misread-and-again",
    "The colours were read wrongly, the clips taken off and put on anew as asked, and read wrongly again"
    " by the same eyes under the same lamp.",
    cause="one person's reading of two colours, behind two clip-ups",
    tells=False,
    check="the tagged lead, or another person reads the colours in daylight",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    if not twin:
        p.seen = connected_over(p.seen, "neck")
    split_check(p)
    paired(p, strings_of(rng, p.true, 2))
    swings(p, ("bridge",))
    p.meter("neck", anew=True)
    p.meter("neck")
    p.lift("neck", said=p.leads("neck"), anew=True)
    lifts(p, ("neck", "neck", "bridge", "bridge", "bridge"), times=1)
    p.pluck(TWO, "G3", anew=True)
    p.pluck(TWO, "A2")
    return truth_of(p.true)


@tell(
    "exchanged-on-purpose-in-the-log-only",
    "The clips were to be exchanged on purpose; the entries say so from then on, and the clips were never"
    " touched.",
    cause="half of the entries name the leads the wrong way round",
    tells=True,
    check="both halves contradict each other",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    split_check(p)
    paired(p, strings_of(rng, p.true, 3))
    if twin:
        p.seen = connected_over(p.seen, "neck")
    for k, string in enumerate(strings_of(rng, p.true, 3)):
        p.pluck(TWO, string, said=("bridge", p.leads("neck", turned=True)), anew=k == 0)
    return truth_of(p.true)


@tell(
    "meter-in-the-other-socket-all-day",
    "The meter's red lead sat in the other socket the whole day, at every pickup.",
    cause="all readings turned over",
    tells=False,
    check="none is needed: the relations are as they are",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    for name in ("bridge", "neck") * 3:
        p.meter(name, turned=not twin)
    lifts(p, times=2)
    return truth_of(p.true)


@tell(
    "meter-in-the-other-socket-on-thursday",
    "The fitted pickup was read on Monday; on Thursday, for the new one, the red lead sat in the other"
    " socket.",
    cause="all readings at one pickup turned over",
    tells=False,
    check="both pickups read in one go, or lifts through the interface",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    swings(p, ("bridge",), times=3)
    swings(p, ("bridge",), times=2, tool="screwdriver")
    p.rest(hours=75)
    for tool in ("steel rod",) * 3 + ("screwdriver",) * 2:
        p.meter("neck", turned=not twin, tool=tool)
    return truth_of(p.true)


@tell(
    "change-entered-not-made",
    "The exchange was entered before the iron was hot; then somebody rang, and the guitar was closed as"
    " it was.",
    cause="a change that is only in the log",
    truth="as the leads really are at the end",
    tells=True,
    check="the takes after the work contradict the change",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    split_check(p)
    paired(p, strings_of(rng, p.true, 4))
    lifts(p, times=2)
    p.enter_change("neck")
    p.rest(hours=2)
    if twin:
        p.seen = connected_over(p.seen, "neck")
    p.pluck(TWO, "D3", said=TWO, stage="after")
    p.pluck(TWO, "G3", said=TWO, stage="after")
    return truth_of(p.seen)


@tell(
    "change-made-not-entered",
    "The leads were exchanged over lunch and nobody wrote it down; the afternoon's takes went to the"
    " morning's.",
    cause="half of the takes are of other wiring",
    truth="as the leads really are at the end",
    tells=True,
    check="the morning and the afternoon contradict each other",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng)
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH])
    split_check(p)
    paired(p, strings_of(rng, p.true, 2))
    lifts(p, times=2)
    p.rest(hours=1)
    if not twin:
        p.seen = connected_over(p.seen, "neck")
    paired(p, strings_of(rng, p.true, 3))
    lifts(p, times=2)
    return truth_of(p.seen)


@tell(
    "work-done-at-another-pickup",
    "The exchange was meant for the neck pickup, entered so, and soldered at the middle one.",
    cause="a change at the wrong pickup, with no take after it",
    truth="as the leads really are at the end",
    tells=False,
    check="takes after the work, on all three",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng, pickups=3)
    p = Person(
        folder, bench, seed=seed_from(rng), world=world, loose=["middle", "neck"], settings=[REAR, FRONT]
    )
    split_check(p)
    for b in ("middle", "neck"):
        paired(p, strings_of(rng, p.true, 3), b=b)
    lifts(p, ("bridge", "middle", "neck"), times=2)
    p.enter_change("neck")
    p.seen = connected_over(p.seen, "neck" if twin else "middle")
    return truth_of(p.seen)


@tell(
    "work-done-at-another-pickup-and-recorded",
    "The same, with two plucks after the work, of the bridge and the neck pickup alone.",
    cause="a change at the wrong pickup",
    truth="as the leads really are at the end",
    tells=True,
    check="the takes after the work contradict the change at the neck; the middle one has none",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng, pickups=3)
    p = Person(
        folder, bench, seed=seed_from(rng), world=world, loose=["middle", "neck"], settings=[REAR, FRONT]
    )
    split_check(p)
    for b in ("middle", "neck"):
        paired(p, strings_of(rng, p.true, 3), b=b)
    p.enter_change("neck")
    p.seen = connected_over(p.seen, "neck" if twin else "middle")
    for string in ("D3", "G3"):
        p.pluck(("bridge", "neck"), string, said=TWO, stage="after")
    return truth_of(p.seen)
