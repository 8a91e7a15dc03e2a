"""Brier score, calibration error and intervals, by scikit-learn and scipy.

Task: plain wrappers with one meaning each. Shapes: truths and probabilities are (jobs,). Signs: a truth is
whether the relation holds (in phase, hum cancels), a probability is of that.
"""

from __future__ import annotations

import numpy as np
from scipy.stats import binomtest
from sklearn.calibration import calibration_curve
from sklearn.metrics import brier_score_loss

BINS = 15


def brier(truth: np.ndarray, p: np.ndarray) -> float:
    """Mean square of what was said less what was so (scikit-learn)."""
    return float(brier_score_loss(truth, p))


def expected_calibration_error(truth: np.ndarray, p: np.ndarray, *, bins: int = BINS) -> float:
    """Mean distance of the share that was so from what was said, over even bins weighed by their jobs."""
    share, said = calibration_curve(truth, p, n_bins=bins, strategy="uniform")
    edges = np.linspace(0.0, 1.0, bins + 1)
    counts = np.bincount(np.searchsorted(edges[1:-1], p), minlength=bins)
    return float(np.sum(counts[counts > 0] * np.abs(share - said)) / len(p))


def interval(wrong: int, of: int) -> tuple[float, float]:
    """The exact (Clopper-Pearson) 95 % interval of a share (scipy)."""
    if of == 0:
        return 0.0, 1.0
    found = binomtest(wrong, of).proportion_ci(0.95, method="exact")
    return float(found.low), float(found.high)
