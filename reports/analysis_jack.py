"""What one output jack tells: takes of a moving selector, of hum, and of a driven coil.

Task: from samples to the tables and lines that evidence is made of. Shapes and signs as in reports.heard;
the mixes of a take's settings come from reports.jack.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from capture.audio_files import Audio
from capture.bench_log import LeadsInput, Take
from capture.job import Job, note_hz
from dsp.conditioning import at_analysis_rate
from dsp.driving import hear_drive
from dsp.faults import Fault
from dsp.humming.lines import hear_hum
from dsp.humming.phases import hum_in_stretches, hum_phase_table
from dsp.humming.switched import switched_hum
from dsp.mixes import Mix
from dsp.switched.hearing import SwitchHearing, hear_switch
from reports.fault_words import LEADS_AND_SETTINGS, NO_LIST, fault_sentence
from reports.heard import HeardTake, JackHum, JackTable, Station
from reports.jack import OnJack, on_jack, settings_of

SWITCH = "switch, string"
SWITCH_HUM = "switch, hum"
HUM_PHASE = "hum, two inputs"
COVERING_PARTIALS = 12
"""Of a string, that may lie over a mains line."""


def switched(job: Job, entry: Take, audio: Audio) -> HeardTake:
    """A take in which the selector moves: the string's partials tell ``s``, the mains lines ``w``."""
    columns = [k for k, item in enumerate(entry.inputs) if isinstance(item, tuple)]
    if len(columns) != 1:
        return HeardTake(entry, faults=(NO_LIST,))
    (column,) = columns
    listed = [(name, c) for name, c in settings_of(entry.inputs) if c == column]
    jack = on_jack(job, listed, stage=entry.stage, fret=entry.fret)
    if entry.string is None:
        return _switched_hum(job, entry, audio, jack)
    hearing = hear_switch(
        audio.samples[:, column],
        rate=audio.rate,
        mixes=jack.mixes,
        count=jack.count,
        named_hz=note_hz(entry.string, fret=entry.fret),
        mains_hz=job.mains_hz,
    )
    faults, remarks = _said(entry, hearing.faults, hearing.remarks)
    if faults or hearing.table is None:
        return HeardTake(entry, jack.stations, faults=faults, remarks=remarks)
    tables = [JackTable(SWITCH, "s", jack.stations, hearing.table)]
    humming = _hum_beside(job, audio, hearing, jack, column=column)
    if humming is not None:
        tables.append(JackTable(SWITCH_HUM, "w", jack.stations, humming))
    alone = tuple(
        (m.sources[0].sign, -1 if m.sources[0].reversed else 1) if m.alone else None for m in jack.mixes
    )
    return HeardTake(entry, jack.stations, tables=tuple(tables), switch=hearing, alone=alone, remarks=remarks)


def _hum_beside(
    job: Job, audio: Audio, hearing: SwitchHearing, jack: OnJack, *, column: int
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


def _switched_hum(job: Job, entry: Take, audio: Audio, jack: OnJack) -> HeardTake:
    column = next(k for k, item in enumerate(entry.inputs) if isinstance(item, tuple))
    hearing = switched_hum(
        audio.samples[:, column],
        rate=audio.rate,
        mixes=jack.mixes,
        count=jack.count,
        mains_hz=job.mains_hz,
    )
    faults, remarks = _said(entry, hearing.faults, hearing.remarks)
    tables: tuple[JackTable, ...] = ()
    if not faults and hearing.table is not None:
        tables = (JackTable(SWITCH_HUM, "w", jack.stations, hearing.table),)
    return HeardTake(entry, jack.stations, tables=tables, faults=faults, remarks=remarks)


def hummed(job: Job, entry: Take, audio: Audio) -> HeardTake:
    """A take of hum alone: its lines on every channel, and the phases between two channels."""
    if any(isinstance(item, LeadsInput | tuple) for item in entry.inputs):
        return HeardTake(entry, faults=(LEADS_AND_SETTINGS,))
    named = settings_of(entry.inputs)
    mixes = on_jack(job, named, stage=entry.stage).mixes
    hearing = hear_hum(
        audio.samples,
        rate=audio.rate,
        channels=tuple(column for _, column in named),
        mains_hz=job.mains_hz,
        may_cancel=tuple(column for (_, column), mix in zip(named, mixes, strict=True) if _may_be_quiet(mix)),
    )
    faults, remarks = _said(entry, hearing.faults, hearing.remarks)
    if faults:
        return HeardTake(entry, faults=faults, remarks=remarks)
    heard = [(n, c, one) for (n, c), one in zip(named, hearing.channels, strict=True) if one is not None]
    jack = on_jack(job, [(name, column) for name, column, _ in heard], stage=entry.stage)
    tables: tuple[JackTable, ...] = ()
    if len(heard) > 1 and not entry.is_split_check:
        phases = hum_phase_table(
            [(one, mix) for (_, _, one), mix in zip(heard, jack.mixes, strict=True)], count=jack.count
        )
        tables = (JackTable(HUM_PHASE, "w", jack.stations, phases),)
    hums = tuple(JackHum(name, column, one) for name, column, one in heard)
    return HeardTake(entry, jack.stations, hums=hums, tables=tables, remarks=remarks)


def _may_be_quiet(mix: Mix) -> bool:
    """Whether hum can cancel in a setting: several pickups, or one of two coils."""
    return not mix.alone or mix.sources[0].coils > 1


def driven(job: Job, entry: Take, audio: Audio, station: Station) -> HeardTake:
    """A take with a driven coil over one pickup."""
    hearing = hear_drive(audio.samples[:, station.column], rate=audio.rate, mains_hz=job.mains_hz)
    faults, remarks = _said(entry, hearing.faults, hearing.remarks)
    drives = () if faults or hearing.turn is None else (hearing,)
    return HeardTake(entry, (station,), drives=drives, faults=faults, remarks=remarks)


def _said(
    entry: Take, faults: Sequence[Fault], remarks: Sequence[Fault]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return (
        tuple(fault_sentence(f, entry=entry) for f in faults),
        tuple(fault_sentence(f, entry=entry, remark=True) for f in remarks),
    )
