"""Which way round each pickup's leads were, entry by entry.

Task: evidence belongs to leads. This walks the log in order and says for every entry whose sign of which
pickup (or coil) it shows, and whether turned over, relative to how the pickup is wired NOW, at the
latest stage. Shapes: none. Signs: ``turned`` True means that hot and ground were exchanged against how
they are now, which flips ``w`` and ``s``.

Where the leads are not known, what was found before a change does not carry over: the pickup then gets a
new ``era``, and between eras nothing is known. Coil 1 is the coil that hot belonged to in job.toml.
Of a pickup whose leads job.toml does not name, readings in ohms may tell which two are the ends of one coil
(reports.ohms.coil_ends): then its coils are numbered as these stand there, each with its first lead as hot.
What was found on such an end carries over whatever is soldered to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from capture.job import Job, Pickup
from capture.log import AnyEntry, Change, Check, LeadsInput, Stage, Take
from reports.ohms.coil_ends import CoilEnds, find_coils

LATEST: Stage = "after"


@dataclass(frozen=True)
class LeadState:
    """Hot and ground of one pickup at one moment; None where they have no names."""

    hot: str | None
    ground: str | None
    link: tuple[str, str] | None
    era: int
    turned: bool


@dataclass(frozen=True)
class LeadView:
    """What an entry shows of a pickup: ``turned`` is relative to the wiring now; ``now``: the same era."""

    pickup: str
    coil: int | None
    turned: bool
    era: int
    now: bool
    before_work: bool


@dataclass(frozen=True)
class LeadHistory:
    """The leads of all pickups at every entry, and as they are now."""

    job: Job
    stage: Stage
    at_entry: dict[str, dict[str, LeadState]]
    final: dict[str, LeadState]
    changed: frozenset[str]
    unjoined: Mapping[str, CoilEnds] = field(default_factory=dict)
    """Pickups whose coils are known by their ends alone: which of these is hot is not said anywhere."""

    def leads_now(self, pickup: str) -> LeadState:
        """The leads of a pickup as they are now."""
        return self.final[pickup]

    def seen(
        self, entry: AnyEntry, pickup: str, *, coil: int | None = None, turned: bool = False
    ) -> LeadView:
        """What ``entry`` shows of ``pickup`` when its hot and ground stood as wired (or ``turned``)."""
        then, final = self.at_entry[entry.id][pickup], self.final[pickup]
        return LeadView(
            pickup,
            coil,
            turned != (then.turned != final.turned),
            then.era,
            then.era == final.era,
            entry.stage != self.stage,
        )

    def seen_at_leads(self, entry: AnyEntry, pickup: str, *, hot: str, ground: str) -> LeadView | None:
        """What ``entry`` shows when ``hot`` and ``ground`` are colours; None where they are not known."""
        then = self.at_entry[entry.id][pickup]
        if pickup in self.unjoined:
            ends = self.unjoined[pickup]
            found = ends.coil_at(hot, ground)
            if found is not None:
                number, over = found
                return LeadView(pickup, number, over, then.era, now=True, before_work=False)
            if ends.outer is not None and set(ends.outer) == {hot, ground}:
                return LeadView(pickup, None, hot != ends.outer[0], then.era, now=True, before_work=False)
        pairs: dict[tuple[str | None, str | None], int | None] = {(then.hot, then.ground): None}
        if then.link is not None:
            first, second = (then.hot, then.link[0]), (then.link[1], then.ground)
            pairs |= {first: 2 if then.turned else 1, second: 1 if then.turned else 2}
        if (hot, ground) in pairs:
            return self.seen(entry, pickup, coil=pairs[hot, ground])
        if (ground, hot) in pairs:
            return self.seen(entry, pickup, coil=pairs[ground, hot], turned=True)
        return None


def lead_history(job: Job, entries: Iterable[AnyEntry]) -> LeadHistory:
    """Walk the standing entries of the log in order."""
    walked = list(entries)
    stage: Stage = LATEST if any(_at_latest(e) for e in walked) else "found"
    leads = {p.name: _first(p) for p in job.pickups}
    reached: Stage = "found"
    at_entry: dict[str, dict[str, LeadState]] = {}
    changed: set[str] = set()
    unjoined = {p.name: ends for p in job.pickups if (ends := _ends_alone(p, walked)) is not None}
    for entry in walked:
        if _at_latest(entry) and reached == "found":
            reached = LATEST
            leads = {name: _carried(one) for name, one in leads.items()}
        if isinstance(entry, Change):
            leads[entry.pickup] = _changed(leads[entry.pickup], entry)
            changed.add(entry.pickup)
        elif isinstance(entry, Take):
            leads = _named_by_clips(leads, entry, but=unjoined)
        at_entry[entry.id] = dict(leads)
    return LeadHistory(job, stage, at_entry, leads, frozenset(changed), unjoined)


def _ends_alone(pickup: Pickup, entries: Iterable[AnyEntry]) -> CoilEnds | None:
    """The ends of its coils, where job.toml names no lead and two of them need not be the whole pickup."""
    if pickup.leads:
        return None
    ends = find_coils(pickup, entries)
    return ends if ends.pair_may_be_part else None


def _at_latest(entry: AnyEntry) -> bool:
    """Whether something was heard or measured after the work; a change alone is only a promise."""
    return entry.stage == LATEST and not isinstance(entry, Change | Check)


def _first(pickup: Pickup) -> LeadState:
    return LeadState(pickup.hot, pickup.ground, pickup.link, 0, False)


def _carried(leads: LeadState) -> LeadState:
    """Over to the stage after: only what belongs to known leads carries over."""
    if leads.hot is not None and leads.ground is not None:
        return leads
    return LeadState(leads.hot, leads.ground, leads.link, leads.era + 1, False)


def _changed(leads: LeadState, change: Change) -> LeadState:
    role = {said: colour for colour, said in change.leads.items()}
    hot, ground = role["hot"], role["ground"]
    if (hot, ground) == (leads.hot, leads.ground):
        return leads
    if (hot, ground) == (leads.ground, leads.hot):
        link = None if leads.link is None else (leads.link[1], leads.link[0])
        return LeadState(hot, ground, link, leads.era, not leads.turned)
    return LeadState(hot, ground, None, leads.era + 1, False)


def _named_by_clips(
    leads: dict[str, LeadState], take: Take, *, but: Mapping[str, CoilEnds]
) -> dict[str, LeadState]:
    """Clips on a pickup whose leads job.toml does not name: they name them, where it has no others."""
    named = dict(leads)
    for item in take.inputs:
        if isinstance(item, LeadsInput) and item.pickup not in but and named[item.pickup].hot is None:
            old = named[item.pickup]
            named[item.pickup] = LeadState(item.hot, item.ground, old.link, old.era, old.turned)
    return named
