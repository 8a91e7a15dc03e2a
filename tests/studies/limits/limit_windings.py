"""Decisions about windings: hum on two inputs, hum by level, a driven coil; see limit_methods.

Task: noisy takes of a trial to one number a method, positive for "wound alike", None where nothing is said.
Shapes: takes (frames, channels) at ``RATE``. Units: Hz, log ratios. Signs: as in limit_takes.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from limit_strings import Said, Why, codes
from limit_takes import RATE, Trial
from numpy.typing import NDArray

from dsp.methods import driven_coil as driving
from dsp.methods import hum_windings as phases
from dsp.methods.driven_coil import analyse_drive, drive_ratio
from dsp.methods.hum import HumLines, analyse_hum, lines_together
from dsp.methods.hum_windings import hum_level_table, hum_phase_table
from dsp.model.settings import Mix, Source

Array = NDArray[np.float64]
ALONE = (Mix((Source(0),)), Mix((Source(1),)))
TOGETHER = Mix((Source(0), Source(1)))


def against(table: Array) -> float:
    """Log ratio "agree : opposed" of a table over two signs."""
    return float(table[0, 0] - table[0, 1])


def phase_score(lines: Sequence[HumLines | None]) -> float | None:
    """As dsp.methods.hum_windings has it, before anything is taken for drowned."""
    there = [(one, mix) for one, mix in zip(lines, ALONE, strict=True) if one is not None]
    if len(there) <= 1:
        return None
    alike, opposed = phases._pattern_likelihoods(there, count=2)
    return float(alike - opposed)


def mains_shown(trial: Trial, clean: Sequence[Array]) -> list[float]:
    """The mains frequency of each take."""
    found = []
    for x in clean:
        lines = [centred(x, column) for column in range(x.shape[1])]
        (one, *_) = lines_together(lines, stretches=[(0, len(x))] * len(lines), mains_hz=None)
        found.append(float("nan") if one is None else one.fundamental_hz)
    return found


def centred(x: Array, column: int) -> Array:
    return np.asarray(x[:, column] - x[:, column].mean())


def hum_inputs_heard(trial: Trial, takes: Sequence[Array]) -> tuple[Said, Why]:
    """One take of hum on two inputs."""
    found = analyse_hum(takes[0], rate=RATE, channels=(0, 1))
    a, b = found.channels
    if found.faults or a is None or b is None:
        return {"hum, two inputs": None}, codes(found.faults)
    return {"hum, two inputs": against(hum_phase_table(list(zip((a, b), ALONE, strict=True)), count=2))}, ()


def hum_inputs_told(trial: Trial, takes: Sequence[Array], shown: list[float]) -> Said:
    """The same, told the mains frequency; nothing is taken for drowned."""
    x = takes[0]
    both = [centred(x, 0), centred(x, 1)]
    lines = lines_together(both, stretches=[(0, len(x))] * 2, mains_hz=None, fundamental_hz=shown[0])
    return {"hum, two inputs": phase_score(lines)}


def hum_level_heard(trial: Trial, takes: Sequence[Array]) -> tuple[Said, Why]:
    """Levels of hum on a, on both, on b."""
    lines = []
    for x, mix in zip(takes, (ALONE[0], TOGETHER, ALONE[1]), strict=True):
        found = analyse_hum(x, rate=RATE, channels=(0,), may_cancel=() if mix.alone else (0,))
        if found.faults or found.channels[0] is None:
            return {"hum by level": None}, codes(found.faults)
        lines.append((found.channels[0], mix))
    return {"hum by level": against(hum_level_table(lines, count=2))}, ()


def hum_level_told(trial: Trial, takes: Sequence[Array], shown: list[float]) -> Said:
    """The same, told the mains frequency."""
    lines = []
    for x, mix, hz in zip(takes, (ALONE[0], TOGETHER, ALONE[1]), shown, strict=True):
        (one,) = lines_together([centred(x, 0)], stretches=[(0, len(x))], mains_hz=None, fundamental_hz=hz)
        if one is None:
            return {"hum by level": None}
        lines.append((one, mix))
    return {"hum by level": against(hum_level_table(lines, count=2))}


def drive_heard(trial: Trial, takes: Sequence[Array]) -> tuple[Said, Why]:
    """A driven coil over a, then over b."""
    a, b = (analyse_drive(x[:, 0], rate=RATE) for x in takes)
    said = None if a.turn is None or b.turn is None else drive_ratio(a, b)
    return {"drive": said}, codes((*a.faults, *b.faults))


def drive_told(trial: Trial, takes: Sequence[Array], shown: None) -> Said:
    """All frames of the take, in noise too: twice the first line's phase less the second's."""
    turns = []
    for x in takes:
        first, second, _ = driving._line_amplitudes(centred(x, 0), mains_hz=None)
        turns.append(complex(np.sum(first**2 * np.conj(second))))
    return {"drive": float(np.cos(np.angle(turns[0]) - np.angle(turns[1])))}
