"""How probable each latent error of a bench is, with the reason.

A latent error is a binary variable of the factor graph (index 1: it happened); the evidence that shares it is
turned over, or says nothing, together. So its prior bounds how sure one method can be. All priors are assumed
from common practice at a bench unless a reason says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

from reports.model.notes import ErrorKind


@dataclass(frozen=True)
class ErrorPrior:
    """The probability of one kind of error, and why so."""

    probability: float
    reason: str


ERROR_PRIORS: dict[ErrorKind, ErrorPrior] = {
    "clips": ErrorPrior(
        0.015,
        "tip and sleeve clip exchanged on loose leads; seen once in some tens of clip-ups",
    ),
    "colours": ErrorPrior(
        0.004,
        "the same lead taken for the other each time: a faded or mislabelled colour; rarer than a slip",
    ),
    "tag": ErrorPrior(
        0.001,
        "the tag put on the lead under the other clip: less than one of several like things taken for "
        "another (0.003, sources H1), since tip and sleeve clip differ and are still on when it goes on",
    ),
    "clip-up not said": ErrorPrior(
        0.002,
        "the clips came off and went on again the other way round within what a tag seals, and nobody said "
        "so: a clip-up not said (0.1, assumed) times clips exchanged",
    ),
    "meter leads": ErrorPrior(0.015, "red and black exchanged at the leads or in the meter's sockets"),
    "misread swing": ErrorPrior(0.015, "a swing seen the wrong way on a slow or auto-ranging meter"),
    "hand": ErrorPrior(
        0.01,
        "every pluck of one setting struck the other way: the hand turned when the selector was moved",
    ),
    "magnetised tool": ErrorPrior(
        0.02,
        "a steel tool that lay on a magnet carries its own pole and shows the winding, not the sign",
    ),
    "channels": ErrorPrior(
        0.03,
        "one input of a pair inverts: a balanced adapter, a box wired the other way",
    ),
    "late input": ErrorPrior(
        0.01,
        "two boxes joined by the computer, a wireless link or a pedal on one input, or a steep low cut: its "
        "plucks "
        "say nothing then, and mostly show it",
    ),
    "compass": ErrorPrior(0.03, "a small compass turns its own pole over near a strong magnet"),
    "sideways string": ErrorPrior(
        0.005,
        "one string off the centre of the poles senses sideways motion with opposite signs at two pickups "
        "(about one job in a hundred in trials, and two pickups in each)",
    ),
    "sideways ringing": ErrorPrior(
        0.012,
        "the motion towards the body dies first, so a string that rings on through a switching moves "
        "sideways more often than a fresh pluck (of 360 simulated switch takes 4 were surely wrong)",
    ),
    "strings beside poles": ErrorPrior(
        0.004,
        "a neck or pickup that sits askew: all strings run beside the poles of one pickup, and plucks along "
        "the body turn its sign over; a guess, how the channels' ratio wanders tells more "
        "(dsp.methods.channel_ratio)",
    ),
    "one pickup twice": ErrorPrior(
        0.005,
        "one pickup on both inputs, or strong crosstalk, always looks in phase",
    ),
    "work": ErrorPrior(0.02, "a joint made other than written down"),
    "no work": ErrorPrior(0.005, "a pickup that was not to be touched came out turned over"),
    "inner joint": ErrorPrior(0.02, "the two coils of one pickup joined so that they oppose each other"),
    "coil's face": ErrorPrior(
        0.01,
        "the driven coil held with its other face down every time over one pickup",
    ),
    "inner winding": ErrorPrior(
        0.02,
        "the two coils of one pickup wound alike, or connected so: it does not cancel hum by itself",
    ),
    "settings": ErrorPrior(
        0.004,
        "a selector position that puts something else on the jack than the job says",
    ),
    "same setting twice": ErrorPrior(
        0.02,
        "the selector was not moved between two takes in turn, or two positions are one: that always looks "
        "in phase; how alike the harmonics are tells more (dsp.health.pickups)",
    ),
    "profile": ErrorPrior(
        0.02,
        "harmonics that follow no model: places far off, a hand that moved with the selector (about one job "
        "in a hundred in trials)",
    ),
    "clip lead": ErrorPrior(
        0.005,
        "a lead made up with the red clip on the sleeve: a guess, between 0.002 and 0.01; it stays so until "
        "somebody measures it, so everything that came through it is turned over",
    ),
    "held face down": ErrorPrior(
        0.002,
        "a loose pickup held over the strings with the wrong face to them, so that strings pushed to the "
        "body left it: a guess, since the session says how it is held",
    ),
    "other recorder": ErrorPrior(
        0.002,
        "takes that a person says came through one recorder, though their files differ: a guess, about a "
        "person's slip",
    ),
    "capacitive hum": ErrorPrior(
        0.03,
        "hum that comes in by capacitance or a ground loop ignores the winding and always looks wound alike",
    ),
    "field differs": ErrorPrior(
        0.01,
        "a guitar within a metre of a transformer: the field of a dipole points opposite ways on its two "
        "sides, so that it is turned over at one pickup in every take made at that place (a guess: two in a "
        "hundred benches for a pair)",
    ),
    "field differs everywhere": ErrorPrior(
        0.001,
        "the same after the guitar was moved: the source went with it, or the other place is none",
    ),
}
