"""More stories about recorders and paths, and about what is written down.

Task: one path or one slip of the pen behind many takes. Shapes: samples (frames, channels). Units: seconds,
Hz, dB. Signs: truth is said of the pickups by their leads; no path and no entry changes it.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy import signal
from simulator.workbench import Bench
from studies.shared_causes.benches import (
    BOTH,
    FRONT,
    REAR,
    TWO,
    changed,
    connected_over,
    draw,
    hum_round,
    humming,
    in_turn,
    lifts,
    paired,
    seed_from,
    split_check,
    strings_of,
    swings,
)
from studies.shared_causes.person import Floats, Moment, Person, inverting_input
from studies.shared_causes.record import Generator, Stories, Truth, truth_of
from studies.shared_causes.story_more_guitars import loaded_otherwise
from studies.shared_causes.unlike import World

MORE_PATHS = Stories("more paths and recorders")
MORE_ENTRIES = Stories("more entries")
tell = MORE_PATHS.tell

SPLIT = ("bridge", "bridge")
ALL_THREE = ("bridge", TWO, "neck")


def _bench(
    folder: Path,
    rng: np.random.Generator,
    world: World,
    *,
    bench: Bench | None = None,
    loose: bool = False,
) -> Person:
    drawn = bench or draw(rng)
    return Person(
        folder,
        drawn,
        seed=seed_from(rng),
        world=world,
        loose=["neck"] if loose else [],
        settings=[BOTH],
    )


@tell(
    "pan-pots-not-fully-out",
    "The two pickups went through a small mixer whose pan knobs stand at three o'clock and nine: each"
    " track has the other pickup in it, 7 to 9 dB down.",
    cause="two knobs, behind all paired plucks; the split check cannot show them",
    tells=True,
    check="one input with nothing plugged in beside it; the place that each is heard at",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, bench=draw(rng, s={"neck": -1}))
    leak = float(rng.uniform(0.35, 0.45))

    def panned(_moment: Moment, volts: Floats) -> Floats:
        return volts + leak * volts[:, ::-1] if volts.shape[1] == 2 else volts

    p.on_jack += [] if twin else [panned]
    split_check(p)
    paired(p, strings_of(rng, p.true, 5))
    split_check(p, string="A2")
    return truth_of(p.true)


def _gated(moment: Moment, samples: Floats) -> Floats:
    """A gate that opens 20 to 45 ms after the level is there, within 4 ms."""
    heard = samples.copy()
    for k in moment.channels("neck"):
        level = np.abs(signal.lfilter([0.02], [1.0, -0.98], np.abs(samples[:, k])))
        over = np.flatnonzero(level > 0.25 * level.max())
        opens = int(over[0]) + round(moment.rate * float(moment.rng.uniform(0.02, 0.045)))
        rise = np.clip((np.arange(samples.shape[0]) - opens) / (0.004 * moment.rate), 0.0, 1.0)
        heard[:, k] = samples[:, k] * (1e-3 + rise)
    return heard


@tell(
    "gate-cuts-the-attack-at-one-pickup",
    "The neck pickup was recorded on a track whose template has a gate: it opens some hundredths of a"
    " second late, so the beginning of each pluck and the first lobe of each lift are missing.",
    cause="one gate, behind all takes of one pickup",
    tells=True,
    check="silence before a beginning that is not one; both on one track",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    p.on_file += [] if twin else [_gated]
    in_turn(p, times=4)
    lifts(p, times=5)
    return truth_of(p.true)


@tell(
    "recorder-normalises-each-file",
    "The recorder brings every file to the same peak when it is saved: hum of both pickups together,"
    " which cancels, comes out as loud as hum of one.",
    cause="one setting of the recorder, behind every difference in level",
    tells=True,
    check="all files have one and the same peak; the noise rises with the hum",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = humming(draw(rng, w={"neck": -1}), field_db=26.0, stray_db=52.0)
    p = _bench(folder, rng, world, bench=bench)

    def to_the_peak(_moment: Moment, samples: Floats) -> Floats:
        centred = samples - samples.mean(axis=0)
        return np.asarray(0.97 * centred / np.max(np.abs(centred)), dtype=np.float64)

    p.on_file += [] if twin else [to_the_peak]
    hum_round(p, ALL_THREE, times=3)
    for each in ALL_THREE:
        p.pluck((each,), "D3")
    return truth_of(p.true)


def _mono(_moment: Moment, samples: Floats) -> Floats:
    return samples.mean(axis=1, keepdims=True)


@tell(
    "mono-mix-with-the-other-lead-plugged-in",
    "The recorder saves the mix of its two inputs, and while the bridge pickup was being recorded the"
    " neck pickup's lead was still in the other one.",
    cause="one lead, behind all plucks of one pickup",
    tells=True,
    check="the place that the bridge pickup is heard at; its lifts contradict",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, bench=draw(rng, s={"neck": -1}))
    p.on_file.append(_mono)
    for string, press in (("D3", False), ("D3", False), ("A2", False), ("G3", True), ("D3", True)):
        p.pluck(("bridge",) if twin else TWO, string, said=("bridge",), press=press)
        p.pluck(("neck",), string, press=press)
    return truth_of(p.true)


def _y_lead(*, beside: bool) -> Generator:
    def generate(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
        p = _bench(folder, rng, world)

        def branch(moment: Moment, volts: Floats) -> Floats:
            turned = volts.copy()
            if moment.done == SPLIT:
                turned[:, 1] *= -1.0
            return turned

        p.on_jack += [] if twin else [branch]
        split_check(p)
        paired(p, strings_of(rng, p.true, 4))
        split_check(p, string="A2")
        if beside:
            in_turn(p, times=3)
            lifts(p)
        return truth_of(p.true)

    return generate


tell(
    "y-lead-inverts-one-branch",
    "The lead that splits one pickup into both inputs was made up with one plug turned over: the split"
    " checks find an input that inverts, and none does.",
    cause="one lead, behind both split checks and nothing else",
    tells=False,
    check="the split check with its two plugs exchanged; lifts of each on one input",
)(_y_lead(beside=False))
tell(
    "y-lead-inverts-one-branch-and-lifts",
    "The same lead, and both pickups were also plucked and lifted at on one input.",
    cause="one lead, behind both split checks and nothing else",
    tells=True,
    check="lifts and plucks in turn contradict what the split checks make of the paired plucks",
)(_y_lead(beside=True))


@tell(
    "split-check-with-the-volume-at-zero",
    "Input 2 inverts. The split check that would have shown it was made with the guitar's volume at"
    " zero, and what is on both files is next to nothing.",
    cause="one knob, behind the split checks",
    tells=True,
    check="the split check's level; once more with the volume up",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)

    def at_zero(moment: Moment, volts: Floats) -> Floats:
        return volts * (3e-3 if moment.done == SPLIT else 1.0)

    p.on_jack += [inverting_input(2)] if twin else [inverting_input(2), at_zero]
    split_check(p)
    split_check(p, string="A2")
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


@tell(
    "phase-rotator-on-one-input",
    "Input 2 has a voice strip that turns the phase near 140 Hz once round, so that peaks are lower."
    " The split check was made on high E, far above it.",
    cause="one filter, behind all paired plucks",
    tells=True,
    check="a split check on the strings that were plucked; the high partials contradict the low ones",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    centre = float(rng.uniform(110.0, 170.0))

    def rotated(moment: Moment, samples: Floats) -> Floats:
        if samples.shape[1] < 2:
            return samples
        w = 2.0 * np.pi * centre / moment.rate
        alpha = 0.5 * np.sin(w)
        a = np.array([1.0 + alpha, -2.0 * np.cos(w), 1.0 - alpha])
        turned = samples.copy()
        turned[:, 1] = signal.lfilter(a[::-1] / a[0], a / a[0], samples[:, 1])
        return turned

    p.on_file += [] if twin else [rotated]
    split_check(p, string="E4")
    split_check(p, string="E4")
    paired(p, ("D3", "A2", "D3", "G3", "A2"))
    return truth_of(p.true)


@tell(
    "stamped-with-another-rate",
    "The neck pickup's files were recorded at 44.1 kHz and stamped with 48: they play a tone and a half"
    " too high and too fast.",
    cause="one program, behind all takes of one pickup",
    tells=True,
    check="the pitch that is heard, and the mains at 54 Hz",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)

    def stamped(moment: Moment, samples: Floats) -> Floats:
        if not moment.channels("neck"):
            return samples
        frames = round(samples.shape[0] * 44_100 / 48_000)
        return np.asarray(signal.resample(samples, frames, axis=0), dtype=np.float64)

    p.on_file += [] if twin else [stamped]
    in_turn(p, times=4)
    in_turn(p, times=2, string="A2", press=True)
    lifts(p)
    return truth_of(p.true)


@tell(
    "valve-stage-bends-one-way",
    "Everything went through a valve stage that was driven hard and bends one half of the wave only:"
    " the second partial is the stage's and not the string's, whichever way round the pickup is.",
    cause="one stage, behind all takes",
    tells=True,
    check="the second partial grows as the square of the first; less level",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, bench=draw(rng, s={"neck": -1}))

    def bent(moment: Moment, volts: Floats) -> Floats:
        usual = moment.person.true.pluck_v
        x = volts / (2.5 * usual)
        return np.asarray(2.5 * usual * np.where(x > 0, np.tanh(2.0 * x) / 2.0, x), dtype=np.float64)

    p.on_jack += [] if twin else [bent]
    in_turn(p, times=5)
    in_turn(p, times=3, string="A2")
    lifts(p, times=3)
    return truth_of(p.true)


@tell(
    "line-input-on-one-side",
    "The neck pickup was in a line input of 10 kilohms by a cable of 8 m: its partials above 700 Hz are"
    " down and late, those of the bridge pickup in the instrument input are not.",
    cause="one input, behind all paired plucks; the split check loads both with it",
    tells=True,
    check="the neck pickup is dull; both plugs exchanged",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    load = replace(p.true.load, input_ohm=10e3, cable_f=2e-9)
    p.on_jack += [] if twin else [loaded_otherwise(p.true, "neck", load)]
    split_check(p)
    paired(p, ("G3", "B3", "D3", "E4", "G3"))
    return truth_of(p.true)


@tell(
    "mains-of-another-country",
    "The job says 50 Hz and the room has 60, or the other way round, for the job was copied from"
    " another bench.",
    cause="one number, behind all takes of hum",
    tells=True,
    check="the lines that are heard",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, bench=humming(draw(rng), field_db=26.0, stray_db=52.0))
    if not twin:
        mains = p.seen.mains
        p.seen = replace(p.seen, mains=replace(mains, nominal_hz=110.0 - mains.nominal_hz))
    split_check(p)
    hum_round(p, ALL_THREE)
    for _ in range(3):
        p.hum(TWO)
    return truth_of(p.true)


tell = MORE_ENTRIES.tell


@tell(
    "names-exchanged-halfway",
    "Halfway through, the person who writes turned the guitar round on the bench, and from then on"
    " middle and neck pickup go by each other's names.",
    cause="two names exchanged, behind the second half of the takes",
    tells=True,
    check="both halves contradict each other; the place that each is heard at",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng, pickups=3, s={"middle": 1, "neck": -1})
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[REAR, FRONT])
    names = {"middle": "middle", "neck": "neck"} if twin else {"middle": "neck", "neck": "middle"}
    split_check(p)
    for string in strings_of(rng, p.true, 2):
        for name in names:
            p.pluck(("bridge", name), string)
    p.rest(hours=1)
    for string in strings_of(rng, p.true, 3):
        for said, really in names.items():
            p.pluck(("bridge", really), string, said=("bridge", said))
    for said in ("bridge", "middle", "neck"):
        for _ in range(2):
            p.lift(names.get(said, said), said=said)
    return truth_of(p.true)


@tell(
    "job-copied-with-last-weeks-places",
    "The job was copied from last week's guitar, whose bridge pickup sat 25 mm further up and whose"
    " neck pickup 55 mm further down; nobody measured anew.",
    cause="two numbers, behind what the higher partials are taken to say",
    tells=True,
    check="the place that each pickup is heard at",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng)
    bridge, neck = (float(round(one.centre_mm)) for one in bench.pickups)
    places = {"bridge": bridge, "neck": neck} if twin else {"bridge": bridge + 25.0, "neck": neck - 55.0}
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[BOTH], places_mm=places)
    for string in ("E2", "A2"):
        p.switch(("bridge", TWO, "neck"), string, said=("bridge", "both", "neck"))
    for string in ("D3", "A2", "D3"):
        for each in ALL_THREE:
            p.pluck((each,), string)
    return truth_of(p.true)


@tell(
    "takes-of-before-and-after-exchanged",
    "The takes from before and after the work were brought in together on Friday, those of before as"
    " after and those of after as found; the exchange was entered between them.",
    cause="two labels exchanged, behind all takes",
    truth="as the leads really are at the end",
    tells=False,
    check="one pluck of the guitar as it is now",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, loose=True)
    before, after = p.seen, connected_over(p.seen, "neck")
    p.seen = before if twin else after
    split_check(p)
    paired(p, strings_of(rng, p.true, 4))
    p.enter_change("neck")
    p.rest(hours=2)
    p.seen = after if twin else before
    for string in ("D3", "G3", "A2"):
        p.pluck(TWO, string, said=TWO, stage="after")
    return truth_of(after)


@tell(
    "meter-shows-no-sign",
    "The meter ranges by itself and its bar shows how much, not which way: every pull was written down"
    " as a rise.",
    cause="one meter, behind all readings",
    tells=False,
    check="one pickup read with the meter's leads exchanged has to fall",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, bench=draw(rng, s={"neck": -1}))
    for tool, times in (("steel rod", 4), ("screwdriver", 3)):
        for name in TWO * times:
            p.meter(name, tool=tool, turned=not twin and p.true.s(name) < 0)
    return truth_of(p.true)


@tell(
    "meter-in-the-finished-harness",
    "Both pickups were read at the jack with the selector in the middle, each with the other across it:"
    " half the swing, half the ohms, and the same signs.",
    cause="one position of the selector, which turns nothing over",
    tells=True,
    check="both pickups read the same ohms, and half of what they should",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    if not twin:
        a, b = (p.true.pickup(name).coils[0].electrics.r_ohm for name in TWO)
        for name in TWO:
            one = p.seen.pickup(name)
            both = replace(one.coils[0].electrics, r_ohm=a * b / (a + b))
            p.seen = changed(p.seen, name, replace(one, coils=(replace(one.coils[0], electrics=both),)))
    swings(p, times=4)
    p.seen = p.true
    in_turn(p, times=3)
    return truth_of(p.true)


@tell(
    "both-plugs-exchanged-for-the-loose-pickups-takes",
    "Input 2 inverts, as the split check says. From the third paired take on the plugs sit the other way"
    " round, and what says neck alone was taken from the plug that is now in input 2.",
    cause="two plugs, behind the plucks in turn and lifts of one pickup",
    tells=True,
    check="plucks in turn and lifts contradict paired plucks; the place that each channel is heard at",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)

    def through_two(moment: Moment, volts: Floats) -> Floats:
        return -volts if moment.done == ("neck",) else volts

    p.on_jack += [inverting_input(2)] if twin else [inverting_input(2), through_two]
    split_check(p)
    strings = strings_of(rng, p.true, 5)
    paired(p, strings[:2])
    for string in strings[2:]:
        p.pluck(TWO if twin else TWO[::-1], string, said=TWO)
    in_turn(p, times=3)
    lifts(p)
    return truth_of(p.true)
