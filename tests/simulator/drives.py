"""A small coil that is driven with a waveform and held over a pickup.

Task: the take it gives. Shapes: a waveform (frames,) at the take's rate in, a take (frames, 1) out. Units:
seconds, volt seconds, mm. Signs: flux of a positive drive enters every coil with ``w`` and does not ask for
the magnet (P2); the face upside down turns it over. Lenz's sign and the drive's are taken into "positive".
Sources: EMF = dPhi/dt (P5); all values are assumed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from simulator.hum import mains_clock
from simulator.rig import PREROLL_S, SettingSpec, Surroundings, jacks, recorded

from dsp import SignalError

Floats = NDArray[np.float64]

SWAY_HZ = 1.5
"""A hand that holds something still moves about so fast."""
START_S = 0.3
"""When the waveform begins, from the start of the take."""


@dataclass(frozen=True)
class DriveSpec:
    """One coil, one driver, one hand; values assumed."""

    flux_vs: float = 2.0e-4
    """Flux that full scale of the waveform sends through a coil of area 1 right under it."""
    neighbour: float = -0.15
    """Part of it that reaches the other coil of the pickup: it returns there, the other way."""
    elsewhere: float = 0.01
    """Part of it that reaches other pickups."""
    lag_s: float = 1.0e-4
    """L / R of the driven coil: its current lags."""
    spread_db: float = 4.0
    """Standard deviation of how well it is held, take by take."""
    sway: float = 0.15
    """Part by which its level sways within a take."""
    straddle_mm: float = 3.0
    """Standard deviation of how far it is off the coil it is meant for, along the string."""
    upside_down_rate: float = 0.0
    """How often the marked face looks up: off, for it is a false sign by itself."""


def draw_upside_down(rng: np.random.Generator, spec: DriveSpec) -> bool:
    """Whether this time the marked face looks up."""
    return bool(rng.random() < spec.upside_down_rate)


def drive(
    rng: np.random.Generator,
    setting: SettingSpec,
    waveform: Floats,
    around: Surroundings,
    *,
    spec: DriveSpec,
    member: int = 0,
    coil: Literal[1, 2] = 1,
    upside_down: bool = False,
) -> Floats:
    """Hold the coil over ``coil`` of the setting's ``member`` and play; (frames, 1).

    Raises
    ------
    SignalError
        If the setting has no such member, or the member no such coil.

    """
    if not 0 <= member < len(setting.members) or coil > len(setting.members[member].pickup.coils):
        raise SignalError(f"no member {member} with a coil {coil} in this setting")
    frames = around.frames_until(PREROLL_S + START_S + waveform.size / around.rate)
    flux = np.zeros(frames)
    begin = round((PREROLL_S + START_S) * around.rate)
    flux[begin : begin + waveform.size] = _lagging(waveform, lag_s=spec.lag_s, rate=around.rate)
    flux *= spec.flux_vs * 10 ** (spec.spread_db * rng.standard_normal() / 20) * (-1 if upside_down else 1)
    t = np.arange(frames) / around.rate
    flux *= 1 + spec.sway * np.sin(2 * math.pi * SWAY_HZ * t + rng.uniform(0, 2 * math.pi))
    under = setting.members[member]
    held = under.pickup.coils[coil - 1]
    off_mm = spec.straddle_mm * rng.standard_normal()
    fluxes, signs = [], []
    for one in setting.members:
        for wound in one.coils:
            reach = spec.elsewhere
            if one is under:
                reach = _reach(wound.offset_mm - held.offset_mm - off_mm, spec=spec)
            fluxes.append(reach * wound.hum_area * flux)
            signs.append(wound.signs.winding)
    clock = mains_clock(rng, around.mains)
    return recorded(rng, jacks((setting,), fluxes, signs, around, clock=clock, frames=frames), around)


def _reach(off_mm: float, *, spec: DriveSpec) -> float:
    """Part of the flux at a coil so far from under the driven one: 1 below it, the return flux beside it."""
    width_mm = 9.0
    near = math.exp(-0.5 * (off_mm / width_mm) ** 2)
    return near + spec.neighbour * (1 - near)


def _lagging(waveform: Floats, *, lag_s: float, rate: int) -> Floats:
    """Current of a coil with resistance and inductance, over that without inductance."""
    hz = np.fft.rfftfreq(2 * waveform.size, 1 / rate)
    spectrum = np.fft.rfft(waveform, 2 * waveform.size) / (1 + 2j * math.pi * hz * lag_s)
    return np.asarray(np.fft.irfft(spectrum, 2 * waveform.size)[: waveform.size], dtype=np.float64)
