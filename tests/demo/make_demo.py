"""Makes the demo job of recordings/demo anew: an invented bass on the bench simulator.

From the top of the project, with coilwise installed (or PYTHONPATH=.):

    python tests/demo/make_demo.py FOLDER

Every take has a seed of its own and every entry a fixed time, so an empty folder becomes the same job each
time. The truth: with its leads as job.toml assumes them the neck pickup is out of phase with the bridge
(same winding sense at the leads, other pole to the strings); the inputs have the same polarity.

Two things went wrong on this bench. The gain was too high for one paired pluck, which is clipped. And the
meter's leads were exchanged in one clip-up on the neck pickup: its swing, which falls in truth, was
written down as rising, twice.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np
import soundfile as sf
from new_jobs import create_job
from simulator.circuits import CoilElectrics, LoadSpec
from simulator.conditions import ORDINARY
from simulator.gauges import BASS, open_string
from simulator.hands import Habit
from simulator.hum import MainsSpec
from simulator.interfaces import ChannelSpec, InterfaceSpec
from simulator.pickups import CoilSpec, PickupSpec
from simulator.tools import ToolSpec
from simulator.workbench import Bench

from capture.job import Member, Pickup, Setting
from capture.log import Check, Input, LeadsInput, Meter, TakeFields, append_entry, new_entry
from capture.takes.folder import JobFolder
from dsp.model.signs import CoilSigns

SEED = 762
SCALE_MM = 762.0
MAINS_HZ = 50
BRIDGE_MM, NECK_MM = 50.0, 176.0
HOT, GROUND = "violet", "grey"
RIG = "two-input box, short cable"
TOOL = "steel rod"
OTHER_TOOL = "screwdriver"
TOO_MUCH_GAIN = 8.0
LEAD_IN_S, RINGING_S = 0.3, 1.2

NECK_CLIPS = LeadsInput(pickup="neck", hot=HOT, ground=GROUND)


@dataclass(frozen=True)
class Planned:
    """One take as it was made; ``rate`` and ``bits`` are those of the recorder at the time."""

    at: str
    gesture: Literal["pluck", "lift"]
    inputs: tuple[Input, ...]
    string: str | None = None
    gain: float = 1.0
    rate: int = 48_000
    bits: int = 24
    tool: str | None = None
    anew: bool = False


def _lift(at: str, on: Input, *, tool: str = TOOL) -> Planned:
    return Planned(f"2026-03-14T{at}Z", "lift", (on,), rate=44_100, bits=16, tool=tool)


def _pair(at: str, string: str, *, gain: float = 1.0, neck: Input = "neck", anew: bool = False) -> Planned:
    return Planned(f"2026-03-14T{at}Z", "pluck", ("bridge", neck), string, gain, anew=anew)


def _swing(at: str, pickup: str, *, kohm: float, **clips: bool) -> Meter:
    return new_entry(
        Meter,
        at=f"2026-03-14T{at}Z",
        pickup=pickup,
        move="away",
        reading="rises",
        red="hot",
        kohm=kohm,
        tool=TOOL,
        **clips,
    )


TAKES = (
    Planned("2026-03-14T09:12:20Z", "pluck", ("bridge", "bridge"), "A1"),
    _pair("09:16:05", "A1"),
    _pair("09:16:40", "A1"),
    _pair("09:17:55", "D2", gain=TOO_MUCH_GAIN),
    _pair("09:19:10", "D2"),
    _lift("09:31:00", "bridge"),
    _lift("09:31:35", "bridge"),
    _lift("09:32:05", "bridge"),
    _lift("09:36:10", NECK_CLIPS),
    _lift("09:36:40", NECK_CLIPS),
    _lift("09:37:15", NECK_CLIPS),
    _lift("10:02:30", "bridge", tool=OTHER_TOOL),
    _pair("10:06:45", "D2", neck=NECK_CLIPS, anew=True),
    _lift("10:09:20", NECK_CLIPS, tool=OTHER_TOOL),
)
"""The last three come after the meter had contradicted: clips put on anew, and another tool."""

METER = (
    _swing("09:48:10", "bridge", kohm=7.4),
    _swing("09:50:30", "neck", kohm=7.1),
    _swing("09:50:55", "neck", kohm=7.1),
    _swing("09:53:20", "bridge", kohm=7.4, anew=True),
)
"""As written down. The meter stayed on neck for its second reading and came back to bridge for the last, so
that one clip-up on neck stands alone against everything else: two readings would leave it open whether the
mistake was on bridge or on neck, in the leads or in the reading."""


CHECK = new_entry(Check, at="2026-03-14T09:45:30Z", what="clip lead", tip="red", kohm=0.0)
"""The ohmmeter, before its first swing, from tip to clip. Without it a clip lead that is wired the other way
round would explain the recordings nearly as well as meter leads exchanged once explain the meter."""


def bench() -> Bench:
    """The bass and the bench, all of it invented."""
    return Bench(
        scale_mm=SCALE_MM,
        strings=tuple(
            open_string(g, length_m=SCALE_MM * 1e-3, cents=cents)
            for g, cents in zip(BASS, (3.0, -4.0, 2.0, 5.0), strict=True)
        ),
        pickups=(
            _pickup(
                "bridge", BRIDGE_MM, CoilSigns(winding=1, magnet=1), ohm=7400.0, henry=3.1, strength=0.22
            ),
            _pickup("neck", NECK_MM, CoilSigns(winding=1, magnet=-1), ohm=7100.0, henry=2.8, strength=0.18),
        ),
        off_centre_mm=((0.4, -0.6, 0.3, 0.8), (-0.5, 0.7, -0.2, 0.6)),
        load=LoadSpec(volume_ohm=250e3, cable_f=420e-12, input_ohm=1e6),
        mains=MainsSpec(nominal_hz=MAINS_HZ, drift=3e-4, field_v=5e-4, capacitive_v=1.5e-4),
        interface=InterfaceSpec(
            channels=(
                ChannelSpec(gain=2.4, high_pass_hz=5.0, noise=2e-4, offset=4e-4),
                ChannelSpec(gain=2.6, high_pass_hz=5.0, noise=2e-4, offset=-3e-4, latency_frames=1),
            ),
            bits=24,
        ),
        tool_gain=0.3,
        tool=ToolSpec(),
        habit=Habit(place=0.22, angle_deg=8.0),
        pluck_v=0.025,
        lift_peak_v=0.3,
        conditions=ORDINARY,
    )


def samples_of(number: int) -> np.ndarray:
    """The samples of take ``number`` (from 1), (frames, channels), from a seed of its own."""
    planned, rng = TAKES[number - 1], np.random.default_rng([SEED, number])
    plain = bench()
    channels = tuple(replace(c, gain=c.gain * planned.gain) for c in plain.interface.channels)
    used = replace(plain, interface=replace(plain.interface, channels=channels, bits=planned.bits))
    around = {"rate": planned.rate, "lead_in_s": LEAD_IN_S, "ringing_s": RINGING_S}
    names = [i.pickup if isinstance(i, LeadsInput) else str(i) for i in planned.inputs]
    if planned.gesture == "lift":
        return used.lift(rng, names[0], **around)
    a, b = names
    if a == b:
        return used.split_check(rng, a, str(planned.string), **around)
    return used.paired(rng, a, b, str(planned.string), **around)


def make(folder: str | Path) -> JobFolder:
    """Make the job in ``folder``, which must be new or empty, and open it."""
    job = create_job(
        folder,
        title="Short-scale bass, other neck pickup",
        scale_mm=SCALE_MM,
        mains_hz=MAINS_HZ,
        strings=[g.name for g in BASS],
        pickups=[
            Pickup(name="bridge", centre_mm=BRIDGE_MM),
            Pickup(name="neck", centre_mm=NECK_MM, fitted=False, hot=HOT, ground=GROUND, shield="own lead"),
        ],
        settings=[Setting(name="both", on=(Member(pickup="bridge"), Member(pickup="neck")))],
    )
    waiting = [CHECK, *METER]
    with tempfile.TemporaryDirectory() as loose:
        for number, planned in enumerate(TAKES, start=1):
            while waiting and str(waiting[0].at) < planned.at:
                append_entry(folder, waiting.pop(0))
            recording = Path(loose) / "recording.flac"
            steps = np.round(samples_of(number) * 2.0**31).astype(np.int32)
            sf.write(recording, steps, planned.rate, subtype=f"PCM_{planned.bits}")
            job.add_take(
                recording,
                TakeFields(
                    planned.gesture,
                    planned.inputs,
                    string=planned.string,
                    rig=RIG,
                    tool=planned.tool,
                    anew=planned.anew,
                ),
                at=planned.at,
            )
    for reading in waiting:
        append_entry(folder, reading)
    return JobFolder.open(folder)


def _pickup(
    name: str, centre_mm: float, signs: CoilSigns, *, ohm: float, henry: float, strength: float
) -> PickupSpec:
    coil = CoilSpec(signs, electrics=CoilElectrics(r_ohm=ohm, l_h=henry, c_f=140e-12))
    return PickupSpec(
        name=name, centre_mm=centre_mm, coils=(coil,), aperture_mm=5.0, distance_mm=2.8, sensitivity=strength
    )


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python tests/demo/make_demo.py FOLDER")
    made_job = make(sys.argv[1])
    print(f"{made_job.path}: {len(made_job.takes())} takes, {len(METER)} meter readings")
