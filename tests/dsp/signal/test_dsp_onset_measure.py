"""Onsets against mir_eval's measure on real plucks (sources D8); these stay out of the repository."""

import csv
from functools import lru_cache
from pathlib import Path

import mir_eval
import numpy as np
import pytest
import soundfile

from dsp.live.gestures import plan_for
from dsp.live.watching import Watcher
from dsp.signal.onsets import rough_onsets
from dsp.signal.samples import ANALYSIS_RATE, at_analysis_rate

RATE = ANALYSIS_RATE
D8_WINDOW_S = 0.05
FOLDER = Path(__file__).resolve().parents[4] / "shared" / "recordings"
MANIFEST = FOLDER / "manifest.tsv"
LISTED = MANIFEST.read_text(encoding="utf-8").splitlines() if MANIFEST.is_file() else []
FILES = [row["file"] for row in csv.DictReader(LISTED, delimiter="\t")]
TIMES_S = (1.1, 2.75)
LASTS_S = 1.2
QUIET_AFTER_S = 0.4
NOISE_DB = -50.0
"""Under the pluck's peak."""

pytestmark = pytest.mark.skipif(not FILES, reason=f"the real plucks are not at {FOLDER}")


@lru_cache(maxsize=64)
def at_known_times(file):
    """The ringing of one pluck, from where it is loudest, put behind quiet noise and hum twice."""
    samples, rate = soundfile.read(FOLDER / file, dtype="float64", always_2d=True)
    x = at_analysis_rate(samples[: 4 * rate, 0], rate=rate)
    loudest = int(np.argmax(np.abs(x)))
    ringing = x[loudest : loudest + round(LASTS_S * RATE)] / np.abs(x).max()
    fade = np.minimum(1.0, np.arange(len(ringing), 0, -1) / (0.05 * RATE))
    rng = np.random.default_rng(0)
    out = 10 ** (NOISE_DB / 20) * rng.standard_normal(round((TIMES_S[-1] + LASTS_S + QUIET_AFTER_S) * RATE))
    out += 0.01 * np.sin(2 * np.pi * 50.03 * np.arange(len(out)) / RATE)
    for at in TIMES_S:
        start = round(at * RATE)
        out[start : start + len(ringing)] += ringing * fade
    return 0.3 * out


def watched(x):
    watcher = Watcher(plan_for("pluck"), rate=RATE, channels=1)
    return [
        e.at for s in range(0, len(x), 480) for e in watcher.feed(x[s : s + 480, None]) if e.kind == "onset"
    ]


@pytest.mark.parametrize("find", [rough_onsets, watched])
@pytest.mark.parametrize("file", FILES or ["absent"])
def test_real_plucks_at_known_times(file, find):
    """D8: F-measure of onsets, 50 ms window; all are found and nothing else."""
    found = np.array(find(at_known_times(file))) / RATE
    scores = mir_eval.onset.f_measure(np.array(TIMES_S), found, window=D8_WINDOW_S)
    assert scores == (1.0, 1.0, 1.0)
