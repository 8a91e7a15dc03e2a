"""What the ratio of the channels tells of errors behind all paired plucks of two pickups.

From the results of takes to factors over latent errors (reports.inference.factor_graph), nats. "One pickup
twice": one pickup on both inputs, or a dead one into which the other bleeds. "Strings beside poles": at one
of the two, all strings run beside the poles and were heard moving sideways, so that its sign is turned over;
a press towards the body is less exposed. "Channels misplaced": they do not go with two pickups at the places
that were entered, and their sign may be anything. Takes of one pair share what they show wrongly, so their
sum is limited.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from dsp.methods.channel_ratio import (
    ALIKE_MOST,
    ChannelRatio,
    PartialRatios,
    beside_ratio,
    bleed_ratio,
    misplaced_ratio,
    off_level_ratio,
    same_level_ratio,
)
from reports.evidence.results import NO_RIG, TakeResult
from reports.inference.evidence_graph import Evidence, EvidenceGraph, LatentError
from reports.inference.factor_graph import Factor
from reports.model.notes import OnPickups

if TYPE_CHECKING:
    from reports.inference.posterior import Posterior

ONCE_MOST = 6.0
"""Nats against one pickup twice, from all takes of a pair."""
TWICE_MOST = 7.0
"""Nats for it: the prior is turned into six to one."""
SURELY_TWICE = 3.0
"""A take that says so much for it, among takes that deny it, is doubted by itself: a cable was moved."""
BESIDE_MOST = 4.0
"""Nats for or against strings beside the poles, from all takes of a pair."""
MISPLACED_MOST = (-3.0, 9.0)
"""Nats against and for channels that do not go with two pickups at their places, from all takes of a pair."""
FEWEST_PLACED = 3
"""Strings from which on a pair's plucks, one a string, are held against its places: fewer say little of them,
and a string that is plucked again says the same."""
PRESS_TURNED = 0.25
"""A press over poles that lie beside the string is turned over so often (assumed: it is pushed within some 15
degrees of towards the body)."""

NAMED_FROM = 0.15
"""An error behind all takes of a pair that is so probable is what the person is told of."""

PairName = tuple[str, str]
"""Two pickups in order of their names."""


@dataclass(frozen=True, eq=False)
class ChannelRatios:
    """What the paired plucks of a job show of each pair.

    ``twice``: for each pair and group of its takes, nats for one pickup twice; ``group_of``: the group of a
    take of a pair, "" for most. ``beside``: for each pair, nats for strings beside the poles of either;
    ``misplaced``: that the channels do not go with two pickups at their places.
    """

    twice: Mapping[tuple[PairName, str], float] = field(default_factory=dict)
    group_of: Mapping[tuple[PairName, str], str] = field(default_factory=dict)
    beside: Mapping[PairName, float] = field(default_factory=dict)
    misplaced: Mapping[PairName, float] = field(default_factory=dict)

    def twice_error(self, graph: EvidenceGraph, pair: PairName, take: str) -> LatentError:
        """The error that this take had one pickup of a pair on both inputs."""
        group = self.group_of.get((pair, take), "")
        return graph.latent_error("one pickup twice", *pair, *([group] if group else []), on=OnPickups(pair))

    def with_factors(self, graph: EvidenceGraph, evidence: Sequence[Evidence]) -> list[Evidence]:
        """Paired plucks as evidence, the first of each group or pair with what they show of its errors."""
        said: set[LatentError | PairName] = set()
        told = []
        for piece in evidence:
            pair = _pair(piece.pickups)
            factors: list[Factor] = []
            if pair is not None:
                twice = self.twice_error(graph, pair, piece.takes[0])
                nats = self.twice.get((pair, "".join(twice.key[2:])))
                if nats is not None and twice not in said:
                    said.add(twice)
                    factors.append(Factor((twice,), np.array([0.0, nats])))
                if pair in self.beside and pair not in said:
                    said.add(pair)
                    errors = beside_errors(graph, pair)
                    log = np.full((2, 2), self.beside[pair])
                    log[0, 0] = 0.0
                    factors.append(Factor(errors, log))
                    if pair in self.misplaced:
                        misplaced = misplaced_error(graph, pair)
                        factors.append(Factor((misplaced,), np.array([0.0, self.misplaced[pair]])))
            told.append(replace(piece, factors=(*piece.factors, *factors)))
        return told


def channel_ratios(results: Iterable[TakeResult], *, placed: frozenset[str] = frozenset()) -> ChannelRatios:
    """What the usable takes show; ``placed``: pickups at known places, the same signs on all strings."""
    takes = [take for take in results if take.paired and not take.faults]
    gains = _gains(takes)
    shown: dict[PairName, list[tuple[TakeResult, ChannelRatio, float | None]]] = defaultdict(list)
    partials: dict[PairName, dict[str | None, PartialRatios]] = defaultdict(dict)
    for take in takes:
        for pluck in take.paired:
            first, second = (take.sources[k] for k in pluck.between)
            pair = _pair((first.pickup, second.pickup))
            if pair is None or pluck.ratio is None:
                continue
            gain = gains.get((take.entry.rig or NO_RIG, first.column, second.column))
            level = pluck.ratio.level_db
            turn = 1 if first.pickup == pair[0] else -1
            over = None if level is None or gain is None else turn * (level - gain)
            shown[pair].append((take, pluck.ratio, over))
            if pluck.ratio.partials is not None and take.entry.gesture == "pluck" and placed.issuperset(pair):
                told = pluck.ratio.partials if turn == 1 else pluck.ratio.partials.exchanged()
                string = partials[pair]
                string[take.entry.string] = max(string.get(take.entry.string, told), told, key=_fullest)
    twice: dict[tuple[PairName, str], float] = {}
    group_of: dict[tuple[PairName, str], str] = {}
    beside: dict[PairName, float] = {}
    for pair, plucks in shown.items():
        nats = _alike_by_take(plucks)
        levels = [over for *_, over in plucks if over is not None]
        bleed = bleed_ratio(-abs(float(np.mean(levels)))) if levels else 0.0
        bleed += same_level_ratio(float(np.mean(levels))) if levels else 0.0
        odd = {take for take, n in nats.items() if n >= SURELY_TWICE} if sum(nats.values()) <= 0 else set()
        for group, members in (("", set(nats) - odd), ("some takes", odd)):
            if members:
                total = sum(nats[take] for take in members) + bleed
                twice[pair, group] = float(np.clip(total, -ONCE_MOST, TWICE_MOST))
                group_of |= {(pair, take): group for take in members}
        nats_beside = _beside_nats(plucks, levels=placed.issuperset(pair))
        if nats_beside is not None:
            beside[pair] = nats_beside
    misplaced = {
        pair: float(np.clip(misplaced_ratio(list(by_string.values())), *MISPLACED_MOST))
        for pair, by_string in partials.items()
        if len(by_string) >= FEWEST_PLACED
    }
    return ChannelRatios(twice, group_of, beside, misplaced)


def _fullest(partials: PartialRatios) -> tuple[float, ...]:
    """Order of the plucks on one string: by how many partials are clear, whichever came first."""
    return (len(partials.numbers), *partials.level_db)


def beside_errors(graph: EvidenceGraph, pair: PairName) -> tuple[LatentError, LatentError]:
    """The errors that all strings run beside the poles of either pickup."""
    first, second = (graph.latent_error("strings beside poles", name, on=OnPickups((name,))) for name in pair)
    return first, second


def misplaced_error(graph: EvidenceGraph, pair: PairName) -> LatentError:
    """The error that the channels of a pair do not go with two pickups at their places."""
    return graph.latent_error("channels misplaced", *pair, on=OnPickups(pair))


def unless_misplaced(factor: Factor, error: LatentError) -> Factor:
    """The evidence ``factor``, unless ``error``: then takes agree as well, and say nothing of the signs."""
    return Factor(
        (error, *factor.variables), np.stack([factor.log, np.full(factor.log.shape, factor.log.max())])
    )


def probable_error_of_pair(posterior: Posterior, a: str, b: str) -> LatentError | None:
    """The likeliest of these errors behind the paired takes of two pickups, where one is probable at all."""
    mine = {
        e
        for e in posterior.graph.errors
        if (e.kind in ("one pickup twice", "channels misplaced") and {a, b} == set(e.key[:2]))
        or (e.kind == "strings beside poles" and e.key[0] in (a, b))
    }
    probable = {e: posterior.error_probability(e) for e in sorted(mine, key=str)}
    likeliest = max(probable, key=probable.__getitem__, default=None)
    return likeliest if likeliest is not None and probable[likeliest] >= NAMED_FROM else None


def or_beside_poles(factor: Factor, errors: tuple[LatentError, LatentError], *, press: bool) -> Factor:
    """The evidence ``factor`` of a product of signs, or, if either error happened, turned over.

    A press is turned over with ``PRESS_TURNED``. Both together cancel each other.
    """
    turned = -factor.log
    if press:
        turned = np.logaddexp(np.log1p(-PRESS_TURNED) + factor.log, np.log(PRESS_TURNED) - factor.log)
    log = np.stack([np.stack([factor.log, turned]), np.stack([turned, factor.log])])
    return Factor((*errors, *factor.variables), log)


def _pair(pickups: Iterable[str]) -> PairName | None:
    """Two different pickups in order; None for the two coils of one."""
    names = sorted(set(pickups))
    return (names[0], names[1]) if len(names) > 1 else None


def _gains(takes: Sequence[TakeResult]) -> dict[tuple[str, int, int], float]:
    """Gain of one channel over another, dB, by the split checks of each rig."""
    heard: dict[tuple[str, int, int], list[float]] = defaultdict(list)
    for take in takes:
        for pluck in take.paired if take.entry.is_split_check else ():
            if pluck.ratio is not None and pluck.ratio.level_db is not None:
                first, second = (take.sources[k].column for k in pluck.between)
                heard[take.entry.rig or NO_RIG, first, second].append(pluck.ratio.level_db)
    return {key: float(np.median(levels)) for key, levels in heard.items()}


def _alike_by_take(
    plucks: Sequence[tuple[TakeResult, ChannelRatio, float | None]],
) -> dict[str, float]:
    """Nats of each take for one pickup twice; the plucks of one take count as one."""
    by_take: dict[str, list[float]] = defaultdict(list)
    for take, ratio, _ in plucks:
        by_take[take.entry.id].append(float(np.clip(ratio.alike, -ALIKE_MOST, ALIKE_MOST)))
    return {take: float(np.mean(nats)) for take, nats in by_take.items()}


def _beside_nats(
    plucks: Sequence[tuple[TakeResult, ChannelRatio, float | None]], *, levels: bool
) -> float | None:
    """Nats for strings beside the poles of either pickup of a pair; None where no pluck tells."""
    struck = [(r, over) for take, r, over in plucks if take.entry.gesture == "pluck"]
    told = [(r.wander_db, r.uneven_db) for r, _ in struck]
    wander = [(w, u) for w, u in told if w is not None and u is not None]
    if not wander:
        return None
    nats = beside_ratio(float(np.mean([w for w, _ in wander])), uneven_db=min(u for _, u in wander))
    known = [over for _, over in struck if over is not None]
    if levels and known:
        nats += off_level_ratio(float(np.mean(known)))
    return float(np.clip(nats, -BESIDE_MOST, BESIDE_MOST))
