"""Analysis of one take of plucks or tool pulses: its events, and what is wrong with it.

Shapes: recording (frames, channels) at its own rate in; events on signals (frames,) at the analysis rate out.
Units: seconds, Hz, full scale 1.0. Sign: every channel keeps its own.

A take may hold several events. A fault of the whole take keeps it out of the evidence; a fault of one pluck
among several keeps that pluck out and is a remark.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dsp.methods.sequential import WORST_MISFIT
from dsp.methods.tool_pulse import LOW_PASS_HZ, Pulse, is_buzz, pulses_of
from dsp.model.calibration import SURELY_TOUCH
from dsp.signal.codes import Fault, FaultCode
from dsp.signal.faults import has_gap, recording_faults, refusals_and_remarks, sounding_end
from dsp.signal.mains import without_mains
from dsp.signal.onsets import Onset, fine_onset, rough_onsets, steepest_rise
from dsp.signal.pitch import Pitch, note_name, pitch_of
from dsp.signal.samples import ANALYSIS_RATE, at_analysis_rate, band, band_within

Array = NDArray[np.float64]

MOST_QUIET_S = 3.0
"""Mains lines are fitted on no more than this: in a long take the rest of it is no quiet."""
QUIET_BEFORE_S = 0.010
"""A pluck needs this much of quiet before it, at least."""
RINGING_S = 0.30
"""And this much of ringing after it (or ten periods, where they last longer)."""
RINGING_PERIODS = 10.0
OVERLAP_S = 0.40
"""A second pluck within this of the first spoils the first."""
CLEAN_RISE_DB = 12.0
"""Over what still rings when it begins, a pluck stands at least this much."""
QUIET_DB = 12.0
"""Over the noise before it, a pluck stands at least this much on every channel."""
QUIET_UP_TO_HZ = 2000.0
"""Where that is measured: nearly all of a string lies below, and most of an input's noise above."""
BEGINNING_S = 0.001
BEGINNING_LEVEL = 0.12
"""Cut in the middle of ringing, one take in fifty begins this much softer than it goes on (measured on
the real plucks of tests/outside); cut at the pluck, nearly all do."""
LOOK_S = 0.25
RINGS_ON_DB = -25.0
"""After a tenth of a second a string has lost less than this: 10 dB at most on the real plucks of
tests/dsp, and a click 40 dB at least."""


@dataclass(frozen=True, eq=False)
class Pluck:
    """One pluck: ``rough`` onset sample, pitch, and each channel's fine onset (None: not found)."""

    rough: int
    pitch: Pitch
    onsets: tuple[Onset | None, ...]


@dataclass(frozen=True, eq=False)
class PluckAnalysis:
    """All sound plucks of a take, its channels at the analysis rate (hum taken out), and its faults."""

    channels: tuple[Array, ...]
    plucks: tuple[Pluck, ...]
    faults: tuple[Fault, ...]
    remarks: tuple[Fault, ...]


@dataclass(frozen=True, eq=False)
class PulseAnalysis:
    """All clear tool pulses of one channel of a take, and the take's faults."""

    pulses: tuple[Pulse, ...]
    faults: tuple[Fault, ...]
    remarks: tuple[Fault, ...]


def analyse_plucks(
    samples: Array,
    *,
    rate: int,
    channels: tuple[int, ...],
    inputs_differ: bool,
    named_hz: float | None = None,
    mains_hz: int | None = None,
) -> PluckAnalysis:
    """The plucks of one take; ``channels`` are the columns that carry a pickup, counted from 0.

    A single channel is compared by its onset, so quiet must come before the pluck. On two channels the
    ringing itself is compared: a take that begins right at the pluck will do, with a remark; one that
    begins while the string already rings will not.
    """
    faults, remarks = refusals_and_remarks(
        recording_faults(samples, rate=rate, inputs_differ=inputs_differ, channels=channels)
    )
    if faults:
        return PluckAnalysis((), (), faults, remarks)
    raw = tuple(at_analysis_rate(samples[:, c], rate=rate) for c in channels)
    loudest = max(range(len(raw)), key=lambda i: float(np.max(np.abs(raw[i]))))
    end = min(int(sounding_end(samples[:, c]) * ANALYSIS_RATE / rate) for c in channels)
    quiet_end = max(0, steepest_rise(raw[loudest]) - int(0.02 * ANALYSIS_RATE))
    quiet_end = min(quiet_end, int(MOST_QUIET_S * ANALYSIS_RATE))
    clean = tuple(without_mains(x, quiet=x[:quiet_end], mains_hz=mains_hz) for x in raw)
    onsets = rough_onsets(clean[loudest])
    if not onsets:
        return PluckAnalysis(clean, (), (Fault("no onset"),), remarks)
    plucks: list[Pluck] = []
    spoiled: list[Fault] = []
    for i, onset in enumerate(onsets):
        following = onsets[i + 1] if i + 1 < len(onsets) else None
        result = _gap_fault(samples, onset, channels=channels, rate=rate) or _pluck_at(
            clean, raw, loudest, onset, following=following, first=i == 0, end=end, named_hz=named_hz
        )
        if isinstance(result, Pluck):
            plucks.append(result)
            if onset < QUIET_BEFORE_S * ANALYSIS_RATE:
                remarks += (Fault("no quiet before"),)
        else:
            spoiled.append(
                Fault(
                    result.code,
                    None if result.channel is None else channels[result.channel - 1] + 1,
                    result.detail,
                    result.note_name,
                )
            )
    if not plucks:
        return PluckAnalysis(clean, (), _without_repeats(spoiled), remarks)
    return PluckAnalysis(clean, tuple(plucks), (), remarks + _without_repeats(spoiled))


def analyse_pulses(
    samples: Array, *, rate: int, channel: int, toward: bool, mains_hz: int | None = None
) -> PulseAnalysis:
    """The tool pulses of one channel; ``toward``: the take is said to be a touch, else a lift.

    Clipping does not keep a pulse out: the first lobe survives it. A take in which every pulse has the
    shape of the other gesture, surely, is refused.
    """
    faults, remarks = refusals_and_remarks(
        recording_faults(samples, rate=rate, inputs_differ=False, channels=(channel,)), clipping_refuses=False
    )
    if faults:
        return PulseAnalysis((), faults, remarks)
    raw = at_analysis_rate(samples[:, channel], rate=rate)
    slow = band(raw, low_hz=None, high_hz=LOW_PASS_HZ)
    loud = int(np.argmax(np.abs(slow)))
    pulses = pulses_of(raw, mains_hz=mains_hz)
    shaped = tuple(p for p in pulses if toward or p.abrupt_start > SURELY_TOUCH)
    if pulses and not shaped:
        return PulseAnalysis((), (Fault("other gesture", channel + 1),), remarks)
    if len(shaped) < len(pulses):
        remarks += (Fault("other gesture", channel + 1),)
    elif shaped and all((p.abrupt_start > 0) == toward for p in shaped):
        remarks += (Fault("doubtful gesture", channel + 1),)
    pulses = shaped
    if not pulses:
        if loud < 0.08 * ANALYSIS_RATE:
            return PulseAnalysis((), (Fault("cut off at the start", channel + 1),), remarks)
        at_end = loud > len(raw) - 0.15 * ANALYSIS_RATE
        code: FaultCode = "cut off at the end" if at_end else "no onset"
        code = "hum of the hand" if is_buzz(slow, loud, mains_hz=mains_hz) else code
        return PulseAnalysis((), (Fault(code, channel + 1),), remarks)
    return PulseAnalysis(pulses, (), remarks)


def _pluck_at(
    clean: tuple[Array, ...],
    raw: tuple[Array, ...],
    loudest: int,
    onset: int,
    *,
    following: int | None,
    first: bool,
    end: int,
    named_hz: float | None,
) -> Pluck | Fault:
    """One pluck, or what is wrong with it; a fault's ``channel`` counts the channels of ``clean`` from 1."""
    fault = _placement_fault(
        raw[loudest], onset, following=following, first=first, end=end, named_hz=named_hz, alone=len(raw) == 1
    )
    fault = fault or _level_fault(clean, onset, first=first)
    if fault is not None:
        return fault
    stop = following if following is not None else end
    pitch = pitch_of(clean[loudest][onset:stop], named_hz=named_hz)
    if pitch is None:
        return Fault("no onset")
    if pitch.match in ("octave", "other"):
        name = note_name(pitch.f0_hz)
        return Fault("wrong octave" if pitch.match == "octave" else "wrong string", None, pitch.f0_hz, name)
    fine = tuple(fine_onset(x, rough=onset, pitch=pitch) for x in clean)
    unclear = all(o is None or o.partials.misfit > WORST_MISFIT for o in fine)
    if unclear and (len(clean) == 1 or not _rings_on(clean[loudest], onset)):
        return Fault("unclear onset", detail=min((o.partials.misfit for o in fine if o), default=1.0))
    return Pluck(onset, pitch, fine)


def _placement_fault(
    x: Array,
    onset: int,
    *,
    following: int | None,
    first: bool,
    end: int,
    named_hz: float | None,
    alone: bool,
) -> Fault | None:
    """Whether a pluck lies too near the start, the end or the next one."""
    rate = ANALYSIS_RATE
    late = onset < QUIET_BEFORE_S * rate
    if first and late and (alone or not _begins_at_pluck(x)):
        return Fault("cut off at the start")
    if following is not None and following - onset < OVERLAP_S * rate:
        return Fault("overlapping", detail=(following - onset) / rate)
    slowest = RINGING_PERIODS / named_hz if named_hz else 0.0
    if end - onset < max(RINGING_S, slowest) * rate:
        return Fault("cut off at the end", detail=(end - onset) / rate)
    return None


def _level_fault(clean: tuple[Array, ...], onset: int, *, first: bool) -> Fault | None:
    """Whether a pluck stands too little over what was there before it."""
    for number, x in enumerate(clean, start=1):
        rise = _rise_db(x, onset, high_hz=QUIET_UP_TO_HZ if first else None)
        if rise < (QUIET_DB if first else CLEAN_RISE_DB):
            return Fault("too quiet" if first else "overlapping", number if first else None, detail=rise)
    return None


def _gap_fault(samples: Array, onset: int, *, channels: tuple[int, ...], rate: int) -> Fault | None:
    """A gap soon after ``onset``, looked for as recorded: resampling leaves no sample exactly zero."""
    start = int(onset * rate / ANALYSIS_RATE)
    for number, column in enumerate(channels, start=1):
        if has_gap(samples[start : start + int(OVERLAP_S * rate), column], rate=rate):
            return Fault("gap", number)
    return None


def _begins_at_pluck(x: Array) -> bool:
    """Whether a take without quiet before it begins at the pluck and not in the middle of the ringing."""
    first = x[: int(BEGINNING_S * ANALYSIS_RATE)]
    after = x[len(first) : len(first) + int(LOOK_S * ANALYSIS_RATE / 5)]
    return bool(np.mean(np.square(first)) < BEGINNING_LEVEL**2 * np.mean(np.square(after)))


def _rings_on(x: Array, onset: int) -> bool:
    """Whether there is a string at all behind an onset that no partials fit, and not a click."""
    struck = x[onset : onset + int(0.05 * ANALYSIS_RATE)]
    later = x[onset + int(0.10 * ANALYSIS_RATE) : onset + int(LOOK_S * ANALYSIS_RATE)]
    return bool(np.mean(np.square(later)) > 10 ** (RINGS_ON_DB / 10) * np.mean(np.square(struck)))


def _rise_db(x: Array, onset: int, *, high_hz: float | None) -> float:
    """Level of a pluck over what sounded before it, up to ``high_hz``, in dB."""
    guard, look = int(0.012 * ANALYSIS_RATE), int(LOOK_S * ANALYSIS_RATE)
    start = max(0, onset - guard - look)
    near = band_within(x, start, onset + look, low_hz=None, high_hz=high_hz)
    before, after = near[: max(0, onset - guard - start)], near[onset - start :]
    if not len(before) or not np.any(before):
        return np.inf
    return float(10 * np.log10((np.mean(np.square(after)) + 1e-30) / np.mean(np.square(before))))


def _without_repeats(faults: list[Fault]) -> tuple[Fault, ...]:
    kept: dict[tuple[str, int | None], Fault] = {}
    for fault in faults:
        kept.setdefault((fault.code, fault.channel), fault)
    return tuple(kept.values())
