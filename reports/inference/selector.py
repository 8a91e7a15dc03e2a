"""Doubts about what was on the jack, and whose name a take has: they are shared by all methods.

Everything that goes through a selector (plucks, switch takes, hum, profiles) rests on its list. The list may
be wrong as a whole: written from the wrong end, one position off, a pickup that is not connected at all. With
three pickups or more, two of them may be taken for each other in all takes that name one pickup an input
(between two pickups alone their relation is the same by either name). All of that is then about other
pickups: takes still agree with each other, and say nothing of those that they name. Or one position holds
something else, and what rests on it says nothing at all. What tells is reports.inference.places. Sign: none
of these errors turns a sign over.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from capture.job import Job
from reports.inference.evidence_graph import EvidenceGraph, HeardSign, LatentError, Observation, UnknownSign
from reports.inference.factor_graph import Factor
from reports.model.gestures import SignLetter
from reports.model.notes import OnPickups, OnSettings

LETTERS: tuple[SignLetter, SignLetter] = ("s", "w")
FEWEST_TO_MISTAKE = 3
"""So many pickups have to be there before taking two of them for each other changes anything."""


def through_selector(job: Job, name: str) -> bool:
    """Whether a setting is a position of the selector; a loose pickup by itself is not."""
    setting = job.setting(name)
    if setting is None:
        return False
    fitted = [p.fitted for m in setting.on if (p := job.pickup(m.pickup)) is not None]
    return len(setting.on) > 1 or any(fitted)


def list_error(graph: EvidenceGraph) -> LatentError:
    """The chance that the whole list of the selector is wrong."""
    job = graph.history.job
    listed = tuple(name for name in job.setting_names if through_selector(job, name))
    return graph.latent_error("selector list", on=OnSettings(listed))


def position_error(graph: EvidenceGraph, name: str) -> LatentError:
    """The chance that one position of the selector holds something else than the job says."""
    return graph.latent_error("settings", name, on=OnSettings((name,)))


def names_error(graph: EvidenceGraph) -> LatentError:
    """The chance that two pickups were taken for each other in everything recorded under their names."""
    names = tuple(p.name for p in graph.history.job.own_pickups)
    return graph.latent_error("pickup names", on=OnPickups(names))


def list_doubts(graph: EvidenceGraph, settings: Iterable[str]) -> list[LatentError]:
    """The errors by which evidence that rests on these settings is about other pickups.

    Of two pickups alone the relation is the same by either end of the list.
    """
    job = graph.history.job
    listed = len(job.own_pickups) >= FEWEST_TO_MISTAKE and any(through_selector(job, s) for s in settings)
    return [list_error(graph)] if listed else []


def position_doubts(graph: EvidenceGraph, settings: Iterable[str]) -> list[LatentError]:
    """The errors by which evidence that rests on these settings says nothing."""
    positions = sorted({s for s in settings if through_selector(graph.history.job, s)})
    return [position_error(graph, name) for name in positions]


def name_doubts(graph: EvidenceGraph) -> list[LatentError]:
    """The errors by which evidence on pickups by their names is about other pickups."""
    return [names_error(graph)] if len(graph.history.job.own_pickups) >= FEWEST_TO_MISTAKE else []


def heard_by_name(graph: EvidenceGraph, observation: Observation) -> HeardSign:
    """The sign with which an input hears a pickup by its name, or another one if names were mistaken."""
    variable = graph.heard(observation)
    tie = graph.ties[variable]
    missing = [error for error in name_doubts(graph) if error not in tie.variables]
    graph.ties[variable] = or_elsewhere(tie, missing)
    return variable


def or_nothing(factor: Factor, doubts: Sequence[LatentError]) -> Factor:
    """The same factor, or nothing said if one of the errors happened."""
    log, variables = factor.log, factor.variables
    nothing = float(np.logaddexp.reduce(log, axis=None) - np.log(log.size))
    for error in doubts:
        log = np.stack([log, np.full(log.shape, nothing)])
        variables = (error, *variables)
    return Factor(variables, log)


def or_elsewhere(factor: Factor, doubts: Sequence[LatentError]) -> Factor:
    """The same factor, or the same of other pickups, of which nothing is known, if one error happened."""
    for error in doubts:
        signs = {
            k: v for k, v in enumerate(factor.variables) if isinstance(v, UnknownSign) and v.letter in LETTERS
        }
        others = [replace(v, letter=f"{v.letter} elsewhere") for v in signs.values()]
        here = factor.log.reshape((1,) * len(others) + factor.log.shape)
        there = here
        for axis, place in enumerate(signs):
            there = np.swapaxes(there, axis, len(others) + place)
        variables = (*others, *factor.variables)
        shape = (2,) * len(variables)
        factor = Factor((error, *variables), np.stack([np.broadcast_to(f, shape) for f in (here, there)]))
    return factor
