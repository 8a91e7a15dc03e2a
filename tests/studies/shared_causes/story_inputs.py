"""Stories about what lies between a pickup and its file: leads, recorders, boxes, inputs.

Task: one path behind many takes. Shapes: samples (frames, channels). Units: seconds, Hz, dB. Signs: truth
is said of the pickups by their leads; no path changes it.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from simulator.workbench import Bench
from studies.shared_causes.benches import (
    BOTH,
    TWO,
    draw,
    in_turn,
    lifts,
    paired,
    seed_from,
    split_check,
    strings_of,
    swings,
)
from studies.shared_causes.person import (
    Floats,
    Moment,
    Person,
    Recorder,
    filtered_input,
    inverting,
    inverting_input,
    late_input,
)
from studies.shared_causes.record import Generator, Stories, Truth, truth_of
from studies.shared_causes.unlike import World

PATHS = Stories("leads and recorders")
INPUTS = Stories("inputs and boxes")
tell = PATHS.tell

POCKET = Recorder(rate=44_100, bits=16, rig=None)
THROUGH_IT = "a split check through both leads, or an ohmmeter from the tip to the red clip"


def _bench(
    folder: Path,
    rng: np.random.Generator,
    world: World,
    *,
    loose: bool = False,
    bench: Bench | None = None,
) -> Person:
    drawn = bench or draw(rng)
    p = Person(
        folder,
        drawn,
        seed=seed_from(rng),
        world=world,
        loose=["neck"] if loose else [],
        settings=[BOTH],
    )
    return p


@tell(
    "other-recorder-inverts",
    "All takes of the neck pickup were made at home on a pocket recorder that turns the signal over: 44.1"
    " kHz and 16 bit beside 48 and 24.",
    cause="one recorder, behind plucks, presses and lifts of one pickup",
    tells=False,
    check="both pickups, or a split check, on one recorder",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    _two_recorders(p, replace(POCKET, rig="two-input box, short cable"), twin=twin)
    return truth_of(p.true)


@tell(
    "other-recorder-inverts-and-is-not-named",
    "The same recorder, and no take says what it was recorded with.",
    cause="one recorder, behind plucks, presses and lifts of one pickup",
    tells=False,
    check="both pickups, or a split check, on one recorder",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    p.recorder = replace(p.recorder, rig=None)
    _two_recorders(p, POCKET, twin=twin)
    return truth_of(p.true)


@tell(
    "other-program-writes-flac-inverted",
    "The neck pickup's takes come as FLAC from a program that turns everything over, at the same rate and"
    " depth.",
    cause="one program, behind all takes of one pickup",
    tells=False,
    check="both pickups with one program",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    _two_recorders(p, replace(p.recorder, suffix=".flac"), twin=twin)
    return truth_of(p.true)


def _two_recorders(p: Person, other: Recorder, *, twin: bool) -> None:
    """Plucks, presses and lifts, each pickup on its recorder; the twin has one and the same for both."""
    if not twin:
        p.on_file.append(inverting("neck"))
    first = p.recorder
    for name in TWO:
        p.recorder = first if name == "bridge" or twin else other
        in_turn(p, (name,), times=4)
        in_turn(p, (name,), times=2, string="G3", press=True)
        lifts(p, (name,), times=3)
        p.rest(hours=8)


@tell(
    "clip-lead-reversed-no-split-check",
    "The clip lead on input 2 was made up with red on the sleeve; there is no split check.",
    cause="one lead, behind all paired plucks",
    tells=False,
    check=THROUGH_IT,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, loose=True)
    p.on_jack += [] if twin else [inverting("neck")]
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


@tell(
    "clip-lead-reversed-split-check-elsewhere",
    "The split check was made at the jack with two good cables, and the clip lead came on input 2 after it.",
    cause="one lead that the split check did not go through",
    tells=False,
    check=THROUGH_IT,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, loose=True)
    p.on_jack += [] if twin else [inverting("neck")]
    split_check(p)
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


@tell(
    "clip-lead-reversed-and-lifts-through-it",
    "The same lead went to input 1 for lifts on the loose pickup; the fitted one has its own cable.",
    cause="one lead, behind plucks, lifts and presses of one pickup",
    tells=False,
    check=THROUGH_IT,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, loose=True)
    p.on_jack += [] if twin else [inverting("neck")]
    split_check(p)
    paired(p, strings_of(rng, p.true, 3))
    lifts(p)
    in_turn(p, times=2, press=True)
    return truth_of(p.true)


@tell(
    "clip-lead-reversed-split-check-through-it",
    "The split check went through the reversed lead, on a box whose sleeves are apart: it shows the two"
    " opposed.",
    cause="one lead, behind all takes on input 2 and the split check",
    tells=True,
    check="the split check",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, loose=True)
    p.on_jack += [] if twin else [inverting_input(2)]
    split_check(p)
    split_check(p, string="A2")
    paired(p, strings_of(rng, p.true, 4))
    return truth_of(p.true)


@tell(
    "clip-lead-reversed-split-check-shorted",
    "The same on a box with common sleeves: in the split check the reversed lead shorts the pickup, and"
    " both inputs are silent but for hum.",
    cause="one lead, behind all takes on input 2",
    tells=True,
    check="silence through both leads and signal through one",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, loose=True)

    def shorted(moment: Moment, volts: Floats) -> Floats:
        return volts * (3e-4 if moment.done == ("bridge", "bridge") else 1.0)

    p.on_jack += [] if twin else [inverting("neck"), shorted]
    split_check(p)
    split_check(p, string="A2")
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


@tell(
    "monday-and-thursday-on-two-cables",
    "On Monday everything went through one pair of leads, on Thursday input 2 got another, wired the"
    " other way.",
    cause="one lead, behind the takes of one day",
    tells=True,
    check="Monday and Thursday contradict each other; a split check through Thursday's leads",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, loose=True)
    split_check(p)
    paired(p, strings_of(rng, p.true, 2))
    p.rest(hours=74)
    p.on_jack += [] if twin else [inverting("neck")]
    paired(p, strings_of(rng, p.true, 4))
    in_turn(p, times=2)
    lifts(p, times=2)
    return truth_of(p.true)


@tell(
    "loose-pickup-held-face-down",
    "The loose pickup was held over the strings with its face down, so that strings pushed to the body"
    " left it.",
    cause="one way of holding, behind all takes of strings with one pickup",
    tells=False,
    check="how it was held is asked for; a lift",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, loose=True)
    p.on_jack += [] if twin else [inverting("neck", gestures=("pluck", "press"))]
    split_check(p)
    paired(p, strings_of(rng, p.true, 4))
    in_turn(p, times=3, press=True)
    return truth_of(p.true)


@tell(
    "loose-pickup-held-face-down-and-lifts",
    "The same, with lifts on its poles as it lay on the bench.",
    cause="one way of holding, behind all takes of strings with one pickup",
    tells=True,
    check="lifts and plucks contradict each other",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, loose=True)
    p.on_jack += [] if twin else [inverting("neck", gestures=("pluck", "press"))]
    split_check(p)
    paired(p, strings_of(rng, p.true, 4))
    lifts(p)
    return truth_of(p.true)


@tell(
    "active-stage-behind-the-jack-inverts",
    "The fitted pickup is heard through a stage in the guitar that inverts; the loose one, meant for the same"
    " selector before that stage, goes straight into the box.",
    cause="one stage, behind all takes of one pickup, lifts too",
    truth="at the selector, before the stage",
    tells=False,
    check="the same pluck before and behind the stage, or a bypass thrown while it rings",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, loose=True)
    p.on_jack += [] if twin else [inverting("bridge")]
    p.pluck(("neck", "neck"), "D3")
    paired(p, strings_of(rng, p.true, 3))
    lifts(p)
    in_turn(p, times=2, press=True)
    return truth_of(p.true)


@tell(
    "balanced-lead-for-both",
    "Both pickups were put on one plug with three contacts in a balanced input: input 1 heard the bridge"
    " pickup less the neck pickup, input 2 the neck pickup.",
    cause="one plug, behind all paired takes",
    tells=True,
    check="a split check; input 1 holds what input 2 has",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)

    def difference(moment: Moment, volts: Floats) -> Floats:
        heard = volts.copy()
        if moment.done == TWO:
            heard[:, 0] -= volts[:, 1]
        return heard

    p.on_jack += [] if twin else [difference]
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


tell = INPUTS.tell


@tell(
    "input-inverts-no-split-check",
    "Input 2 of the box turns the signal over, and nobody made a split check.",
    cause="one input, behind all paired plucks",
    tells=False,
    check="a split check",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    p.on_jack += [] if twin else [inverting_input(2)]
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


@tell(
    "input-inverts-split-check-made",
    "The same input, with a split check before and after.",
    cause="one input, behind all paired plucks",
    tells=True,
    check="the split check",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    p.on_jack += [] if twin else [inverting_input(2)]
    split_check(p)
    paired(p, strings_of(rng, p.true, 4))
    split_check(p, string="A2")
    return truth_of(p.true)


@tell(
    "input-button-pressed-after-the-split-check",
    "The split check was made, and then somebody leaned on the button with the crossed circle over input 2.",
    cause="one button, behind all paired plucks and not behind the split check",
    tells=False,
    check="a split check at the end too",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    split_check(p)
    p.on_jack += [] if twin else [inverting_input(2)]
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


@tell(
    "input-button-pressed-and-lifts-apart",
    "The same button, and each pickup was also lifted at on the input it was in: bridge on 1, neck on 2.",
    cause="one button, behind paired plucks and all lifts of one pickup",
    tells=False,
    check="lifts of both on one input; a split check at the end too",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    split_check(p)
    p.on_jack += [] if twin else [inverting_input(2), inverting("neck", gestures=("lift",))]
    paired(p, strings_of(rng, p.true, 3))
    lifts(p)
    return truth_of(p.true)


def _late(milliseconds: float, *, split: bool) -> Generator:
    def generate(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
        p = _bench(folder, rng, world)
        p.on_file += [] if twin else [late_input(2, milliseconds * 1e-3)]
        if split:
            split_check(p)
            split_check(p, string="A2")
        paired(p, strings_of(rng, p.true, 5))
        return truth_of(p.true)

    return generate


for late_ms in (1.0, 3.0, 5.0, 8.0):
    tell(
        f"input-2-late-by-{late_ms:.0f}-ms",
        f"Input 2 comes {late_ms:.0f} ms later than input 1: another box joined to the first one by the"
        " computer.",
        cause="one delay, behind all paired plucks",
        tells=True,
        check="a split check; the harmonics of the pluck itself show a lag",
    )(_late(late_ms, split=False))
tell(
    "input-2-late-by-5-ms-split-check-made",
    "Input 2 comes 5 ms later than input 1, and two split checks show it.",
    cause="one delay, behind all paired plucks and the split checks",
    tells=True,
    check="the split check",
)(_late(5.0, split=True))


@tell(
    "two-boxes-whose-clocks-drift",
    "Two boxes with clocks of their own: what input 2 lags behind wanders between 0 and 12 ms from take"
    " to take.",
    cause="two clocks, behind all paired plucks; the split check was made while they agreed",
    tells=True,
    check="the harmonics of the pluck itself show a lag",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    split_check(p)
    p.on_file += [] if twin else [late_input(2, lambda beside: float(beside.uniform(0.0, 12e-3)))]
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


@tell(
    "wireless-link-inverts-and-delays",
    "The neck pickup went through a wireless link for lack of a second cable: turned over and 4 to 7 ms"
    " late.",
    cause="one link, behind everything on input 2",
    tells=True,
    check="a split check through the link; lifts without it",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    lag = float(rng.uniform(4e-3, 7e-3))
    p.on_file += [] if twin else [inverting("neck"), late_input(2, lag)]
    paired(p, strings_of(rng, p.true, 5))
    in_turn(p, times=2)
    return truth_of(p.true)


def _low_cut(*, split: bool) -> Generator:
    def generate(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
        bench = draw(rng, bass=True)
        p = _bench(folder, rng, world, bench=bench)
        corner = float(rng.uniform(70.0, 110.0))
        p.on_file += [] if twin else [filtered_input(2, corner, order=4)]
        if split:
            split_check(p, string="A1")
        paired(p, ("E1", "A1", "E1", "A1", "A1"))
        return truth_of(p.true)

    return generate


tell(
    "steep-low-cut-on-one-input-bass",
    "The low cut of input 2 is in, fourth order near 90 Hz, and the bass was plucked on its two lowest"
    " strings.",
    cause="one filter, behind all paired plucks",
    tells=True,
    check="a split check; higher strings",
)(_low_cut(split=False))
tell(
    "steep-low-cut-on-one-input-bass-split-check-made",
    "The same, with a split check on A.",
    cause="one filter, behind all takes on input 2",
    tells=True,
    check="the phase in the split check",
)(_low_cut(split=True))


@tell(
    "crosstalk-from-the-other-input",
    "The plug in input 2 was not pushed home: what it records is input 1, 48 dB down, through the air.",
    cause="one open plug, behind all paired plucks",
    tells=True,
    check="level and tone of input 2; the split check",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, bench=draw(rng, s={"neck": -1}))

    def through_the_air(_moment: Moment, volts: Floats) -> Floats:
        heard = volts.copy()
        if volts.shape[1] > 1:
            rise = np.diff(volts[:, 0], prepend=volts[:1, 0])
            rise *= np.std(volts[:, 0]) / (np.std(rise) or 1.0)
            heard[:, 1] = 10.0 ** (-48.0 / 20.0) * (0.6 * volts[:, 0] + 0.4 * rise)
        return heard

    split_check(p)
    p.on_jack += [] if twin else [through_the_air]
    paired(p, strings_of(rng, p.true, 5))
    return truth_of(p.true)


@tell(
    "stereo-file-split-wrongly",
    "The program that splits stereo files saved the left side twice for half of the takes.",
    cause="one program, behind half of the paired plucks",
    tells=True,
    check="two channels that are the same to the last bit",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, bench=draw(rng, s={"neck": -1}))
    split_check(p)
    paired(p, strings_of(rng, p.true, 3))

    def left_twice(_moment: Moment, samples: Floats) -> Floats:
        return np.repeat(samples[:, :1], samples.shape[1], axis=1)

    p.on_file += [] if twin else [left_twice]
    paired(p, strings_of(rng, p.true, 3))
    return truth_of(p.true)


@tell(
    "saved-as-middle-and-side",
    "The recorder was set to save the sum and the difference of its inputs in place of left and right.",
    cause="one setting of the recorder, behind all paired plucks",
    tells=True,
    check="a split check: its second channel is silent",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)

    def sum_and_difference(_moment: Moment, samples: Floats) -> Floats:
        if samples.shape[1] < 2:
            return samples
        left, right = samples[:, 0], samples[:, 1]
        return np.stack([0.5 * (left + right), 0.5 * (left - right)], axis=1)

    p.on_file += [] if twin else [sum_and_difference]
    paired(p, strings_of(rng, p.true, 5))
    in_turn(p, times=2)
    return truth_of(p.true)


@tell(
    "automatic-gain",
    "The box rides its gain: loud beginnings are pressed down and what follows is raised, up to 24 dB.",
    cause="one box, behind lifts and plucks",
    tells=True,
    check="the set-up check; a lift's second lobe is not to be trusted",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    p.on_file += [] if twin else [_riding]
    lifts(p, times=4)
    in_turn(p, times=4)
    return truth_of(p.true)


def _riding(moment: Moment, samples: Floats) -> Floats:
    """Gain that falls in 3 ms and rises in 150 ms, between -24 and 0 dB of the loudest."""
    hop = max(1, moment.rate // 1000)
    loud = np.max(np.abs(samples), axis=1)
    blocks = loud[: loud.size - loud.size % hop].reshape(-1, hop).max(axis=1)
    level, held = 1e-4, np.empty(blocks.size)
    for k, now in enumerate(blocks.tolist()):
        level += (now - level) / (3.0 if now > level else 150.0)
        held[k] = level
    gain = np.clip(0.12 / np.maximum(held, 1e-6), 0.25, 4.0)
    return np.asarray(samples * np.resize(np.repeat(gain, hop), samples.shape[0])[:, None], dtype=np.float64)


@tell(
    "noise-suppressor",
    "The computer's noise suppression for speech was on: slow parts vanish and the rest comes in gusts.",
    cause="one program, behind all takes",
    tells=True,
    check="the set-up check",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    p.on_file += [] if twin else [_suppressed]
    lifts(p, times=3)
    in_turn(p, times=3)
    swings(p)
    return truth_of(p.true)


def _suppressed(moment: Moment, samples: Floats) -> Floats:
    """A speech suppressor: a low cut at 120 Hz, and bands that hardly change are turned down."""
    cut = samples
    for number in range(1, samples.shape[1] + 1):
        cut = filtered_input(number, 120.0, order=2)(moment, cut)
    size, hop = 1024, 512
    window = np.hanning(size + 1)[:size]
    out = np.zeros((samples.shape[0] + size, samples.shape[1]))
    padded = np.concatenate([cut, np.zeros((size, samples.shape[1]))])
    floor = None
    for begin in range(0, samples.shape[0], hop):
        spectrum = np.fft.rfft(padded[begin : begin + size] * window[:, None], axis=0)
        power = np.abs(spectrum) ** 2
        floor = power if floor is None else np.minimum(1.02 * floor + 1e-12, 0.9 * floor + 0.1 * power)
        keep = np.clip(1.0 - 4.0 * floor / np.maximum(power, 1e-15), 0.05, 1.0)
        out[begin : begin + size] += np.fft.irfft(spectrum * keep, size, axis=0)
    return out[: samples.shape[0]]


@tell(
    "tape-adapter-with-its-own-low-cut",
    "The neck pickup's lifts went through a telephone adapter with a steep low cut: of each pulse the"
    " second lobe is the larger one.",
    cause="one adapter, behind all lifts of one pickup",
    tells=True,
    check="the shape of the pulses differs between the pickups",
    odd=True,
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world)
    lifts(p, ("bridge",), times=5)
    p.on_file += [] if twin else [filtered_input(1, 90.0, order=3)]
    lifts(p, ("neck",), times=5)
    return truth_of(p.true)


@tell(
    "one-pickup-recorded-twice",
    "Both cables hung on the bridge pickup's jack for all takes that say bridge and neck.",
    cause="one cable, behind all paired plucks",
    tells=True,
    check="two inputs that differ by noise alone; the place that each is heard at",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, bench=draw(rng, s={"neck": -1}))
    split_check(p)
    for string in strings_of(rng, p.true, 5):
        p.pluck(TWO if twin else ("bridge", "bridge"), string, said=TWO)
    return truth_of(p.true)


@tell(
    "one-pickup-recorded-in-turn-as-both",
    "The selector was never moved: every take in turn is of the bridge pickup, whatever its entry says.",
    cause="one selector, behind all takes of one pickup",
    tells=True,
    check="the place that each is heard at",
)
def _(folder: Path, rng: np.random.Generator, twin: bool, world: World) -> Truth:
    p = _bench(folder, rng, world, bench=draw(rng, s={"neck": -1}))
    for string in ("D3", "A2", "G3", "D3"):
        for name in TWO:
            p.pluck((name if twin else "bridge",), string, said=(name,))
    return truth_of(p.true)
