"""A steel tool on a pole piece: lifted off, brought near, with what a hand adds to it.

Task: the distance of the tool over time, and the flux it makes in the coil under it.
Shapes: (frames,). Units: distance in mm, seconds, volt seconds.
Signs: flux rises as the tool comes near, so a touch is a positive lobe where the coil's sign is +1, and a
lift a negative one (the convention of simulator.pickups). The coil's sign is ``s`` for plain steel, and
``w`` times the tool's own pole for a magnetised one (sources R1, R3).
Sources: P4 (opposite swings), P5 (signed areas), P6 (what AC coupling does); the flux over distance, the
times and the bounces are assumed, after the shapes described in the trials: a lift starts abruptly and
fades, a touch grows and ends abruptly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp import SignalError
from dsp.model.signs import CoilSigns, Sign

Floats = NDArray[np.float64]

FAR_MM = 60.0
"""Where the tool is held when it is away (assumed)."""
HALF_MM = 3.0
"""The scale over which the flux falls off (assumed)."""

CONTACT_MM = 0.02
"""Nearer than this the tool counts as touching (assumed: dirt and give)."""
TAPS_APART_S = 0.1
"""Two taps are at least twice so far apart."""
KNOCK_HZ, KNOCK_S = 110.0, 0.025
"""The knock of a blow on body and strings (assumed)."""
AWAY_S = 0.5
"""Before a further touch the tool leaves the pole so long before it meets it again (assumed)."""


@dataclass(frozen=True)
class ToolSpec:
    """The tool; values assumed."""

    magnet: Sign | None = None
    """Its own pole at the tip where it is magnetised; None: plain steel, which lifts no staple."""
    flux_vs: float = 4.0e-3
    """Flux in volt seconds that the tool adds to a coil when it rests on its pole (about 0.3 V peak)."""
    neighbour: float = 0.2
    """Part of it that reaches the other coil of the pickup."""


@dataclass(frozen=True)
class LiftSpec:
    """One movement away from the pole; times assumed."""

    at_s: float
    """When the tool leaves the pole."""
    leave_s: float = 0.012
    """Time to the first ``HALF_MM``: 5 to 50 ms."""
    snap: float = 0.6
    """Part of that way covered at the speed with which it breaks off; the rest is acceleration."""
    return_s: float = 0.5
    """Time for the slow way back to the pole, before the next lift."""


@dataclass(frozen=True)
class TouchSpec:
    """One movement to the pole; times assumed."""

    at_s: float
    """When the tool meets the pole."""
    approach_s: float = 0.02
    """Time over the last ``HALF_MM``."""
    snap: float = 0.6
    """Part of that way covered at the speed with which it meets the pole."""
    bounces_mm: tuple[float, ...] = (0.5, 0.15)
    """Height of each bounce."""
    bounce_s: float = 0.02
    """Duration of the first bounce; the others go with the square root of their height."""


@dataclass(frozen=True)
class TapSpec:
    """One knock of the tool on a pole: down, a moment of contact, and up again; times assumed."""

    at_s: float
    """When the tool meets the pole."""
    approach_s: float = 0.008
    """Time over the last ``HALF_MM``, and over the first on the way back."""
    rests_s: float = 0.01
    """How long it lies on the pole."""
    snap: float = 0.6
    """As of a touch."""


@dataclass(frozen=True)
class HandSpec:
    """What a hand and a tip add to a tool take; assumed."""

    buzz_v: float = 0.0
    """RMS volts at the jack while the tool touches."""
    click_v: float = 0.0
    """Mean height of a contact click at the jack."""
    click_s: float = 0.15e-3
    """How long a click takes to die to 1/e: it is over within a millisecond."""
    thump_v: float = 0.0
    """Peak of the knock that a tap gives to strings and body, at the jack, whatever is on."""


def tool_flux(distance_mm: Floats, *, contact_vs: float) -> Floats:
    """Flux that the tool adds at a distance from the pole: ``contact_vs`` at contact, falling off squared."""
    return np.asarray(contact_vs / (1.0 + distance_mm / HALF_MM) ** 2, dtype=np.float64)


def coil_sign(signs: CoilSigns, tool: ToolSpec) -> int:
    """Return the sign with which the tool's motion comes out of a coil (sources R1, R3)."""
    return signs.string if tool.magnet is None else signs.winding * tool.magnet


def _leaving(since_s: Floats, *, scale_s: float, snap: float) -> Floats:
    """Distance in mm after breaking off: a start at once, then acceleration, up to ``FAR_MM``."""
    u = np.maximum(since_s, 0.0) / scale_s
    return np.asarray(np.minimum(HALF_MM * (snap * u + (1.0 - snap) * u**2), FAR_MM), dtype=np.float64)


def lift_distance(lifts: tuple[LiftSpec, ...], *, frames: int, rate: int) -> Floats:
    """Distance in mm over a take that begins with the tool on the pole, (frames,).

    Between two lifts the tool comes back slowly and meets the pole half of ``return_s`` before the next.
    """
    _check_times([lift.at_s for lift in lifts], [lift.return_s for lift in lifts], frames=frames, rate=rate)
    t = np.arange(frames) / rate
    distance = np.zeros(frames)
    for k, lift in enumerate(lifts):
        after = t >= lift.at_s
        distance[after] = _leaving(t[after] - lift.at_s, scale_s=lift.leave_s, snap=lift.snap)
        if k + 1 < len(lifts):
            meets = lifts[k + 1].at_s - 0.5 * lift.return_s
            coming = FAR_MM * np.clip((meets - t[after]) / lift.return_s, 0.0, 1.0) ** 2
            distance[after] = np.minimum(distance[after], coming)
    return distance


def touch_distance(touches: tuple[TouchSpec, ...], *, frames: int, rate: int) -> Floats:
    """Distance in mm over a take that begins with the tool away, (frames,); one that rests at the end.

    Before a further touch the tool is drawn away slowly.
    """
    _check_times([touch.at_s for touch in touches], [AWAY_S] * len(touches), frames=frames, rate=rate)
    t = np.arange(frames) / rate
    distance = np.full(frames, FAR_MM)
    for k, touch in enumerate(touches):
        before = _leaving(touch.at_s - t, scale_s=touch.approach_s, snap=touch.snap)
        after = _bounces(t - touch.at_s, touch)
        whole = np.where(t < touch.at_s, before, after)
        begin = 0.0
        if k > 0:
            begin = touch.at_s - AWAY_S
            drawn = FAR_MM * np.clip(2.0 * (t - begin) / AWAY_S, 0.0, 1.0) ** 2
            whole = np.where(t < touch.at_s, np.minimum(drawn, whole), whole)
        part = t >= begin
        distance[part] = whole[part]
    return distance


def tap_distance(taps: tuple[TapSpec, ...], *, frames: int, rate: int) -> Floats:
    """Distance in mm over a take that begins and ends with the tool away, (frames,)."""
    _check_times([tap.at_s for tap in taps], [TAPS_APART_S] * len(taps), frames=frames, rate=rate)
    t = np.arange(frames) / rate
    distance = np.full(frames, FAR_MM)
    for tap in taps:
        way = {"scale_s": tap.approach_s, "snap": tap.snap}
        coming, going = _leaving(tap.at_s - t, **way), _leaving(t - tap.at_s - tap.rests_s, **way)
        distance = np.minimum(distance, np.maximum(coming, going))
    return distance


def thumps(touching: NDArray[np.bool_], *, peak_v: float, rate: int) -> Floats:
    """What a blow does to strings and body, (frames,): a low knock at each contact, dead in some 0.1 s."""
    knock_s = np.arange(round(0.15 * rate)) / rate
    knock = np.exp(-knock_s / KNOCK_S) * np.sin(2 * math.pi * KNOCK_HZ * knock_s)
    noise = np.zeros(touching.size)
    for frame in (np.flatnonzero(touching[1:] & ~touching[:-1]) + 1).tolist():
        end = min(touching.size, frame + knock.size)
        noise[frame:end] += peak_v * knock[: end - frame]
    return noise


def _bounces(since_s: Floats, touch: TouchSpec) -> Floats:
    """Distance in mm after the first contact: parabolas, one a bounce, then rest."""
    distance = np.zeros(since_s.size)
    start = 0.0
    for height in touch.bounces_mm:
        lasts = touch.bounce_s * math.sqrt(height / touch.bounces_mm[0])
        u = (since_s - start) / lasts
        inside = (u > 0.0) & (u < 1.0)
        distance[inside] = 4.0 * height * u[inside] * (1.0 - u[inside])
        start += lasts
    return distance


def contact(distance_mm: Floats) -> NDArray[np.bool_]:
    """Where the tool lies on the pole."""
    return np.asarray(distance_mm <= CONTACT_MM)


def clicks(
    rng: np.random.Generator, touching: NDArray[np.bool_], *, peak_v: float, lasts_s: float, rate: int
) -> Floats:
    """Contact noise at each make and break, (frames,): random sign, mean height ``peak_v``, under 1 ms."""
    noise = np.zeros(touching.size)
    length = max(2, round(4 * lasts_s * rate))
    changes = np.flatnonzero(touching[1:] != touching[:-1]) + 1
    for frame in changes.tolist():
        height = peak_v * rng.exponential() * float(rng.choice([-1.0, 1.0]))
        shape = np.exp(-np.arange(length) / (lasts_s * rate)) * np.cos(
            np.arange(length) * rng.uniform(0.3, 1.5)
        )
        end = min(touching.size, frame + length)
        noise[frame:end] += height * shape[: end - frame]
    return noise


def _check_times(at_s: list[float], between_s: list[float], *, frames: int, rate: int) -> None:
    if not at_s:
        raise SignalError("a tool take needs at least one movement")
    if at_s[0] <= 0.0 or at_s[-1] >= frames / rate:
        raise SignalError(f"a movement lies outside the take of {frames / rate} s")
    for earlier, later, gap in zip(at_s, at_s[1:], between_s, strict=False):
        if later - earlier < 2.0 * gap:
            raise SignalError(f"movements at {earlier} s and {later} s are closer than {2.0 * gap} s")
