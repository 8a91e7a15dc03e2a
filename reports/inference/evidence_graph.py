"""The ledger of evidence: pieces, and the hidden mistakes they share.

Task: name the unknown signs and hidden mistakes, and turn what an entry shows of a pickup into the
variables whose product it is evidence about. Signs: variables are +1 / -1 (reports.inference.factor_graph); a
mistake that happened turns over every piece that shares it.

Clip-ups: which recordings, and which meter readings, were made without taking the clips off.

Task: number the clip-ups of each pickup as the log says them. A new clip-up is what a person said (an entry
with ``anew``, from ``--clips-anew`` or from a session that asked for it); the order of entries says nothing,
since at a bench the clips stay on and the plug is moved. Recordings and meter readings have clips of their
own.

What one channel of one take shows of a pickup.

Task: from a station of a take to the variables whose product it shows: the pickup's sign, and every hidden
mistake that may have turned it over on the way to this channel. Signs: ``sign`` is +1 where the station
shows the pickup as it is wired now.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from capture.job import Job
from capture.log import LeadsInput, Meter, Take
from reports.evidence.leads import LeadHistory, LeadView
from reports.evidence.results import NO_RIG, ChannelSource
from reports.inference.error_priors import ERROR_PRIORS
from reports.inference.factor_graph import Factor, Variable, prior_factor, product_factor
from reports.model.advice_notes import BenchError, ErrorKind, ErrorSubject, OnInput, OnPickups, OnString
from reports.model.gestures import SignLetter


@dataclass(frozen=True)
class LatentError:
    """A binary variable: an error of this kind happened. ``key`` tells those of a kind apart."""

    kind: ErrorKind
    key: tuple[str, ...]
    subject: ErrorSubject = field(compare=False)

    @property
    def error(self) -> BenchError:
        """The error as the verdict names it."""
        return BenchError(self.kind, self.subject)

    def __str__(self) -> str:
        """Sort by kind and key."""
        return f"hidden {self.kind} {self.key}"


@dataclass(frozen=True)
class UnknownSign:
    """An unknown sign: ``s`` or ``w`` of a pickup (or coil) in an era; era -1 is now."""

    letter: str
    pickup: str
    coil: int | None = None
    era: int = -1

    def __str__(self) -> str:
        """Sort by letter, pickup and coil."""
        return f"sign {self.letter} {self.pickup} {self.coil} {self.era}"


@dataclass(frozen=True, eq=False)
class Evidence:
    """One piece of evidence: a method's word about the pickups in ``links``, with its sources.

    ``about`` is "s" or "w": whether its links connect pickups in phase or in winding.
    """

    method: str
    factors: tuple[Factor, ...]
    links: frozenset[str]
    takes: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()
    about: str = "s"


@dataclass(eq=False)
class EvidenceGraph:
    """Pieces of evidence as they come in, with the mistakes seen so far."""

    history: LeadHistory
    evidence: list[Evidence] = field(default_factory=list)
    hidden: dict[LatentError, None] = field(default_factory=dict)
    ties: dict[Variable, Factor] = field(default_factory=dict)

    def latent_error(self, kind: ErrorKind, *key: str, on: ErrorSubject) -> LatentError:
        """The hidden mistake of that kind and key, noted once."""
        known = LatentError(kind, key, on)
        self.hidden.setdefault(known, None)
        return known

    def sign_of(self, seen: LeadView, *, letter: str = "s") -> tuple[tuple[Variable, ...], int]:
        """The variables whose product an entry shows, and the sign it comes with.

        Coils whose joint is not made yet are not tied to the pickup, nor to each other.
        """
        era, on = -1 if seen.now else seen.era, OnPickups((seen.pickup,))
        joined = seen.pickup not in self.history.unjoined
        variables: list[Variable] = []
        if seen.coil is None:
            variables.append(UnknownSign(letter, seen.pickup, None, era))
        else:
            coil = UnknownSign(letter, seen.pickup, seen.coil, era)
            if joined and letter == "s" and coil not in self.ties:
                whole = UnknownSign("s", seen.pickup, None, era)
                joint = self.latent_error("inner joint", seen.pickup, str(seen.coil), on=on)
                self.ties[coil] = product_factor((coil, whole, joint), np.inf)
            if joined and letter == "w" and coil not in self.ties:
                both = tuple(UnknownSign("w", seen.pickup, k, era) for k in (1, 2))
                alike = self.latent_error("inner winding", seen.pickup, on=on)
                self.ties |= dict.fromkeys(both, product_factor((*both, alike), -np.inf))
            variables.append(coil)
        if seen.now and seen.before_work:
            touched = seen.pickup in self.history.changed or not self._fitted(seen.pickup)
            kind: ErrorKind = "work" if touched else "no work"
            variables.append(self.latent_error(kind, seen.pickup, on=on))
        return tuple(variables), -1 if seen.turned else 1

    def factors(self, evidence: Iterable[Evidence], *, also: Iterable[Variable] = ()) -> list[Factor]:
        """Factors of some pieces, with the priors of the mistakes they share and the ties of coils.

        ``also`` are signs that are asked for, though no piece names them.
        """
        found = [f for piece in evidence for f in piece.factors]
        named = {v for f in found for v in f.variables} | set(also)
        tied: dict[int, Factor] = {}
        for coil, tie in self.ties.items():
            if coil in named:
                tied[id(tie)] = tie
                named.update(tie.variables)
        found.extend(tied.values())
        found.extend(prior_factor(h, ERROR_PRIORS[h.kind].probability) for h in self.hidden if h in named)
        return found

    def _fitted(self, name: str) -> bool:
        pickup = self.history.job.pickup(name)
        return pickup is None or pickup.fitted


def current_sign(pickup: str, *, letter: str = "s") -> UnknownSign:
    """The sign of a pickup as it is wired now."""
    return UnknownSign(letter, pickup)


@dataclass(eq=False)
class ClipUps:
    """Walks the takes in order; ``of`` numbers the clip-ups of each pickup up to a take."""

    job: Job
    _counts: Counter[str] = field(default_factory=Counter)

    def of(self, take: Take) -> Mapping[str, int]:
        """The number of the clip-up that each pickup is in at this take; 0 where it was never put on anew."""
        if take.anew:
            self._counts.update({name for item in take.inputs for name in _pickups_of(self.job, item)})
        return Counter(self._counts)


@dataclass(eq=False)
class MeterClipUps:
    """Walks the meter readings in order; ``of`` names the clip-up of each."""

    _counts: Counter[str] = field(default_factory=Counter)

    def of(self, reading: Meter) -> str:
        """The clip-up of a reading: the leads under the clips, and how often they were put on anew."""
        self._counts[reading.pickup] += reading.anew
        return f"{reading.red} {reading.black or ''} {self._counts[reading.pickup]}"


def _pickups_of(job: Job, item: object) -> frozenset[str]:
    if isinstance(item, LeadsInput):
        return frozenset((item.pickup,))
    names = item if isinstance(item, tuple) else (item,)
    settings = (job.setting(name) for name in names if isinstance(name, str))
    return frozenset(m.pickup for s in settings if s is not None for m in s.on)


@dataclass(frozen=True)
class Observation:
    """What one channel of one take shows: variables, sign, and the pickup it is about."""

    pickup: str
    variables: tuple[Variable, ...]
    sign: int
    column: int

    @property
    def coil(self) -> int | None:
        """The coil that it is about; None for the whole pickup."""
        return next((v.coil for v in self.variables if isinstance(v, UnknownSign)), None)


def observation_of(
    graph: EvidenceGraph,
    entry: Take,
    station: ChannelSource,
    *,
    run: Mapping[str, int],
    letter: SignLetter = "s",
) -> Observation | None:
    """What a station of a take shows; None where its leads are not known.

    ``run`` numbers the clip-up that each pickup is in at this take.
    """
    history = graph.history
    item = entry.inputs[station.column]
    if isinstance(item, LeadsInput):
        seen = history.seen_at_leads(entry, item.pickup, hot=item.hot, ground=item.ground)
        if seen is None:
            return None
    elif station.coil is not None and station.pickup in history.unjoined:
        return None
    else:
        seen = history.seen(entry, station.pickup, coil=station.coil, turned=station.reversed)
    variables, sign = graph.sign_of(seen, letter=letter)
    extra: list[Variable] = []
    if station.clips:
        way = f"{item.hot}/{item.ground}" if isinstance(item, LeadsInput) else ""
        extra.append(
            graph.latent_error(
                "clips", station.pickup, str(run.get(station.pickup, 0)), way, on=OnPickups((station.pickup,))
            )
        )
        extra.append(graph.latent_error("colours", station.pickup, on=OnPickups((station.pickup,))))
    if station.column > 0:
        extra.append(channel_error(graph, entry, station.column))
    return Observation(station.pickup, (*variables, *extra), sign, station.column)


def channel_error(graph: EvidenceGraph, entry: Take, column: int) -> LatentError:
    """The chance that an input inverts against the first one."""
    rig = entry.rig or NO_RIG
    return graph.latent_error("channels", rig, str(column), on=OnInput(column + 1, rig))


def sideways_error(graph: EvidenceGraph, pickup: str, string: str, *, ringing: bool = False) -> LatentError:
    """The chance that a string moved sideways at a pickup whose poles it does not run over.

    ``ringing``: some time after the pluck, and not right from it.
    """
    kind: ErrorKind = "sideways ringing" if ringing else "sideways string"
    return graph.latent_error(kind, pickup, string, on=OnString(string, pickup))
