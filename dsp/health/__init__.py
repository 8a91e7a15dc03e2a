"""Faults of pickups, knobs and selectors that are no matter of polarity, from levels of plucks.

Task: find a pickup that is thin alone (series capacitor, open coil), shorted, far weaker, dull, split by
accident, and two settings that cannot be told apart. Shapes: levels (harmonics,) a pluck. Units: dB re full
scale, Hz, mm. Sign: levels carry none.
Sources: R8, S1, S3, C1, P1, P2.

A volume or tone knob that all settings go through cannot be found from levels: the person has to be asked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dsp.health.levels import HealthFinding, HealthPluck
from dsp.health.pickups import (
    TWIN_PROBABLE,
    SettingSimilarity,
    faulty_settings,
    humming_settings,
    setting_similarities,
    twin_settings,
)
from dsp.signal.codes import HealthCode

__all__ = ["HealthFinding", "HealthPluck", "SettingSimilarity", "findings", "setting_similarities"]

PERHAPS = 0.2
"""The selector was perhaps not moved: a balance that does not fit the place may be another place's."""
WEAK: frozenset[HealthCode] = frozenset({"open coil", "shorted coil", "far weaker"})
"""These say how weak a setting is, and that is no matter of place."""


def findings(
    plucks: Sequence[HealthPluck],
    *,
    hum_db: Mapping[str, float] | None = None,
    similarities: Sequence[SettingSimilarity] | None = None,
) -> tuple[HealthFinding, ...]:
    """All that is not as it should be; empty where nothing is sure.

    ``plucks``: of all settings, on one jack with one gain. ``hum_db``: level of the hum on settings, strings
    damped, dB re full scale, by setting. ``similarities``: those of the plucks, where they are known already.
    """
    faulty = faulty_settings([p for p in plucks if p.mix.alone])
    maybe = twin_settings(
        setting_similarities(plucks) if similarities is None else similarities, least=PERHAPS
    )
    elsewhere = {s for t in maybe if _both_alone(t, plucks) for s in (t.setting, t.other)}
    faulty = tuple(f for f in faulty if f.code in WEAK or f.setting not in elsewhere)
    alike = [t for t in maybe if t.sure >= TWIN_PROBABLE and not _explained(t, faulty, plucks)]
    loud = humming_settings(plucks, hum_db=hum_db or {})
    return (*faulty, *alike, *(f for f in loud if f.other not in {one.setting for one in faulty}))


def _both_alone(twin: HealthFinding, plucks: Sequence[HealthPluck]) -> bool:
    return all(p.mix.alone for p in plucks if p.setting in (twin.setting, twin.other))


def _explained(twin: HealthFinding, faulty: Sequence[HealthFinding], plucks: Sequence[HealthPluck]) -> bool:
    """Whether two settings are alike because what one has more than the other hardly sounds."""
    held = {p.setting: {source.sign for source in p.mix.sources} for p in plucks}
    dead = {sign for one in faulty if one.setting is not None for sign in held[one.setting]}
    return bool((held[str(twin.setting)] ^ held[str(twin.other)]) & dead)
