import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dsp.methods.hum import HumLines, analyse_hum, lines_together
from dsp.methods.hum_windings import (
    hum_in_stretches,
    hum_level_table,
    hum_phase_table,
    waveform_changes_deg,
)
from dsp.model.settings import Mix, Source
from dsp.signal.samples import ANALYSIS_RATE

settings.load_profile("dsp")

LINES = {1: 0.0, 2: -14.0, 3: -7.0, 5: -12.0, 7: -18.0}
"""dB; levels assumed, as in simulator.hum."""
A, B = Mix((Source(0),)), Mix((Source(1),))
BOTH = Mix((Source(0), Source(1)))


def hum(seconds=1.5, *, hz=50.03, level=0.01, noise=1e-5, seed=0, angle=0.0, at_s=0.0):
    t = at_s + np.arange(int(seconds * ANALYSIS_RATE)) / ANALYSIS_RATE
    x = noise * np.random.default_rng(seed).standard_normal(len(t))
    for n, db in LINES.items():
        x += level * 10 ** (db / 20) * np.cos(2 * np.pi * n * hz * t + 0.7 * n**2 + angle)
    return x


def noise(seconds=1.5, *, seed=0, level=0.01):
    return level * np.random.default_rng(seed).standard_normal(int(seconds * ANALYSIS_RATE))


def lines_of(x, *, mains_hz=None, fundamental_hz=None, seconds=None):
    stop = len(x) if seconds is None else int(seconds * ANALYSIS_RATE)
    return lines_together([x], stretches=[(0, stop)], mains_hz=mains_hz, fundamental_hz=fundamental_hz)[0]


def measured(amplitudes, *, error=0.01, seconds=1.0):
    """Lines as said, all in one place and time."""
    given = np.asarray(amplitudes, dtype=complex)
    return HumLines(50.0, tuple(LINES), given, np.full(len(given), error), 0.0, seconds, 0.0, 0.005)


def phase_ratio(a, b):
    """Of two channels of one take: positive for wound alike."""
    return preference(hum_phase_table([(a, A), (b, B)], count=2))


def preference(table):
    """Of a table of two signs: positive for wound alike."""
    return table[0, 0] - table[0, 1]


DRIFTS = [
    # F2: mains 50 Hz within 1 % for 99.5 % of a year, EN 50160 as quoted by instrument makers' manuals.
    pytest.param(nominal, drift, id=f"F2 {nominal} Hz {100 * drift:+.2f} %")
    for nominal in (50, 60)
    for drift in (-0.01, -0.0038, -0.001, 0.0, 0.0021, 0.0038, 0.01)
]


@pytest.mark.parametrize(("nominal", "drift"), DRIFTS)
@pytest.mark.parametrize("told", [True, False], ids=["nominal told", "nominal not told"])
def test_lines_are_what_was_put_in(nominal, drift, told):
    hz = nominal * (1 + drift)
    x = hum(hz=hz)
    lines = lines_of(x, mains_hz=nominal if told else None)
    assert lines.fundamental_hz == pytest.approx(hz, abs=0.01)
    at_start = lines.referred_to(0.0)
    for n, db, amplitude in zip(LINES, LINES.values(), lines.amplitudes, strict=True):
        assert abs(amplitude) == pytest.approx(0.01 * 10 ** (db / 20), rel=0.02)
        turned = amplitude * np.exp(-1j * (2 * np.pi * n * hz * lines.reference / ANALYSIS_RATE + 0.7 * n**2))
        assert np.angle(turned) == pytest.approx(0, abs=0.05)
    assert np.angle(at_start.amplitudes[0] * np.exp(-0.7j)) == pytest.approx(0, abs=0.1)


def test_the_error_is_that_of_the_noise():
    """By construction: amplitudes of noise alone scatter by the error that is stated."""
    found = [lines_of(noise(seed=k), fundamental_hz=50.0) for k in range(40)]
    scatter = np.sqrt(np.mean([np.abs(one.amplitudes) ** 2 / 2 for one in found]))
    stated = np.sqrt(np.mean([one.error**2 for one in found]))
    assert stated == pytest.approx(scatter, rel=0.15)


def test_too_short_a_stretch_gives_none():
    x = hum(0.5)
    assert lines_of(x, mains_hz=50, seconds=0.1) is None
    assert lines_of(x, mains_hz=50, seconds=0.2) is not None


# --- phases


@given(alike=st.booleans(), gain_db=st.floats(-8, 8), hz=st.floats(49.85, 50.15), seed=st.integers(0, 99))
def test_negating_a_channel_turns_the_ratio_over(alike, gain_db, hz, seed):
    gain = (1 if alike else -1) * 10 ** (gain_db / 20)
    x, y = hum(hz=hz, seed=seed), gain * hum(hz=hz, seed=seed + 100)
    a, b, b_over = lines_of(x), lines_of(y), lines_of(-y)
    ratio = phase_ratio(a, b)
    assert np.sign(ratio) == np.sign(gain)
    assert abs(ratio) > 3
    assert phase_ratio(a, b_over) == pytest.approx(-ratio, abs=1e-6)
    assert phase_ratio(lines_of(-x), b_over) == pytest.approx(ratio, abs=1e-6)
    assert phase_ratio(b, a) == pytest.approx(ratio, abs=0.3)


@pytest.mark.parametrize("seed", range(8))
def test_noise_says_nothing_by_phase(seed):
    a, b = lines_of(noise(seed=seed)), lines_of(noise(seed=seed + 50))
    assert phase_ratio(a, b) == 0


@pytest.mark.parametrize("degrees", [60, 90, 120, -90])
def test_a_relation_in_between_says_little(degrees):
    """R2: what comes in by capacitance ignores the winding; mixed in, it turns the phase."""
    x, y = hum(), hum(angle=np.radians(degrees), seed=1)
    ratio = phase_ratio(lines_of(x), lines_of(y))
    assert abs(ratio) < 1.0


@pytest.mark.parametrize("degrees", [25, -25])
def test_stray_hum_takes_from_alike_and_not_from_against(degrees):
    x = hum()
    askew, clean = np.radians(degrees), 0.0
    alike = [phase_ratio(lines_of(x), lines_of(hum(angle=by, seed=1))) for by in (clean, askew)]
    against = [phase_ratio(lines_of(x), lines_of(-hum(angle=by, seed=1))) for by in (clean, askew)]
    assert alike[0] > 3.5
    assert 0 <= alike[1] < 1
    assert max(against) < -3


def three_stretches(signs, *, hz=50.06, weight=0.45, gap_s=0.05, seed=0):
    """One pickup, both, the other, after each other on one jack."""
    x = hum(3.0, hz=hz, noise=1e-4, seed=seed)
    a, b = signs
    factors = (a, weight * a + (1 - weight) * b * 0.9, b * 0.9)
    bounds = [(0, 0.9), (0.95, 1.3), (1.35, 3.0)]
    out = np.zeros(len(x))
    stretches = []
    for factor, (start, stop) in zip(factors, bounds, strict=True):
        k, m = int(start * ANALYSIS_RATE), int(stop * ANALYSIS_RATE)
        out[k:m] = factor * x[k:m]
        stretches.append((k, m))
    return out, stretches


@settings(max_examples=6)
@given(signs=st.sampled_from([(1, 1), (1, -1)]), hz=st.floats(59.8, 60.2), seed=st.integers(0, 20))
def test_a_pickup_turned_over_flips_the_table(signs, hz, seed):
    tables = {}
    for key in (signs, (signs[0], -signs[1]), (-signs[0], -signs[1])):
        x, stretches = three_stretches(key, hz=hz, seed=seed)
        lines = hum_in_stretches(x, stretches=stretches, mains_hz=None)
        tables[key] = hum_phase_table(list(zip(lines, (A, BOTH, B), strict=True)), count=2)
    assert tables[signs].max() == 0
    assert preference(tables[signs]) * signs[0] * signs[1] > 3
    assert preference(tables[signs[0], -signs[1]]) * signs[0] * signs[1] < -3
    assert tables[-signs[0], -signs[1]] == pytest.approx(tables[signs], abs=1e-6)
    assert np.all(tables[signs] >= -4)


def test_two_stretches_flip_exactly():
    a, b = measured([1, 0.2, 0.5j, 0.3, 0.1]), measured([0.8, 0.15, 0.4j, 0.3, 0.1])
    b_over = measured(-b.amplitudes)
    plain = hum_phase_table([(a, A), (b, B)], count=2)
    assert hum_phase_table([(a, A), (b_over, B)], count=2) == pytest.approx(np.flip(plain, axis=1))
    reversed_b = Mix((Source(1, reversed=True),))
    assert hum_phase_table([(a, A), (b, reversed_b)], count=2) == pytest.approx(np.flip(plain, axis=1))


def test_a_whole_humbucker_says_nothing():
    """Two coils of one pickup are wound against each other and cancel (P1)."""
    a, rest = measured([1, 0.2, 0.5, 0.3, 0.1]), measured([0.1, 0.02, 0.05, 0.03, 0.01], error=0.001)
    whole = Mix((Source(1, coils=2),))
    assert np.ptp(hum_phase_table([(a, A), (rest, whole)], count=2)) < 1e-9
    together = Mix((Source(0), Source(1, coils=2)))
    assert np.ptp(hum_level_table([(a, A), (rest, together)], count=2)) < 1e-9


def test_one_stretch_or_noise_is_flat():
    a = measured([1, 0.2, 0.5, 0.3, 0.1])
    assert np.ptp(hum_phase_table([(a, A)], count=2)) == 0
    none = measured([0.03, -0.02j, 0.03, 0, 0.02j], error=0.01)
    assert np.ptp(hum_phase_table([(none, A), (none, B)], count=2)) == 0
    assert np.ptp(hum_phase_table([(none, A), (a, B)], count=2)) == 0


@pytest.mark.parametrize("turned", [1, -1])
def test_lines_beside_a_string_are_left_out_and_the_rest_still_tells(turned):
    """E3's 164.8 Hz (S5) is far from lines, B3's 246.9 Hz is 3 Hz off line 5 of 50 Hz."""
    x, stretches = three_stretches((1, turned), hz=50.0)
    t = np.arange(len(x)) / ANALYSIS_RATE
    x = x + 0.3 * np.cos(2 * np.pi * 246.9 * t) * np.exp(-t) + 0.1 * np.cos(2 * np.pi * 164.8 * t)
    lines = hum_in_stretches(x, stretches=stretches, mains_hz=50, partials_hz=(164.8, 246.9))
    middle = lines[1]
    assert not np.isfinite(middle.error[middle.numbers.index(5)])
    assert np.isfinite(middle.error[0])
    table = hum_phase_table(list(zip(lines, (A, BOTH, B), strict=True)), count=2)
    assert preference(table) * turned > 1


# --- levels


def level_takes(a_db, b_db, both_db, *, mix=BOTH):
    profile = np.array([1, 0.2, 0.45, 0.25, 0.13])
    sizes = [10 ** (db / 20) * profile for db in (a_db, b_db, both_db)]
    return list(zip([measured(s, error=1e-3) for s in sizes], (A, B, mix), strict=True))


@pytest.mark.parametrize(
    ("both_db", "reverse", "alike"), [(0, False, 1), (-25, False, -1), (0, True, -1), (-25, True, 1)]
)
def test_levels_tell_what_cancels(both_db, reverse, alike):
    """C3: two equal sources in parallel give the level of one, or nothing; P1: hum cancels where w differ."""
    mix = Mix((Source(0), Source(1, reversed=reverse)))
    assert preference(hum_level_table(level_takes(0, 0, both_db, mix=mix), count=2)) * alike > 1.5


def test_in_series_alike_is_twice_as_loud():
    series = Mix(BOTH.sources, join="series")
    assert preference(hum_level_table(level_takes(0, 0, 6, mix=series), count=2)) > 1.5
    assert preference(hum_level_table(level_takes(0, 0, -15, mix=series), count=2)) < -3


def test_a_level_in_between_says_little():
    assert abs(preference(hum_level_table(level_takes(0, 0, -8), count=2))) < 2


def test_levels_of_one_kind_say_nothing():
    takes = level_takes(0, 0, -25)
    assert np.ptp(hum_level_table(takes[:2], count=2)) == 0
    assert np.ptp(hum_level_table(takes[2:], count=2)) == 0
    silent = [(measured(np.full(5, 1e-3), error=1e-3), mix) for _, mix in takes]
    assert np.ptp(hum_level_table(silent, count=2)) == 0


def test_three_pickups_in_one_sum():
    three = Mix((Source(0), Source(1), Source(2)))
    c = Mix((Source(2),))
    takes = [*level_takes(0, 0, -25), (measured([1, 0.2, 0.45, 0.25, 0.13]), c)]
    takes.append((measured(np.array([1, 0.2, 0.45, 0.25, 0.13]) / 3), three))
    table = hum_level_table(takes, count=3)
    assert table.shape == (2, 2, 2)
    assert table[0, 0].max() < table[0, 1].max() - 2
    assert table == pytest.approx(np.flip(table))


def test_rounds_of_one_setting_share_what_made_it_softer():
    """11 dB less may be a heater, however often; 25 dB less is not."""
    once, often = (preference(hum_level_table(level_takes(0, 0, -11) * k, count=2)) for k in (1, 5))
    assert -2.5 < often < -0.5 and abs(often - once) < 1
    assert preference(hum_level_table(level_takes(0, 0, -25) * 5, count=2)) == pytest.approx(-4)


def test_no_change_of_level_makes_alike_surer():
    """R2: a hand, a lamp or another place changes hum by capacitance as well."""
    still = preference(hum_level_table(level_takes(0, 0, 0) * 4, count=2))
    moving = preference(hum_level_table(level_takes(0, 0, 0) * 3 + level_takes(-7, -7, -7), count=2))
    assert still > 2
    assert moving <= still + 0.1


def other_source(takes, k, turns):
    """The same takes with the phases of one of them turned, a line each: another source's waveform."""
    changed = measured(takes[k][0].amplitudes * np.exp(2j * np.pi * np.array(turns)), error=1e-3)
    return [(changed if n == k else lines, mix) for n, (lines, mix) in enumerate(takes)]


def test_a_sum_with_another_waveform_says_no_more_that_all_are_alike():
    """R2: a hand on the strings makes the sum as loud as its pickups, through another way in."""
    takes = level_takes(0, 0, 0)
    assert preference(hum_level_table(takes, count=2)) > 2
    by_hand = other_source(takes, 2, (0, 0.3, 0.5, 0.1, 0.4))
    assert np.ptp(hum_level_table(by_hand, count=2)) < 0.1
    against = other_source(level_takes(0, 0, -25), 2, (0, 0.3, 0.5, 0.1, 0.4))
    assert preference(hum_level_table(against, count=2)) < -3.5


@pytest.mark.parametrize(
    ("turns", "degrees"),
    [
        pytest.param(0.13 * np.array(tuple(LINES)), 0, id="a later start turns line n n times as much"),
        pytest.param(np.full(5, 0.5), 0, id="turned over"),
        pytest.param((0, 0.25, 0, 0, 0), 0, id="an even line turns with the winding, and is not looked at"),
        pytest.param((0, 0, 0.25, 0.25, 0.25), 88, id="a quarter turn of each, less the noise"),
        *(pytest.param(0.25 * np.eye(5)[k], 29, id=f"of line {(1, 2, 3, 5, 7)[k]} alone") for k in (2, 3, 4)),
    ],
)
def test_the_waveform_needs_no_clock_and_no_sign(turns, degrees):
    changes = waveform_changes_deg(other_source(level_takes(0, 0, 0), 2, turns))
    assert changes == {A: pytest.approx(0), B: pytest.approx(0), BOTH: pytest.approx(degrees, abs=3)}


def test_turning_takes_over_changes_no_level_table():
    takes = level_takes(0, 1, -20)
    over = [(measured(-one.amplitudes, error=1e-3), mix) for one, mix in takes]
    assert np.array_equal(hum_level_table(takes, count=2), hum_level_table(over, count=2))


# --- hearing


def codes(faults):
    return [(fault.code, fault.channel) for fault in faults]


def test_a_sound_hum_take_of_two_channels():
    x = np.stack([hum(), -0.8 * hum(seed=1)], axis=1)
    heard = analyse_hum(x, rate=ANALYSIS_RATE, channels=(0, 1))
    assert heard.faults == heard.remarks == ()
    assert phase_ratio(*heard.channels) < -3


@pytest.mark.parametrize("nominal", [50, 60])
@pytest.mark.parametrize("drift", [-0.01, -0.008, -0.004, -0.002, 0.002, 0.004, 0.008, 0.01])
def test_the_level_of_hum_is_the_same_all_over_what_the_mains_may_do(nominal, drift):
    """By construction; how far the mains may be off is F2 (EN 50160 as quoted by makers of instruments)."""
    off, on = (
        analyse_hum(hum(3.0, hz=hz, noise=1e-4)[:, np.newaxis], rate=ANALYSIS_RATE, channels=(0,))
        for hz in (nominal * (1 + drift), nominal)
    )
    assert off.faults == off.remarks == ()
    assert off.channels[0].level_db() == pytest.approx(on.channels[0].level_db(), abs=0.5)
    assert off.channels[0].fundamental_hz == pytest.approx(nominal * (1 + drift), abs=0.002)


def test_noise_is_too_little_hum_unless_it_may_cancel():
    x = np.stack([hum(), noise(level=1e-3)], axis=1)
    heard = analyse_hum(x, rate=ANALYSIS_RATE, channels=(0, 1))
    assert codes(heard.faults) == [("too little hum", 2)]
    silent = analyse_hum(x, rate=ANALYSIS_RATE, channels=(0, 1), may_cancel=(1,))
    assert silent.faults == ()
    assert codes(silent.remarks) == [("too little hum", 2)]
    assert heard.channels[1] is not None


@pytest.mark.parametrize(("heard", "said"), [(60, 50), (50, 60)])
def test_hum_of_the_other_mains_is_named_as_such(heard, said):
    x = hum(hz=heard)[:, np.newaxis]
    (fault,) = analyse_hum(x, rate=ANALYSIS_RATE, channels=(0,), mains_hz=said).faults
    assert (fault.code, fault.channel, fault.detail) == ("other mains", 1, heard)
    assert analyse_hum(x, rate=ANALYSIS_RATE, channels=(0,), mains_hz=heard).faults == ()


def test_a_string_or_a_moved_guitar_is_no_hum_take():
    t = np.arange(int(1.5 * ANALYSIS_RATE)) / ANALYSIS_RATE
    ringing = hum() + 0.02 * np.cos(2 * np.pi * 110.0 * t) * np.exp(-2 * t)
    moved = hum() * (1 + 1.5 * t / t[-1])
    for x in (ringing, moved):
        heard = analyse_hum(x[:, np.newaxis], rate=ANALYSIS_RATE, channels=(0,))
        assert codes(heard.faults) == [("strings not damped", 1)]


def test_recording_faults_come_first():
    x = np.stack([hum(), np.zeros(int(1.5 * ANALYSIS_RATE))], axis=1)
    heard = analyse_hum(x + np.array([0.02, 0]), rate=ANALYSIS_RATE, channels=(0, 1))
    assert codes(heard.faults) == [("exact zeros", 2)]
    assert codes(heard.remarks) == [("offset", 1)]
    assert heard.channels[1] is None
    assert heard.channels[0] is not None
