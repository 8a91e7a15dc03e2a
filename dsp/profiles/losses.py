"""How much of the fundamental a combination loses.

Task: the level of the fundamental with several sources on, against what the sources alone predict if all
of them add. Shapes: scalars. Units: dB; 0 is a full fundamental, negative is lost. Signs: all sources are
taken to add, whatever the table of dsp.profiles.profile says; a setting in which two oppose each other
loses several dB, all of it where they are alike.

The fundamental has no node under any pickup, so no place is needed. Plucks vary by about 3 dB each and
the shares of the sources are not known exactly: ``error_db`` is one standard deviation of both.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dsp.mixes import Mix
from dsp.profiles.groups import Group, ProfilePluck, alone_key, grouped, key_of
from dsp.profiles.sums import SETTING_DB, WEIGHT_DB, shares_of


@dataclass(frozen=True)
class Loss:
    """Loss of the fundamental in a setting: 0 dB full, negative lost; ``plucks``: of the setting itself."""

    mix: Mix
    loss_db: float
    error_db: float
    plucks: int


def fundamental_loss(plucks: Sequence[ProfilePluck], mix: Mix) -> Loss | None:
    """Loss in ``mix``; None where no note was heard in it and on each of its sources alone."""
    job = grouped(plucks)
    key = key_of(mix)
    scatter = float(job.scatter[0, 0])
    losses, errors, count = [], [], 0
    for note in job.notes(key):
        together = job.groups[key, note]
        alone = [job.groups.get((alone_key(s), note)) for s in together.mix.sources]
        rows = [group for group in alone if group is not None]
        if len(rows) < len(alone) or not all(g.usable[0] for g in [*rows, together]):
            continue
        loss, error = _loss(rows, together, scatter=scatter)
        losses.append(loss)
        errors.append(error)
        count += together.count
    if not losses:
        return None
    weight = 1 / np.square(errors)
    error = math.hypot(1 / math.sqrt(float(weight.sum())), SETTING_DB)
    return Loss(mix, float(np.average(losses, weights=weight)), error, count)


def _loss(alone: Sequence[Group], together: Group, *, scatter: float) -> tuple[float, float]:
    """Loss on one note and its standard deviation, the sources' errors in the part they have in the sum."""
    share = shares_of(together.mix, hz=np.array([together.f0_hz]))[:, 0]
    size = share * np.array([10 ** (g.mean_db[0] / 20) for g in alone])
    part = size / size.sum()
    expected = 20 * math.log10(float(size.sum()))
    drift = WEIGHT_DB * (part - share if together.mix.join == "parallel" else part)
    variance = sum(float(p) ** 2 * scatter / g.count for p, g in zip(part, alone, strict=True))
    variance += scatter / together.count + float(np.square(drift).sum())
    return float(together.mean_db[0]) - expected, math.sqrt(variance)
