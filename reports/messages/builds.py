"""What is said of pickups that are built, or joined, otherwise than was said; one sentence for each note.

Beside them the words, as cells and headlines have them, for pickups whose sign goes with the string, and for
a coil that hears none: one word for all strings is said only where they agree (reports.verdict.by_string).
"""

from __future__ import annotations

from shlex import quote
from typing import assert_never

from reports.model.build_notes import (
    AnyBuildNote,
    ExchangeHalf,
    HalvesOpposed,
    PerhapsStacked,
    SayBuild,
    StringsDiffer,
)
from reports.model.verdict import PairVerdict, SettingVerdict

STRINGS_DIFFER = "The sign goes with the string: they add on {} and oppose each other on {}."
BY_POLES = (
    " No exchange of leads mends that; it only exchanges the strings. What one method says alone is of the "
    "lowest string."
)
HALVES_OPPOSED = (
    "The halves are {probably}joined the wrong way: {0} on one side and {1} on the other have opposite signs "
    "at {on}. As it is, it also hums, and chords across the middle are thin."
)
EXCHANGE_HALF = (
    "Exchange the two leads of one half of {on}, {half}, where the halves are joined; leave the other."
)
THE_HALF = "the one under {}"
EITHER_HALF = "either one"
PERHAPS_STACKED = (
    "The compass reads alike over both coils of {}. Side by side they face opposite ways; one row of poles "
    "through two stacked coils cannot read otherwise."
)
SAY_BUILD = (
    "Look whether it has one row of poles for both coils. If so, enter it: coilwise unusual FOLDER --pickup "
    "{} --build stacked. If there are two rows, read the compass over each again."
)
BY_STRING = "OUT OF PHASE on {}, in phase on the others"
HUM_ALONE = "hum alone"
THIN_ON = "THIN on {}"


def build_sentence(note: AnyBuildNote) -> str:
    """The sentence for a note on how a pickup is built."""
    match note:
        case StringsDiffer():
            differ = STRINGS_DIFFER.format(", ".join(note.add), ", ".join(note.oppose))
            return differ + (BY_POLES if note.by_poles else "")
        case HalvesOpposed():
            each = (" and ".join(names) for names in note.under)
            return HALVES_OPPOSED.format(*each, on=note.pickup, probably="probably " if note.likely else "")
        case ExchangeHalf():
            half = EITHER_HALF if note.under is None else THE_HALF.format(" and ".join(note.under))
            return EXCHANGE_HALF.format(half=half, on=note.pickup)
        case PerhapsStacked():
            return PERHAPS_STACKED.format(note.pickup)
        case SayBuild():
            return SAY_BUILD.format(quote(note.pickup))
        case _:
            assert_never(note)


def differs(pair: PairVerdict) -> bool:
    """Whether one word cannot be said of a pair: its strings differ, or one of the two hears none."""
    return isinstance(pair.because, StringsDiffer) or pair.about == "hum"


def divided_label(pair: PairVerdict) -> str:
    """What is said of such a pair instead."""
    if isinstance(pair.because, StringsDiffer):
        return BY_STRING.format(", ".join(pair.because.oppose))
    return HUM_ALONE


def thin_on_some(setting: SettingVerdict) -> str:
    """On which strings a setting is thin, where it is full on others; nothing where all are alike."""
    thin = [row.string for row in setting.by_string if row.phase == "out of phase"]
    full = any(row.phase == "in phase" for row in setting.by_string)
    return THIN_ON.format(", ".join(thin)) if thin and full else ""
