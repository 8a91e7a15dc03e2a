"""Which way round each pickup's leads were, entry by entry.

Task: evidence belongs to leads. This walks the log in order and says for every entry whose sign of which
pickup (or coil) it shows, and whether turned over, relative to how the pickup is wired NOW, at the
latest stage. Shapes: none. Signs: ``turned`` True means that hot and ground were exchanged against how
they are now, which flips ``w`` and ``s``.

What was found before the work carries over through the change that was entered; where none was, a pickup is
as it was. A change that names leads which had no names before, of a pickup that is wired in, is taken for an
exchange of hot and ground (``unnamed``). Where nothing says what a change did, or how a loose pickup without
named leads was wired in, what was found does not carry over: the pickup then gets a new ``era``, and between
eras nothing is known. Coil 1 is the coil that hot belonged to in job.toml.
Of a pickup whose leads job.toml does not name, readings in ohms may tell which two are the ends of one coil
(reports.ohms.coil_ends): then its coils are numbered as these stand there, each with its first lead as hot.
What was found on such an end carries over whatever is soldered to it, and a change that joins the coils says
how they stand in the whole (``joined``).

A tag (capture.log.Tag) gives leads names that no reading of colours can turn: "tagged", the lead that was
under the tip's clip in the take it names, and "other". `LeadHistory.tag_of` is the tag that the leads of a
pickup are told by now; it seals the clip-up of that take. One whose take is voided, or that lies on one coil
of a pickup whose coils are not joined, is in `idle_tags`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from capture.job import Job, Pickup
from capture.log import AnyEntry, Change, Check, LeadsInput, Stage, Tag, Take, clipped_input, pickups_of
from capture.log.entries import OTHER, TAGGED
from reports.ohms.coil_ends import CoilEnds, find_coils

LATEST: Stage = "after"


ClipUp = tuple[int, str]
"""A clip-up of one pickup: how often its clips were put on anew, and which leads were on tip and sleeve: ""
for its hot and ground, whether a take names them or not."""


@dataclass(frozen=True)
class TaggedLead:
    """A tag on a lead of one pickup: the log entry ``entry``, put on in the clip-up of ``take``.

    ``lead`` carries it and ``other`` was on the sleeve, by the names they have in the log. ``sealed`` are the
    takes that were recorded through that clip-up up to the tag.
    """

    entry: str
    take: str
    lead: str
    other: str
    clip_up: ClipUp
    sealed: frozenset[str]

    def named(self, lead: str) -> str:
        """The name of a lead as the tag has it."""
        return {self.lead: TAGGED, self.other: OTHER}.get(lead, lead)

    def read_as(self, name: str) -> str:
        """The name in the log of a lead that may be named by the tag."""
        return {TAGGED: self.lead, OTHER: self.other}.get(name, name)


IdleTag = Literal["take voided", "coil alone"]
"""Why a tag says nothing."""


@dataclass(frozen=True)
class LeadState:
    """Hot and ground of one pickup at one moment; None where they have no names.

    ``tag``: the one that is on a lead; ``by_colour``: leads were soldered since, and told by their colours.
    ``unnamed``: a change named leads that had no names, and is taken for an exchange. ``entered``: a change
    said how they are soldered.
    """

    hot: str | None
    ground: str | None
    link: tuple[str, str] | None
    era: int
    turned: bool
    tag: TaggedLead | None = None
    by_colour: bool = False
    unnamed: bool = False
    entered: bool = False

    def read_as(self, name: str) -> str:
        """The name in the log of a lead that may be named by the tag."""
        return name if self.tag is None else self.tag.read_as(name)

    def by_tag(self, item: object) -> bool:
        """Whether the leads on tip and sleeve were told by the tag."""
        return (
            self.tag is not None
            and isinstance(item, LeadsInput)
            and not {TAGGED, OTHER}.isdisjoint((item.hot, item.ground))
        )

    def on_clips(self, item: object) -> str:
        """Which leads were on tip and sleeve, as a clip-up is told by them."""
        if not isinstance(item, LeadsInput):
            return ""
        outer = (item.hot, item.ground) == (self.hot, self.ground) and not self.by_tag(item)
        return "" if outer else f"{item.hot}/{item.ground}"


@dataclass(frozen=True)
class LeadView:
    """What an entry shows of a pickup: ``turned`` is relative to the wiring now; ``now``: the same era.

    ``before_work``: it was made before the work, or before leads were changed; ``unnamed``: and before a
    change that is taken for an exchange.
    """

    pickup: str
    coil: int | None
    turned: bool
    era: int
    now: bool
    before_work: bool
    unnamed: bool = False


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
    idle_tags: tuple[tuple[Tag, IdleTag], ...] = ()
    """Tags that say nothing, and why."""
    first_after: str = ""
    """The first entry of the latest stage that is no change; empty while the guitar is as found."""
    joined: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    """Of pickups whose coils were joined by a change: the sign of coil 1 and of coil 2 in the whole."""

    def tag_of(self, pickup: str) -> TaggedLead | None:
        """The tag that the leads of a pickup are told by now."""
        leads = self.final[pickup]
        return None if leads.by_colour else leads.tag

    def not_carried(self, pickup: str) -> bool:
        """Whether what was found does not carry over, since its leads had no names when they were changed."""
        first = self.job.pickup(pickup)
        return self.final[pickup].era > 0 and (first is None or first.hot is None)

    def is_loose(self, entry: AnyEntry, pickup: str) -> bool:
        """Whether ``entry`` came through clips on the pickup; after the work too until its wiring is entered.

        That something was done says nothing of what, so the stage alone takes no doubt away.
        """
        first = self.job.pickup(pickup)
        wired = entry.stage == LATEST and self.at_entry[entry.id][pickup].entered
        return first is not None and not first.fitted and not wired

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
            before_work=entry.stage != self.stage or then.turned != final.turned,
            unnamed=final.unnamed and not then.unnamed,
        )

    def seen_at_leads(self, entry: AnyEntry, pickup: str, *, hot: str, ground: str) -> LeadView | None:
        """What ``entry`` shows of named leads, by colour or tag; None where they are not known."""
        then = self.at_entry[entry.id][pickup]
        hot, ground = then.read_as(hot), then.read_as(ground)
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
    leads |= {
        name: named for name, named in _named_from_the_start(job, walked).items() if name not in unjoined
    }
    clips = _Clips(job)
    joined: dict[str, tuple[int, int]] = {}
    idle: list[tuple[Tag, IdleTag]] = []
    for entry in walked:
        if _at_latest(entry) and reached == "found":
            reached = LATEST
            leads = {p.name: _carried(leads[p.name], fitted=p.fitted) for p in job.pickups}
        if isinstance(entry, Change):
            signs = _signs_in_whole(unjoined.get(entry.pickup), entry)
            if signs is not None:
                joined[entry.pickup] = signs
            fitted = (p := job.pickup(entry.pickup)) is not None and p.fitted
            alone = entry.pickup in unjoined
            leads[entry.pickup] = _changed(leads[entry.pickup], entry, named=not fitted or alone)
            changed.add(entry.pickup)
        elif isinstance(entry, Take):
            leads = _named_by_clips(leads, entry, but=unjoined)
            clips.go_on(entry, leads)
        elif isinstance(entry, Tag):
            put_on = _tagged(leads[entry.pickup], entry, clips, at_entry)
            if entry.pickup in unjoined or isinstance(put_on, str):
                idle.append((entry, put_on if isinstance(put_on, str) else "coil alone"))
            else:
                leads[entry.pickup] = put_on
        at_entry[entry.id] = dict(leads)
    first_after = next((e.id for e in walked if _at_latest(e)), "")
    return LeadHistory(
        job, stage, at_entry, leads, frozenset(changed), unjoined, tuple(idle), first_after, joined
    )


@dataclass(eq=False)
class _Clips:
    """Walks the takes in order: which clip-up of a pickup each went through."""

    job: Job
    counts: Counter[str] = field(default_factory=Counter)
    takes: dict[str, Take] = field(default_factory=dict)
    went_through: dict[str, dict[str, ClipUp]] = field(default_factory=dict)
    """By pickup and take."""

    def go_on(self, take: Take, leads: Mapping[str, LeadState]) -> None:
        """Take the next one; ``leads`` as they were at it."""
        names = [p.name for p in pickups_of(take, self.job)]
        if take.anew:
            self.counts.update(names)
        self.takes[take.id] = take
        for name in names:
            item = clipped_input(take, name, self.job)
            if item is not None:
                self.went_through.setdefault(name, {})[take.id] = (
                    self.counts[name],
                    leads[name].on_clips(item),
                )


def _tagged(
    leads: LeadState, tag: Tag, clips: _Clips, at_entry: Mapping[str, Mapping[str, LeadState]]
) -> LeadState | IdleTag:
    """The leads of a pickup with a tag put on, or why it says nothing."""
    take = clips.takes.get(tag.take)
    item = None if take is None else clipped_input(take, tag.pickup, clips.job)
    if take is None or item is None:
        return "take voided"
    then = at_entry[take.id][tag.pickup]
    tip, sleeve = then.hot, then.ground
    if isinstance(item, LeadsInput):
        tip, sleeve = then.read_as(item.hot), then.read_as(item.ground)
        if {tip, sleeve} != {then.hot, then.ground}:
            return "coil alone"
    if tip is None or sleeve is None:  # by the pickup's name alone, which may have been given names since
        tip, sleeve = leads.hot or TAGGED, leads.ground or OTHER
        leads = replace(leads, hot=tip, ground=sleeve)
    through = clips.went_through[tag.pickup]
    sealed = frozenset(name for name, one in through.items() if one == through[take.id])
    put_on = TaggedLead(tag.id, take.id, tip, sleeve, through[take.id], sealed)
    return replace(leads, tag=put_on, by_colour=False)


def _named_from_the_start(job: Job, entries: Iterable[AnyEntry]) -> dict[str, LeadState]:
    """Leads of pickups for which job.toml names none, by the clips of all takes before a change or the work.

    Where takes differ, the way that most of them have is hot on the tip, and of equals the first by name: the
    order of takes says nothing.
    """
    orders: dict[str, Counter[tuple[str, str]]] = {p.name: Counter() for p in job.pickups if p.hot is None}
    for entry in entries:
        if _at_latest(entry):
            break
        if isinstance(entry, Change):
            orders.pop(entry.pickup, None)
        if isinstance(entry, Take):
            for item in entry.inputs:
                if isinstance(item, LeadsInput) and item.pickup in orders:
                    orders[item.pickup][item.hot, item.ground] += 1
    named = {}
    for name, counted in orders.items():
        if counted:
            (hot, ground), _ = min(counted.items(), key=lambda item: (-item[1], item[0]))
            named[name] = LeadState(hot, ground, None, 0, False)
    return named


def _ends_alone(pickup: Pickup, entries: Iterable[AnyEntry]) -> CoilEnds | None:
    """The ends of its coils, where job.toml names no lead and two of them need not be the whole pickup."""
    if pickup.leads:
        return None
    ends = find_coils(pickup, entries)
    return ends if ends.pair_may_be_part else None


def _at_latest(entry: AnyEntry) -> bool:
    """Whether something was heard or measured after the work; a change alone is only a promise."""
    return entry.stage == LATEST and not isinstance(entry, Change | Check | Tag)


def _first(pickup: Pickup) -> LeadState:
    return LeadState(pickup.hot, pickup.ground, pickup.link, 0, False)


def _carried(leads: LeadState, *, fitted: bool) -> LeadState:
    """Over to the stage after: what is wired in stays as it is, what is loose carries over by known leads."""
    if fitted or (leads.hot is not None and leads.ground is not None):
        return leads
    return LeadState(leads.hot, leads.ground, leads.link, leads.era + 1, False)


def _changed(leads: LeadState, change: Change, *, named: bool) -> LeadState:
    """The leads after a change; ``named``: one of leads without names says nothing of how they were."""
    role = {said: colour for colour, said in change.leads.items()}
    hot, ground = leads.read_as(role["hot"]), leads.read_as(role["ground"])
    by_colour = (hot, ground) == (role["hot"], role["ground"]) and TAGGED not in (hot, ground)
    leads = replace(leads, by_colour=by_colour, entered=True)
    if (hot, ground) == (leads.hot, leads.ground):
        return leads
    unnamed = not named and leads.hot is None and leads.ground is None and leads.link is None
    if unnamed or (hot, ground) == (leads.ground, leads.hot):
        link = None if leads.link is None else (leads.link[1], leads.link[0])
        return replace(
            leads,
            hot=hot,
            ground=ground,
            link=link,
            turned=not leads.turned,
            unnamed=unnamed or leads.unnamed,
        )
    return LeadState(hot, ground, None, leads.era + 1, False, entered=True)


def _signs_in_whole(ends: CoilEnds | None, change: Change) -> tuple[int, int] | None:
    """The signs of both coils in a pickup that a change joins in series; None where it joins no two coils."""
    role = {said: colour for colour, said in change.leads.items()}
    links = [lead for lead, said in change.leads.items() if said == "link"]
    if ends is None or len(ends.coils) != 2:
        return None
    for at_hot, at_ground in (links, links[::-1]) if len(links) == 2 else ():
        first, second = ends.coil_at(role["hot"], at_hot), ends.coil_at(at_ground, role["ground"])
        if first is not None and second is not None and first[0] != second[0]:
            signs = {number: -1 if over else 1 for number, over in (first, second)}
            return signs[1], signs[2]
    return None


def _named_by_clips(
    leads: dict[str, LeadState], take: Take, *, but: Mapping[str, CoilEnds]
) -> dict[str, LeadState]:
    """Clips on a pickup whose leads job.toml does not name: they name them, where it has no others."""
    named = dict(leads)
    for item in take.inputs:
        if isinstance(item, LeadsInput) and item.pickup not in but and named[item.pickup].hot is None:
            old = named[item.pickup]
            named[item.pickup] = replace(old, hot=item.hot, ground=item.ground)
    return named
