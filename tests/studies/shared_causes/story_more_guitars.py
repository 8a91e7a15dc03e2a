"""More stories about guitars: circuits that are not as listed, weak magnets, and two causes at a time.

Task: one cause in the guitar, or two causes of the bench at once, behind many takes. Shapes: volts (frames,
channels). Units: ohm, farad, Hz, mm. Signs: truth is said of the leads by their true colours.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import fft
from simulator.circuits import Branch, LoadSpec, transfers
from simulator.tools import ToolSpec
from simulator.workbench import Bench, On, Wanted
from studies.shared_causes.benches import (
    BOTH,
    TWO,
    beside,
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
from studies.shared_causes.person import Change_, Floats, Moment, Person, inverting, inverting_input
from studies.shared_causes.record import Stories, Truth, truth_of
from studies.shared_causes.unlike import World

from dsp.model.network import Capacitor, CoilPart, Joined, Part, Resistor

MORE_GUITARS = Stories("more guitars")
MORE_AT_ONCE = Stories("more than one cause")
tell = MORE_GUITARS.tell

Complexes = NDArray[np.complex128]


def _fitted(folder: Path, rng: np.random.Generator, world: World, bench: Bench | None = None) -> Person:
    drawn = bench or draw(rng)
    return Person(folder, drawn, seed=seed_from(rng), world=world, settings=[BOTH])


def _loose(folder: Path, rng: np.random.Generator, world: World, bench: Bench | None = None) -> Person:
    drawn = bench or draw(rng)
    return Person(folder, drawn, seed=seed_from(rng), world=world, loose=["neck"], settings=[BOTH])


def _behind(bench: Bench, name: str, part: Part) -> Bench:
    """A part in series with the one coil of a pickup."""
    one = bench.pickup(name)
    return changed(bench, name, replace(one, circuit=Joined("series", (CoilPart(1), part))))


def _round(p: Person, strings: tuple[str, ...], mixed: Wanted = TWO) -> None:
    """Bridge, both and neck at the jack, as often as there are strings."""
    for string in strings:
        p.pluck(("bridge",), string)
        p.pluck((mixed,), string, said=("both",))
        p.pluck(("neck",), string)


def filtering(name: str, gain: Callable[[Floats], Complexes]) -> Change_:
    """What is heard of the pickup ``name`` alone goes through ``gain``, a function of frequency in Hz."""

    def change(moment: Moment, volts: Floats) -> Floats:
        heard = volts.copy()
        size = fft.next_fast_len(volts.shape[0] + moment.rate // 4, real=True)
        hz = fft.rfftfreq(size, 1.0 / moment.rate)
        for k in moment.channels(name):
            heard[:, k] = fft.irfft(gain(hz) * fft.rfft(volts[:, k], size), size)[: volts.shape[0]]
        return heard

    return change


def loaded_otherwise(bench: Bench, name: str, load: LoadSpec) -> Change_:
    """The pickup ``name`` sees ``load`` in place of the bench's own."""
    branch = Branch(tuple(coil.electrics for coil in bench.pickup(name).coils))

    def gain(hz: Floats) -> Complexes:
        other = transfers((branch,), load, hz, join="parallel")[0][0]
        return np.asarray(other / transfers((branch,), bench.load, hz, join="parallel")[0][0])

    return filtering(name, gain)


@tell(
    "humbucker-coils-joined-out-of-phase",
    "The neck pickup has two coils, and whoever rewound one joined it the wrong way round: the two"
    " subtract, and the pickup is thin by itself.",
    cause="one joint inside a pickup, behind all takes of it",
    truth="which of its coils wins goes with the partial, so there is no one answer",
    tells=True,
    check="a lift on each coil; the pickup is thin alone",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    base = draw(rng)
    two = draw(rng, conditions=replace(base.conditions, humbucker_rate=1.0))
    p = _fitted(folder, rng, world, replace(base, pickups=(base.pickups[0], two.pickups[1])))
    if not twin:
        neck = p.seen.pickup("neck")
        first, second = neck.coils
        joined = replace(second, signs=second.signs.leads_exchanged())
        p.seen = changed(p.seen, "neck", replace(neck, coils=(first, joined)))
    split_check(p)
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true, phase=None if twin else "neither")


@tell(
    "tired-magnets-and-a-magnetised-tool",
    "The neck pickup's magnets are nearly dead, and the rod has become a magnet: the strong bridge"
    " pickup turns the rod over as it should, at the weak neck pickup the rod's own pole wins.",
    cause="one tool at one weak pickup, behind all lifts and swings there",
    tells=True,
    check="plucks contradict lifts; a staple at the tip",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng)
    weak = replace(bench.pickup("neck"), sensitivity=0.3 * bench.pickup("neck").sensitivity)
    p = _fitted(folder, rng, world, changed(bench, "neck", weak))
    lifts(p, ("bridge",), times=4)
    swings(p, ("bridge",), times=3)
    if not twin:
        wrong = -p.true.s("neck") * p.true.w("neck")
        p.tool = ToolSpec(magnet=1 if wrong > 0 else -1)
    lifts(p, ("neck",), times=4)
    swings(p, ("neck",), times=3)
    in_turn(p, times=3)
    return truth_of(p.true)


@tell(
    "half-out-of-phase-by-a-hidden-capacitor",
    "In the middle position, and only there, the neck pickup comes in turned over and through a"
    " capacitor: a former owner wanted a nasal sound.",
    cause="one capacitor, behind all takes of the mixed position",
    truth="as the two pickups are alone",
    tells=True,
    check="each pickup alone contradicts the mixed position",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    plain = p.seen
    nasal = plain if twin else _behind(plain, "neck", Capacitor(22e-9))
    mixed: Wanted = TWO if twin else ("bridge", On("neck", reversed=True))
    for string in ("D3", "A2", "D3", "G3"):
        p.pluck(("bridge",), string)
        p.seen = nasal
        p.pluck((mixed,), string, said=("both",))
        p.seen = plain
        p.pluck(("neck",), string)
    p.seen = nasal
    for string in ("E2", "A2"):
        p.switch(("bridge", mixed, "neck"), string, said=("bridge", "both", "neck"))
    return truth_of(p.true)


@tell(
    "series-listed-as-parallel",
    "The mixed position joins the two pickups one behind the other; the job has them side by side.",
    cause="one wrong word in the list, behind all takes of the mixed position",
    tells=True,
    check="the mixed position is louder than either; ohms at the jack",
    asks=("phase", "hum"),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world, humming(draw(rng), field_db=28.0, stray_db=54.0))
    mixed: Wanted = TWO if twin else (On("bridge", group=1), On("neck", group=1))
    _round(p, ("D3", "A2", "D3"), mixed)
    for _ in range(2):
        p.hum(("bridge",))
        p.hum((mixed,), said=("both",))
        p.hum(("neck",))
    return truth_of(p.true)


@tell(
    "selector-leaks-the-other-pickup",
    "A drink has dried in the selector: some kilohms join its contacts, and every position has a part"
    " of the other pickup in it, which at the bridge position is the louder part of the lowest partial.",
    cause="one leak, behind all takes of each pickup alone",
    tells=True,
    check="the place that each is heard at; taps; ohms between the positions",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world, draw(rng, s={"neck": -1}))
    ohm = float(rng.uniform(1500.0, 5000.0))
    plain = p.seen
    for k in range(4):
        for name, other in (TWO, TWO[::-1]):
            p.seen = plain if twin else _behind(plain, other, Resistor(ohm))
            p.pluck((name if twin else TWO,), "D3" if k < 3 else "A2", said=(name,))
        p.seen = plain
        p.pluck((TWO,), "D3" if k < 3 else "A2")
    return truth_of(p.true)


@tell(
    "own-tone-of-one-pickup-rolled-off",
    "The neck pickup has a tone knob of its own, and it is at zero: with 47 nF it resonates near 450 Hz and"
    " everything above that is half a turn late.",
    cause="one knob, behind all takes of one pickup",
    tells=True,
    check="the pickup is dull; the low partials of low strings",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    rolled = replace(p.true.load, tone_ohm=30.0, tone_f=47e-9)
    p.on_jack += [] if twin else [loaded_otherwise(p.true, "neck", rolled)]
    split_check(p)
    paired(p, ("G3", "B3", "E4", "B3", "G3", "E4"))
    return truth_of(p.true)


@tell(
    "treble-bleed-with-one-volume-at-a-tenth",
    "The neck pickup's volume stood at two, with a capacitor across it for the treble: the low partials"
    " are 20 dB down and the higher ones lead.",
    cause="one knob, behind all takes of one pickup",
    tells=True,
    check="level and tone of the neck pickup; the knob",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    load = p.true.load

    def divided(hz: Floats) -> Complexes:
        omega = 2j * np.pi * hz
        upper = 0.9 * load.volume_ohm / (1.0 + omega * 0.9 * load.volume_ohm * 1e-9)
        lower = 1.0 / (1.0 / (0.1 * load.volume_ohm) + 1.0 / load.input_ohm + omega * load.cable_f)
        return np.asarray(lower / (upper + lower))

    p.on_jack += [] if twin else [filtering("neck", divided)]
    split_check(p)
    paired(p, strings_of(rng, p.true, 4))
    in_turn(p, times=2)
    return truth_of(p.true)


tell = MORE_AT_ONCE.tell


@tell(
    "clips-reversed-and-hand-turned-over",
    "The clips sat the wrong way round on the loose pickup, and with it on the jack the hand pulled the"
    " strings up: its plucks come out right, its lifts and swings do not.",
    cause="one clip-up and one hand",
    tells=True,
    check="plucks and lifts contradict each other; a tag, a paired pluck",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    if not twin:
        p.seen, p.turned = connected_over(p.seen, "neck"), {"neck"}
    in_turn(p, times=4)
    in_turn(p, times=2, string="G3", press=True)
    lifts(p)
    swings(p)
    return truth_of(p.true)


@tell(
    "magnetised-tool-and-hand-turned-over",
    "The rod is a magnet, and with the neck pickup on the strings were pulled up: lifts, swings, plucks"
    " and presses all say the same, and all are wrong.",
    cause="one tool and one hand, behind four methods",
    tells=False,
    check="a staple at the tip; a paired pluck or a switch take",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    same = 1 if rng.random() < 0.5 else -1
    p = _fitted(folder, rng, world, draw(rng, s={"neck": same}, w={"neck": -same}))
    if not twin:
        p.tool, p.turned = ToolSpec(magnet=1), {"neck"}
    lifts(p, times=4)
    swings(p, times=3)
    in_turn(p, times=4)
    in_turn(p, times=2, string="G3", press=True)
    return truth_of(p.true)


@tell(
    "input-and-clip-lead-both-invert",
    "Input 2 turns the signal over and so does the clip lead in it; the split check was made with two"
    " good cables and found the input alone.",
    cause="one input and one lead; what the split check takes out was not in the takes",
    tells=False,
    check="a split check through the clip lead; a lift of each on one input",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    p.on_jack += [] if twin else [inverting_input(2), inverting("neck")]
    split_check(p)
    split_check(p, string="A2")
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


@tell(
    "loose-pickup-held-beside-the-strings",
    "There is no room above the strings, so the loose pickup was held beside the one that was plucked,"
    " 9 mm from its poles: a string that comes nearer to the body goes away from what this pickup hears.",
    cause="one way of holding, behind all takes of strings with one pickup",
    tells=True,
    check="the ratio of the two inputs wanders as the string turns; a lift",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _loose(folder, rng, world)
    if not twin:
        p.seen = beside(p.seen, "neck", 9.0)
    split_check(p)
    paired(p, strings_of(rng, p.true, 4))
    for string in ("D3", "G3"):
        p.pluck(TWO, string, press=True)
    return truth_of(p.true)


@tell(
    "neck-askew-and-a-tool-magnetised",
    "All strings pass beside both pickups' poles and were plucked along the body; the lifts that were"
    " to decide were made with a rod that is a magnet.",
    cause="one offset with one direction of stroke, and one tool",
    tells=True,
    check="the ratio of the two inputs wanders; a press towards the body, a staple at the tip",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    same = 1 if rng.random() < 0.5 else -1
    bench = draw(rng, s={"neck": same}, w={"neck": -same})
    p = _fitted(folder, rng, world, bench if twin else beside(beside(bench, "neck", 5.0), "bridge", -2.5))
    if not twin:
        p.tool = ToolSpec(magnet=-1)
        p.habit = replace(p.habit, angle_deg=78.0)
    split_check(p)
    paired(p, strings_of(rng, p.true, 4))
    lifts(p)
    swings(p)
    return truth_of(p.true)


@tell(
    "transformer-between-the-pickups-and-compass-turned-over",
    "The field of the bench's transformer points opposite ways at the two pickups, and the compass that"
    " was asked for then had been turned over by the first one.",
    cause="one field and one compass, behind two ways to the windings",
    tells=False,
    check="hum again a metre away; the compass beside another one",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world, humming(draw(rng), field_db=26.0, stray_db=52.0))
    lifts(p)
    plain = p.seen
    if not twin:
        neck = plain.pickup("neck")
        turned = tuple(replace(coil, hum_area=-coil.hum_area) for coil in neck.coils)
        p.seen = changed(plain, "neck", replace(neck, coils=turned))
    hum_round(p, ("bridge", TWO, "neck"), times=2)
    for _ in range(2):
        for name in TWO:
            p.compass(name, turned=not twin and name == "neck")
    return truth_of(p.true)
