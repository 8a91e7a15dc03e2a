"""Which pickup is not sound by itself: every fault weighed against none.

Task: from the levels of plucks on single pickups to the probability of each fault. Shapes: see
`dsp.soundness.expectation`. Units: natural logs, dB. Signs: none.

A fault shifts the expected levels of one setting, or of all of them alike; the ratio of likelihoods is that
of a multivariate t, which scales itself where the levels scatter more than the model says. At most one
setting is taken to be at fault.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.calibration import LEVELS_FREEDOM as FREEDOM
from dsp.soundness.expectation import Model, Readings, model_of, place_db, readings_of, string_of
from dsp.soundness.odds import log_mean
from dsp.soundness.plucks import Array, Code, Finding, SoundPluck
from dsp.soundness.shapes import Shape, shapes_at

PRIOR: Mapping[Code, float] = {
    "fundamental missing": 0.02,
    "open coil": 0.01,
    "shorted coil": 0.01,
    "far weaker": 0.02,
    "dull": 0.01,
}
"""How often a setting has it (assumed)."""
TRUST: Mapping[Code, float] = {"dull": 0.3}
"""A log-likelihood ratio counts by this part, 1 if not named: a hand that lets the string slip off softly, on
one setting more than on another, sounds like a tone knob. Of sound simulated guitars one in a hundred had a
ratio of 12 to 17 for it, and hardly one beyond 6 for any other fault."""
EVERYWHERE: Mapping[Code, float] = {"fundamental missing": 0.002, "dull": 0.005}
"""How often all settings have it; a level that all share cannot be heard."""
SURE = 0.9
"""From here on it is said: "likely" in the words of the verdict."""
PLAIN: Code = "far weaker"
CLEARER = 1.5
"""A cause is named only where it is so many nats better than the plain fact; a knob is no short."""
HIGHEST_HZ = 2400.0
"""Above this the resonance of coils and cable decides."""
MISSED_DB = 10.0
"""A bound counts as a reading where the harmonic was expected this much higher."""
CLEAR_OF_NODE_DB = -6.0
"""And only where the place is far from a node: there, weak is no wonder; the lowest always counts."""
FEWEST_READINGS = 6


@dataclass(frozen=True)
class _Claim:
    """A fault of one setting (None: of all) with its log weight, prior included, and how much it takes."""

    setting: str | None
    code: Code
    weight: float
    detail_db: float


def unsound(plucks: Sequence[SoundPluck]) -> tuple[Finding, ...]:
    """Findings about settings of one pickup; ``plucks`` are on such settings only."""
    heard = [p for p in plucks if np.any(p.usable)]
    if not heard:
        return ()
    readings = readings_of(heard, with_bounds=_missed(heard))
    keep = readings.hz < HIGHEST_HZ
    readings = readings.only(keep)
    if len(readings.level_db) < FEWEST_READINGS:
        return ()
    claims = _claims(readings, model_of(readings))
    return _verdict(readings, claims)


def _claims(readings: Readings, model: Model) -> list[_Claim]:
    """Every fault's weight against a sound guitar's, which is 0."""
    found = model.whitened(readings.level_db - model.mean)
    shapes = list(shapes_at(readings.hz))
    scopes: list[tuple[str | None, NDArray[np.bool_], Mapping[Code, float]]] = [
        (name, readings.setting == k, PRIOR) for k, name in enumerate(readings.settings)
    ]
    scopes.append((None, np.ones(len(found), dtype=np.bool_), EVERYWHERE))
    claims = []
    for name, rows, prior in scopes:
        wanted = [s for s in shapes if s.code in prior]
        shifts = model.whitened(np.stack([s.change_db * rows for s in wanted], axis=1))
        ratios = _ratios(found, shifts)
        claims += [_claim(name, code, wanted, ratios, math.log(p)) for code, p in prior.items()]
    return claims


def _ratios(found: Array, shifts: Array) -> Array:
    """Log-likelihood ratio of each shift, (shapes,), by a multivariate t."""
    without = float(np.sum(np.square(found)))
    left = np.sum(np.square(found[:, np.newaxis] - shifts), axis=0)
    return np.asarray(-0.5 * (FREEDOM + len(found)) * np.log((FREEDOM + left) / (FREEDOM + without)))


def _claim(setting: str | None, code: Code, shapes: list[Shape], ratios: Array, prior: float) -> _Claim:
    mine = [k for k, s in enumerate(shapes) if s.code == code]
    weights = ratios[mine]
    best = mine[int(np.argmax(weights))]
    return _Claim(setting, code, prior + TRUST.get(code, 1.0) * log_mean(weights), shapes[best].detail_db)


def _verdict(readings: Readings, claims: list[_Claim]) -> tuple[Finding, ...]:
    """The setting that is most probably at fault, where that is sure, with the fault that says most."""
    total = np.logaddexp.reduce([0.0] + [c.weight for c in claims])
    scopes = dict.fromkeys(c.setting for c in claims)
    sure = {
        s: float(np.exp(np.logaddexp.reduce([c.weight for c in claims if c.setting == s]) - total))
        for s in scopes
    }
    worst = max(scopes, key=lambda s: sure[s])
    if sure[worst] < SURE:
        return ()
    claim = max(
        (c for c in claims if c.setting == worst),
        key=lambda c: c.weight + (CLEARER if c.code == PLAIN else 0.0),
    )
    return (Finding(claim.code, worst, None, round(claim.detail_db, 1), sure[worst]),)


def _missed(plucks: Sequence[SoundPluck]) -> list[NDArray[np.bool_]]:
    """Which unusable harmonics of each pluck the other settings lead one to expect well above their bound."""
    clean = [p.levels_db - _place(p) for p in plucks]
    missed = []
    for p in plucks:
        others = [
            np.where(q.usable, c, np.nan)[: len(p.usable)]
            for q, c in zip(plucks, clean, strict=True)
            if q.setting != p.setting and string_of(q) == string_of(p) and len(q.usable) >= len(p.usable)
        ]
        flags = np.zeros(len(p.usable), dtype=np.bool_)
        if others:
            table = np.stack(others)
            heard = ~np.isnan(table).all(axis=0)
            usual = np.full(len(flags), -np.inf)
            usual[heard] = np.nanmedian(table[:, heard], axis=0)
            bound = np.where(np.isfinite(p.levels_db), p.levels_db, np.inf)
            flags = ~p.usable & (usual + _place(p) > bound + MISSED_DB) & (_place(p) > CLEAR_OF_NODE_DB)
        missed.append(flags)
    return missed


def _place(pluck: SoundPluck) -> Array:
    return np.asarray(place_db(pluck, np.arange(1.0, len(pluck.levels_db) + 1)).mean(axis=0))
