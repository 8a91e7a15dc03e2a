import numpy as np
import pytest
from bench_parts import around, lines, pickup, rms, seeded
from simulator.drives import START_S, DriveSpec, drive
from simulator.pickups import CoilSpec, PickupSpec
from simulator.rig import Member, SettingSpec
from simulator.scenes import random_bench

from dsp import SignalError
from dsp.methods.driven_coil import DRIVE_HZ, analyse_drive, drive_ratio, drive_waveform
from dsp.model.signs import CoilSigns

RATE = 16_000
STILL = DriveSpec(sway=0.0, spread_db=0.0, straddle_mm=0.0)
WAVE = drive_waveform(rate=RATE)


def take(signs, *, spec=STILL, **how):
    rig = around(rate=RATE, lead_in_s=0.0, ringing_s=0.3)
    return drive(seeded(), SettingSpec((Member(pickup(signs)),)), WAVE, rig, spec=spec, **how)[:, 0]


def humbucker(winding=1):
    first, second = CoilSigns(winding, 1), CoilSigns(-winding, -1)
    return PickupSpec("two", 100.0, (CoilSpec(first, offset_mm=-9.0), CoilSpec(second, offset_mm=9.0)))


@pytest.mark.parametrize("winding", [1, -1])
@pytest.mark.parametrize("magnet", [1, -1])
def test_the_winding_shows_and_the_magnet_does_not(winding, magnet):
    """P2: what a field from outside gives does not depend on the magnet."""
    assert take(CoilSigns(winding, magnet)) == pytest.approx(winding * take(CoilSigns(1, 1)), abs=1e-9)


def test_the_face_upside_down_turns_it_over():
    assert take(CoilSigns(1, 1), upside_down=True) == pytest.approx(-take(CoilSigns(1, 1)), abs=1e-9)


def test_the_voltage_is_the_rate_of_change():
    """P5: EMF = -dPhi/dt, so the second harmonic comes back twice as strong against the first."""
    x = take(CoilSigns(1, 1), spec=DriveSpec(sway=0.0, spread_db=0.0, straddle_mm=0.0, lag_s=0.0))
    begin = round((START_S + 0.5) * RATE)
    heard = np.abs(lines(x[begin : begin + 2 * RATE], (DRIVE_HZ, 2 * DRIVE_HZ), rate=RATE))
    played = np.abs(lines(WAVE[RATE // 2 : RATE // 2 + 2 * RATE], (DRIVE_HZ, 2 * DRIVE_HZ), rate=RATE))
    assert (heard[1] / heard[0]) / (played[1] / played[0]) == pytest.approx(2.0, rel=0.05)
    assert rms(x[: round(0.9 * START_S * RATE)]) < 1e-3 * rms(x)


@pytest.mark.parametrize("coil", [1, 2])
def test_a_humbucker_gives_the_coil_that_is_under(coil):
    setting = SettingSpec((Member(humbucker()),))
    rig = around(rate=RATE, lead_in_s=0.0, ringing_s=0.3)
    x = drive(seeded(), setting, WAVE, rig, spec=STILL, coil=coil)[:, 0]
    alone = take(CoilSigns(1 if coil == 1 else -1, 1))
    assert np.corrcoef(x, alone)[0, 1] > 0.95
    assert rms(x) > 0.5 * rms(alone)


def test_a_coil_that_is_not_there_is_refused():
    with pytest.raises(SignalError, match="no member 0 with a coil 2"):
        take(CoilSigns(1, 1), coil=2)


@pytest.mark.parametrize("seed", range(6))
def test_drives_on_a_bench_tell_the_windings(seed):
    bench = random_bench(seeded(seed), inverted=(True, True))
    rng = seeded(seed + 50)
    takes = [bench.drive(rng, name, upside_down=False, rate=RATE) for name in ("bridge", "neck")]
    one, other = (analyse_drive(x[:, 0], rate=RATE) for x in takes)
    assert drive_ratio(one, other) * bench.w("bridge") * bench.w("neck") > 3
    wrong = bench.drive(rng, "neck", upside_down=True, rate=RATE)
    assert drive_ratio(one, analyse_drive(wrong[:, 0], rate=RATE)) * bench.w("bridge") * bench.w("neck") < -3


def test_the_face_looks_up_at_its_rate():
    bench = random_bench(seeded(3))
    spec = DriveSpec(upside_down_rate=1.0)
    up, told = (bench.drive(seeded(1), "neck", spec=spec, upside_down=u, rate=RATE) for u in (None, True))
    down = bench.drive(seeded(1), "neck", spec=spec, upside_down=False, rate=RATE)
    assert drive_ratio(*(analyse_drive(x[:, 0], rate=RATE) for x in (up, told))) > 3
    assert drive_ratio(*(analyse_drive(x[:, 0], rate=RATE) for x in (up, down))) < -3
