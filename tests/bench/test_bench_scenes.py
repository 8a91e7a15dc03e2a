import numpy as np
import pytest
from bench_parts import rms, seeded
from scipy.signal import butter, sosfiltfilt
from simulator.conditions import Conditions
from simulator.scenes import On, random_bench

from dsp import SignalError

RATE = 16000
GESTURES = {
    "paired": lambda bench, rng: bench.paired(rng, "bridge", "neck", "D3", rate=RATE),
    "pluck": lambda bench, rng: bench.pluck(rng, ("bridge", "neck"), "A2", rate=RATE, onsets_s=(0.0, 0.8)),
    "press": lambda bench, rng: bench.press(rng, On("neck", reversed=True), "G3", rate=RATE, fret=5),
    "lift": lambda bench, rng: bench.lift(rng, "neck", rate=RATE, at_s=(0.0, 1.3)),
    "touch": lambda bench, rng: bench.touch(rng, "bridge", rate=RATE),
    "split_check": lambda bench, rng: bench.split_check(rng, "neck", "G3", rate=RATE),
    "switch": lambda bench, rng: bench.switch(rng, ["bridge", "neck"], "A2", rate=RATE),
    "hum": lambda bench, rng: bench.hum(rng, ["bridge", "neck"], rate=RATE),
}
FRAMES = {"pluck": 2.4, "lift": 2.9, "switch": 2.9}
CHANNELS = {"paired": 2, "split_check": 2, "hum": 2}


@pytest.mark.parametrize("gesture", GESTURES)
def test_same_seed_same_take(gesture):
    first, again, other = (
        GESTURES[gesture](random_bench(seeded(5)), seeded(take_seed)) for take_seed in (1, 1, 2)
    )
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


@pytest.mark.parametrize("gesture", GESTURES)
def test_takes_are_recordings(gesture):
    take = GESTURES[gesture](random_bench(seeded(6)), seeded(1))
    assert take.shape == (round(FRAMES.get(gesture, 1.6) * RATE), CHANNELS.get(gesture, 1))
    assert take.dtype == np.float64
    assert np.all(np.abs(take) <= 1.0)
    assert rms(take - take.mean(axis=0)) > (1e-5 if gesture == "hum" else 1e-3)


def test_benches_differ_and_keep_to_their_ranges():
    benches = [random_bench(seeded(seed)) for seed in range(150)]
    assert len({(b.s("bridge"), b.w("bridge"), b.s("neck"), b.w("neck")) for b in benches}) == 16
    assert {len(b.pickups) for b in benches} == {2, 3}
    assert {len(p.coils) for b in benches for p in b.pickups} == {1, 2}
    assert all(628 <= b.scale_mm <= 650 for b in benches)
    assert all(35 <= b.pickup("bridge").centre_mm <= 50 for b in benches)
    assert all(abs(b.mains.drift) <= 2e-3 for b in benches)
    inverted = [one.inverted for b in benches for one in b.interface.channels]
    assert 0.003 < np.mean(inverted) < 0.08
    assert all(b.in_phase("bridge", "neck") == (b.s("bridge") == b.s("neck")) for b in benches)


def test_what_is_asked_for_is_not_drawn():
    bench = random_bench(seeded(1), pickups=3, bass=True, mains_hz=60, inverted=(True, False))
    assert [p.name for p in bench.pickups] == ["bridge", "middle", "neck"]
    assert [one.name for one in bench.strings] == ["E1", "A1", "D2", "G2"]
    assert bench.mains.nominal_hz == 60.0
    assert not bench.channels_agree()
    with pytest.raises(SignalError, match="no pickup 'tail'"):
        bench.s("tail")
    with pytest.raises(SignalError, match="no string 'E4'"):
        bench.string("E4")


@pytest.mark.parametrize("inverted", [(False, False), (False, True)])
def test_a_split_check_shows_an_inverted_channel(inverted):
    bench = random_bench(seeded(3), inverted=inverted)
    one, other = bench.split_check(seeded(4), "neck", "G3", rate=RATE).T
    assert np.corrcoef(one, other)[0, 1] * (-1.0 if inverted[1] else 1.0) > 0.8


@pytest.mark.parametrize("seed", range(8))
def test_paired_plucks_tell_the_truth_on_the_fundamental(seed):
    """Trials: 0.6 to 1.5 f0; one take is wrong once or twice in a hundred, so careful hands are asked for."""
    careful = Conditions(angle_spread_deg=5.0, habit_deg=5.0, careless_rate=0.0, off_centre_mm=0.3)
    bench = random_bench(seeded(seed), conditions=careful, inverted=(False, False))
    take = bench.paired(seeded(seed + 100), "bridge", "neck", "G3", rate=RATE)
    f0 = bench.string("G3").f0_hz
    band = sosfiltfilt(butter(3, [0.6 * f0, 1.5 * f0], "bandpass", fs=RATE, output="sos"), take, axis=0)
    one, other = band[round(0.4 * RATE) :].T
    cosine = np.dot(one, other) / (np.linalg.norm(one) * np.linalg.norm(other))
    assert cosine * bench.s("bridge") * bench.s("neck") > 0.5


@pytest.mark.parametrize("seed", range(8))
def test_lifts_tell_the_truth(seed):
    """Trials: low-pass at about 250 Hz; s = +1 leaves with a negative lobe."""
    bench = random_bench(seeded(seed), inverted=(False, False))
    take = bench.lift(seeded(seed + 50), "neck", rate=RATE)[:, 0]
    smooth = sosfiltfilt(butter(3, 250.0, fs=RATE, output="sos"), take - np.median(take))
    near = smooth[round(0.39 * RATE) : round(0.5 * RATE)]
    assert near[np.argmax(np.abs(near))] * bench.s("neck") < 0


@pytest.mark.parametrize("seed", range(4))
def test_a_turned_stroke_starts_the_other_way(seed):
    bench = random_bench(seeded(seed), inverted=(False, False))
    straight, other = (
        bench.pluck(seeded(9), "neck", "A2", turned=turn, rate=RATE)[:, 0] for turn in (False, True)
    )
    part = slice(round(0.402 * RATE), round(0.6 * RATE))
    assert np.corrcoef(straight[part], other[part])[0, 1] < -0.5


@pytest.mark.parametrize("snr_db", [35.0, 60.0])
def test_noise_lies_below_the_signal_as_asked(snr_db):
    quiet = Conditions(
        snr_db=(snr_db, snr_db), hum_db=(200.0, 200.0), level_db=0.0, strength_db=0.0, bits=(24,)
    )
    bench = random_bench(seeded(2), conditions=quiet, inverted=(False, False))
    take = bench.pluck(seeded(1), "neck", "G3", rate=RATE)[:, 0]
    noise = take[: round(0.25 * RATE)]
    ringing = take[round(0.4 * RATE) : round(0.7 * RATE)]
    assert 20 * np.log10(rms(ringing) / np.std(noise)) == pytest.approx(snr_db, abs=8.0)
