"""A whole bench: a guitar, its wiring, the room, the interface and the hands at it.

Task: record gestures on a bench whose truth is at hand; simulator.scenes draws one.
Shapes: takes are (frames, channels). Units in the field names; levels in dB.
Signs: `Bench.s`, `Bench.w` and `Bench.in_phase` are the truth in the sense of dsp.model.signs; a channel that
inverts is part of the truth too (`Bench.channels_agree`), and is not in them.
Sources: R5, the gestures; ranges in simulator.conditions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from simulator import takes
from simulator.circuits import Join, LoadSpec
from simulator.conditions import Conditions, evenly
from simulator.drives import DriveSpec, draw_upside_down, drive
from simulator.hands import (
    Habit,
    draw_contact,
    draw_lift,
    draw_press,
    draw_stroke,
    draw_switch,
    draw_tap,
    draw_touch,
)
from simulator.hum import MainsSpec
from simulator.interfaces import InterfaceSpec
from simulator.pickups import PickupSpec, under_string
from simulator.rig import LEAD_IN_S, RATE, RINGING_S, Member, SettingSpec, Surroundings
from simulator.strings import PluckSpec, StringSpec
from simulator.tools import HandSpec, ToolSpec
from simulator.volumes import TurnSpec, Volumes, volume_sweep

from dsp import SignalError
from dsp.methods.driven_coil import LEVEL, drive_waveform

Floats = NDArray[np.float64]

NO_MASTER_OHM = 100e6
"""Where each pickup has its own volume there is none behind both."""


@dataclass(frozen=True)
class On:
    """A pickup in a setting, by name: all of it or one coil, as wired or reversed."""

    pickup: str
    coil: Literal[1, 2] | None = None
    reversed: bool = False
    group: int | None = None
    """Those of one group are joined the other way than the setting."""


Wanted = str | On | Sequence[str | On]
"""A setting: one pickup or several together."""


@dataclass(frozen=True)
class Bench:
    """One guitar on one bench; frozen, so all randomness of a take comes from the generator passed."""

    scale_mm: float
    strings: tuple[StringSpec, ...]
    pickups: tuple[PickupSpec, ...]
    off_centre_mm: tuple[tuple[float, ...], ...]
    """For each pickup, how far each string lies to the side of its poles."""
    load: LoadSpec
    mains: MainsSpec
    interface: InterfaceSpec
    """Inputs as set for strings."""
    tool_gain: float
    """The gain is turned by this factor for tool takes."""
    tool: ToolSpec
    habit: Habit
    pluck_v: float
    """RMS of a usual pluck at the jack in its first 0.3 s."""
    lift_peak_v: float
    """A usual peak of a lift at the jack."""
    conditions: Conditions

    def pickup(self, name: str) -> PickupSpec:
        """Return the pickup called ``name``."""
        for one in self.pickups:
            if one.name == name:
                return one
        raise SignalError(f"no pickup {name!r}: there are {', '.join(one.name for one in self.pickups)}")

    def string(self, name: str) -> StringSpec:
        """Return the open string called ``name``."""
        for one in self.strings:
            if one.name == name:
                return one
        raise SignalError(f"no string {name!r}: there are {', '.join(one.name for one in self.strings)}")

    def s(self, name: str) -> int:
        """Truth: the sign of a pickup on strings and plain steel."""
        return self.pickup(name).string_sign

    def s_under(self, name: str, string: str) -> int:
        """Truth: the sign of a pickup under one string."""
        place = self.strings.index(self.string(string))
        return under_string(self.pickup(name), string, place).string_sign

    def w(self, name: str, *, coil: Literal[1, 2] = 1) -> int:
        """Truth: the winding of one coil of a pickup."""
        return self.pickup(name).coils[coil - 1].signs.winding

    def in_phase(self, a: str, b: str) -> bool:
        """Truth: whether two pickups add on the strings."""
        return self.s(a) == self.s(b)

    def channels_agree(self) -> bool:
        """Truth: whether the two inputs have the same polarity."""
        return self.interface.channels[0].inverted == self.interface.channels[1].inverted

    def setting(self, wanted: Wanted, *, string: str | None = None, join: Join = "parallel") -> SettingSpec:
        """Put pickups on the jack; with ``string``, under that string."""
        each: Sequence[str | On] = (wanted,) if isinstance(wanted, str | On) else wanted
        column = 0 if string is None else self.strings.index(self.string(string))
        members = []
        wired = [On(item) if isinstance(item, str) else item for item in each]
        for on in wired:
            row = self.pickups.index(self.pickup(on.pickup))
            side = self.off_centre_mm[row][column]
            pickup = self.pickups[row]
            if string is not None:
                pickup = under_string(pickup, string, column)
            members.append(Member(pickup, off_centre_mm=side, coil=on.coil, reversed=on.reversed))
        grouped = any(on.group is not None for on in wired)
        groups = tuple(on.group for on in wired) if grouped else ()
        return SettingSpec(tuple(members), join=join, groups=groups)

    def stroke(self, rng: np.random.Generator, *, turned: bool | None = None) -> PluckSpec:
        """One pluck by this person; ``turned`` None: the other way at the rate of the conditions."""
        return draw_stroke(rng, self.conditions, self.habit, turned=turned)

    def pluck(
        self,
        rng: np.random.Generator,
        wanted: Wanted,
        string: str,
        *,
        join: Join = "parallel",
        fret: int = 0,
        onsets_s: tuple[float, ...] = (0.0,),
        turned: bool | None = None,
        rate: int = RATE,
        lead_in_s: float = LEAD_IN_S,
        ringing_s: float = RINGING_S,
    ) -> Floats:
        """Pluck on one setting; (frames, 1)."""
        setting = self.setting(wanted, string=string, join=join)
        strokes = [self.stroke(rng, turned=turned) for _ in onsets_s]
        around = self.around(rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s)
        return takes.pluck(rng, self.string(string), setting, strokes, around, onsets_s=onsets_s, fret=fret)

    def press(
        self,
        rng: np.random.Generator,
        wanted: Wanted,
        string: str,
        *,
        join: Join = "parallel",
        fret: int = 0,
        onsets_s: tuple[float, ...] = (0.0,),
        turned: bool | None = None,
        rate: int = RATE,
        lead_in_s: float = LEAD_IN_S,
        ringing_s: float = RINGING_S,
    ) -> Floats:
        """Push the string towards the body with a finger and let go, on one setting; (frames, 1)."""
        setting = self.setting(wanted, string=string, join=join)
        strokes = [draw_press(rng, self.conditions, self.habit, turned=turned) for _ in onsets_s]
        around = self.around(rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s)
        return takes.press(
            rng,
            self.string(string),
            setting,
            strokes,
            around,
            onsets_s=onsets_s,
            fret=fret,
            pressed_s=evenly(rng, self.conditions.pressed_s),
        )

    def paired(
        self,
        rng: np.random.Generator,
        a: Wanted,
        b: Wanted,
        string: str,
        *,
        fret: int = 0,
        onsets_s: tuple[float, ...] = (0.0,),
        turned: bool | None = None,
        pressed: bool = False,
        rate: int = RATE,
        lead_in_s: float = LEAD_IN_S,
        ringing_s: float = RINGING_S,
    ) -> Floats:
        """Pluck once (or press) with ``a`` on input 1 and ``b`` on input 2; (frames, 2)."""
        settings = (self.setting(a, string=string), self.setting(b, string=string))
        if pressed:
            strokes = [draw_press(rng, self.conditions, self.habit, turned=turned) for _ in onsets_s]
            slow = evenly(rng, self.conditions.pressed_s)
            strokes = [replace(stroke, draw_s=slow) for stroke in strokes]
        else:
            strokes = [self.stroke(rng, turned=turned) for _ in onsets_s]
        around = self.around(rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s)
        return takes.paired_pluck(
            rng, self.string(string), settings, strokes, around, onsets_s=onsets_s, fret=fret
        )

    def split_check(
        self,
        rng: np.random.Generator,
        wanted: Wanted,
        string: str,
        *,
        fret: int = 0,
        onsets_s: tuple[float, ...] = (0.0,),
        rate: int = RATE,
        lead_in_s: float = LEAD_IN_S,
        ringing_s: float = RINGING_S,
    ) -> Floats:
        """Pluck with one setting into both inputs; (frames, 2)."""
        setting = self.setting(wanted, string=string)
        strokes = [self.stroke(rng) for _ in onsets_s]
        around = self.around(rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s)
        return takes.split_check(
            rng, self.string(string), setting, strokes, around, onsets_s=onsets_s, fret=fret
        )

    def lift(
        self,
        rng: np.random.Generator,
        pickup: str | On,
        *,
        coil: Literal[1, 2] = 1,
        string: str | None = None,
        at_s: tuple[float, ...] = (0.0,),
        rate: int = RATE,
        lead_in_s: float = LEAD_IN_S,
        ringing_s: float = RINGING_S,
    ) -> Floats:
        """Pull the tool away from a pole of ``pickup``, alone on the jack; (frames, 1).

        ``string``: the one over the pole, where poles differ.
        """
        lifts = [draw_lift(rng, self.conditions, at_s=at) for at in at_s]
        around = self.around(rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s, for_tool=True)
        return takes.lift(
            rng,
            self.setting(pickup, string=string),
            lifts,
            around,
            tool=self.tool,
            hand=self._hand(rng),
            coil=coil,
        )

    def touch(
        self,
        rng: np.random.Generator,
        pickup: str,
        *,
        coil: Literal[1, 2] = 1,
        at_s: tuple[float, ...] = (0.0,),
        rate: int = RATE,
        lead_in_s: float = LEAD_IN_S,
        ringing_s: float = RINGING_S,
    ) -> Floats:
        """Bring the tool to a pole of ``pickup`` and hold it there, alone on the jack; (frames, 1)."""
        touches = [draw_touch(rng, self.conditions, at_s=at) for at in at_s]
        around = self.around(rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s, for_tool=True)
        return takes.touch(
            rng, self.setting(pickup), touches, around, tool=self.tool, hand=self._hand(rng), coil=coil
        )

    def tap(
        self,
        rng: np.random.Generator,
        wanted: Wanted,
        tapped: str,
        *,
        coil: Literal[1, 2] = 1,
        join: Join = "parallel",
        at_s: tuple[float, ...] = (0.3, 0.7, 1.2, 1.6),
        rate: int = RATE,
        lead_in_s: float = LEAD_IN_S,
        ringing_s: float = RINGING_S,
    ) -> Floats:
        """Tap a pole of the pickup ``tapped`` while ``wanted`` is on the jack; (frames, 1)."""
        c = self.conditions
        taps = [draw_tap(rng, c, at_s=at) for at in at_s]
        around = self.around(rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s, for_tool=True)
        hand = draw_contact(rng, c, lift_peak_v=self.lift_peak_v, thump_db=evenly(rng, c.thump_db))
        setting = self.setting(wanted, join=join)
        return takes.tap(
            rng, setting, self.pickup(tapped), taps, around, tool=self.tool, hand=hand, coil=coil
        )

    def switch(
        self,
        rng: np.random.Generator,
        sequence: Sequence[Wanted],
        string: str,
        *,
        at_s: tuple[float, ...] = (0.8,),
        rate: int = RATE,
        lead_in_s: float = LEAD_IN_S,
        ringing_s: float = 2.5,
    ) -> Floats:
        """Pluck once and move the selector through ``sequence`` while it rings; (frames, 1)."""
        settings = [self.setting(each, string=string) for each in sequence]
        steps = [draw_switch(rng, self.conditions, at_s=at, usual_v=self.pluck_v) for at in at_s]
        around = self.around(rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s)
        return takes.switch(rng, self.string(string), settings, self.stroke(rng), around, switching=steps)

    def volumes(
        self,
        rng: np.random.Generator,
        pair: tuple[str, str],
        string: str,
        *,
        volumes: Volumes,
        start: Sequence[float],
        turns: Sequence[TurnSpec],
        rate: int = RATE,
        lead_in_s: float = LEAD_IN_S,
        ringing_s: float = 3.5,
    ) -> Floats:
        """Pluck once and turn the volumes of two pickups while it rings, no selector; (frames, 1)."""
        around = self.around(rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s)
        alone = replace(around, load=replace(around.load, volume_ohm=NO_MASTER_OHM))
        return volume_sweep(
            rng,
            self.string(string),
            self.setting(pair, string=string),
            self.stroke(rng),
            alone,
            volumes=volumes,
            start=start,
            turns=turns,
        )

    def hum(
        self,
        rng: np.random.Generator,
        wanted: Sequence[Wanted],
        *,
        rate: int = RATE,
        lead_in_s: float = LEAD_IN_S,
        ringing_s: float = RINGING_S,
    ) -> Floats:
        """Damp the strings and record one setting a channel; (frames, channels)."""
        around = self.around(rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s)
        return takes.hum(rng, [self.setting(each) for each in wanted], around)

    def drive(
        self,
        rng: np.random.Generator,
        pickup: str,
        *,
        coil: Literal[1, 2] = 1,
        spec: DriveSpec | None = None,
        upside_down: bool | None = None,
        level: float = LEVEL,
        rate: int = RATE,
        ringing_s: float = 0.3,
    ) -> Floats:
        """Hold a driven coil over ``coil`` of ``pickup``, alone on the jack; (frames, 1).

        ``upside_down`` None: the marked face looks up at the rate of ``spec``.
        """
        how = spec or DriveSpec()
        turned = draw_upside_down(rng, how) if upside_down is None else upside_down
        around = self.around(rate=rate, lead_in_s=0.0, ringing_s=ringing_s)
        waveform = drive_waveform(rate=rate, level=level)
        return drive(rng, self.setting(pickup), waveform, around, spec=how, coil=coil, upside_down=turned)

    def around(
        self,
        *,
        rate: int = RATE,
        lead_in_s: float = LEAD_IN_S,
        ringing_s: float = RINGING_S,
        for_tool: bool = False,
    ) -> Surroundings:
        """Everything about a take here that is not the gesture."""
        turn = self.tool_gain if for_tool else 1.0
        channels = tuple(replace(one, gain=one.gain * turn) for one in self.interface.channels)
        return Surroundings(
            interface=replace(self.interface, channels=channels),
            mains=self.mains,
            load=self.load,
            rate=rate,
            lead_in_s=lead_in_s,
            ringing_s=ringing_s,
        )

    def _hand(self, rng: np.random.Generator) -> HandSpec:
        return draw_contact(rng, self.conditions, lift_peak_v=self.lift_peak_v)
