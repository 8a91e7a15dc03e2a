"""Mistakes that a bench makes, written down once: each is a hidden sign with a small probability.

Task: the probability of each shared mistake, with its reason, and the words in which it is named.
Units: probabilities. All are assumed from common practice at a bench unless a reason says otherwise; a
mistake turns every piece of evidence that shares it, so it bounds how sure one method can be.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ErrorKind = Literal[
    "clips",
    "colours",
    "meter leads",
    "misread swing",
    "hand",
    "magnetised tool",
    "channels",
    "compass",
    "sideways string",
    "sideways ringing",
    "one pickup twice",
    "work",
    "no work",
    "inner joint",
    "coil's face",
    "inner winding",
    "settings",
    "same setting twice",
    "profile",
    "capacitive hum",
]


@dataclass(frozen=True)
class ErrorPrior:
    """One kind of mistake: how often, why so, and its name in the bench's words ({} is what it is on)."""

    probability: float
    reason: str
    words: str


ERROR_PRIORS: dict[ErrorKind, ErrorPrior] = {
    "clips": ErrorPrior(
        0.015,
        "tip and sleeve clip exchanged on loose leads; seen once in some tens of clip-ups",
        "the clips of the audio lead were probably the other way round on {}",
    ),
    "colours": ErrorPrior(
        0.004,
        "the same lead taken for the other each time: a faded or mislabelled colour; rarer than a slip",
        "hot and ground of {} were probably read the wrong way round, at the meter and at the clips alike",
    ),
    "meter leads": ErrorPrior(
        0.015,
        "red and black exchanged at the leads or in the meter's sockets",
        "the meter leads were probably the other way round on {}",
    ),
    "misread swing": ErrorPrior(
        0.015,
        "a swing seen the wrong way on a slow or auto-ranging meter",
        "the meter's swing on {} was probably misread",
    ),
    "hand": ErrorPrior(
        0.01,
        "every pluck of one setting struck the other way: the hand turned when the selector was moved",
        "the string was probably plucked the other way each time on {}",
    ),
    "magnetised tool": ErrorPrior(
        0.02,
        "a steel tool that lay on a magnet carries its own pole and shows the winding, not the sign",
        "the tool ({}) is probably magnetised",
    ),
    "channels": ErrorPrior(
        0.03,
        "one input of a pair inverts: a balanced adapter, a box wired the other way",
        "one of the two inputs probably inverts ({})",
    ),
    "compass": ErrorPrior(
        0.03,
        "a small compass turns its own pole over near a strong magnet",
        "the compass had probably turned over when {} was read",
    ),
    "sideways string": ErrorPrior(
        0.005,
        "one string off the centre of the poles senses sideways motion with opposite signs at two pickups "
        "(about one job in a hundred in trials, and two pickups in each)",
        "the string was probably moving sideways ({})",
    ),
    "sideways ringing": ErrorPrior(
        0.012,
        "the motion towards the body dies first, so a string that rings on through a switching moves "
        "sideways more often than a fresh pluck (of 360 simulated switch takes 4 were surely wrong)",
        "the string was probably moving sideways when the selector was moved ({})",
    ),
    "one pickup twice": ErrorPrior(
        0.005,
        "one pickup on both inputs, or strong crosstalk, always looks in phase",
        "both inputs probably carried the same pickup ({})",
    ),
    "work": ErrorPrior(
        0.02,
        "a joint made other than written down",
        "the leads of {} were probably soldered other than the log says",
    ),
    "no work": ErrorPrior(
        0.005,
        "a pickup that was not to be touched came out turned over",
        "{} was probably turned over during the work",
    ),
    "inner joint": ErrorPrior(
        0.02,
        "the two coils of one pickup joined so that they oppose each other",
        "the two coils of {} probably oppose each other",
    ),
    "coil's face": ErrorPrior(
        0.01,
        "the driven coil held with its other face down every time over one pickup",
        "the driven coil was probably held the other way up over {}",
    ),
    "inner winding": ErrorPrior(
        0.02,
        "the two coils of one pickup wound alike, or connected so: it does not cancel hum by itself",
        "the two coils of {} probably have the same winding sense as connected",
    ),
    "settings": ErrorPrior(
        0.004,
        "a selector position that puts something else on the jack than the job says",
        "one of the settings {} is probably not what job.toml says",
    ),
    "same setting twice": ErrorPrior(
        0.02,
        "the selector was not moved between two takes in turn, or two positions are one: that always looks "
        "in phase; how alike the harmonics are tells more (dsp.health.pickups)",
        "the same thing was probably on the jack for {} both",
    ),
    "profile": ErrorPrior(
        0.02,
        "harmonics that follow no model: places far off, a hand that moved with the selector (about one job "
        "in a hundred in trials)",
        "the harmonics of {} probably misled",
    ),
    "capacitive hum": ErrorPrior(
        0.03,
        "hum that comes in by capacitance or a ground loop ignores the winding and always looks wound alike",
        "the hum probably comes in by capacitance and not through the coils ({})",
    ),
}
