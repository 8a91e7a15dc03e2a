"""Plain parts for the bench tests: quiet surroundings, simple strings and pickups, and what to measure."""

import math

import numpy as np
from simulator.circuits import CoilElectrics, LoadSpec
from simulator.hum import MainsSpec
from simulator.interfaces import ChannelSpec, InterfaceSpec
from simulator.pickups import CoilSpec, PickupSpec
from simulator.rig import Member, SettingSpec, Surroundings
from simulator.strings import StringSpec

from dsp.model.signs import CoilSigns

RATE = 8000
SCALE_MM = 648.0


def seeded(seed=0):
    return np.random.default_rng(seed)


def string(**changed):
    plain = {"name": "A2", "f0_hz": 110.0, "length_m": SCALE_MM * 1e-3, "stiffness": 0.0, "coupling_rad": 0.0}
    return StringSpec(**{**plain, **changed})


def pickup(signs=None, *, centre_mm=162.0, name="neck", **changed):
    coil = CoilSpec(signs or CoilSigns(1, 1), electrics=CoilElectrics(6000.0, 2.5, 100e-12))
    return PickupSpec(name=name, centre_mm=centre_mm, coils=(coil,), **changed)


def setting(*pickups, join="parallel", off_centre_mm=0.0):
    return SettingSpec(tuple(Member(one, off_centre_mm=off_centre_mm) for one in pickups), join=join)


def around(*, channel=None, second=None, mains=None, **changed):
    """A rig without noise, AC coupling or hum where none is asked for."""
    first = channel or ChannelSpec(high_pass_hz=0.0)
    interface = InterfaceSpec(channels=(first, second or first), bits=None)
    values = {"interface": interface, "mains": mains or MainsSpec(), "load": LoadSpec(), "rate": RATE}
    return Surroundings(**{**values, **changed})


def lines(signal, frequencies_hz, *, rate=RATE):
    """Complex amplitude at each frequency, Hann window: the phase is that at the middle."""
    t = (np.arange(signal.size) - signal.size / 2) / rate
    window = np.hanning(signal.size)
    return np.array(
        [2 * np.sum(signal * window * np.exp(-2j * math.pi * f * t)) / window.sum() for f in frequencies_hz]
    )


def rms(signal):
    return float(np.sqrt(np.mean(np.square(signal))))


def first_lobe(signal):
    """The value at the first local extreme beyond half of the largest magnitude."""
    k = int(np.argmax(np.abs(signal) > 0.5 * np.max(np.abs(signal))))
    while k + 1 < signal.size and abs(signal[k + 1]) > abs(signal[k]):
        k += 1
    return float(signal[k])
