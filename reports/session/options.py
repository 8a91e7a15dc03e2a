"""What a person wants to record with, and the input that is chosen for it: the same for terminal and page."""

from __future__ import annotations

from dataclasses import dataclass, replace

from capture.audio.devices import InputDevice, OutputDevice
from capture.audio.streams import choose_input
from capture.job import Job
from capture.log import Stage
from reports.entry.bench_memory import usual_input
from reports.model.gestures import SESSION_GESTURES
from reports.model.session import Step
from reports.session.rounds import rounds

MOST_INPUTS = 2


@dataclass(frozen=True)
class RecordingOptions:
    """How a person wants to record: which input, how many of its channels, what may be asked for.

    ``fixed`` are steps that the person named; then nothing is chosen. ``output`` plays into a driven coil.
    ``row``: the steps are of a row of pickups, the first plugged in as it begins; the plug is waited for, and
    a tag is asked for before the clips come off.
    """

    source: str | None = None
    inputs: int | None = None
    rate: int | None = None
    stage: Stage = "found"
    rig: str | None = None
    tool: str | None = None
    gestures: tuple[str, ...] = SESSION_GESTURES
    most: int | None = None
    """Takes after which a guided session pauses; None: as many as the wanted pairs usually need."""
    fixed: tuple[Step, ...] = ()
    output: OutputDevice | None = None
    tones: bool = False
    """Whether tones say "now", "accepted" and "refused"."""
    where: str | None = None
    row: bool = False


@dataclass(frozen=True)
class PreparedRecording:
    """An input that was chosen, how many of its channels are listened to, and the options filled in."""

    device: InputDevice
    channels: int
    options: RecordingOptions


def prepare(job: Job, options: RecordingOptions) -> PreparedRecording:
    """Choose the input; a guitar's jack takes one channel of it, whatever the box has.

    Raises
    ------
    DeviceError, SoundMissingError
        No input fits, or several do, or there is no sound system.

    """
    device = usual_input(choose_input, options.source)
    inputs = input_count(device, options.inputs)
    offered = rounds(job, inputs=inputs, gestures=options.gestures, after=options.stage == "after")
    steps = options.fixed or tuple(one.first for one in offered)
    channels = max((len(step.columns) for step in steps), default=1)
    return PreparedRecording(
        device, channels, replace(options, inputs=inputs, rig=options.rig or device.name)
    )


def input_count(device: InputDevice, wanted: int | None) -> int:
    """How many channels of an input are used: two where it has them, unless fewer are wanted."""
    return min(wanted or MOST_INPUTS, MOST_INPUTS, device.channels)


def fixed_steps(step: Step, *, times: int) -> tuple[Step, ...]:
    """The same step so many times."""
    return tuple(replace(step, part=k + 1, parts=times, anew=step.anew and k == 0) for k in range(times))
