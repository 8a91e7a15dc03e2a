"""A published comb against what the simulator records and against the places that the analysis uses.

S3: J. D. Tillman, "Response Effects of Guitar Pickup Mixing", till.com: low E (82.4 Hz) on a 648 mm scale; a
pickup at 162 mm has its first peak at 165 Hz and nulls every 330 Hz, one at 98 mm its first peak at 271 Hz.
"""

import math

import numpy as np
import pytest
from bench_parts import around, lines, pickup, seeded, setting, string
from simulator.circuits import LoadSpec
from simulator.strings import PluckSpec
from simulator.takes import pluck

from dsp.model.settings import place_factor

RATE = 16_000
LOW_E_HZ, SCALE_MM = 82.4, 648.0
PLUCKED = 0.07
HARMONICS = np.arange(1, 9)


def response(centre_mm, *, f0_hz):
    """Recorded amplitude of each harmonic over the string's own velocity (S1), and the string's length.

    The string has the tension and mass of the low E, so that ``f0_hz`` says how long it is: a comb in Hz
    belongs to the place and the wave's speed, whatever the length.
    """
    length_mm = SCALE_MM * LOW_E_HZ / f0_hz
    still = {"decay_per_s": 0.01, "decay_rise_per_s": 0.0, "body_loss": 1.0, "detune_hz": 0.0}
    one = string(f0_hz=f0_hz, length_m=length_mm * 1e-3, **still)
    soft = PluckSpec(place=PLUCKED, height_m=1e-6, width_m=0.0, release_s=0.0)
    rig = around(rate=RATE, lead_in_s=0.1, ringing_s=1.2, load=LoadSpec(cable_f=0.0))
    heard = pluck(seeded(), one, setting(pickup(centre_mm=centre_mm, aperture_mm=0.0)), soft, rig)
    heard = heard[round(0.15 * RATE) :, 0]
    velocity = np.abs(np.sin(HARMONICS * math.pi * PLUCKED)) / HARMONICS
    return np.abs(lines(heard, HARMONICS * f0_hz, rate=RATE)) / velocity, length_mm


PEAKS = [
    # the second row shortens the string so that a harmonic falls on the peak
    pytest.param(162.0, LOW_E_HZ, 2, 165.0, id="S3 162 mm"),
    pytest.param(98.0, 271.0 / 3, 3, 271.0, id="S3 98 mm"),
]


@pytest.mark.parametrize(("centre_mm", "f0_hz", "highest", "peak_hz"), PEAKS)
def test_first_peak_of_a_recorded_pluck(centre_mm, f0_hz, highest, peak_hz):
    """S3: the harmonic on the published peak is the strongest, and the others follow the comb."""
    heard, length_mm = response(centre_mm, f0_hz=f0_hz)
    hz = HARMONICS * f0_hz
    assert hz[highest - 1] == pytest.approx(peak_hz, abs=0.5)
    assert np.argmax(heard[:4]) == highest - 1
    published = np.abs(np.sin(0.5 * math.pi * hz / peak_hz))
    assert heard / heard[highest - 1] == pytest.approx(published, abs=0.03)
    places = [abs(place_factor(int(n), centre_mm=centre_mm, length_mm=length_mm)) for n in HARMONICS]
    assert places == pytest.approx(published, abs=0.03)


def test_nulls_of_a_recorded_pluck():
    """S3: at 162 mm nulls every 330 Hz: harmonics 4 and 8 of the low E are not heard, all others are."""
    heard, _ = response(162.0, f0_hz=LOW_E_HZ)
    lowered_db = 20 * np.log10(heard / heard.max())
    nulls = [n for n, db in zip(HARMONICS, lowered_db, strict=True) if db < -40]
    assert [n * LOW_E_HZ for n in nulls] == pytest.approx([330.0, 660.0], abs=1.0)
    assert min(np.delete(lowered_db, [3, 7])) > -6
