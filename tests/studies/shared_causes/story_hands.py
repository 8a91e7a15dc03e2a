"""Stories about hands, strokes, strings that lie beside the poles, and tools.

Task: one habit, one person, one tool or one shift of the neck behind many takes. Shapes, units: as in
person.
Signs: truth is said of the guitar as it is; a hand never changes it.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from simulator.hands import Habit
from simulator.strings import sounding_length
from simulator.tools import ToolSpec
from simulator.workbench import Bench
from studies.shared_causes.benches import (
    BOTH,
    FRONT,
    REAR,
    SOUND,
    TWO,
    beside,
    draw,
    in_turn,
    lifts,
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

HANDS = Stories("hands and strings")
TOOLS = Stories("tools and magnets")
tell = HANDS.tell

THREE = ("bridge", "middle", "neck")


def _fitted(folder: Path, rng: np.random.Generator, world: World, bench: Bench | None = None) -> Person:
    drawn = bench or draw(rng)
    return Person(folder, drawn, seed=seed_from(rng), world=world, settings=[BOTH])


@tell(
    "hand-turned-over-in-plucks",
    "With the neck pickup on, the hand came from the other side and pulled the strings up each time.",
    cause="one hand, behind all plucks on one pickup",
    tells=False,
    check="a paired pluck, a switch take, or a lift",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    p.turned = set() if twin else {"neck"}
    in_turn(p, times=4)
    in_turn(p, times=2, string="G3")
    return truth_of(p.true)


@tell(
    "hand-turned-over-in-plucks-and-presses",
    "The same hand also hooked the string and pulled it up where it should have pressed it down.",
    cause="one hand, behind plucks and presses on one pickup",
    tells=False,
    check="a paired pluck, a switch take, or a lift",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    p.turned = set() if twin else {"neck"}
    in_turn(p, times=3)
    in_turn(p, times=3, string="G3", press=True)
    in_turn(p, times=2, string="A2", press=True)
    return truth_of(p.true)


@tell(
    "second-person-plucks-otherwise",
    "After lunch another person recorded the neck pickup: from above, with a thumb, near the neck, upwards.",
    cause="one person, behind all plucks on one pickup",
    tells=False,
    check="the same person at both, a paired pluck, or a lift",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    for k, string in enumerate(("D3", "D3", "D3", "G3", "G3")):
        p.pluck(("bridge",), string, press=k == 4)
    p.rest(hours=1)
    if not twin:
        p.turned = {"neck"}
        p.habit = Habit(place=0.33, angle_deg=25.0)
    for k, string in enumerate(("D3", "D3", "D3", "G3", "G3")):
        p.pluck(("neck",), string, press=k == 4)
    return truth_of(p.true)


@tell(
    "second-person-throughout-the-round",
    "Two people took turns: one always played with the selector at the bridge, the other with it at the"
    " neck, and the second one strums upwards.",
    cause="one person, behind all plucks on one pickup, in entries that alternate",
    tells=False,
    check="a paired pluck, a switch take, or a lift",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    for string in ("D3", "D3", "A2", "A2", "G3"):
        for name in TWO:
            p.turned = {"neck"} if not twin else set()
            p.habit = p.true.habit if name == "bridge" or twin else Habit(place=0.16, angle_deg=-20.0)
            p.pluck((name,), string)
    return truth_of(p.true)


@tell(
    "touches-written-down-as-lifts",
    "At the neck pickup the tool was brought to the pole, not taken off, each time it says lift.",
    cause="one hand, behind all lifts on one pickup",
    tells=True,
    check="the shape of the pulse: a touch grows and ends abruptly",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    for _ in range(4):
        p.lift("bridge")
    for _ in range(5):
        p.lift("neck", really_touch=not twin)
    return truth_of(p.true)


@tell(
    "strings-beside-the-poles-paired",
    "The neck sits askew: all strings pass 5 mm beside the neck pickup's poles and a little to the other"
    " side of the bridge pickup's, and this person plucks along the body.",
    cause="one offset of all strings and one direction of all strokes",
    tells=True,
    check="harmonics and motion disagree between strings; a press towards the body, a lift",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng)
    bench = bench if twin else beside(beside(bench, "neck", 5.0), "bridge", -2.5)
    p = _fitted(folder, rng, world, bench)
    p.habit = replace(p.habit, angle_deg=p.habit.angle_deg if twin else 78.0)
    split_check(p)
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


@tell(
    "strings-beside-one-pickup-paired",
    "The new pickup's poles are spaced for other strings and it sits 4 mm too low in its hole; plucked"
    " along the body with the side of a pick.",
    cause="one offset at one pickup and one direction of all strokes",
    tells=True,
    check="a press towards the body, a lift",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng)
    bench = bench if twin else beside(bench, "bridge", 4.5)
    p = _fitted(folder, rng, world, bench)
    p.habit = replace(p.habit, angle_deg=p.habit.angle_deg if twin else 98.0)
    split_check(p)
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


@tell(
    "strings-beside-the-poles-in-turn",
    "The same askew neck, and one pickup after another with plucks along the body.",
    cause="one offset of all strings and one direction of all strokes",
    tells=True,
    check="presses towards the body contradict the plucks; a lift",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng)
    bench = bench if twin else beside(beside(bench, "neck", 5.0), "bridge", -2.5)
    p = _fitted(folder, rng, world, bench)
    p.habit = replace(p.habit, angle_deg=p.habit.angle_deg if twin else 78.0)
    for string in ("D3", "G3"):
        in_turn(p, string=string)
    return truth_of(p.true)


@tell(
    "neck-shifted-between-takes",
    "The bolts were loose: halfway the neck slipped in its pocket and all strings moved 5 mm over at the neck"
    " pickup; plucks half along the body.",
    cause="one shift, behind the second half of the takes",
    tells=True,
    check="the takes before the shift",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    p.habit = replace(p.habit, angle_deg=70.0)
    paired(p, strings_of(rng, p.true, 3))
    if not twin:
        p.seen = beside(beside(p.seen, "neck", 5.0), "bridge", -2.0)
    paired(p, strings_of(rng, p.true, 4))
    split_check(p)
    return truth_of(p.true)


@tell(
    "string-named-wrongly-throughout",
    "Every take on the A string was written down as D, from the first to the last.",
    cause="one wrong name, behind all takes",
    tells=True,
    check="the pitch that is heard",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    for _ in range(3):
        p.pluck(TWO, "A2", said_string="A2" if twin else "D3")
    for _ in range(4):
        for name in TWO:
            p.pluck((name,), "A2", said_string="A2" if twin else "D3")
    return truth_of(p.true)


@tell(
    "capo-left-on",
    "A capo was left at the twelfth fret for all takes on the neck pickup, and the strings are named as"
    " open.",
    cause="half of the sounding length, behind all takes of one pickup",
    tells=True,
    check="the pitch that is heard",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    for string in ("D3", "A2", "D3", "A2", "D3"):
        p.pluck(("bridge",), string)
        p.pluck(("neck",), string, fret=0 if twin else 12, said_fret=0)
    return truth_of(p.true)


@tell(
    "steel-ring-on-the-plucking-hand",
    "A heavy steel ring on the plucking hand passes over the neck pickup with each stroke, quicker than"
    " the string starts.",
    cause="one ring, behind the beginning of every pluck at one pickup",
    tells=True,
    check="what rings on after the first tenth of a second",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    size = 5.0 * p.true.pluck_v

    def ring(moment: Moment, volts: Floats) -> Floats:
        passed = volts.copy()
        t = np.arange(volts.shape[0]) / moment.rate
        for k, each in enumerate(moment.done):
            if each == "neck":
                loudest = float(t[np.argmax(np.abs(volts[:, k]))])
                at = loudest + float(moment.rng.uniform(-0.02, 0.01))
                pulse = -(t - at) / 0.012 * np.exp(-0.5 * ((t - at) / 0.012) ** 2)
                passed[:, k] += size * p.seen.s("neck") * pulse
        return passed

    if not twin:
        p.on_jack.append(ring)
    paired(p, ("D3", "G3", "A2"))
    in_turn(p, times=3)
    split_check(p)
    return truth_of(p.true)


@tell(
    "sympathetic-string-rings-along",
    "The low strings were never damped: they ring along under every pluck, louder than the string that"
    " was played where the selector is moved late.",
    cause="one undamped string, behind all takes",
    tells=True,
    check="the partials of the string that was named",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    p.on_jack += [] if twin else [_second_string]
    paired(p, ("D3", "G3", "D3"))
    in_turn(p, times=4)
    split_check(p)
    return truth_of(p.true)


def _second_string(moment: Moment, volts: Floats) -> Floats:
    """A low string that rings since the last take, 12 dB below the pluck, with its sign at each pickup."""
    mixed = volts.copy()
    seen = moment.person.seen
    t = np.arange(volts.shape[0]) / moment.rate
    other = seen.strings[0]
    length = sounding_length(other.length_m)
    phase = moment.rng.uniform(0.0, 2.0 * np.pi, 6)
    level = 0.25 * seen.pluck_v * 10.0 ** moment.rng.uniform(-0.3, 0.2)
    for k, each in enumerate(moment.done):
        if isinstance(each, str):
            one = seen.pickup(each)
            for n in range(1, 7):
                shape = np.sin(n * np.pi * one.centre_mm * 1e-3 / length) * seen.s(each)
                wave = np.cos(2.0 * np.pi * n * other.f0_hz * t + phase[n - 1]) * np.exp(-0.8 * t)
                mixed[:, k] += level * shape * wave / n
    return mixed


@tell(
    "careless-hand",
    "A tired person: strokes in all directions, one in four the other way, strings pulled up as often as"
    " not at the neck pickup, takes cut short.",
    cause="one care, behind all takes",
    tells=True,
    check="strokes that contradict each other",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng)
    if not twin:
        untidy = replace(SOUND, turned_rate=0.25, angle_spread_deg=45.0, careless_rate=0.4, place_spread=0.1)
        bench = replace(bench, conditions=untidy)
    p = _fitted(folder, rng, world, bench)
    in_turn(p, times=4)
    in_turn(p, times=3, string="G3")
    return truth_of(p.true)


tell = TOOLS.tell


def _other_magnets(rng: np.random.Generator, **more: int) -> Bench:
    """A bench whose magnets face opposite ways, so that a magnetised tool shows the wrong relation."""
    same = 1 if rng.random() < 0.5 else -1
    return draw(rng, s={"neck": same}, w={"neck": -same})


@tell(
    "two-tools-of-one-drawer-magnetised",
    "Rod and screwdriver lay in one drawer with a loudspeaker; both are magnets now, with the same pole"
    " at the tip.",
    cause="one magnet, behind the lifts with two tools",
    tells=False,
    check="a staple at the tip; a pluck",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world, _other_magnets(rng))
    p.tool = ToolSpec() if twin else ToolSpec(magnet=1)
    lifts(p, times=4)
    lifts(p, times=3, tool="screwdriver")
    return truth_of(p.true)


@tell(
    "magnetised-tool-for-lifts-and-meter",
    "One driver with a magnetic tip made the lifts and the swings on the meter.",
    cause="one tool, behind two methods",
    tells=False,
    check="a staple at the tip; a pluck",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world, _other_magnets(rng))
    p.tool = ToolSpec() if twin else ToolSpec(magnet=-1)
    lifts(p, times=4)
    swings(p, times=3)
    return truth_of(p.true)


@tell(
    "two-magnetised-tools-and-the-meter",
    "Both tools of the drawer, lifts and meter alike.",
    cause="one magnet, behind two tools and two methods",
    tells=False,
    check="a staple at the tip; a pluck",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world, _other_magnets(rng))
    p.tool = ToolSpec() if twin else ToolSpec(magnet=1)
    lifts(p, times=3)
    lifts(p, times=3, tool="screwdriver")
    swings(p, times=2)
    swings(p, times=2, tool="screwdriver")
    return truth_of(p.true)


@tell(
    "tool-magnetised-by-the-first-pickup",
    "The strong magnets of the first pickup magnetised the rod; it was plain steel there and a magnet at"
    " the next.",
    cause="one tool that changed, behind all lifts on one pickup",
    tells=False,
    check="a staple at the tip; back to the first pickup once more",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    lifts(p, ("bridge",), times=4)
    swings(p, ("bridge",))
    if not twin:  # as a magnet it shows the winding times its own pole, chosen here to be the wrong answer
        wrong = -p.true.s("neck") * p.true.w("neck")
        p.tool = ToolSpec(magnet=1 if wrong > 0 else -1)
    lifts(p, ("neck",), times=4)
    swings(p, ("neck",))
    return truth_of(p.true)


@tell(
    "compass-turned-over-after-the-first",
    "The compass needle was turned over by the first pickup's magnets and showed the wrong pole at the"
    " other two.",
    cause="one compass, behind the poles of two pickups",
    tells=False,
    check="the compass held beside the other compass on the bench, or hum",
    asks=("hum",),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng, pickups=3)
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[REAR, FRONT])
    for name in THREE:
        p.compass(name, turned=not twin and name != "bridge")
    lifts(p, THREE)
    swings(p, THREE)
    for name in THREE:
        p.compass(name, turned=not twin and name != "bridge")
    return truth_of(p.true)


@tell(
    "compass-turned-over-before-the-last",
    "The same compass read bridge and middle rightly, was dropped, and read the neck pickup three times"
    " wrongly.",
    cause="one compass, behind all readings of one pickup",
    tells=False,
    check="the compass held beside the other compass on the bench, or hum",
    asks=("phase", "hum"),
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    bench = draw(rng, pickups=3)
    p = Person(folder, bench, seed=seed_from(rng), world=world, settings=[REAR, FRONT])
    split_check(p)
    for b in ("middle", "neck"):
        paired(p, strings_of(rng, p.true, 3), b=b)
    for name in ("bridge", "middle", "bridge"):
        p.compass(name)
    for _ in range(3):
        p.compass("neck", turned=not twin)
    return truth_of(p.true)


@tell(
    "magnetic-parts-tray-under-the-guitar",
    "A magnetic parts tray stuck to the back of the pickguard under the neck pickup and turned its weak"
    " field over while everything was recorded.",
    cause="one magnet that is no part of the guitar, behind all takes at one pickup",
    tells=False,
    check="the takes again with the bench cleared",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    if not twin:
        p.seen = magnet_over(p.seen, "neck")
    split_check(p)
    paired(p, strings_of(rng, p.true, 3))
    lifts(p, times=3)
    swings(p)
    return truth_of(p.true)


@tell(
    "magnets-charged-anew-between-sessions",
    "Between Monday and Thursday a colleague charged the neck pickup's tired magnets anew, the other way"
    " round, and told nobody.",
    cause="another magnet, behind all takes of the first session",
    truth="as it is at the end",
    tells=True,
    check="Monday and Thursday contradict each other",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _fitted(folder, rng, world)
    split_check(p)
    paired(p, strings_of(rng, p.true, 4))
    lifts(p, times=3)
    p.rest(hours=72)
    if not twin:
        p.seen = magnet_over(p.seen, "neck")
    paired(p, strings_of(rng, p.true, 2))
    return truth_of(p.seen)
