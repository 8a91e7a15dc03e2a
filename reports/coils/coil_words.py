"""All sentences about readings in ohms, coils and how to join them.

Task: text alone; {} are pickups, leads, entry ids and numbers. Shapes: none. Units: k is kilohm, as on the
meter. Signs: none.
"""

from __future__ import annotations

MEASURE = "Measure {} to {}."
CANNOT_ALL = "{} cannot all be true of {}."
PROBABLY_WRONG = (
    "{} ({} to {}: {}) is most probably wrong; measure {} to {} once more, and void {} if it reads otherwise."
)
ONE_IS_WRONG = "One of {} is wrong; measure each of these again, hands off the clips."
STILL_OPEN = "Every pair of leads of {} is measured, and more than one reading of it is left."
OPEN = "open"
KOHM = "{:g} k"

ONLY_TWO = "Two leads alone: whether there are two coils between {} and {}, joined inside, no ohmmeter tells."
NO_PATH = (
    "No coil was found on {}: either it is open, or the clip did not bite. Scrape the lead and measure again."
)
SHIELD_ELSEWHERE = (
    "{} is on no coil: a shield or cover under another name, an open coil, or a lead whose partner is not "
    "measured yet. Treat it as a shield, not as an end of a coil, until that is known."
)
LEADS_JOINED = (
    "{} are joined to each other: one may be the shield. Part them before anything is recorded on one coil, "
    "or know that it stays so."
)
SHIELD_ON = "The shield is joined to {}: that lead goes to ground, or part the two first."
SHIELD_NOT_MEASURED = (
    "It is not known whether the shield or cover lies on a lead: measure shield to {} as well, open or not."
)
TAPPED = (
    "{} reads the sum of the other two: three leads, joined inside at {}. One coil with a tap, or two coils "
    "with a common joint; the ohmmeter does not tell which."
)
COILS_DIFFER = "job.toml gives {} {} coil(s), and the readings show {}: put that right in job.toml."
DUMMY = (
    "A coil without a magnet reads like any other: the ohmmeter does not tell which of the two is the dummy. "
    "A lift over each does: the dummy answers weakly or not at all."
)
TOO_MANY_LEADS = (
    "{} has {} leads in the log, more than {}: check the colours, and void readings of another pickup."
)

FINGERS = (
    "{}: {:g} k between {} and {} is no coil, it is your fingers on the clips: read as open. Measure again "
    "with hands off."
)
TYPED_IN_OHMS = (
    "{}: {:g} k is no coil; did you mean {:g} (kilo-ohm)? If it really is {:g} M, it is your fingers."
)
OPEN_COIL = "The coil of {} between {} and {} is open: a broken wire or a bad joint at its leads."
SHORTED = "The coil of {} between {} and {} reads {:g} k: it is shorted, or its two leads touch."
PARTLY_SHORTED = (
    "The coil of {} between {} and {} reads {:g} k, its twin {:g} k: part of it may be shorted, or the two "
    "are meant to differ. Compare with what its maker states."
)
HANDS_OFF = "With a hand on each clip {:.4g} k would read about {:.4g} k: let go of the clips."
RANGE = "On a meter that is set by hand use the {:g} k range{}{}."
OVER_RANGE = "; {:g} k reads over-range"
LOSES_DIGITS = "; {:g} k loses digits"

JACK_AS_EXPECTED = "{:.3g} k was read at the jack and {:.3g} k expected: as it should be."
JACK_OPEN = (
    "The jack reads open where {:.3g} k was expected: a broken joint on the way to the jack, or the wrong "
    "plug contact."
)
JACK_SHORT = (
    "The jack reads {:.3g} k where {:.3g} k was expected: a short, or the volume is down. Turn it full up "
    "and measure again."
)
JACK_MISSING = "{:.3g} k was read and {:.3g} k expected: that is what it reads without {}. Check its joints."
JACK_POT_ALONE = (
    "{:.3g} k is the volume pot alone, where {:.3g} k was expected: no pickup reaches the jack, or a coil is "
    "open."
)
JACK_LOW = (
    "{:.3g} k was read and {:.3g} k expected: the volume is not full up, a coil is partly shorted, or "
    "another pickup is on as well."
)
JACK_HANDS = (
    "{:.3g} k was read and {:.3g} k expected: that is what hands across the clips take off. Measure with "
    "hands off."
)
JACK_IN_OHMS = (
    "{0:g} k is no reading of pickups; did you mean {1:g} k ({0:g} ohm)? Then it is as it should be."
)
JACK_HIGH_ALONE = (
    "{:.3g} k was read and {:.3g} k expected: the volume is not full up, or a joint or the coil is bad."
)
JACK_HIGH = (
    "{:.3g} k was read and {:.3g} k expected: the volume is not full up, one pickup is missing, or a coil "
    "or joint is bad."
)

LIKE_ENDS = "{} and {} are like ends: on a lift both coils go the same way with these on the tip."
SERIES = "Join {} and {}; {} is hot, {} is ground: so both coils add on the strings"
JOINED_INSIDE = "{0} joins them inside; {2} is hot, {3} is ground: so both coils add on the strings"
WITH_REFERENCE = ", in phase with {}."
FREE = "; it is the pickup that the others are compared with, so this way round is as good as the other."
HUM_UNKNOWN = "Hum cancels as well if their magnets face opposite ways: hold a compass over each coil."
PARALLEL = "In parallel instead: {} and {} together are hot, {} and {} together are ground."
SPLIT_TO_GROUND = "Link to ground leaves the coil of {} and {}."
SPLIT_TO_HOT = "Link to hot leaves the coil of {} and {}."
SHIELD_TO_GROUND = "The shield goes to ground, whichever lead that is."
SHIELD_ON_WRONG_LEAD = (
    "The shield lies on {}, which would not be ground: part the two first, or it ends up on the hot side."
)
SHIELD_MADE_GROUND = "The shield lies on {}, so that lead is ground and this coil is the one at ground."
OPPOSED_INSIDE = (
    "Inside {} the two coils are joined at {} so that they oppose each other between {} and {}: use them in "
    "parallel, {} and {} together against {}, or have the joint parted."
)
NO_COILS = "No coil of {} is known yet: measure between its leads, two at a time, with the ohmmeter."
RECORD_COIL = (
    "Record three lifts on the coil of {} with {} on the tip and {} on the sleeve, over the poles that "
    "answer."
)
RECORD_REFERENCE = "Record three lifts on {} on the same input, with the same tool."
MORE_OF_BOTH = (
    "The lifts on the two coils of {} lean too little to either side: unclip, read the colours anew, and "
    "record two more on each."
)
MORE_OF_COIL = (
    "The lifts on the coil of {} between {} and {} lean too little to either side: unclip, read the colours "
    "anew, and record two more."
)


def both(leads: tuple[str, ...] | list[str]) -> str:
    """Names with "and" before the last."""
    return leads[0] if len(leads) == 1 else f"{', '.join(leads[:-1])} and {leads[-1]}"
