from itertools import product

import numpy as np
import pytest
from bench_parts import RATE, around, lines, pickup, rms, seeded, setting, string
from simulator.hum import MainsSpec
from simulator.pickups import CoilSpec, PickupSpec, emf, string_flux
from simulator.rig import Member, SettingSpec
from simulator.strings import PluckSpec
from simulator.takes import paired_pluck, pluck

from dsp import SignalError
from dsp.model.signs import CoilSigns

SIGNS = (1, -1)
SIXTEEN = [
    pytest.param(CoilSigns(wa, ma), CoilSigns(wb, mb), (wa != wb) == (ma != mb), wa != wb)
    for wa, ma, wb, mb in product(SIGNS, repeat=4)
]
"""P1: in phase when both differ or neither does; hum cancels only when the windings differ."""


@pytest.mark.parametrize(("a", "b", "in_phase", "hum_cancels"), SIXTEEN)
def test_sixteen_pairs_on_the_strings(a, b, in_phase, hum_cancels):
    """P1: "Assessing a Pickup's Polarity and Phase", Premier Guitar; by ear, on the fundamental."""
    settings = (setting(pickup(a, centre_mm=41.0)), setting(pickup(b, centre_mm=98.0)))
    heard = paired_pluck(seeded(), string(), settings, PluckSpec(), around(lead_in_s=0.1, ringing_s=0.4))
    one, other = (lines(heard[900:, k], [110.0])[0] for k in (0, 1))
    cosine = np.real(one * np.conj(other)) / (abs(one) * abs(other))
    assert cosine == pytest.approx(1.0 if in_phase else -1.0, abs=1e-3)


@pytest.mark.parametrize(("a", "b", "in_phase", "hum_cancels"), SIXTEEN)
def test_sixteen_pairs_in_a_field(a, b, in_phase, hum_cancels):
    """P1, P2: hum cancels only when the windings differ, whatever the magnets."""
    humming = around(mains=MainsSpec(field_v=1e-3), lead_in_s=0.5, ringing_s=0.1)
    both, alone = (
        pluck(seeded(), string(), each, PluckSpec(), humming)[: round(0.4 * RATE)]
        for each in (setting(pickup(a), pickup(b)), setting(pickup(a)))
    )
    if hum_cancels:
        assert rms(both) < 1e-6 * rms(alone)
    else:
        assert rms(both) == pytest.approx(rms(alone), rel=0.05)


def test_capacitive_hum_ignores_the_winding():
    """P2, R2: what comes in by capacitance says nothing."""
    humming = around(mains=MainsSpec(capacitive_v=1e-3), lead_in_s=0.5, ringing_s=0.1)
    same, differ = (
        pluck(seeded(), string(), setting(pickup(), pickup(other)), PluckSpec(), humming)[: round(0.4 * RATE)]
        for other in (CoilSigns(1, 1), CoilSigns(-1, 1))
    )
    assert rms(same) == pytest.approx(1e-3, rel=0.02)
    assert differ == pytest.approx(same, abs=1e-9)


def test_a_humbucker_adds_on_strings_and_cancels_hum():
    coils = (CoilSpec(CoilSigns(1, 1), offset_mm=-9.0), CoilSpec(CoilSigns(-1, -1), offset_mm=9.0))
    double = PickupSpec(name="neck", centre_mm=150.0, coils=coils)
    humming = around(mains=MainsSpec(field_v=1e-3), lead_in_s=0.5, ringing_s=0.3)
    whole, half, other = (
        pluck(
            seeded(), string(), SettingSpec((Member(double, coil=coil),)), PluckSpec(height_m=1e-4), humming
        )
        for coil in (None, 1, 2)
    )
    assert double.string_sign == 1
    before = slice(0, round(0.4 * RATE))
    assert rms(whole[before]) < 1e-3 * rms(half[before])
    assert rms(half[before] + other[before]) < 1e-3 * rms(half[before])
    strings = [lines((x - x[0])[4080:, 0], [110.0])[0] for x in (whole, half, other)]
    assert abs(strings[0]) > 1.6 * max(abs(strings[1]), abs(strings[2]))


def test_a_reversed_member_is_turned_over():
    plain, turned = (
        pluck(seeded(), string(), SettingSpec((Member(pickup(), reversed=r),)), PluckSpec(), around())
        for r in (False, True)
    )
    assert rms(plain) > 1e-3
    assert turned == pytest.approx(-plain, abs=1e-15)


def test_coming_nearer_is_positive():
    """The convention of the simulator; a straight approach of 0.5 mm."""
    towards = np.stack([np.linspace(0.0, 5e-4, 50), np.zeros(50)])
    flux = string_flux(pickup(), towards)
    assert np.all(emf(flux, sign=1, rate=RATE)[1:] > 0)
    assert np.all(emf(flux, sign=-1, rate=RATE)[1:] < 0)
    assert np.all(emf(string_flux(pickup(), -towards), sign=1, rate=RATE)[1:] < 0)


def test_sensitivity_holds_at_rest():
    step = np.array([[0.0, 1e-7], [0.0, 0.0]])
    assert np.diff(string_flux(pickup(sensitivity=0.3), step))[0] == pytest.approx(0.3 * 1e-7, rel=1e-3)


@pytest.mark.parametrize(("side_mm", "sign"), [(1.5, -1), (-1.5, 1)])
def test_sideways_motion_is_sensed_off_the_centre(side_mm, sign):
    """R6: sideways motion comes in with opposite signs at two pickups now and then."""
    sideways = np.array([[0.0, 0.0], [0.0, 1e-5]])
    towards = np.array([[0.0, 1e-5], [0.0, 0.0]])
    ratio = np.diff(string_flux(pickup(), sideways, off_centre_mm=side_mm)) / np.diff(
        string_flux(pickup(), towards, off_centre_mm=side_mm)
    )
    assert 0.1 < sign * ratio[0] < 1.0
    on_centre = np.diff(string_flux(pickup(), sideways))[0]
    assert abs(on_centre) < 0.01 * abs(np.diff(string_flux(pickup(), towards))[0])


def test_flux_bends_towards_the_pole():
    """Nearer the pole the same motion gives more: a second harmonic appears with the amplitude."""
    phase = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    second = [
        abs(np.fft.rfft(string_flux(pickup(), np.stack([h * np.sin(phase), np.zeros(400)])))[2]) / h
        for h in (1e-5, 1e-3)
    ]
    assert second[1] > 50 * second[0]


def test_more_coils_than_a_pickup_has_are_refused():
    with pytest.raises(SignalError, match="5 coils"):
        PickupSpec(name="odd", centre_mm=50.0, coils=(CoilSpec(CoilSigns(1, 1)),) * 5)
    with pytest.raises(SignalError, match="no coil 2"):
        _ = Member(pickup(), coil=2).coils
