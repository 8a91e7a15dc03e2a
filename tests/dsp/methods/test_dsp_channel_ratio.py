from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from dsp_parts import (
    BRIDGE,
    LEAD_IN_S,
    MIDDLE,
    NECK,
    SCALE_MM,
    STRINGS,
    analysed,
    plain_string,
    rig,
    stock_pair,
)
from simulator.pickups import CoilSpec, PickupSpec
from simulator.rig import Member, SettingSpec
from simulator.strings import PluckSpec
from simulator.takes import paired_pluck

from dsp.methods.channel_ratio import (
    ChannelAmplitudes,
    PartialRatios,
    _log_ring,
    beside_ratio,
    bleed_ratio,
    channel_ratio,
    misplaced_ratio,
    ratio_of,
    same_level_ratio,
)
from dsp.methods.plucks import analyse_plucks
from dsp.model.settings import Place
from dsp.model.signs import CoilSigns
from dsp.signal.pitch import Pitch
from dsp.signal.samples import ANALYSIS_RATE

ONSET = int(LEAD_IN_S * ANALYSIS_RATE)
RECORDINGS = Path(__file__).resolve().parents[4] / "shared" / "recordings"


def ratio(a, b, name, *, places=(NECK, BRIDGE)):
    string = plain_string(name)
    where = [Place(x, SCALE_MM) if x else None for x in places or (None, None)]
    return channel_ratio(
        a,
        b,
        onset=ONSET,
        pitch=Pitch(string.f0_hz, string.stiffness, "as named"),
        place_a=where[0],
        place_b=where[1],
    )


def with_noise(x, *, rms, seed=1):
    return x + rms * np.random.default_rng(seed).standard_normal(len(x))


@pytest.mark.parametrize("known", [True, False], ids=["places known", "places unknown"])
@pytest.mark.parametrize("name", STRINGS)
def test_one_pickup_twice_and_two_pickups(name, known):
    """By construction: a channel with noise, 40 dB down or not, inverted or not, against a second pickup."""
    for pair in ((NECK, BRIDGE), (NECK, MIDDLE)):
        a, b = stock_pair(name, places=pair)
        places = pair if known else None
        assert ratio(a, b, name, places=places).alike < -1
        size = float(np.std(a))
        assert ratio(a, with_noise(0.8 * a, rms=1e-3 * size), name, places=places).alike > 2
        assert ratio(a, with_noise(-0.01 * a, rms=1e-4 * size), name, places=places).alike > 2


def test_signs_and_gains_change_nothing_and_exchange_turns_the_level():
    a, b = stock_pair("D3")
    plain = ratio(a, b, "D3")
    for other in (ratio(-a, b, "D3"), ratio(a, -b, "D3"), ratio(7 * a, 7 * b, "D3")):
        assert other.alike == pytest.approx(plain.alike, abs=1e-6)
        assert other.level_db == pytest.approx(plain.level_db, abs=1e-6)
        assert other.wander_db == pytest.approx(plain.wander_db, abs=1e-6)
    over = ratio(b, a, "D3", places=(BRIDGE, NECK))
    assert over.level_db == pytest.approx(-plain.level_db, abs=1.0)
    assert over.wander_db == pytest.approx(plain.wander_db, abs=1e-6)
    assert over.uneven_db == pytest.approx(plain.uneven_db, abs=1e-6)
    assert ratio(a, 0.1 * b, "D3").level_db == pytest.approx(plain.level_db - 20, abs=0.1)


def test_noise_alone_and_a_short_ring_say_nothing():
    rng = np.random.default_rng(3)
    noise = ratio(rng.standard_normal(20_000), rng.standard_normal(20_000), "A2")
    assert abs(noise.alike) < 4
    a, b = stock_pair("A2")
    assert ratio(a[: ONSET + 1000], b[: ONSET + 1000], "A2") is None
    assert ratio(np.zeros(20_000), np.zeros(20_000), "A2").level_db is None


@pytest.mark.parametrize(("over_db", "counts"), [(0.0, False), (6.0, False), (12.0, True)])
def test_a_partial_counts_that_is_clear_of_the_noise_on_both_channels(over_db, counts):
    loud = np.ones((24, 3), dtype=complex)
    noise = np.full(3, 1e-6)
    faint = loud * 1e-3 * np.sqrt(1 + 10 ** (over_db / 10)) if over_db else loud * 1e-3
    for a, b in ((loud, faint), (faint, loud)):
        found = ratio_of(
            ChannelAmplitudes(a, b, noise, noise, np.arange(1, 4)), place_a=Place(), place_b=Place()
        )
        assert (found.level_db is not None) == counts


def test_what_is_uneven_is_measured_against_the_steadier_channel():
    """By construction: one channel shows one decaying motion, the other a second one besides."""
    k = np.arange(24)[:, np.newaxis]
    one = np.exp((-0.02 + 1.3j) * k) * np.ones(3)
    two = one * (1 + 0.7 * np.exp(0.5j * k))
    noise = np.full(3, 1e-9)
    for a, b in ((one, two), (two, one)):
        amplitudes = ChannelAmplitudes(a, b, noise, noise, np.arange(1, 4))
        found = ratio_of(amplitudes, place_a=Place(), place_b=Place())
        assert found.wander_db > -10
        assert found.uneven_db > 30


def test_noise_explains_nine_tenths_of_what_wanders_at_most():
    k = np.arange(24)[:, np.newaxis]
    one = np.ones((24, 3), dtype=complex)
    two = one * (1 + 0.05 * np.exp(0.5j * k))
    wander = [
        ratio_of(
            ChannelAmplitudes(one, two, n, n, np.arange(1, 4)), place_a=Place(), place_b=Place()
        ).wander_db
        for n in (np.full(3, 1e-9), np.full(3, 0.1))
    ]
    assert wander[1] == pytest.approx(wander[0] - 10, abs=0.5)


def beside(name, *, sides_mm, angle_deg, seed):
    """One pluck on neck and bridge with the strings so far beside their poles, (2, frames)."""
    settings = tuple(
        SettingSpec((Member(PickupSpec("one", x, (CoilSpec(CoilSigns(1, 1)),)), off_centre_mm=side),))
        for x, side in zip((NECK, BRIDGE), sides_mm, strict=True)
    )
    rng = np.random.default_rng(seed)
    take = paired_pluck(rng, plain_string(name), settings, PluckSpec(angle_deg=angle_deg), rig(), fret=0)
    return [analysed(x) for x in take.T]


def test_strings_beside_the_poles_show_in_what_wanders():
    """Offsets to opposite sides and plucks along the body, against strings over the poles."""

    def nats(sides_mm, angles):
        found = [
            ratio(*beside(name, sides_mm=sides_mm, angle_deg=angle, seed=k), name)
            for k, (name, angle) in enumerate(zip(("A2", "D3", "G3"), angles, strict=True))
        ]
        mean = float(np.mean([r.wander_db for r in found]))
        return beside_ratio(mean, uneven_db=min(r.uneven_db for r in found))

    assert nats((0.3, -0.4), (10.0, -20.0, 30.0)) < -0.5
    assert nats((5.0, -2.5), (70.0, 85.0, 60.0)) > 0


def test_a_level_far_below_speaks_for_bleed_and_an_ordinary_one_says_nothing():
    assert bleed_ratio(-40.0) > 2
    assert bleed_ratio(-10.0) == bleed_ratio(5.0) == 0.0


@pytest.mark.parametrize("file", ["A_A3_mp_1.wav", "E4_G4_mp_1.wav"])
def test_real_files_of_one_pickup_on_both_channels(file):
    """Both channels of these hold one pickup, a few least bits apart."""
    path = RECORDINGS / "dual_mono" / file
    if not path.exists():
        pytest.skip("the recordings are not here")
    samples, rate = sf.read(path, always_2d=True)
    plucks = analyse_plucks(samples, rate=rate, channels=(0, 1), inputs_differ=False)
    pluck = plucks.plucks[0]
    found = channel_ratio(*plucks.channels, onset=pluck.rough, pitch=pluck.pitch)
    assert found is not None
    assert found.alike > 2


def test_one_pickup_twice_is_as_loud_as_in_the_split_check():
    """Either way round; far below it is bleed, which has a ratio of its own."""
    assert same_level_ratio(0.0) > 1.0
    for level in (8.0, -8.0, 15.0):
        assert same_level_ratio(level) == pytest.approx(same_level_ratio(-level))
        assert same_level_ratio(level) < -2.0
    assert same_level_ratio(-40.0) == 0.0 < bleed_ratio(-40.0)


BEHIND_NECK = 149.0
"""No node of a partial that is looked at."""


def ratios_of(name, length_mm, *, sign, share=0.0, opposed=False, turned=1, seed=0):
    """Partials of one pluck by the formula sin(n pi x / L) of two places (sources S3), give or take a dB and
    ten degrees; each channel with so much of the other's pickup, or the second with its coils opposed.
    """
    rng = np.random.default_rng([seed, sum(map(ord, name))])
    numbers = np.arange(1.0, 10.0)
    at_a, at_b = (np.pi * numbers * x / length_mm for x in (BRIDGE, BEHIND_NECK))
    own_a, own_b = (
        np.sin(at_a),
        sign * (2 * np.sin(np.pi * numbers * 9 / length_mm) * np.cos(at_b) if opposed else np.sin(at_b)),
    )
    ratio = turned * (own_b + share * own_a) / (own_a + share * own_b)
    level = 20 * np.log10(np.abs(ratio) + 1e-3) + rng.normal(scale=1.0, size=len(numbers))
    phase = np.where(ratio < 0, np.pi, 0.0) + rng.normal(scale=0.17, size=len(numbers))
    places = (Place(BRIDGE, length_mm), Place(BEHIND_NECK, length_mm))
    return PartialRatios(numbers, level, phase, np.full(len(numbers), 0.5), *places)


def plucks_of(**how):
    return [
        ratios_of(name, SCALE_MM / 2 ** (fret / 12), **how)
        for name, fret in (("E2", 0), ("A2", 3), ("D3", 0), ("G3", 5))
    ]


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("seed", range(3))
def test_channels_that_hold_some_of_each_others_pickup_do_not_go_with_the_places(sign, seed):
    assert misplaced_ratio(plucks_of(sign=sign, seed=seed)) < 0
    assert misplaced_ratio(plucks_of(sign=-1, share=0.7, seed=seed)) > 6
    assert misplaced_ratio(plucks_of(sign=sign, opposed=True, seed=seed)) > 6


@pytest.mark.parametrize("share", [0.0, 0.9])
def test_what_does_not_go_with_the_places_is_the_same_turned_over_and_exchanged(share):
    straight = misplaced_ratio(plucks_of(sign=1, share=share))
    assert misplaced_ratio(plucks_of(sign=1, share=share, turned=-1)) == pytest.approx(straight, abs=1e-9)
    mixed = plucks_of(sign=1, share=share)
    assert misplaced_ratio(mixed[::-1]) == pytest.approx(straight, abs=1e-9)
    assert misplaced_ratio([m.exchanged() for m in mixed]) == pytest.approx(straight, abs=2.0)
    assert (misplaced_ratio([m.exchanged() for m in mixed]) > 0) == (straight > 0)


def test_no_pluck_and_a_single_partial_say_nothing_of_the_places():
    one = ratios_of("D3", SCALE_MM, sign=1)
    first = replace(
        one, **{k: getattr(one, k)[:1] for k in ("numbers", "level_db", "phase_rad", "spread_db")}
    )
    assert misplaced_ratio([]) == misplaced_ratio([first]) == 0.0


def test_the_density_of_a_phase_is_one_over_the_circle_and_highest_where_it_belongs():
    """A probability: its integral over all phases is 1, whatever the share that goes astray."""
    phases = np.linspace(-np.pi, np.pi, 20_001)
    density = np.exp(_log_ring(np.cos(phases)))
    assert np.trapezoid(density, phases) == pytest.approx(1.0, abs=1e-6)
    assert phases[np.argmax(density)] == pytest.approx(0.0, abs=1e-3)
    assert density.min() == pytest.approx(density[0])
