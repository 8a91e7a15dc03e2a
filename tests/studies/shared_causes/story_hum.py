"""Stories about hum, and about pickups that are not one thing: poles, halves, dead coils.

Task: one field, one hand or one fault behind many takes. Shapes: volts (frames, channels). Units: dB,
volts.
Signs: hum cancels where the windings differ; the field and the hand never change it.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from simulator.workbench import Bench
from studies.shared_causes.benches import (
    BOTH,
    TWO,
    connected_over,
    draw,
    field_over,
    hum_round,
    humming,
    in_turn,
    lifts,
    louder,
    magnet_over,
    paired,
    seed_from,
    split_check,
    strings_of,
    swings,
)
from studies.shared_causes.person import Floats, Moment, Person
from studies.shared_causes.record import Stories, Truth, truth_of
from studies.shared_causes.unlike import World

HUM = Stories("hum")
PICKUPS = Stories("pickups")
tell = HUM.tell

ALL_THREE = ("bridge", TWO, "neck")


def _hums(
    folder: Path,
    rng: np.random.Generator,
    world: World,
    *,
    w: int | None = None,
    field_db: float = 26.0,
    stray_db: float = 52.0,
) -> Person:
    bench = humming(draw(rng, w=None if w is None else {"neck": w}), field_db=field_db, stray_db=stray_db)
    return Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH])


@tell(
    "transformer-between-the-pickups-by-level",
    "The bench's transformer lay between the two pickups and its field points opposite ways at them; hum"
    " on each and on both.",
    cause="one field, behind all hum takes",
    tells=False,
    check="hum again a metre away, beyond one end of the guitar",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _hums(folder, rng, world)
    p.seen = p.seen if twin else field_over(p.seen, "neck")
    hum_round(p, ALL_THREE, times=3)
    return truth_of(p.true)


@tell(
    "transformer-between-the-pickups-two-inputs",
    "The same transformer, and hum of both pickups on two inputs at once.",
    cause="one field, behind all hum takes",
    tells=False,
    check="hum again a metre away, beyond one end of the guitar",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _hums(folder, rng, world)
    p.seen = p.seen if twin else field_over(p.seen, "neck")
    split_check(p)
    for _ in range(4):
        p.hum(TWO)
    return truth_of(p.true)


@tell(
    "transformer-between-the-pickups-both-ways",
    "The same transformer, and both ways of listening: by level and on two inputs.",
    cause="one field, behind two methods",
    tells=False,
    check="hum again a metre away, beyond one end of the guitar",
    asks=("phase", "hum"),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _hums(folder, rng, world)
    p.seen = p.seen if twin else field_over(p.seen, "neck")
    split_check(p)
    paired(p, ("D3", "G3", "A2"))
    hum_round(p, ALL_THREE, times=2)
    for _ in range(3):
        p.hum(TWO)
    return truth_of(p.true)


@tell(
    "hand-on-the-strings-in-some-takes",
    "The strings of this guitar are not grounded: a hand that lies on them brings hum in by capacitance,"
    " and it lay there each time both pickups were on.",
    cause="one hand, behind every difference in level",
    tells=True,
    check="both takes of one setting, with and without the hand; two inputs at once",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _hums(folder, rng, world, w=-1)
    normal = p.seen
    for _ in range(3):
        for each in ALL_THREE:
            p.seen = louder(normal, stray_db=27.0) if not twin and each == TWO else normal
            p.hum((each,))
    return truth_of(p.true)


@tell(
    "hand-on-the-strings-while-both-are-on",
    "The other way round: the hand lay on the strings while both pickups were on, and the pair that hums"
    " seems to cancel.",
    cause="one hand, behind every difference in level",
    tells=True,
    check="both takes of one setting, with and without the hand; two inputs at once",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _hums(folder, rng, world, w=1, field_db=42.0, stray_db=26.0)
    normal = p.seen
    for _ in range(3):
        for each in ALL_THREE:
            p.seen = louder(normal, stray_db=-14.0) if not twin and each == TWO else normal
            p.hum((each,))
    return truth_of(p.true)


@tell(
    "hum-by-capacitance-on-two-inputs",
    "Next to a lamp nearly all hum comes in by capacitance, with one and the same sign on both inputs.",
    cause="one way in, behind all hum takes",
    tells=False,
    check="hum again with the guitar turned about a level axis, and with a hand on the strings",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _hums(folder, rng, world, w=-1)
    split_check(p)
    if not twin:
        p.seen = louder(p.seen, field_db=-26.0, stray_db=26.0)
    for _ in range(4):
        p.hum(TWO)
    return truth_of(p.true)


@tell(
    "guitar-turned-about-the-vertical-only",
    "Nearly all hum comes in by capacitance; the guitar lay flat and was turned a quarter about the"
    " vertical, which brought its cable nearer to the lamp: louder, so it was taken for a field.",
    cause="one turn that proves nothing, behind all hum takes",
    tells=False,
    check="a turn about a level axis",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _hums(folder, rng, world, w=-1)
    if not twin:
        p.seen = louder(p.seen, field_db=-24.0, stray_db=24.0)
    before = p.seen
    hum_round(p, ALL_THREE)
    p.seen = louder(before, field_db=-8.0) if twin else louder(before, stray_db=7.0)
    hum_round(p, ALL_THREE)
    p.hum(TWO)
    return truth_of(p.true)


@tell(
    "heater-switches-on-between-takes",
    "The heater under the bench was on whenever one pickup alone was being recorded and off for both: the"
    " field is 11 dB weaker there, and a pair that hums seems to cancel.",
    cause="one heater, behind every difference in level",
    tells=True,
    check="takes of one setting before and after; two inputs at once",
    asks=("hum",),
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _hums(folder, rng, world, w=1, field_db=36.0, stray_db=58.0)
    normal = p.seen
    for _ in range(3):
        for each in ALL_THREE:
            p.seen = normal if twin or each == TWO else louder(normal, field_db=11.0)
            p.hum((each,))
    return truth_of(p.true)


@tell(
    "string-shaken-by-the-transformer",
    "A low string tuned near 100 Hz was not damped, and the bench's transformer shakes it: the line at"
    " twice the mains comes from the string, with the string's sign.",
    cause="one string, behind one line of all hum takes",
    tells=True,
    check="the other lines; damp the strings",
    asks=("hum",),
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    same = 1 if rng.random() < 0.5 else -1
    bench = humming(draw(rng, s={"neck": -same}, w={"neck": same}), field_db=38.0, stray_db=55.0)
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH])

    def shaken(moment: Moment, volts: Floats) -> Floats:
        heard = volts.copy()
        if moment.gesture != "hum":
            return heard
        t = np.arange(volts.shape[0]) / moment.rate
        mains = p.seen.mains.nominal_hz * (1.0 + p.seen.mains.drift)
        start = moment.rng.uniform(0.0, 2.0 * np.pi)
        wave = 0.06 * p.seen.pluck_v * np.sin(4.0 * np.pi * mains * t + start)
        for k, each in enumerate(moment.done):
            names = (each,) if isinstance(each, str) else tuple(str(one) for one in each or ())
            heard[:, k] += wave * sum(p.seen.s(name) for name in names) / max(1, len(names))
        return heard

    p.on_jack += [] if twin else [shaken]
    split_check(p)
    hum_round(p, ALL_THREE, times=2)
    for _ in range(3):
        p.hum(TWO)
    return truth_of(p.true)


@tell(
    "hum-of-the-box-itself",
    "The box's own power supply hums into both inputs alike, 20 dB above what the pickups bring.",
    cause="one supply, behind all hum takes",
    tells=True,
    check="hum with nothing plugged in; the same level on every setting",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _hums(folder, rng, world, w=-1, field_db=30.0, stray_db=54.0)
    if not twin:
        p.seen = louder(p.seen, stray_db=44.0)
    split_check(p)
    hum_round(p, ALL_THREE)
    for _ in range(2):
        p.hum(TWO)
    return truth_of(p.true)


tell = PICKUPS.tell


def _plain(folder: Path, rng: np.random.Generator, world: World, bench: Bench) -> Person:
    return Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH])


def _by_string(p: Person, other: Sequence[str], *, magnets: bool) -> None:
    """Another sign of the neck pickup under some strings."""

    def seen(bench: Bench, string: str) -> Bench:
        if string not in other:
            return bench
        return magnet_over(bench, "neck") if magnets else connected_over(bench, "neck")

    p.per_string = seen


@tell(
    "alternating-poles",
    "The neck pickup's poles alternate north and south along its one coil: three strings agree with the"
    " bridge, three do not; D, B and low E were plucked.",
    cause="one pickup whose sign goes with the string",
    truth="there is no one answer for the pair",
    tells=False,
    check="one string from the other three",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _plain(folder, rng, world, draw(rng))
    if not twin:
        _by_string(p, ("A2", "G3", "E4"), magnets=True)
    split_check(p)
    paired(p, ("D3", "B3", "E2", "D3"))
    in_turn(p, times=2)
    return truth_of(p.true, phase=None if twin else "neither")


@tell(
    "alternating-poles-all-strings",
    "The same pickup, with all six strings plucked.",
    cause="one pickup whose sign goes with the string",
    truth="there is no one answer for the pair",
    tells=True,
    check="the strings contradict each other, one by one",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _plain(folder, rng, world, draw(rng))
    if not twin:
        _by_string(p, ("A2", "G3", "E4"), magnets=True)
    split_check(p)
    paired(p, ("E2", "A2", "D3", "G3", "B3", "E4", "D3", "G3"))
    return truth_of(p.true, phase=None if twin else "neither")


@tell(
    "halves-of-a-bass-pickup-joined-wrongly",
    "A bass pickup in two halves, one under E and A, one under D and G, was repaired and one half joined"
    " the wrong way round; mostly E and A were plucked.",
    cause="one joint, behind all takes on two strings",
    truth="there is no one answer for the pair",
    tells=True,
    check="D and G against E and A",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _plain(folder, rng, world, draw(rng, bass=True))
    if not twin:
        _by_string(p, ("D2", "G2"), magnets=False)
    split_check(p, string="A1")
    paired(p, ("A1", "E1", "A1", "E1", "D2"))
    return truth_of(p.true, phase=None if twin else "neither", hum=None if twin else "not asked")


@tell(
    "halves-of-a-bass-pickup-and-lifts-at-one-end",
    "The same pickup, plucked on A and lifted at under the G string.",
    cause="one joint, which divides plucks and lifts",
    truth="there is no one answer for the pair",
    tells=True,
    check="lifts at both ends of the pickup",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _plain(folder, rng, world, draw(rng, bass=True))
    paired(p, ("A1", "E1", "A1"))
    split_check(p, string="A1")
    p.seen = p.seen if twin else connected_over(p.seen, "neck")
    lifts(p)
    return truth_of(p.true, phase=None if twin else "neither", hum=None if twin else "not asked")


class _Bleed:
    """A dead neck pickup: its input hears the bridge pickup, down by some dB, and noise."""

    def __init__(self, db: float, noise_db: float) -> None:
        self.bleed, self.noise = (10.0 ** (-x / 20.0) for x in (db, noise_db))

    def __call__(self, moment: Moment, volts: Floats) -> Floats:
        heard = volts.copy()
        for k in moment.channels("neck"):
            source = volts[:, 0] if moment.done[0] == "bridge" else 0.0 * volts[:, k]
            hiss = moment.person.seen.pluck_v * moment.rng.standard_normal(volts.shape[0])
            heard[:, k] = self.bleed * source + self.noise * hiss
        return heard


@tell(
    "dead-pickup-bleeds",
    "The neck pickup's wire is broken; its input hears the bridge pickup 40 dB down, with noise on it.",
    cause="one dead coil, behind all paired plucks",
    truth="nothing of the neck pickup is heard, so nothing can be known of it",
    tells=True,
    check="its level against the split check's; the place that it is heard at; an ohmmeter",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _plain(folder, rng, world, draw(rng))
    split_check(p)
    p.on_jack += [] if twin else [_Bleed(40.0, 58.0)]
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true, phase=None if twin else "neither")


@tell(
    "dead-pickup-bleeds-with-the-gain-turned-up",
    "The same, 32 dB down, and the gain of input 2 was turned up until the level looked right.",
    cause="one dead coil, behind all paired plucks",
    truth="nothing of the neck pickup is heard, so nothing can be known of it",
    tells=True,
    check="the place that it is heard at; an ohmmeter",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _plain(folder, rng, world, draw(rng))
    split_check(p)

    def turned_up(moment: Moment, volts: Floats) -> Floats:
        heard = volts.copy()
        for k in moment.channels("neck"):
            heard[:, k] *= 30.0
        return heard

    p.on_jack += [] if twin else [_Bleed(32.0, 56.0), turned_up]
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true, phase=None if twin else "neither")


@tell(
    "pickup-that-hears-the-body",
    "The neck pickup is loose in its wax: it hears the knocking of the body and the strings through the"
    " wood, with a sign that has nothing to do with its magnet.",
    cause="one coil that moves, behind all plucks at one pickup",
    tells=True,
    check="a lift; a voice close to the pickup is heard",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _plain(folder, rng, world, draw(rng))

    def wood(moment: Moment, volts: Floats) -> Floats:
        heard = volts.copy()
        for k in moment.channels("neck"):
            turned = -np.cumsum(volts[:, k] - volts[:, k].mean()) / moment.rate
            turned *= np.std(volts[:, k]) / (np.std(turned) or 1.0)
            heard[:, k] = 0.35 * volts[:, k] + 0.8 * turned - 0.6 * p.seen.s("neck") * np.abs(volts[:, k])
        return heard

    p.on_jack += [] if twin else [wood]
    split_check(p)
    paired(p, strings_of(rng, p.true, 4))
    in_turn(p, times=2)
    swings(p, times=1)
    return truth_of(p.true)
