"""What one output jack tells: takes of a moving selector, of hum, and of a driven coil.

Task: from samples to the tables and lines that evidence is made of. Shapes and signs as in
reports.evidence.results; the mixes of a take's settings come from reports.evidence.settings.

Each take of a job, heard: from files to events and faults.

Task: load one take at a time, hear what its gesture asks for, keep only what evidence and drawings need.
Shapes: signals are at the analysis rate of dsp.signal.samples. Signs: every event keeps the sign with
which it was recorded; nothing is compared here.

A take that cannot be used has ``faults`` (full sentences) and no events; ``remarks`` mark it down or
inform. Memory is bounded by the longest take.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import combinations
from typing import Literal, assert_never

import numpy as np
from numpy.typing import NDArray

from capture.audio.files import Audio
from capture.audio.problems import FileProblem, UnreadableError
from capture.job import Job, note_hz
from capture.log import LeadsInput, Take
from capture.log.checks import FEWEST_SETTINGS
from capture.takes.folder import TakeFile
from dsp.methods.driven_coil import analyse_drive
from dsp.methods.hum import analyse_hum
from dsp.methods.hum_windings import hum_in_stretches, hum_phase_table, switched_hum
from dsp.methods.paired import paired_statistic
from dsp.methods.plucks import Pluck, PluckAnalysis, analyse_plucks, analyse_pulses
from dsp.methods.profile import pluck_levels
from dsp.methods.sequential import SequentialPluck
from dsp.methods.switch import SwitchAnalysis, analyse_switch
from dsp.model.settings import Mix
from dsp.signal.codes import Fault
from dsp.signal.onsets import SETTLES_PERIODS
from dsp.signal.samples import ANALYSIS_RATE, at_analysis_rate, band
from reports.evidence.results import (
    ChannelSource,
    PairedPluck,
    SettingHum,
    SettingPluck,
    SignTable,
    SinglePluck,
    TakeResult,
)
from reports.evidence.settings import (
    JackMixes,
    channel_source,
    coil_of,
    is_alone,
    jack_mixes,
    named_settings,
    place_of,
)
from reports.model.gestures import HUM_PHASE, PLUCKED, SWITCH, SWITCH_HUM, gesture_row
from reports.model.take_notes import FileNote, SoundNote, TakeNote

COVERING_PARTIALS = 12
"""Of a string, that may lie over a mains line."""


def analyse_switch_take(job: Job, entry: Take, audio: Audio) -> TakeResult:
    """A take in which the selector moves: the string's partials tell ``s``, the mains lines ``w``."""
    columns = [k for k, item in enumerate(entry.inputs) if isinstance(item, tuple)]
    if len(columns) != 1:
        return TakeResult(entry, faults=(TakeNote("no list of settings"),))
    (column,) = columns
    listed = [(name, c) for name, c in named_settings(entry.inputs) if c == column]
    if len(listed) < FEWEST_SETTINGS:
        return TakeResult(entry, faults=(TakeNote("list of one setting"),))
    jack = jack_mixes(job, listed, stage=entry.stage, fret=entry.fret)
    if entry.string is None:
        return _switched_hum(job, entry, audio, jack)
    hearing = analyse_switch(
        audio.samples[:, column],
        rate=audio.rate,
        mixes=jack.mixes,
        count=jack.count,
        named_hz=note_hz(entry.string, fret=entry.fret),
        mains_hz=job.mains_hz,
    )
    faults, remarks = _notes(entry, hearing.faults, hearing.remarks)
    if faults or hearing.table is None:
        return TakeResult(entry, jack.stations, faults=faults, remarks=remarks)
    tables = [SignTable(SWITCH, "s", jack.stations, hearing.table)]
    humming = _hum_beside(job, audio, hearing, jack, column=column)
    if humming is not None:
        tables.append(SignTable(SWITCH_HUM, "w", jack.stations, humming))
    alone = tuple(
        (m.sources[0].sign, -1 if m.sources[0].reversed else 1) if m.alone else None for m in jack.mixes
    )
    return TakeResult(
        entry, jack.stations, tables=tuple(tables), switch=hearing, alone=alone, remarks=remarks
    )


def _hum_beside(
    job: Job, audio: Audio, hearing: SwitchAnalysis, jack: JackMixes, *, column: int
) -> np.ndarray | None:
    """What the mains lines beside a ringing string say of the windings; None where they say nothing."""
    x = at_analysis_rate(audio.samples[:, column], rate=audio.rate)
    partials = None
    if hearing.f0_hz is not None:
        partials = tuple(hearing.f0_hz * n for n in range(1, COVERING_PARTIALS + 1))
    lines = hum_in_stretches(
        x,
        stretches=[(s.start, s.stop) for s in hearing.stretches],
        mains_hz=job.mains_hz,
        partials_hz=partials,
    )
    heard = [(one, mix) for one, mix in zip(lines, jack.mixes, strict=True) if one is not None]
    return hum_phase_table(heard, count=jack.count) if len(heard) > 1 else None


def _switched_hum(job: Job, entry: Take, audio: Audio, jack: JackMixes) -> TakeResult:
    column = next(k for k, item in enumerate(entry.inputs) if isinstance(item, tuple))
    hearing = switched_hum(
        audio.samples[:, column],
        rate=audio.rate,
        mixes=jack.mixes,
        count=jack.count,
        mains_hz=job.mains_hz,
    )
    faults, remarks = _notes(entry, hearing.faults, hearing.remarks)
    tables: tuple[SignTable, ...] = ()
    if not faults and hearing.table is not None:
        tables = (SignTable(SWITCH_HUM, "w", jack.stations, hearing.table),)
    return TakeResult(entry, jack.stations, tables=tables, faults=faults, remarks=remarks)


def analyse_hum_take(job: Job, entry: Take, audio: Audio) -> TakeResult:
    """A take of hum alone: its lines on every channel, and the phases between two channels."""
    if any(isinstance(item, LeadsInput | tuple) for item in entry.inputs):
        return TakeResult(entry, faults=(TakeNote("leads or a list of settings"),))
    named = named_settings(entry.inputs)
    mixes = jack_mixes(job, named, stage=entry.stage).mixes
    hearing = analyse_hum(
        audio.samples,
        rate=audio.rate,
        channels=tuple(column for _, column in named),
        mains_hz=job.mains_hz,
        may_cancel=tuple(column for (_, column), mix in zip(named, mixes, strict=True) if _may_be_quiet(mix)),
    )
    faults, remarks = _notes(entry, hearing.faults, hearing.remarks)
    if faults:
        return TakeResult(entry, faults=faults, remarks=remarks)
    heard = [(n, c, one) for (n, c), one in zip(named, hearing.channels, strict=True) if one is not None]
    jack = jack_mixes(job, [(name, column) for name, column, _ in heard], stage=entry.stage)
    tables: tuple[SignTable, ...] = ()
    if len(heard) > 1 and not entry.is_split_check:
        phases = hum_phase_table(
            [(one, mix) for (_, _, one), mix in zip(heard, jack.mixes, strict=True)], count=jack.count
        )
        tables = (SignTable(HUM_PHASE, "w", jack.stations, phases),)
    hums = tuple(SettingHum(name, column, one) for name, column, one in heard)
    return TakeResult(entry, jack.stations, hums=hums, tables=tables, remarks=remarks)


def _may_be_quiet(mix: Mix) -> bool:
    """Whether hum can cancel in a setting: several pickups, or one of two coils."""
    return not mix.alone or mix.sources[0].coils > 1


def analyse_drive_take(job: Job, entry: Take, audio: Audio, station: ChannelSource) -> TakeResult:
    """A take with a driven coil over one pickup."""
    hearing = analyse_drive(audio.samples[:, station.column], rate=audio.rate, mains_hz=job.mains_hz)
    faults, remarks = _notes(entry, hearing.faults, hearing.remarks)
    drives = () if faults or hearing.turn is None else (hearing,)
    return TakeResult(entry, (station,), drives=drives, faults=faults, remarks=remarks)


def _notes(
    entry: Take, faults: Sequence[Fault], remarks: Sequence[Fault]
) -> tuple[tuple[SoundNote, ...], tuple[SoundNote, ...]]:
    """The faults and remarks of dsp as notes on a take."""
    note = partial(SoundNote, gesture=entry.gesture, string=entry.string, fret=entry.fret)
    return tuple(note(f) for f in faults), tuple(note(f, remark=True) for f in remarks)


Array = NDArray[np.float64]

TRACE_PERIODS = 5.0
LAST_VOICE_PARTIAL = 3.5
CLEARLY_LARGER = 3.0


def analyse_take(job: Job, take: TakeFile) -> TakeResult:
    """Hear one take of a job."""
    if take.problem is not None:
        return TakeResult(take.entry, faults=(FileNote(take.problem),))
    try:
        audio = take.load()
    except UnreadableError as error:
        problem = FileProblem("unreadable", refusal=error.refusal)
        return TakeResult(take.entry, faults=(FileNote(problem),))
    return _by_gesture(job, take.entry, audio)


def _by_gesture(job: Job, entry: Take, audio: Audio) -> TakeResult:
    """Analyse a recording as its gesture asks for."""
    if all(item is None for item in entry.inputs):
        return TakeResult(entry, faults=(TakeNote("nothing plugged in"),))
    analysis = gesture_row(entry.gesture).analysis
    match analysis:
        case "selector":
            return analyse_switch_take(job, entry, audio)
        case "hum":
            return analyse_hum_take(job, entry, audio)
        case "plucks" | "pulses" | "driven coil":
            return _at_sources(job, entry, audio, analysis)
        case _:
            assert_never(analysis)


def _at_sources(
    job: Job, entry: Take, audio: Audio, analysis: Literal["plucks", "pulses", "driven coil"]
) -> TakeResult:
    """Analyse a take that is of one pickup on each channel."""
    stations = _stations(job, entry)
    if stations is None:
        return _on_together(job, entry, audio)
    if analysis == "plucks":
        return _plucked(job, entry, audio, stations)
    station = _struck(audio, stations)
    if station is None:
        return TakeResult(entry, stations, faults=(TakeNote("pulse on several inputs"),))
    analyse = analyse_drive_take if analysis == "driven coil" else _pulsed
    return analyse(job, entry, audio, station)


def _stations(job: Job, entry: Take) -> tuple[ChannelSource, ...] | None:
    """What each channel carried; None where a channel carried several pickups together."""
    found: list[ChannelSource] = []
    for column, item in enumerate(entry.inputs):
        if item is None:
            continue
        if isinstance(item, LeadsInput):
            found.append(
                ChannelSource(item.pickup, coil_of(job, item.pickup, entry.coil), False, column, True)
            )
            continue
        setting = None if isinstance(item, tuple) else job.setting(item)
        if setting is None or not is_alone(setting):
            return None
        (member,) = setting.on
        coil = member.coil if member.coil is not None else entry.coil
        station = channel_source(
            job, member.model_copy(update={"coil": coil}), column=column, stage=entry.stage
        )
        found.append(ChannelSource(station.pickup, station.coil, member.reversed, column, station.clips))
    return tuple(found)


def _on_together(job: Job, entry: Take, audio: Audio) -> TakeResult:
    """A take with several pickups on a channel: plucks at one jack tell by their harmonics, no more."""
    named = named_settings(entry.inputs)
    if entry.gesture not in PLUCKED or len(named) != 1 or len(entry.inputs) != 1:
        return TakeResult(entry, remarks=(TakeNote("several pickups together"),))
    hearing, faults, remarks = _listened(job, entry, audio, (0,))
    if faults:
        return TakeResult(entry, faults=faults, remarks=remarks)
    return TakeResult(entry, plucks=_levels(job, entry, hearing, named[0][0]), remarks=remarks)


def _plucked(job: Job, entry: Take, audio: Audio, stations: tuple[ChannelSource, ...]) -> TakeResult:
    columns = tuple(s.column for s in stations)
    hearing, faults, remarks = _listened(job, entry, audio, columns)
    if faults:
        return TakeResult(entry, stations, faults=faults, remarks=remarks)
    if len(stations) == 1:
        single = tuple(
            SinglePluck(
                SequentialPluck(
                    onset,
                    pluck.pitch,
                    entry.string,
                    entry.fret,
                    place_of(job, stations[0].pickup, fret=entry.fret),
                ),
                _trace(hearing.channels[0], pluck, at=onset.sample),
            )
            for pluck in hearing.plucks
            if (onset := pluck.onsets[0]) is not None
        )
        named = named_settings(entry.inputs)
        plucks = _levels(job, entry, hearing, named[0][0]) if named else ()
        return TakeResult(entry, stations, single=single, plucks=plucks, remarks=remarks)
    places = [place_of(job, s.pickup, fret=entry.fret) for s in stations]
    paired = tuple(
        PairedPluck(
            (i, j),
            paired_statistic(
                hearing.channels[i],
                hearing.channels[j],
                onset=pluck.rough,
                pitch=pluck.pitch,
                quiet=hearing.plucks[0].rough,
                place_a=places[i],
                place_b=places[j],
                fret=entry.fret,
            ).value,
            pluck.pitch.f0_hz,
            (
                _trace(hearing.channels[i], pluck, at=pluck.rough),
                _trace(hearing.channels[j], pluck, at=pluck.rough),
            ),
        )
        for pluck in hearing.plucks
        for i, j in combinations(range(len(stations)), 2)
    )
    return TakeResult(entry, stations, paired=paired, remarks=remarks)


def _listened(
    job: Job, entry: Take, audio: Audio, columns: tuple[int, ...]
) -> tuple[PluckAnalysis, tuple[SoundNote, ...], tuple[SoundNote, ...]]:
    """The plucks of a take with its faults and remarks in words."""
    hearing = analyse_plucks(
        audio.samples,
        rate=audio.rate,
        channels=columns,
        inputs_differ=not entry.is_split_check,
        named_hz=None if entry.string is None else note_hz(entry.string, fret=entry.fret),
        mains_hz=job.mains_hz,
    )
    return hearing, *_notes(entry, hearing.faults, hearing.remarks)


def _levels(job: Job, entry: Take, hearing: PluckAnalysis, setting: str) -> tuple[SettingPluck, ...]:
    """The levels of the harmonics of every pluck at the jack."""
    quiet = hearing.plucks[0].rough
    return tuple(
        SettingPluck(
            setting,
            pluck_levels(
                hearing.channels[0], onset=p.rough, quiet=quiet, pitch=p.pitch, mains_hz=job.mains_hz
            ),
        )
        for p in hearing.plucks
    )


def _pulsed(job: Job, entry: Take, audio: Audio, station: ChannelSource) -> TakeResult:
    hearing = analyse_pulses(
        audio.samples,
        rate=audio.rate,
        channel=station.column,
        toward=entry.gesture == "touch",
        mains_hz=job.mains_hz,
    )
    faults, remarks = _notes(entry, hearing.faults, hearing.remarks)
    clipped = any(f.code == "clipped" for f in hearing.remarks)
    return TakeResult(
        entry, (station,), pulses=hearing.pulses, clipped=clipped, faults=faults, remarks=remarks
    )


def _struck(audio: Audio, stations: tuple[ChannelSource, ...]) -> ChannelSource | None:
    """The channel whose pole the tool (or the driven coil) was on: clearly more came from it."""
    peaks = [float(np.max(np.abs(x - np.mean(x)))) for x in (audio.samples[:, s.column] for s in stations)]
    order = np.argsort(peaks)
    if len(stations) > 1 and peaks[order[-1]] < CLEARLY_LARGER * peaks[order[-2]]:
        return None
    return stations[int(order[-1])]


def _trace(x: Array, pluck: Pluck, *, at: int) -> Array:
    """The low partials around an onset, from one period before, largest magnitude 1."""
    f0 = pluck.pitch.f0_hz
    period = ANALYSIS_RATE / f0
    start, length = max(0, int(at - period)), int((TRACE_PERIODS + 1) * period)
    first = max(0, start - int(SETTLES_PERIODS * period))
    around = x[first : start + length + int(SETTLES_PERIODS * period)]
    low = band(around, low_hz=0.6 * f0, high_hz=LAST_VOICE_PARTIAL * f0)
    piece = low[start - first : start - first + length]
    top = float(np.max(np.abs(piece))) if len(piece) else 0.0
    return piece / top if top > 0 else piece
