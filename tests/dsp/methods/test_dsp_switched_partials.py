"""Switch takes put together from three decaying partials, so that each setting's level and phase are said.

Independent of the simulator: no string, no circuit; what a setting does to each partial is a complex number.
"""

import numpy as np
import pytest
from dsp_parts import BRIDGE, NECK, SCALE_MM
from scipy.signal import butter, sosfilt

from dsp.methods.switch import analyse_switch
from dsp.methods.switch_instants import envelopes_of
from dsp.methods.switch_signs import PartialEvidence, decays_of, step_ratios
from dsp.model.settings import Mix, Place, Source
from dsp.signal.pitch import Pitch

RATE = 16_000
PLUCK_S = 0.4
ONE = np.ones(3)
A, B = (Mix((Source(k),)) for k in (0, 1))
BOTH = Mix((Source(0), Source(1)))
AT_BRIDGE, AT_NECK = (Mix((Source(k, Place(x, SCALE_MM)),)) for k, x in ((0, BRIDGE), (1, NECK)))
BOTH_PLACED = Mix((*AT_BRIDGE.sources, *AT_NECK.sources))


def take(*settings, f0=110.0, at_s=(0.8,), gap_s=0.012, length_s=2.0):
    """(frames,): what each setting makes of partials 1 to 3, one after the other; all die alike."""
    t = np.arange(int(length_s * RATE)) / RATE - PLUCK_S
    x = np.zeros(len(t))
    for gains, start, stop in zip(settings, (0.0, *at_s), (*at_s, length_s), strict=True):
        string = sum(np.real(g * np.exp(2j * np.pi * f0 * n * t)) / n for n, g in enumerate(gains, start=1))
        sounding = (t >= start + (gap_s if start else 0.0)) & (t < stop)
        x += np.where(sounding, 0.05 * np.exp(-1.2 * np.maximum(t, 0)) * string, 0.0)
    return x + 1e-5 * np.random.default_rng(0).standard_normal(len(t))


def noise_about(centre_hz, level, *, seed):
    """(frames,) of noise in a band of 40 Hz, RMS ``level``."""
    band = butter(4, [centre_hz - 20, centre_hz + 20], "bandpass", fs=RATE, output="sos")
    noise = sosfilt(band, np.random.default_rng(seed).standard_normal(2 * RATE))
    return level * noise / np.std(noise)


def heard(x, mixes=(A, B), *, named_hz=110.0, mains_hz=None):
    return analyse_switch(x, rate=RATE, mixes=mixes, count=2, named_hz=named_hz, mains_hz=mains_hz)


def ratio(result):
    """Log ratio "in phase : opposed"."""
    table = result.table
    return np.logaddexp(table[0, 0], table[1, 1]) - np.logaddexp(table[0, 1], table[1, 0])


@pytest.mark.parametrize("turn_deg", [60, 120])
@pytest.mark.parametrize("over", [1, -1])
def test_the_phase_of_a_sum_that_cancels_says_nothing(turn_deg, over):
    """What is left of it leans to either side by the coils' inductances: its level tells, not its phase."""
    left = over * 0.3 * np.exp(1j * np.radians(turn_deg)) * ONE
    result = heard(take(ONE, left, -ONE, at_s=(0.8, 1.1), length_s=2.2), (A, BOTH, B))
    assert result.step_ratios == (0.0, 0.0)
    assert ratio(result) < -3.0


def test_the_phase_of_a_sum_that_adds_goes_on():
    result = heard(take(ONE, 0.7 * ONE, -ONE, at_s=(0.8, 1.1), length_s=2.2), (A, BOTH, B))
    assert result.step_ratios[0] > 3.0
    assert result.step_ratios[1] < -3.0


@pytest.mark.parametrize(
    ("mixes", "sounds"),
    [
        ((B, BOTH), (ONE, 0.5 * (ONE - ONE * np.exp(0.1j)))),
        (
            (AT_NECK, BOTH_PLACED),
            [
                np.sin(np.pi * np.arange(1, 4) * NECK / SCALE_MM),
                0.5
                * (
                    np.sin(np.pi * np.arange(1, 4) * NECK / SCALE_MM)
                    - np.sin(np.pi * np.arange(1, 4) * BRIDGE / SCALE_MM)
                ),
            ],
        ),
    ],
    ids=["places unknown", "places known"],
)
def test_one_pickup_and_a_weaker_sum_are_opposed(mixes, sounds):
    """Nothing but the level tells: one alone, and both."""
    assert ratio(heard(take(*sounds), mixes)) < -1.5


@pytest.mark.parametrize(("stronger_db", "least", "most"), [(0, 3.9, 4.0), (12, 2.7, 3.1), (-12, 2.7, 3.1)])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_pickup_that_is_not_as_strong_as_its_place_is_trusted_less(stronger_db, least, most, sign):
    """A string that moves sideways past one is heard there too weakly, with a sign of its own."""
    n = np.arange(1, 4)
    bridge, neck = (np.sin(np.pi * n * x / SCALE_MM) for x in (BRIDGE, NECK))
    x = take(bridge, sign * 10 ** (stronger_db / 20) * neck)
    assert least <= sign * ratio(heard(x, (AT_BRIDGE, AT_NECK))) <= most


def beating(*, after, turned):
    """(frames,): six partials that beat, at their null where the level becomes ``after`` times as much."""
    t = np.arange(int(2.6 * RATE)) / RATE - PLUCK_S
    x = sum(
        (np.cos(2 * np.pi * (110 * n - 0.3) * t) + 0.97 * np.cos(2 * np.pi * (110 * n + 0.3) * t)) / n
        for n in range(1, 7)
    )
    x *= 0.05 * (t > 0) * np.exp(-np.maximum(t, 0))
    x = np.where(t > 0.833, (-after if turned else after) * x, x)
    x[(t > 0.828) & (t < 0.838)] = 0.0
    return x + 1e-5 * np.random.default_rng(0).standard_normal(len(t))


@pytest.mark.parametrize(("after", "turned"), [(0.5, True), (2.0, True), (3.0, True), (3.0, False)])
def test_a_null_is_seen_whichever_setting_is_louder(after, turned):
    result = heard(beating(after=after, turned=turned))
    assert [f.code for f in result.faults] == ["beating null"]
    assert result.faults[0].detail == pytest.approx(PLUCK_S + 0.833, abs=0.03)
    assert result.table is None


@pytest.mark.parametrize("seed", [1, 2])
def test_noise_about_the_fundamental_is_measured_there(seed):
    """Noise that hides one partial a little does not take its voice from the others."""
    x = take(ONE, -ONE) + noise_about(110.0, 0.003, seed=seed)
    assert ratio(heard(x)) < -3.0


@pytest.mark.parametrize("phase", [0.3, 1.8])
def test_hum_beside_a_partial_is_told_from_it(phase):
    """D3 (sources S5) beside the third line of 50 Hz mains, 3.2 Hz off and as strong as it at the step."""
    x = take(ONE, -ONE, f0=146.8324)
    hum = 0.02 * np.cos(2 * np.pi * 150 * np.arange(len(x)) / RATE + phase)
    with_hum, without = heard(x + hum, named_hz=146.83, mains_hz=50), heard(x, named_hz=146.83)
    assert ratio(with_hum) < -2.0
    assert with_hum.levels_db == pytest.approx(without.levels_db, abs=3.5)


def test_a_single_step_that_changes_little_is_not_believed():
    """4 dB is more than a pop leaves, 3 dB is not: one gap alone may be a pop."""
    assert [f.code for f in heard(take(ONE, 0.70 * ONE, length_s=1.8)).faults] == ["not switched"]
    assert [f.code for f in heard(take(ONE, 0.66 * ONE, length_s=1.8)).faults] == ["not switched"]
    assert ratio(heard(take(ONE, 0.58 * ONE, length_s=1.8))) > 3.0


def through_both(gain, last):
    x = take(ONE, gain * ONE, last * ONE, at_s=(0.8, 1.2), gap_s=0.03)
    return heard(x, (A, BOTH, B))


def test_as_many_gaps_as_steps_are_believed_sooner():
    """The list asks for two steps and two gaps are there: a little less than 4 dB will do."""
    assert ratio(through_both(0.65, 1)) > 3.0


@pytest.mark.parametrize(("gain", "last", "sign"), [(0.70, 1, 1), (0.75, 1, 1), (1.0, -1, -1)])
def test_where_little_changes_as_many_clicks_as_steps_are_believed_and_count_for_less(gain, last, sign):
    """3 dB or less, or one step that changes nothing beside one that turns all over."""
    result = through_both(gain, last)
    assert [f.code for f in result.remarks] == ["steps by clicks"]
    assert 2.0 < sign * ratio(result) < 2.5
    assert max(map(abs, result.step_ratios)) < 2.5


@pytest.mark.parametrize("gain", [0.80, 0.90, 1.0])
def test_clicks_with_hardly_any_change_are_no_steps(gain):
    """2 dB, 1 dB or none: a selector that is not wired clicks as well."""
    assert [f.code for f in through_both(gain, 1).faults] == ["not switched"]


def test_a_small_step_counts_beside_a_sure_one():
    assert ratio(through_both(0.80, -1)) < -3.0


def test_the_decay_that_is_taken_out_is_that_of_the_string():
    """All partials die by exp(-1.2 t), over a step that halves them; what is not asked for does not count."""
    for step_s in (0.8, 0.25):
        x = take(ONE, 0.5 * ONE, at_s=(step_s,))
        onset = int(PLUCK_S * RATE)
        envelopes = envelopes_of(x, onset=onset, end=len(x), pitch=Pitch(110.0, 0.0, "as named"), mains=None)
        step = PLUCK_S + step_s
        before = int(np.searchsorted(envelopes.seconds, step - 0.03))
        after = int(np.searchsorted(envelopes.seconds, step + 0.05))
        for stretches in ([(3, before)], [(3, before), (after, len(envelopes.seconds))]):
            assert decays_of(envelopes, stretches)[:3] == pytest.approx(1.2, abs=0.15)


def test_times_count_from_the_first_sample_though_hum_began_out_of_silence():
    """The plug went in after the recording began; the hum's beginning is taken for a pluck at first."""
    silence_s = 0.5
    x = take(ONE, -ONE)
    hum = 0.004 * np.sin(2 * np.pi * 50 * np.arange(len(x)) / RATE)
    late = heard(
        np.concatenate([1e-6 * np.random.default_rng(1).standard_normal(int(silence_s * RATE)), x + hum])
    )
    plain = heard(x)
    assert ratio(late) < -3.0
    for a, b in zip(late.stretches, plain.stretches, strict=True):
        assert a.start / RATE == pytest.approx(silence_s + b.start / RATE, abs=0.03)
        assert a.stop / RATE == pytest.approx(silence_s + b.stop / RATE, abs=0.03)
    assert late.track.time_s[0] == pytest.approx(silence_s + plain.track.time_s[0], abs=0.03)


@pytest.mark.parametrize("says", [1.0, -1.0])
@pytest.mark.parametrize("n", [1, 2, 5])
def test_a_partial_that_the_places_turn_over_speaks_for_the_other_sign(n, says):
    """By hand: sin(n pi x / L) at both places has one sign on partials 1 and 2, and two on the fifth."""
    x = np.pi * n * np.array([BRIDGE, NECK]) / SCALE_MM
    turned = np.sign(np.prod(np.sin(x)))
    assert turned == (-1.0 if n == 5 else 1.0)
    heard = PartialEvidence(n, np.zeros(1), 2.0 * says * np.array([[[0.0, 1.0], [1.0, 0.0]]]))
    (ratio,) = step_ratios([heard], (AT_BRIDGE, AT_NECK))
    assert np.sign(ratio) == says * turned
    assert abs(ratio) > 0.1
