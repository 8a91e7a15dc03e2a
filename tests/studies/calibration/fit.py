"""How much a statistic is worth: fitted on half of the simulated benches, judged on the rest and on others.

    python tests/studies/calibration/fit.py [--benches 240] [--unseen 80] [--seed 4] [--write]

Draws benches of simulator.scenes with inputs that agree, records a split check, paired plucks, separate
plucks, lifts and touches, and turns each statistic so that positive is right. Benches with even numbers fit
the slope of a logistic map through zero (nats a unit); no stroke of a separate pluck is turned here, since
belief has a rate of its own for that. Odd benches, and benches of the setting `unseen` of simulated.py,
judge the map as dsp/model/calibration.py uses it, slope and clip: mean log loss (a coin has 0.693), that of
the slope that is best in hindsight there, and the expected calibration error. `--write` puts the numbers into
dsp/model/fitted.py and the table into FIT.md beside this file. All cores.
"""

from __future__ import annotations

import argparse
import datetime
import math
import os
import sys
from collections import defaultdict
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1]))

import environment
import numpy as np
from reckoning import expected_calibration_error
from scipy.optimize import minimize_scalar
from simulated import SETTINGS
from simulator.scenes import random_bench

from capture.job import note_hz
from dsp.methods.paired import paired_statistic
from dsp.methods.plucks import analyse_plucks, analyse_pulses
from dsp.methods.sequential import SequentialPluck, sequential_ratio
from dsp.methods.tool_pulse import pulse_correlation
from dsp.model.calibration import TURN_SLOPE, paired_ratio, pulse_ratio, split_ratio
from dsp.model.settings import Place

RATE = 16_000
TAKES = 3
STEEPEST = 60.0
"""Where nothing was wrong, a slope has no upper end."""
STEP = 0.1
"""Slopes are rounded down to it."""
FITTED = environment.ROOT / "dsp" / "model" / "fitted.py"
TABLE = Path(__file__).parent / "FIT.md"
PAIRED = ("paired pluck, places known", "paired pluck, places unknown")
SPLIT = "split check"
TURNS, SAME = "two plucks, two pickups", "two plucks, same pickup"
LIFTS, TOUCHES = "two pulses, lift and lift", "two pulses, touch and touch"
LIFT_SHAPE, TOUCH_SHAPE = "shape of a lift", "shape of a touch"
Found = dict[str, list[float]]


@dataclass(frozen=True)
class Used:
    """A statistic, and the map from it to nats as the tool uses it."""

    name: str
    nats: Callable[[float], float]


USED = (
    *(Used(name, paired_ratio) for name in PAIRED),
    Used(SPLIT, split_ratio),
    Used(TURNS, lambda v: TURN_SLOPE * v),
    Used(SAME, lambda v: TURN_SLOPE * v),
    Used(LIFTS, lambda v: pulse_ratio(v, touches=0)),
    Used(TOUCHES, lambda v: pulse_ratio(v, touches=2)),
)


def main() -> None:
    """Fit, judge, print, and write where that is asked for."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--benches", type=int, default=240)
    ask.add_argument("--unseen", type=int, default=80)
    ask.add_argument("--seed", type=int, default=4)
    ask.add_argument("--write", action="store_true")
    said = ask.parse_args()
    with ProcessPoolExecutor() as pool:
        drawn = list(
            pool.map(one_bench, [(said.seed, k, "ordinary") for k in range(said.benches)], chunksize=4)
        )
        unseen = list(
            pool.map(one_bench, [(said.seed, k, "unseen") for k in range(said.unseen)], chunksize=4)
        )
    fitting, judging, elsewhere = pooled(drawn[0::2]), pooled(drawn[1::2]), pooled(unseen)
    command = f"python tests/studies/calibration/fit.py --benches {said.benches} --unseen {said.unseen} "
    command += f"--seed {said.seed} --write"
    table = report(fitting, judging, elsewhere, command=command)
    print(table)
    if said.write:
        TABLE.write_text(table + "\n", encoding="utf-8")
        FITTED.write_text(module(fitting, command=command, benches=len(drawn[0::2])), encoding="utf-8")


def pooled(benches: list[Found]) -> Found:
    """All values of all benches."""
    found: Found = defaultdict(list)
    for bench in benches:
        for name, values in bench.items():
            found[name].extend(values)
    return dict(found)


def fitted_slope(values: list[float]) -> float:
    """Slope of the logistic fit through zero: P(right) = 1 / (1 + exp(-slope v)); STEEPEST at most."""
    v = np.array(values)
    if not np.any(v < 0):
        return STEEPEST
    fit = minimize_scalar(lambda a: log_loss(a * v), bounds=(0.05, STEEPEST), method="bounded")
    return float(fit.x)


def log_loss(nats: np.ndarray) -> float:
    """Mean of -log P(right)."""
    return float(np.mean(np.logaddexp(0.0, -nats)))


def floor_to_step(x: float) -> float:
    """Rounded down."""
    return round(math.floor(x / STEP + 1e-9) * STEP, 6)


def looks_like(found: Found) -> float:
    """Nats of the shape of a pulse, the weaker of both ways round."""
    lifts, touches = np.array(found[LIFT_SHAPE]), np.array(found[TOUCH_SHAPE])
    lift_wrong, touch_wrong = (float(np.mean(v < 0)) for v in (lifts, touches))
    return min(math.log((1 - touch_wrong) / lift_wrong), math.log((1 - lift_wrong) / touch_wrong))


def fitted(found: Found) -> dict[str, float]:
    """The numbers that go into dsp/model/fitted.py."""
    raw = {
        "PAIRED_SLOPE": min(fitted_slope(found[name]) for name in PAIRED),
        "TURN_SLOPE": fitted_slope(found[TURNS]),
        "PULSE_SLOPE": fitted_slope(found[LIFTS]),
        "TOUCH_SLOPE": fitted_slope(found[TOUCHES]),
        "LOOKS_LIKE": looks_like(found),
    }
    return {name: floor_to_step(value) for name, value in raw.items()}


def report(fitting: Found, judging: Found, elsewhere: Found, *, command: str) -> str:
    """The table, in Markdown."""
    lines = [
        "# The fit",
        "",
        f"`{command}`, {datetime.date.today()}, {RATE} Hz. Fitted on the even benches, judged on the odd "
        "ones and on the setting `unseen` (long scale, other pickups, hands and inputs).",
        "",
        "| statistic | fitted on | wrong % | 1 % quantile | median | slope, nats a unit | judged on "
        "| log loss | best there | calibration error | unseen: judged on | log loss | best there "
        "| calibration error |",
        "|" + "---|" * 14,
    ]
    for one in USED:
        v = np.array(fitting[one.name])
        low, half = np.quantile(v, [0.01, 0.5])
        slope = fitted_slope(list(v))
        shown = f"{slope:.1f}" if np.any(v < 0) else "none wrong"
        cells = [one.name, str(len(v)), f"{100 * np.mean(v < 0):.2f}", f"{low:.2f}", f"{half:.2f}", shown]
        for there in (judging, elsewhere):
            cells += judged(one, there[one.name])
        lines.append("| " + " | ".join(cells) + " |")
    lines += ["", "Of the shapes of pulses, how many look like the other gesture:", ""]
    lines += ["| shape | fitted on | odd benches | unseen |", "|---|---|---|---|"]
    for name in (LIFT_SHAPE, TOUCH_SHAPE):
        shares = [
            f"{100 * np.mean(np.array(f[name]) < 0):.1f} % of {len(f[name])}"
            for f in (fitting, judging, elsewhere)
        ]
        lines.append(f"| {name} | {' | '.join(shares)} |")
    numbers = ", ".join(f"{k} {v:g}" for k, v in fitted(fitting).items())
    return "\n".join([*lines, "", f"Written into dsp/model/fitted.py: {numbers}."])


def judged(one: Used, values: list[float]) -> list[str]:
    """How good the map is on values that it was not fitted on."""
    nats = np.array([one.nats(v) for v in values])
    right = 1 / (1 + np.exp(-nats))
    # Half of them turned over, so that both answers occur: the map is odd, so nothing is lost.
    flip = np.arange(len(right)) % 2 == 1
    error = expected_calibration_error(~flip, np.where(flip, 1 - right, right))
    best = log_loss(fitted_slope(values) * np.array(values))
    return [str(len(values)), f"{log_loss(nats):.3f}", f"{best:.3f}", f"{error:.3f}"]


def module(found: Found, *, command: str, benches: int) -> str:
    """The text of dsp/model/fitted.py."""
    numbers = "\n".join(f"{name} = {value!r}" for name, value in fitted(found).items())
    return f'''"""Fitted numbers: what a unit of each statistic is worth. Made by a command, not by hand.

Task: numbers only; dsp/model/calibration.py uses them. Units: nats a unit of the statistic (`LOOKS_LIKE`:
nats). Signs: slopes are positive, so every map is odd.

Made on {datetime.date.today()} by
``{command}``
on {benches} simulated benches (ordinary conditions, {RATE} Hz, numpy {np.__version__}).
Each is rounded down to {STEP}, and {STEEPEST:g} means that nothing was wrong. How they do on benches that
they were not fitted on: FIT.md beside that command.
"""

{numbers}
'''


def one_bench(work: tuple[int, int, str]) -> Found:
    """All statistics of one bench, positive where they are right."""
    seed, number, setting = work
    rng = np.random.default_rng([seed, number])
    bass = setting == "unseen"
    bench = random_bench(rng, conditions=SETTINGS[setting], inverted=(False, False), bass=bass)
    names = [p.name for p in bench.pickups]
    pair = names[0], str(rng.choice(names[1:]))
    truth = 1 if bench.in_phase(*pair) else -1
    places = {n: Place(bench.pickup(n).centre_mm, bench.scale_mm) for n in pair}
    strings = ("D2", "G2", "A1") if bass else ("D3", "G3", "A2")
    found: Found = defaultdict(list)
    for string in strings:
        takes = [(bench.paired(rng, *pair, string, rate=RATE), truth, places[pair[0]], places[pair[1]])]
        if string == strings[0]:
            takes.append((bench.split_check(rng, pair[0], string, rate=RATE), 1, None, None))
        for audio, sign, a, b in takes:
            _paired(found, audio, string, sign, a, b)
    _in_turn(bench, rng, places, strings[0], truth=truth, found=found)
    _pulses(bench, rng, pair, truth=truth, found=found)
    return dict(found)


def _paired(
    found: Found, audio: np.ndarray, string: str, sign: int, a: Place | None, b: Place | None
) -> None:
    heard = analyse_plucks(
        audio, rate=RATE, channels=(0, 1), inputs_differ=a is not None, named_hz=note_hz(string)
    )
    for pluck in heard.plucks:
        ways = ((SPLIT, Place(), Place()),)
        if a is not None and b is not None:
            ways = ((PAIRED[0], a, b), (PAIRED[1], Place(), Place()))
        for name, one, other in ways:
            value = paired_statistic(
                *heard.channels, onset=pluck.rough, pitch=pluck.pitch, place_a=one, place_b=other
            ).value
            found[name].append(sign * value)


def _in_turn(bench, rng, places, string, *, truth, found) -> None:
    turns = []
    for _ in range(TAKES):
        for name in places:
            heard = analyse_plucks(
                bench.pluck(rng, name, string, rate=RATE, turned=False),
                rate=RATE,
                channels=(0,),
                inputs_differ=False,
                named_hz=note_hz(string),
            )
            turns += [
                (name, SequentialPluck(p.onsets[0], p.pitch, string, 0, places[name]))
                for p in heard.plucks
                if p.onsets[0]
            ]
    for i, (name, a) in enumerate(turns):
        for other, b in turns[:i]:
            same = name == other
            found[SAME if same else TURNS].append((1 if same else truth) * sequential_ratio(a, b))


def _pulses(bench, rng, pair, *, truth, found) -> None:
    pulses = []
    for _ in range(TAKES):
        for name in pair:
            for gesture in ("lift", "touch"):
                audio = getattr(bench, gesture)(rng, name, rate=RATE)
                heard = analyse_pulses(audio, rate=RATE, channel=0, toward=gesture == "touch")
                for pulse in heard.pulses:
                    pulses.append((name, gesture, pulse))
                    shape = LIFT_SHAPE if gesture == "lift" else TOUCH_SHAPE
                    found[shape].append(pulse.abrupt_start * (1 if gesture == "lift" else -1))
    for i, (name, gesture, a) in enumerate(pulses):
        for other, also, b in pulses[:i]:
            if gesture == also:
                sign = 1 if name == other else truth
                found[f"two pulses, {gesture} and {also}"].append(sign * pulse_correlation(a, b))


if __name__ == "__main__":
    main()
