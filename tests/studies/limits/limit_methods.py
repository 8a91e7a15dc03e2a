"""Every method's decision about a trial: as the tool makes it, and told where and what to listen to.

Task: noisy takes of a trial (limit_takes) to one number a method, positive for "agree"; None where the take
is refused or the method says nothing. ``heard`` goes the tool's whole way: faults, onsets, pitch, statistic.
``told`` gives the statistic what the clean takes show (the place of the attack, the pitch, the mains
frequency, the moment of the step) and refuses nothing: what lies between the two is the price of listening
for oneself and of refusing, what lies between ``told`` and the bound is the price of the statistic. Shapes:
takes (frames, channels) at ``RATE``. Signs: as in limit_takes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from limit_strings import (
    Said,
    Why,
    codes,
    in_turn_heard,
    in_turn_told,
    paired_heard,
    paired_told,
    plucks_in,
    profile_heard,
    profile_told,
)
from limit_takes import RATE, Trial
from limit_windings import (
    ALONE,
    against,
    drive_heard,
    drive_told,
    hum_inputs_heard,
    hum_inputs_told,
    hum_level_heard,
    hum_level_told,
    mains_shown,
    phase_score,
)
from numpy.typing import NDArray

from capture.job import note_hz
from dsp.methods import hum_windings as phases
from dsp.methods import switch as hearing
from dsp.methods.hum import lines_together
from dsp.methods.hum_windings import hum_in_stretches, hum_phase_table
from dsp.methods.plucks import analyse_pulses
from dsp.methods.switch_instants import envelopes_of, segments_of
from dsp.methods.tool_pulse import AFTER_S, BEFORE_S, LOW_PASS_HZ, Pulse, pulse_correlation
from dsp.model.settings import Mix, Place, Source
from dsp.signal.faults import sounding_end
from dsp.signal.samples import band

Array = NDArray[np.float64]
PARTIALS = 12


@dataclass(frozen=True)
class Family:
    """What a family's clean takes show, and its two ways of deciding."""

    show: Callable[[Trial, Sequence[Array]], Any]
    heard: Callable[[Trial, Sequence[Array]], tuple[Said, Why]]
    told: Callable[[Trial, Sequence[Array], Any], Said]


def _toward(trial: Trial) -> bool:
    return "touch" in next(iter(trial.bounds))


def _peaks(trial: Trial, clean: Sequence[Array]) -> list[int]:
    heard = [analyse_pulses(x, rate=RATE, channel=0, toward=_toward(trial)).pulses for x in clean]
    if all(heard):
        return [max(pulses, key=lambda p: p.clearness).sample for pulses in heard]
    return [int(np.argmax(np.abs(_slow(x)))) for x in clean]


def _slow(x: Array) -> Array:
    return band(x[:, 0] - x[:, 0].mean(), low_hz=None, high_hz=LOW_PASS_HZ)


def _pulses_heard(trial: Trial, takes: Sequence[Array]) -> tuple[Said, Why]:
    (method,) = trial.bounds
    heard = [analyse_pulses(x, rate=RATE, channel=0, toward=_toward(trial)) for x in takes]
    if not all(one.pulses for one in heard):
        return {method: None}, tuple(code for one in heard for code in codes(one.faults))
    a, b = (max(one.pulses, key=lambda p: p.clearness) for one in heard)
    return {method: pulse_correlation(a, b)}, ()


def _pulses_told(trial: Trial, takes: Sequence[Array], shown: list[int]) -> Said:
    (method,) = trial.bounds
    cut = []
    for x, at in zip(takes, shown, strict=True):
        values = _slow(x)[max(0, at - int(BEFORE_S * RATE)) : at + int(AFTER_S * RATE)]
        cut.append(Pulse(at, values / np.max(np.abs(values)), 0.0, np.inf))
    return {method: pulse_correlation(*cut)}


def _mixes(trial: Trial) -> tuple[Mix, ...]:
    pickups = [trial.bench.pickup(name) for name in trial.pair]
    return tuple(
        Mix((Source(k, Place(p.centre_mm, trial.bench.scale_mm), 2 if len(p.coils) > 1 else 1),))
        for k, p in enumerate(pickups)
    )


def _named(trial: Trial) -> float:
    return note_hz(str(trial.string))


def _hear_switch(trial: Trial, x: Array) -> hearing.SwitchAnalysis:
    return hearing.analyse_switch(x[:, 0], rate=RATE, mixes=_mixes(trial), count=2, named_hz=_named(trial))


def _switch_shown(trial: Trial, clean: Sequence[Array]) -> Any:
    x = clean[0][:, 0]
    raw = (x - x.mean())[: int(sounding_end(x))]
    started = hearing._ringing_string(raw, named_hz=_named(trial), mains_hz=None)
    if not isinstance(started, hearing._RingingString):
        return None
    found = envelopes_of(raw, onset=started.onset, end=len(raw), pitch=started.pitch, mains=None)
    evidence = segments_of(found, steps=1).evidence
    return (started, len(raw), evidence) if len(evidence) - 1 == 1 else None


def _switch_heard(trial: Trial, takes: Sequence[Array]) -> tuple[Said, Why]:
    found = _hear_switch(trial, takes[0])
    said = None if found.table is None else against(found.table)
    return {"switch, string": said}, codes(found.faults)


def _switch_told(trial: Trial, takes: Sequence[Array], shown: Any) -> Said:
    if shown is None:
        return {"switch, string": None}
    started, end, evidence = shown
    raw = (takes[0][:, 0] - takes[0].mean())[:end]
    found = envelopes_of(raw, onset=started.onset, end=end, pitch=started.pitch, mains=None)
    f0_hz = started.pitch.f0_hz
    weighed = hearing._sign_analysis(found, evidence, _mixes(trial), count=2, f0_hz=f0_hz, remarks=())
    return {"switch, string": None if weighed.table is None else against(weighed.table)}


def _stretches(found: hearing.SwitchAnalysis) -> tuple[list[tuple[int, int]], list[float] | None]:
    partials = None if found.f0_hz is None else [found.f0_hz * n for n in range(1, PARTIALS + 1)]
    return [(s.start, s.stop) for s in found.stretches], partials


def _switch_hum_shown(trial: Trial, clean: Sequence[Array]) -> Any:
    found = _hear_switch(trial, clean[0])
    if found.faults:
        return None
    stretches, partials = _stretches(found)
    x = clean[0][:, 0] - clean[0].mean()
    lines = hum_in_stretches(x, stretches=stretches, mains_hz=None, partials_hz=partials)
    first = lines[0]
    return None if first is None or None in lines else (stretches, partials, first.fundamental_hz)


def _switch_hum_heard(trial: Trial, takes: Sequence[Array]) -> tuple[Said, Why]:
    found = _hear_switch(trial, takes[0])
    if found.faults:
        return {"switch, hum": None}, codes(found.faults)
    stretches, partials = _stretches(found)
    x = takes[0][:, 0] - takes[0].mean()
    lines = hum_in_stretches(x, stretches=stretches, mains_hz=None, partials_hz=partials)
    both = [(one, mix) for one, mix in zip(lines, ALONE, strict=True) if one is not None]
    said = against(hum_phase_table(both, count=2)) if len(both) > 1 else None
    return {"switch, hum": said}, () if said else ("drowned",)


def _switch_hum_told(trial: Trial, takes: Sequence[Array], shown: Any) -> Said:
    if shown is None:
        return {"switch, hum": None}
    stretches, partials, hz = shown
    x = takes[0][:, 0] - takes[0].mean()
    reference = float(np.mean([(a + b) / 2 for a, b in stretches]))
    lines = lines_together(
        [x], stretches=stretches, mains_hz=None, fundamental_hz=hz, partials_hz=partials, reference=reference
    )
    return {"switch, hum": phase_score(lines, spread_db=phases.PICKUPS_DB)}


FAMILY = {
    "paired": Family(plucks_in, paired_heard, paired_told),
    "pluck": Family(plucks_in, in_turn_heard, in_turn_told),
    "press": Family(plucks_in, in_turn_heard, in_turn_told),
    "lift": Family(_peaks, _pulses_heard, _pulses_told),
    "touch": Family(_peaks, _pulses_heard, _pulses_told),
    "switch": Family(_switch_shown, _switch_heard, _switch_told),
    "switch, hum": Family(_switch_hum_shown, _switch_hum_heard, _switch_hum_told),
    "profile": Family(plucks_in, profile_heard, profile_told),
    "hum, two inputs": Family(mains_shown, hum_inputs_heard, hum_inputs_told),
    "hum by level": Family(mains_shown, hum_level_heard, hum_level_told),
    "drive": Family(lambda _trial, _clean: None, drive_heard, drive_told),
}
