"""The wording of the plan, each sentence once.

Task: why a row says what it says, why aims cannot be met, what else is as good, and the proof in one line.
"""

from __future__ import annotations

from collections.abc import Sequence

from reports.planning.model import Choice, Demand, Place, Plan

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


def work(places: Sequence[Place], plan: Plan) -> str:
    """A plan in one phrase."""
    said = [_work_at(p.name, c) for p, c in zip(places, plan, strict=True) if not c.nothing]
    return "; ".join(said) or "leave everything as it is"


def _work_at(name: str, choice: Choice) -> str:
    said = [f"exchange hot and ground of {name}"] if choice.exchange else []
    said += [f"exchange the leads of coil {k} of {name} alone" for k in choice.coils]
    said += [f"turn the magnet of {name}"] if choice.magnet else []
    return " and ".join(said)


def ties(places: Sequence[Place], others: Sequence[Plan], *, count: int) -> tuple[str, ...]:
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
