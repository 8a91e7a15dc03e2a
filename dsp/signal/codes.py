"""Closed lists of what the signal package can find: faults of a take, of a pickup, of the set-up.

Codes and figures only, and no numpy, so that a fault can be shown without loading what finds it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

FaultCode = Literal[
    "no numbers",
    "exact zeros",
    "silent",
    "clipped",
    "offset",
    "gap",
    "same signal twice",
    "too quiet",
    "no onset",
    "hum of the hand",
    "cut off at the start",
    "cut off at the end",
    "wrong string",
    "wrong octave",
    "overlapping",
    "unclear onset",
    "other gesture",
    "doubtful gesture",
    "no quiet before",
    "not switched",
    "too few steps",
    "too many steps",
    "switched in the attack",
    "steps by clicks",
    "string died",
    "beating null",
    "partials in mains",
    "too little hum",
    "other mains",
    "strings not damped",
    "no drive",
    "drive too weak",
    "one tap alone",
    "taps ring on",
]


@dataclass(frozen=True)
class Fault:
    """One fault of a take.

    ``channel`` counts from 1 (None: the whole take); ``detail`` is a measured figure; ``note_name`` is what
    was played where another note was named.
    """

    code: FaultCode
    channel: int | None = None
    detail: float | None = None
    note_name: str = ""


HealthCode = Literal[
    "fundamental missing",
    "open coil",
    "shorted coil",
    "far weaker",
    "dull",
    "twin settings",
    "hums although it has two coils",
]


SetupCode = Literal[
    "exact zeros",
    "loud noise",
    "much hum",
    "offset",
    "one signal on both",
    "gain rides",
    "noise is cut off",
    "clips",
    "nothing plugged in",
]
