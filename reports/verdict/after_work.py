"""What was known before the work against what is heard after it, pair by pair.

At the stage after, the evidence of a pair is from before the work (carried over by the change that was
entered), or from after it. Each is asked by itself. What is carried over rests on the entry of a change, so
it settles nothing alone; where what is heard says the opposite, that is a conflict between the work and the
hearing, and the entry is doubted first. Sign: probabilities are of ``s_a = s_b``, for the pickups as wired
now.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from capture.log import AnyEntry, Change
from reports.evidence.leads import LATEST, LeadHistory
from reports.inference.posterior import Among, MethodPosterior, Posterior
from reports.model.notes import NotSettled, Phase, RecordPair, Standing
from reports.model.verdict import Conflict, PairVerdict, StageAnswer, likely_sign, standing_of
from reports.model.work_notes import NamedLeads, SettleWork, WorkContradicted

AS_ENTERED, AS_FOUND, HEARD_AFTER = (
    "the work as entered",
    "what was found before",
    "what is heard after the work",
)
"""The two sides of a conflict between the work and the hearing."""


@dataclass(frozen=True)
class AfterWork:
    """The entries of before and after the work; ``changes`` those that changed leads."""

    history: LeadHistory
    before: frozenset[str]
    after: frozenset[str]
    changes: tuple[Change, ...]
    first_after: str

    def among(self, posterior: Posterior, a: str, b: str) -> Among:
        """The entries that can contradict each other on a pair: those after the work, once they tell."""
        return None if posterior.in_phase_by(a, b, among=self.after) is None else self.after

    def answers(self, posterior: Posterior, a: str, b: str) -> tuple[StageAnswer | None, StageAnswer | None]:
        """What is known of a pair from before the work, carried over, and what was heard after it."""
        before, after = (posterior.in_phase_by(a, b, among=ids) for ids in (self.before, self.after))
        return _answer(before), _answer(after)

    def conflicts(self, posterior: Posterior) -> tuple[Conflict, ...]:
        """Every pair on which what is heard after the work is against the work as entered."""
        names = [p.name for p in self.history.job.pickups]
        each = (self._conflict(a, b, *self.answers(posterior, a, b)) for a, b in combinations(names, 2))
        return tuple(c for c in each if c is not None)

    def rest(self, posterior: Posterior, conflicts: Sequence[Conflict]) -> Posterior:
        """What the verdict then rests on: what was heard after the work.

        While it is not known where the change was made, nothing found before says how a pickup is now.
        """
        names = [p.name for p in self.history.job.pickups]
        return posterior.without(self.before, names) if conflicts else posterior

    def _conflict(
        self, a: str, b: str, before: StageAnswer | None, after: StageAnswer | None
    ) -> Conflict | None:
        if before is None or after is None or before.phase is None or after.phase in (None, before.phase):
            return None
        mine = tuple(c for c in self.changes if c.pickup in (a, b))
        names = tuple(dict.fromkeys(c.pickup for c in mine)) or (a, b)
        others = [p.name for p in self.history.job.pickups if p.name not in names] if mine else names
        cause = WorkContradicted(
            names, tuple(c.id for c in mine), tuple(others) if mine else (), (*after.takes, *after.entries)
        )
        turned = tuple(one for name in others if (one := self._exchanged(name)) is not None)
        return Conflict(
            between=(AS_ENTERED if mine else AS_FOUND, HEARD_AFTER),
            pair=(a, b),
            likely_cause=cause,
            next=SettleWork(cause, turned, self.first_after, (*before.takes, *before.entries)),
        )

    def _exchanged(self, name: str) -> NamedLeads:
        """The leads of a pickup as a change would have them, were hot and ground exchanged."""
        leads = self.history.leads_now(name)
        if leads.hot is None or leads.ground is None:
            return NamedLeads(name, "", "")
        return NamedLeads(name, leads.ground, leads.hot)


def after_work(history: LeadHistory, entries: Iterable[AnyEntry]) -> AfterWork | None:
    """The entries before and after the work; None while the guitar is as found."""
    if history.stage != LATEST:
        return None
    told = list(entries)
    return AfterWork(
        history,
        before=frozenset(e.id for e in told if e.stage != LATEST),
        after=frozenset(e.id for e in told if e.stage == LATEST),
        changes=tuple(e for e in told if isinstance(e, Change)),
        first_after=next(e.id for e in told if e.stage == LATEST and not isinstance(e, Change)),
    )


def _answer(said: MethodPosterior | None) -> StageAnswer | None:
    if said is None:
        return None
    phases: dict[int | None, Phase | None] = {1: "in phase", -1: "out of phase", None: None}
    return StageAnswer(
        p_in_phase=said.same,
        phase=phases[likely_sign(said.same)],
        standing=standing_of(said.same),
        takes=said.takes,
        entries=said.entries,
    )


def standing_after(standing: Standing, phase: Phase | None, after: StageAnswer | None) -> Standing:
    """What is carried over settles no pair alone: what was heard after the work has to say the same."""
    heard = after is not None and after.phase is not None and after.phase == phase
    return "likely" if standing == "settled" and not heard else standing


def resting_on_before(pairs: Sequence[PairVerdict], against: Sequence[Conflict]) -> list[PairVerdict]:
    """Pairs of which nothing was heard after the work: they say so, and ask for it.

    ``against``: what is heard against the work. Then they ask for what ends that.
    """
    return [
        p.model_copy(
            update={
                "because": NotSettled("contradictions" if against else "from before the work"),
                "next": against[0].next if against else RecordPair("after the work", p.a, p.b),
            }
        )
        if p.from_before_work is not None and p.from_after_work is None
        else p
        for p in pairs
    ]
