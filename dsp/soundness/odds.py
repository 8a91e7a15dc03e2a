"""Odds that both judgements use. Shapes: (k,). Units: natural logs. Signs: none."""

from __future__ import annotations

import math

import numpy as np

from dsp.soundness.plucks import Array

FREEDOM = 6.0
"""Of the multivariate t: how fast a misfit that all readings share loses its weight (the methods)."""


def log_mean(weights: Array) -> float:
    """Log of the mean of exp(weights)."""
    return float(np.logaddexp.reduce(weights)) - math.log(len(weights))
