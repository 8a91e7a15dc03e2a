"""One take of a job, from its recording to a `TakeResult`.

The gesture of a take says how it is analysed (reports.model.gestures); what is kept is what evidence and
drawings need. Signals: full scale 1.0, at the analysis rate of dsp.signal.samples once a channel was taken
out of a recording. Sign: every measurement keeps the sign with which it was recorded. A take that cannot be
used has ``faults`` and no measurements; ``remarks`` mark it down or inform. Memory is bounded by the longest
take.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import combinations
from typing import Literal, assert_never

import numpy as np
from numpy.typing import NDArray

from capture.audio.files import Audio
from capture.audio.problems import FileProblem, UnreadableError
from capture.job import Job, Member, Setting, note_hz
from capture.log import LeadsInput, Take, pickups_of
from capture.log.entries import FEWEST_SETTINGS
from capture.takes.folder import TakeFile
from dsp.methods.blend import blend_bins
from dsp.methods.channel_ratio import channel_ratio
from dsp.methods.driven_coil import analyse_drive
from dsp.methods.hum import analyse_hum
from dsp.methods.hum_windings import analyse_switched_hum, hum_in_stretches, hum_phase_table
from dsp.methods.input_path import input_path
from dsp.methods.paired import paired_partials, statistic_of
from dsp.methods.plucks import Pluck, PluckAnalysis, analyse_plucks, analyse_pulses
from dsp.methods.profile import pluck_levels
from dsp.methods.sequential import SequentialPluck
from dsp.methods.switch import SwitchAnalysis, analyse_switch
from dsp.methods.taps import analyse_taps
from dsp.model.settings import Mix, Place
from dsp.signal.codes import Fault
from dsp.signal.onsets import SETTLES_PERIODS
from dsp.signal.pitch import note_name
from dsp.signal.samples import ANALYSIS_RATE, at_analysis_rate, band
from reports.evidence.results import (
    BlendPluck,
    ChannelSource,
    HeardLevels,
    PairedPluck,
    SettingHum,
    SettingPluck,
    SettingTaps,
    SignTable,
    SinglePluck,
    TakeResult,
)
from reports.evidence.settings import (
    JackMixes,
    channel_source,
    coil_of,
    jack_mixes,
    named_settings,
    place_of,
)
from reports.model.gestures import HUM_PHASE, PULSED, SWITCH, SWITCH_HUM, Analysis, gesture_row
from reports.model.take_notes import (
    FileNote,
    LongTakeNote,
    MakeUp,
    NoStringNote,
    ShortStretchNote,
    SoundNote,
    TakeCode,
    TakeNote,
)

Array = NDArray[np.float64]

WAV_FLAVOURS = ("WAV", "WAVEX", "RF64", "W64")
DEPTHS = {"FLOAT": "32 bit float", "DOUBLE": "64 bit float", "PCM_S8": "8 bit", "PCM_U8": "8 bit"}
WITH_LOSS = ("MPEG", "VORBIS", "OPUS")
"""How the subtypes begin that leave something out."""
COVERING_PARTIALS = 12
"""Partials of a string that may lie over a mains line."""
TRACE_PERIODS = 5.0
HAND_BACK_S = 0.15
"""Before the next pluck the hand is on the string and damps it."""
HIGHEST_TRACE_PARTIAL = 3.5
CLEARLY_LARGER = 3.0
"""A pulse shows so many times larger on the channel of its pickup than on any other."""


def analyse_take(job: Job, take: TakeFile) -> TakeResult:
    """Analyse one take of a job."""
    if take.problem is not None:
        return TakeResult(take.entry, faults=(FileNote(take.problem),))
    try:
        audio = take.load()
    except UnreadableError as error:
        problem = FileProblem("unreadable", refusal=error.refusal)
        return TakeResult(take.entry, faults=(FileNote(problem),))
    result = replace(_result_of(job, take.entry, audio), made=_make_up(audio))
    if audio.subtype.startswith(WITH_LOSS) and not result.faults:
        result = replace(result, remarks=(*result.remarks, TakeNote("compressed with loss")))
    if audio.part is None:
        return result
    long = LongTakeNote(audio.part.start_s, audio.part.stop_s, audio.part.whole_s)
    return replace(result, remarks=(*result.remarks, long))


def _result_of(job: Job, entry: Take, audio: Audio) -> TakeResult:
    if all(item is None for item in entry.inputs):
        return _refused(entry, "nothing plugged in")
    analysis = gesture_row(entry.gesture).analysis
    if analysis != "taps" and not entry.is_split_check and any(p.source for p in pickups_of(entry, job)):
        together = analysis == "plucks" and len(entry.inputs) > 1
        sources = _sources(job, entry) if together else None
        return (
            _refused(entry, "no magnetic pickup")
            if not sources
            else _blend_result(job, entry, audio, sources)
        )
    match analysis:
        case "selector":
            return _switch_result(job, entry, audio)
        case "hum":
            return _hum_result(job, entry, audio)
        case "taps":
            return _taps_result(entry, audio)
        case "plucks" | "pulses" | "driven coil":
            return _result_by_channel(job, entry, audio, analysis)
        case _:
            assert_never(analysis)


def _make_up(audio: Audio) -> MakeUp:
    """How a file is written; WAV of any flavour is one family."""
    kind, _, bits = audio.subtype.rpartition("_")
    depth = DEPTHS.get(audio.subtype, f"{bits} bit" if kind and bits.isdigit() else audio.subtype)
    return MakeUp(audio.rate, depth, "WAV" if audio.format in WAV_FLAVOURS else audio.format)


def _refused(entry: Take, code: TakeCode, sources: tuple[ChannelSource, ...] = ()) -> TakeResult:
    return TakeResult(entry, sources, faults=(TakeNote(code),))


def _notes(
    entry: Take, faults: Sequence[Fault], remarks: Sequence[Fault]
) -> tuple[tuple[SoundNote, ...], tuple[SoundNote, ...]]:
    """The faults and remarks of dsp as notes on a take."""
    note = partial(SoundNote, gesture=entry.gesture, string=entry.string, fret=entry.fret)
    return tuple(note(f) for f in faults), tuple(note(f, remark=True) for f in remarks)


def _switch_result(job: Job, entry: Take, audio: Audio) -> TakeResult:
    """A take in which the selector moves: the string's partials tell ``s``, the mains lines ``w``."""
    columns = [column for column, item in enumerate(entry.inputs) if isinstance(item, tuple)]
    if len(columns) != 1:
        return _refused(entry, "no list of settings")
    (column,) = columns
    listed = [(name, c) for name, c in named_settings(entry.inputs) if c == column]
    if len(listed) < FEWEST_SETTINGS:
        return _refused(entry, "list of one setting")
    knobs = job.control == "volumes" and entry.string is not None
    if knobs:
        listed = [listed[0], listed[-1]]
    jack = jack_mixes(job, listed, stage=entry.stage, fret=entry.fret, string=entry.string)
    if knobs and (jack.count < len(listed) or not all(mix.alone for mix in jack.mixes)):
        return _refused(entry, "not from one alone to another")
    humming = jack_mixes(job, listed, stage=entry.stage, fret=entry.fret, hum=True)
    x = audio.samples[:, column]
    if entry.string is None:
        hum = analyse_switched_hum(
            x, rate=audio.rate, mixes=humming.mixes, count=humming.count, mains_hz=job.mains_hz
        )
        faults, remarks = _notes(entry, hum.faults, hum.remarks)
        tables = [] if faults else _tables(SWITCH_HUM, "w", humming, hum.table)
        return TakeResult(entry, humming.sources, tables=tuple(tables), faults=faults, remarks=remarks)
    switch = analyse_switch(
        x,
        rate=audio.rate,
        mixes=jack.mixes,
        count=jack.count,
        named_hz=note_hz(entry.string, fret=entry.fret),
        mains_hz=job.mains_hz,
        knobs=knobs,
    )
    faults, remarks = _notes(entry, switch.faults, switch.remarks)
    if faults or switch.table is None:
        return TakeResult(entry, jack.sources, faults=faults, remarks=remarks)
    tables = _tables(SWITCH, "s", jack, switch.table)
    if not knobs:
        hum_table = _hum_table_beside_string(job, audio, switch, humming, column=column)
        tables += _tables(SWITCH_HUM, "w", humming, hum_table)
    lone = tuple(
        (mix.sources[0].sign, -1 if mix.sources[0].reversed else 1) if mix.alone else None
        for mix in jack.mixes
    )
    heard = tuple(
        HeardLevels(0, None, name, levels)
        for name, levels in zip(jack.settings, switch.stretch_levels, strict=not knobs)
    )
    return TakeResult(
        entry,
        jack.sources,
        heard=heard,
        tables=tuple(tables),
        switch=switch,
        lone_sources=lone,
        remarks=(*remarks, *_short_stretches(jack, switch)),
    )


FEWEST_STRETCHES = 4
"""A sweep through fewer settings tells by its first and last, which ring on."""
SHORT_S = 0.3
"""A position that rings for less tells little of its partials' phase; half a second on each is asked for."""


def _short_stretches(jack: JackMixes, switch: SwitchAnalysis) -> tuple[ShortStretchNote, ...]:
    """The positions of a long sweep, one pickup each, that rang too shortly."""
    lengths = [(s.stop - s.start) / ANALYSIS_RATE for s in switch.stretches]
    short = [
        (name, length)
        for name, mix, length in zip(jack.settings, jack.mixes, lengths, strict=False)
        if mix.alone and length < SHORT_S
    ]
    if len(lengths) < FEWEST_STRETCHES or not short:
        return ()
    return (ShortStretchNote(tuple(n for n, _ in short), min(s for _, s in short)),)


def _tables(method: str, letter: Literal["s", "w"], jack: JackMixes, log: Array | None) -> list[SignTable]:
    return [] if log is None else [SignTable(method, letter, jack.sources, log)]


def _hum_table_beside_string(
    job: Job, audio: Audio, switch: SwitchAnalysis, jack: JackMixes, *, column: int
) -> Array | None:
    """What the mains lines beside a ringing string say of the windings; None where they say nothing."""
    x = at_analysis_rate(audio.samples[:, column], rate=audio.rate)
    partials = None
    if switch.f0_hz is not None:
        partials = tuple(switch.f0_hz * n for n in range(1, COVERING_PARTIALS + 1))
    lines = hum_in_stretches(
        x,
        stretches=[(s.start, s.stop) for s in switch.stretches],
        mains_hz=job.mains_hz,
        partials_hz=partials,
    )
    measured = [(line, mix) for line, mix in zip(lines, jack.mixes, strict=True) if line is not None]
    return hum_phase_table(measured, count=jack.count) if len(measured) > 1 else None


def _hum_result(job: Job, entry: Take, audio: Audio) -> TakeResult:
    """A take of hum alone: its lines on every channel, and the phases between two channels."""
    if any(isinstance(item, LeadsInput | tuple) for item in entry.inputs):
        return _refused(entry, "leads or a list of settings")
    named = named_settings(entry.inputs)
    mixes = jack_mixes(job, named, stage=entry.stage, hum=True).mixes
    hum = analyse_hum(
        audio.samples,
        rate=audio.rate,
        channels=tuple(column for _, column in named),
        mains_hz=job.mains_hz,
        may_cancel=tuple(
            column for (_, column), mix in zip(named, mixes, strict=True) if _may_cancel_hum(mix)
        ),
    )
    faults, remarks = _notes(entry, hum.faults, hum.remarks)
    if faults:
        return TakeResult(entry, faults=faults, remarks=remarks)
    hums = tuple(
        SettingHum(name, column, lines)
        for (name, column), lines in zip(named, hum.channels, strict=True)
        if lines is not None
    )
    jack = jack_mixes(job, [(h.setting, h.column) for h in hums], stage=entry.stage, hum=True)
    tables: list[SignTable] = []
    if len(hums) > 1 and not entry.is_split_check:
        measured = [(h.lines, mix) for h, mix in zip(hums, jack.mixes, strict=True)]
        tables = _tables(HUM_PHASE, "w", jack, hum_phase_table(measured, count=jack.count))
    return TakeResult(entry, jack.sources, hums=hums, tables=tuple(tables), remarks=remarks)


def _taps_result(entry: Take, audio: Audio) -> TakeResult:
    """Taps on the poles of one pickup: how loud they are through the setting of each channel."""
    if entry.tapped is None:
        return _refused(entry, "tapped pickup not named")
    if any(isinstance(item, LeadsInput | tuple) for item in entry.inputs):
        return _refused(entry, "taps need one position")
    taps: list[SettingTaps] = []
    faults: list[Fault] = []
    remarks: list[Fault] = []
    for name, column in named_settings(entry.inputs):
        found = analyse_taps(audio.samples, rate=audio.rate, channel=column)
        faults += found.faults
        remarks += found.remarks
        if found.level is not None:
            taps.append(SettingTaps(name, column, found.level))
    against, informs = _notes(entry, faults, remarks)
    return TakeResult(entry, taps=() if against else tuple(taps), faults=against, remarks=informs)


def _may_cancel_hum(mix: Mix) -> bool:
    """Whether hum can cancel in a setting: several pickups, or one of two coils."""
    return not mix.alone or not mix.sources[0].hums


def _result_by_channel(
    job: Job, entry: Take, audio: Audio, analysis: Literal["plucks", "pulses", "driven coil"]
) -> TakeResult:
    """Plucks, pulses or a driven coil.

    Dispatch by gesture, and by whether a channel carries several pickups.
    """
    sources = _sources(job, entry)
    if sources is None:
        return _result_of_sum(job, entry, audio, analysis)
    if analysis == "plucks":
        return _pluck_result(job, entry, audio, sources)
    source = _loudest(audio, sources)
    if source is None:
        return _refused(entry, "pulse on several inputs", sources)
    return (_drive_result if analysis == "driven coil" else _pulse_result)(job, entry, audio, source)


def _sources(job: Job, entry: Take) -> tuple[ChannelSource, ...] | None:
    """What each channel carried; None where a channel carried several pickups together."""
    sources: list[ChannelSource] = []
    for column, item in enumerate(entry.inputs):
        if item is None:
            continue
        if isinstance(item, LeadsInput):
            coil = coil_of(job, item.pickup, _coil_at_pole(job, item.pickup, entry))
            sources.append(ChannelSource(item.pickup, coil, False, column, True))
            continue
        setting = None if isinstance(item, tuple) else job.setting(item)
        member = None if setting is None else _one_member(setting, entry)
        if setting is None or member is None:
            return None
        coil = member.coil if member.coil is not None else _coil_at_pole(job, member.pickup, entry)
        source = channel_source(
            job,
            member.model_copy(update={"coil": coil}),
            column=column,
            stage=entry.stage,
            bypassed=setting.bypass,
        )
        sources.append(replace(source, reversed=member.reversed))
    return tuple(sources)


def _coil_at_pole(job: Job, name: str, entry: Take) -> int | None:
    """The coil that a tool was at; None where a pole goes through all of them."""
    pickup = job.pickup(name)
    return entry.coil if pickup is None or pickup.made.pole_has_coil else None


def _one_member(setting: Setting, entry: Take) -> Member | None:
    """The member of a setting that a take is about: the only one, or the one at whose pole the tool was."""
    if entry.gesture in PULSED and entry.tapped is not None:
        mine = [m for m in setting.on if m.pickup == entry.tapped]
    else:
        mine = list(setting.on)
    return mine[0] if len(mine) == 1 else None


def _loudest(audio: Audio, sources: tuple[ChannelSource, ...]) -> ChannelSource | None:
    """The channel whose pole the tool or the driven coil was on; None where none is clearly the loudest."""
    peaks = [float(np.max(np.abs(x - np.mean(x)))) for x in (audio.samples[:, s.column] for s in sources)]
    order = np.argsort(peaks)
    if len(sources) > 1 and peaks[order[-1]] < CLEARLY_LARGER * peaks[order[-2]]:
        return None
    return sources[int(order[-1])]


def _pulse_result(job: Job, entry: Take, audio: Audio, source: ChannelSource) -> TakeResult:
    pulses = analyse_pulses(
        audio.samples,
        rate=audio.rate,
        channel=source.column,
        toward=entry.gesture == "touch",
        mains_hz=job.mains_hz,
    )
    faults, remarks = _notes(entry, pulses.faults, pulses.remarks)
    clipped = any(note.code == "clipped" for note in remarks)
    return TakeResult(entry, (source,), pulses=pulses.pulses, clipped=clipped, faults=faults, remarks=remarks)


def _drive_result(job: Job, entry: Take, audio: Audio, source: ChannelSource) -> TakeResult:
    drive = analyse_drive(audio.samples[:, source.column], rate=audio.rate, mains_hz=job.mains_hz)
    faults, remarks = _notes(entry, drive.faults, drive.remarks)
    drives = () if faults or drive.turn is None else (drive,)
    return TakeResult(entry, (source,), drives=drives, faults=faults, remarks=remarks)


def _analysed_plucks(job: Job, entry: Take, audio: Audio, columns: tuple[int, ...]) -> PluckAnalysis:
    """The plucks of a take; one pickup before and behind its stage may well be one signal."""
    heard = pickups_of(entry, job)
    staged = len(heard) == 1 and heard[0].active
    return analyse_plucks(
        audio.samples,
        rate=audio.rate,
        channels=columns,
        inputs_differ=not entry.is_split_check and not staged,
        named_hz=None if entry.string is None else note_hz(entry.string, fret=entry.fret),
        mains_hz=job.mains_hz,
    )


def _result_of_sum(job: Job, entry: Take, audio: Audio, analysis: Analysis) -> TakeResult:
    """A take with several pickups on one channel.

    Only plucks recorded on a single channel are used, and only their harmonic levels.
    """
    named = named_settings(entry.inputs)
    if analysis != "plucks" or len(named) != 1 or len(entry.inputs) != 1:
        return TakeResult(entry, remarks=(TakeNote("several pickups together"),))
    plucks = _analysed_plucks(job, entry, audio, (0,))
    faults, remarks = _notes(entry, plucks.faults, plucks.remarks)
    levels = () if faults else _setting_plucks(job, plucks, named[0][0])
    return TakeResult(entry, plucks=levels, faults=faults, remarks=remarks)


def _pluck_result(job: Job, entry: Take, audio: Audio, sources: tuple[ChannelSource, ...]) -> TakeResult:
    """Plucks on one channel, to be compared with other takes, or on several, compared with each other."""
    plucks = _analysed_plucks(job, entry, audio, tuple(s.column for s in sources))
    faults, remarks = _notes(entry, plucks.faults, plucks.remarks)
    if faults:
        return TakeResult(entry, sources, faults=faults, remarks=remarks)
    said = tuple(_entry_remarks(entry, plucks, audio))
    places = [place_of(job, s.pickup, fret=entry.fret, string=entry.string) for s in sources]
    channels = plucks.channels
    if len(sources) == 1:
        single = tuple(
            SinglePluck(
                SequentialPluck(onset, pluck.pitch, entry.string, entry.fret, places[0]),
                _trace(channels[0], pluck, at=onset.sample),
            )
            for pluck in plucks.plucks
            if (onset := pluck.onsets[0]) is not None
        )
        named = named_settings(entry.inputs)
        levels = _setting_plucks(job, plucks, named[0][0]) if named else ()
        return TakeResult(entry, sources, single=single, plucks=levels, remarks=(*remarks, *said))
    paired = tuple(
        _paired_pluck(entry, plucks, pluck, sources, places, between=(i, j), stop=stop)
        for pluck, stop in zip(plucks.plucks, _stops(plucks), strict=True)
        for i, j in combinations(range(len(sources)), 2)
    )
    quiet = plucks.plucks[0].rough
    heard = tuple(
        HeardLevels(
            k,
            number,
            None,
            pluck_levels(channel, onset=p.rough, quiet=quiet, pitch=p.pitch, mains_hz=job.mains_hz),
        )
        for k, p in enumerate(plucks.plucks)
        for number, channel in enumerate(channels)
    )
    return TakeResult(entry, sources, paired=paired, heard=heard, remarks=(*remarks, *said))


NOT_NOTHING = 0.1
"""An input on which nothing was plugged in may carry so much of the loudest one's peak, by crosstalk."""


def _entry_remarks(entry: Take, plucks: PluckAnalysis, audio: Audio) -> Iterator[NoStringNote | TakeNote]:
    """What the entry of a pluck does not say, or says otherwise than it sounds."""
    if entry.string is None and not entry.is_split_check:
        hz = plucks.plucks[0].pitch.f0_hz
        yield NoStringNote(note_name(hz), hz)
    empty = [k for k, item in enumerate(entry.inputs) if item is None]
    peaks = [np.ptp(one) for one in audio.samples.T] if empty else []
    if any(peaks[k] > NOT_NOTHING * max(peaks) for k in empty):
        yield TakeNote("sound where nothing was plugged in")


def _blend_result(job: Job, entry: Take, audio: Audio, sources: tuple[ChannelSource, ...]) -> TakeResult:
    """Plucks on a magnetic pickup and another source at once: how they add, frequency by frequency."""
    plucks = _analysed_plucks(job, entry, audio, tuple(s.column for s in sources))
    faults, remarks = _notes(entry, plucks.faults, plucks.remarks)
    if faults:
        return TakeResult(entry, sources, faults=faults, remarks=remarks)
    magnetic = [k for k, s in enumerate(sources) if (p := job.pickup(s.pickup)) is None or p.source is None]
    others = [k for k in range(len(sources)) if k not in magnetic]
    quiet = plucks.plucks[0].rough
    found = tuple(
        BlendPluck((i, j), bins)
        for pluck, stop in zip(plucks.plucks, _stops(plucks), strict=True)
        for i in magnetic
        for j in others
        if (
            bins := blend_bins(
                plucks.channels[i], plucks.channels[j], onset=pluck.rough, quiet=quiet, stop=stop
            )
        )
        is not None
    )
    return TakeResult(entry, sources, blends=found, remarks=remarks)


def _paired_pluck(
    entry: Take,
    plucks: PluckAnalysis,
    pluck: Pluck,
    sources: tuple[ChannelSource, ...],
    places: Sequence[Place],
    *,
    between: tuple[int, int],
    stop: int | None,
) -> PairedPluck:
    """One pluck on two of a take's channels up to ``stop``, and what a split check shows of the inputs."""
    i, j = between
    a, b = (plucks.channels[k] for k in between)
    quiet = plucks.plucks[0].rough
    partials = paired_partials(
        a,
        b,
        onset=pluck.rough,
        pitch=pluck.pitch,
        quiet=quiet,
        place_a=places[i],
        place_b=places[j],
        fret=entry.fret,
    )
    split = entry.inputs[sources[i].column] == entry.inputs[sources[j].column]
    return PairedPluck(
        between,
        statistic_of(partials).value,
        pluck.pitch.f0_hz,
        (_trace(a, pluck, at=pluck.rough), _trace(b, pluck, at=pluck.rough)),
        partials,
        input_path(a, b, onset=pluck.rough, quiet=quiet) if split else None,
        ratio=channel_ratio(
            a,
            b,
            onset=pluck.rough,
            pitch=pluck.pitch,
            quiet=quiet,
            stop=stop,
            place_a=places[i],
            place_b=places[j],
            fret=entry.fret,
        ),
    )


def _stops(plucks: PluckAnalysis) -> list[int | None]:
    """Where the ringing of each pluck ends because a hand comes back for the next; None for the last."""
    back = int(HAND_BACK_S * ANALYSIS_RATE)
    return [*(later.rough - back for later in plucks.plucks[1:]), None]


def _setting_plucks(job: Job, plucks: PluckAnalysis, setting: str) -> tuple[SettingPluck, ...]:
    """The levels of the harmonics of every pluck at the jack."""
    quiet = plucks.plucks[0].rough
    return tuple(
        SettingPluck(
            setting,
            pluck_levels(
                plucks.channels[0], onset=p.rough, quiet=quiet, pitch=p.pitch, mains_hz=job.mains_hz
            ),
        )
        for p in plucks.plucks
    )


def _trace(x: Array, pluck: Pluck, *, at: int) -> Array:
    """The low partials around the onset at sample ``at``, from one period before it, largest magnitude 1."""
    f0 = pluck.pitch.f0_hz
    period = ANALYSIS_RATE / f0
    start, length = max(0, int(at - period)), int((TRACE_PERIODS + 1) * period)
    # filtered with some periods on either side, so that the filter has settled where the trace begins
    first = max(0, start - int(SETTLES_PERIODS * period))
    around = x[first : start + length + int(SETTLES_PERIODS * period)]
    low = band(around, low_hz=0.6 * f0, high_hz=HIGHEST_TRACE_PARTIAL * f0)
    piece = low[start - first : start - first + length]
    top = float(np.max(np.abs(piece))) if len(piece) else 0.0
    return piece / top if top > 0 else piece
