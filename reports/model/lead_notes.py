"""Judgement on leads, coils, readings in ohms and the wiring plan, as codes with typed parameters.

reports.messages.leads has the sentence of each. Leads are named as they are in the job or the log,
resistances are kilo-ohm, ``entry`` is the id of a log entry.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from capture.job import Aim
from reports.model.notes import Note
from reports.model.plan import Demand, PickupWork

LeadPair = tuple[str, str]
NamedWork = tuple[str, PickupWork]
"""A pickup with the work at it."""

PlanReasonCode = Literal[
    "not settled",
    "of the shelf",
    "shares no setting",
    "is the reference",
    "in phase",
    "in phase once the reference is exchanged",
    "out of phase wanted",
    "reversed in a setting",
    "in phase with others",
    "waits for others",
    "waits in its setting",
    "magnet turned for hum",
    "magnet turned for strings",
    "coils exchanged",
    "exchanged",
    "exchanged with others",
    "exchanged instead of others",
    "half exchanged",
    "exchanged for hum",
    "quiet as it is",
    "hum not known",
]


@dataclass(frozen=True)
class PlanReason(Note):
    """Why the plan has a pickup left, exchanged or turned; ``request``: what to measure if not settled.

    ``others`` share a setting with it: of "waits for others" those that are not settled. ``settings``: those
    that want it so, or that have it reversed.
    """

    code: PlanReasonCode
    pickup: str
    reference: str
    coils: tuple[int, ...] = ()
    request: Note | None = None
    others: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()


LeadWarningCode = Literal[
    "braid is ground",
    "braid stays",
    "shield on ground",
    "shield unknown",
    "fitted",
    "other coil of a split",
    "go by the tag",
    "leads as read",
]


@dataclass(frozen=True)
class LeadWarning(Note):
    """What a technician would mind at the leads of a pickup; ``settings``: those that split it.

    ``take``: the one in which the tagged lead was under the tip's clip; ``read_as``: what it was called then.
    """

    code: LeadWarningCode
    pickup: str
    settings: tuple[str, ...] = ()
    take: str = ""
    read_as: str = ""


@dataclass(frozen=True)
class SettingProof(Note):
    """What a plan makes of one setting.

    ``phase`` and ``aim`` are None where nothing has to add up; ``changed``: work is done at a pickup of it;
    ``windings``: the sign of each coil's winding, where all of them compare.
    """

    setting: str
    pickups: tuple[str, ...]
    phase: Aim | None
    aim: Aim | None
    changed: bool
    hum_cancels: bool | None
    quiet_wanted: bool
    windings: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class SettingNotSettled(Note):
    """A setting of which nothing is promised."""

    setting: str


@dataclass(frozen=True)
class EqualPlan(Note):
    """Another plan of the same cost."""

    work: tuple[NamedWork, ...]


@dataclass(frozen=True)
class MoreEqualPlans(Note):
    """How many plans of the same cost there are besides those named."""

    count: int


@dataclass(frozen=True)
class CompromisePlan(Note):
    """A plan that misses least where not all demands can be met: of the aims, or (``quieter``) of the quiet.

    ``missed``: settings with what they do not get.
    """

    work: tuple[NamedWork, ...]
    missed: tuple[tuple[str, Aim | Literal["quiet"]], ...]
    quieter: bool = False


@dataclass(frozen=True)
class DemandsConflict(Note):
    """A smallest set of demands that no plan meets together.

    ``odd_coils``: its one setting has a coil left over that always hums; ``fixed_magnets``: pickups in it
    whose magnets cannot be turned; ``strings_planned``: the plan is for the strings alone. ``by_poles``: the
    poles of its pickups stand otherwise from string to string.
    """

    demands: tuple[Demand, ...]
    odd_coils: bool
    fixed_magnets: tuple[str, ...]
    strings_planned: bool
    by_poles: bool = False


@dataclass(frozen=True)
class PlanWithheld(Note):
    """Nothing is planned while ``code`` stands."""

    code: Literal["recordings lost", "work contradicted", "list contradicted"]


@dataclass(frozen=True)
class CoilJoint(Note):
    """How two coils belong together: their like ends, and (unless ``chain`` is None) how they are joined.

    ``chain``: hot, the two inner ends, ground; ``inside``: the inner ends are joined inside the pickup.
    ``reference``: the pickup that this is in phase with; None for the reference itself. ``stacked``: they lie
    one above the other, and are joined so that hum cancels.
    """

    like_ends: LeadPair
    chain: tuple[str, str, str, str] | None = None
    inside: bool = False
    reference: str | None = None
    stacked: bool = False


JointAdviceCode = Literal[
    "hum not known",
    "stack is quiet",
    "if stacked",
    "in parallel",
    "link to ground",
    "link to hot",
    "shield to ground",
    "shield on another lead",
    "shield makes ground",
]


@dataclass(frozen=True)
class JointAdvice(Note):
    """What else can be made of two coils, and what to beware of."""

    code: JointAdviceCode
    leads: tuple[str, ...] = ()


LeadRequestCode = Literal[
    "measure a pair",
    "measure the coils",
    "record lifts",
    "more lifts on both coils",
    "more lifts on one coil",
    "coils oppose inside",
    "stack hums inside",
    "stacked or side by side",
    "one coil softer",
    "how coils lie",
    "which coil is above",
]


@dataclass(frozen=True)
class LeadRequest(Note):
    """What is missing to know the leads of a pickup.

    ``coils``: the ends of those to be recorded, the tip's first; ``reference``: the pickup to record as well.
    Of coils that may be stacked, ``coils`` are the softer one and the louder.
    Of coils that oppose each other, ``coils`` are both, and ``joint`` the lead at which they are joined.
    """

    code: LeadRequestCode
    pickup: str
    coils: tuple[LeadPair, ...] = ()
    reference: str | None = None
    joint: str | None = None


OhmsConflictCode = Literal["cannot all be true", "probably wrong", "one is wrong", "too many leads"]


@dataclass(frozen=True)
class OhmsConflict(Note):
    """Readings in ohms of one pickup that contradict each other.

    ``leads`` and ``kohm`` (None: open) are those of the one entry that is probably wrong.
    """

    code: OhmsConflictCode
    pickup: str
    entries: tuple[str, ...] = ()
    leads: tuple[str, ...] = ()
    kohm: float | None = None
    lead_count: int = 0
    most_leads: int = 0


OhmsRemarkCode = Literal[
    "hands on the clips",
    "still open",
    "two leads alone",
    "no path",
    "on no coil",
    "leads joined",
    "shield on a lead",
    "shield not measured",
    "tapped",
    "coil count differs",
    "typed in ohms",
    "open coil",
    "open against the swing",
    "shorted coil",
    "partly shorted coil",
    "meter range",
    "hands off",
]


@dataclass(frozen=True)
class OhmsRemark(Note):
    """What is worth knowing of readings in ohms.

    ``kohm`` is what was read (of "open against the swing" at rest, in ``entry``); of a meter range the range
    itself, the next below and the next above (None where there is none). ``coils``: how many job.toml has,
    and how many the readings show. ``joint``: leads that are one point of a tapped pickup.
    """

    code: OhmsRemarkCode
    pickup: str
    leads: tuple[str, ...] = ()
    kohm: tuple[float | None, ...] = ()
    entry: str = ""
    coils: tuple[int, int] = (0, 0)
    joint: tuple[str, ...] = ()


JackReadingCode = Literal[
    "as expected",
    "open",
    "short",
    "pickup missing",
    "volume pot alone",
    "low",
    "low by hands",
    "typed in ohms",
    "high",
    "high alone",
]


@dataclass(frozen=True)
class JackReading(Note):
    """What a reading at the jack means; ``read_kohm`` None is open.

    ``missing``: pickups whose absence explains it, any one of them. "high alone": no pickup can be missing.
    """

    code: JackReadingCode
    expected_kohm: float
    read_kohm: float | None
    missing: tuple[str, ...] = ()


AnyLeadNote = (
    PlanReason
    | LeadWarning
    | SettingProof
    | SettingNotSettled
    | EqualPlan
    | MoreEqualPlans
    | CompromisePlan
    | DemandsConflict
    | PlanWithheld
    | CoilJoint
    | JointAdvice
    | LeadRequest
    | OhmsConflict
    | OhmsRemark
    | JackReading
)
