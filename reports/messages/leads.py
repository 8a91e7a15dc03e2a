"""The wording of the plan, each sentence once.

Task: why a row says what it says, why aims cannot be met, what else is as good, and the proof in one line.

What limits work at a pickup's leads, and the warnings that a technician would give.

Task: shields and covers that are joined to a lead, fitted pickups, splits. Signs: none.

All sentences about readings in ohms, coils and how to join them.

Task: text alone; {} are pickups, leads, entry ids and numbers. Shapes: none. Units: k is kilohm, as on the
meter. Signs: none.
"""

from __future__ import annotations

from collections.abc import Sequence

from capture.job import Job, Pickup
from reports.model.plan import Demand, WiringChoices, WorkChoice, WorkPlace

IN_PHASE_AS_IS = "In phase with {} as it is."
EXCHANGE_WHY = "Out of phase with {} as it is wired now; exchanged, the two add up."
REFERENCE_WHY = "The reference: all others are compared with it."
WITH_REST_WHY = "Exchanged together with the rest, so that every setting does what it is meant to."
INSTEAD_WHY = (
    "Exchanged here and nowhere else, since that is less work than at the others: so every setting does what "
    "it is meant to."
)
TURN_WHY = "Its magnet turned, so that hum cancels and the strings still add up."
TURN_FOR_STRINGS_WHY = "Its magnet turned, so that the strings come out as they are meant to."
COILS_WHY = "The leads of coil {} exchanged by themselves, so that every setting does what it is meant to."
UNKNOWN_WHY = "Not settled: measure before you solder. {}"
APART_WHY = "Shares no setting with another pickup, so its leads do not matter to any of them."
OUT_WANTED_WHY = "Stays as it is: {} is meant to be out of phase."
TOGETHER_WHY = "In phase with {} once that is exchanged."

WITHOUT_QUIET = "The plan is for the strings alone."
NEAREST = "The nearest plan, which is not all that was wanted: {}. It gives up {}."
LESS_HUM = "A dearer plan keeps more of the quiet: {}. It gives up {}."
ALSO = "As little work: {}."
MORE_ALSO = "As little work in {} other ways besides."

ALONE_CANNOT = (
    'No exchange of leads makes "{}" {}; a magnet would have to be turned, or one of its pickups replaced.'
)
ODD_COILS = (
    'Hum cannot cancel in "{}": its coils cannot be paired off, so that one is always left over. Leave one '
    "out, or live with the hum."
)
TWO_CANNOT = (
    "{} and {} cannot both be met by exchanging leads. Give up one of them, or put a phase switch on one "
    "pickup."
)
SEVERAL_CANNOT = (
    "{} cannot all be met: an exchange turns a pickup over in all of them at once, so what mends one spoils "
    "another. Give up one of them, or put a phase switch on one pickup."
)
MAGNETS_FIXED = "The magnet of {} cannot be turned."


def work(places: Sequence[WorkPlace], plan: WiringChoices) -> str:
    """A plan in one phrase."""
    said = [_work_at(p.name, c) for p, c in zip(places, plan, strict=True) if not c.nothing]
    return "; ".join(said) or "leave everything as it is"


def _work_at(name: str, choice: WorkChoice) -> str:
    said = [f"exchange hot and ground of {name}"] if choice.exchange else []
    said += [f"exchange the leads of coil {k} of {name} alone" for k in choice.coils]
    said += [f"turn the magnet of {name}"] if choice.magnet else []
    return " and ".join(said)


def ties(places: Sequence[WorkPlace], others: Sequence[WiringChoices], *, count: int) -> tuple[str, ...]:
    """Other plans of the same cost, one sentence each; ``count`` of them in all."""
    said = [ALSO.format(work(places, plan)) for plan in others]
    more = count - len(others)
    return (*said, MORE_ALSO.format(more)) if more > 0 else tuple(said)


def wanted(demand: Demand) -> str:
    """What a demand asks for."""
    asked = ([] if demand.aim is None else [demand.aim]) + (["quiet"] if demand.quiet else [])
    return " and ".join(asked)


def clash(demands: Sequence[Demand], *, odd: bool, fixed: Sequence[str]) -> str:
    """Why a smallest set cannot be met; ``odd``: its coils do not pair; ``fixed``: magnets that stay."""
    named = [f'"{d.name}" ({wanted(d)})' for d in demands]
    if len(demands) == 1:
        if odd:
            return ODD_COILS.format(demands[0].name)
        said = ALONE_CANNOT.format(demands[0].name, wanted(demands[0]))
    elif len(demands) == len(("one", "other")):
        said = TWO_CANNOT.format(*named)
    else:
        said = SEVERAL_CANNOT.format(f"{', '.join(named[:-1])} and {named[-1]}")
    if fixed and any(d.quiet for d in demands):
        said += " " + MAGNETS_FIXED.format(" and of ".join(fixed))
    return said


SHIELD_ON_GROUND = (
    "The shield of {} is joined to its ground lead: separate it first, and put it to ground by itself. "
    "Otherwise it ends up on the hot side, hums, and mutes the guitar where it touches the strings."
)
BRAID_OPENED = (
    "{} has two leads, and its shield is one with the ground lead: a braid cannot simply be exchanged, or it "
    "is hot, hums, and mutes the guitar where it touches the strings. A technician has to open the pickup, "
    "take the coil's end off the braid inside and give it a lead of its own. If it is only a cover that is "
    "joined, separate it first and put it to ground by itself."
)
BRAID_STAYS = (
    "Do not exchange the leads of {} instead of the work at the others: it has two leads, and its shield is "
    "one with the ground lead."
)
SHIELD_UNKNOWN = (
    "It is not known whether the shield or cover of {} is joined to one of its leads: check with the meter "
    "before the leads are exchanged, and separate it if it is."
)
FITTED_GROUND = (
    "{} is fitted: look for a second path to ground (a cover, a plate, a common ground wire) "
    "before its leads are exchanged."
)
SPLIT_COIL = (
    "{} is split in {}: exchanging hot and ground also changes which coil is left there. "
    "The plan reckons with the other coil; check that its place under the strings is the one you want."
)


def braid_is_ground(pickup: Pickup) -> bool:
    """Whether the pickup has two leads of which the ground is shield as well, so that they cannot change."""
    return pickup.shield == "on ground" and pickup.link is None


def warnings_of_exchange(pickup: Pickup, job: Job, *, other_coil: bool) -> tuple[str, ...]:
    """What to mind when leads of a pickup are exchanged; ``other_coil``: a split leaves the other one."""
    said = []
    if braid_is_ground(pickup):
        said.append(BRAID_OPENED.format(pickup.name))
    elif pickup.shield == "on ground":
        said.append(SHIELD_ON_GROUND.format(pickup.name))
    elif pickup.shield is None:
        said.append(SHIELD_UNKNOWN.format(pickup.name))
    if pickup.fitted:
        said.append(FITTED_GROUND.format(pickup.name))
    split = [
        s.name for s in job.settings if any(m.pickup == pickup.name and m.coil is not None for m in s.on)
    ]
    if split and other_coil:
        said.append(SPLIT_COIL.format(pickup.name, ", ".join(f'"{s}"' for s in split)))
    return tuple(said)


def warnings_of_leaving(pickup: Pickup, *, others_exchanged: bool) -> tuple[str, ...]:
    """What to mind at a pickup that stays while another is exchanged."""
    return (BRAID_STAYS.format(pickup.name),) if others_exchanged and braid_is_ground(pickup) else ()


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
