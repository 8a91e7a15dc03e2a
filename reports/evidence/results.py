"""The result of a take: the records that evidence and drawings are made of, and what is cached of a take.

Records only. Signals are at the analysis rate of dsp.signal.samples. Sign: every measurement keeps the sign
with which it was recorded; nothing is compared here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from capture.audio.problems import ProblemCode
from capture.log import Take
from dsp.methods.blend import BlendBins
from dsp.methods.channel_ratio import ChannelRatio
from dsp.methods.driven_coil import DriveAnalysis
from dsp.methods.hum import HumLines
from dsp.methods.input_path import InputPath
from dsp.methods.paired import PartialPairs
from dsp.methods.profile import PluckLevels
from dsp.methods.sequential import SequentialPluck
from dsp.methods.switch import SwitchAnalysis
from dsp.methods.taps import TapLevel
from dsp.methods.tool_pulse import Pulse
from reports.model.gestures import SignLetter
from reports.model.take_notes import AnyTakeNote, FileNote, MakeUp

Array = NDArray[np.float64]

NO_RIG = "the rig in use"
"""Stands for the rig of takes that name none."""
LOST: tuple[ProblemCode, ...] = ("missing", "hash mismatch", "unreadable")
"""Problems of a file by which the result of the take is lost, and that putting the file back would mend."""


@dataclass(frozen=True)
class ChannelSource:
    """What one channel carried: a pickup (or one coil of it), and how its leads were on the channel.

    ``reversed``: hot and ground exchanged against the wiring of the moment. ``column`` counts from 0.
    ``through_clips``: the signal came through crocodile clips on the pickup's leads. ``bypassed``: past its
    active stage.
    """

    pickup: str
    coil: int | None
    reversed: bool
    column: int
    through_clips: bool
    bypassed: bool = False


@dataclass(frozen=True, eq=False)
class PairedPluck:
    """One pluck on two channels: the statistic of dsp.methods.paired, and both channels' waveforms to draw.

    ``between`` are the numbers of its two channels in ``TakeResult.sources``. ``path`` is what a split check
    shows of the two inputs. ``late``: log odds that the inputs of its rig are not in step, this pluck's share
    of them; None until reports.evidence.input_paths has seen all takes, which also takes the path out of
    ``statistic``. ``ratio``: what their complex ratio tells beyond its sign; None where the pluck rings too
    shortly.
    """

    between: tuple[int, int]
    statistic: float
    f0_hz: float
    traces: tuple[Array, Array]
    partials: PartialPairs
    path: InputPath | None = None
    late: float | None = None
    ratio: ChannelRatio | None = None


@dataclass(frozen=True, eq=False)
class BlendPluck:
    """One pluck on a magnetic pickup and another kind of source: numbers of both in the sources, and bins."""

    between: tuple[int, int]
    bins: BlendBins


@dataclass(frozen=True, eq=False)
class SinglePluck:
    """One pluck on one channel, to be compared with others, and its waveform to draw."""

    turn: SequentialPluck
    trace: Array


@dataclass(frozen=True, eq=False)
class SettingPluck:
    """One pluck on one setting: the levels of its harmonics."""

    setting: str
    levels: PluckLevels


@dataclass(frozen=True, eq=False)
class HeardLevels:
    """The levels of one string's harmonics as one channel carried them, or one stretch of it.

    Of one ``pluck`` of a take there are several: the string is the same there, the place is not. ``source``
    is the number in ``TakeResult.sources``; None where a ``setting`` was heard (a switch take), which is None
    otherwise.
    """

    pluck: int
    source: int | None
    setting: str | None
    levels: PluckLevels


@dataclass(frozen=True, eq=False)
class SettingHum:
    """The mains lines of one setting on one channel of a take."""

    setting: str
    column: int
    lines: HumLines


@dataclass(frozen=True, eq=False)
class SignTable:
    """What one take says at once of the signs of several sources.

    ``log`` has one axis of length 2 for each of ``sources`` (dsp.model.settings); ``letter`` is the sign it
    is about.
    """

    method: str
    letter: SignLetter
    sources: tuple[ChannelSource, ...]
    log: Array


@dataclass(frozen=True)
class SettingTaps:
    """The taps on the pickup of a take as one setting lets them through to one channel."""

    setting: str
    column: int
    level: TapLevel


@dataclass(frozen=True, eq=False)
class TakeResult:
    """One take after analysis; which measurements there are follows from its gesture and inputs.

    ``made``: how its file is written; None where it was not read.
    ``sources``: what each channel carried, or each axis of its tables. ``lone_sources``: for each setting of
    a switch take, the number of its one source and +1, or -1 where the setting has it reversed; None for a
    setting of several. A take with ``faults`` is never used; ``remarks`` mark it down or inform.
    """

    entry: Take
    sources: tuple[ChannelSource, ...] = ()
    paired: tuple[PairedPluck, ...] = ()
    single: tuple[SinglePluck, ...] = ()
    pulses: tuple[Pulse, ...] = ()
    plucks: tuple[SettingPluck, ...] = ()
    heard: tuple[HeardLevels, ...] = ()
    hums: tuple[SettingHum, ...] = ()
    tables: tuple[SignTable, ...] = ()
    drives: tuple[DriveAnalysis, ...] = ()
    taps: tuple[SettingTaps, ...] = ()
    blends: tuple[BlendPluck, ...] = ()
    switch: SwitchAnalysis | None = None
    lone_sources: tuple[tuple[int, int] | None, ...] = ()
    clipped: bool = False
    faults: tuple[AnyTakeNote, ...] = ()
    remarks: tuple[AnyTakeNote, ...] = ()
    made: MakeUp | None = None

    @property
    def lost(self) -> bool:
        """Whether its recording is missing, or is not what was logged."""
        return any(isinstance(f, FileNote) and f.code in LOST for f in self.faults)

    @property
    def has_measurements(self) -> bool:
        """Whether anything in it can be evidence or a measurement."""
        return bool(
            self.paired
            or self.single
            or self.pulses
            or self.plucks
            or self.hums
            or self.tables
            or self.drives
            or self.taps
            or self.blends
        )
