import math

import numpy as np
import pytest
from bench_parts import RATE, SCALE_MM, around, lines, pickup, seeded, setting, string
from simulator.gauges import BASS, GUITAR, gauge, open_string
from simulator.strings import (
    PluckSpec,
    mode_frequencies,
    place_weights,
    pluck_motion,
    plucked_amplitudes,
    round_wire_mass,
    sounding_length,
    stiffness,
    tension_for,
    wave_speed,
)
from simulator.takes import paired_pluck, pluck

from dsp import SignalError

AMPLITUDES = [
    pytest.param(0.2, [0.74444, 0.30113, 0.13384, 0.04653, 0, -0.02068, -0.02458, -0.01882], id="S1 Q=0.2"),
    pytest.param(0.5, [0.81057, 0, -0.09006, 0, 0.03242, 0, -0.01654, 0], id="S1 Q=0.5"),
]


@pytest.mark.parametrize(("place", "expected"), AMPLITUDES)
def test_amplitudes_of_a_plucked_ideal_string(place, expected):
    """S1: M. Gallant, "String Plucker"; the same formula as here. test_bench_strings_outside.py uses none."""
    assert plucked_amplitudes(8, place=place) == pytest.approx(expected, abs=6e-6)


def test_amplitudes_add_up_to_the_plucked_corner():
    """S1: at the plucked place the sum of the modes is the height."""
    n = np.arange(1, 4001)
    total = np.sum(plucked_amplitudes(4000, place=0.2, height=2.0) * np.sin(n * math.pi * 0.2))
    assert total == pytest.approx(2.0, rel=1e-3)


def test_wave_speed_and_pitch():
    """S2: the Gallant page: L = 0.65 m, mu = 1.6 g/m, T = 104 N."""
    speed = wave_speed(tension_n=104.0, mass_kg_per_m=1.6e-3)
    assert speed == pytest.approx(255.0, abs=0.5)
    assert speed / (2 * 0.65) == pytest.approx(196.0, abs=0.5)
    assert tension_for(speed / 1.3, length_m=0.65, mass_kg_per_m=1.6e-3) == pytest.approx(104.0, rel=1e-12)


STIFF = [
    pytest.param(0.010, 329.6276, 1.3e-5, id="S6 .010 in at E4"),
    pytest.param(0.017, 195.9977, 1.1e-4, id="S6 .017 in at G3"),
]


@pytest.mark.parametrize(("inches", "hz", "expected"), STIFF)
def test_stiffness_of_plain_steel(inches, hz, expected):
    """S6: figures by the same formula, from memory; test_bench_strings_outside.py has a beam instead."""
    diameter = inches * 0.0254
    tension = tension_for(hz, length_m=0.648, mass_kg_per_m=round_wire_mass(diameter))
    assert stiffness(core_m=diameter, tension_n=tension, length_m=0.648) == pytest.approx(expected, rel=0.04)


def test_stiff_modes_are_stretched():
    """S6: f_n = n f0 sqrt(1 + B n^2)."""
    found = mode_frequencies(string(stiffness=1e-4))
    assert found[[0, 9]] == pytest.approx([110 * math.sqrt(1.0001), 1100 * math.sqrt(1.01)], rel=1e-12)


def test_a_fret_shortens_the_string_and_stiffens_it():
    """S6: B goes with the inverse square of the length."""
    assert sounding_length(0.648, fret=12) == pytest.approx(0.324)
    assert mode_frequencies(string(stiffness=1e-4), fret=12)[9] == pytest.approx(2200 * math.sqrt(1.04))


COMB = [
    pytest.param(162.0, 165.0, 330.0, id="S3 162 mm"),
    pytest.param(98.0, 271.0, None, id="S3 98 mm"),
]


@pytest.mark.parametrize(("x_mm", "peak_hz", "null_every_hz"), COMB)
def test_comb_of_a_place(x_mm, peak_hz, null_every_hz):
    """S3: J. D. Tillman, low E (82.4 Hz). A string 100 times as long shows the whole comb."""
    long = string(f0_hz=0.824, length_m=64.8, modes=900)
    hz = mode_frequencies(long)
    weight = np.abs(
        place_weights(hz.size, x_m=np.array([x_mm * 1e-3]), sigma_m=np.zeros(1), length_m=long.length_m)[:, 0]
    )
    inner = weight[1:-1]
    peaks = hz[1:-1][(inner >= weight[:-2]) & (inner > weight[2:])]
    nulls = hz[1:-1][(inner < weight[:-2]) & (inner <= weight[2:])]
    assert peaks[0] == pytest.approx(peak_hz, abs=2.0)
    if null_every_hz is not None:
        assert nulls[:2] == pytest.approx([null_every_hz, 2 * null_every_hz], abs=2.0)


PLACES = [
    pytest.param(162.0, 41.0, "+++0---0+++0", id="S4 162 & 41 mm"),
    pytest.param(162.0, 98.0, "+++0--+0---0", id="S4 162 & 98 mm"),
]


@pytest.mark.parametrize(("a_mm", "b_mm", "signs"), PLACES)
def test_harmonics_of_two_pickups_in_phase(a_mm, b_mm, signs):
    """S4, on simulated audio of two pickups that are in phase: both by sin(n pi x / L)."""
    settings = (setting(pickup(centre_mm=a_mm)), setting(pickup(centre_mm=b_mm, name="other")))
    soft = PluckSpec(place=0.07, height_m=1e-6, width_m=0.0, release_s=0.0)
    heard = paired_pluck(seeded(), string(), settings, soft, around(lead_in_s=0.1))[round(0.11 * RATE) :]
    hz = 110.0 * np.arange(1, 13)
    product = np.real(lines(heard[:, 0], hz) * np.conj(lines(heard[:, 1], hz)))
    reach = np.max(np.abs(product))
    found = "".join("0" if abs(p) < 3e-4 * reach else "+" if p > 0 else "-" for p in product)
    assert found == signs


@pytest.mark.parametrize(("angle", "sign"), [(0.0, 1), (180.0, -1)])
def test_string_is_drawn_to_one_side_and_rings_from_there(angle, sign):
    stroke = PluckSpec(place=0.25, height_m=1e-3, angle_deg=angle, draw_s=0.1, width_m=0.0, release_s=0.0)
    x = np.array([0.25 * SCALE_MM * 1e-3])
    made = pluck_motion(
        string(modes=400),
        stroke,
        x_m=x,
        sigma_m=np.zeros(1),
        release_s=0.2,
        frames=19200,
        rate=48000,
    )
    vertical = made[0, 0]
    assert np.max(np.abs(vertical[:4700])) < 1e-9
    assert vertical[9600] == pytest.approx(sign * 1e-3, rel=0.02)
    assert abs(vertical[9600] - vertical[9599]) < 2e-5
    assert np.min(sign * vertical[9600:]) < -0.1e-3
    assert np.max(np.abs(made[1])) < 1e-12


def test_drawing_goes_against_the_release():
    """The string moves towards the body while it is drawn, away from it when it is let go."""
    heard = pluck(
        seeded(), string(), setting(pickup()), PluckSpec(draw_s=0.2), around(lead_in_s=0.4, ringing_s=0.2)
    )[:, 0]
    release = round(0.4 * RATE)
    drawn, let_go = heard[release - 1200 : release - 400], heard[release : release + 30]
    assert np.min(drawn) > 0
    assert let_go[np.argmax(np.abs(let_go))] < 0


@pytest.mark.parametrize("detune", [0.5, -2.0])
def test_polarisations_beat(detune):
    """A string pushed straight down turns sideways in half a beat where the two are coupled."""
    turned = string(coupling_rad=math.pi / 4, detune_hz=detune, decay_per_s=0.1, body_loss=1.0)
    made = pluck_motion(
        turned,
        PluckSpec(),
        x_m=np.array([0.162]),
        sigma_m=np.zeros(1),
        release_s=0.1,
        frames=20000,
        rate=RATE,
    )
    beat = round((0.1 + 0.5 / abs(detune)) * RATE)
    near = slice(beat - 300, beat + 300)
    levels = [
        abs(lines(made[axis, 0, part], [110.0])[0]) for part in (slice(810, 1410), near) for axis in (0, 1)
    ]
    assert levels[1] < 0.35 * levels[0]
    assert levels[2] < 0.35 * levels[3]
    assert levels[3] > 0.5 * levels[0]


def test_open_strings_have_their_pitches():
    """S5: equal temperament, A4 = 440 Hz."""
    expected = {"E2": 82.4069, "A2": 110.0, "D3": 146.8324, "G3": 195.9977, "B3": 246.9417, "E4": 329.6276}
    found = {one.name: open_string(one, length_m=0.648).f0_hz for one in GUITAR}
    assert found == pytest.approx(expected, abs=1e-4)
    assert open_string(gauge("A1", BASS), length_m=0.864, cents=1200).f0_hz == pytest.approx(110.0)


def test_impossible_plucks_are_refused():
    with pytest.raises(SignalError, match="inside the string"):
        PluckSpec(place=1.0)
    with pytest.raises(SignalError, match="no string 'H9'"):
        gauge("H9")
    with pytest.raises(SignalError, match="outside the take"):
        pluck_motion(
            string(),
            PluckSpec(),
            x_m=np.array([0.1]),
            sigma_m=np.zeros(1),
            release_s=2.0,
            frames=100,
            rate=RATE,
        )
