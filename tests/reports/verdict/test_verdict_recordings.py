"""Real plucks from elsewhere. None has a documented polarity, so each truth is by construction: a file
against its own negated copy, against itself through a filter, one channel twice (their README).
"""

from __future__ import annotations

import numpy as np
import pytest
import soundfile as sf
from judging_jobs import PLAIN, ROOT, JobOnDisk
from scipy.signal import butter, resample_poly, sosfilt

HOME = ROOT.parent / "shared" / "recordings"
PLUCKS = [
    ("pastabass/linguine/db4_vl2_rr1.wav", "C#3"),
    ("pastabass/fetuccine/g4_vl2_rr1.wav", "G3"),
    ("black_green/green_twang_a3_f_rr1.wav", "A2"),
    ("yr_bass/pick_G.flac", "G1"),
]
BESIDE_A_MICROPHONE = [("a4_vl3_rr2", "A4"), ("gb5_vl4_rr3", "F#5"), ("a5_vl2_rr3", "A5")]
FIRST_S, QUIET_S = 1.5, 0.4


def read(name, *, lead_in_s=0.0):
    """The beginning of a recording, after ``lead_in_s`` of quiet: most were trimmed at the onset."""
    path = HOME / name
    if not path.exists():
        pytest.skip(f"no recordings from elsewhere at {HOME}")  # they belong to others, so not to the project
    samples, rate = sf.read(path, always_2d=True)
    before = np.zeros((int(lead_in_s * rate), samples.shape[1]))
    return np.concatenate([before, samples[: int(FIRST_S * rate)]]), rate


def noisy(x, *, seed):
    """The converter of a second input: its own noise, 70 dB under the peak."""
    return x + 3e-4 * np.abs(x).max() * np.random.default_rng(seed).standard_normal(x.shape)


def filtered(x, *, rate):
    """Another tone: duller and softer, so that it is not the same signal twice."""
    return 0.4 * sosfilt(butter(1, 1200, fs=rate, output="sos"), x, axis=0)


def judged(home, x, other, *, rate, string, check=True):
    job = JobOnDisk(home)
    if check:
        split = np.hstack([x, noisy(x, seed=1)])
        job.take(split, ["bridge", "bridge"], string=string, rate=rate)
    job.take(np.hstack([x, other]), ["bridge", "neck"], string=string, rate=rate)
    job.take(0.8 * np.hstack([other, x]), ["neck", "bridge"], string=string, rate=rate)
    return job.verdict


@pytest.mark.parametrize(("name", "string"), PLUCKS)
def test_a_negated_copy_is_out_of_phase_and_a_filtered_one_in_phase(name, string, tmp_path):
    x, rate = read(name, lead_in_s=QUIET_S)
    dull = noisy(filtered(x, rate=rate), seed=2)
    for other, phase in ((dull, "in phase"), (-x, "out of phase")):
        verdict = judged(tmp_path / phase, x, other, rate=rate, string=string)
        (pair,) = verdict.pairs
        assert [t.faults for t in verdict.takes] == [(), (), ()]
        assert (pair.phase, pair.standing != "unsettled") == (phase, True)


def test_without_a_split_check_it_is_not_settled(tmp_path):
    x, rate = read(PLUCKS[0][0], lead_in_s=QUIET_S)
    pair = judged(tmp_path / "job", x, -x, rate=rate, string=PLUCKS[0][1], check=False).pairs[0]
    assert pair.standing != "settled"
    assert pair.p_in_phase < 0.5


def test_another_rate_and_gain_change_nothing(tmp_path):
    """Against its negated copy through a filter."""
    name, string = PLUCKS[0]
    x, rate = read(name, lead_in_s=QUIET_S)
    answers = []
    for number, (up, down, gain) in enumerate(((1, 1, 1.0), (160, 147, 0.1))):
        other = noisy(-filtered(x, rate=rate), seed=2)
        a, b = (gain * resample_poly(y, up, down, axis=0) for y in (x, other))
        verdict = judged(tmp_path / str(number), a, b, rate=rate * up // down, string=string)
        answers.append((verdict.pairs[0].phase, verdict.pairs[0].standing))
    assert answers[0] == answers[1]
    assert answers[0][0] == "out of phase"


def test_every_recording_is_either_used_or_has_a_fault(tmp_path):
    """As they are, trimmed at the onset or in the middle of ringing: no crash, and no word missing."""
    job = JobOnDisk(tmp_path / "job")
    for name, string in PLUCKS:
        x, rate = read(name)
        job.take(np.hstack([x, noisy(x, seed=1)]), ["bridge", "bridge"], string=string, rate=rate)
        job.take(x, ["neck"], string=string, rate=rate)
        job.take(x, ["bridge"], gesture="lift", rate=rate)
    verdict = job.verdict
    assert [t.used for t in verdict.takes] == [not t.faults for t in verdict.takes]
    assert verdict.pairs[0].standing != "settled"


@pytest.mark.parametrize(
    ("name", "string"), [("dual_mono/A_A3_mp_1.wav", "A3"), ("dual_mono/E4_G4_mp_1.wav", "G4")]
)
def test_one_pickup_on_both_channels_is_a_fault(name, string, tmp_path):
    x, rate = read(name)
    job = JobOnDisk(tmp_path / "job")
    job.take(x, ["bridge", "neck"], string=string, rate=rate)
    (take,) = job.verdict.takes
    assert not take.used
    assert [fault.code for fault in take.faults] == ["same signal twice"]
    assert job.pair.p_in_phase is None


def test_a_microphone_beside_a_pickup_is_never_settled(tmp_path):
    """A microphone has no polarity to be had: a settled answer would be made up."""
    job = JobOnDisk(tmp_path / "job")
    x, rate = read(f"shinyguitar/{BESIDE_A_MICROPHONE[0][0]}_electric.wav")
    job.take(
        np.hstack([x, noisy(x, seed=1)]), ["bridge", "bridge"], string=BESIDE_A_MICROPHONE[0][1], rate=rate
    )
    for name, string in BESIDE_A_MICROPHONE:
        electric, rate = read(f"shinyguitar/{name}_electric.wav")
        acoustic, _ = read(f"shinyguitar/{name}_acoustic.wav")
        frames = min(len(electric), len(acoustic))
        both = np.hstack([electric[:frames], acoustic[:frames]])
        job.take(both, ["bridge", "neck"], string=string, rate=rate)
    assert job.pair.standing != "settled"


GESTURES_AT_THE_JACK = [
    ("switch", [["bridge", "both", "neck"]], {}),
    ("hum", ["bridge"], {}),
    ("drive", ["neck"], {}),
    ("press", ["both"], {"string": "D3"}),
]


@pytest.mark.parametrize(("name", "string"), PLUCKS)
def test_entered_as_anything_else_it_settles_nothing(name, string, tmp_path):
    """A pluck entered as another gesture, or as a setting it is not: no crash, and no settled verdict."""
    x, rate = read(name, lead_in_s=QUIET_S)
    x = x[:, :1]
    both = '\n[[setting]]\nname = "both"\non = ["bridge", "neck"]\n'
    job = JobOnDisk(tmp_path / "job", PLAIN + both)
    for k, (gesture, inputs, said) in enumerate(GESTURES_AT_THE_JACK):
        job.take(noisy(x, seed=k), inputs, gesture=gesture, rate=rate, **said)
    for k in range(2):
        job.take(noisy(x, seed=10 + k), ["bridge"], string=string, rate=rate)
        job.take(noisy(-x, seed=20 + k), ["neck"], string=string, rate=rate)
        job.take(noisy(0.7 * x, seed=30 + k), ["both"], string=string, rate=rate)
    verdict = job.verdict
    assert verdict.pairs[0].standing != "settled"
    assert verdict.settings[0].standing != "settled"


@pytest.mark.parametrize(("name", "string"), PLUCKS)
def test_a_string_that_goes_on_through_a_step_and_its_negation(name, string, tmp_path):
    """Spliced without a change nothing was switched; negated from 0.9 s on, it is opposed or not told."""
    x, rate = read(name, lead_in_s=QUIET_S)
    x = x[:, :1]
    at, gap = int(0.9 * rate), int(0.01 * rate)
    for sign, wrong in ((1.0, "out of phase"), (-1.0, "in phase")):
        job = JobOnDisk(tmp_path / f"job {sign}")
        y = x.copy()
        y[at : at + gap] = 0.0
        y[at + gap :] *= sign
        for k in range(2):
            job.take(noisy(y, seed=k), [["bridge", "neck"]], gesture="switch", string=string, rate=rate)
        assert job.pair.phase != wrong
