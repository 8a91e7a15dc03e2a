"""How probable each latent error of a bench is, on what that rests, and how it varies with the person's care.

A latent error is a binary variable of the factor graph (index 1: it happened); the evidence that shares it is
turned over, or says nothing, together. So its prior bounds how sure one method can be.

Basis of a prior, with its number in tests/SOURCES.md: H1, selecting the wrong one of labelled, alike things,
0.003 a time; H2, not seeing that something before one is in the wrong state, 0.01; H3, dependence between two
acts of one person; H4, the share of failures of like parts that have one cause. "trials": counted on
simulated benches or real recordings; "guess": nobody counted, so it is varied more widely. ``low`` and
``high`` are the ends between which a study varies it (tests/studies/calibration).

Between two acts of one person moderate dependence is used (H3: (1 + 6 N) / 7, some .15 for a small N): a slip
that was made once is made again in the next clip-up in one case of seven. That is "clip habit". Exchanging
the clips on purpose is an act of another kind and shares no habit with the one before it.

A person's care multiplies every human error: `CARE_LEVELS`, with their priors.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from reports.model.notes import CareLevel, ErrorKind

PriorEnd = Literal["low", "usual", "high"]
Basis = Literal["H1", "H2", "H3", "H4", "trials", "guess"]

MOST = 0.5
"""However careless: an error that is likelier than not would be an act of its own."""


@dataclass(frozen=True)
class ErrorPrior:
    """The probability of one kind of error, its range, its basis and why; ``human``: it goes with care."""

    probability: float
    low: float
    high: float
    human: bool
    basis: Basis
    reason: str


ERROR_PRIORS: dict[ErrorKind, ErrorPrior] = {
    "clips": ErrorPrior(
        0.01,
        0.003,
        0.02,
        True,
        "H2",
        "tip and sleeve clip exchanged on loose leads and not seen",
    ),
    "clip habit": ErrorPrior(
        0.0015,
        0.0005,
        0.003,
        True,
        "H3",
        "the same exchange in each clip-up, of the meter too: the slip of one clip-up (0.01) with moderate "
        "dependence (0.15)",
    ),
    "one clip-up for both": ErrorPrior(
        0.003,
        0.001,
        0.006,
        True,
        "guess",
        "the meter hung on the clips of the audio lead, so that both share a slip (0.01, in one job of "
        "three)",
    ),
    "colours": ErrorPrior(
        0.0015,
        0.0005,
        0.003,
        True,
        "H1",
        "the one lead taken for the other each time (0.003), and not so again when it is soldered (one in "
        "two: "
        "high dependence)",
    ),
    "meter leads": ErrorPrior(
        0.01, 0.003, 0.02, True, "H2", "red and black exchanged at the leads or in the meter's sockets"
    ),
    "misread swing": ErrorPrior(
        0.015, 0.01, 0.03, True, "H2", "a swing seen the wrong way on a slow or auto-ranging meter"
    ),
    "turned stroke": ErrorPrior(0.05, 0.02, 0.1, True, "trials", "a single pluck struck the other way"),
    "turned press": ErrorPrior(
        0.02, 0.01, 0.05, True, "guess", "a press has a direction of its own, so it is turned more rarely"
    ),
    "tag": ErrorPrior(
        0.001,
        0.0005,
        0.003,
        True,
        "H1",
        "the tag put on the lead under the other clip: less than one of several like things taken for "
        "another, since tip and sleeve clip differ and are still on when it goes on",
    ),
    "clip-up not said": ErrorPrior(
        0.001,
        0.0003,
        0.002,
        True,
        "guess",
        "the clips came off and went on again the other way round within what a tag seals, and nobody said "
        "so: a clip-up not said (0.1, assumed) times clips exchanged",
    ),
    "hand": ErrorPrior(
        0.005,
        0.002,
        0.01,
        True,
        "H2",
        "every pluck, or every press, of one setting the other way: the hand turned when the selector was "
        "moved",
    ),
    "hand throughout": ErrorPrior(
        0.008,
        0.003,
        0.015,
        True,
        "H3",
        "the same hand, or a second person, the other way in plucks and presses of one pickup alike: high "
        "dependence between two acts of one hand",
    ),
    "magnetised tool": ErrorPrior(
        0.02,
        0.005,
        0.04,
        False,
        "guess",
        "one driver in five is a magnet, and in one pickup of ten its pole outdoes the pole piece's (some "
        "fifty "
        "oersted against hundreds, from memory), so that it shows the winding and not the sign",
    ),
    "magnetised drawer": ErrorPrior(
        0.012,
        0.003,
        0.025,
        False,
        "H4",
        "the tools of one drawer lay on one magnet: like parts kept together share more causes than the "
        "usual "
        "tenth",
    ),
    "channels": ErrorPrior(
        0.03,
        0.01,
        0.06,
        False,
        "guess",
        "one input of a pair inverts: a balanced adapter, a box wired the other way",
    ),
    "late input": ErrorPrior(
        0.01,
        0.003,
        0.02,
        False,
        "guess",
        "two boxes joined by the computer, a wireless link or a pedal on one input, or a steep low cut: its "
        "plucks say nothing then, and mostly show it",
    ),
    "compass": ErrorPrior(
        0.03, 0.01, 0.06, False, "guess", "a small compass turns its own pole over near a strong magnet"
    ),
    "sideways string": ErrorPrior(
        0.005,
        0.002,
        0.01,
        False,
        "trials",
        "one string off the centre of the poles senses sideways motion with opposite signs at two pickups "
        "(about one job in a hundred in trials, and two pickups in each)",
    ),
    "sideways ringing": ErrorPrior(
        0.012,
        0.005,
        0.02,
        False,
        "trials",
        "the motion towards the body dies first, so a string that rings on through a switching moves "
        "sideways more often than a fresh pluck (of 360 simulated switch takes 4 were surely wrong)",
    ),
    "poles alternate": ErrorPrior(
        0.003,
        0.001,
        0.006,
        False,
        "guess",
        "a pickup whose magnets face up and down by turns: each second string has the other sign",
    ),
    "halves opposed": ErrorPrior(
        0.003,
        0.001,
        0.006,
        False,
        "guess",
        "a bass pickup in two halves of two strings each, joined so that they oppose each other",
    ),
    "strings beside poles": ErrorPrior(
        0.004,
        0.002,
        0.008,
        False,
        "guess",
        "a neck or pickup that sits askew: all strings run beside the poles of one pickup, and plucks along "
        "the body turn its sign over; how the channels' ratio wanders tells more (dsp.methods.channel_ratio)",
    ),
    "one pickup twice": ErrorPrior(
        0.005,
        0.002,
        0.01,
        True,
        "H1",
        "one pickup on both inputs, or strong crosstalk, always looks in phase",
    ),
    "channels misplaced": ErrorPrior(
        0.004,
        0.002,
        0.008,
        True,
        "guess",
        "pan knobs, a mixer or wiring put some of each pickup on the other's input, or the coils within one "
        "oppose each other; whether the partials go with the places tells more (dsp.methods.channel_ratio)",
    ),
    "work": ErrorPrior(0.02, 0.01, 0.04, True, "H2", "a joint made other than written down"),
    "no work": ErrorPrior(
        0.005, 0.002, 0.01, True, "H1", "a pickup that was not to be touched came out turned over"
    ),
    "work not entered": ErrorPrior(
        0.02,
        0.01,
        0.05,
        True,
        "H2",
        "leads were exchanged and no change at all was entered: an omission that nothing asks about",
    ),
    "unnamed change": ErrorPrior(
        0.03,
        0.01,
        0.06,
        True,
        "guess",
        "a change that names leads for the first time gave them names and exchanged nothing",
    ),
    "inner joint": ErrorPrior(
        0.02,
        0.01,
        0.04,
        False,
        "guess",
        "the two coils of one pickup joined so that they oppose each other",
    ),
    "coil's face": ErrorPrior(
        0.01,
        0.003,
        0.02,
        True,
        "H2",
        "the driven coil held with its other face down every time over one pickup",
    ),
    "inner winding": ErrorPrior(
        0.02,
        0.01,
        0.04,
        False,
        "guess",
        "the two coils of one pickup wound alike, or connected so: it does not cancel hum by itself",
    ),
    "selector list": ErrorPrior(
        0.004,
        0.002,
        0.008,
        True,
        "H1",
        "the list of the selector wrong as a whole: from the wrong end, one position off, a pickup that is "
        "not connected; a wrong choice among alike controls is 0.003 a time",
    ),
    "settings": ErrorPrior(
        0.0015,
        0.0005,
        0.003,
        False,
        "guess",
        "one position of the selector that puts something else on the jack than the job says: with the list "
        "as a whole a little more than one wrong choice among alike controls",
    ),
    "pickup names": ErrorPrior(
        0.002,
        0.001,
        0.004,
        True,
        "H1",
        "two of three or more pickups taken for each other throughout: less than one wrong choice among "
        "alike things (0.003), since pickups are seen",
    ),
    "same setting twice": ErrorPrior(
        0.02,
        0.01,
        0.04,
        True,
        "H2",
        "the selector was not moved between two takes in turn, or two positions are one: that always looks "
        "in phase; how alike the harmonics are tells more (dsp.health.pickups)",
    ),
    "profile": ErrorPrior(
        0.02,
        0.01,
        0.04,
        False,
        "trials",
        "harmonics that follow no model: places far off, a hand that moved with the selector (about one job "
        "in a hundred in trials)",
    ),
    "clip lead": ErrorPrior(
        0.005,
        0.002,
        0.01,
        False,
        "guess",
        "a lead made up with the red clip on the sleeve: a guess, between 0.002 and 0.01; it stays so until "
        "somebody measures it, so everything that came through it is turned over",
    ),
    "late path": ErrorPrior(
        0.3,
        0.1,
        0.5,
        False,
        "guess",
        "what makes one pickup late, a link or a pedal, is an active stage and may invert: high, since "
        "nothing was heard on both sides of it",
    ),
    "held over the strings": ErrorPrior(
        0.002,
        0.001,
        0.005,
        True,
        "H1",
        "a loose pickup held over the strings from above, so that strings pushed to the body leave it: a "
        "guess, for somebody who was told to hold it under them",
    ),
    "other recorder": ErrorPrior(
        0.002,
        0.001,
        0.01,
        False,
        "guess",
        "takes that a person says came through one recorder, though their files differ: a guess, about a "
        "person's slip",
    ),
    "shelf coil": ErrorPrior(
        0.01,
        0.003,
        0.02,
        False,
        "guess",
        "what another job found of a pickup and the reference coil does not hold here; how probable that is "
        "goes with what that job left open, and with age (reports.evidence.shelf), this only as its scale",
    ),
    "capacitive hum": ErrorPrior(
        0.03,
        0.01,
        0.06,
        False,
        "guess",
        "hum that comes in by capacitance or a ground loop ignores the winding and always looks wound alike",
    ),
    "field differs": ErrorPrior(
        0.01,
        0.003,
        0.03,
        False,
        "guess",
        "a guitar within a metre of a transformer: the field of a dipole points opposite ways on its two "
        "sides, so that it is turned over at one pickup in every take made at that place (a guess: two in a "
        "hundred benches for a pair)",
    ),
    "field differs everywhere": ErrorPrior(
        0.001,
        0.0003,
        0.003,
        False,
        "H4",
        "the same after the guitar was moved: the source went with it, or the other place is none",
    ),
    "hum levels": ErrorPrior(
        0.02,
        0.005,
        0.05,
        False,
        "guess",
        "something else than the windings made a setting louder or softer each time, in every round and at "
        "every place: a hand that lies on the strings then, a heater (how often at one place is in "
        "dsp.methods.hum_windings)",
    ),
}


# ---- care -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class CarePrior:
    """How often human errors happen at this care, against the usual; how many benches are so."""

    times: float
    probability: float


CARE_LEVELS: dict[CareLevel, CarePrior] = {
    "careful": CarePrior(0.4, 0.2),
    "usual": CarePrior(1.0, 0.7),
    "careless": CarePrior(8.0, 0.1),
}
"""How people at benches differ; a guess: nobody counted, and studies vary it tenfold."""


SINGLE_ERRORS: tuple[ErrorKind, ...] = ("turned stroke", "turned press")
"""Errors of single events, which are summed out event by event and are no variables of the graph."""


def usual_care() -> dict[CareLevel, float]:
    """How probable each level of care is at a bench of which nothing is known."""
    return {level: prior.probability for level, prior in CARE_LEVELS.items()}


@dataclass(frozen=True)
class KnownCare:
    """How probable each level of care is before a job, and how many earlier jobs say so (0: the usual)."""

    prior: Mapping[CareLevel, float] = field(default_factory=usual_care)
    from_jobs: int = 0


NOTHING_KNOWN = KnownCare()
"""A bench of which nothing is known."""


@dataclass(frozen=True)
class ErrorRates:
    """The priors in use: at what care, and which kinds are taken for likelier by ``factor``.

    ``raised`` None raises all of them; ``end`` takes every prior at an end of its range, for studies.
    """

    care: CareLevel = "usual"
    factor: float = 1.0
    raised: frozenset[ErrorKind] | None = frozenset()
    end: PriorEnd = "usual"

    def of(self, kind: ErrorKind) -> float:
        """The probability of an error of this kind."""
        prior = ERROR_PRIORS[kind]
        usual = {"low": prior.low, "usual": prior.probability, "high": prior.high}[self.end]
        p = usual * (CARE_LEVELS[self.care].times if prior.human else 1.0)
        return min(MOST, p * (self.factor if self.raised is None or kind in self.raised else 1.0))


USUAL = ErrorRates()
DOUBLED = 2.0
ALL_DOUBLED = ErrorRates(factor=DOUBLED, raised=None)


def one_doubled(kind: ErrorKind) -> ErrorRates:
    """The usual priors, and this one twice as large."""
    return ErrorRates(factor=DOUBLED, raised=frozenset((kind,)))


def at_care(level: CareLevel) -> ErrorRates:
    """The priors at this care."""
    return ErrorRates(care=level)
