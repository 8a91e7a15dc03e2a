"""Guitars with something wrong that is no matter of phase.

Task: takes on a bench where a pickup is faulty by itself, or a knob is not fully up. Shapes: takes are
(frames, 1). Units: farad, ohm, seconds. Signs: none of these faults turns a sign over, but for the split,
which leaves one coil with that coil's signs; truth stays with the `Bench`.

Sources: R8: "an open coil, an accidental split, a capacitor in series"; the values are
assumed: an open coil still couples through some picofarads, a short is some hundred ohms across the leads.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from simulator import takes
from simulator.circuits import Branch, Join, LoadSpec
from simulator.rig import LEAD_IN_S, RATE, RINGING_S, Member, SettingSpec, Surroundings
from simulator.workbench import Bench, Wanted

from dsp import SignalError

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Ailment:
    """What is wrong with one pickup."""

    pickup: str
    series_f: float | None = None
    shunt_ohm: float | None = None
    left: Literal[1, 2] | None = None
    """The coil that an accidental split leaves."""


@dataclass(frozen=True)
class Knobs:
    """Knobs that all settings go through; as they should be where nothing is said."""

    volume: float = 1.0
    tone_ohm: float | None = None
    """What is left of the tone pot; None: as it is on the bench."""

    def on(self, load: LoadSpec) -> LoadSpec:
        """The load with the knobs turned so."""
        tone = load.tone_ohm if self.tone_ohm is None else self.tone_ohm
        return replace(load, volume=self.volume, tone_ohm=tone)


FULLY_UP = Knobs()


@dataclass(frozen=True)
class AilingMember(Member):
    """A pickup in a setting with a capacitor in its hot lead, or a resistance across its leads."""

    series_f: float | None = None
    shunt_ohm: float | None = None

    @property
    def branch(self) -> Branch:
        """Its place in the circuit."""
        return replace(super().branch, series_f=self.series_f, shunt_ohm=self.shunt_ohm)


def series_capacitor(pickup: str, *, farad: float = 2.2e-9) -> Ailment:
    """A capacitor in the hot lead: a high-pass with the load."""
    return Ailment(pickup, series_f=farad)


def open_coil(pickup: str, *, farad: float = 10e-12) -> Ailment:
    """A broken wire: only the stray capacitance across the break is left."""
    return Ailment(pickup, series_f=farad)


def shorted_coil(pickup: str, *, ohm: float = 200.0) -> Ailment:
    """A short across the leads: what is left is very weak, and dull."""
    return Ailment(pickup, shunt_ohm=ohm)


def accidental_split(pickup: str, *, left: Literal[1, 2] = 1) -> Ailment:
    """One coil of two is shorted away by the wiring."""
    return Ailment(pickup, left=left)


def ailing_setting(
    bench: Bench,
    wanted: Wanted,
    ailments: Sequence[Ailment],
    *,
    string: str | None = None,
    join: Join = "parallel",
) -> SettingSpec:
    """Put pickups on the jack as `Bench.setting` does, each with what is wrong with it.

    Raises
    ------
    SignalError
        if an ailment names a pickup that the bench does not have.

    """
    wrong = {one.pickup: one for one in ailments}
    for name in wrong:
        bench.pickup(name)
    healthy = bench.setting(wanted, string=string, join=join)
    return replace(healthy, members=tuple(_ailing(m, wrong.get(m.pickup.name)) for m in healthy.members))


def _ailing(member: Member, ailment: Ailment | None) -> Member:
    if ailment is None:
        return member
    if ailment.left is not None and ailment.left > len(member.pickup.coils):
        raise SignalError(f"pickup {member.pickup.name!r} has no coil {ailment.left}")
    return AilingMember(
        member.pickup,
        off_centre_mm=member.off_centre_mm,
        coil=member.coil or ailment.left,
        reversed=member.reversed,
        series_f=ailment.series_f,
        shunt_ohm=ailment.shunt_ohm,
    )


def ailing_pluck(
    rng: np.random.Generator,
    bench: Bench,
    wanted: Wanted,
    string: str,
    *,
    ailments: Sequence[Ailment] = (),
    knobs: Knobs = FULLY_UP,
    join: Join = "parallel",
    fret: int = 0,
    rate: int = RATE,
    lead_in_s: float = LEAD_IN_S,
    ringing_s: float = RINGING_S,
) -> Floats:
    """Pluck once on one setting; (frames, 1). With nothing wrong, the take that `Bench.pluck` makes."""
    setting = ailing_setting(bench, wanted, ailments, string=string, join=join)
    stroke = bench.stroke(rng)
    around = _around(bench, knobs, rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s)
    return takes.pluck(rng, bench.string(string), setting, stroke, around, fret=fret)


def ailing_hum(
    rng: np.random.Generator,
    bench: Bench,
    wanted: Wanted,
    *,
    ailments: Sequence[Ailment] = (),
    knobs: Knobs = FULLY_UP,
    rate: int = RATE,
    lead_in_s: float = LEAD_IN_S,
    ringing_s: float = RINGING_S,
) -> Floats:
    """Strings damped, one setting on the jack; (frames, 1)."""
    around = _around(bench, knobs, rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s)
    return takes.hum(rng, [ailing_setting(bench, wanted, ailments)], around)


def _around(bench: Bench, knobs: Knobs, *, rate: int, lead_in_s: float, ringing_s: float) -> Surroundings:
    healthy = bench.around(rate=rate, lead_in_s=lead_in_s, ringing_s=ringing_s)
    return replace(healthy, load=knobs.on(healthy.load))
