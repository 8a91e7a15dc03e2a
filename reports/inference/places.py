"""Which pickup was heard: what places say of the selector's list, of each position, and of pickups' names.

Task: from the levels of all plucks of a job to log-likelihood ratios that (1) the list of the selector is
wrong as a whole (from the wrong end, one position off, one pickup silent), (2) one position holds something
else, (3) two pickups were taken for each other on the inputs; and to the place where each pickup was heard.
Units: mm from the bridge, natural logarithms. Sign: none; the sign of a sum is summed over.

Every pluck has a likelihood under each content of the jack that it may have had (dsp.methods.place), at
sampled places: normal about the typed ones, or, where none was typed, about where a pickup of that name sits
in the trade's words. One sample of the places and one pattern of signs holds for all plucks. What one pluck
says is capped, and what a job says again (sources S7, S8). A position of several pickups places none.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import combinations
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from capture.job import Job
from dsp.methods.place import (
    PLACES_MM,
    HeardPluck,
    PlaceEstimate,
    log_likelihoods,
    place_estimate,
    sounding_length,
    sum_template,
)
from dsp.methods.profile import PluckLevels
from dsp.model.quasi_random import sobol_points
from dsp.model.settings import STRENGTH_DB, TOLERANCE_MM, USUAL_SCALE_MM, sign_patterns
from reports.evidence.results import NO_RIG, HeardLevels, TakeResult
from reports.evidence.settings import impossible_places, place_word, rows_of
from reports.inference.evidence_graph import Evidence, EvidenceGraph
from reports.inference.factor_graph import Factor
from reports.inference.selector import FEWEST_TO_MISTAKE, through_selector
from reports.model.gestures import PLACES

Array = NDArray[np.float64]
Content = tuple[str, ...]
"""What a channel carried: names of pickups, sorted."""

SAMPLES_LOG2 = 5
FAR_OFF_SHARE, FAR_OFF_MM = 0.15, 15.0
"""So many typed places are off by this much: a ruler held to another edge, a pickup moved."""
NAMED_PLACES = {"bridge": (0.065, 0.014), "middle": (0.150, 0.022), "neck": (0.245, 0.022)}
"""Where a pickup of that name sits, part of the open string, and its standard deviation (S3; common
practice)."""
ANYWHERE = (0.155, 0.06)
PLUCK_CAP = 3.5
"""One pluck says no more than this for one content against another."""
LEVEL_TRUST = 0.5
STROKE_DB = 4.0
STRING_DB = 25.0
SUM_DB = 6.0
"""Loudness: of one stroke against another, of strings, and of a sum whose pickups may oppose each other."""
LEVELS_FREEDOM = 6.0
MIRRORED_WEIGHT = 3.0
"""A list from the wrong end is the likeliest way of getting it wrong as a whole (assumed)."""
TURNED_PRIOR = 0.004
"""A list from the wrong end where that changes nothing: then it is part of what is sound."""
MOST_LIST_NATS = (-5.0, 9.0)
MOST_POSITION_NATS = (-4.0, 8.0)
"""What a job says at most against, and for, such a mistake."""
MOST_PLUCKS = 24
MOST_KEPT = 30_000
"""Likelihoods that are kept, of some hundred bytes each: a session asks after every take."""


@dataclass(frozen=True)
class Hearing:
    """One pluck with what was said to be on each channel, or each stretch, that heard it.

    ``said``: a setting's name, or a pickup's; ``group``: what it may be compared with in loudness.
    """

    take: str
    said: tuple[str, ...]
    selector: bool
    group: tuple[str, ...]
    pluck: HeardPluck


def hearings(job: Job, results: Sequence[TakeResult]) -> list[Hearing]:
    """Every pluck whose levels were heard, with what the log says was on the jack or on the inputs."""
    out = []
    for take in (t for t in results if not t.faults and not t.entry.is_split_check):
        scale = job.sounding_mm(string=take.entry.string)
        length = sounding_length(scale, take.entry.fret)
        entry = take.entry
        group = (entry.rig or NO_RIG, entry.stage, entry.gesture, entry.string or "", str(entry.fret))
        heard: list[tuple[tuple[str, ...], tuple[PluckLevels, ...]]]
        heard = [((p.setting,), (p.levels,)) for p in take.plucks]
        for number in dict.fromkeys(h.pluck for h in take.heard):
            mine = [h for h in take.heard if h.pluck == number]
            heard.append((tuple(_said(take, h) for h in mine), tuple(h.levels for h in mine)))
        for said, levels in heard:
            pluck = HeardPluck(
                np.stack([one.levels_db for one in levels]),
                np.stack([one.usable for one in levels]),
                length,
                levels[0].f0_hz,
            )
            selector = all(through_selector(job, name) for name in said) and not take.paired
            if selector or take.paired:
                out.append(Hearing(entry.id, said, selector, group, pluck))
    return out


def _said(take: TakeResult, heard: HeardLevels) -> str:
    return heard.setting or take.sources[heard.source or 0].pickup


@dataclass(frozen=True)
class WhereItSits:
    """The prior of a pickup's place: mean and standard deviation, mm; ``typed`` or known by name alone."""

    mm: float
    error_mm: float
    typed: bool


def named_place(job: Job, name: str) -> WhereItSits | None:
    """Where a pickup of that name sits; None for a name that says nothing."""
    word = place_word(name)
    if word is None:
        return None
    middle, spread = NAMED_PLACES[word]
    scale = job.scale_mm or USUAL_SCALE_MM
    return WhereItSits(middle * scale, spread * scale, typed=False)


def where_it_sits(job: Job, name: str) -> WhereItSits | None:
    """The prior of a pickup's place, from what was typed, unless it cannot be, else from its name."""
    pickup = job.pickup(name)
    if pickup is not None and pickup.centre_mm is not None and name not in impossible_places(job):
        slant = (max(pickup.centres_mm) - min(pickup.centres_mm)) / 2 if pickup.centres_mm else 0.0
        return WhereItSits(pickup.centre_mm, TOLERANCE_MM + slant, typed=True)
    return named_place(job, name)


@dataclass(frozen=True, eq=False)
class PluckLikelihood:
    """Log likelihood of one pluck under one content, at each sample of the places.

    ``log``: (distinct, samples) for signs that sound differently; ``distinct``: (patterns,) which of these
    every pattern of signs is; ``loudness``: dB.
    """

    log: Array
    distinct: NDArray[np.intp]
    loudness: float

    @cached_property
    def total(self) -> float:
        """Log of the sum over all patterns and samples."""
        top = float(self.log.max())
        each = np.exp(self.log - top).sum(axis=1)
        return top + float(np.log(np.bincount(self.distinct) @ each))


@dataclass(eq=False)
class ContentLikelihoods:
    """Log likelihood of every pluck under every content, at all samples and signs, when asked for.

    ``pickups``: the name of each, where it sits, and how many rows of poles it has.
    """

    pickups: tuple[tuple[str, WhereItSits, int], ...]
    _cache: dict[tuple[HeardPluck, tuple[Content, ...]], PluckLikelihood] = field(default_factory=dict)
    _templates: dict[tuple[Content, tuple[int, ...], float], Array] = field(default_factory=dict)
    _signs: dict[tuple[Content, ...], tuple[tuple[int, ...], NDArray[np.intp]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Draw the samples: always the same ones."""
        self.names = tuple(name for name, *_ in self.pickups)
        self.places = {name: place for name, place, _ in self.pickups}
        count = len(self.names)
        drawn = sobol_points(2 * count + 1, log2_points=SAMPLES_LOG2, seed=1)
        points = np.clip(drawn, 1e-4, 1 - 1e-4)
        normal = np.vectorize(NormalDist().inv_cdf, otypes=[np.float64])(points)
        far = points[:, -1:] < FAR_OFF_SHARE
        typed = np.array([self.places[n].typed for n in self.names])
        error = np.array([self.places[n].error_mm for n in self.names])
        spread = np.where(far & typed, FAR_OFF_MM, error)
        middle = np.array([self.places[n].mm for n in self.names])
        self.mm = np.maximum(middle + spread * normal[:, :count], 15.0)
        self.strength = 10 ** (STRENGTH_DB * normal[:, count:-1] / 20)
        self.patterns = sign_patterns(count)

    def of(self, pluck: HeardPluck, wanted: Iterable[tuple[Content, ...]]) -> list[PluckLikelihood]:
        """The likelihoods of a pluck under each of the contents that are wanted."""
        asked = list(wanted)
        if len(self._cache) > MOST_KEPT:
            self._cache.clear()
        new = [c for c in dict.fromkeys(asked) if (pluck, c) not in self._cache]
        if new:
            rows = [self._rows(contents, pluck.length_mm) for contents in new]
            log, loud = log_likelihoods(pluck, np.concatenate(rows))
            ends = np.cumsum([len(one) for one in rows])[:-1]
            for contents, logs, louds in zip(new, np.split(log, ends), np.split(loud, ends), strict=True):
                share = np.exp(logs - logs.max())
                loudness = float((share * louds).sum() / share.sum())
                by_signs = logs.reshape(-1, len(self.mm))
                self._cache[pluck, contents] = PluckLikelihood(
                    by_signs, self._distinct(contents)[1], loudness
                )
        return [self._cache[pluck, contents] for contents in asked]

    def _distinct(self, contents: tuple[Content, ...]) -> tuple[tuple[int, ...], NDArray[np.intp]]:
        """Patterns that differ only in the sign of pickups that are not added up are the same.

        The first of each, and for every pattern (patterns,) which of these it is.
        """
        if contents not in self._signs:
            index = [[self.names.index(n) for n in content] for content in contents]
            relative = [tuple(int(p[k] * p[c[0]]) for c in index for k in c[1:]) for p in self.patterns]
            first = {key: i for i, key in reversed(list(enumerate(relative)))}
            number = {key: k for k, key in enumerate(first)}
            self._signs[contents] = tuple(first.values()), np.array([number[key] for key in relative])
        return self._signs[contents]

    def _rows(self, contents: tuple[Content, ...], length_mm: float) -> Array:
        """The templates of every distinct pattern and sample, (patterns x samples, channels, harmonics)."""
        return np.concatenate(
            [
                np.stack([self._template(c, self.patterns[i], length_mm) for c in contents], axis=1)
                for i in self._distinct(contents)[0]
            ]
        )

    def _template(self, content: Content, pattern: Array, length_mm: float) -> Array:
        at = [self.names.index(name) for name in content]
        key = content, tuple(int(pattern[k] * pattern[at[0]]) for k in at), length_mm
        if key not in self._templates:
            self._templates[key] = self._made_template(content, at, pattern, length_mm)
        return self._templates[key]

    def _made_template(self, content: Content, at: Sequence[int], pattern: Array, length_mm: float) -> Array:
        weights = np.stack([pattern[k] * self.strength[:, k] for k in at])
        weights = np.ones_like(weights) if len(at) == 1 else weights / np.abs(weights).sum(axis=0)
        rows = [self.pickups[k][2] for k in at]
        return sum_template(weights, [self.mm[:, k] / length_mm for k in at], rows=rows, length_mm=length_mm)


@dataclass(frozen=True)
class Story:
    """What may have been on the jack: for each name that was said, what it really held."""

    code: str
    holds: Mapping[str, Content]
    weight: float = 1.0
    subject: str = ""


def story_logs(
    likelihoods: ContentLikelihoods, heard: Sequence[Hearing], stories: Sequence[Story], *, levels: bool
) -> Array:
    """Log likelihood of each story, (stories,): every pluck capped, places and signs summed over."""
    loud = []
    total = np.zeros((len(stories), len(likelihoods.patterns), len(likelihoods.mm)))
    size = total[0].size
    for pluck, said in ((one.pluck, one.said) for one in heard):
        got = likelihoods.of(pluck, [tuple(s.holds[name] for name in said) for s in stories])
        least = max(one.total for one in got) - np.log(size) - PLUCK_CAP * len(said)
        capped = {id(one): np.logaddexp(one.log, least)[one.distinct] for one in got}
        for number, one in enumerate(got):
            total[number] += capped[id(one)]
        loud.append([one.loudness for one in got])
    top = total.max(axis=(1, 2))
    shape = top + np.log(np.exp(total - top[:, np.newaxis, np.newaxis]).sum(axis=(1, 2)))
    if levels:
        each = np.array(loud)
        shape = shape + [
            _loudness_log(likelihoods.names, heard, each[:, k], story) for k, story in enumerate(stories)
        ]
    return np.asarray(shape)


def _loudness_log(names: Sequence[str], heard: Sequence[Hearing], loud: Array, story: Story) -> float:
    """How well one strength for each pickup explains the loudness of the plucks, one string with another."""
    used = [k for k, h in enumerate(heard) if len(h.said) == 1 and np.isfinite(loud[k])]
    if len(used) < 2:
        return 0.0
    holds = np.array([[name in story.holds[heard[k].said[0]] for name in names] for k in used], dtype=float)
    many = holds.sum(axis=1)
    holds /= many[:, np.newaxis]
    groups = list(dict.fromkeys(heard[k].group for k in used))
    number = np.array([groups.index(heard[k].group) for k in used])
    same = np.equal.outer(number, number)
    covariance = (
        STRING_DB**2 * same
        + STRENGTH_DB**2 * holds @ holds.T
        + np.diag(STROKE_DB**2 + SUM_DB**2 * (many > 1))
        + 4 * STRING_DB**2
    )
    y = loud[used] - loud[used].mean()
    squares = float(y @ np.linalg.solve(covariance, y))
    spread = 0.5 * (LEVELS_FREEDOM + len(y)) * np.log1p(squares / LEVELS_FREEDOM)
    return float(-LEVEL_TRUST * (spread + 0.5 * np.linalg.slogdet(covariance)[1]))


def contents_of(job: Job, names: Iterable[str]) -> dict[str, Content] | None:
    """What each setting or pickup holds as listed."""
    out = {}
    for name in names:
        setting = job.setting(name)
        if setting is None:
            return None
        out[name] = tuple(sorted({m.pickup for m in setting.on}))
    return out


def list_stories(places: Mapping[str, WhereItSits], listed: Mapping[str, Content]) -> list[Story]:
    """Every way in which the list may be wrong as a whole."""
    order = sorted(places, key=lambda n: places[n].mm)
    turned = dict(zip(order, reversed(order), strict=True))
    out = [
        Story(
            "mirrored", {k: tuple(sorted(turned[n] for n in c)) for k, c in listed.items()}, MIRRORED_WEIGHT
        )
    ]
    positions = sorted(listed, key=lambda s: float(np.mean([places[n].mm for n in listed[s]])))
    if len(positions) > 2:
        last = len(positions) - 1
        for step, code in ((-1, "one position off"), (1, "one position off")):
            moved = {name: listed[positions[min(max(k + step, 0), last)]] for k, name in enumerate(positions)}
            out.append(Story(code, moved))
    for silent in order:
        if any(silent in c for c in listed.values()):
            others = tuple(sorted(set(order) - {silent}))
            left = {k: tuple(n for n in c if n != silent) or others for k, c in listed.items()}
            out.append(Story("silent", left, subject=silent))
    return [s for s in out if s.holds != listed]


def position_stories(names: Sequence[str], listed: Mapping[str, Content]) -> list[Story]:
    """Every other content that a single position may have: another position's, or one pickup."""
    contents = [*dict.fromkeys([*listed.values(), *((n,) for n in names)])]
    return [
        Story("position", {**listed, position: content}, subject=position)
        for position in listed
        for content in contents
        if content != listed[position]
    ]


def name_stories(names: Sequence[str]) -> list[Story]:
    """Every two pickups taken for each other."""
    return [
        Story("exchanged", {n: ({a: b, b: a}.get(n, n),) for n in names}, subject=f"{a}/{b}")
        for a, b in combinations(names, 2)
    ]


@dataclass(frozen=True, eq=False)
class PlacesHeard:
    """What the places say, as log-likelihood ratios against "as the job says", capped.

    ``list_nats``: the selector's list is wrong as a whole; ``positions``: one position, by name;
    ``names_nats``: two pickups were taken for each other on the inputs; ``estimates``: where each pickup was
    heard alone; ``turned_nats``: the list, or two inputs, the wrong way round, where that changes nothing.
    """

    list_nats: float = 0.0
    positions: Mapping[str, float] = field(default_factory=dict)
    names_nats: float = 0.0
    turned_nats: float = 0.0
    estimates: Mapping[str, PlaceEstimate] = field(default_factory=dict)
    takes: tuple[str, ...] = ()


def places_heard(job: Job, results: Sequence[TakeResult]) -> PlacesHeard:
    """Weigh every pluck of a job against what its entries say was heard."""
    return _places_heard(job, tuple(hearings(job, results)))


@lru_cache(maxsize=8)
def _places_heard(job: Job, heard: tuple[Hearing, ...]) -> PlacesHeard:
    """The same, kept: a session asks again and again about the same takes."""
    if not heard:
        return PlacesHeard()
    places: dict[str, WhereItSits] = {}
    unknown = set()
    scale = job.scale_mm or USUAL_SCALE_MM
    for pickup in job.pickups:
        place = where_it_sits(job, pickup.name)
        if place is None:
            unknown.add(pickup.name)
            place = WhereItSits(ANYWHERE[0] * scale, ANYWHERE[1] * scale, typed=False)
        places[pickup.name] = place
    likelihoods = _likelihoods(tuple((name, place, rows_of(job, name)) for name, place in places.items()))
    few = len(places) < FEWEST_TO_MISTAKE
    switched = [h for h in heard if h.selector]
    list_nats, positions, turned = _selector_nats(job, likelihoods, switched, unknown=unknown, few=few)
    paired = [h for h in heard if not h.selector]
    names_nats = 0.0
    if paired and not unknown:
        stories = name_stories(tuple(places))
        logs = story_logs(
            likelihoods, paired, [Story("named", {n: (n,) for n in places}), *stories], levels=False
        )
        nats = _mean_log(logs[1:] - logs[0], np.ones(len(stories)))
        names_nats, turned = (0.0, max(turned, nats)) if few else (nats, turned)
    return PlacesHeard(
        list_nats=float(np.clip(list_nats, *MOST_LIST_NATS)),
        positions={name: float(np.clip(nats, *MOST_POSITION_NATS)) for name, nats in positions.items()},
        names_nats=float(np.clip(names_nats, *MOST_LIST_NATS)),
        turned_nats=float(turned),
        estimates=_estimates(job, heard),
        takes=tuple(dict.fromkeys(h.take for h in heard)),
    )


@lru_cache(maxsize=4)
def _likelihoods(pickups: tuple[tuple[str, WhereItSits, int], ...]) -> ContentLikelihoods:
    """Those of some pickups, kept: what was found and what came after the work are the same plucks."""
    return ContentLikelihoods(pickups)


def _selector_nats(
    job: Job, likelihoods: ContentLikelihoods, heard: Sequence[Hearing], *, unknown: set[str], few: bool
) -> tuple[float, dict[str, float], float]:
    """For the list as a whole, for each position, and for a list the wrong way round that changes nothing."""
    said = dict.fromkeys(name for h in heard for name in h.said)
    listed = contents_of(job, said)
    if len(said) < 2 or listed is None:
        return 0.0, {}, 0.0
    whole = [] if unknown else list_stories(likelihoods.places, listed)
    single = position_stories(likelihoods.names, listed)
    stories = [Story("listed", listed), *whole, *single]
    logs = story_logs(likelihoods, heard, stories, levels=True)
    harmful = [k for k, s in enumerate(stories) if s in whole and not (few and s.code == "mirrored")]
    turned = [logs[k] for k, s in enumerate(stories) if s.code == "mirrored" and k not in harmful]
    turned_nats = max(turned, default=logs[0]) - logs[0]
    logs = logs - (np.logaddexp(0.0, turned_nats + np.log(TURNED_PRIOR)) + logs[0] if turned else logs[0])
    total = _mean_log(logs[harmful], np.array([stories[k].weight for k in harmful])) if harmful else 0.0
    positions = {}
    for name in said:
        mine = [k for k, s in enumerate(stories) if s.code == "position" and s.subject == name]
        if mine:
            positions[name] = _mean_log(logs[mine], np.ones(len(mine)))
    return total, positions, turned_nats


def _mean_log(logs: Array, weights: Array) -> float:
    return float(np.logaddexp.reduce(logs + np.log(weights / weights.sum())))


def _estimates(job: Job, heard: Sequence[Hearing]) -> dict[str, PlaceEstimate]:
    """Where each pickup was heard by itself; a position of several places none."""
    by_name: dict[str, list[HeardPluck]] = {}
    for one in heard:
        contents = contents_of(job, one.said) or {}
        for row, name in enumerate(one.said):
            content = contents.get(name, ())
            if len(content) == 1:
                p = one.pluck
                alone = HeardPluck(p.levels_db[row : row + 1], p.usable[row : row + 1], p.length_mm, p.f0_hz)
                by_name.setdefault(content[0], []).append(alone)
    estimates = {}
    for name, plucks in by_name.items():
        found = place_estimate(plucks[:MOST_PLUCKS], rows=rows_of(job, name), prior=_log_prior(job, name))
        if found is not None:
            estimates[name] = found
    return estimates


def _log_prior(job: Job, name: str) -> Array | None:
    """What a pickup's name alone says of its place, at each place that is tried."""
    place = named_place(job, name)
    return None if place is None else -0.5 * np.square((PLACES_MM - place.mm) / place.error_mm)


def add_place_evidence(graph: EvidenceGraph, heard: PlacesHeard) -> None:
    """Add what the places say of the list, of positions and of names to the graph, where those matter."""
    factors = []
    whole = [e for e in graph.errors if e.kind == "selector list"]
    for error in whole:
        factors.append(Factor((error,), np.array([0.0, heard.list_nats])))
    for error in [e for e in graph.errors if e.kind == "settings"]:
        nats = heard.positions.get(error.key[0], 0.0)
        alone = Factor((error,), np.array([0.0, nats]))
        factors.append(Factor((*whole, error), np.stack([alone.log, np.zeros(2)])) if whole else alone)
    factors += [
        Factor((error,), np.array([0.0, heard.names_nats]))
        for error in graph.errors
        if error.kind == "pickup names"
    ]
    if factors and heard.takes:
        graph.evidence.append(Evidence(PLACES, tuple(factors), frozenset(), takes=heard.takes, letter=PLACES))
