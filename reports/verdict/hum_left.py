"""How much hum is left in a setting of two single coils, per mains line, and what that was reckoned from.

As it was heard, where hum of the setting and of both pickups alone was recorded. Else from the network of the
two (dsp.model.hum_left) with what is known of the coils: turns in job.toml, else how loud each hums alone,
else the ohms of both, as if they had one wire and one shape. Without any of these there is no number.
Units: dB re the louder pickup alone, Hz. Sign: whether the two cancel is what the verdict says of the
setting; where it does not know, there is no number.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from capture.job import Job, Setting
from dsp.methods.hum import NUMBERS
from dsp.model.hum_left import USUAL_TURNS, HumCoil, hum_left_db, turns_of_ohm
from reports.inference.jack import HumGroup
from reports.model.notes import HumLeft, HumLeftBasis
from reports.model.verdict import SettingVerdict

Array = NDArray[np.float64]

USUAL_MAINS_HZ = 50
PAIR = 2
SHOWN = (1, 5)
"""The lines of the sentence: the first, and one of those that are heard best."""
LEVEL_SNR = 4.0
"""Standard deviations from which on a line's level is told."""


def settings_with_hum_left(
    job: Job, rows: Sequence[SettingVerdict], *, kohm: Mapping[str, float], hums: Sequence[HumGroup]
) -> tuple[SettingVerdict, ...]:
    """The rows of the settings, each with the hum that is left where it was heard or can be reckoned."""
    measured = [_levels_db(group) for group in hums]
    return tuple(_with_hum_left(job, row, kohm=kohm, measured=measured) for row in rows)


def _levels_db(group: HumGroup) -> dict[str, Array]:
    """Mean level of each mains line on each setting of one group, dB, (lines,); NaN where it is not clear.

    What cancels is not clear: there the noise stands for it.
    """
    alone = {name: mix.alone for name, mix in zip(group.jack.settings, group.jack.mixes, strict=True)}
    each: dict[str, list[Array]] = defaultdict(list)
    for name, lines in zip(group.settings, group.lines, strict=True):
        size, floor = np.abs(lines.amplitudes), LEVEL_SNR * lines.error
        heard = np.where(size > floor, size, np.nan) if alone[name] else np.maximum(size, lines.error)
        each[name].append(20 * np.log10(np.where(np.isfinite(heard), heard, np.nan)))
    return {name: np.asarray(np.mean(levels, axis=0)) for name, levels in each.items()}


def _heard_db(row: str, names: Sequence[str], measured: Sequence[Mapping[str, Array]]) -> Array | None:
    """Lines of a setting re the louder of its pickups alone, dB, (lines,); None where not all were heard."""
    found = [at[row] - np.fmax(*(at[n] for n in names)) for at in measured if {row, *names} <= set(at)]
    if not found or not np.isfinite(mean := np.mean(found, axis=0)).any():
        return None
    return np.asarray(mean)


def _louder_db(names: Sequence[str], measured: Sequence[Mapping[str, Array]]) -> float | None:
    """How much louder the first of two pickups hums alone than the second, dB."""
    a, b = names
    found = [
        float(np.nanmedian(at[a] - at[b])) for at in measured if a in at and b in at and _any(at[a] - at[b])
    ]
    return float(np.mean(found)) if found else None


def _any(levels: Array) -> bool:
    return bool(np.isfinite(levels).any())


@dataclass(frozen=True)
class _TwoCoils:
    a: HumCoil
    b: HumCoil
    basis: HumLeftBasis


def _with_hum_left(
    job: Job,
    row: SettingVerdict,
    *,
    kohm: Mapping[str, float],
    measured: Sequence[Mapping[str, Array]],
) -> SettingVerdict:
    setting = job.setting(row.name)
    names = () if setting is None else _two_single_coils(job, setting)
    if setting is None or not names or row.hum == "unknown":
        return row
    hz = [n * (job.mains_hz or USUAL_MAINS_HZ) for n in NUMBERS]
    basis: HumLeftBasis = "heard"
    left = _heard_db(row.name, names, measured)
    if left is None and not setting.plain:  # what a knob lets through is not reckoned
        return row
    if left is None:
        coils = _two_coils(job, names, kohm=kohm, louder=_louder_db(names, measured))
        if coils is None:
            return row
        basis = coils.basis
        left = hum_left_db(coils.a, coils.b, join=setting.join, opposed=row.hum == "cancels", hz=hz)
    known = {line: round(float(db), 1) for line, db in zip(hz, left, strict=True) if np.isfinite(db)}
    shown = tuple(
        (hz[NUMBERS.index(n)], known[hz[NUMBERS.index(n)]]) for n in SHOWN if hz[NUMBERS.index(n)] in known
    )
    said = (HumLeft(shown, basis),) if row.hum == "cancels" and shown else ()
    return row.model_copy(
        update={
            "hum_left_db": {f"{line}": db for line, db in known.items()},
            "hum_left_from": basis,
            "notes": (*row.notes, *said),
        }
    )


def _two_single_coils(job: Job, setting: Setting) -> tuple[str, ...]:
    """Names of the two pickups of a setting that has just two, each of one coil; none else."""
    pickups = [job.pickup(m.pickup) for m in setting.on]
    names = tuple(dict.fromkeys(p.name for p in pickups if p is not None and p.made.hums))
    return names if len(names) == len(setting.on) == PAIR else ()


def _two_coils(
    job: Job, names: Sequence[str], *, kohm: Mapping[str, float], louder: float | None
) -> _TwoCoils | None:
    ohm = [kohm[n] * 1e3 if n in kohm else None for n in names]
    turns = [None if (p := job.pickup(n)) is None else p.turns for n in names]
    basis: HumLeftBasis
    if turns[0] and turns[1]:
        many, basis = [float(turns[0]), float(turns[1])], "turns"
    elif louder is not None:
        many, basis = [USUAL_TURNS * 10 ** (sign * louder / 40) for sign in (1, -1)], "levels"
    elif ohm[0] and ohm[1]:
        many, basis = [turns_of_ohm(ohm[0]), turns_of_ohm(ohm[1])], "ohms"
    else:
        return None
    known = ohm if ohm[0] and ohm[1] else [None, None]
    a, b = (HumCoil.of(n, r_ohm=r) for n, r in zip(many, known, strict=True))
    return _TwoCoils(a, b, basis)
