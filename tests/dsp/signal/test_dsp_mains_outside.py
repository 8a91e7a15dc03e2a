import numpy as np
import pytest
from dsp_parts import sequence

from dsp.signal.mains import mains_lines, without_mains
from dsp.signal.samples import ANALYSIS_RATE

QUIET_S = 0.3

FAR_OFF = [
    # F2: mains 50 Hz within 1 % for 99.5 % of a year, EN 50160 as quoted by instrument makers' manuals.
    pytest.param(nominal, part, id=f"F2 {nominal} Hz {100 * part:+.1f} %")
    for nominal in (50, 60)
    for part in (-0.01, -0.005, 0.003, 0.01)
]


@pytest.mark.parametrize(("nominal", "part"), FAR_OFF)
@pytest.mark.parametrize("told", [True, False], ids=["nominal told", "nominal not told"])
def test_hum_of_mains_far_off_is_taken_out_of_a_take(nominal, part, told):
    """Against a take without hum: what is left is the same pluck, to the end of its ringing."""
    hummed, clean = (
        sequence("A2", hum=hum, mains_hz=float(nominal), drift=part, noise=1e-6, rate=ANALYSIS_RATE)
        for hum in (3e-3, 0.0)
    )
    quiet = hummed[: int(QUIET_S * ANALYSIS_RATE)]
    assert np.std(quiet) > 1e-3
    left = without_mains(hummed, quiet=quiet, mains_hz=nominal if told else None) - clean
    assert 20 * np.log10(np.std(hummed - clean) / np.std(left - left.mean())) > 15
    lines = mains_lines(quiet, mains_hz=nominal if told else None)
    # the simulated mains wanders by two parts in ten thousand from take to take
    assert lines.fundamental_hz == pytest.approx(nominal * (1 + part), rel=8e-4)


def test_a_loud_tone_beyond_the_limit_is_no_mains():
    """By construction: 3 % off is beyond F2, so it is a note and is not followed."""
    t = np.arange(int(0.4 * ANALYSIS_RATE)) / ANALYSIS_RATE
    lines = mains_lines(np.sin(2 * np.pi * 51.5 * t), mains_hz=50)
    assert lines is None or abs(lines.fundamental_hz / 50 - 1) < 0.012
