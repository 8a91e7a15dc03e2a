"""Real plucks that no one here made; they stay out of the repository, so these tests skip without them.

None has a documented polarity: a sign is checked between a file and filtered or negated copies of itself,
which is less than two pickups that heard one string.
"""

import csv
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.signal import butter, resample_poly, sosfilt

from dsp.methods.paired import paired_statistic
from dsp.methods.plucks import analyse_plucks, analyse_pulses
from dsp.signal.faults import recording_faults, same_signal
from dsp.signal.onsets import rough_onsets
from dsp.signal.pitch import pitch_of
from dsp.signal.samples import ANALYSIS_RATE, at_analysis_rate

FOLDER = Path(__file__).resolve().parents[4] / "shared" / "recordings"
MANIFEST = FOLDER / "manifest.tsv"
LISTED = MANIFEST.read_text(encoding="utf-8").splitlines() if MANIFEST.is_file() else []
ROWS = list(csv.DictReader(LISTED, delimiter="\t"))

pytestmark = pytest.mark.skipif(not ROWS, reason=f"the real plucks are not at {FOLDER}")
FILES = [pytest.param(row, id=row["file"]) for row in ROWS] or [pytest.param({}, id="absent")]
MAGNETIC = [p for p in FILES if "acoustic" not in p.id]


@lru_cache(maxsize=8)
def read(file):
    samples, rate = soundfile.read(FOLDER / file, dtype="float64", always_2d=True)
    return samples[: 2 * rate], rate


def ringing(row):
    """First channel at the analysis rate, and the onset: the loudest rise, or the start of a trimmed file."""
    samples, rate = read(row["file"])
    x = at_analysis_rate(samples[:, 0], rate=rate)
    found = rough_onsets(x)
    return x, (found[0] if found else 0)


@pytest.mark.parametrize("row", FILES)
def test_pitch(row):
    """The pitch of manifest.tsv, within 30 cents; named by it, and not named."""
    x, onset = ringing(row)
    expected = float(row["f0_hz"])
    for named_hz in (expected, None):
        heard = pitch_of(x[onset:], named_hz=named_hz)
        assert 1200 * np.log2(heard.f0_hz / expected) == pytest.approx(0, abs=30)


def late(x, frames):
    """Quiet in front, so that there is a time before the onset."""
    return np.append(1e-5 * np.random.default_rng(0).standard_normal(frames), x)


COPIES = [
    pytest.param(lambda x: -x, -1, id="negated"),
    pytest.param(lambda x: 0.02 * x, 1, id="at another gain"),
    pytest.param(
        lambda x: sosfilt(butter(1, 4000.0, fs=ANALYSIS_RATE, output="sos"), x), 1, id="through a filter"
    ),
    pytest.param(
        lambda x: -sosfilt(butter(1, 4000.0, fs=ANALYSIS_RATE, output="sos"), x),
        -1,
        id="filtered and negated",
    ),
    pytest.param(
        lambda x: resample_poly(resample_poly(x, 441, 160), 160, 441)[: len(x)], 1, id="through 44.1 kHz"
    ),
    pytest.param(lambda x: np.round(x * 2048) / 2048, 1, id="in twelve bits"),
]


@pytest.mark.parametrize("row", MAGNETIC)
def test_a_pluck_against_its_own_copy(row):
    """By construction: a file against its negated copy, and itself through filter, rate and gain."""
    x, onset = ringing(row)
    pitch = pitch_of(x[onset:], named_hz=float(row["f0_hz"]))
    start = onset + int(0.3 * ANALYSIS_RATE)
    x = late(x / np.abs(x).max(), int(0.3 * ANALYSIS_RATE))
    for copy in COPIES:
        made, sign = copy.values
        value = paired_statistic(x, made(x), onset=start, pitch=pitch).value
        assert value * sign > 0.3, copy.id


DUAL = [p for p in FILES if p.id.startswith("dual_mono")] or FILES[:1]


@pytest.mark.parametrize("row", DUAL)
def test_one_pickup_on_both_channels(row):
    """D3: both channels carry one pickup, a few LSB apart (manifest.tsv)."""
    samples, rate = read(row["file"])
    assert not np.array_equal(samples[:, 0], samples[:, 1])
    found = recording_faults(samples, rate=rate, inputs_differ=True, channels=(0, 1))
    assert [(f.code, f.channel) for f in found if f.code == "same signal twice"] == [("same signal twice", 2)]
    assert not same_signal(samples[:, 0], -samples[:, 1])


def test_two_recordings_are_not_one_signal():
    """By construction: a pickup and a microphone at one pluck; separate plucks of one string."""
    pickup, _ = read("shinyguitar/a4_vl3_rr2_electric.wav")
    microphone, _ = read("shinyguitar/a4_vl3_rr2_acoustic.wav")
    frames = min(len(pickup), len(microphone))
    assert not same_signal(pickup[:frames, 0], microphone[:frames, 0])
    one, _ = read("pastabass/fetuccine/e3_vl2_rr1.wav")
    other, _ = read("pastabass/linguine/e3_vl2_rr1.wav")
    frames = min(len(one), len(other))
    assert not same_signal(one[:frames, 0], other[:frames, 0])


@pytest.mark.parametrize("row", FILES)
def test_hearing_one(row):
    """None is clipped, none is the wrong note; what cannot be used is refused with a fault."""
    samples, rate = read(row["file"])
    channels = tuple(range(samples.shape[1]))
    heard = analyse_plucks(
        samples, rate=rate, channels=channels, inputs_differ=False, named_hz=float(row["f0_hz"])
    )
    assert heard.plucks or heard.faults
    assert not {f.code for f in heard.faults} & {"clipped", "wrong string", "wrong octave", "gap"}
    turned = analyse_plucks(
        -samples, rate=rate, channels=channels, inputs_differ=False, named_hz=float(row["f0_hz"])
    )
    assert [p.rough for p in turned.plucks] == [p.rough for p in heard.plucks]
    assert [f.code for f in turned.faults] == [f.code for f in heard.faults]
    pulses = analyse_pulses(samples, rate=rate, channel=0, toward=False)
    assert pulses.pulses or pulses.faults
