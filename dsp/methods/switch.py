"""Analysis of a switch take: one string rings while the selector moves through a list of settings.

Task: one channel as recorded to a table of log likelihoods over the string signs of the pickups, and what is
wrong with the take. Shapes: recording (frames,) at its own rate in; stretches in samples at the analysis
rate, table (2,) * count out. Units: Hz, seconds, dB re full scale, natural logarithms.
Sign: turning the recording over changes nothing; turning a pickup over turns the table along its axis.

The string is the clock: each partial's phase is carried over the step, where it goes on or turns by half.
Instants: `dsp.methods.switch_instants`. Signs: `dsp.methods.switch_signs`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dsp.methods.curves import PhaseLine
from dsp.methods.fades import ALIKE_DB, coarse, end_ratio, ends_of, unevenness_db
from dsp.methods.profile import HARMONICS, SILENCE_DB, PluckLevels
from dsp.methods.switch_instants import (
    SHORTEST_CELLS,
    Envelopes,
    Piece,
    change_across,
    envelopes_of,
    pieces_of,
    recentred,
    segments_of,
    trimmed,
)
from dsp.methods.switch_signs import (
    NEAR_HZ,
    Levels,
    cells_near,
    decays_of,
    levels_of,
    partial_evidence,
    partials_in_mains,
    partials_in_null,
    sign_table,
    step_ratios,
    step_sign,
)
from dsp.model.settings import Mix
from dsp.signal.clicks import PICK_S, clicks
from dsp.signal.codes import Fault, FaultCode
from dsp.signal.faults import clipped_share, recording_faults, refusals_and_remarks, sounding_end
from dsp.signal.mains import MainsLines, mains_lines
from dsp.signal.onsets import rough_onsets
from dsp.signal.pitch import Pitch, note_name, pitch_of
from dsp.signal.samples import ANALYSIS_RATE, at_analysis_rate, checked
from dsp.signal.waves import sums_with, turns_of

Array = NDArray[np.float64]

QUIET_BEFORE_S = 0.05
QUIET_GUARD_S = 0.02
HUM_ROUNDS = 2
RINGS_BEFORE_DB = -26.0
"""Where the same partials ring this strongly before the first onset that was envelopes, that one is a step of
the selector and no pluck."""
BEFORE_S = 0.25
LEAST_RINGING_S = 0.30
ATTACK_S = 0.20
"""So long after the pluck its pitch cannot be had, and nothing is smooth."""
LEAST_LAST_S = 0.10
"""So much is to ring after the last step."""
RINGING_SNR = 6.0
"""Power over noise that the strongest partial of a stretch must have."""
TRACK_SNR = 4.0
NOT_THE_STRING = frozenset({"wrong string", "wrong octave", "no onset"})
AFTER_LEAD_S = 0.02
MOST_SCATTER_DB = 4.0
"""A harmonic's level that is not known better than this is not used to place a pickup."""


@dataclass(frozen=True)
class SettingStretch:
    """The usable ringing of one setting, in samples at the analysis rate."""

    start: int
    stop: int


@dataclass(frozen=True, eq=False)
class PhaseTrack:
    """For drawing: each usable partial's phase in turns against its own course on the first stretch.

    ``time_s`` (points,) counts from the start of the recording.
    """

    time_s: Array
    lines: tuple[PhaseLine, ...]


@dataclass(frozen=True, eq=False)
class SwitchAnalysis:
    """What a switch take says of the signs on the string.

    ``table``: log likelihoods over the string signs of the sources, (2,) * count, the largest 0; None
    where the take is refused. ``stretches``: one for each setting of the list. ``step_ratios``: for each
    step the log ratio "same sign : opposed" of the two sounds, places allowed for; 0 says nothing.
    ``levels_db``: of the fundamental on each setting, as if at one instant; NaN where not measurable.
    ``stretch_levels``: of all harmonics on each setting, as if at one instant.
    """

    table: Array | None
    stretches: tuple[SettingStretch, ...]
    step_ratios: tuple[float, ...]
    levels_db: tuple[float, ...]
    stretch_levels: tuple[PluckLevels, ...]
    f0_hz: float | None
    track: PhaseTrack | None
    faults: tuple[Fault, ...]
    remarks: tuple[Fault, ...]


def analyse_switch(
    x: Array,
    *,
    rate: int,
    mixes: Sequence[Mix],
    count: int,
    named_hz: float | None = None,
    mains_hz: int | None = None,
    knobs: bool = False,
) -> SwitchAnalysis:
    """Analyse one channel, (frames,), recorded while the selector went through ``mixes`` in order.

    ``count`` is the number of signs, the axes of the table. ``knobs``: there is no selector, and volumes were
    turned until the second of two mixes was left of the first (`dsp.methods.fades`).

    Raises
    ------
    SignalError
        If the recording is empty, holds no numbers, or has a rate that cannot be read.
    ValueError
        If there are fewer than two settings.

    """
    if len(mixes) < 2:
        raise ValueError("a switch take needs two settings or more")
    samples = checked(x, rate=rate)[:, :1]
    analysed = partial(
        _analysed, rate=rate, mixes=mixes, count=count, named_hz=named_hz, mains_hz=mains_hz, knobs=knobs
    )
    first = analysed(samples)
    if not any(f.code in NOT_THE_STRING for f in first.faults):
        return first
    lead = _lead_in(samples[:, 0], rate=rate)
    if lead == 0:
        return first
    again = analysed(samples[lead:])
    return first if again.faults else _shifted(again, round(lead * ANALYSIS_RATE / rate))


def _lead_in(x: Array, *, rate: int) -> int:
    """Samples before hum begins out of silence, where that was taken for a pluck; 0 where nothing begins."""
    onsets = rough_onsets(at_analysis_rate(x, rate=rate))
    if not onsets or onsets[0] == 0:
        return 0
    return int((onsets[0] + AFTER_LEAD_S * ANALYSIS_RATE) * rate / ANALYSIS_RATE)


def _shifted(analysis: SwitchAnalysis, frames: int) -> SwitchAnalysis:
    """The same analysis with its times counted from ``frames`` earlier."""
    track = analysis.track
    if track is not None:
        track = PhaseTrack(track.time_s + frames / ANALYSIS_RATE, track.lines)
    stretches = tuple(SettingStretch(s.start + frames, s.stop + frames) for s in analysis.stretches)
    return replace(analysis, stretches=stretches, track=track)


def _analysed(
    samples: Array,
    *,
    rate: int,
    mixes: Sequence[Mix],
    count: int,
    named_hz: float | None,
    mains_hz: int | None,
    knobs: bool,
) -> SwitchAnalysis:
    """One channel, (frames, 1), that begins in silence or in hum."""
    faults, remarks = refusals_and_remarks(
        recording_faults(samples, rate=rate, inputs_differ=False, channels=(0,))
    )
    clipped = tuple(f for f in faults if f.code == "clipped")
    faults = tuple(f for f in faults if f not in clipped)
    if faults:
        return _rejected((*faults, *clipped), remarks)
    end = int(sounding_end(samples[:, 0]) * ANALYSIS_RATE / rate)
    raw = at_analysis_rate(samples[:, 0], rate=rate)[:end]
    started = _ringing_string(raw, named_hz=named_hz, mains_hz=mains_hz)
    if isinstance(started, Fault):
        return _rejected((started,), (*remarks, *clipped))
    if started.onset < QUIET_BEFORE_S * ANALYSIS_RATE:
        remarks = (*remarks, Fault("no quiet before"))
    envelopes = envelopes_of(raw, onset=started.onset, end=end, pitch=started.pitch, mains=started.mains)
    heard = partial(clicks, raw, rate=ANALYSIS_RATE, start=started.onset + round(PICK_S * ANALYSIS_RATE))
    overloaded = partial(_ringing_is_overloaded, samples[:, 0], rate=rate) if clipped else _nowhere
    analyse = _turned_analysis if knobs else partial(_selected_analysis, clicked=heard)
    return analyse(
        envelopes, started, mixes, count=count, overloaded=overloaded, remarks=remarks, clipped=clipped
    )


def _nowhere(_: Sequence[SettingStretch]) -> bool:
    return False


def _selected_analysis(
    envelopes: Envelopes,
    started: _RingingString,
    mixes: Sequence[Mix],
    *,
    count: int,
    overloaded: Callable[[Sequence[SettingStretch]], bool],
    remarks: tuple[Fault, ...],
    clipped: tuple[Fault, ...],
    clicked: Callable[[], Sequence[Piece]],
) -> SwitchAnalysis:
    """A selector went through the mixes; ``overloaded`` tells of stretches whether the ringing is cut off.

    ``clicked``: samples from which and up to which it clicked.
    """
    f0_hz, trust = started.pitch.f0_hz, 1.0
    pieces = _settings_heard(envelopes, wanted=len(mixes))
    fault = _step_count_fault(envelopes, pieces, settings=len(mixes), onset=started.onset)
    if fault is not None and fault.code in COUNTED_BY_CLICKS:
        between = _between_clicks(envelopes, clicked(), wanted=len(mixes))
        if between:
            pieces, fault, trust = between, None, CLICKS_TRUST
            remarks = (*remarks, Fault("steps by clicks"))
    fault = fault or _died_fault(envelopes, pieces)
    if fault is not None:
        return _rejected((fault,), (*remarks, *clipped), f0_hz=f0_hz)
    if overloaded(_stretches(envelopes, pieces)):
        return _rejected(clipped, remarks, f0_hz=f0_hz)
    remarks = (*remarks, *clipped)
    nulls, fault = partials_in_null(envelopes, pieces)
    if fault is not None:
        return _rejected((fault,), remarks, f0_hz=f0_hz)
    remarks = (*remarks, *nulls, *partials_in_mains(envelopes, pieces))
    analysis = _sign_analysis(envelopes, pieces, mixes, count=count, f0_hz=f0_hz, remarks=remarks)
    if trust == 1.0 or analysis.table is None:
        return analysis
    ratios = tuple(trust * ratio for ratio in analysis.step_ratios)
    return replace(analysis, table=trust * analysis.table, step_ratios=ratios)


@dataclass(frozen=True, eq=False)
class _RingingString:
    """Where the string begins to ring, its pitch, the hum before it, and the signal without that."""

    onset: int
    pitch: Pitch
    mains: MainsLines | None
    still: Array


def _ringing_string(raw: Array, *, named_hz: float | None, mains_hz: int | None) -> _RingingString | Fault:
    """The string and its pluck; a take that begins in the ringing begins at its first sample."""
    still_before = cache(partial(_without_hum_before, raw, mains_hz=mains_hz))
    onsets = _onsets(raw, still_before)
    if not onsets:
        return Fault("no onset")
    started = _string_from(onsets[0], still_before, named_hz=named_hz)
    if started is not None and onsets[0] > 0 and _rang_before(started):
        started = _string_from(0, still_before, named_hz=named_hz)
    if started is None:
        short = len(raw) - onsets[0] < LEAST_RINGING_S * ANALYSIS_RATE
        return Fault("cut off at the end") if short else Fault("no onset")
    if started.pitch.match in ("octave", "other"):
        note = note_name(started.pitch.f0_hz)
        code: FaultCode = "wrong octave" if started.pitch.match == "octave" else "wrong string"
        return Fault(code, None, started.pitch.f0_hz, note)
    return started


StillBefore = Callable[[int], tuple[MainsLines | None, Array]]
"""The hum before an onset, and the whole signal without it."""


def _onsets(raw: Array, still_before: StillBefore) -> list[int]:
    """What begins to sound; where hum hides the first of it, with the hum before that taken out."""
    onsets = rough_onsets(raw)
    for _ in range(HUM_ROUNDS):
        if not onsets:
            break
        mains, still = still_before(onsets[0])
        again = [] if mains is None else rough_onsets(still)
        if not again or again[0] >= onsets[0] - int(QUIET_GUARD_S * ANALYSIS_RATE):
            break
        onsets = again
    return onsets


def _without_hum_before(raw: Array, onset: int, *, mains_hz: int | None) -> tuple[MainsLines | None, Array]:
    mains = mains_lines(raw[: max(0, onset - int(QUIET_GUARD_S * ANALYSIS_RATE))], mains_hz=mains_hz)
    return mains, raw if mains is None else raw - mains.waveform(len(raw))


def _string_from(onset: int, still_before: StillBefore, *, named_hz: float | None) -> _RingingString | None:
    mains, still = still_before(onset)
    if len(still) - onset < LEAST_RINGING_S * ANALYSIS_RATE:
        return None
    pitch = pitch_of(still[onset:], named_hz=named_hz)
    return None if pitch is None else _RingingString(onset, pitch, mains, still)


def _rang_before(started: _RingingString) -> bool:
    """Whether the same partials ring before the onset too: then it was a step of the selector."""
    clean = started.still
    guard, width = int(QUIET_GUARD_S * ANALYSIS_RATE), int(BEFORE_S * ANALYSIS_RATE)
    before = clean[max(0, started.onset - guard - width) : max(0, started.onset - guard)]
    after = clean[started.onset + guard : started.onset + guard + width]
    if len(before) < width // 2:
        return (
            len(before) > 0
            and _partial_power(before, started.pitch) > _partial_power(after, started.pitch) * 1e-2
        )
    return _partial_power(before, started.pitch) > 10 ** (RINGS_BEFORE_DB / 10) * _partial_power(
        after, started.pitch
    )


def _partial_power(piece: Array, pitch: Pitch) -> float:
    """Power of the first three partials in a piece, less what lies beside them."""
    window = np.hanning(len(piece))
    lines = np.array([pitch.partial_hz(n) for n in (1, 2, 3)])
    both = np.concatenate([lines, lines + 0.5 * pitch.f0_hz])
    power = np.square(np.abs(sums_with(piece * (window / window.sum()), -turns_of(both))))
    return max(0.0, float(power[: len(lines)].sum() - 2 * power[len(lines) :].sum()))


def _settings_heard(envelopes: Envelopes, *, wanted: int) -> Sequence[Piece]:
    """The pieces, one for each setting of the list where as many are found.

    Where the end of the sound took the place of a step that changes little, that step is looked for again.
    """
    found = segments_of(envelopes, steps=wanted - 1).pieces
    pieces = _without_end(envelopes, found, wanted=wanted)
    if len(pieces) == wanted and _ringing_over_noise(envelopes, pieces[-1]) < RINGING_SNR:
        rings = segments_of(envelopes, steps=wanted - 1, until=pieces[-1][0]).pieces
        if len(rings) == wanted:
            return rings
    return pieces


def _without_end(envelopes: Envelopes, pieces: Sequence[Piece], *, wanted: int) -> Sequence[Piece]:
    """The pieces but those at the end, beyond the settings of the list, in which nothing rings any more.

    A string that has died, or that a hand has stopped, is no step of the selector.
    """
    kept = list(pieces)
    while len(kept) > wanted and _ringing_over_noise(envelopes, kept[-1]) < RINGING_SNR:
        kept.pop()
    return kept


def _ringing_over_noise(envelopes: Envelopes, piece: Piece) -> float:
    """Power of the strongest partial over noise, and over the hum under it."""
    under = np.array([sum(h.power for h in lines if abs(h.offset_hz) < NEAR_HZ) for lines in envelopes.hum])
    power = np.mean(np.square(np.abs(envelopes.values[:, piece[0] : piece[1]])), axis=1)
    return float(np.max(power / (envelopes.noise + under + 1e-20)))


def _step_count_fault(
    envelopes: Envelopes, pieces: Sequence[Piece], *, settings: int, onset: int
) -> Fault | None:
    """Whether the number of steps does not fit the list, and why it may not."""
    steps = len(pieces) - 1
    if steps < 1:
        return Fault("not switched", detail=0.0)
    first = (envelopes.centres[pieces[0][1] - 1] - onset) / ANALYSIS_RATE
    if first < ATTACK_S:
        return Fault("switched in the attack", detail=float(first))
    last = (pieces[-1][1] - pieces[-1][0]) * envelopes.reach / ANALYSIS_RATE
    if steps == settings - 1:
        return None if last >= LEAST_LAST_S else Fault("cut off at the end", detail=float(last))
    return Fault("too few steps" if steps < settings - 1 else "too many steps", detail=float(steps))


COUNTED_BY_CLICKS = frozenset({"not switched", "too few steps", "too many steps", "switched in the attack"})
"""Faults of a wrong count of steps, which clicks may tell better: two pickups in phase that are about as
strong change a string's low partials by one or two decibels, and a pop may change more."""
FEWEST_CLICKS = 2
CLICKS_TRUST = 0.6
"""Of what such a take says, so much counts: that something moved is heard, and not what (assumed)."""
LEAST_CHANGE_NATS = -6.0
"""The mean over all steps of `change_across`, above which settings differ. Of 104 simulated sweeps in which
the selector popped and stayed 15 lie above; of 22 others that were refused for their count of steps 15."""


def _between_clicks(envelopes: Envelopes, heard: Sequence[Piece], *, wanted: int) -> Sequence[Piece]:
    """What rings before, between and after the clicks; nothing where they are not one for each step.

    Nor where all that rings may be one setting: then the selector is not wired, or something else clicked.
    One click alone may be anything.
    """
    if len(heard) != wanted - 1 or len(heard) < FEWEST_CLICKS:
        return ()
    rings = trimmed(pieces_of(envelopes))
    starts = (0, *(int(np.searchsorted(envelopes.centres, stop)) for _, stop in heard))
    stops = (*(int(np.searchsorted(envelopes.centres, start)) for start, _ in heard), len(envelopes.centres))
    pieces = []
    for first, last in zip(starts, stops, strict=True):
        inside = [(max(a, first - 1), min(b, last + 1)) for a, b in rings]
        inside = [(a, b) for a, b in inside if b - a >= SHORTEST_CELLS]
        if not inside:
            return ()
        pieces.append((inside[0][0], inside[-1][1]))
    changes = [change_across(envelopes, a, b) for a, b in pairwise(pieces)]
    return tuple(pieces) if np.mean(changes) > LEAST_CHANGE_NATS else ()


def _died_fault(envelopes: Envelopes, pieces: Sequence[Piece]) -> Fault | None:
    """Whether nothing rings any more on the first or the last setting."""
    near = cells_near(envelopes, pieces)
    for piece in (near[0], near[-1]):
        ratio = _ringing_over_noise(envelopes, piece)
        if ratio < RINGING_SNR:
            return Fault("string died", detail=10 * float(np.log10(ratio + 1e-20)))
    return None


def _sign_analysis(
    envelopes: Envelopes,
    pieces: Sequence[Piece],
    mixes: Sequence[Mix],
    *,
    count: int,
    f0_hz: float,
    remarks: tuple[Fault, ...],
) -> SwitchAnalysis:
    before_recentring, envelopes = envelopes, recentred(envelopes, cells_near(envelopes, pieces))
    levels = levels_of(envelopes, pieces)
    decay = decays_of(envelopes, pieces)
    since_s = [float(envelopes.seconds[a] - envelopes.seconds[0]) for a, _ in pieces]
    strongest = levels.amplitude.max(axis=0)
    evidence = [
        partial_evidence(
            envelopes,
            row,
            pieces,
            levels=levels.amplitude[row],
            strongest=strongest,
            decay=float(decay[row]),
            sums=np.array([not mix.alone for mix in mixes]),
        )
        for row in range(len(envelopes.numbers))
    ]
    fundamental = np.where(np.isfinite(levels.scatter_db[0]), levels.amplitude[0], np.nan)
    return SwitchAnalysis(
        table=sign_table(evidence, levels, mixes, count=count, since_s=since_s),
        stretches=_stretches(envelopes, pieces),
        step_ratios=step_ratios(evidence, mixes),
        levels_db=tuple(float(v) for v in 20 * np.log10(np.maximum(fundamental, 1e-12))),
        stretch_levels=_stretch_levels(envelopes.numbers, levels, f0_hz=f0_hz),
        f0_hz=f0_hz,
        track=_phase_track(before_recentring, pieces, mixes),
        faults=(),
        remarks=remarks,
    )


def _turned_analysis(
    envelopes: Envelopes,
    started: _RingingString,
    mixes: Sequence[Mix],
    *,
    count: int,
    overloaded: Callable[[Sequence[SettingStretch]], bool],
    remarks: tuple[Fault, ...],
    clipped: tuple[Fault, ...],
) -> SwitchAnalysis:
    """Volumes turned from the first of two mixes to the second; what sounds on the way is not measured."""
    f0_hz = started.pitch.f0_hz
    envelopes = coarse(envelopes)
    ends = ends_of(envelopes, onset=started.onset)
    if isinstance(ends, Fault):
        return _rejected((ends,), (*remarks, *clipped), f0_hz=f0_hz)
    if overloaded(_stretches(envelopes, [(ends[0][0], ends[1][1])])):
        return _rejected(clipped, remarks, f0_hz=f0_hz)
    remarks = (*remarks, *clipped)
    envelopes = recentred(envelopes, ends)
    decay = decays_of(envelopes, ends)
    if unevenness_db(envelopes, ends, decay) < ALIKE_DB:
        return _rejected((Fault("not switched", detail=0.0),), remarks, f0_hz=f0_hz)
    since_s = float(envelopes.seconds[ends[1][0]]) - started.onset / ANALYSIS_RATE
    ratio = end_ratio(envelopes, ends, mixes, decay, since_s=since_s)
    first, last = (mix.sources[0] for mix in mixes)
    log = np.zeros((2,) * count)
    for index in np.ndindex(log.shape):
        turned = (index[first.sign] != index[last.sign]) != (first.reversed != last.reversed)
        log[index] = -abs(ratio) if turned == (ratio > 0) else 0.0
    return SwitchAnalysis(
        table=log,
        stretches=_stretches(envelopes, ends),
        step_ratios=(ratio,),
        levels_db=(),
        stretch_levels=(),
        f0_hz=f0_hz,
        track=_phase_track(envelopes, ends, mixes),
        faults=(),
        remarks=(*remarks, *partials_in_mains(envelopes, ends)),
    )


def _stretch_levels(numbers: Sequence[int], levels: Levels, *, f0_hz: float) -> tuple[PluckLevels, ...]:
    """The levels of every harmonic on each setting; those whose scatter is too large count as not heard."""
    out = []
    for amplitude, scatter in zip(levels.amplitude.T, levels.scatter_db.T, strict=True):
        level = np.full(HARMONICS, SILENCE_DB)
        usable = np.zeros(HARMONICS, dtype=np.bool_)
        for n, size, error in zip(numbers, amplitude, scatter, strict=True):
            if n <= HARMONICS:
                level[n - 1] = 20 * np.log10(max(float(size), 1e-10))
                usable[n - 1] = error < MOST_SCATTER_DB
        out.append(PluckLevels(level, np.full(HARMONICS, SILENCE_DB), usable, f0_hz))
    return tuple(out)


def _stretches(envelopes: Envelopes, pieces: Sequence[Piece]) -> tuple[SettingStretch, ...]:
    return tuple(
        SettingStretch(
            int(envelopes.centres[a] - envelopes.reach), int(envelopes.centres[b - 1] + envelopes.reach)
        )
        for a, b in pieces
    )


def _ringing_is_overloaded(x: Array, stretches: Sequence[SettingStretch], *, rate: int) -> bool:
    """Whether the ringing itself is cut off, and not only a pop or the pick."""
    x = x - np.mean(x)
    at = [(int(s.start * rate / ANALYSIS_RATE), int(s.stop * rate / ANALYSIS_RATE)) for s in stretches]
    return any(clipped_share(x[a:b], rate=rate) > 0 for a, b in at)


def _phase_track(envelopes: Envelopes, pieces: Sequence[Piece], mixes: Sequence[Mix]) -> PhaseTrack:
    """The phase of each partial that stands out on some stretch, against its course on the first."""
    inside = np.zeros(len(envelopes.centres), dtype=bool)
    for a, b in pieces:
        inside[a:b] = True
    first = slice(*pieces[0])
    lines = []
    for row, n in enumerate(envelopes.numbers):
        z = envelopes.values[row]
        if np.mean(np.square(np.abs(z[first]))) < TRACK_SNR * envelopes.noise_with_hum[row]:
            continue
        rotation = np.sum(z[first][1:] * np.conj(z[first][:-1]))
        course = np.angle(rotation) * (np.arange(len(z)) - pieces[0][1])
        level = z * np.exp(-1j * course)
        level = level * np.exp(-1j * np.angle(np.sum(level[first])))
        above_noise = inside & (np.square(np.abs(z)) > envelopes.noise_with_hum[row])
        turns = np.where(above_noise, np.angle(level) / (2 * np.pi), np.nan)
        signs = [step_sign(n, mixes[k], mixes[k + 1]) for k in range(len(mixes) - 1)]
        lines.append(PhaseLine(n, turns, tuple(s if c > 0 else 0 for s, c in signs)))
    return PhaseTrack(envelopes.seconds, tuple(lines))


def _rejected(
    faults: tuple[Fault, ...], remarks: tuple[Fault, ...], *, f0_hz: float | None = None
) -> SwitchAnalysis:
    return SwitchAnalysis(None, (), (), (), (), f0_hz, None, faults, remarks)
