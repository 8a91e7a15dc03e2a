"""A person at the bench, who does one thing and may write down another.

Task: make takes on the simulator and enter them in a job folder, with what is done and what is said kept
apart.
Shapes: volts and samples are (frames, channels). Units: seconds, volts, Hz, mm. Signs: those of the
simulator.
`Person.seen` is the guitar as it is connected at the moment, and starts as the true one: a clip-up the
other way round is a winding turned over in `seen`, a magnet turned over is one too. What lies behind the
jack (`on_jack`, in volts) and behind the box (`on_file`, full scale) is changed by functions.

Every take has a generator of its own, made from the seed of the bench and the number of the take, so that a
story and its twin have the same gestures whatever the cause does in between.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Literal

import numpy as np
import soundfile as sf
from numpy.typing import NDArray
from scipy import signal
from simulator.hands import Habit, draw_contact, draw_lift, draw_press, draw_stroke, draw_switch, draw_touch
from simulator.hum import mains_clock
from simulator.rig import PREROLL_S, SettingSpec, Surroundings, jacks, recorded
from simulator.selector import selected
from simulator.strings import PluckSpec
from simulator.takes import string_volts, tool_volts
from simulator.tools import ToolSpec, lift_distance, touch_distance
from simulator.workbench import Bench, On, Wanted
from studies.shared_causes.unlike import USUAL, World

from capture.job import Pickup, Setting
from capture.job.writing import new_job
from capture.log import Change, Input, LeadsInput, Meter, Pole, TakeFields, append_entry, new_entry
from capture.takes.folder import JobFolder

Floats = NDArray[np.float64]
Done = Sequence[Wanted | None]
"""What is on each input: a pickup, several together, or nothing."""
Change_ = Callable[["Moment", Floats], Floats]

TITLE = "A guitar of the week"
BEGIN = datetime(2026, 5, 4, 9, 3)
COLOURS = {"hot": "violet", "ground": "grey"}
THUMP_RATE = 0.25
"""How often the hand that damped the last note is still heard at a take's beginning."""
TWO_PLUCKS_RATE = 0.1
"""How often a take holds two plucks."""
UNCLEAR_RATE, MISREAD_RATE = 0.06, 0.02
"""How often a swing on the meter cannot be called, and is called wrongly, one at a time."""


@dataclass(frozen=True)
class Recorder:
    """What a recording is written with."""

    rate: int = 48_000
    bits: int = 24
    suffix: str = ".wav"
    rig: str | None = "two-input box, short cable"


@dataclass(frozen=True)
class Moment:
    """One take while it is made, for the functions that change it."""

    gesture: str
    done: tuple[Wanted | None, ...]
    string: str | None
    rate: int
    rng: np.random.Generator
    """Not the generator of the gesture, so that a cause may draw."""
    person: Person

    def channels(self, name: str) -> list[int]:
        """The inputs that carry the pickup ``name`` alone."""
        return [k for k, each in enumerate(self.done) if each == name]


class Person:
    """Somebody who works through one job."""

    def __init__(
        self,
        folder: Path,
        bench: Bench,
        *,
        seed: int,
        world: World = USUAL,
        loose: Sequence[str] = (),
        settings: Sequence[Setting] = (),
        places_mm: dict[str, float] | None = None,
    ) -> None:
        self.seed, self.world = seed, world
        self.true = world.bench(bench, np.random.default_rng([seed, 1]))
        self.seen = self.true
        self.tool = ToolSpec()
        self.habit: Habit = bench.habit
        self.turned: set[str] = set()
        """Pickups on which this person strokes the other way."""
        self.on_jack: list[Change_] = []
        self.on_file: list[Change_] = []
        self.per_string: Callable[[Bench, str], Bench] = lambda seen, _string: seen
        self.recorder = Recorder()
        self.loose = tuple(loose)
        self.count = 0
        self.now = BEGIN
        ruler = np.random.default_rng([seed, 2])
        places = {
            one.name: float(np.round(one.centre_mm + ruler.standard_normal(), 0)) for one in bench.pickups
        }
        new_job(
            folder,
            title=TITLE,
            scale_mm=float(round(bench.scale_mm)),
            mains_hz=int(bench.mains.nominal_hz),
            strings=[one.name for one in bench.strings],
            pickups=[
                Pickup(
                    name=one.name,
                    centre_mm=(places_mm or places)[one.name],
                    coils=len(one.coils),
                    fitted=one.name not in loose,
                    **(COLOURS if one.name in loose else {}),
                )
                for one in bench.pickups
            ],
            settings=settings,
        )
        self.job = JobFolder.open(folder)

    # ---- what is said -------------------------------------------------------------------------------------

    def leads(self, pickup: str, *, turned: bool = False) -> Input:
        """How a pickup is entered: by its two leads where it is loose, by its name where it is fitted."""
        if pickup not in self.loose:
            return pickup
        hot, ground = COLOURS["hot"], COLOURS["ground"]
        return LeadsInput(pickup=pickup, hot=ground if turned else hot, ground=hot if turned else ground)

    def _time(self) -> str:
        rng = np.random.default_rng([self.seed, 3, self.count])
        self.now += timedelta(seconds=int(rng.integers(18, 95)))
        return self.now.strftime("%Y-%m-%dT%H:%M:%SZ")

    def rest(self, *, hours: float) -> None:
        """Go away and come back."""
        self.now += timedelta(hours=hours)

    # ---- strings ------------------------------------------------------------------------------------------

    def pluck(
        self,
        done: Done,
        string: str,
        *,
        said: Sequence[Input] | None = None,
        said_string: str | None = None,
        press: bool = False,
        fret: int = 0,
        said_fret: int | None = None,
        anew: bool = False,
        stage: Literal["found", "after"] = "found",
    ) -> None:
        """Pluck (or press) once or twice with ``done`` on the inputs."""
        rng = self._begin()
        around = self._around(rng)
        settings = self._settings(done, string)
        two = rng.random() < TWO_PLUCKS_RATE and not press
        onsets = (0.0, float(rng.uniform(1.1, 1.5))) if two else (0.0,)
        strokes = [self._stroke(rng, done, press=press) for _ in onsets]
        volts = string_volts(
            rng, self.seen.string(string), settings, strokes, around, onsets_s=onsets, fret=fret
        )
        gesture = "press" if press else "pluck"
        samples = self._record(rng, gesture, done, self._thumped(rng, volts, around), around, string=string)
        self._enter(
            samples,
            gesture,
            self._said(done, said),
            string=said_string or string,
            fret=fret if said_fret is None else said_fret,
            anew=anew,
            stage=stage,
        )

    def switch(
        self,
        sequence: Sequence[Wanted],
        string: str,
        *,
        said: Sequence[str],
        said_string: str | None = None,
    ) -> None:
        """Pluck once and move the selector through ``sequence`` while the string rings."""
        rng = self._begin()
        between = float(rng.uniform(0.8, 1.2))
        at_s = [0.9 + between * k for k in range(len(sequence) - 1)]
        around = replace(self._around(rng), ringing_s=at_s[-1] + float(rng.uniform(1.5, 2.2)))
        settings = self._settings(sequence, string)
        stroke = self._stroke(rng, ())
        steps = [draw_switch(rng, self.seen.conditions, at_s=at, usual_v=self.seen.pluck_v) for at in at_s]
        volts = string_volts(rng, self.seen.string(string), settings, stroke, around, onsets_s=(0.0,), fret=0)
        heard = selected(rng, volts, steps, begin_s=PREROLL_S + around.lead_in_s, rate=around.rate)
        samples = self._record(rng, "switch", (None,), heard, around, string=string)
        self._enter(samples, "switch", (tuple(said),), string=said_string or string)

    def _stroke(self, rng: np.random.Generator, done: Done, *, press: bool = False) -> PluckSpec:
        conditions = self.seen.conditions
        by_chance = bool(rng.random() < conditions.turned_rate)
        always = any(isinstance(each, str) and each in self.turned for each in done)
        drawn = draw_press if press else draw_stroke
        stroke = drawn(rng, conditions, self.habit, turned=by_chance != always)
        return replace(stroke, draw_s=float(rng.uniform(0.1, 0.3))) if press else stroke

    # ---- tools and meter ----------------------------------------------------------------------------------

    def lift(
        self,
        pickup: str,
        *,
        said: Input = None,
        tool: str | None = "steel rod",
        coil: Literal[1, 2] = 1,
        said_coil: Literal[1, 2] | None = None,
        really_touch: bool = False,
        anew: bool = False,
    ) -> None:
        """Pull the tool off a pole (or bring it there and write down a lift all the same)."""
        rng = self._begin()
        around = self._around(rng, for_tool=True)
        conditions = self.seen.conditions
        leaving = draw_lift(rng, conditions, at_s=0.0)
        coming = draw_touch(rng, conditions, at_s=0.0)
        begin = PREROLL_S + around.lead_in_s
        frames = around.frames_until(begin)
        if really_touch:
            movement = touch_distance((replace(coming, at_s=begin),), frames=frames, rate=around.rate)
        else:
            movement = lift_distance((replace(leaving, at_s=begin),), frames=frames, rate=around.rate)
        setting = self._settings((pickup,), None)[0]
        hand = draw_contact(rng, conditions, lift_peak_v=self.seen.lift_peak_v)
        volts = tool_volts(rng, setting, movement, around, tool=self.tool, hand=hand, member=0, coil=coil)
        samples = self._record(rng, "lift", (pickup,), volts, around)
        self._enter(
            samples,
            "lift",
            (self._said((pickup,), None if said is None else (said,))),
            tool=tool,
            coil=said_coil,
            anew=anew,
        )

    def meter(
        self,
        pickup: str,
        *,
        said: str | None = None,
        red: str = "hot",
        tool: str | None = "steel rod",
        turned: bool = False,
        anew: bool = False,
    ) -> None:
        """Pull the tool off a pole with the meter's clips on the leads and write down the swing."""
        rng = self._begin()
        seen = self.seen.pickup(pickup)
        first = seen.coils[0].signs
        shows = first.string if self.tool.magnet is None else first.winding * self.tool.magnet
        rises = (shows > 0) != (turned or rng.random() < MISREAD_RATE)
        kohm = sum(one.electrics.r_ohm for one in seen.coils) * 1e-3 + 0.02 * rng.standard_normal()
        reading = "unclear" if rng.random() < UNCLEAR_RATE else ("rises" if rises else "falls")
        append_entry(
            self.job.path,
            new_entry(
                Meter,
                at=self._time(),
                pickup=said or pickup,
                move="away",
                reading=reading,
                red=red,
                kohm=round(float(kohm), 2),
                tool=tool,
                **({"anew": True} if anew else {}),
            ),
        )

    def compass(self, pickup: str, *, turned: bool = False) -> None:
        """Hold a compass over a pole and write down which pole faces it."""
        self._begin()
        north = (self.seen.pickup(pickup).coils[0].signs.magnet > 0) != turned
        facing = "north" if north else "south"
        append_entry(self.job.path, new_entry(Pole, at=self._time(), pickup=pickup, facing=facing))

    def enter_change(self, pickup: str) -> None:
        """Write down that the two leads of a loose pickup are exchanged from here on."""
        self._begin()
        hot, ground = COLOURS["hot"], COLOURS["ground"]
        entry = new_entry(Change, at=self._time(), pickup=pickup, leads={ground: "hot", hot: "ground"})
        append_entry(self.job.path, entry)

    # ---- hum ----------------------------------------------------------------------------------------------

    def hum(self, done: Done, *, said: Sequence[Input] | None = None, lasts_s: float = 2.6) -> None:
        """Damp the strings and record."""
        rng = self._begin()
        around = replace(self._around(rng), lead_in_s=0.2, ringing_s=lasts_s)
        settings = self._settings(done, None)
        frames = around.frames_until(PREROLL_S + around.lead_in_s)
        coils = [coil for setting in settings for member in setting.members for coil in member.coils]
        clock = mains_clock(rng, around.mains)
        signs = [coil.signs.string for coil in coils]
        still = [np.zeros(frames)] * len(coils)
        volts = jacks(settings, still, signs, around, clock=clock, frames=frames)
        samples = self._record(rng, "hum", done, volts, around)
        self._enter(samples, "hum", self._said(done, said))

    # ---- the rest of a take -------------------------------------------------------------------------------

    def _begin(self) -> np.random.Generator:
        self.count += 1
        return np.random.default_rng([self.seed, 4, self.count])

    def _around(self, rng: np.random.Generator, *, for_tool: bool = False) -> Surroundings:
        return self.seen.around(
            rate=self.recorder.rate,
            lead_in_s=float(rng.uniform(0.35, 0.9)),
            ringing_s=float(rng.uniform(1.0, 1.8)),
            for_tool=for_tool,
        )

    def _settings(self, done: Done, string: str | None) -> tuple[SettingSpec, ...]:
        seen = self.seen if string is None else self.per_string(self.seen, string)
        return tuple(
            seen.setting(seen.pickups[0].name if each is None else each, string=string) for each in done
        )

    def _thumped(self, rng: np.random.Generator, volts: Floats, around: Surroundings) -> Floats:
        """A hand comes down on the strings at the beginning of some takes."""
        height = 0.3 * self.seen.pluck_v * float(rng.standard_normal())
        if rng.random() >= THUMP_RATE:
            return volts
        t = np.arange(volts.shape[0]) / around.rate - PREROLL_S - 0.02
        shape = np.where(t > 0, np.exp(-t / 0.025) * np.sin(2.0 * np.pi * 18.0 * t), 0.0)
        return np.asarray(volts + height * shape[:, None], dtype=np.float64)

    def _record(
        self,
        rng: np.random.Generator,
        gesture: str,
        done: Done,
        volts: Floats,
        around: Surroundings,
        *,
        string: str | None = None,
    ) -> Floats:
        beside = np.random.default_rng([self.seed, 5, self.count])
        moment = Moment(gesture, tuple(done), string, around.rate, beside, self)
        for change in self.on_jack:
            volts = change(moment, volts)
        samples = recorded(rng, volts, around)
        for k, each in enumerate(done):
            if each is None and gesture != "switch":
                samples[:, k] -= samples[:, k].mean()
                samples[:, k] *= 1e-4
        samples = self.world.samples(samples, around.rate, beside)
        for change in self.on_file:
            samples = change(moment, samples)
        return np.asarray(np.clip(samples, -1.0, 1.0 - 2.0**-23), dtype=np.float64)

    def _said(self, done: Done, said: Sequence[Input] | None) -> tuple[Input, ...]:
        if said is not None:
            return tuple(said)
        names: list[Input] = []
        for each in done:
            if each is None or isinstance(each, str):
                names.append(None if each is None else self.leads(each))
            else:
                names.append(self._setting_name(each))
        return tuple(names)

    def _setting_name(self, wanted: On | Sequence[str | On]) -> str:
        items = (wanted,) if isinstance(wanted, On) else wanted
        members = [one if isinstance(one, On) else On(one) for one in items]
        for setting in self.job.job.settings:
            if [(m.pickup, m.coil) for m in setting.on] == [(m.pickup, m.coil) for m in members]:
                return setting.name
        raise ValueError(f"the job has no setting for {wanted}")

    def _enter(
        self,
        samples: Floats,
        gesture: str,
        said: Sequence[Input],
        *,
        string: str | None = None,
        fret: int = 0,
        tool: str | None = None,
        coil: Literal[1, 2] | None = None,
        anew: bool = False,
        stage: Literal["found", "after"] = "found",
    ) -> None:
        how = self.recorder
        steps = np.round(samples * 2.0**31).astype(np.int64).clip(-(2**31), 2**31 - 1).astype(np.int32)
        with tempfile.TemporaryDirectory() as loose:
            file = Path(loose) / f"recording{how.suffix}"
            sf.write(file, steps, how.rate, subtype=f"PCM_{how.bits}")
            self.job.add_take(
                file,
                TakeFields(
                    gesture=gesture,
                    inputs=tuple(said),
                    string=string,
                    fret=fret,
                    rig=how.rig,
                    tool=tool,
                    coil=coil,
                    anew=anew,
                    stage=stage,
                ),
                at=self._time(),
            )


# ---- what may lie between the jack and the file ------------------------------------------------------------


def inverting(*names: str, gestures: Sequence[str] | None = None) -> Change_:
    """Turn over the inputs that carry one of ``names`` alone, in all takes or in takes of some gestures."""

    def change(moment: Moment, data: Floats) -> Floats:
        turned = data.copy()
        if gestures is None or moment.gesture in gestures:
            for name in names:
                for k in moment.channels(name):
                    turned[:, k] *= -1.0
        return turned

    return change


def inverting_input(number: int) -> Change_:
    """Turn over input ``number`` (from 1) wherever it is used."""

    def change(_moment: Moment, data: Floats) -> Floats:
        turned = data.copy()
        if number <= data.shape[1]:
            turned[:, number - 1] *= -1.0
        return turned

    return change


def late_input(number: int, seconds: float | Callable[[np.random.Generator], float]) -> Change_:
    """Input ``number`` comes later, by a fixed time or by one drawn for each take."""

    def change(moment: Moment, data: Floats) -> Floats:
        lag = seconds if isinstance(seconds, float) else seconds(moment.rng)
        if number > data.shape[1]:
            return data
        moved = data.copy()
        size = data.shape[0] + moment.rate
        spectrum = np.fft.rfft(data[:, number - 1], size)
        hz = np.fft.rfftfreq(size, 1.0 / moment.rate)
        late = np.fft.irfft(spectrum * np.exp(-2j * np.pi * hz * lag), size)
        moved[:, number - 1] = late[: data.shape[0]]
        return moved

    return change


def filtered_input(number: int, hz: float, *, order: int) -> Change_:
    """A low cut on input ``number`` alone."""

    def change(moment: Moment, data: Floats) -> Floats:
        if number > data.shape[1]:
            return data
        cut = data.copy()
        sections = signal.butter(order, hz, "highpass", fs=moment.rate, output="sos")
        cut[:, number - 1] = signal.sosfilt(sections, data[:, number - 1])
        return cut

    return change
