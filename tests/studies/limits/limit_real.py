"""Real plucks from elsewhere, made into pairs whose truth is by construction.

Task: recordings of ../shared/recordings to cases. Shapes: (frames, 1) each. Units: seconds; noise in dB under
the peak. Signs: ``truth`` +1 for a copy, -1 for a negated one. None of these recordings has a documented
polarity (their README), so a file stands against its own copy, negated or not, with noise of its own: duller
and softer (first-order low-pass at 1200 Hz), brighter (what lies above 1500 Hz three times as strong), or
thin (first-order high-pass at 300 Hz, as a capacitor in series makes it: that leads by up to 80 degrees at
the fundamental, so it is neither in phase nor out of phase there). Empty where the recordings are not there.
Left out: what a microphone beside a guitar recorded, and files of two channels.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

Array = NDArray[np.float64]

HOME = Path(__file__).parents[4] / "shared" / "recordings"
FIRST_S = 1.5
LEAD_S = (0.4, 0.55)
"""Quiet put before the two copies: most files were trimmed at the onset."""
NOISE_DB = (70, 26)
TONES: dict[str, tuple[Literal["lowpass", "highpass"], float, float, float]] = {
    "duller": ("lowpass", 1200.0, 0.0, 0.4),
    "brighter": ("highpass", 1500.0, 1.0, 2.0),
    "thin": ("highpass", 300.0, 0.0, 1.0),
}
"""Filter, its corner in Hz, how much of the recording itself stays, how much of the filtered is added."""
LEFT_OUT = ("acoustic", "dual_mono")


@dataclass(frozen=True, eq=False)
class Case:
    """Two recordings, on two inputs of one take or each a take of its own."""

    a: Array
    b: Array
    rate: int
    string: str
    together: bool
    truth: int


def real_cases(*, seed: int) -> dict[str, list[Case]]:
    """All cases by kind."""
    if not (HOME / "manifest.tsv").exists():
        return {}
    with (HOME / "manifest.tsv").open(encoding="utf-8") as listed:
        rows = list(csv.DictReader(listed, delimiter="\t"))
    found: dict[str, list[Case]] = defaultdict(list)
    for number, row in enumerate(rows):
        if any(word in row["file"] for word in LEFT_OUT) or row["channels"] != "1":
            continue
        samples, rate = soundfile.read(HOME / row["file"], always_2d=True)
        x = samples[: int(FIRST_S * rate)]
        rng = np.random.default_rng([seed, number])
        for tone, (kind, hz, stays, gain) in TONES.items():
            y = stays * x + gain * sosfilt(butter(1, hz, kind, fs=rate, output="sos"), x, axis=0)
            for noise_db in NOISE_DB:
                for truth in (1, -1):
                    for together in (True, False):
                        lead = (LEAD_S[0], LEAD_S[0] if together else LEAD_S[1])
                        a = _noisy(x, rng, lead_s=lead[0], rate=rate, noise_db=noise_db)
                        b = _noisy(truth * y, rng, lead_s=lead[1], rate=rate, noise_db=noise_db)
                        way = "paired" if together else "in turn"
                        name = f"real plucks, {way}, a {tone} copy, noise {noise_db} dB under the peak"
                        found[name].append(Case(a, b, rate, row["pitch"], together, truth))
    return dict(found)


def _noisy(x: Array, rng: np.random.Generator, *, lead_s: float, rate: int, noise_db: float) -> Array:
    led = np.concatenate([np.zeros((int(lead_s * rate), 1)), x])
    noise = 10 ** (-noise_db / 20) * float(np.abs(x).max())
    return 0.9 * (led + noise * rng.standard_normal(led.shape)) / max(1.0, float(np.abs(x).max()) + 4 * noise)
