"""Two volumes and no selector, turned by hand while a string rings.

Task: what is on the jack while each pickup's own volume goes from one place to another. Shapes: volts
(frames, 1) out. Units: seconds, ohm; a knob's place is 0 (all the way down) to 1 (full up). Signs: a volume
turns nothing over. Source: common practice: an audio taper has a tenth of its track at half its turn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from simulator.circuits import PotSpec
from simulator.hum import mains_clock
from simulator.rig import PREROLL_S, SettingSpec, Surroundings, jacks, recorded
from simulator.strings import PluckSpec, StringSpec
from simulator.takes import string_fluxes

Floats = NDArray[np.float64]

NODE_S = 0.03
"""While a knob turns the circuit is worked out this often, and faded from one to the next."""
LEAST_TRACK = 2e-4
"""What is left of a track at its end: some fifty ohms."""


@dataclass(frozen=True)
class TurnSpec:
    """One knob turned: that of member ``knob``, from where it stands to ``to``, in one go or in two."""

    knob: int
    at_s: float
    to: float
    lasts_s: float = 0.3
    pause_s: float = 0.0
    """Half way the hand takes the knob anew, for so long."""


@dataclass(frozen=True)
class Volumes:
    """Both pots, and how they are wired."""

    ohm: float = 250e3
    wired: Literal["divider", "reversed"] = "reversed"
    taper: Literal["audio", "linear"] = "audio"

    def pot(self, place: float) -> PotSpec:
        """Return the pot of a knob that stands at ``place``."""
        track = place if self.taper == "linear" else float(np.interp(place, (0.0, 0.5, 1.0), (0.0, 0.1, 1.0)))
        return PotSpec(self.ohm, max(track, LEAST_TRACK), self.wired)


def places(turns: Sequence[TurnSpec], start: Sequence[float], t: Floats) -> Floats:
    """Where each knob stands at each time, (knobs, times)."""
    out = np.repeat(np.asarray(start, dtype=np.float64)[:, np.newaxis], t.size, axis=1)
    for turn in sorted(turns, key=lambda one: one.at_s):
        half = 0.5 * turn.lasts_s
        moved = np.clip(t - turn.at_s, 0.0, half) + np.clip(t - turn.at_s - half - turn.pause_s, 0.0, half)
        part = moved / turn.lasts_s
        smooth = part**2 * (3.0 - 2.0 * part)
        begins = np.where(t < turn.at_s, out[turn.knob], np.interp(turn.at_s, t, out[turn.knob]))
        out[turn.knob] = begins + (turn.to - begins) * smooth
    return out


def volume_sweep(
    rng: np.random.Generator,
    string: StringSpec,
    setting: SettingSpec,
    stroke: PluckSpec,
    around: Surroundings,
    *,
    volumes: Volumes,
    start: Sequence[float],
    turns: Sequence[TurnSpec],
) -> Floats:
    """One pluck that rings on while the volumes of ``setting``'s members are turned; (frames, 1).

    ``start``: where each knob stands at the pluck; times of ``turns`` count from the end of the lead-in.
    """
    fluxes = string_fluxes(string, setting.members, stroke, around, onsets_s=(0.0,))
    signs = [coil.signs.string for member in setting.members for coil in member.coils]
    frames = fluxes[0].size
    t = np.arange(frames) / around.rate - PREROLL_S - around.lead_in_s
    moves = np.concatenate(
        [
            np.arange(turn.at_s, turn.at_s + turn.lasts_s + turn.pause_s + NODE_S, NODE_S)
            for turn in sorted(turns, key=lambda one: one.at_s)
        ]
    )
    nodes = np.unique(np.concatenate([[t[0]], moves, [t[-1]]]))
    stands = places(turns, start, nodes)
    heard = np.zeros(frames)
    clock = mains_clock(rng, around.mains)
    known: dict[tuple[float, ...], Floats] = {}
    for k in range(nodes.size):
        where = tuple(float(p) for p in np.round(stands[:, k], 4))
        if where not in known:
            members = tuple(
                replace(m, pot=volumes.pot(p)) for m, p in zip(setting.members, where, strict=True)
            )
            one = replace(setting, members=members)
            known = {where: jacks((one,), fluxes, signs, around, clock=clock, frames=frames)[:, 0]}
        share = np.interp(t, nodes, np.eye(nodes.size)[k])
        heard += share * known[where]
    return recorded(rng, heard[:, np.newaxis], around)
