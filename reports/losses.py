"""How much of the fundamental a setting loses, measured.

Task: for every setting of several pickups, its fundamental against what the pickups alone predict if they
add, from switch takes and from plucks on all of them. Units: dB, one standard deviation beside each.
Signs: 0 is full, negative is lost. A loss is a measurement to look at; it is no evidence by itself.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from capture.job import Job
from dsp.mixes import Mix, weights_of
from dsp.profiles.losses import fundamental_loss
from reports.belief.jack_groups import ProfileGroup
from reports.heard import HeardTake
from reports.jack import on_jack, settings_of

SWITCH_ERROR_DB = 2.0
"""One string through all settings: what is left is how the pickups load each other (assumed)."""


@dataclass(frozen=True)
class MeasuredLoss:
    """The loss of one setting's fundamental, with its error."""

    db: float
    error_db: float


def measured_losses(
    job: Job, heard: Sequence[HeardTake], groups: Sequence[ProfileGroup]
) -> dict[str, MeasuredLoss]:
    """The loss of each setting of several pickups that could be had, all takes weighed together."""
    each: dict[str, list[MeasuredLoss]] = defaultdict(list)
    for take in heard:
        for name, loss in _of_switch(job, take):
            each[name].append(loss)
    for group in groups:
        for name, mix in zip(group.jack.settings, group.jack.mixes, strict=True):
            found = None if mix.alone else fundamental_loss(group.plucks, mix)
            if found is not None:
                each[name].append(MeasuredLoss(found.loss_db, found.error_db))
    return {name: _together(losses) for name, losses in each.items()}


def _of_switch(job: Job, take: HeardTake) -> list[tuple[str, MeasuredLoss]]:
    """Losses from one switch take: settings of several pickups whose pickups were in the list alone too."""
    if take.switch is None or take.faults or not take.switch.levels_db:
        return []
    jack = on_jack(job, settings_of(take.entry.inputs), stage=take.entry.stage, fret=take.entry.fret)
    alone = {
        mix.sources[0].sign: level
        for mix, level in zip(jack.mixes, take.switch.levels_db, strict=True)
        if mix.alone and not math.isnan(level)
    }
    found = []
    for name, mix, level in zip(jack.settings, jack.mixes, take.switch.levels_db, strict=True):
        if mix.alone or math.isnan(level) or any(s.sign not in alone for s in mix.sources):
            continue
        found.append((name, MeasuredLoss(level - _adding_db(mix, alone), SWITCH_ERROR_DB)))
    return found


def _adding_db(mix: Mix, alone: dict[int, float]) -> float:
    """Level of the fundamental if all sources add."""
    parts = [w * 10 ** (alone[s.sign] / 20) for s, w in zip(mix.sources, weights_of(mix), strict=True)]
    return 20 * math.log10(sum(parts))


def _together(losses: Sequence[MeasuredLoss]) -> MeasuredLoss:
    """Mean weighed by error; the error is not taken below half of the smallest, for errors are shared."""
    weight = np.array([1 / one.error_db**2 for one in losses])
    mean = float(np.sum(weight * np.array([one.db for one in losses])) / weight.sum())
    least = min(one.error_db for one in losses) / 2
    return MeasuredLoss(mean, max(least, float(1 / np.sqrt(weight.sum()))))
