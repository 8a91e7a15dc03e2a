"""The wiring plan: the cheapest set of exchanges that gives every setting what it is meant to do.

Task: from the signs as believed to one row a pickup: exchange hot and ground or not, turn the magnet or
not, lead by lead. Signs: exchanging turns ``s`` and ``w``, turning the magnet turns ``s`` alone
(dsp/signs.py). Costs are of the work, in no unit: they only rank plans.

The search is exact over all combinations. Nothing is planned where a pair that shares a setting is
unsettled: then the row says so. An aim that cannot be met empties the plan and gives the reason.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from capture.job import Job, Member, Pickup, Setting
from reports.verdict import WiringRow
from reports.wires import Wires

EXCHANGE_LOOSE = 1.0
EXCHANGE_FITTED = 3.0
"""A fitted pickup has to be unsoldered first."""
TURN_MAGNET = 5.0
REFERENCE_EXTRA = 0.5
"""Of two equal plans the one that leaves the reference alone."""

ALL_TOGETHER = "all pickups together"

IN_PHASE_AS_IS = "In phase with {} as it is."
EXCHANGE_WHY = "Out of phase with {} as it is wired now; exchanged, the two add up."
REFERENCE_WHY = "The reference: all others are compared with it."
WITH_REST_WHY = "Exchanged together with the rest, so that every setting does what it is meant to."
TURN_WHY = "Its magnet turned, so that hum cancels and the strings still add up."
UNKNOWN_WHY = "Not settled: measure before you solder. {}"
APART_WHY = "Shares no setting with another pickup, so its leads do not matter to any of them."
OUT_WANTED_WHY = "Stays as it is: {} is meant to be out of phase."

WITHOUT_QUIET = "The plan is for the strings alone."
TOGETHER_WHY = "In phase with {} once that is exchanged."

SHIELD_ON_GROUND = (
    "The shield of {} is joined to its ground lead: separate it first, and put it to ground by itself. "
    "Otherwise it ends up on the hot side, hums, and mutes the guitar where it touches the strings."
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
    "Check that it is the one you want."
)


@dataclass(frozen=True)
class Plan:
    """The rows, or none and the reason; rows and a reason where hum that was to cancel cannot."""

    rows: tuple[WiringRow, ...]
    reason: str = ""


@dataclass(frozen=True)
class SignsNow:
    """What is believed: ``s`` and ``w`` relative to the first pickup of the ``group``.

    Between groups nothing is known; None where a winding is not at least likely.
    """

    s: Mapping[str, int | None]
    w: Mapping[str, int | None]
    group: Mapping[str, str]

    def not_joined(self, settings: Sequence[Setting], *, reference: str) -> set[str]:
        """Pickups that share a setting with one of another group, those of the reference's group left out."""
        return {
            m.pickup
            for setting in settings
            if len({self.group[m.pickup] for m in setting.on}) > 1
            for m in setting.on
            if self.group[m.pickup] != self.group[reference]
        }


def wiring_plan(job: Job, wires: Wires, signs: SignsNow, *, ask: Mapping[str, str]) -> Plan:
    """The plan for a job; ``ask`` says for each pickup what to measure where its sign is not known."""
    combined = _combined(job)
    used = {m.pickup for setting in combined for m in setting.on}
    unknown = signs.not_joined(combined, reference=job.reference.name)
    open_settings = [s for s in combined if any(m.pickup in unknown for m in s.on)]
    closed = [s for s in combined if s not in open_settings]
    best, reason = _cheapest(job, closed, signs, unknown=unknown), ""
    if best is None:
        reason = _why_not(job, closed, signs, unknown=unknown)
        loud = [s.model_copy(update={"quiet": False}) for s in closed]
        best = _cheapest(job, loud, signs, unknown=unknown)
        if best is None:
            return Plan((), reason)
        reason = f"{reason} {WITHOUT_QUIET}"
    rows = tuple(_row(p, job, wires, signs, best, used=used, unknown=unknown, ask=ask) for p in job.pickups)
    return Plan(rows, reason)


def _combined(job: Job) -> list[Setting]:
    """Settings that join pickups; with none listed, all pickups are to be in phase."""
    if not job.settings:
        members = tuple(Member(pickup=p.name) for p in job.pickups)
        return [Setting(name=ALL_TOGETHER, on=members)] if len(members) > 1 else []
    return [s for s in job.settings if len({m.pickup for m in s.on}) > 1]


Step = dict[str, tuple[bool, bool]]
"""For each pickup: exchange hot and ground, turn the magnet."""


def _steps(job: Job, unknown: set[str]) -> Iterator[tuple[float, Step]]:
    choices = []
    for p in job.pickups:
        if p.name in unknown:
            choices.append([(0.0, (False, False))])
            continue
        exchange = EXCHANGE_FITTED if p.fitted else EXCHANGE_LOOSE
        exchange += REFERENCE_EXTRA if p.name == job.reference.name else 0.0
        turns = (False, True) if p.turnable else (False,)
        choices.append([(exchange * e + TURN_MAGNET * t, (e, t)) for e in (False, True) for t in turns])
    for chosen in product(*choices):
        yield (
            sum(cost for cost, _ in chosen),
            {p.name: step for p, (_, step) in zip(job.pickups, chosen, strict=True)},
        )


def _cheapest(job: Job, settings: list[Setting], signs: SignsNow, *, unknown: set[str]) -> Step | None:
    best: tuple[float, Step] | None = None
    for cost, step in _steps(job, unknown):
        if (best is None or cost < best[0]) and all(_met(s, signs, step) for s in settings):
            best = (cost, step)
    return None if best is None else best[1]


def _met(setting: Setting, signs: SignsNow, step: Step) -> bool:
    each = [_after(m, signs.s[m.pickup] or 1, step) for m in setting.on]
    if (len(set(each)) == 1) != (setting.aim == "in phase"):
        return False
    if not setting.quiet:
        return True
    windings = [signs.w[m.pickup] for m in setting.on]
    if any(w is None for w in windings):
        return True
    return sum(_after(m, w or 1, step, winding=True) for m, w in zip(setting.on, windings, strict=True)) == 0


def _after(member: Member, sign: int, step: Step, *, winding: bool = False) -> int:
    exchange, magnet = step[member.pickup]
    turned = exchange + member.reversed + (magnet and not winding)
    return -sign if turned % 2 else sign


def _why_not(job: Job, settings: list[Setting], signs: SignsNow, *, unknown: set[str]) -> str:
    """The settings that no exchange satisfies together, in the fewest names."""
    for setting in settings:
        if _cheapest(job, [setting], signs, unknown=unknown) is None:
            wanted = f"{setting.aim} and quiet" if setting.quiet else setting.aim
            return (
                f'No exchange of leads makes "{setting.name}" {wanted}; a magnet would have to be turned, or '
                "one of its pickups replaced."
            )
    for i, one in enumerate(settings):
        for other in settings[i + 1 :]:
            if _cheapest(job, [one, other], signs, unknown=unknown) is None:
                return (
                    f'"{one.name}" ({one.aim}) and "{other.name}" ({other.aim}) cannot both be met by '
                    "exchanging leads. Give up one of them, or put a phase switch on one pickup."
                )
    names = ", ".join(f'"{s.name}"' for s in settings)
    return f"{names} cannot all be met by exchanging leads. Give up one of them."


def _row(
    pickup: Pickup,
    job: Job,
    wires: Wires,
    signs: SignsNow,
    step: Step,
    *,
    used: set[str],
    unknown: set[str],
    ask: Mapping[str, str],
) -> WiringRow:
    name, reference = pickup.name, job.reference.name
    if name in unknown and name != reference:
        return WiringRow(pickup=name, exchange=None, why=UNKNOWN_WHY.format(ask.get(name, "")).strip())
    exchange, magnet = step[name]
    return WiringRow(
        pickup=name,
        exchange=exchange if name in used or signs.s[name] is not None else None,
        turn_magnet=magnet,
        leads=_leads(pickup, wires, exchange=exchange),
        why=_why(
            name,
            reference,
            signs,
            exchange=exchange,
            magnet=magnet,
            apart=name not in used,
            with_reference=sum(step[reference]) % 2 == 1,
        ),
        warnings=_warnings(pickup, job) if exchange else (),
    )


def _why(
    name: str,
    reference: str,
    signs: SignsNow,
    *,
    exchange: bool,
    magnet: bool,
    apart: bool,
    with_reference: bool,
) -> str:
    if magnet:
        return TURN_WHY
    if exchange:
        return EXCHANGE_WHY.format(reference) if signs.s[name] == -1 else WITH_REST_WHY
    if apart:
        return APART_WHY
    if name == reference:
        return REFERENCE_WHY
    if signs.s[name] == -1 and with_reference:
        return TOGETHER_WHY.format(reference)
    return IN_PHASE_AS_IS.format(reference) if signs.s[name] == 1 else OUT_WANTED_WHY.format(name)


def _leads(pickup: Pickup, wires: Wires, *, exchange: bool) -> dict[str, str]:
    now = wires.leads_now(pickup.name)
    if now.hot is None or now.ground is None or (pickup.fitted and not exchange):
        return {}
    hot, ground = (now.ground, now.hot) if exchange else (now.hot, now.ground)
    return {hot: "hot", ground: "ground", **{colour: "link" for colour in now.link or ()}}


def _warnings(pickup: Pickup, job: Job) -> tuple[str, ...]:
    said = []
    if pickup.shield == "on ground":
        said.append(SHIELD_ON_GROUND.format(pickup.name))
    if pickup.shield is None:
        said.append(SHIELD_UNKNOWN.format(pickup.name))
    if pickup.fitted:
        said.append(FITTED_GROUND.format(pickup.name))
    split = [
        s.name for s in job.settings if any(m.pickup == pickup.name and m.coil is not None for m in s.on)
    ]
    if split:
        said.append(SPLIT_COIL.format(pickup.name, ", ".join(f'"{s}"' for s in split)))
    return tuple(said)
