"""Each take of a job, heard: from files to events and faults.

Task: load one take at a time, hear what its gesture asks for, keep only what evidence and drawings need.
Shapes: signals are at the analysis rate of dsp.conditioning. Signs: every event keeps the sign with
which it was recorded; nothing is compared here.

A take that cannot be used has ``faults`` (full sentences) and no events; ``remarks`` mark it down or
inform. Memory is bounded by the longest take.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from capture.audio_files import Audio
from capture.bench_log import LeadsInput, Take
from capture.errors import RecordingError
from capture.folder import JobFolder, TakeFile
from capture.job import Job, note_hz
from dsp.conditioning import ANALYSIS_RATE, band, checked
from dsp.errors import SignalError
from dsp.faults import Fault
from dsp.listening import Pluck, hear_plucks, hear_pulses
from dsp.paired import paired_statistic
from dsp.places import Place
from dsp.pulses import Pulse
from dsp.turns import Turn
from reports.fault_words import (
    NOT_READ_YET,
    SEVERAL_PULSES,
    TOGETHER,
    fault_sentence,
)

Array = NDArray[np.float64]

TRACE_PERIODS = 5.0
LAST_VOICE_PARTIAL = 3.5
CLEARLY_LARGER = 3.0
PLUCKED = ("pluck", "press")
PULSED = ("lift", "touch")


@dataclass(frozen=True)
class Station:
    """What one channel carried: a pickup (or one coil of it), and how its leads were on the channel.

    ``turned``: hot and ground exchanged against the wiring of the moment. ``column`` counts from 0.
    ``clips``: leads were named, so clips were on them.
    """

    pickup: str
    coil: int | None
    turned: bool
    column: int
    clips: bool


@dataclass(frozen=True, eq=False)
class PairedPluck:
    """One pluck on two channels: the statistic of dsp.paired, and both channels' waveforms to draw.

    ``between`` are the two stations' numbers in ``HeardTake.stations``.
    """

    between: tuple[int, int]
    statistic: float
    f0_hz: float
    traces: tuple[Array, Array]


@dataclass(frozen=True, eq=False)
class SinglePluck:
    """One pluck on one channel, to be compared with others, and its waveform to draw."""

    turn: Turn
    trace: Array


@dataclass(frozen=True, eq=False)
class HeardTake:
    """One take after listening; which of the event lists is filled follows from gesture and inputs."""

    entry: Take
    stations: tuple[Station, ...] = ()
    paired: tuple[PairedPluck, ...] = ()
    single: tuple[SinglePluck, ...] = ()
    pulses: tuple[Pulse, ...] = ()
    clipped: bool = False
    faults: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    sha256: str | None = field(default=None)


def hear_takes(folder: JobFolder) -> tuple[HeardTake, ...]:
    """Hear every take that is not voided, in the order of the log."""
    return tuple(_heard(folder.job, take) for take in folder.takes())


def place_of(job: Job, name: str, *, fret: int = 0) -> Place:
    """Where a pickup sits under a string that sounds from ``fret``."""
    pickup = job.pickup(name)
    return Place(None if pickup is None else pickup.centre_mm, job.sounding_mm(fret=fret))


def _heard(job: Job, take: TakeFile) -> HeardTake:
    entry = take.entry
    message = (take.message,) if take.message else ()
    if take.status != "usable":
        return HeardTake(entry, faults=message)
    try:
        audio = take.load()
        samples = checked(audio.samples, rate=audio.rate)
    except (RecordingError, SignalError) as error:
        return HeardTake(
            entry,
            faults=(
                fault_sentence(Fault("no numbers"))
                if isinstance(error, SignalError) and "NaN" in str(error)
                else _sentence(str(error).removeprefix(f"{take.path}: ")),
            ),
        )
    audio = Audio(samples, audio.rate, audio.format, audio.subtype, audio.truncated)
    stations = _stations(job, entry)
    if stations is None:
        return HeardTake(entry, faults=(), remarks=(TOGETHER,))
    if entry.gesture in PLUCKED:
        return _plucked(job, entry, audio, stations)
    if entry.gesture in PULSED:
        return _pulsed(job, entry, audio, stations)
    return HeardTake(entry, faults=(NOT_READ_YET.format(entry.gesture),))


def _stations(job: Job, entry: Take) -> tuple[Station, ...] | None:
    """What each channel carried; None where a channel carried several pickups together."""
    found: list[Station] = []
    for column, item in enumerate(entry.inputs):
        if item is None:
            continue
        if isinstance(item, LeadsInput):
            found.append(_station_of_leads(job, item, column=column, coil=entry.coil))
            continue
        if isinstance(item, tuple):
            return None
        setting = job.setting(item)
        if setting is None or len(setting.on) != 1:
            return None
        member = setting.on[0]
        pickup = job.pickup(member.pickup)
        loose = pickup is not None and not pickup.fitted and entry.stage == "found"
        coil = member.coil if member.coil is not None else entry.coil
        found.append(Station(member.pickup, coil, member.reversed, column, loose))
    return tuple(found)


def _station_of_leads(job: Job, item: LeadsInput, *, column: int, coil: int | None) -> Station:
    """A channel whose two leads are named; ``turned`` is settled against the wiring in reports.wires."""
    return Station(item.pickup, coil, False, column, True)


def _plucked(job: Job, entry: Take, audio: Audio, stations: tuple[Station, ...]) -> HeardTake:
    columns = tuple(s.column for s in stations)
    hearing = hear_plucks(
        audio.samples,
        rate=audio.rate,
        channels=columns,
        inputs_differ=not entry.is_split_check,
        named_hz=None if entry.string is None else note_hz(entry.string, fret=entry.fret),
        mains_hz=job.mains_hz,
    )
    faults = tuple(fault_sentence(f, entry=entry) for f in hearing.faults)
    remarks = tuple(fault_sentence(f, entry=entry, remark=True) for f in hearing.remarks)
    if faults:
        return HeardTake(entry, stations, faults=faults, remarks=remarks)
    if len(stations) == 1:
        single = tuple(
            SinglePluck(
                Turn(
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
        return HeardTake(entry, stations, single=single, remarks=remarks)
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
    return HeardTake(entry, stations, paired=paired, remarks=remarks)


def _pulsed(job: Job, entry: Take, audio: Audio, stations: tuple[Station, ...]) -> HeardTake:
    station = _struck(audio, stations)
    if station is None:
        return HeardTake(entry, stations, faults=(SEVERAL_PULSES,))
    hearing = hear_pulses(
        audio.samples,
        rate=audio.rate,
        channel=station.column,
        toward=entry.gesture == "touch",
        mains_hz=job.mains_hz,
    )
    return HeardTake(
        entry,
        (station,),
        pulses=hearing.pulses,
        clipped=any(f.code == "clipped" for f in hearing.remarks),
        faults=tuple(fault_sentence(f, entry=entry) for f in hearing.faults),
        remarks=tuple(fault_sentence(f, entry=entry, remark=True) for f in hearing.remarks),
    )


def _struck(audio: Audio, stations: tuple[Station, ...]) -> Station | None:
    """The channel whose pole the tool was on: the one that moved clearly more than all others."""
    peaks = [float(np.max(np.abs(x - np.mean(x)))) for x in (audio.samples[:, s.column] for s in stations)]
    order = np.argsort(peaks)
    if len(stations) > 1 and peaks[order[-1]] < CLEARLY_LARGER * peaks[order[-2]]:
        return None
    return stations[int(order[-1])]


def _trace(x: Array, pluck: Pluck, *, at: int) -> Array:
    """The low partials around an onset, from one period before, largest magnitude 1."""
    f0 = pluck.pitch.f0_hz
    period = ANALYSIS_RATE / f0
    low = band(x, low_hz=0.6 * f0, high_hz=LAST_VOICE_PARTIAL * f0)
    start = max(0, int(at - period))
    piece = low[start : start + int((TRACE_PERIODS + 1) * period)]
    top = float(np.max(np.abs(piece))) if len(piece) else 0.0
    return piece / top if top > 0 else piece


def _sentence(text: str) -> str:
    said = text.strip()
    return f"{said[:1].upper()}{said[1:]}" + ("" if said.endswith(".") else ".")
