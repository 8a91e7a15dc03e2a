"""scipy loaded without what nothing here calls: the same functions, and the real packages afterwards."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import scipy

ROOT = Path(__file__).resolve().parents[3]
LEAN = """
import sys
from dsp.signal import loading
loading.load_scipy()
print(not set(loading.CALLED_BY_NONE) & set(sys.modules))
"""
WANTS_MORE = """
import sys
from dsp.signal import loading
def missing(stand_in, name):
    raise AttributeError(name)
loading._StandIn.__getattr__ = missing
loading.load_scipy()
print("scipy.stats" in sys.modules)
"""
OTHER_DOCSTRINGS = """
import sys
from dsp.signal import loading
import scipy._lib._docscrape
class Wanting:
    def __init__(self, function):
        raise TypeError(function)
loading._AsWritten = Wanting
loading.load_scipy()
print("scipy.stats" in sys.modules)
"""
THEN = """
import numpy as np, scipy
from test_dsp_loading import numbers
print(numbers(scipy).tobytes().hex())
print("array_api" in scipy.stats.zscore.__doc__.casefold(), scipy._lib._util.FunctionDoc.__module__)
print(np.testing.assert_array_equal.__module__, scipy.stats.norm.cdf(0.0), scipy.optimize.fmin.__name__)
"""


def numbers(loaded) -> np.ndarray:
    """What filters, the resampler, a narrow spectrum and a peak finder give, one after another."""
    x = np.random.default_rng(1).standard_normal(4000)
    sos = loaded.signal.butter(2, (80.0, 2000.0), "bandpass", fs=16_000, output="sos")
    found = (
        loaded.signal.sosfiltfilt(sos, x),
        loaded.signal.sosfilt(sos, x),
        loaded.signal.resample_poly(x, 2, 3),
        np.abs(loaded.signal.zoom_fft(x, [40.0, 60.0], 50, fs=16_000)),
        loaded.signal.find_peaks_cwt(x[:300], np.arange(1, 6)).astype(float),
    )
    return np.concatenate(found)


@pytest.mark.parametrize("way", [LEAN, WANTS_MORE, OTHER_DOCSTRINGS])
def test_what_is_loaded_gives_the_same_to_the_last_bit(way):
    """Also where a version of scipy wants more of these packages than stand-ins have."""
    ran = subprocess.run(
        [sys.executable, "-c", way + f"sys.path.insert(0, {str(Path(__file__).parent)!r})" + THEN],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    first, same, read, real = ran.stdout.splitlines()
    assert first == "True"
    assert same == numbers(scipy).tobytes().hex()
    assert read == "True scipy._lib._docscrape"
    assert real == "numpy.testing._private.utils 0.5 fmin"
