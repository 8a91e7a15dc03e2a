"""Takes of simulated benches without any noise, with the energy that tells the sign.

Task: for a family of methods, one trial: a bench, the clean takes, the truths, and the distances
(limit_bounds) of the signals in them at 0 dB. Shapes: a take (frames, channels) at ``RATE``. Units: full
scale; signal to noise as simulator.conditions has it: RMS of a usual pluck in its first 0.3 s over the RMS
of the noise, here in the 8 kHz of a rate of 16 kHz. Signs: +1 "agree" (in phase, wound alike), -1 "opposed",
in the truth and in every decision.

``STILL`` switches off what hands do to the sign: strokes turned or off the direction to the body, strings
beside the poles' centres, buzz, clicks and contact bounces of a selector; and all hum, but for the families
about hum. Plucks still differ in place, level and pick. ``HANDS`` is the ordinary bench; of it only the
noise is left out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from simulator import takes
from simulator.conditions import ORDINARY, Conditions
from simulator.hands import draw_switch
from simulator.scenes import Bench, On, random_bench

Array = NDArray[np.float64]

RATE = 16_000
NOISELESS_DB = 300.0
NO_NOISE = (NOISELESS_DB, NOISELESS_DB)
GAIN_DOWN = 1 / 3
"""Both gains are turned down by 9.5 dB against the ordinary ones, noise and all, so that no string or
tool clips."""
HANDS = replace(ORDINARY, snr_db=NO_NOISE, inverted_rate=0.0, bits=(24,))
"""Ordinary. An input that inverts is a matter of the split check, not of noise."""
STILL = replace(
    HANDS,
    hum_db=NO_NOISE,
    capacitive_rate=0.0,
    stray_little=(0.0, 0.0),
    habit_deg=0.0,
    angle_spread_deg=0.0,
    careless_rate=0.0,
    turned_rate=0.0,
    off_centre_mm=0.0,
    hand_buzz=(0.0, 0.0),
    click=(0.0, 0.0),
    switch_bounce_rate=0.0,
)
STILL_HUM = replace(STILL, hum_db=ORDINARY.hum_db)
A_SIDE = 3
PRESSES_A_SIDE = 1
STEP_S = 0.8
EDGE_S = 0.05
"""What the bound leaves out after a step: the gap, and what a pop leaves."""
HUM_S = 2.0


@dataclass(frozen=True, eq=False)
class Trial:
    """One bench of one family: clean ``takes`` with the name of what sounds on each.

    ``level``: RMS of noise at 0 dB signal to noise. ``agree``: truth by letter. ``bounds``: for each method
    the rule ("agree" or "weaker") and its distances at 0 dB.
    """

    bench: Bench
    pair: tuple[str, str]
    takes: tuple[tuple[str, Array], ...]
    string: str | None
    level: float
    agree: dict[str, int]
    bounds: dict[str, tuple[str, tuple[float, ...]]]


def trial(family: str, number: int, *, seed: int, still: bool) -> Trial:
    """The bench of that number and its clean takes."""
    rng = np.random.default_rng([seed, number, list(FAMILIES).index(family)])
    about_hum = family in ABOUT_HUM
    conditions = (STILL_HUM if about_hum else STILL) if still else HANDS
    if about_hum or family == "drive":
        conditions = replace(conditions, humbucker_rate=0.0)
    if family not in UNPLUCKED:
        conditions = softer(conditions)
    bench = random_bench(rng, conditions=conditions)
    a, b = bench.pickups[0].name, str(rng.choice([p.name for p in bench.pickups[1:]]))
    level = bench.interface.channels[0].noise * 10 ** (NOISELESS_DB / 20)
    string, clean, bounds = FAMILIES[family](bench, rng, a, b)
    at_0_db = {
        method: (rule, tuple(math.sqrt(e) / level for e in es)) for method, (rule, es) in bounds.items()
    }
    agree = {"s": 1 if bench.in_phase(a, b) else -1, "w": 1 if bench.w(a) == bench.w(b) else -1}
    return Trial(bench, (a, b), tuple(clean), string, level, agree, at_0_db)


def softer(c: Conditions) -> Conditions:
    """The same with both gains turned down."""
    return replace(
        c,
        level=(c.level[0] * GAIN_DOWN, c.level[1] * GAIN_DOWN),
        tool_level=(c.tool_level[0] * GAIN_DOWN, c.tool_level[1] * GAIN_DOWN),
    )


Bounds = dict[str, tuple[str, tuple[float, ...]]]
Made = tuple[str | None, Sequence[tuple[str, Array]], Bounds]


def energy(x: Array) -> float:
    """Sum of squares about the mean."""
    return float(np.sum(np.square(x - x.mean())))


def _paired(bench: Bench, rng: np.random.Generator, a: str, b: str) -> Made:
    string = str(rng.choice(["D3", "G3", "A2"]))
    x = bench.paired(rng, a, b, string, rate=RATE)
    both = (energy(x[:, 0]), energy(x[:, 1]))
    methods = ("paired, places known", "paired, places unknown")
    return string, [("ab", x)], dict.fromkeys(methods, ("agree", both))


def _in_turn(gesture: str) -> Callable[[Bench, np.random.Generator, str, str], Made]:
    def make(bench: Bench, rng: np.random.Generator, a: str, b: str) -> Made:
        string = str(rng.choice(["D3", "G3", "A2"]))
        lead = {"lead_in_s": 0.8} if gesture == "press" else {}
        made = [
            (name, getattr(bench, gesture)(rng, name, string, rate=RATE, **lead))
            for _ in range(A_SIDE if gesture == "pluck" else PRESSES_A_SIDE)
            for name in (a, b)
        ]
        e = [energy(x) for _, x in made]
        bounds: Bounds = {f"{gesture} in turn, one a side": ("agree", (e[0], e[1]))}
        if gesture == "pluck":
            bounds[f"{gesture} in turn, three a side"] = ("agree", (sum(e[::2]), sum(e[1::2])))
        return string, made, bounds

    return make


def _tool(gesture: str) -> Callable[[Bench, np.random.Generator, str, str], Made]:
    def make(bench: Bench, rng: np.random.Generator, a: str, b: str) -> Made:
        made = [(name, getattr(bench, gesture)(rng, name, rate=RATE)) for name in (a, b)]
        method = f"{gesture} against {gesture}"
        return None, made, {method: ("agree", (energy(made[0][1]), energy(made[1][1])))}

    return make


def _switch(bench: Bench, rng: np.random.Generator, a: str, b: str) -> Made:
    """One take from a to b; energies of the string, and of the hum, on either side of the step."""
    string = str(rng.choice(["E2", "A2"]))
    step = draw_switch(rng, bench.conditions, at_s=STEP_S, usual_v=bench.pluck_v)
    around = bench.around(rate=RATE, ringing_s=STEP_S + 1.7)
    settings = [bench.setting(name, string=string) for name in (a, b)]
    stroke = bench.stroke(rng)
    x = takes.switch(rng, bench.string(string), settings, stroke, around, switching=[step])
    opens = round((around.lead_in_s + step.at_s) * RATE)
    closes = opens + round((step.gap_s + EDGE_S) * RATE)
    begins = round((around.lead_in_s - stroke.draw_s) * RATE)
    hum = [energy(takes.hum(rng, [setting], around)[:, 0]) / len(x) for setting in settings]
    first, last = x[begins:opens, 0], x[closes:, 0]
    string_s = (
        max(energy(first) - hum[0] * len(first), 0.0),
        max(energy(last) - hum[1] * len(last), 0.0),
    )
    hum_s = (hum[0] * opens, hum[1] * (len(x) - closes))
    return string, [("switch", x)], {"switch, string": ("agree", string_s), "switch, hum": ("agree", hum_s)}


def _profile(bench: Bench, rng: np.random.Generator, a: str, b: str) -> Made:
    """Three plucks on a, b and both; the energy of the weaker pickup's part in the plucks on both."""
    string = str(rng.choice(["D3", "A2"]))
    made: list[tuple[str, Array]] = []
    parts = np.zeros(2)
    for _ in range(A_SIDE):
        for name, wanted in (("a", a), ("both", (a, b)), ("b", b)):
            state = rng.bit_generator.state
            made.append((name, bench.pluck(rng, wanted, string, rate=RATE)))
            if name == "both":
                rng.bit_generator.state = state
                other = bench.pluck(rng, (a, On(b, reversed=True)), string, rate=RATE)
                x = made[-1][1]
                parts += [energy((x + other) / 2), energy((x - other) / 2)]
    return string, made, dict.fromkeys(PROFILES, ("weaker", (float(parts.min()),)))


def _hum_inputs(bench: Bench, rng: np.random.Generator, a: str, b: str) -> Made:
    x = bench.hum(rng, [a, b], rate=RATE, ringing_s=HUM_S)
    return None, [("ab", x)], {"hum, two inputs": ("agree", (energy(x[:, 0]), energy(x[:, 1])))}


def _hum_level(bench: Bench, rng: np.random.Generator, a: str, b: str) -> Made:
    made: list[tuple[str, Array]] = []
    weaker = 0.0
    for name, wanted in (("a", a), ("both", (a, b)), ("b", b)):
        state = rng.bit_generator.state
        made.append((name, bench.hum(rng, [wanted], rate=RATE, ringing_s=HUM_S)))
        if name == "both":
            rng.bit_generator.state = state
            x, other = made[-1][1], bench.hum(rng, [(a, On(b, reversed=True))], rate=RATE, ringing_s=HUM_S)
            weaker = min(energy((x + other) / 2), energy((x - other) / 2))
    return None, made, {"hum by level": ("weaker", (weaker,))}


def _drive(bench: Bench, rng: np.random.Generator, a: str, b: str) -> Made:
    made = [(name, bench.drive(rng, name, rate=RATE)) for name in (a, b)]
    return None, made, {"drive": ("agree", (energy(made[0][1]), energy(made[1][1])))}


PROFILES = ("profile, places known", "profile, places unknown")
ABOUT_HUM = ("hum, two inputs", "hum by level", "switch, hum")
UNPLUCKED = ("hum, two inputs", "hum by level", "drive")
FAMILIES: dict[str, Callable[[Bench, np.random.Generator, str, str], Made]] = {
    "paired": _paired,
    "pluck": _in_turn("pluck"),
    "press": _in_turn("press"),
    "lift": _tool("lift"),
    "touch": _tool("touch"),
    "switch": _switch,
    "switch, hum": _switch,
    "profile": _profile,
    "hum, two inputs": _hum_inputs,
    "hum by level": _hum_level,
    "drive": _drive,
}
