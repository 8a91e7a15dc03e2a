"""Have librosa compile what is used here.

Task: load and run once those functions of librosa that are compiled when first imported, so that the
compiled code lies in librosa's cache. Shapes, units, signs: none.

Two processes that compile at the same moment leave a cache that mixes the code of both, and calling it
then crashes every later process (seen with numba 0.68 and librosa 0.11). So whoever starts several
processes calls this first, in one.
"""

from __future__ import annotations

import numpy as np

from dsp.conditioning import ANALYSIS_RATE
from dsp.onsets import rough_onsets
from dsp.pitch import pitch_of

LENGTH_S = 1.0
PITCH_HZ = 110.0


def compile_all() -> None:
    """Hear one plain tone; some ten seconds where nothing is compiled yet, else a fraction of one."""
    t = np.arange(int(LENGTH_S * ANALYSIS_RATE)) / ANALYSIS_RATE
    begun = t >= LENGTH_S / 4
    tone = np.where(begun, np.exp(-4 * t) * np.sin(2 * np.pi * PITCH_HZ * t), 0.0)
    rough_onsets(tone)
    pitch_of(tone[begun])
