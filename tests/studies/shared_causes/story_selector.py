"""Stories about a closed guitar's selector, and about names and places that are written down wrongly.

Task: one wrong list, one contact or one name behind many takes at the jack. Shapes, units: as in person.
Signs: truth is said of the pickups by their true names, counted from the bridge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from simulator.workbench import Bench, On, Wanted
from studies.shared_causes.benches import (
    BOTH,
    FRONT,
    POSITION_NAMES,
    POSITIONS,
    REAR,
    TWO,
    connected_over,
    draw,
    humming,
    lifts,
    paired,
    seed_from,
    split_check,
    strings_of,
)
from studies.shared_causes.person import Floats, Moment, Person
from studies.shared_causes.record import Stories, Truth, truth_of
from studies.shared_causes.unlike import World

from capture.job import Member, Setting

SELECTOR = Stories("selector, names and places")
tell = SELECTOR.tell

THREE = ("bridge", "middle", "neck")
TAPS = "a tap of steel on the poles of each pickup at each position, or the place that each is heard at"


def _five(folder: Path, rng: np.random.Generator, world: World, bench: Bench | None = None) -> Person:
    drawn = bench or _told_apart(rng)
    return Person(folder, drawn, seed=seed_from(rng), world=world, settings=[REAR, FRONT])


def _told_apart(rng: np.random.Generator) -> Bench:
    """Three pickups of which not all pairs agree, so that a wrong list gives a wrong answer."""
    same = 1 if rng.random() < 0.5 else -1
    return draw(rng, pickups=3, s={"middle": same, "neck": -same if rng.random() < 0.7 else same})


def _really(listed: Mapping[str, Wanted], name: str) -> Wanted:
    return listed[name]


LISTED: dict[str, Wanted] = dict(zip(POSITION_NAMES, POSITIONS, strict=True))
MIRRORED: dict[str, Wanted] = dict(zip(POSITION_NAMES, reversed(POSITIONS), strict=True))
ONE_SHORT: dict[str, Wanted] = dict(zip(POSITION_NAMES, (POSITIONS[0], *POSITIONS[:-1]), strict=True))


def _round(
    p: Person, listed: Mapping[str, Wanted], strings: Sequence[str], names: Sequence[str] = POSITION_NAMES
) -> None:
    """One pluck on each position, as often as there are strings."""
    for string in strings:
        for name in names:
            p.pluck((_really(listed, name),), string, said=(name,))


def _switches(p: Person, listed: Mapping[str, Wanted], walks: Sequence[Sequence[str]], string: str) -> None:
    for walk in walks:
        p.switch([_really(listed, name) for name in walk], string, said=walk)


@tell(
    "list-from-the-wrong-end-plucks",
    "The five positions were listed from the neck and entered as if from the bridge; three rounds of plucks.",
    cause="one list, behind all settings",
    tells=True,
    check=TAPS,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _five(folder, rng, world)
    _round(p, LISTED if twin else MIRRORED, ("D3", "A2", "D3"))
    return truth_of(p.true)


@tell(
    "list-from-the-wrong-end-switch",
    "The same list, and the selector moved while the string rang.",
    cause="one list, behind all settings",
    tells=True,
    check=TAPS,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _five(folder, rng, world)
    listed = LISTED if twin else MIRRORED
    walks = (("bridge", "rear", "middle"), ("middle", "front", "neck"))
    _switches(p, listed, walks, "E2")
    _switches(p, listed, walks, "A2")
    return truth_of(p.true)


@tell(
    "list-from-the-wrong-end-hum",
    "The same list, and hum with the strings damped on every position.",
    cause="one list, behind all settings",
    tells=True,
    check="one pluck on each position, for the place that each is heard at",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    same = 1 if rng.random() < 0.5 else -1
    bench = humming(draw(rng, pickups=3, w={"middle": same, "neck": -same}), field_db=26.0, stray_db=50.0)
    p = _five(folder, rng, world, bench)
    listed = LISTED if twin else MIRRORED
    for _ in range(2):
        for name in POSITION_NAMES:
            p.hum((_really(listed, name),), said=(name,))
    _round(p, listed, ("D3",), THREE)
    return truth_of(p.true)


@tell(
    "selector-one-position-too-few",
    "The first click was not counted: every take after the first is of the position before the one entered.",
    cause="one miscount, behind all settings but one",
    tells=True,
    check="two positions that sound the same; " + TAPS,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _five(folder, rng, world)
    _round(p, LISTED if twin else ONE_SHORT, ("D3", "A2", "D3"))
    return truth_of(p.true)


@tell(
    "selector-one-position-too-few-switch",
    "Moved while the string rang, and stopped one click short each time.",
    cause="one habit, behind the end of every switch take",
    tells=True,
    check="the list names more steps than are heard; " + TAPS,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _five(folder, rng, world)
    for string in ("E2", "A2"):
        for walk in (("bridge", "rear", "middle"), ("middle", "front", "neck")):
            really = [LISTED[name] for name in walk]
            p.switch(really if twin else [really[0], really[1], really[1]], string, said=walk)
    return truth_of(p.true)


@tell(
    "one-position-is-dead",
    "The middle pickup's lug is broken off: its own position gives hum alone, and both mixed ones give"
    " one pickup.",
    cause="one contact, behind three settings",
    truth="nothing of the middle pickup is heard, so nothing can be known of it",
    tells=True,
    check="a position without any string on it",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _five(folder, rng, world)

    def quiet(moment: Moment, volts: Floats) -> Floats:
        return volts * (10.0 ** (-55.0 / 20.0) if moment.done == (("neck", "bridge"),) else 1.0)

    listed = dict(LISTED)
    if not twin:  # what reaches the dead position is the others, 55 dB down
        p.on_jack.append(quiet)
        listed |= {"rear": "bridge", "middle": ("neck", "bridge"), "front": "neck"}
    _round(p, listed, ("D3", "A2", "D3"))
    return truth_of(p.true) if twin else truth_of(p.true, phase="neither", only="middle")


@tell(
    "both-is-one-alone-plucks",
    "In the middle position of a three-way switch only the neck contact closes; four rounds of plucks.",
    cause="one contact, behind all takes of the mixed position",
    truth="as wired; the takes of the mixed position say nothing",
    tells=True,
    check="the mixed position sounds as one alone",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng, s={"neck": -1 if rng.random() < 0.7 else 1})
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH])
    for string in ("D3", "A2", "D3", "G3"):
        p.pluck(("bridge",), string)
        p.pluck((TWO if twin else "neck",), string, said=("both",))
        p.pluck(("neck",), string)
    return truth_of(p.true)


@tell(
    "both-is-one-alone-switch",
    "The same contact, with the selector moved from bridge over both to neck and back.",
    cause="one contact, behind all takes of the mixed position",
    truth="as wired; the mixed position says nothing",
    tells=True,
    check="the mixed position sounds as one alone",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng, s={"neck": -1 if rng.random() < 0.7 else 1})
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH])
    middle: Wanted = TWO if twin else "neck"
    for string in ("E2", "A2"):
        p.switch(("bridge", middle, "neck"), string, said=("bridge", "both", "neck"))
        p.switch(("neck", middle, "bridge"), string, said=("neck", "both", "bridge"))
    return truth_of(p.true)


@tell(
    "both-is-one-alone-hum",
    "The same contact, and hum on bridge, both and neck: both hums as one alone does.",
    cause="one contact, behind all hum takes of the mixed position",
    truth="as wired; the mixed position says nothing",
    tells=True,
    check="a pluck on the mixed position; hum on two inputs at once",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = humming(draw(rng, w={"neck": -1}), field_db=26.0, stray_db=52.0)
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH])
    for _ in range(3):
        p.hum(("bridge",))
        p.hum((TWO if twin else "neck",), said=("both",))
        p.hum(("neck",))
    return truth_of(p.true)


@tell(
    "phase-switch-pulled-for-half-of-the-takes",
    "The tone knob is a push-pull that turns the neck pickup over; it was up for the second half of the"
    " takes.",
    cause="one switch, behind half of the takes",
    truth="with the switch at rest",
    tells=True,
    check="the two halves contradict each other",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng)
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH])
    listed = {"bridge": "bridge", "both": TWO, "neck": "neck"}
    _round(p, listed, ("D3", "A2"), ("bridge", "both", "neck"))
    if not twin:
        p.seen = connected_over(p.seen, "neck")
    _round(p, listed, ("D3", "A2", "G3"), ("bridge", "both", "neck"))
    return truth_of(p.true)


@tell(
    "phase-switch-pulled-throughout",
    "The same push-pull was up all day.",
    cause="one switch, behind all takes",
    truth="with the switch at rest",
    tells=False,
    check="the switch is asked for",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng)
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH])
    if not twin:
        p.seen = connected_over(p.seen, "neck")
    listed = {"bridge": "bridge", "both": TWO, "neck": "neck"}
    for string in ("E2", "A2"):
        p.switch(("bridge", TWO, "neck"), string, said=("bridge", "both", "neck"))
    _round(p, listed, ("D3", "A2", "D3"), ("bridge", "both", "neck"))
    return truth_of(p.true)


@tell(
    "takes-under-another-pickups-name",
    "Middle and neck pickup were taken for each other from the first take to the last, plucks and lifts"
    " alike.",
    cause="two names exchanged, behind all takes",
    tells=True,
    check=TAPS,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _five(folder, rng, world, draw(rng, pickups=3, s={"middle": 1, "neck": -1}))
    names = dict(zip(THREE, THREE if twin else ("bridge", "neck", "middle"), strict=True))
    split_check(p)
    for string in strings_of(rng, p.true, 3):
        for said in ("middle", "neck"):
            p.pluck(("bridge", names[said]), string, said=("bridge", said))
    for said in THREE:
        for _ in range(2):
            p.lift(names[said], said=said)
    return truth_of(p.true)


@tell(
    "places-measured-from-the-nut",
    "The ruler lay from the nut: every pickup's place is the scale less what it should be.",
    cause="one ruler, behind all places",
    tells=True,
    check="the place that each pickup is heard at",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng)
    places = {
        one.name: float(round(one.centre_mm if twin else bench.scale_mm - one.centre_mm))
        for one in bench.pickups
    }
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH], places_mm=places)
    split_check(p)
    paired(p, strings_of(rng, p.true, 3))
    _round(
        p, {"bridge": "bridge", "both": TWO, "neck": "neck"}, ("D3", "A2", "D3"), ("bridge", "both", "neck")
    )
    return truth_of(p.true)


@tell(
    "places-exchanged",
    "The two distances were written beside the wrong names.",
    cause="one slip, behind both places",
    tells=True,
    check="the place that each pickup is heard at",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng)
    bridge, neck = (float(round(one.centre_mm)) for one in bench.pickups)
    places = {"bridge": bridge, "neck": neck} if twin else {"bridge": neck, "neck": bridge}
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH], places_mm=places)
    _round(
        p,
        {"bridge": "bridge", "both": TWO, "neck": "neck"},
        ("D3", "A2", "D3", "G3"),
        ("bridge", "both", "neck"),
    )
    return truth_of(p.true)


@tell(
    "halves-of-a-humbucker-exchanged",
    "The split leaves the other coil than the job says, and hum is wanted to cancel there.",
    cause="one wrong number, behind all takes of the split",
    truth="with the coil that the job names",
    tells=False,
    check="a tap or a lift on each coil in that position",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    base = draw(rng)
    two = draw(rng, conditions=replace(base.conditions, humbucker_rate=1.0))
    bench = humming(replace(base, pickups=(base.pickups[0], two.pickups[1])), field_db=26.0, stray_db=52.0)
    split = Setting(name="split", on=(Member(pickup="bridge"), Member(pickup="neck", coil=1)), quiet=True)
    half = Setting(name="half", on=(Member(pickup="neck", coil=1),))
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[split, half])
    left = 1 if twin else 2
    alone, mixed = On("neck", coil=left), ("bridge", On("neck", coil=left))
    for _ in range(3):
        p.hum(("bridge",))
        p.hum((alone,), said=("half",))
        p.hum((mixed,), said=("split",))
    p.hum(("bridge", alone), said=("bridge", "half"))
    p.pluck((mixed,), "D3", said=("split",))
    cancels = bench.w("bridge") != bench.w("neck", coil=1)
    return truth_of(p.true, quiet={"split": "yes" if cancels else "no"})


@tell(
    "two-like-guitars",
    "A customer left two guitars that look the same; Thursday's takes are of the other one.",
    cause="another guitar, behind half of the takes",
    truth="of the first guitar",
    tells=True,
    check="places, pitch and loss differ a little; the two halves may contradict each other",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench, other = draw(rng), draw(rng)
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH])
    split_check(p)
    paired(p, strings_of(rng, p.true, 2))
    p.rest(hours=70)
    if not twin:
        wrong = connected_over(other, "neck") if other.in_phase(*TWO) == bench.in_phase(*TWO) else other
        p.seen = world.bench(
            replace(wrong, mains=bench.mains, interface=bench.interface), np.random.default_rng([p.seed, 9])
        )
    paired(p, strings_of(rng, p.true, 4))
    lifts(p, times=3)
    return truth_of(p.true)


@tell(
    "lifts-all-at-one-pickup",
    "The covers look alike: the tool was on the bridge pickup's poles every time, also when the neck's"
    " were meant, with both pickups on the jack by the selector's middle position.",
    cause="one mistaken pole, behind all lifts and swings of one pickup",
    tells=True,
    check="the lifts are as alike as those of one pickup; a pluck",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng, s={"neck": -1})
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH])
    for said in ("bridge",) * 4 + ("neck",) * 4:
        p.lift(said if twin else "bridge", said=said)
    for said in ("bridge",) * 2 + ("neck",) * 2:
        p.meter(said if twin else "bridge", said=said)
    return truth_of(p.true)


@tell(
    "list-from-the-wrong-end-two-pickups",
    "Two pickups and three positions, listed from the wrong end; it is only asked whether the two ends agree,"
    " which no list from the wrong end can change.",
    cause="one list, which does not touch the relation of its two ends",
    tells=False,
    check="none is needed",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng)
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH])
    names = {"bridge": "bridge", "both": TWO, "neck": "neck"}
    if not twin:
        names |= {"bridge": "neck", "neck": "bridge"}
    for string in ("E2", "A2"):
        p.switch(
            [names[name] for name in ("bridge", "both", "neck")], string, said=("bridge", "both", "neck")
        )
    _round(p, names, ("D3", "A2", "D3"), ("bridge", "both", "neck"))
    return truth_of(p.true)
